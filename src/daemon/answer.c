/* Answers the requests that come through the control socket. */
#include "daemon/internal.h"

#include "base/base.h"

#include <stdlib.h>
#include <sys/stat.h>

/* The numbers whose bits are set. */
static void add_numbers(struct json *json, const char *key, uint64_t bits)
{
	json_open(json, key, '[');
	for (int number = 1; number < 64; number++)
		if (bits >> number & 1)
			json_int(json, NULL, number);
	json_close(json, ']');
}

/* What it takes to draw the bed: how many strings there are, which are in, and which one the call
 * is about. */
static void add_bed(const struct work *work, struct json *json)
{
	const struct script *script = work->script;
	int call = work->session.call;
	struct script_bed bed = script_bed(script, call);
	const struct script_line *line = script_line(script, call);

	json_int(json, "mains", script->whole.mains);
	json_int(json, "crosses", script->whole.crosses);
	json_string(json, "crosses_start", script->crosses_start);
	json_open(json, "in_bed", '{');
	add_numbers(json, "left", bed.left);
	add_numbers(json, "right", bed.right);
	add_numbers(json, "crosses", bed.crosses);
	json_close(json, '}');
	if (call > script->count || !line->string || line->number == 0)
		return;
	json_string(json, "string", line->string);
	json_int(json, "number", line->number);
	if (line->side)
		json_string(json, "side", line->side);
}

/* Where the job is: part of every answer that is not an error. */
static void add_place(const struct daemon *daemon, struct json *json)
{
	const struct work *work = daemon->work;

	if (!work) {
		json_string(json, "state", "idle");
		return;
	}
	const struct session *session = &work->session;
	int64_t now_us = clock_steady_us();
	struct script_left left = work_strings_left(work);
	json_string(json, "state", session_state_name(session->state));
	json_string(json, "job", work->script->job);
	json_int(json, "call", session->call);
	json_int(json, "calls", session->calls);
	json_string(json, "phase", script_line(work->script, session->call)->phase);
	if (session->call <= session->calls)
		json_string(json, "text", script_words(work->script, session->call));
	if (session->call < session->calls)
		json_string(json, "next", script_words(work->script, session->call + 1));
	json_int(json, "mains_left", left.mains);
	json_int(json, "crosses_left", left.crosses);
	add_bed(work, json);
	json_number(json, "worked_s", (double)session_worked_us(session, now_us) / 1e6, 1);
	json_number(json, "left_s", (double)work_left_us(work, now_us) / 1e6, 0);
	json_number(json, "pace", pace_ratio(session, work->script), 2);
	json_string(json, "voice", daemon->voice);
	json_string(json, "pedal", daemon->pedal);
	if (daemon->journal_fault)
		json_string(json, "journal", daemon->journal_fault);
}

static void answer_place(const struct daemon *daemon, const char *told, struct text *reply)
{
	struct json json = {.out = reply};

	json_open(&json, NULL, '{');
	json_bool(&json, "ok", true);
	if (told)
		json_string(&json, "told", told);
	if (daemon->said && *daemon->said)
		json_string(&json, "said", daemon->said);
	add_place(daemon, &json);
	json_close(&json, '}');
}

/* All faults, one a line, as `pullcall check` prints them. */
static void answer_faults(const struct faults *faults, struct text *reply)
{
	char *text = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&text, &length);

	if (!out)
		return;
	faults_print(faults, out);
	fclose(out);
	while (length > 0 && text[length - 1] == '\n')
		text[--length] = '\0';
	request_refuse(reply, text);
	free(text);
}

/* Reading a pipe or a device could block the daemon for ever. */
static bool may_block(const char *path)
{
	struct stat file;

	return stat(path, &file) == 0 && !S_ISREG(file.st_mode) && !S_ISDIR(file.st_mode);
}

static void reopen(struct daemon *daemon, const char *which, struct text *reply)
{
	char *told = NULL;

	if (daemon_reopen(daemon, which, &told) == EXIT_DONE)
		answer_place(daemon, told, reply);
	else
		request_refuse(reply, told);
	free(told);
}

static void load(struct daemon *daemon, const struct request *request, struct text *reply)
{
	const char *path = request->text;
	char *told = NULL;
	struct faults faults = {0};

	if (request->reopen)
		reopen(daemon, path, reply);
	else if (path[0] != '/')
		request_refuse(reply, "expected an absolute path");
	else if (may_block(path))
		request_refuse(reply, "expected a file on a disk, not a pipe or a device");
	else if (daemon_load(daemon, path, request->anew, &told, &faults) == EXIT_DONE)
		answer_place(daemon, told, reply);
	else
		answer_faults(&faults, reply);
	free(told);
	faults_free(&faults);
}

