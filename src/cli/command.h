/* The commands of `pullcall`: one function each, all with the same manners.
 *
 * Data goes to standard output, messages to standard error. Exit codes: 0 done, 1 the input is at
 * fault or the answer is no, 2 wrong usage, and those of daemon/daemon.h for faults outside.
 */
#ifndef CLI_COMMAND_H
#define CLI_COMMAND_H

#include "base/fault.h"

#include <getopt.h>
#include <stdbool.h>

enum { EXIT_NO = 1, EXIT_USAGE = 2 };

/* Each takes its own argv: argv[0] is the command's name. Returns the exit code. */
typedef int command_function(int argc, char **argv);

command_function command_check, command_steps, command_draw, command_run, command_load,
	command_tell, command_watch, command_pedals, command_voices, command_say, command_jobs,
	command_review, command_pattern, command_export, command_journal;

/* getopt_long for a command: the next option, or -1 at the end. --help and -h print `help`; they
 * and a wrong option give OPTION_LEAVE with the exit code in *code. The table ends with
 * OPTION_TABLE_END and uses no 'h'. An entry whose value is 'o' can be written -o too. */
enum { OPTION_LEAVE = -2, OPTION_HELP = 0x200 };
#define OPTION_TABLE_END                                                                           \
	{"help", no_argument, NULL, OPTION_HELP},                                                  \
	{                                                                                          \
		NULL, 0, NULL, 0                                                                   \
	}
int command_option(int argc, char **argv, const struct option *table, const char *help, int *code);

/* One line about wrong usage of a command, on standard error. Returns EXIT_USAGE. */
int command_usage(const char *command, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

/* Prints and frees the faults. Returns 1 if there was an error, else 0. */
int command_faults(struct faults *faults);

#endif
