#include "daemon/daemon.h"

#include "base/base.h"

#include <time.h>

static const char *const kinds[NOTES] = {
	[NOTE_JOB] = "job",       [NOTE_CALL] = "call", [NOTE_SAID] = "said",
	[NOTE_RECORD] = "record", [NOTE_LOG] = "log",
};

void note_json(const struct note *note, struct text *out)
{
	struct json json = {.out = out};

	json_open(&json, NULL, '{');
	json_string(&json, "event", kinds[note->kind]);
	if (note->name)
		json_string(&json, "name", note->name);
	if (note->number)
		json_int(&json, "number", note->number);
	if (note->call) {
		json_int(&json, "call", note->call);
		json_int(&json, "calls", note->calls);
	}
	if (note->phase)
		json_string(&json, "phase", note->phase);
	if (note->state)
		json_string(&json, "state", note->state);
	if (note->text)
		json_string(&json, "text", note->text);
	if (note->response_us > 0)
		json_number(&json, "response_ms", (double)note->response_us / (double)MS_US, 3);
	json_number(&json, "time", (double)note->wall_us / (double)SECOND_US, 3);
	json_close(&json, '}');
}

/* "14:03:07" in the local time of the bench */
static void add_time(struct text *out, int64_t wall_us)
{
	time_t seconds = (time_t)(wall_us / SECOND_US);
	struct tm local;
	char clock[16];

	if (localtime_r(&seconds, &local) && strftime(clock, sizeof(clock), "%H:%M:%S", &local))
		text_format(out, "%s  ", clock);
}

void note_line(const struct note *note, struct text *out)
{
	add_time(out, note->wall_us);
	if (note->call)
		text_format(out, "%3d/%d  ", note->call, note->calls);
	if (note->kind == NOTE_RECORD)
		text_format(out, "[%s]", note->name);
	else if (note->kind == NOTE_JOB)
		text_format(out, "job %s", note->name);
	if (note->response_us > 0)
		text_format(out, " after %.0f ms", (double)note->response_us / (double)MS_US);
	if (note->text)
		text_format(out, "%s%s",
			    note->kind == NOTE_RECORD || note->kind == NOTE_JOB ? ": " : "",
			    note->text);
}