static const enum session_event_kind steps[] = {
	[CONTROL_NEXT] = SESSION_NEXT,     [CONTROL_AGAIN] = SESSION_AGAIN,
	[CONTROL_BACK] = SESSION_BACK,     [CONTROL_PAUSE] = SESSION_PAUSE,
	[CONTROL_RESUME] = SESSION_RESUME, [CONTROL_WHERE] = SESSION_WHERE,
	[CONTROL_WHY] = SESSION_WHY,       [CONTROL_CHOICES] = SESSION_CHOICES,
	[CONTROL_STOP] = SESSION_STOP,     [CONTROL_ABANDON] = SESSION_ABANDON,
};

static const char *why_not(enum control_verb verb)
{
	switch (verb) {
	case CONTROL_NEXT:
		return "the job is done";
	case CONTROL_BACK:
		return "this is the first call";
	case CONTROL_PAUSE:
		return "already paused";
	case CONTROL_RESUME:
		return "not paused";
	default:
		return "not now";
	}
}

static void step(struct daemon *daemon, const struct request *request, struct text *reply)
{
	const struct session_event event = {
		.kind = steps[request->verb],
		.time_us = clock_steady_us(),
		.count = request->verb == CONTROL_BACK ? request->count : 0,
		.text = request->text,
	};

	if (!daemon->work) {
		request_refuse(reply, "no job is running");
		return;
	}
	/* A press before this request is not taken back by a double tap after it. */
	sources_forget(daemon->sources, NULL);
	if (!daemon_step(daemon, &event)) {
		request_refuse(reply, daemon->work->session.state == SESSION_ENDING
					      ? "the job is done"
					      : why_not(request->verb));
		return;
	}
	daemon->said_press_us = 0; /* nothing was pressed whose answer could be timed */
	answer_place(daemon, NULL, reply);
}

/* Something went wrong: redo, slipped, broke. */
static void go_back(struct daemon *daemon, const struct request *request, struct text *reply)
{
	struct script_mishap mishap = {0};
	char *why = NULL;

	if (!daemon->work) {
		request_refuse(reply, "no job is running");
		return;
	}
	bool good =
		request->verb != CONTROL_REDO || script_parse_string(request->text, &mishap, &why);
	mishap.kind = control_verb_name(request->verb);
	sources_forget(daemon->sources, NULL);
	if (good && daemon_go_back(daemon, &mishap, &why))
		answer_place(daemon, NULL, reply);
	else
		request_refuse(reply, why);
	free(why);
}

/* Until the program ends, whatever the bench file says. The words of a job that has begun stay. */
static void set_loud(struct daemon *daemon, bool loud)
{
	daemon->options.shop = loud ? DAEMON_SHOP_LOUD : DAEMON_SHOP_QUIET;
	daemon->bench->loud = loud;
	speech_set_loud(daemon->speech, loud, clock_steady_us());
}

void daemon_answer(void *owner, const struct request *request, struct text *reply)
{
	struct daemon *daemon = owner;

	switch (request->verb) {
	case CONTROL_LOAD:
		load(daemon, request, reply);
		break;
	case CONTROL_QUIET:
	case CONTROL_LOUD:
		set_loud(daemon, request->verb == CONTROL_LOUD);
		answer_place(daemon, NULL, reply);
		break;
	case CONTROL_REDO:
	case CONTROL_SLIPPED:
	case CONTROL_BROKE:
		go_back(daemon, request, reply);
		break;
	case CONTROL_LOUDER:
	case CONTROL_SOFTER:
		daemon_set_volume(daemon, request->verb == CONTROL_LOUDER);
		answer_place(daemon, NULL, reply);
		break;
	case CONTROL_FULLER:
	case CONTROL_SHORTER:
		if (!daemon->work) {
			request_refuse(reply, "no job is running");
			break;
		}
		daemon_set_words(daemon, request->verb == CONTROL_SHORTER);
		answer_place(daemon, NULL, reply);
		break;
	case CONTROL_WATCH:
	case CONTROL_STATUS:
		answer_place(daemon, NULL, reply);
		break;
	default:
		step(daemon, request, reply);
	}
	daemon_after(daemon);
}
