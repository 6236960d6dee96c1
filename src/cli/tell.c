/* pullcall load, tell and watch: steering a running job, and following it. */
#include "cli/cli.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>

enum { WORDS_MAX = 64 };

/* ---- requests ---- */

struct wish {
	const char *verb;
	const char *key; /* what comes with it, and its value; NULL: nothing */
	const char *value;
	bool anew;
	bool json;
};

static char *request_line(const struct wish *wish)
{
	struct text line = {0};
	struct json json = {.out = &line};

	json_open(&json, NULL, '{');
	json_string(&json, "do", wish->verb);
	if (wish->key && strcmp(wish->key, "count") == 0)
		json_int(&json, wish->key, strtol(wish->value, NULL, 10));
	else if (wish->key)
		json_string(&json, wish->key, wish->value);
	if (wish->anew)
		json_bool(&json, "new", true);
	json_close(&json, '}');
	text_add_char(&line, '\n');
	return text_take(&line);
}

static const char *field(const struct yaml_document *reply, const char *key)
{
	return reply ? yaml_scalar(reply->root, key) : NULL;
}

static bool run_has_ended(const struct yaml_document *reply)
{
	const char *state = field(reply, "state");

	return field(reply, "told") && state && strcmp(state, "over") == 0;
}

static void print_place(const struct yaml_document *reply)
{
	const char *told = field(reply, "told"), *state = field(reply, "state");

	if (told)
		puts(told);
	if (run_has_ended(reply))
		return;
	const char *spoken = field(reply, "spoken"), *text = field(reply, "text");
	const char *call = field(reply, "call"), *calls = field(reply, "calls");
	const char *job = field(reply, "job");

	if (job) {
		char *name = script_label(job, field(reply, "racket"), field(reply, "customer"));
		printf("%s: ", name);
		free(name);
	}
	if (call && calls && text && (!spoken || strstr(spoken, text)))
		printf("%s/%s  ", call, calls);
	if (!spoken)
		spoken = text ? text : state;
	puts(spoken ? spoken : "done");
}

/* Prints an answer; returns the exit code. */
static int print_answer(const char *line, bool json)
{
	struct faults faults = {0};
	struct yaml_document *reply = yaml_read_json("answer", line, strlen(line), &faults);
	const char *ok = field(reply, "ok");
	bool good = ok && strcmp(ok, "true") == 0;
	bool unsaved = good && run_has_ended(reply) && field(reply, "journal");

	if (json)
		puts(line);
	else if (unsaved)
		fprintf(stderr, "pullcall: %s\n", field(reply, "told"));
	else if (good)
		print_place(reply);
	else
		fprintf(stderr, "pullcall: %s\n",
			field(reply, "error") ? field(reply, "error") : "no answer");
	yaml_free(reply);
	faults_free(&faults);
	return !good ? EXIT_NO : unsaved ? EXIT_IO : EXIT_DONE;
}

static void print_event(const char *line)
{
	struct faults faults = {0};
	struct yaml_document *event = yaml_read_json("event", line, strlen(line), &faults);
	const char *call = field(event, "call");
	const char *what = field(event, "event"), *name = field(event, "name");
	const char *text = field(event, "text");

	if (call)
		printf("%3s/%s  ", call, field(event, "calls"));
	if (what && name && strcmp(what, "record") == 0)
		printf("%s%s%s%s\n", strcmp(name, "announced") == 0 ? "call said" : name,
		       text ? " (" : "", text ? text : "", text ? ")" : "");
	else
		printf("%s%s%s%s%s\n", what ? what : "?", name ? " " : "", name ? name : "",
		       text ? ": " : "", text ? text : "");
	yaml_free(event);
	faults_free(&faults);
}

/* ---- the connection ---- */

/* Sends it; the answers, or NULL with a message if no daemon takes it. */
static FILE *send_wish(const struct wish *wish)
{
	char *path = control_path();
	char *line = request_line(wish);
	int fd = path ? control_request(line) : -1;

	if (!path)
		fputs("pullcall: XDG_RUNTIME_DIR is not set, so no pullcalld can be found\n",
		      stderr);
	else if (fd < 0)
		fprintf(stderr,
			"pullcall: no pullcalld and no \"pullcall run\" is running (%s: %s)\n",
			path, strerror(errno));
	free(line);
	free(path);
	return fd < 0 ? NULL : fdopen(fd, "r");
}

