/* Command lines, and their help, by one table. */
#include "base/base.h"

#include <errno.h>
#include <fcntl.h>
#include <getopt.h>
#include <stdlib.h>
#include <string.h>
#include <sysexits.h>
#include <unistd.h>

enum { OPTIONS_MAX = 24, HELP_COLUMNS = 88, OPTION_ROW = 256, OPTION_HELP = 512, OPTION_VERSION };

static bool takes_value(const struct option_row *row)
{
	return row->text || row->number || row->read;
}

/* ---- help ---- */

static void add_option(struct text *out, const struct option_row *row)
{
	text_add(out, "  ");
	if (row->letter)
		text_format(out, "-%c, ", row->letter);
	text_format(out, "--%s", row->name);
	if (row->value)
		text_format(out, " %s", row->value);
}

static void add_options(struct text *out, const struct option_row *rows)
{
	struct text line = {0};
	size_t widest = 0;

	for (const struct option_row *row = rows; row->name; row++) {
		text_clear(&line);
		add_option(&line, row);
		widest = line.length > widest ? line.length : widest;
	}
	for (const struct option_row *row = rows; row->name; row++) {
		text_clear(&line);
		add_option(&line, row);
		text_format(out, "%-*s  ", (int)widest, text_string(&line));
		text_add_wrapped(out, row->help, (int)widest + 2, HELP_COLUMNS);
	}
	if (rows->name)
		text_add_char(out, '\n');
	text_free(&line);
}

static void print_help(const struct command_syntax *line)
{
	struct text out = {0};

	for (const char *usage = line->usage; *usage;) {
		size_t length = strcspn(usage, "\n");
		text_add(&out, usage == line->usage ? "Usage: " : "       ");
		text_format(&out, "%s %.*s\n", line->name, (int)length, usage);
		usage += length;
		usage += *usage == '\n';
	}
	text_add_char(&out, '\n');
	text_add_wrapped(&out, line->about, 0, HELP_COLUMNS);
	text_add_char(&out, '\n');
	add_options(&out, line->options);
	text_add_wrapped(&out, line->end, 0, HELP_COLUMNS);
	fputs(text_string(&out), stdout);
	text_free(&out);
}

/* ---- reading ---- */

/* getopt's tables: `shorts` begins with a colon, so that it tells a missing value from an unknown
 * option. */
static void make_tables(const struct option_row *rows, struct option longs[static OPTIONS_MAX + 3],
			char shorts[static 2 * OPTIONS_MAX + 4])
{
	int count = 0;
	char *letter = shorts + sprintf(shorts, ":hV");

	for (; count < OPTIONS_MAX && rows[count].name; count++) {
		const struct option_row *row = &rows[count];
		longs[count] = (struct option){row->name,
					       takes_value(row) ? required_argument : no_argument,
					       NULL, OPTION_ROW + count};
		if (row->letter)
			letter += sprintf(letter, "%c%s", row->letter, takes_value(row) ? ":" : "");
	}
	longs[count++] = (struct option){"help", no_argument, NULL, OPTION_HELP};
	longs[count++] = (struct option){"version", no_argument, NULL, OPTION_VERSION};
	longs[count] = (struct option){0};
}

static _Noreturn void wrong_option(const struct command_syntax *line, const struct option *longs,
				   const char *word, bool value_missing)
{
	const char *names[OPTIONS_MAX + 3] = {0};

	if (value_missing)
		command_line_wrong(line, "%s needs a value", word);
	if (optopt >= OPTION_ROW)
		command_line_wrong(line, "%.*s takes no value", (int)strcspn(word, "="), word);
	if (optopt)
		command_line_wrong(line, "unknown option -%c", optopt);
	for (int i = 0; longs[i].name; i++)
		names[i] = longs[i].name;
	const char *nearest = fault_did_you_mean(word + 2, names);
	if (nearest)
		command_line_wrong(line, "unknown option %s: did you mean --%s?", word, nearest);
	command_line_wrong(line, "unknown option %s", word);
}

static const struct option_row *row_of(const struct option_row *rows, int option)
{
	if (option >= OPTION_ROW)
		return &rows[option - OPTION_ROW];
	while (rows->letter != option)
		rows++;
	return rows;
}

static bool read_name(const struct option_row *row)
{
	for (int i = 0; row->names[i]; i++) {
		if (strcmp(row->names[i], optarg) != 0)
			continue;
		*row->number = row->min + i;
		return true;
	}
	return false;
}

static bool read_number(const struct option_row *row)
{
	char *end;

	errno = 0;
	long value = strtol(optarg, &end, 10);
	if (errno || end == optarg || *end || value < row->min || value > row->max)
		return false;
	*row->number = (int)value;
	return true;
}

static _Noreturn void wrong_value(const struct command_syntax *line, const struct option_row *row,
				  const char *expected)
{
	command_line_wrong(line, "--%s takes %s, not \"%s\"", row->name, expected, optarg);
}

static void take(const struct command_syntax *line, const struct option_row *row)
{
	if (row->flag)
		*row->flag = true;
	if (row->text)
		*row->text = optarg;
	if (row->names && !read_name(row))
		wrong_value(line, row, text_choice(row->names));
	if (row->number && !row->names && !read_number(row))
		command_line_wrong(line, "--%s takes a number from %d to %d, not \"%s\"", row->name,
				   row->min, row->max, optarg);
	if (row->read && !row->read(optarg, row->out))
		wrong_value(line, row, row->expected);
}

void command_line_read(const struct command_syntax *line, int argc, char **argv)
{
	struct option longs[OPTIONS_MAX + 3];
	char shorts[2 * OPTIONS_MAX + 4];
	int option;

	make_tables(line->options, longs, shorts);
	opterr = 0;
	optind = 0; /* begin anew: see getopt(3) */
	while ((option = getopt_long(argc, argv, shorts, longs, NULL)) != -1) {
		if (option == OPTION_HELP || option == 'h') {
			print_help(line);
			exit(EXIT_DONE);
		}
		if (option == OPTION_VERSION || option == 'V') {
			printf("%.*s " PULLCALL_VERSION "\n", (int)strcspn(line->name, " "),
			       line->name);
			exit(EXIT_DONE);
		}
		if (option == '?' || option == ':')
			wrong_option(line, longs, argv[optind - 1], option == ':');
		take(line, row_of(line->options, option));
	}
	int count = argc - optind;
	int most = line->operand && line->most == 0 ? count : line->most;
	if (count < line->least)
		command_line_wrong(line, "%s is missing", line->operand);
	if (count > most)
		command_line_wrong(line, "unexpected \"%s\"", argv[optind + most]);
}

_Noreturn void command_line_wrong(const struct command_syntax *line, const char *format, ...)
{
	va_list values;

	fprintf(stderr, "%s: ", line->name);
	va_start(values, format);
	vfprintf(stderr, format, values);
	va_end(values);
	fprintf(stderr, " (see %s --help)\n", line->name);
	exit(EXIT_USAGE);
}

/* ---- standard files ---- */

void standard_files_open(void)
{
	for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++) {
		if (fcntl(fd, F_GETFD) >= 0)
			continue;
		/* open() takes the lowest free number, which is this one. Opened the wrong way
		 * round, so that using it fails as on a closed file and lost output is reported. */
		if (open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY) != fd)
			_exit(EX_OSERR);
	}
}
