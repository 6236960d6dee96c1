/* What an event says and writes; in a job that is taught: questions and their answers, stations. */
#include "session/internal.h"

#include <assert.h>
#include <string.h>

/* ---- the steps that handlers of events are put together from ---- */

struct session_effect *effect_add(const struct session *session, enum session_effect_kind kind)
{
	assert(session->effects->count < SESSION_EFFECTS_MAX);
	bool follows = kind <= SESSION_SAY_NOTICE && session->effects->count > 0 &&
		       session->effects->items[0].kind <= SESSION_SAY_NOTICE;
	struct session_effect *effect = &session->effects->items[session->effects->count++];
	*effect = (struct session_effect){.kind = kind, .after = follows, .response_us = -1};
	return effect;
}

struct session_effect *effect_say(const struct session *session, enum notice notice)
{
	struct session_effect *effect = effect_add(session, SESSION_SAY_NOTICE);

	effect->notice = notice;
	return effect;
}

struct session_effect *effect_write(const struct session *session, enum journal_kind record)
{
	struct session_effect *effect = effect_add(session, SESSION_WRITE);

	effect->record = record;
	effect->call = session->call;
	effect->working = session->state == SESSION_CALLING;
	return effect;
}

void session_remember(struct session *session)
{
	for (int i = SESSION_MEMORY - 1; i > 0; i--)
		session->before[i] = session->before[i - 1];
	session->before[0] = (struct session_snapshot){
		session->state, session->call,     session->station, session->asking,
		session->fresh, session->way_back, session->choosing};
	if (session->remembered < SESSION_MEMORY)
		session->remembered++;
}

void session_pause(struct session *session)
{
	session->state = SESSION_PAUSED;
	session->paused_since_us = session->event->boot_us;
}

void session_go_on(struct session *session)
{
	session->state = session->station ? SESSION_STATION : SESSION_CALLING;
	session->pedal_gone = false;
	session->fresh = false;
}

bool session_why(struct session *session)
{
	effect_add(session, SESSION_SAY_WHY)->call = session->call;
	effect_write(session, JOURNAL_WHY);
	return true;
}

bool session_end(struct session *session)
{
	enum journal_kind record = session->event->kind == SESSION_ABANDON ? JOURNAL_ABANDONED
				   : session->state == SESSION_ENDING      ? JOURNAL_FINISHED
									   : JOURNAL_STOPPED;

	session->state = SESSION_OVER;
	effect_write(session, record)->text = session->event->text;
	return true;
}

/* ---- teaching ---- */

_Static_assert(NOTICE_STATION_FINISHED - NOTICE_STATION_MOUNTED + 1 == (int)STATIONS, "in step");
_Static_assert(NOTICE_FAULT_FRAME - NOTICE_FAULT_MISWEAVE + 1 == (int)WORK_FAULTS, "in step");
_Static_assert(SAY_REASON - SAY_NAME + 1 == (int)LEVELS, "in step");

void session_teach(struct session *session, const struct trainee *trainee, int64_t racket,
		   int64_t wall_us, int64_t boot_us)
{
	session->trainee = *trainee;
	session->racket = racket;
	session->wall_offset_us = wall_us - boot_us;
	teach_rest(&session->trainee, wall_us);
	if (session->call == 1 || session->due)
		return;
	/* A call that a way back gave up leads to no station. */
	bool given_up = script_line(session->script, session->call)->mishap >
			script_line(session->script, session->call - 1)->mishap;
	/* Ended at a station, it is looked at once more. */
	if (!given_up)
		session->station = teach_station(session->script, session->call - 1) + 1;
}

/* Faults for which the trade has a way back. */
static int work_fault_choice(enum work_fault fault, bool has_string)
{
	if (fault == WORK_CLAMP_SLIP)
		return CHOICE_SLIPPED;
	return has_string && (fault == WORK_MISWEAVE || fault == WORK_WRONG_HOLE ||
			      fault == WORK_CROSSED_LOOP)
		       ? CHOICE_REDO
		       : -1;
}

/* Of a line that is asked; an unknown skill is told in full. */
static struct teach_manner manner_of(const struct session *session, int call)
{
	const struct script_line *line = script_line(session->script, call);
	int skill = teach_skill(line->skill);

	if (!line->question || skill < 0)
		return (struct teach_manner){.said = LEVEL_TOLD};
	struct trainee named = {0};
	bool test = script_teaching_is(session->script, "test");
	return teach_manner(test ? &named : &session->trainee, session->racket, skill,
			    teach_fading(line->kind, skill));
}

enum session_words session_manner(const struct session *session, int call)
{
	if (session->due)
		return SAY_QUESTION;
	return script_is_taught(session->script) ? SAY_NAME + manner_of(session, call).said
						 : SAY_PLANNED;
}

char *session_words(const struct session *session, int call, enum session_words words)
{
	const struct script_line *line = script_line(session->script, call);

	const char *const said[] = {
		[SAY_PLANNED] = script_words(session->script, call),
		[SAY_AGAIN] = line->again_words,
		[SAY_NAME] = line->name,
		[SAY_QUESTION] = line->question,
		[SAY_SHORT] = line->short_words,
		[SAY_FULL] = line->full_words,
	};

	return words == SAY_REASON ? memory_format("%s %s", line->full_words, line->why)
				   : memory_copy(said[words]);
}

const char *session_words_name(const struct session *session)
{
	bool answered = session->asking == ASKING_ANSWERED || session->asking == ASKING_LATE;

	return session->words < SAY_NAME || answered ? NULL
						     : level_names[session->words - SAY_NAME];
}

