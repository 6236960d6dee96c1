/* Choices by pedal: what a stringer may need in the middle of a job, without a free hand.
 *
 * They are said one at a time. NEXT says the next one, a hold or AGAIN takes the one said last, a
 * double tap or BACK leaves. Opening, listening and leaving change nothing but the pause.
 */
#include "session/internal.h"

#include <string.h>

/* Without a press for so long they close. Our choice. */
static const int64_t open_us = 20 * SECOND_US;

/* The place of the nth string said among those that are in, newest first: a misweave that needs a
 * way back is mostly seen when three to five crosses lie over it; those two that came last follow,
 * then the others. Our choice. */
static int order_of(int n, int count)
{
	enum { NEAR = 2, SEEN = 3 };

	if (count < NEAR + SEEN || n >= NEAR + SEEN)
		return n;
	return n < SEEN ? n + NEAR : n - SEEN;
}

/* The line where the string that is said was worked on last; 0: no string is in. */
static int chosen_line(const struct session *session)
{
	int lines[SCRIPT_STRINGS_MAX];
	int count = script_strings(session->script, session->call, lines);

	return count ? lines[order_of(session->choosing.string % count, count)] : 0;
}

/* What is so already is no choice, nor is an empty rack. */
static bool is_offered(const struct session *session, enum choice choice, bool rack_waits)
{
	switch (choice) {
	case CHOICE_FULLER:
		return session->script->says_short;
	case CHOICE_SHORTER:
		return !session->script->says_short;
	case CHOICE_RACK:
		return rack_waits;
	default:
		return true;
	}
}

_Static_assert(NOTICE_CHOOSE_LATER - NOTICE_CHOOSE_REDO + 1 == (int)CHOICES, "in step");

const char *choice_name(enum choice choice)
{
	return notice_name(NOTICE_CHOOSE_REDO + choice) + strlen("choose-");
}

void choices_stay_open(struct session *session)
{
	session->deadline_us = session->event->time_us + open_us;
}

static void show(struct session *session, struct choosing choosing)
{
	session->state = SESSION_CHOOSING;
	session->choosing = choosing;
	choices_stay_open(session);
	if (choosing.walking)
		effect_say(session, NOTICE_CHOOSE_STRING)->call = chosen_line(session);
	else
		effect_say(session, NOTICE_CHOOSE_REDO + choosing.choice);
}

bool choices_open(struct session *session)
{
	bool worked = session->state == SESSION_CALLING;

	if (session->just == DID_TAKE &&
	    session->event->count) /* the press that took a choice is held too long */
		return false;
	if (session->event->kind == SESSION_PAUSE_TOGGLE || session->state == SESSION_CHOOSING) {
		show(session, session->choosing);
		return true;
	}
	session->remembered = 0;
	if (worked)
		session_pause(session);
	session->pedal_gone = false; /* its return does not end a pause that somebody uses */
	effect_say(session, NOTICE_CHOICES);
	show(session, (struct choosing){0});
	if (worked)
		effect_write(session, JOURNAL_PAUSE);
	return true;
}

bool choices_next(struct session *session)
{
	struct choosing next = session->choosing;

	session_remember(session);
	if (next.walking) {
		next.string++;
	} else {
		do
			next.choice = (next.choice + 1) % CHOICES;
		while (!is_offered(session, next.choice, session->event->rack_waits));
	}
	show(session, next);
	return true;
}

bool choices_held(struct session *session)
{
	struct choosing next = {.choice = CHOICE_REDO, .walking = true, .held = true};

	if (session->state == SESSION_CHOOSING && session->choosing.held)
		next.string = session->choosing.string + 1;
	else if (session->state != SESSION_PAUSED || session->just != DID_PAUSE)
		return false;
	if (chosen_line(session) == 0)
		return false;
	show(session, next);
	return true;
}

bool choices_leave(struct session *session)
{
	session->remembered = 0;
	session->state = SESSION_PAUSED;
	effect_say(session, NOTICE_PAUSED);
	return true;
}

/* First which string, then the way back. */
static void take_redo(struct session *session)
{
	int line = chosen_line(session);

	if (line == 0) {
		effect_say(session, NOTICE_NO_STRING);
	} else if (!session->choosing.walking) {
		show(session, (struct choosing){.choice = CHOICE_REDO, .walking = true});
	} else {
		struct session_effect *effect = effect_add(session, SESSION_GO_BACK);
		effect->choice = CHOICE_REDO;
		effect->call = line;
	}
}

bool choices_take(struct session *session)
{
	enum choice choice = session->choosing.choice;

	session->remembered = 0;
	session->did = session->event->kind == SESSION_AGAIN  ? DID_TAKE
		       : session->event->kind == SESSION_NEXT ? DID_TAKE_AT_ONCE
							      : DID_NOTHING;
	session->state = SESSION_PAUSED;
	switch (choice) {
	case CHOICE_REDO:
		take_redo(session);
		break;
	case CHOICE_SLIPPED:
	case CHOICE_BROKE:
		effect_add(session, SESSION_GO_BACK)->choice = choice;
		break;
	case CHOICE_WHY:
		session_why(session);
		break;
	case CHOICE_FULLER:
	case CHOICE_SHORTER:
	case CHOICE_LOUDER:
	case CHOICE_SOFTER:
	case CHOICE_RACK:
		effect_add(session, SESSION_CHOSEN)->choice = choice;
		if (choice == CHOICE_RACK)
			session->state = SESSION_CHOOSING;
		else if (choice == CHOICE_FULLER || choice == CHOICE_SHORTER)
			effect_say_call(session, false);
		else
			show(session, session->choosing); /* again: louder still */
		break;
	case CHOICE_LATER:
		session_end(session);
		break;
	case CHOICES:
		break;
	}
	return true;
}
