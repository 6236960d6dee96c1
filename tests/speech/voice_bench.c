#include "speech/voice_bench.h"

#include "base/base.h"

#include <dirent.h>
#include <inttypes.h>
#include <poll.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

enum { PATIENCE_US = 8000000 };

void voice_bench_open(struct voice_bench *bench)
{
	*bench = (struct voice_bench){.folder = "/tmp/pullcall-voice-XXXXXX"};
	assert_non_null(mkdtemp(bench->folder));
	snprintf(bench->file, sizeof bench->file, "%s/file", bench->folder);
}

void voice_bench_close(struct voice_bench *bench)
{
	speech_close(bench->speech);
	unlink(bench->file);
	rmdir(bench->folder);
	text_free(&bench->log);
	assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
}

static void note(struct voice_bench *bench, const struct speech_event *event)
{
	static const char *const names[] = {
		[SPEECH_READY] = "READY",       [SPEECH_STARTED] = "STARTED",
		[SPEECH_FINISHED] = "FINISHED", [SPEECH_LOST] = "LOST",
		[SPEECH_BACK] = "BACK",         [SPEECH_NO_SOUND] = "NO-SOUND",
		[SPEECH_REFUSED] = "REFUSED",   [SPEECH_TROUBLE] = "TROUBLE",
	};

	text_add(&bench->log, names[event->kind]);
	if (event->generation)
		text_format(&bench->log, " %" PRIu64, event->generation);
	if (event->text[0])
		text_format(&bench->log, ": %s", event->text);
	text_add_char(&bench->log, '\n');
	if (event->kind == SPEECH_LOST)
		bench->lost_us = event->at_us;
	if (event->kind == SPEECH_BACK)
		bench->back_us = event->at_us;
	if (event->kind == SPEECH_STARTED)
		bench->started_us = event->at_us;
	if (event->kind == SPEECH_FINISHED)
		bench->finished_us = event->at_us;
}

void voice_turn(struct voice_bench *bench, int64_t until_us)
{
	struct pollfd in = {.fd = speech_fd(bench->speech), .events = POLLIN};
	int64_t deadline_us = speech_deadline_us(bench->speech);
	int64_t wait_us = (deadline_us < until_us ? deadline_us : until_us) - clock_steady_us();
	struct speech_event event;

	poll(&in, 1, wait_us > 0 ? (int)(wait_us / 1000) + 1 : 0);
	int64_t before_us = clock_steady_us();
	speech_dispatch(bench->speech, before_us);
	bench->dispatches++;
	assert_true(clock_steady_us() - before_us < 400 * MS_US); /* it never blocks */
	while (speech_next(bench->speech, &event))
		note(bench, &event);
}

void voice_await(struct voice_bench *bench, const char *text)
{
	int64_t until_us = clock_steady_us() + PATIENCE_US;

	while (!strstr(text_string(&bench->log), text) && clock_steady_us() < until_us)
		voice_turn(bench, until_us);
	if (!strstr(text_string(&bench->log), text))
		fail_msg("waited in vain for \"%s\"; there was:\n%s", text,
			 text_string(&bench->log));
}

void voice_run(struct voice_bench *bench, int64_t time_us)
{
	int64_t until_us = clock_steady_us() + time_us;

	while (clock_steady_us() < until_us)
		voice_turn(bench, until_us);
}

void voice_say(struct voice_bench *bench, const char *text)
{
	speech_say(bench->speech, text, SPEECH_NOW, clock_steady_us());
}

void voice_prepare(struct voice_bench *bench, const char *text)
{
	speech_prepare(bench->speech, &text, 1);
}

static int parent_of(const char *process)
{
	char path[300], line[300];
	int parent = -1;

	snprintf(path, sizeof path, "/proc/%s/stat", process);
	FILE *file = fopen(path, "r");
	if (file && fgets(line, sizeof line, file) && strrchr(line, ')'))
		sscanf(strrchr(line, ')') + 1, " %*c %d", &parent);
	if (file)
		fclose(file);
	return parent;
}

int voice_process(void)
{
	DIR *folder = opendir("/proc");
	const struct dirent *entry;
	int process = 0;

	while ((entry = readdir(folder)))
		if (atoi(entry->d_name) > 0 && parent_of(entry->d_name) == getpid())
			process = atoi(entry->d_name);
	closedir(folder);
	assert_true(process > 0);
	return process;
}
