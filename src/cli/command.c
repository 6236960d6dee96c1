#include "cli/command.h"

#include <stdarg.h>
#include <stdio.h>

int command_option(int argc, char **argv, const struct option *table, const char *help, int *code)
{
	int option = getopt_long(argc, argv, "", table, NULL);

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
