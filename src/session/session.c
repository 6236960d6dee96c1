#include "session/internal.h"

#include "base/base.h"

#include <assert.h>
#include <stdlib.h>

/* After a pause this long the place is said before the call. Our choice. */
static const int64_t long_pause_us = 60 * SECOND_US;

static void remember(struct session *session)
{
	for (int i = SESSION_MEMORY - 1; i > 0; i--)
		session->before[i] = session->before[i - 1];
	session->before[0] = (struct session_snapshot){session->state, session->call,
						       session->fresh, session->choosing};
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
	effect_say(effects, notice);
	effect_write(session, effects, JOURNAL_STARTED);
	return true;
}

static bool do_next(struct session *session, struct session_effects *effects)
{
	remember(session);
	session->call++;
	if (session->call > session->calls) {
		session->state = SESSION_ENDING;
		effect_say(effects, NOTICE_DONE);
	} else {
		effect_say_call(session, effects, false);
	}
	effect_write(session, effects, JOURNAL_NEXT);
	return true;
}

static bool do_resume(struct session *session, const struct session_event *event,
		      struct session_effects *effects)
{
	remember(session);
	bool was_long = event->boot_us - session->paused_since_us >= long_pause_us;
	if (was_long && !session->fresh) {
		effect_say(effects, NOTICE_PLACE);
		effect_say_call_after(session, effects);
	} else {
		effect_say_call(session, effects, !session->fresh);
	}
	go_on(session);
	effect_write(session, effects, JOURNAL_RESUME);
	return true;
}

static bool do_pause(struct session *session, const struct session_event *event,
		     struct session_effects *effects)
{
	forget(session);
	pause_work(session, event);
	effect_say(effects, NOTICE_PAUSED);
	effect_write(session, effects, JOURNAL_PAUSE);
	return true;
}

static bool do_again(struct session *session, struct session_effects *effects)
{
	remember(session);
	effect_say_call(session, effects, true);
	effect_write(session, effects, JOURNAL_AGAIN);
	return true;
}

/* A paused job stays paused; one past its last call goes on. */
static bool do_back(struct session *session, int count, struct session_effects *effects)
{
	if (session->call == 1) {
		effect_say(effects, NOTICE_FIRST);
		effect_say_call_after(session, effects);
		return false;
	}
	forget(session);
	int calls = count > 0 ? count : 1;
	session->call = session->call > calls ? session->call - calls : 1;
	if (session->state == SESSION_ENDING)
		go_on(session);
	effect_say_call(session, effects, true);
	effect_write(session, effects, JOURNAL_BACK);
	return true;
}

static bool do_open(struct session *session, const struct session_event *event,
		    struct session_effects *effects)
{
	bool worked = session->state == SESSION_CALLING;

	if (session->just_took && event->count) /* the press that took a choice is held too long */
		return false;
	forget(session);
	if (worked)
		pause_work(session, event);
	choices_open(session, event, effects);
	if (worked)
		effect_write(session, effects, JOURNAL_PAUSE);
	return true;
}

static bool do_leave(struct session *session, struct session_effects *effects)
{
	forget(session);
	choices_leave(session, effects);
	return true;
}

static bool do_take(struct session *session, const struct session_event *event,
		    struct session_effects *effects)
{
	forget(session);
	choices_take(session, event, effects);
	return true;
}

/* Goes back to where the job was before the last steps, which is put into *was. False if they are
 * forgotten: the gesture recogniser takes back only steps that it gave, but a command may have come
 * since. */
static bool take_back(struct session *session, int steps, struct session_snapshot *was)
{
	if (steps < 1)
		steps = 1;
	if (steps > session->remembered)
		return false;
	*was = session->before[steps - 1];
	session->call = was->call > session->calls ? session->calls : was->call;
	forget(session);
	return true;
}

/* Half of a double tap in the choices: they are left. */
static bool do_undo_choosing(struct session *session, struct session_effects *effects)
{
	session->just_left = true;
	return do_leave(session, effects);
}

static bool do_undo_again(struct session *session, struct session_effects *effects)
{
	struct session_snapshot was;

	if (!take_back(session, 1, &was))
		return false;
	if (was.state == SESSION_CHOOSING)
		return do_undo_choosing(session, effects);
	go_on(session);
	effect_say_call(session, effects, true);
	effect_write(session, effects, JOURNAL_UNDO);
	effect_write(session, effects, JOURNAL_AGAIN);
	return true;
}

static bool do_undo_back(struct session *session, struct session_effects *effects)
{
	struct session_snapshot was;

	if (!take_back(session, 1, &was))
		return false;
	if (was.state == SESSION_CHOOSING)
		return do_undo_choosing(session, effects);
	go_on(session);
	int taken_back_to = session->call;
	if (session->call > 1)
		session->call--;
	effect_say_call(session, effects, true);
	effect_write(session, effects, JOURNAL_UNDO)->call = taken_back_to;
	effect_write(session, effects, JOURNAL_BACK);
	return true;
}

