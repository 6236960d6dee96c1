/* What is done after every event, whatever it was. */
#include "daemon/internal.h"

#include <string.h>

/* How long the end of a run waits for its last words. */
static const uint64_t last_words_us = 8 * 1000 * 1000;

/* One timer for the deadlines of all sources. */
static void set_timer(struct daemon *daemon)
{
	int64_t due_us = sources_deadline_us(daemon->sources);
	int64_t session_us = daemon->work ? session_deadline_us(&daemon->work->session) : INT64_MAX;

	if (session_us < due_us)
		due_us = session_us;
	if (due_us == INT64_MAX) {
		sd_event_source_set_enabled(daemon->timer, SD_EVENT_OFF);
		return;
	}
	sd_event_source_set_time(daemon->timer, due_us > 0 ? (uint64_t)due_us : 0);
	sd_event_source_set_enabled(daemon->timer, SD_EVENT_ONESHOT);
}

static int on_last_words_late(sd_event_source *source, uint64_t usec, void *data)
{
	(void)usec;
	(void)data;
	return sd_event_exit(sd_event_source_get_event(source), EXIT_DONE);
}

static void leave(struct daemon *daemon)
{
	if (daemon->leaving)
		return;
	daemon->leaving = true;
	daemon_close_presses(daemon);
	sd_event_add_time_relative(daemon->loop, NULL, CLOCK_MONOTONIC, last_words_us, 0,
				   on_last_words_late, NULL);
}

static void end_work(struct daemon *daemon)
{
	work_free(daemon->work);
	daemon->work = NULL;
	memset(daemon->owed, 0, sizeof daemon->owed);
	if (daemon->options.once)
		leave(daemon);
	else
		daemon_rack_wait(daemon);
	speech_rest(daemon->speech, clock_steady_us());
}

void daemon_after(struct daemon *daemon)
{
	sources_dispatch_until(daemon->sources, clock_steady_us());
	if (daemon->work && session_deadline_us(&daemon->work->session) <= clock_steady_us())
		daemon_step_now(daemon, SESSION_TIMEOUT, NULL);
	if (daemon->work && daemon->work->session.state == SESSION_ENDING &&
	    sources_settled(daemon->sources))
		daemon_step_now(daemon, SESSION_SETTLED, NULL);
	if (daemon->work && daemon->work->session.state == SESSION_OVER)
		end_work(daemon);
	if (!daemon->work && sources_settled(daemon->sources))
		daemon_rack_settled(daemon);
	if (!daemon->work && !daemon->options.once) {
		journal_close(daemon->journal); /* others may write to it meanwhile */
		daemon->journal = NULL;
	}
	if (daemon->leaving && (!daemon->talking || daemon->voice_state == VOICE_NONE))
		sd_event_exit(daemon->loop, EXIT_DONE);
	set_timer(daemon);
}
