#include "session/session.h"

#include "base/base.h"

#include <assert.h>
#include <stdlib.h>

/* After a pause this long the place is said before the call. Our choice. */
static const int64_t long_pause_us = 60 * SECOND_US;

static struct session_effect *add(struct session_effects *effects, enum session_effect_kind kind)
{
	assert(effects->count < SESSION_EFFECTS_MAX);
	struct session_effect *effect = &effects->items[effects->count++];
	*effect = (struct session_effect){.kind = kind, .response_us = -1};
	return effect;
}

static void say_call(const struct session *session, struct session_effects *effects, bool again)
{
	struct session_effect *effect = add(effects, SESSION_SAY_CALL);

	effect->call = session->call;
	effect->again = again;
}

static void say(struct session_effects *effects, enum notice notice)
{
	add(effects, SESSION_SAY_NOTICE)->notice = notice;
}

static void say_after(struct session_effects *effects, enum notice notice)
{
	struct session_effect *effect = add(effects, SESSION_SAY_NOTICE);

	effect->notice = notice;
	effect->after = true;
}

/* Says the call when the notice before it has ended. */
static void say_call_after(const struct session *session, struct session_effects *effects)
{
	say_call(session, effects, false);
	effects->items[effects->count - 1].after = true;
}

static struct session_effect *write_record(const struct session *session,
					   struct session_effects *effects,
					   enum journal_kind record)
{
	struct session_effect *effect = add(effects, SESSION_WRITE);

	effect->record = record;
	effect->call = session->call;
	effect->working = session->state == SESSION_CALLING;
	return effect;
}

static void remember(struct session *session)
{
	for (int i = SESSION_MEMORY - 1; i > 0; i--)
		session->before[i] = session->before[i - 1];
	session->before[0] = (struct session_snapshot){session->state, session->call};
	if (session->remembered < SESSION_MEMORY)
		session->remembered++;
}

static void forget(struct session *session)
{
	session->remembered = 0;
}

static void pause_work(struct session *session, const struct session_event *event)
{
	session->state = SESSION_PAUSED;
	session->paused_since_us = event->boot_us;
}

static void go_on(struct session *session)
{
	session->state = SESSION_CALLING;
	session->pedal_gone = false;
	session->fresh = false;
}

/* ---- what events do: each adds what to say, then what to write ---- */

static bool do_begin(struct session *session, const struct session_event *event, enum notice notice,
		     struct session_effects *effects)
{
	pause_work(session, event);
	say(effects, notice);
	write_record(session, effects, JOURNAL_STARTED);
	return true;
}

static bool do_next(struct session *session, struct session_effects *effects)
{
	remember(session);
	session->call++;
	if (session->call > session->calls) {
		session->state = SESSION_ENDING;
		say(effects, NOTICE_DONE);
	} else {
		say_call(session, effects, false);
	}
	write_record(session, effects, JOURNAL_NEXT);
	return true;
}

static bool do_resume(struct session *session, const struct session_event *event,
		      struct session_effects *effects)
{
	remember(session);
	bool was_long = event->boot_us - session->paused_since_us >= long_pause_us;
	if (was_long && !session->fresh) {
		say(effects, NOTICE_PLACE);
		say_call_after(session, effects);
	} else {
		say_call(session, effects, !session->fresh);
	}
	go_on(session);
	write_record(session, effects, JOURNAL_RESUME);
	return true;
}

static bool do_pause(struct session *session, const struct session_event *event,
		     struct session_effects *effects)
{
	forget(session);
	pause_work(session, event);
	say(effects, NOTICE_PAUSED);
	write_record(session, effects, JOURNAL_PAUSE);
	return true;
}

static bool do_again(const struct session *session, struct session_effects *effects)
{
	say_call(session, effects, true);
	write_record(session, effects, JOURNAL_AGAIN);
	return true;
}

static bool do_why(const struct session *session, struct session_effects *effects)
{
	add(effects, SESSION_SAY_WHY)->call = session->call;
	write_record(session, effects, JOURNAL_WHY);
	return true;
}

/* A paused job stays paused; one past its last call goes on. */
static bool do_back(struct session *session, int count, struct session_effects *effects)
{
	if (session->call == 1) {
		say(effects, NOTICE_FIRST);
		say_call_after(session, effects);
		return false;
	}
	forget(session);
	int calls = count > 0 ? count : 1;
	session->call = session->call > calls ? session->call - calls : 1;
	if (session->state == SESSION_ENDING)
		go_on(session);
	say_call(session, effects, true);
	write_record(session, effects, JOURNAL_BACK);
	return true;
}

