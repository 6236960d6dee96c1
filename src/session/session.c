/* The rules: what each event does in each state. */
#include "session/internal.h"

#include <assert.h>
#include <stdlib.h>

/* After a pause this long the place is said before the call. Our choice. */
static const int64_t long_pause_us = 60 * SECOND_US;

/* Whether a question waits for "I had it" or "I had not". */
static bool can_judge(enum asking asking)
{
	return asking == ASKING_OPEN || asking == ASKING_ANSWERED;
}

static bool do_begin(struct session *session)
{
	if (session->state == SESSION_ENDING && !session->station) {
		effect_say(session, NOTICE_DONE); /* killed after the last press */
	} else {
		session_pause(session);
		session->fresh = session->event->kind == SESSION_START;
		if (session->event->text)
			effect_say(session, NOTICE_PLAN_CHANGED)->text = session->event->text;
		effect_say(session, session->fresh ? NOTICE_GREETING : NOTICE_REOPENED);
	}
	effect_write(session, JOURNAL_STARTED)->text =
		script_is_taught(session->script) ? TEACH_STARTED : NULL;
	return true;
}

static bool do_resume(struct session *session)
{
	bool was_long = session->event->boot_us - session->paused_since_us >= long_pause_us;

	if (session->state == SESSION_CHOOSING) {
		session->remembered = 0;
		session->state = SESSION_PAUSED;
	}
	session_remember(session);
	if (was_long && !session->fresh) {
		effect_say(session, NOTICE_PLACE);
		effect_say_call(session, false);
	} else {
		effect_say_call(session, !session->fresh && !script_is_taught(session->script));
	}
	session_go_on(session);
	effect_write(session, JOURNAL_RESUME);
	return true;
}

static bool do_next(struct session *session)
{
	if (session->state == SESSION_PAUSED)
		return do_resume(session);
	if (session->state == SESSION_CHOOSING)
		return (session->choosing.held ? choices_take : choices_next)(session);
	if (session->state == SESSION_STATION)
		return teaching_pass(session);
	session_remember(session); /* past the last call, too: an UNDO after it goes back to that */
	if (session->state == SESSION_ENDING)
		return false;
	if (session->asking == ASKING_OPEN)
		return teaching_answer(session);
	session->way_back = 0;
	teaching_leave(session);
	return true;
}

static bool do_pause(struct session *session)
{
	if (session->state == SESSION_CHOOSING)
		return choices_leave(session);
	if (session->state == SESSION_PAUSED && session->just == DID_LEAVE)
		return choices_open(session); /* a press and a quick hold */
	if (session->state == SESSION_PAUSED)
		return do_resume(session);
	session->remembered = 0;
	session_pause(session);
	session->did = session->event->kind == SESSION_PAUSE_TOGGLE ? DID_PAUSE : DID_NOTHING;
	effect_say(session, NOTICE_PAUSED);
	effect_write(session, JOURNAL_PAUSE);
	return true;
}

static bool do_again(struct session *session)
{
	if (session->state == SESSION_CHOOSING)
		return choices_take(session);
	if (session->state == SESSION_ENDING) {
		effect_say(session, NOTICE_DONE);
		return true;
	}
	session_remember(session);
	bool had_not = can_judge(session->asking);
	effect_say_call(session, true);
	if (!session->station)
		effect_write(session, had_not ? JOURNAL_WRONG : JOURNAL_AGAIN);
	return true;
}

/* The call stepped back to; before the first one of a way back it is said that this stands. */
static void say_back(struct session *session, int from)
{
	int way_back = script_line(session->script, from)->mishap;

	effect_say_call(session, true);
	if (way_back && script_line(session->script, session->call)->mishap != way_back)
		effect_say(session, NOTICE_WAY_BACK);
}

/* A paused job stays paused; one past its last call goes on. */
static bool do_back(struct session *session)
{
	int calls = session->event->count > 0 ? session->event->count : 1;

	if (session->state == SESSION_CHOOSING)
		return choices_leave(session);
	if (session->call == 1) {
		effect_say(session, NOTICE_FIRST);
		effect_say_call(session, false);
		return false;
	}
	session->remembered = 0;
	if (session->call == session->way_back) {
		effect_add(session, SESSION_CALL_OFF);
		return true;
	}
	int from = session->call;
	session->call = session->call > calls ? session->call - calls : 1;
	session->station = 0;
	if (session->state == SESSION_ENDING || session->state == SESSION_STATION)
		session_go_on(session);
	say_back(session, from);
	effect_write(session, JOURNAL_BACK);
	return true;
}