/* A hold: work pauses; a job that is paused opens its choices; they take the one that was said. */
static bool do_undo_pause(struct session *session, const struct session_event *event,
			  struct session_effects *effects)
{
	struct session_snapshot was;

	if (!take_back(session, event->count, &was))
		return false;
	if (was.state == SESSION_CHOOSING) {
		session->choosing = was.choosing;
		return do_take(session, event, effects);
	}
	pause_work(session, event);
	session->fresh = was.fresh;
	if (was.state == SESSION_PAUSED)
		choices_open(session, event, effects);
	else
		effect_say(effects, NOTICE_PAUSED);
	effect_write(session, effects, JOURNAL_UNDO);
	effect_write(session, effects, JOURNAL_PAUSE);
	return true;
}

/* The script has a way back after the current call, and the journal has it too. */
static bool do_went_back(struct session *session, const struct session_event *event,
			 struct session_effects *effects)
{
	forget(session);
	for (int call = session->call + 1; call <= session->calls; call++)
		session->set_aside_us += session->spent_us[call];
	session->script = event->script;
	session->calls = event->script->count;
	session->spent_us = memory_resize(session->spent_us, (size_t)session->calls + 1,
					  sizeof *session->spent_us);
	session->call++;
	for (int call = session->call; call <= session->calls; call++)
		session->spent_us[call] = 0;
	go_on(session);
	effect_say_call(session, effects, false);
	return true;
}

/* What to do instead is said; the job waits. */
static bool do_refused(const struct session_event *event, struct session_effects *effects)
{
	effect_say(effects, NOTICE_REFUSED);
	effects->items[effects->count - 1].text = event->text;
	return true;
}

static bool report(const struct session *session, const struct session_event *event,
		   enum journal_kind record, struct session_effects *effects)
{
	effect_write(session, effects, record)->text = event->text;
	return true;
}

/* A report that is also said. */
static bool announce(const struct session *session, const struct session_event *event,
		     enum notice notice, enum journal_kind record, struct session_effects *effects)
{
	effect_say_after(effects, notice);
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
		effect_say_after(effects, NOTICE_JOURNAL_FAILED);
		return true;
	case SESSION_JOURNAL_MENDED:
		effect_say_after(effects, NOTICE_JOURNAL_MENDED);
		return true;
	case SESSION_JOURNAL_ASIDE:
		effect_say_after(effects, NOTICE_JOURNAL_ASIDE);
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
		effect_say(effects, NOTICE_PLACE);
		return true;
	case SESSION_WHY:
		effect_why(session, effects);
		return true;
	case SESSION_CHOICES:
		return do_open(session, event, effects);
	case SESSION_WENT_BACK:
		return do_went_back(session, event, effects);
	case SESSION_REFUSED:
		return do_refused(event, effects);
	case SESSION_STOP:
		return effect_end(session, event, JOURNAL_STOPPED, effects);
	case SESSION_ABANDON:
		return effect_end(session, event, JOURNAL_ABANDONED, effects);
	case SESSION_UNDO_AGAIN:
		return do_undo_again(session, effects);
	case SESSION_UNDO_BACK:
		return do_undo_back(session, effects);
	case SESSION_UNDO_PAUSE:
		return do_undo_pause(session, event, effects);
	case SESSION_ANNOUNCED:
		/* The stringer may have gone on since. */
		if (event->call == session->call)
			effect_write(session, effects, JOURNAL_ANNOUNCED)->response_us =
				event->response_us;
		return true;
	case SESSION_PEDAL_GONE:
		forget(session);
		pause_work(session, event);
		session->pedal_gone = true;
		effect_say(effects, NOTICE_PEDAL_GONE);
		return report(session, event, JOURNAL_FAULT, effects);
	case SESSION_PEDAL_BACK:
		return announce(session, event, NOTICE_PEDAL_BACK, JOURNAL_MENDED, effects);
	case SESSION_RESUME:
	case SESSION_TIMEOUT:
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
	case SESSION_PAUSE_TOGGLE:
		if (session->just_left) { /* a press and a quick hold: the hold took nothing */
			choices_reopen(session, event, effects);
			return true;
		}
		return do_resume(session, event, effects);
	case SESSION_NEXT:
	case SESSION_RESUME:
		return do_resume(session, event, effects);
	case SESSION_AGAIN:
		return do_again(session, effects);
	case SESSION_BACK:
		return do_back(session, event->count, effects);
	case SESSION_WHERE:
		effect_say(effects, NOTICE_PLACE);
		return true;
	case SESSION_WHY:
		effect_why(session, effects);
		return true;
	case SESSION_CHOICES:
		return do_open(session, event, effects);
	case SESSION_WENT_BACK:
		return do_went_back(session, event, effects);
	case SESSION_REFUSED:
		return do_refused(event, effects);
	case SESSION_STOP:
		return effect_end(session, event, JOURNAL_STOPPED, effects);
	case SESSION_ABANDON:
		return effect_end(session, event, JOURNAL_ABANDONED, effects);
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
		effect_say(effects, NOTICE_PEDAL_BACK);
		effect_say_call_after(session, effects);
		return report(session, event, JOURNAL_MENDED, effects);
	case SESSION_PAUSE:
	case SESSION_START:
	case SESSION_REOPEN:
	case SESSION_TIMEOUT:
		return false;
	case SESSION_ANNOUNCED:
	case SESSION_SETTLED:
		return true;
	default:
		return do_report(session, event, effects);
	}
}

