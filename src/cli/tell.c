/* pullcall load, tell and watch: steering a running job, and following it. */
#include "base/base.h"
#include "cli/cli.h"
#include "daemon/daemon.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>

static const char load_help[] =
	"Usage: pullcall load JOB\n"
	"\n"
	"Hands a job plan to the running pullcalld.\n"
	"\n"
	"Exit: 0 taken, 1 at fault or no pullcalld is running or it is busy, 2 wrong usage.\n";

static const char tell_help[] =
	"Usage: pullcall tell next|again|back [COUNT]|pause|resume|where|stop|abandon REASON\n"
	"                     [--json]\n"
	"\n"
	"Steers the running job, as its pedal does:\n"
	"  next      the next call; while paused: go on\n"
	"  again     the same call again\n"
	"  back      one call back, or COUNT\n"
	"  pause     the clock of work stands; resume goes on\n"
	"  where     says and prints the place, what is left, and the time left\n"
	"  stop      ends the run; the job stays open and can be gone on with\n"
	"  abandon   closes the job for good; the reason goes into the journal\n"
	"\n"
	"Exit: 0 done, 1 it cannot be done now or nothing is running, 2 wrong usage.\n";

static const char watch_help[] = "Usage: pullcall watch [--json]\n"
				 "\n"
				 "Follows the running job: one line an event, until it ends.\n"
				 "\n"
				 "  --json   one JSON object a line\n"
				 "\n"
				 "Exit: 0 it ended, 1 nothing is running, 2 wrong usage.\n";

/* ---- requests ---- */

struct wish {
	const char *verb;
	const char *file;
	const char *reason;
	int count; /* 0: none */
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
	if (wish->reason)
		json_string(&json, "reason", wish->reason);
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
	const char *said = field(reply, "said");
	const char *call = field(reply, "call");

	if (said)
		puts(said);
	else if (call && field(reply, "text"))
		printf("%s/%s  %s\n", call, field(reply, "calls"), field(reply, "text"));
	else
		puts(field(reply, "state") ? field(reply, "state") : "done");
}

/* The end of a run, and what becomes of the job. */
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
	static const struct option table[] = {OPTION_TABLE_END};
	char path[PATH_MAX];
	int code = 0;

	if (command_option(argc, argv, table, load_help, &code) == OPTION_LEAVE)
		return code;
	if (optind + 1 != argc)
		return command_usage("load", "expected one job plan");
	if (!realpath(argv[optind], path)) {
		fprintf(stderr, "%s: error: %s [file-open]\n", argv[optind], strerror(errno));
		return EXIT_NO;
	}
	return ask(&(struct wish){.verb = "load", .file = path});
}

static int read_count(const char *text, int *out)
{
	char *end;

	errno = 0;
	long count = strtol(text, &end, 10);
	if (errno || *end || end == text || count < 1 || count > 10000)
		return command_usage("tell", "back takes a count from 1, not \"%s\"", text);
	*out = (int)count;
	return 0;
}

/* What follows the verb. Returns an exit code, 0 to go on. */
static int read_rest(int argc, char **argv, struct wish *wish)
{
	bool back = strcmp(wish->verb, "back") == 0;
	bool abandon = strcmp(wish->verb, "abandon") == 0;

	if (abandon && argc != 1)
		return command_usage("tell", "abandon takes a reason, in quotes");
	if (!abandon && argc > (back ? 1 : 0))
		return command_usage("tell", "unexpected \"%s\"", argv[back ? 1 : 0]);
	if (abandon)
		wish->reason = argv[0];
	if (back && argc == 1)
		return read_count(argv[0], &wish->count);
	return 0;
}

static bool is_steering(const char *verb)
{
	for (enum control_verb i = CONTROL_NEXT; i <= CONTROL_ABANDON; i++)
		if (strcmp(verb, control_verb_name(i)) == 0)
			return true;
	return false;
}

static int wrong_word(const char *word)
{
	const char *names[CONTROL_ABANDON + 2] = {0};

	for (enum control_verb i = CONTROL_NEXT; i <= CONTROL_ABANDON; i++)
		names[i] = control_verb_name(i);
	const char *nearest = fault_did_you_mean(word, names);
	if (nearest)
		return command_usage("tell", "\"%s\": did you mean \"%s\"?", word, nearest);
	return command_usage("tell", "\"%s\" is nothing to tell", word);
}

static int read_json_option(int argc, char **argv, const char *text, bool *json)
{
	static const struct option table[] = {{"json", no_argument, NULL, 'j'}, OPTION_TABLE_END};
	int option, code = 0;

	while ((option = command_option(argc, argv, table, text, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code + 1;
		*json = true;
	}
	return 0;
}

int command_tell(int argc, char **argv)
{
	struct wish wish = {0};
	int leave = read_json_option(argc, argv, tell_help, &wish.json);

	if (leave)
		return leave - 1;
	if (optind == argc)
		return command_usage("tell", "what to tell is missing");
	wish.verb = argv[optind];
	if (!is_steering(wish.verb))
		return wrong_word(wish.verb);
	int code = read_rest(argc - optind - 1, argv + optind + 1, &wish);
	return code ? code : ask(&wish);
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

int command_watch(int argc, char **argv)
{
	struct wish wish = {.verb = "watch"};
	int leave = read_json_option(argc, argv, watch_help, &wish.json);

	if (leave)
		return leave - 1;
	if (optind != argc)
		return command_usage("watch", "unexpected \"%s\"", argv[optind]);
	struct client *client = client_open();
	if (!client)
		return EXIT_NO;
	char *request = request_line(&wish);
	const char *line = client_send(client, request) ? client_line(client) : NULL;
	int code = line ? print_answer(line, wish.verb, wish.json) : EXIT_NO;
	while (line && (line = client_line(client))) {
		if (wish.json)
			puts(line);
		else
			print_event(line);
		fflush(stdout);
	}
	free(request);
	client_close(client);
	return code;
}
