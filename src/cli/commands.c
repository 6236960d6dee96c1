/* What `--help` says of each command, from commands.yaml; words in a terminal; and other programs
 * that are commands. */
#include "cli/cli.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>

/* ---- help ---- */

/* Read once, never freed. */
static const struct yaml_node *help_of(const char *command)
{
	static struct yaml_document *document;
	struct faults faults = {0};

	if (!document)
		document = yaml_read_text("commands", commands_yaml, &faults);
	if (faults_report(&faults) != EXIT_DONE)
		abort(); /* it belongs to the program */
	return yaml_get(document->root, command);
}

const char *command_text(const char *command, const char *key)
{
	const struct yaml_node *node = yaml_get(help_of(command), key);

	return node ? node->text : NULL;
}

static int number_of(const char *command, const char *key)
{
	const char *text = command_text(command, key);

	return text ? (int)strtol(text, NULL, 10) : 0;
}

/* The options are keys such as "output FILE". */
static bool fill_option(const char *command, struct option_row *row)
{
	const struct yaml_node *options = yaml_get(help_of(command), "options");
	const struct yaml_node *node = options ? options->first : NULL;
	size_t length = strlen(row->name);

	while (node &&
	       (strncmp(node->key, row->name, length) != 0 || !strchr(" ", node->key[length])))
		node = node->next;
	if (!node)
		return false;
	row->help = node->text;
	row->value = node->key[length] ? node->key + length + 1 : NULL;
	return true;
}

const struct command_syntax *command_read(const struct option_row *rows, const char *more, int argc,
					  char **argv)
{
	enum { OPTIONS_MAX = 32 };
	static struct option_row options[OPTIONS_MAX];
	static struct command_syntax line;
	const char *command = argv[0], *about = command_text(command, "about");
	int count = 0;

	for (; rows && rows[count].name && count < OPTIONS_MAX - 1; count++) {
		options[count] = rows[count];
		if (!options[count].help && !fill_option(command, &options[count]))
			fill_option("shared", &options[count]);
	}
	line = (struct command_syntax){
		.name = memory_format("pullcall %s", command),
		.usage = command_text(command, "usage"),
		.about = more ? memory_format("%s\n\n%s", about, more) : about,
		.end = command_text(command, "end"),
		.operand = command_text(command, "operand"),
		.least = number_of(command, "least"),
		.most = number_of(command, "most"),
		.options = options,
	};
	command_line_read(&line, argc, argv);
	return &line;
}

void print_words(FILE *out, int indent, const char *words, const char *end)
{
	struct winsize size;
	bool terminal = ioctl(fileno(out), TIOCGWINSZ, &size) == 0 && size.ws_col > 0;
	struct text text = {0};

	text_format(&text, "%*s", indent, "");
	text_add_wrapped(&text, words, indent, terminal ? size.ws_col : INT_MAX);
	fprintf(out, "%.*s%s", (int)text.length - 1, text_string(&text), end);
	fflush(out);
	text_free(&text);
}

/* ---- other programs: they stand beside this one, else on PATH ---- */

int become_program(const char *program, char **argv)
{
	path_become(program, argv);
	fprintf(stderr, "pullcall: %s cannot be started: %s\n", program, strerror(errno));
	return EXIT_UNAVAILABLE;
}

int command_board(int argc, char **argv)
{
	(void)argc;
	return become_program("pullcall-board", argv);
}