/* Asks, prints the answer and, of a watch, the events that follow. Returns the exit code. */
static int ask(const struct wish *wish)
{
	bool watch = strcmp(wish->verb, "watch") == 0;
	FILE *stream = send_wish(wish);
	char *line = NULL;
	size_t capacity = 0;
	int code = EXIT_NO, lines = 0;

	if (!stream)
		return code;
	while ((watch || lines == 0) && getline(&line, &capacity, stream) > 0) {
		line[strcspn(line, "\n")] = '\0';
		if (lines++ == 0)
			code = print_answer(line, wish->json);
		else if (wish->json)
			puts(line);
		else
			print_event(line);
		fflush(stdout);
	}
	if (lines == 0)
		fputs("pullcall: the daemon gave no answer\n", stderr);
	free(line);
	fclose(stream);
	return code;
}

/* ---- commands ---- */

int command_load(int argc, char **argv)
{
	struct wish wish = {.verb = "load"};
	bool resume = false;
	const struct option_row options[] = {
		{"resume", .flag = &resume},
		{"new", .flag = &wish.anew},
		{0},
	};
	char path[PATH_MAX];

	command_read(options, NULL, argc, argv);
	wish.key = resume ? "open" : "file";
	wish.value = resume ? argv[optind] : path;
	if (!resume && !plan_exists(argv[optind], "load"))
		return EXIT_NO;
	if (!resume && !realpath(argv[optind], path)) {
		fprintf(stderr, "%s: error: %s [file-open]\n", argv[optind], strerror(errno));
		return EXIT_NO;
	}
	return ask(&wish);
}

/* The word that people tell by that name. Ends the program if there is none. */
static const struct control_word *find_word(const struct command_syntax *line, const char *name)
{
	const char *names[WORDS_MAX] = {0};
	int count = 0;

	for (const struct control_word *word = control_words; word->name; word++) {
		if (!word->about)
			continue;
		names[count++] = word->name;
		if (name && strcmp(word->name, name) == 0)
			return word;
	}
	if (name)
		command_line_wrong(line, "%s", fault_unknown("word", name, names));
	command_line_wrong(line, "say what: %s", text_choice(names));
}

static bool is_count(const char *text)
{
	char *end;
	long count = strtol(text, &end, 10);

	return !*end && end != text && count >= 1 && count <= 10000;
}

/* Takes what follows the word. */
static void read_rest(const struct command_syntax *line, const struct control_word *word,
		      const char *rest, struct wish *wish)
{
	if (!word->key && *rest)
		command_line_wrong(line, "unexpected \"%s\"", rest);
	if (!*rest && word->key && word->operand[0] != '[')
		command_line_wrong(line, "%s takes %s", word->name, word->wants);
	if (!*rest)
		return;
	if (strcmp(word->key, "count") == 0 && !is_count(rest))
		command_line_wrong(line, "%s takes %s, not \"%s\"", word->name, word->wants, rest);
	wish->key = word->key;
	wish->value = rest;
}

/* What the words do, a line each. */
static char *about_words(void)
{
	struct text about = {0};

	for (const struct control_word *word = control_words; word->name; word++)
		if (word->about)
			text_format(&about, "%s%s%s: %s\n", word->name, word->operand ? " " : "",
				    word->operand ? word->operand : "", word->about);
	return text_take(&about);
}

int command_tell(int argc, char **argv)
{
	struct wish wish = {0};
	char *about = about_words();
	const struct option_row options[] = {{"json", .flag = &wish.json}, {0}};
	struct text rest = {0};

	const struct command_syntax *line = command_read(options, about, argc, argv);
	wish.verb = argv[optind];
	const struct control_word *word = find_word(line, wish.verb);
	for (int i = optind + 1; i < argc; i++)
		text_format(&rest, "%s%s", i > optind + 1 ? " " : "", argv[i]);
	read_rest(line, word, text_string(&rest), &wish);
	int code = ask(&wish);
	text_free(&rest);
	free(about);
	return code;
}

int command_watch(int argc, char **argv)
{
	struct wish wish = {.verb = "watch"};
	const struct option_row options[] = {{"json", .flag = &wish.json}, {0}};

	command_read(options, NULL, argc, argv);
	return ask(&wish);
}
