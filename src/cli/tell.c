/* pullcall load, tell and watch: steering a running job, and following it. */
#include "base/base.h"
#include "cli/cli.h"
#include "daemon/daemon.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>

/* ---- requests ---- */

struct wish {
	const char *verb;
	const char *file;
	const char *open; /* the number or name of an open job */
	const char *reason;
	char *string; /* owned */
	int count;    /* 0: none */
	bool anew;
	bool json;
};

static char *request_line(const struct wish *wish)
{
	struct text line = {0};
	struct json json = {.out = &line};

	json_open(&json, NULL, '{');
	json_string(&json, "do", wish->verb);
	if (wish->count)
		json_int(&json, "count", wish->count);
	if (wish->file)
		json_string(&json, "file", wish->file);
	if (wish->open)
		json_string(&json, "open", wish->open);
	if (wish->anew)
		json_bool(&json, "new", true);
	if (wish->reason)
		json_string(&json, "reason", wish->reason);
	if (wish->string)
		json_string(&json, "string", wish->string);
	json_close(&json, '}');
	return text_take(&line);
}

static const char *field(const struct yaml_document *reply, const char *key)
{
	const struct yaml_node *node = reply ? yaml_get(reply->root, key) : NULL;

	return node && node->kind == YAML_SCALAR ? node->text : NULL;
}

static void print_place(const struct yaml_document *reply)
{
	if (field(reply, "told"))
		printf("%s\n", field(reply, "told"));
	const char *said = field(reply, "said");
	const char *call = field(reply, "call");

	if (said)
		puts(said);
	else if (call && field(reply, "text"))
		printf("%s/%s  %s\n", call, field(reply, "calls"), field(reply, "text"));
	else
		puts(field(reply, "state") ? field(reply, "state") : "done");
}

/* Says how the run ended, and whether the job stays open. */
static void print_end(const struct yaml_document *reply, const char *verb)
{
	const char *call = field(reply, "call");
	bool abandoned = strcmp(verb, control_verb_name(CONTROL_ABANDON)) == 0;

	/* Past the last call it was finished, whatever ended the run. */
	if (!field(reply, "text") && !abandoned)
		puts("The job is done.");
	else
		printf("%s at call %s of %s: the job %s.\n", abandoned ? "Abandoned" : "Stopped",
		       call ? call : "?", field(reply, "calls") ? field(reply, "calls") : "?",
		       abandoned ? "is closed" : "stays open");
}

/* Prints an answer; returns the exit code. */
static int print_answer(const char *line, const char *verb, bool json)
{
	struct faults faults = {0};
	struct yaml_document *reply = yaml_read_json("answer", line, strlen(line), &faults);
	const char *ok = field(reply, "ok");
	bool good = ok && strcmp(ok, "true") == 0;

	if (json)
		puts(line);
	else if (good && field(reply, "state") && strcmp(field(reply, "state"), "over") == 0)
		print_end(reply, verb);
	else if (good)
		print_place(reply);
	else
		fprintf(stderr, "pullcall: %s\n",
			field(reply, "error") ? field(reply, "error") : "no answer");
	yaml_free(reply);
	faults_free(&faults);
	return good ? 0 : EXIT_NO;
}

static int ask(const struct wish *wish)
{
	struct client *client = client_open();

	if (!client)
		return EXIT_NO;
	char *request = request_line(wish);
	const char *line = client_send(client, request) ? client_line(client) : NULL;
	int code = EXIT_NO;
	if (line)
		code = print_answer(line, wish->verb, wish->json);
	else
		fputs("pullcall: the daemon gave no answer\n", stderr);
	free(request);
	client_close(client);
	return code;
}

/* ---- commands ---- */

int command_load(int argc, char **argv)
{
	struct wish wish = {.verb = "load"};
	bool resume = false;
	const struct option_row options[] = {
		{"resume", 0, NULL, "JOB is the number or the name of an open job, to go on with",
		 .flag = &resume},
		{"new", 0, NULL, "begin again even if a job of this name was left open",
		 .flag = &wish.anew},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall load",
		.usage = "JOB [--new]\n--resume JOB",
		.about =
			"Hands a job plan to the running pullcalld. If this racket's job was left open, it goes "
			"on where it was left.",
		.end = "Exit: 0 taken, 1 at fault or no pullcalld is running or it is busy, 2 wrong usage.",
		.operand = "a job plan, or the number of an open job,",
		.least = 1,
		.most = 1,
		.options = options,
	};
	char path[PATH_MAX];
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	if (resume) {
		wish.open = argv[optind];
		return ask(&wish);
	}
	if (!plan_exists(argv[optind], "load"))
		return EXIT_NO;
	if (!realpath(argv[optind], path)) {
		fprintf(stderr, "%s: error: %s [file-open]\n", argv[optind], strerror(errno));
		return EXIT_NO;
	}
	wish.file = path;
	return ask(&wish);
}

static bool read_count(const char *text, int *out)
{
	char *end;

	errno = 0;
	long count = strtol(text, &end, 10);
	*out = (int)count;
	return !errno && !*end && end != text && count >= 1 && count <= 10000;
}

static int wrong_word(const struct command_syntax *line, const char *word)
{
	const char *names[CONTROL_ABANDON + 2] = {0};

	for (enum control_verb i = CONTROL_NEXT; i <= CONTROL_ABANDON; i++)
		names[i] = control_verb_name(i);
	const char *nearest = fault_did_you_mean(word, names);
	if (nearest)
		return command_line_wrong(line, "unknown word \"%s\": did you mean \"%s\"?", word,
					  nearest);
	return command_line_wrong(line, "unknown word \"%s\"", word);
}