static bool do_end(struct session *session, const struct session_event *event,
		   enum journal_kind record, struct session_effects *effects)
{
	session->state = SESSION_OVER;
	write_record(session, effects, record)->text = event->text;
	add(effects, SESSION_CLOSE);
	return true;
}

/* Goes back to the call before the last steps. False if they are forgotten: the gesture recogniser
 * takes back only steps that it gave, but a command may have come since. */
static bool take_back(struct session *session, int steps)
{
	if (steps < 1)
		steps = 1;
	if (steps > session->remembered)
		return false;
	int call = session->before[steps - 1].call;
	session->call = call > session->calls ? session->calls : call;
	forget(session);
	return true;
}

static bool do_undo_again(struct session *session, struct session_effects *effects)
{
	if (!take_back(session, 1))
		return false;
	go_on(session);
	say_call(session, effects, true);
	write_record(session, effects, JOURNAL_UNDO);
	write_record(session, effects, JOURNAL_AGAIN);
	return true;
}

static bool do_undo_back(struct session *session, struct session_effects *effects)
{
	if (!take_back(session, 1))
		return false;
	go_on(session);
	int taken_back_to = session->call;
	if (session->call > 1)
		session->call--;
	say_call(session, effects, true);
	write_record(session, effects, JOURNAL_UNDO)->call = taken_back_to;
	write_record(session, effects, JOURNAL_BACK);
	return true;
}

static bool do_undo_pause(struct session *session, const struct session_event *event,
			  struct session_effects *effects)
{
	if (!take_back(session, event->count))
		return false;
	pause_work(session, event);
	say(effects, NOTICE_PAUSED);
	write_record(session, effects, JOURNAL_UNDO);
	write_record(session, effects, JOURNAL_PAUSE);
	return true;
}

static bool report(const struct session *session, const struct session_event *event,
		   enum journal_kind record, struct session_effects *effects)
{
	write_record(session, effects, record)->text = event->text;
	return true;
}

/* A report that is also said. */
static bool announce(const struct session *session, const struct session_event *event,
		     enum notice notice, enum journal_kind record, struct session_effects *effects)
{
	say_after(effects, notice);
	return report(session, event, record, effects);
}

/* Reports that every state but OVER treats alike. */
static bool do_report(const struct session *session, const struct session_event *event,
		      struct session_effects *effects)
{
	switch (event->kind) {
	case SESSION_VOICE_LOST:
		return report(session, event, JOURNAL_FAULT, effects);
	case SESSION_VOICE_BACK:
		return report(session, event, JOURNAL_MENDED, effects);
	case SESSION_PEDAL_STUCK:
		return announce(session, event, NOTICE_PEDAL_STUCK, JOURNAL_FAULT, effects);
	case SESSION_PEDAL_CHATTER:
		return announce(session, event, NOTICE_PEDAL_CHATTER, JOURNAL_FAULT, effects);
	case SESSION_PEDAL_FREED:
		return announce(session, event, NOTICE_PEDAL_BACK, JOURNAL_MENDED, effects);
	case SESSION_JOURNAL_FAILED:
		say_after(effects, NOTICE_JOURNAL_FAILED);
		return true;
	case SESSION_JOURNAL_MENDED:
		say_after(effects, NOTICE_JOURNAL_MENDED);
		return true;
	case SESSION_JOURNAL_ASIDE:
		say_after(effects, NOTICE_JOURNAL_ASIDE);
		return true;
	default:
		return false;
	}
}

/* ---- one handler for each state ---- */