static void say_words(const struct session *session, enum session_words words)
{
	struct session_effect *effect = effect_add(session, SESSION_SAY_CALL);

	effect->call = session->call;
	effect->words = words;
}

static void say_station(const struct session *session)
{
	effect_say(session, NOTICE_STATION_MOUNTED + session->station - 1);
	effect_say(session, script_has_trainer(session->script) ? NOTICE_STATION_TRAINER
								: NOTICE_STATION_ALONE);
}

/* The answer is waited for when the question has been said: 14 letters a second, our choice. */
static void ask(struct session *session)
{
	static const int letters_a_second = 14;
	int64_t delay_us = manner_of(session, session->call).delay_us;
	session->asking = ASKING_OPEN;
	session->deadline_us = INT64_MAX;
	if (session->due) /* nobody is in a hurry */
		return;
	size_t letters = strlen(script_line(session->script, session->call)->question);

	session->asking = delay_us > 0 ? ASKING_OPEN : ASKING_ANSWERED;
	session->deadline_us =
		session->last_us + (int64_t)letters * SECOND_US / letters_a_second + delay_us;
	if (delay_us == 0)
		say_words(session, SAY_SHORT);
}

void effect_say_call(struct session *session, bool again)
{
	session->asking = ASKING_NONE;
	session->missed = again;
	if (session->station) {
		say_station(session);
		return;
	}
	session->words = again ? SAY_AGAIN : session_manner(session, session->call);
	say_words(session, session->words);
	if (session->words == SAY_QUESTION)
		ask(session);
}

bool teaching_answer(struct session *session)
{
	bool late = session->event->kind == SESSION_TIMEOUT;

	session->asking = late ? ASKING_LATE : ASKING_ANSWERED;
	say_words(session, SAY_SHORT);
	effect_write(session, JOURNAL_ANSWERED)->text =
		late ? TEACH_ANSWER_LATE : TEACH_ANSWER_PRESSED;
	return true;
}

/* To the call, or past the last one. */
static void go_on(struct session *session)
{
	session->station = 0;
	if (session->call > session->calls) {
		session->state = SESSION_ENDING;
		effect_say(session, NOTICE_DONE);
	} else {
		session->state = SESSION_CALLING;
		effect_say_call(session, false);
	}
}

/* The next question of a drill: what was missed comes back after two others. */
static int next_question(struct session *session)
{
	enum { BETWEEN = 2 };
	int *due = session->due, count = 0;

	for (int i = 0; i < session->due_count; i++)
		if (due[i] != session->call)
			due[count++] = due[i];
	if (session->missed) {
		int at = count < BETWEEN ? count : BETWEEN;
		memmove(&due[at + 1], &due[at], (size_t)(count - at) * sizeof(*due));
		due[at] = session->call;
		count++;
	}
	session->due_count = count;
	return count ? due[0] : session->calls + 1;
}

void teaching_leave(struct session *session)
{
	bool right = session->asking == ASKING_ANSWERED;
	int station = script_is_taught(session->script) && !session->due
			      ? teach_station(session->script, session->call)
			      : -1;

	session->call = session->due ? next_question(session) : session->call + 1;
	session->asking = ASKING_NONE;
	if (station < 0) {
		go_on(session);
	} else {
		session->station = station + 1;
		session->state = SESSION_STATION;
		say_station(session);
	}
	effect_write(session, right ? JOURNAL_RIGHT : JOURNAL_NEXT);
	if (station >= 0)
		effect_write(session, JOURNAL_STATION)->text = station_names[station];
}

/* A press passes it where no trainer is waited for. */
bool teaching_pass(struct session *session)
{
	bool pressed = session->event->kind == SESSION_NEXT;

	if (pressed && script_has_trainer(session->script)) {
		effect_say(session, NOTICE_STATION_TRAINER);
		return false;
	}
	session_remember(session);
	if (!pressed)
		effect_say(session, NOTICE_STATION_PASSED);
	go_on(session);
	effect_write(session, JOURNAL_PASSED)->text = pressed ? "alone" : "trainer";
	return true;
}

/* What can be done again leads to the way back; else the job waits until it is put right. */
bool teaching_found(struct session *session)
{
	enum work_fault fault = WORK_FRAME;
	bool known = work_fault_parse(session->event->text, &fault);
	int choice = work_fault_choice(fault, session->event->call > 0);

	if (!known)
		return false;
	effect_say(session, NOTICE_FAULT_MISWEAVE + fault)->call = session->event->call;
	effect_write(session, JOURNAL_FOUND)->text = session->event->text;
	if (choice < 0)
		return true;
	struct session_effect *back = effect_add(session, SESSION_GO_BACK);
	back->choice = (enum choice)choice;
	back->call = session->event->call;
	return true;
}

void teaching_record(struct session *session, const struct session_effect *effect, int64_t boot_us)
{
	bool left = effect->record == JOURNAL_NEXT || effect->record == JOURNAL_RIGHT;
	int place = effect->call - left;

	if (!script_is_taught(session->script) || place < 1)
		return;
	const struct teach_event event = {
		.kind = effect->record,
		.wall_us = boot_us + session->wall_offset_us,
		.racket = session->racket,
		.call = script_call(session->script, place),
		.skill = teach_skill(script_line(session->script, place)->skill),
		.detail = effect->text,
	};
	teach_event(&session->trainee, &event);
}