static bool do_where(struct session *session)
{
	if (session->state == SESSION_ENDING)
		effect_say(session, NOTICE_DONE);
	else if (session->event->kind == SESSION_WHY)
		session_why(session);
	else
		effect_say(session, NOTICE_PLACE);
	return true;
}

/* A hold: work pauses; a job that is paused opens its choices; they take the one that was said. */
static bool undo_and_pause(struct session *session, const struct session_snapshot *was)
{
	if (was->state == SESSION_CHOOSING) {
		session->choosing = was->choosing;
		return choices_take(session);
	}
	session_pause(session);
	session->fresh = was->fresh;
	if (was->state == SESSION_PAUSED) {
		choices_open(session);
	} else {
		session->did = DID_PAUSE;
		effect_say(session, NOTICE_PAUSED);
	}
	effect_write(session, JOURNAL_UNDO);
	effect_write(session, JOURNAL_PAUSE);
	return true;
}

/* Goes back to where the job was before the last steps. False if they are forgotten: the gesture
 * recogniser takes back only steps that it gave, but a command may have come since. */
static bool do_undo(struct session *session)
{
	int steps = session->event->count > 1 ? session->event->count : 1;

	if (session->just == DID_TAKE_AT_ONCE && session->way_back &&
	    session->event->kind != SESSION_UNDO_PAUSE) {
		session->did = DID_LEAVE;
		effect_add(session, SESSION_CALL_OFF);
		return true;
	}
	if (steps > session->remembered)
		return false;
	struct session_snapshot was = session->before[steps - 1];
	session->call = was.call > session->calls && !was.station ? session->calls : was.call;
	session->station = was.station;
	session->way_back = was.way_back;
	session->remembered = 0;
	if (session->event->kind == SESSION_UNDO_PAUSE)
		return undo_and_pause(session, &was);
	if (was.state == SESSION_CHOOSING) { /* half of a double tap: they are left */
		session->did = DID_LEAVE;
		return choices_leave(session);
	}
	bool had_not = can_judge(was.asking);
	bool back = session->event->kind == SESSION_UNDO_BACK && !had_not;
	session->station = back ? 0 : was.station;
	session_go_on(session);
	int taken_back_to = session->call;
	if (back && taken_back_to == session->way_back) {
		effect_write(session, JOURNAL_UNDO);
		effect_add(session, SESSION_CALL_OFF);
		return true;
	}
	session->call -= back && session->call > 1;
	say_back(session, taken_back_to);
	effect_write(session, JOURNAL_UNDO)->call = taken_back_to;
	effect_write(session, had_not ? JOURNAL_WRONG : back ? JOURNAL_BACK : JOURNAL_AGAIN);
	return true;
}

/* Goes on at this call of a script that has other calls from there on; their time stays work. */
static void take_script(struct session *session, const struct script *script, int call, int from)
{
	session->remembered = 0;
	for (int old = from; old <= session->calls; old++)
		session->set_aside_us += session->spent_us[old];
	session->script = script;
	session->calls = script->count;
	session->call = call;
	session->station = 0;
	session->spent_us = memory_resize(session->spent_us, (size_t)session->calls + 1,
					  sizeof *session->spent_us);
	for (int new = from; new <= session->calls; new ++)
		session->spent_us[new] = 0;
	session_go_on(session);
}

/* The script has a way back after the current call, and the journal has it too. */
static bool do_went_back(struct session *session)
{
	bool at_station = session->state == SESSION_STATION;

	take_script(session, session->event->script, session->call + 1, session->call + 1);
	session->way_back = session->call;
	effect_say_call(session, false);
	session->effects->items[0].after = at_station; /* after the fault */
	return true;
}

/* At the call where the mishap was thought to be; after a double press, as if it had not begun. */
static bool do_called_off(struct session *session)
{
	if (session->call != session->way_back)
		return false;
	take_script(session, session->event->script, session->call - 1, session->call);
	session->way_back = 0;
	effect_say(session, NOTICE_CALLED_OFF);
	if (session->just == DID_LEAVE) {
		session_pause(session);
		effect_write(session, JOURNAL_PAUSE);
	} else {
		effect_say_call(session, true);
	}
	return true;
}

/* What to do instead of what is refused is said at once: a press has asked for it. */
static bool do_report(struct session *session)
{
	if (session->event->notice) {
		struct session_effect *said = effect_say(session, session->event->notice);
		said->after = session->event->kind == SESSION_REPORT;
		said->text = session->event->text;
	}
	if (session->event->record)
		effect_write(session, session->event->record)->text = session->event->text;
	return true;
}