/* The words of a string's name, with spaces between. */
static char *joined(char **words, int count)
{
	struct text text = {0};

	for (int i = 0; i < count; i++)
		text_format(&text, "%s%s", i ? " " : "", words[i]);
	return text_take(&text);
}

/* What follows the verb: -1 to go on, else the exit code. */
static int read_rest(const struct command_syntax *line, enum control_verb verb, int count,
		     char **rest, struct wish *wish)
{
	int most = verb == CONTROL_REDO ? 3 : verb == CONTROL_BACK || verb == CONTROL_ABANDON;

	if (verb == CONTROL_ABANDON && count != 1)
		return command_line_wrong(line, "abandon takes a reason, in quotes");
	if (verb == CONTROL_REDO && count == 0)
		return command_line_wrong(line,
					  "redo takes a string: \"cross 9\" or \"main 4 left\"");
	if (count > most)
		return command_line_wrong(line, "unexpected \"%s\"", rest[most]);
	if (verb == CONTROL_ABANDON)
		wish->reason = rest[0];
	if (verb == CONTROL_REDO)
		wish->string = joined(rest, count);
	if (verb == CONTROL_BACK && count == 1 && !read_count(rest[0], &wish->count))
		return command_line_wrong(line, "back takes a count from 1, not \"%s\"", rest[0]);
	return -1;
}

int command_tell(int argc, char **argv)
{
	struct wish wish = {0};
	const struct option_row options[] = {
		{"json", 0, NULL, "print the answer as one JSON object", .flag = &wish.json},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall tell",
		.usage =
			"next|again|pause|resume|where|why|choices|stop [--json]\nquiet|loud|fuller|shorter|louder|softer [--json]\nback [COUNT]\nredo STRING\nslipped|broke\nabandon REASON",
		.about =
			"Steers the running job, as its pedal does:\n"
			"\n"
			"next: the next call; while paused, goes on\n"
			"again: the same call again\n"
			"back: one call back, or COUNT\n"
			"pause: stops the clock of work; resume starts it again\n"
			"where: says and prints the place, what is left, and the time left\n"
			"why: says and prints the reason for the call\n"
			"choices: opens the choices; then next says the next one, again takes it, back leaves\n"
			"stop: ends the run; the job stays open, to go on with later\n"
			"loud: makes the words easier to hear in noise; quiet: as they were\n"
			"fuller, shorter: says the calls with all their words, or with few\n"
			"louder, softer: raises or lowers the voice by a quarter\n"
			"redo: a string must be done again (cross 9, main 4 left): the way back is said\n"
			"slipped: a clamp has slipped; broke: a string has broken: likewise\n"
			"abandon: closes the job for good; the reason goes into the journal",
		.end = "Exit: 0 done, 1 it cannot be done now or nothing is running, 2 wrong usage.",
		.operand = "what to say",
		.options = options,
	};
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	if (optind == argc)
		return command_line_wrong(
			&line,
			"say what: next, again, back, pause, resume, where, why, choices, stop, "
			"quiet, loud, fuller, shorter, louder, softer, redo, slipped, broke or abandon");
	wish.verb = argv[optind];
	enum control_verb verb = CONTROL_NEXT;
	while (verb <= CONTROL_ABANDON && strcmp(wish.verb, control_verb_name(verb)) != 0)
		verb++;
	if (verb > CONTROL_ABANDON)
		return wrong_word(&line, wish.verb);
	code = read_rest(&line, verb, argc - optind - 1, argv + optind + 1, &wish);
	if (code < 0)
		code = ask(&wish);
	free(wish.string);
	return code;
}

static void print_event(const char *line)
{
	struct faults faults = {0};
	struct yaml_document *event = yaml_read_json("event", line, strlen(line), &faults);
	const char *call = field(event, "call");
	const char *name = field(event, "name");
	const char *text = field(event, "text");

	if (call)
		printf("%3s/%s  ", call, field(event, "calls"));
	printf("%s%s%s%s%s\n", field(event, "event") ? field(event, "event") : "?", name ? " " : "",
	       name ? name : "", text ? ": " : "", text ? text : "");
	yaml_free(event);
	faults_free(&faults);
}

static int watch(struct client *client, const struct wish *wish)
{
	char *request = request_line(wish);
	const char *line = client_send(client, request) ? client_line(client) : NULL;
	int code = line ? print_answer(line, wish->verb, wish->json) : EXIT_NO;

	while (line && (line = client_line(client))) {
		if (wish->json)
			puts(line);
		else
			print_event(line);
		fflush(stdout);
	}
	free(request);
	return code;
}

int command_watch(int argc, char **argv)
{
	struct wish wish = {.verb = "watch"};
	const struct option_row options[] = {
		{"json", 0, NULL, "one JSON object a line", .flag = &wish.json},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall watch",
		.usage = "[--json]",
		.about = "Follows the running job: one line an event, until it ends.",
		.end = "Exit: 0 it ended, 1 nothing is running, 2 wrong usage.",
		.options = options,
	};
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	struct client *client = client_open();
	code = client ? watch(client, &wish) : EXIT_NO;
	client_close(client);
	return code;
}
