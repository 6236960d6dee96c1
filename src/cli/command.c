#include "cli/command.h"

#include <stdarg.h>
#include <stdio.h>

/* The one short option that people type without thinking. */
static const char *short_options(const struct option *table)
{
	for (; table->name; table++)
		if (table->val == 'o')
			return "o:";
	return "";
}

int command_option(int argc, char **argv, const struct option *table, const char *help, int *code)
{
	int option = getopt_long(argc, argv, short_options(table), table, NULL);

	if (option == OPTION_HELP) {
		fputs(help, stdout);
		*code = 0;
		return OPTION_LEAVE;
	}
	if (option == '?') {
		*code = EXIT_USAGE;
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
	fprintf(stderr, ": see pullcall %s --help\n", command);
	return EXIT_USAGE;
}

int command_faults(struct faults *faults)
{
	int code = faults->errors ? EXIT_NO : 0;

	faults_print(faults, stderr);
	faults_free(faults);
	return code;
}