static bool in_choosing(struct session *session, const struct session_event *event,
			struct session_effects *effects)
{
	if (event->kind <= SESSION_UNDO_PAUSE)
		choices_stay_open(session, event->time_us);
	switch (event->kind) {
	case SESSION_NEXT:
		remember(session);
		choices_next(session, event, effects);
		return true;
	case SESSION_AGAIN:
		do_take(session, event, effects);
		session->just_took = true;
		return true;
	case SESSION_CHOICES:
		if (session->just_took && event->count)
			return false;
		choices_reopen(session, event, effects);
		return true;
	case SESSION_BACK:
	case SESSION_PAUSE:
	case SESSION_PAUSE_TOGGLE:
		return do_leave(session, effects);
	case SESSION_TIMEOUT:
		return event->time_us >= session->choosing.until_us && do_leave(session, effects);
	case SESSION_RESUME:
		forget(session);
		session->state = SESSION_PAUSED;
		return do_resume(session, event, effects);
	case SESSION_UNDO_AGAIN:
		return do_undo_again(session, effects);
	case SESSION_UNDO_BACK:
		return do_undo_back(session, effects);
	case SESSION_UNDO_PAUSE:
		return do_undo_pause(session, event, effects);
	case SESSION_PEDAL_GONE:
		forget(session);
		session->state = SESSION_PAUSED; /* no press can come */
		return announce(session, event, NOTICE_PEDAL_GONE, JOURNAL_FAULT, effects);
	default:
		return in_paused(session, event, effects);
	}
}

static bool in_ending(struct session *session, const struct session_event *event,
		      struct session_effects *effects)
{
	switch (event->kind) {
	case SESSION_REOPEN: /* the program ended after the last press, before the finish */
		effect_say(effects, NOTICE_DONE);
		effect_write(session, effects, JOURNAL_STARTED);
		return true;
	case SESSION_SETTLED:
		return effect_end(session, event, JOURNAL_FINISHED, effects);
	case SESSION_NEXT:
		/* It moves nothing, but an UNDO after it must find the call before it. */
		remember(session);
		return false;
	case SESSION_AGAIN:
	case SESSION_WHERE:
	case SESSION_WHY:
		effect_say(effects, NOTICE_DONE);
		return true;
	case SESSION_BACK:
		return do_back(session, event->count, effects);
	case SESSION_STOP:
		return effect_end(session, event, JOURNAL_FINISHED, effects);
	case SESSION_ABANDON:
		return effect_end(session, event, JOURNAL_ABANDONED, effects);
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
	case SESSION_CHOICES:
	case SESSION_WENT_BACK:
	case SESSION_REFUSED:
	case SESSION_TIMEOUT:
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

	sum += session->set_aside_us;
	for (int call = 1; call <= session->calls; call++)
		sum += session->spent_us[call];
	return sum;
}

int64_t session_deadline_us(const struct session *session)
{
	return session->state == SESSION_CHOOSING ? session->choosing.until_us : INT64_MAX;
}

void session_init(struct session *session, const struct script *script, int call)
{
	int calls = script->count;

	assert(calls >= 1 && call >= 1 && call <= calls + 1);
	*session = (struct session){
		.state = call > calls ? SESSION_ENDING : SESSION_CALLING,
		.script = script,
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
		[SESSION_CHOOSING] = in_choosing,
		[SESSION_ENDING] = in_ending,
	};

	effects->count = 0;
	if (session->state == SESSION_OVER)
		return false;
	count_work(session, event->time_us);
	bool pressed = event->kind <= SESSION_UNDO_PAUSE;
	if (pressed && event->kind != SESSION_PAUSE_TOGGLE)
		session->just_left = false;
	if (pressed && event->kind != SESSION_CHOICES)
		session->just_took = false;
	return handlers[session->state](session, event, effects);
}

const char *session_state_name(enum session_state state)
{
	static const char *const names[SESSION_STATES] = {
		[SESSION_CALLING] = "calling",   [SESSION_PAUSED] = "paused",
		[SESSION_CHOOSING] = "choosing", [SESSION_ENDING] = "ending",
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
		[SESSION_CHOICES] = "choices",
		[SESSION_TIMEOUT] = "timeout",
		[SESSION_WENT_BACK] = "went-back",
		[SESSION_REFUSED] = "refused",
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
