#include "cli/cli.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { OPTIONS_MAX = 20 };

/* The short options that people type without thinking. The colon in front tells a value that is
 * missing from an option that is. */
static const char *short_options(const struct option *table)
{
	for (; table->name; table++)
		if (table->val == 'o')
			return ":ho:";
	return ":h";
}

static const char *nearest_option(const struct option *table, const char *word)
{
	const char *names[OPTIONS_MAX + 1] = {0};

	for (int i = 0; i < OPTIONS_MAX && table[i].name; i++)
		names[i] = table[i].name;
	return fault_did_you_mean(word + strspn(word, "-"), names);
}

/* getopt's own messages would not say which program speaks, nor what was meant. */
static int wrong_option(const char *command, const char *word, const struct option *table,
			bool value_missing)
{
	bool is_long = strncmp(word, "--", 2) == 0;

	if (value_missing)
		return command_usage(command, "%s takes a value", word);
	if (is_long && optopt)
		return command_usage(command, "%.*s takes no value", (int)strcspn(word, "="), word);
	const char *nearest = is_long ? nearest_option(table, word) : NULL;
	if (nearest)
		return command_usage(command, "there is no %s: did you mean --%s?", word, nearest);
	if (is_long)
		return command_usage(command, "there is no %s", word);
	return command_usage(command, "there is no -%c", optopt);
}

int command_option(int argc, char **argv, const struct option *table, const char *help, int *code)
{
	opterr = 0;
	int option = getopt_long(argc, argv, short_options(table), table, NULL);

	if (option == OPTION_HELP || option == 'h') {
		fputs(help, stdout);
		*code = 0;
		return OPTION_LEAVE;
	}
	if (option == '?' || option == ':') {
		*code = wrong_option(argv[0], argv[optind - 1], table, option == ':');
		return OPTION_LEAVE;
	}
	return option;
}

int command_usage(const char *command, const char *format, ...)
{
	va_list values;

	fprintf(stderr, "pullcall %s: ", command);
	va_start(values, format);
	vfprintf(stderr, format, values);
	va_end(values);
	fprintf(stderr, " (see pullcall %s --help)\n", command);
	return EXIT_USAGE;
}

int command_faults(struct faults *faults)
{
	int code = faults->errors ? EXIT_NO : 0;

	faults_print(faults, stderr);
	faults_free(faults);
	return code;
}