/* The stringer may have gone on since. */
static bool do_announced(struct session *session)
{
	if (session->event->call != session->call)
		return true;
	struct session_effect *effect = effect_write(session, JOURNAL_ANNOUNCED);
	effect->response_us = session->event->response_us;
	effect->text = session_words_name(session);
	return true;
}

static bool do_pedal_gone(struct session *session)
{
	bool worked = session->state == SESSION_CALLING || session->state == SESSION_STATION;

	session->remembered = 0;
	if (worked)
		session_pause(session);
	session->pedal_gone |= worked;
	if (session->state == SESSION_CHOOSING) /* no press can come */
		session->state = SESSION_PAUSED;
	if (session->state == SESSION_PAUSED)
		effect_say(session, NOTICE_PEDAL_GONE)->after = !worked;
	effect_write(session, JOURNAL_FAULT)->text = session->event->text;
	return true;
}

/* What holds it down is no foot. */
static bool do_pedal_stuck(struct session *session)
{
	if (session->state == SESSION_CHOOSING && session->choosing.held) {
		session->remembered = 0;
		session->state = SESSION_PAUSED;
	}
	effect_say(session, NOTICE_PEDAL_STUCK)->after = true;
	effect_write(session, JOURNAL_FAULT)->text = session->event->text;
	return true;
}

static bool do_pedal_back(struct session *session)
{
	if (session->state != SESSION_ENDING)
		effect_say(session, NOTICE_PEDAL_BACK)->after = !session->pedal_gone;
	if (session->pedal_gone) { /* paused because of it */
		session_go_on(session);
		effect_say_call(session, false);
	}
	effect_write(session, JOURNAL_MENDED)->text = session->event->text;
	return true;
}

static bool do_timeout(struct session *session)
{
	if (session->event->time_us < session_deadline_us(session))
		return false;
	return (session->state == SESSION_CHOOSING ? choices_leave : teaching_answer)(session);
}

/* ---- the clock of work ---- */

static int spent_index(const struct session *session)
{
	return session->call > session->calls ? session->calls : session->call;
}

static int64_t running_us(const struct session *session, int64_t now_us)
{
	bool runs = session->state == SESSION_CALLING && session->last_us != 0;

	return runs && now_us > session->last_us ? now_us - session->last_us : 0;
}

static void count_work(struct session *session, int64_t time_us)
{
	session->spent_us[spent_index(session)] += running_us(session, time_us);
	if (time_us > session->last_us)
		session->last_us = time_us;
}

int64_t session_spent_us(const struct session *session, int64_t now_us)
{
	return session->spent_us[spent_index(session)] + running_us(session, now_us);
}

int64_t session_worked_us(const struct session *session, int64_t now_us)
{
	int64_t sum = running_us(session, now_us) + session->set_aside_us;

	for (int call = 1; call <= session->calls; call++)
		sum += session->spent_us[call];
	return sum;
}

/* ---- pace ---- */

/* So many seconds at the usual pace stand for what is not known: our choice, about 3 strings. */
static const double assumed_s = 60;

/* By the calls done about a string, not walked over in no time on the way back or forth. */
double pace_ratio(const struct session *session)
{
	double worked_s = 0, usual_s = 0;
	int calls = 0;

	for (int call = 1; call < session->call; call++) {
		const struct script_line *line = script_line(session->script, call);
		if (!line->string || session->spent_us[call] == 0)
			continue;
		calls++;
		worked_s += (double)session->spent_us[call] / (double)SECOND_US;
		usual_s += line->weight_s;
	}
	return calls < PACE_MIN_CALLS ? 0 : (assumed_s + worked_s) / (assumed_s + usual_s);
}

int64_t pace_left_us(const struct session *session, int64_t now_us)
{
	double left_s = 0;

	if (session->call > session->calls)
		return 0;
	for (int call = session->call; call <= session->calls; call++)
		left_s += script_line(session->script, call)->weight_s;
	double ratio = pace_ratio(session);
	left_s *= ratio > 0 ? ratio : 1;
	double spent_s = (double)session_spent_us(session, now_us) / (double)SECOND_US;
	double current_s = script_line(session->script, session->call)->weight_s;
	left_s -= spent_s < current_s ? spent_s : current_s;
	return left_s > 0 ? (int64_t)(left_s * (double)SECOND_US) : 0;
}