static bool in_calling(struct session *session, const struct session_event *event,
		       struct session_effects *effects)
{
	switch (event->kind) {
	case SESSION_START:
		session->fresh = true;
		return do_begin(session, event, NOTICE_GREETING, effects);
	case SESSION_REOPEN:
		return do_begin(session, event, NOTICE_REOPENED, effects);
	case SESSION_NEXT:
		return do_next(session, effects);
	case SESSION_AGAIN:
		return do_again(session, effects);
	case SESSION_BACK:
		return do_back(session, event->count, effects);
	case SESSION_PAUSE:
	case SESSION_PAUSE_TOGGLE:
		return do_pause(session, event, effects);
	case SESSION_WHERE:
		say(effects, NOTICE_PLACE);
		return true;
	case SESSION_WHY:
		return do_why(session, effects);
	case SESSION_STOP:
		return do_end(session, event, JOURNAL_STOPPED, effects);
	case SESSION_ABANDON:
		return do_end(session, event, JOURNAL_ABANDONED, effects);
	case SESSION_UNDO_AGAIN:
		return do_undo_again(session, effects);
	case SESSION_UNDO_BACK:
		return do_undo_back(session, effects);
	case SESSION_UNDO_PAUSE:
		return do_undo_pause(session, event, effects);
	case SESSION_ANNOUNCED:
		/* The stringer may have gone on since. */
		if (event->call == session->call)
			write_record(session, effects, JOURNAL_ANNOUNCED)->response_us =
				event->response_us;
		return true;
	case SESSION_PEDAL_GONE:
		forget(session);
		pause_work(session, event);
		session->pedal_gone = true;
		say(effects, NOTICE_PEDAL_GONE);
		return report(session, event, JOURNAL_FAULT, effects);
	case SESSION_PEDAL_BACK:
		return announce(session, event, NOTICE_PEDAL_BACK, JOURNAL_MENDED, effects);
	case SESSION_RESUME:
		return false;
	case SESSION_SETTLED:
		return true;
	default:
		return do_report(session, event, effects);
	}
}

static bool in_paused(struct session *session, const struct session_event *event,
		      struct session_effects *effects)
{
	switch (event->kind) {
	case SESSION_NEXT:
	case SESSION_RESUME:
	case SESSION_PAUSE_TOGGLE:
		return do_resume(session, event, effects);
	case SESSION_AGAIN:
		return do_again(session, effects);
	case SESSION_BACK:
		return do_back(session, event->count, effects);
	case SESSION_WHERE:
		say(effects, NOTICE_PLACE);
		return true;
	case SESSION_WHY:
		return do_why(session, effects);
	case SESSION_STOP:
		return do_end(session, event, JOURNAL_STOPPED, effects);
	case SESSION_ABANDON:
		return do_end(session, event, JOURNAL_ABANDONED, effects);
	case SESSION_UNDO_AGAIN:
		return do_undo_again(session, effects);
	case SESSION_UNDO_BACK:
		return do_undo_back(session, effects);
	case SESSION_UNDO_PAUSE:
		return do_undo_pause(session, event, effects);
	case SESSION_PEDAL_GONE:
		return announce(session, event, NOTICE_PEDAL_GONE, JOURNAL_FAULT, effects);
	case SESSION_PEDAL_BACK:
		if (!session->pedal_gone)
			return announce(session, event, NOTICE_PEDAL_BACK, JOURNAL_MENDED, effects);
		go_on(session);
		say(effects, NOTICE_PEDAL_BACK);
		say_call_after(session, effects);
		return report(session, event, JOURNAL_MENDED, effects);
	case SESSION_PAUSE:
	case SESSION_START:
	case SESSION_REOPEN:
		return false;
	case SESSION_ANNOUNCED:
	case SESSION_SETTLED:
		return true;
	default:
		return do_report(session, event, effects);
	}
}

static bool in_ending(struct session *session, const struct session_event *event,
		      struct session_effects *effects)
{
	switch (event->kind) {
	case SESSION_REOPEN: /* the program ended after the last press, before the finish */
		say(effects, NOTICE_DONE);
		write_record(session, effects, JOURNAL_STARTED);
		return true;
	case SESSION_SETTLED:
		return do_end(session, event, JOURNAL_FINISHED, effects);
	case SESSION_NEXT:
		/* It moves nothing, but an UNDO after it must find the call before it. */
		remember(session);
		return false;
	case SESSION_AGAIN:
	case SESSION_WHERE:
	case SESSION_WHY:
		say(effects, NOTICE_DONE);
		return true;
	case SESSION_BACK:
		return do_back(session, event->count, effects);
	case SESSION_STOP:
		return do_end(session, event, JOURNAL_FINISHED, effects);
	case SESSION_ABANDON:
		return do_end(session, event, JOURNAL_ABANDONED, effects);
	case SESSION_UNDO_AGAIN:
		return do_undo_again(session, effects);
	case SESSION_UNDO_BACK:
		return do_undo_back(session, effects);
	case SESSION_UNDO_PAUSE:
		return do_undo_pause(session, event, effects);
	case SESSION_PEDAL_GONE:
		return report(session, event, JOURNAL_FAULT, effects);
	case SESSION_PEDAL_BACK:
		return report(session, event, JOURNAL_MENDED, effects);
	case SESSION_PAUSE:
	case SESSION_RESUME:
	case SESSION_PAUSE_TOGGLE:
	case SESSION_START:
		return false;
	case SESSION_ANNOUNCED:
		return true;
	default:
		return do_report(session, event, effects);
	}
}