int64_t session_deadline_us(const struct session *session)
{
	bool asks = session->state == SESSION_CALLING && session->asking == ASKING_OPEN;

	return asks || session->state == SESSION_CHOOSING ? session->deadline_us : INT64_MAX;
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
	if (script->mishap_count && script->mishaps[script->mishap_count - 1].line + 1 == call)
		session->way_back = call;
	if (!script_teaching_is(script, "drill"))
		return;
	session->due = memory_new((size_t)calls, sizeof(*session->due));
	session->due_count = calls;
	for (int i = 0; i < calls; i++)
		session->due[i] = i + 1;
}

void session_free(struct session *session)
{
	free(session->spent_us);
	free(session->due);
	*session = (struct session){0};
}

/* ---- which event does what, in which states ---- */

enum {
	CALLING = 1 << SESSION_CALLING,
	PAUSED = 1 << SESSION_PAUSED,
	CHOOSING = 1 << SESSION_CHOOSING,
	STATION = 1 << SESSION_STATION,
	ENDING = 1 << SESSION_ENDING,
	OPEN = CALLING | PAUSED | CHOOSING | STATION,
	ANY = OPEN | ENDING,
};

static const struct rule {
	unsigned states;
	session_handler *handle;
} rules[SESSION_EVENTS] = {
	[SESSION_START] = {CALLING, do_begin},
	[SESSION_REOPEN] = {CALLING | ENDING, do_begin},
	[SESSION_NEXT] = {ANY, do_next},
	[SESSION_AGAIN] = {ANY, do_again},
	[SESSION_BACK] = {ANY, do_back},
	[SESSION_PAUSE] = {CALLING | CHOOSING | STATION, do_pause},
	[SESSION_RESUME] = {PAUSED | CHOOSING, do_resume},
	[SESSION_PAUSE_TOGGLE] = {OPEN, do_pause},
	[SESSION_WHERE] = {ANY, do_where},
	[SESSION_WHY] = {ANY, do_where},
	[SESSION_CHOICES] = {OPEN, choices_open},
	[SESSION_PASSED] = {STATION, teaching_pass},
	[SESSION_FOUND] = {STATION, teaching_found},
	[SESSION_STOP] = {ANY, session_end},
	[SESSION_ABANDON] = {ANY, session_end},
	[SESSION_UNDO_AGAIN] = {ANY, do_undo},
	[SESSION_UNDO_BACK] = {ANY, do_undo},
	[SESSION_UNDO_PAUSE] = {ANY, do_undo},
	[SESSION_HELD] = {PAUSED | CHOOSING, choices_held},
	[SESSION_SETTLED] = {ENDING, session_end},
	[SESSION_TIMEOUT] = {CHOOSING | CALLING, do_timeout},
	[SESSION_WENT_BACK] = {OPEN, do_went_back},
	[SESSION_CALLED_OFF] = {OPEN, do_called_off},
	[SESSION_REFUSED] = {OPEN, do_report},
	[SESSION_ANNOUNCED] = {CALLING, do_announced},
	[SESSION_PEDAL_GONE] = {ANY, do_pedal_gone},
	[SESSION_PEDAL_BACK] = {ANY, do_pedal_back},
	[SESSION_PEDAL_STUCK] = {ANY, do_pedal_stuck},
	[SESSION_REPORT] = {ANY, do_report},
};

bool session_step(struct session *session, const struct session_event *event,
		  struct session_effects *effects)
{
	const struct rule *rule = &rules[event->kind];
	bool pressed = event->kind <= SESSION_UNDO_PAUSE;

	effects->count = 0;
	session->event = event;
	session->effects = effects;
	if (session->state == SESSION_OVER)
		return false;
	count_work(session, event->time_us);
	if (pressed) {
		session->did = DID_NOTHING;
		if (session->state == SESSION_CHOOSING)
			choices_stay_open(session);
	}
	bool done = rule->states & 1U << session->state && rule->handle(session);
	if (pressed)
		session->just = session->did;
	for (int i = 0; i < effects->count; i++)
		if (effects->items[i].kind == SESSION_WRITE)
			teaching_record(session, &effects->items[i], event->boot_us);
	return done;
}

const char *session_state_name(enum session_state state)
{
	static const char *const names[SESSION_STATES] = {
		[SESSION_CALLING] = "calling",   [SESSION_PAUSED] = "paused",
		[SESSION_CHOOSING] = "choosing", [SESSION_ENDING] = "ending",
		[SESSION_STATION] = "station",   [SESSION_OVER] = "over",
	};
	return names[state];
}