/* ---- the clock of work ---- */

static int spent_index(const struct session *session)
{
	return session->call > session->calls ? session->calls : session->call;
}

static void count_work(struct session *session, int64_t time_us)
{
	if (time_us <= session->last_us)
		return;
	if (session->state == SESSION_CALLING && session->last_us != 0)
		session->spent_us[spent_index(session)] += time_us - session->last_us;
	session->last_us = time_us;
}

static int64_t running_us(const struct session *session, int64_t now_us)
{
	bool runs = session->state == SESSION_CALLING && session->last_us != 0;

	return runs && now_us > session->last_us ? now_us - session->last_us : 0;
}

int64_t session_spent_us(const struct session *session, int64_t now_us)
{
	return session->spent_us[spent_index(session)] + running_us(session, now_us);
}

int64_t session_worked_us(const struct session *session, int64_t now_us)
{
	int64_t sum = running_us(session, now_us);

	for (int call = 1; call <= session->calls; call++)
		sum += session->spent_us[call];
	return sum;
}

void session_init(struct session *session, int calls, int call)
{
	assert(calls >= 1 && calls <= SCRIPT_LINES_MAX && call >= 1 && call <= calls + 1);
	*session = (struct session){
		.state = call > calls ? SESSION_ENDING : SESSION_CALLING,
		.call = call,
		.calls = calls,
		.spent_us = memory_new((size_t)calls + 1, sizeof(int64_t)),
	};
}

void session_free(struct session *session)
{
	free(session->spent_us);
	*session = (struct session){0};
}

bool session_step(struct session *session, const struct session_event *event,
		  struct session_effects *effects)
{
	static bool (*const handlers[SESSION_OVER])(struct session *, const struct session_event *,
						    struct session_effects *) = {
		[SESSION_CALLING] = in_calling,
		[SESSION_PAUSED] = in_paused,
		[SESSION_ENDING] = in_ending,
	};

	effects->count = 0;
	if (session->state == SESSION_OVER)
		return false;
	count_work(session, event->time_us);
	return handlers[session->state](session, event, effects);
}

const char *session_state_name(enum session_state state)
{
	static const char *const names[SESSION_STATES] = {
		[SESSION_CALLING] = "calling",
		[SESSION_PAUSED] = "paused",
		[SESSION_ENDING] = "ending",
		[SESSION_OVER] = "over",
	};
	return names[state];
}

const char *session_event_name(enum session_event_kind kind)
{
	static const char *const names[SESSION_EVENTS] = {
		[SESSION_START] = "start",
		[SESSION_REOPEN] = "reopen",
		[SESSION_NEXT] = "next",
		[SESSION_AGAIN] = "again",
		[SESSION_BACK] = "back",
		[SESSION_PAUSE] = "pause",
		[SESSION_RESUME] = "resume",
		[SESSION_PAUSE_TOGGLE] = "pause-toggle",
		[SESSION_WHERE] = "where",
		[SESSION_WHY] = "why",
		[SESSION_STOP] = "stop",
		[SESSION_ABANDON] = "abandon",
		[SESSION_UNDO_AGAIN] = "undo-again",
		[SESSION_UNDO_BACK] = "undo-back",
		[SESSION_UNDO_PAUSE] = "undo-pause",
		[SESSION_SETTLED] = "settled",
		[SESSION_ANNOUNCED] = "announced",
		[SESSION_VOICE_LOST] = "voice-lost",
		[SESSION_VOICE_BACK] = "voice-back",
		[SESSION_PEDAL_GONE] = "pedal-gone",
		[SESSION_PEDAL_BACK] = "pedal-back",
		[SESSION_PEDAL_STUCK] = "pedal-stuck",
		[SESSION_PEDAL_CHATTER] = "pedal-chatter",
		[SESSION_PEDAL_FREED] = "pedal-freed",
		[SESSION_JOURNAL_FAILED] = "journal-failed",
		[SESSION_JOURNAL_MENDED] = "journal-mended",
		[SESSION_JOURNAL_ASIDE] = "journal-aside",
	};
	return names[kind];
}
