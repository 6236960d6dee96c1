/* The session: scripts of events with what must be said and written, every event in every state,
 * and a long random walk. Time is simulated. */
#include "base/base.h"
#include "session/session.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { CALLS = 5, WALK_CALLS = 40 };

/* ---- scripts ---- */

/* A script is words: event names, "back3" for a count, "rack-next" for a press while a job waits on
 * the rack, "+90s" to let time pass, "~90s" to let the computer sleep. */
/* A cross a line. */
static struct script *new_script(int lines)
{
	struct script *script = script_new(
		&(struct script){.job = "crosses", .teaching = "no", .whole = {0, lines}});

	for (int i = 1; i <= lines; i++)
		script_add(script,
			   &(struct script_line){.kind = "cross",
						 .string = "cross",
						 .number = i,
						 .left = {0, lines - i},
						 .bed = {.crosses = (UINT64_C(2) << i) - 2},
						 .redo = {.crosses = (UINT64_C(2) << i) - 2},
						 .weight_s = 10});
	return script;
}

/* The frame is locked, then crosses are woven and, where there is a trainer, looked at. */
static struct script *new_taught(const char *teaching, int lines)
{
	struct script *script = script_new(
		&(struct script){.job = "trainee", .teaching = teaching, .whole = {0, lines - 1}});

	for (int i = 1; i <= lines; i++)
		script_add(script,
			   &(struct script_line){.kind = i == 1 ? "lock" : "cross",
						 .skill = i == 1 ? "mount" : "weave",
						 .phase = i == 1 ? "prepare" : "crosses",
						 .string = i == 1 ? NULL : "cross",
						 .number = i - 1,
						 .left = {0, lines - i},
						 .bed = {.crosses = (UINT64_C(1) << i) - 2},
						 .name = "Cross.",
						 .short_words = "Over.",
						 .full_words = "Cross, over.",
						 .again_words = "Cross, over first.",
						 .why = "Each goes the other way.",
						 .question = "Cross. Which way?", /* a second */
						 .weight_s = 10});
	return script;
}

static struct script *taught;
static struct script *drill;
static struct script *trained;
static struct script *more_taught;
static struct script *five;  /* CALLS lines */
static struct script *forty; /* WALK_CALLS lines */
static struct script *more;  /* a few more than those */

static int set_up(void **state)
{
	(void)state;
	taught = new_taught("yes", CALLS);
	drill = new_taught("drill", WALK_CALLS);
	trained = new_taught("trainer", WALK_CALLS);
	more_taught = new_taught("trainer", WALK_CALLS + 5);
	five = new_script(CALLS);
	forty = new_script(WALK_CALLS);
	more = new_script(WALK_CALLS + 5);
	for (int i = 3; i <= CALLS; i++)
		more->lines[i - 1].mishap = 1;
	return 0;
}

static int strike(void **state)
{
	(void)state;
	script_free(taught);
	script_free(drill);
	script_free(trained);
	script_free(more_taught);
	script_free(five);
	script_free(forty);
	script_free(more);
	return 0;
}

struct player {
	struct session session;
	int64_t now_us;
	int64_t slept_us;
	struct text told; /* what the effects were */
};

static void tell(struct text *told, const struct session_effect *effect)
{
	static const char *const words[] = {"",       " again", " name",  " question",
					    " short", " full",  " reason"};

	switch (effect->kind) {
	case SESSION_SAY_CALL:
		text_format(told, "%ssay %d%s", effect->after ? "then " : "", effect->call,
			    words[effect->words]);
		break;
	case SESSION_SAY_WHY:
		text_format(told, "say why %d", effect->call);
		break;
	case SESSION_SAY_NOTICE:
		text_format(told, "%ssay %s", effect->after ? "then " : "",
			    notice_name(effect->notice));
		if (effect->call)
			text_format(told, " %d", effect->call);
		break;
	case SESSION_WRITE:
		text_format(told, "write %s %d%s", journal_kind_names[effect->record], effect->call,
			    effect->working ? " working" : "");
		if (effect->record >= JOURNAL_ANSWERED && effect->record <= JOURNAL_FOUND &&
		    effect->text)
			text_format(told, " (%s)", effect->text);
		break;
	case SESSION_CHOSEN:
		text_add(told, choice_name(effect->choice));
		break;
	case SESSION_GO_BACK:
		text_format(told, "go back %s", choice_name(effect->choice));
		if (effect->call)
			text_format(told, " %d", effect->call);
		break;
	case SESSION_CALL_OFF:
		text_add(told, "call off");
		break;
	}
	text_add(told, "; ");
}

static const char *const event_names[SESSION_EVENTS] = {
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
	[SESSION_CALLED_OFF] = "called-off",
	[SESSION_REFUSED] = "refused",
	[SESSION_PASSED] = "passed",
	[SESSION_FOUND] = "found",
	[SESSION_STOP] = "stop",
	[SESSION_ABANDON] = "abandon",
	[SESSION_UNDO_AGAIN] = "undo-again",
	[SESSION_UNDO_BACK] = "undo-back",
	[SESSION_UNDO_PAUSE] = "undo-pause",
	[SESSION_HELD] = "held",
	[SESSION_SETTLED] = "settled",
	[SESSION_ANNOUNCED] = "announced",
	[SESSION_PEDAL_GONE] = "pedal-gone",
	[SESSION_PEDAL_BACK] = "pedal-back",
	[SESSION_PEDAL_STUCK] = "pedal-stuck",
	[SESSION_REPORT] = "report",
};

static struct session_event parse_event(const char *word)
{
	bool rack = strncmp(word, "rack-", 5) == 0;
	struct session_event event = {.rack_waits = rack};
	word += rack ? 5 : 0;
	size_t letters = strcspn(word, "0123456789");

	for (enum session_event_kind kind = 0; kind < SESSION_EVENTS; kind++) {
		const char *name = event_names[kind];
		if (strlen(name) == letters && strncmp(name, word, letters) == 0) {
			event.kind = kind;
			event.count = (int)strtol(word + letters, NULL, 10);
			event.call = event.count;
			event.response_us = 7000;
			event.script = kind == SESSION_CALLED_OFF ? five : more;
			event.notice = kind == SESSION_REPORT ? NOTICE_NOTED : NOTICE_REFUSED_KNOT;
			event.record = kind == SESSION_REPORT ? JOURNAL_NOTE : 0;
			bool silent = kind == SESSION_START ||
				      (kind == SESSION_REOPEN && event.count == 0);
			event.text = kind == SESSION_FOUND ? "misweave cross 1"
				     : silent              ? NULL
							   : "why not";
			return event;
		}
	}
	fail_msg("no event \"%s\"", word);
	return event;
}

static bool play_word(struct player *player, const char *word)
{
	struct session_effects effects;

	if (word[0] == '+') {
		player->now_us += strtol(word + 1, NULL, 10) * SECOND_US;
		return true;
	}
	if (word[0] == '~') {
		player->slept_us += strtol(word + 1, NULL, 10) * SECOND_US;
		return true;
	}
	struct session_event event = parse_event(word);
	player->now_us += SECOND_US;
	event.time_us = player->now_us;
	event.boot_us = player->now_us + player->slept_us;
	bool done = session_step(&player->session, &event, &effects);
	text_clear(&player->told);
	for (int i = 0; i < effects.count; i++)
		tell(&player->told, &effects.items[i]);
	if (!done)
		text_add(&player->told, "no; ");
	return done;
}

static void play(struct player *player, const char *script)
{
	char *words = memory_copy(script);
	char *rest = NULL;

	for (char *word = strtok_r(words, " ", &rest); word; word = strtok_r(NULL, " ", &rest))
		play_word(player, word);
	free(words);
}

/* In a job that is taught, the trainee is at that level in every skill. */
static void begin(struct session *session, const struct script *lines, enum level level)
{
	struct trainee trainee;

	session_init(session, lines, 1);
	if (!script_is_taught(lines))
		return;
	teach_begin(&trainee);
	for (int i = 0; i < TEACH_SKILLS; i++)
		trainee.skills[i].level = level;
	session_teach(session, &trainee, 1, 1700000000 * SECOND_US, SECOND_US);
}

/* Plays events from a new session and compares where it ends, and what the last one led to. */
static void expect_at(const struct script *lines, enum level level, const char *script,
		      const char *state, int call, const char *told)
{
	struct player player = {.now_us = 1000 * SECOND_US};

	begin(&player.session, lines, level);
	play(&player, script);
	if (strcmp(session_state_name(player.session.state), state) != 0 ||
	    player.session.call != call)
		fail_msg("%s: ended %s at %d, expected %s at %d", script,
			 session_state_name(player.session.state), player.session.call, state,
			 call);
	if (strcmp(text_string(&player.told), told) != 0)
		fail_msg("%s:\n  was      %s\n  expected %s", script, text_string(&player.told),
			 told);
	session_free(&player.session);
	text_free(&player.told);
}

static void expect_in(const struct script *lines, const char *script, const char *state, int call,
		      const char *told)
{
	expect_at(lines, LEVEL_TOLD, script, state, call, told);
}

static void expect(const char *script, const char *state, int call, const char *told)
{
	expect_in(five, script, state, call, told);
}

static void a_job_goes_from_greeting_to_finish(void **state)
{
	(void)state;
	expect("start", "paused", 1, "say greeting; write started 1; ");
	expect("start next", "calling", 1, "say 1; write resume 1 working; ");
	expect("start next next", "calling", 2, "say 2; write next 2 working; ");
	expect("start next next announced2", "calling", 2, "write announced 2 working; ");
	expect("start next next next next next", "calling", 5, "say 5; write next 5 working; ");
	expect("start next next next next next next", "ending", 6, "say done; write next 6; ");
	expect("start next next next next next next settled", "over", 6, "write finished 6; ");
	expect("start next next next next next next settled next", "over", 6, "no; ");
}

static void a_place_is_repeated_and_gone_back_from(void **state)
{
	(void)state;
	expect("start next next again", "calling", 2, "say 2 again; write again 2 working; ");
	expect("start next next next back", "calling", 2, "say 2 again; write back 2 working; ");
	expect("start next next next next back3", "calling", 1,
	       "say 1 again; write back 1 working; ");
	expect("start next next back100", "calling", 1, "say 1 again; write back 1 working; ");
	expect("start next back", "calling", 1, "say first; then say 1; no; ");
	expect("start next next next next next next back", "calling", 5,
	       "say 5 again; write back 5 working; ");
	expect("start next where", "calling", 1, "say place; ");
	expect("start next next next next next next where", "ending", 6, "say done; ");
	expect("start next next next next next next again", "ending", 6, "say done; ");
}

static void the_reason_is_said_on_request(void **state)
{
	(void)state;
	expect("start next next why", "calling", 2, "say why 2; write why 2 working; ");
	expect("start next next pause why", "paused", 2, "say why 2; write why 2; ");
	expect("start next next next next next next why", "ending", 6, "say done; ");
}

static void gestures_are_taken_back(void **state)
{
	(void)state;
	/* pedal/pedal.h: tap, tap */
	expect("start next next next undo-again", "calling", 2,
	       "say 2 again; write undo 2 working; write again 2 working; ");
	/* double tap, double tap: one further back */
	expect("start next next next undo-again next undo-back", "calling", 1,
	       "say 1 again; write undo 2 working; write back 1 working; ");
	/* and again: the first call is as far back as it goes */
	expect("start next next undo-again next undo-back next undo-back", "calling", 1,
	       "say 1 again; write undo 1 working; write back 1 working; ");
	/* hold */
	expect("start next next next undo-pause1", "paused", 2,
	       "say paused; write undo 2; write pause 2; ");
	/* hold, then tap resumes */
	expect("start next next next undo-pause1 next", "calling", 2,
	       "say 2 again; write resume 2 working; ");
	/* a double tap while paused resumes and says the call again */
	expect("start next next pause next undo-again", "calling", 2,
	       "say 2 again; write undo 2 working; write again 2 working; ");
	/* a hold while paused stays paused, and opens the choices */
	expect("start next next pause next undo-pause1", "choosing", 2,
	       "say choices; then say choose-redo; write undo 2; write pause 2; ");
	/* a held key that says the call again pauses there */
	expect("start next next next again undo-pause1", "paused", 3,
	       "say paused; write undo 3; write pause 3; ");
	/* a key held in a terminal takes back two steps */
	expect("start next next next next undo-pause2", "paused", 2,
	       "say paused; write undo 2; write pause 2; ");
	/* the finish can be taken back until it is settled */
	expect("start next next next next next next undo-again", "calling", 5,
	       "say 5 again; write undo 5 working; write again 5 working; ");
	expect("start next next next next next next next undo-again", "calling", 5,
	       "say 5 again; write undo 5 working; write again 5 working; ");
	/* nothing to take back: a command came between */
	expect("start next next back undo-again", "calling", 1, "no; ");
}

/* "start next next pause next undo-pause1": one pedal, held to pause and held again. */
static void choices_are_said_one_at_a_time(void **state)
{
	(void)state;
	expect("start next next pause choices", "choosing", 2,
	       "say choices; then say choose-redo; ");
	expect("start next next choices", "choosing", 2,
	       "say choices; then say choose-redo; write pause 2; ");
	expect("start next next choices next", "choosing", 2, "say choose-slipped; ");
	expect("start next next choices next next next", "choosing", 2, "say choose-why; ");
	/* the words are full: they cannot be fuller */
	expect("start next next choices next next next next", "choosing", 2,
	       "say choose-shorter; ");
	expect("start next next choices next next next next next next next", "choosing", 2,
	       "say choose-later; ");
	expect("start next next choices next next next next next next next next", "choosing", 2,
	       "say choose-redo; ");
	expect("start next next choices where", "choosing", 2, "say place; ");
	/* what waits on the rack, if anything does; then they go on, or are left */
#define RACK "start next next choices next next next next next next rack-next"
	expect(RACK, "choosing", 2, "say choose-rack; ");
	expect(RACK " again", "choosing", 2, "rack; ");
	expect(RACK " next undo-pause1", "choosing", 2, "rack; ");
	expect(RACK " again again", "choosing", 2, "rack; ");
	expect(RACK " again rack-next", "choosing", 2, "say choose-later; ");
	expect(RACK " again back", "paused", 2, "say paused; ");
	expect(RACK " again +20s timeout", "paused", 2, "say paused; ");
#undef RACK
	expect("start next next choices why", "choosing", 2, "say why 2; write why 2; ");
	expect("start choices", "choosing", 1, "say choices; then say choose-redo; ");
	expect("start next next next next next next choices", "ending", 6, "no; ");
}

static void leaving_the_choices_changes_nothing(void **state)
{
	static const char *const ways[] = {"back",         "next undo-again",      "pause",
					   "pause-toggle", "next next undo-again", "+19s timeout"};

	(void)state;
	for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
		char *script = memory_format("start next next pause next undo-pause1 %s", ways[i]);
		expect(script, "paused", 2, "say paused; ");
		free(script);
	}
	/* 20 s without a press, no less */
	expect("start next next choices +18s timeout", "choosing", 2, "no; ");
	expect("start next next choices +18s next +18s timeout", "choosing", 2, "no; ");
	expect("start next next choices +18s where +18s timeout", "choosing", 2, "no; ");
	expect("start next next choices back timeout", "paused", 2, "no; ");
	expect("start next next choices back next", "calling", 2,
	       "say 2 again; write resume 2 working; ");
	expect("start next next choices resume", "calling", 2,
	       "say 2 again; write resume 2 working; ");
	/* not begun stays not begun */
	expect("start next undo-pause1 back next", "calling", 1, "say 1; write resume 1 working; ");
	/* a press, and a hold right after it: the gestures next, undo-again, pause */
	expect("start next next choices next undo-again pause-toggle", "choosing", 2,
	       "say choose-slipped; ");
	expect("start next next choices next undo-again pause-toggle pause-toggle", "paused", 2,
	       "say paused; ");
	expect("start next next choices next undo-again pause-toggle pause-toggle pause-toggle",
	       "calling", 2, "say 2 again; write resume 2 working; ");
	expect("start next next choices pedal-gone", "paused", 2,
	       "then say pedal-gone; write fault 2; ");
	expect("start next next pedal-gone choices pedal-back", "choosing", 2,
	       "then say pedal-back; write mended 2; ");
}

static void a_choice_is_taken(void **state)
{
	(void)state;
	expect("start next next choices next next undo-pause1", "paused", 2, "go back slipped; ");
	expect("start next next choices next again", "paused", 2, "go back slipped; ");
	expect("start next next choices next next again", "paused", 2, "go back broke; ");
	expect("start next next choices next next next again", "paused", 2,
	       "say why 2; write why 2; ");
	expect("start next next choices next next next next again", "paused", 2,
	       "shorter; say 2; ");
	expect("start next next choices next next next next next again", "choosing", 2,
	       "louder; say choose-louder; ");
	expect("start next next choices next next next next next again again", "choosing", 2,
	       "louder; say choose-louder; ");
	expect("start next next choices next next next next next next again", "choosing", 2,
	       "softer; say choose-softer; ");
	expect("start next next choices next next next next next next next again", "over", 2,
	       "write stopped 2; ");
	/* The press that takes a choice may be held too long. */
	expect("start next next choices1 next next next again choices1", "paused", 2, "no; ");
	expect("start next next choices1 next next next again choices", "choosing", 2,
	       "say choices; then say choose-redo; ");
	expect("start next next choices1 next again went-back choices1", "calling", 3, "no; ");
}

static void a_string_is_chosen_for_a_redo(void **state)
{
	static const char upto13[] = "start next next next next next next next next next next next "
				     "next next next ";

	(void)state;
	expect("start next choices again", "paused", 1, "say no-string; ");
	expect("start next next choices again", "choosing", 2, "say choose-string 1; ");
	expect("start next next choices again next", "choosing", 2, "say choose-string 1; ");
	expect("start next next choices again again", "paused", 2, "go back redo 1; ");
	expect("start next next choices again back", "paused", 2, "say paused; ");

	/* Three to five crosses back first, then the two newest, then all the others. */
	static const int order[] = {11, 10, 9, 13, 12, 8, 7, 6, 5, 4, 3, 2, 1, 11};
	for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
		struct text script = {0};
		char *told = memory_format("say choose-string %d; ", order[i]);
		text_format(&script, "%schoices again", upto13);
		for (size_t press = 0; press < i; press++)
			text_add(&script, " next");
		expect_in(forty, text_string(&script), "choosing", 14, told);
		text_free(&script);
		free(told);
	}
}

/* "I see a misweave five crosses back": working on cross 14, it is cross 9. With two or three
 * pedals one hold and four presses; with one pedal one hold and one press. */
static void a_misweave_five_crosses_back_is_four_presses_away(void **state)
{
	(void)state;
	struct player player = {.now_us = SECOND_US};

	session_init(&player.session, forty, 14);
	play(&player, "reopen next");
	play(&player, "again choices1 again next next again");
	assert_string_equal(text_string(&player.told), "go back redo 9; ");
	play(&player, "went-back");
	assert_string_equal(text_string(&player.told), "say 15; ");
	session_free(&player.session);

	session_init(&player.session, forty, 14);
	play(&player, "reopen next");
	play(&player, "next undo-pause1 held held held next");
	assert_string_equal(text_string(&player.told), "go back redo 9; ");
	play(&player, "went-back");
	assert_string_equal(text_string(&player.told), "say 15; ");
	session_free(&player.session);
	text_free(&player.told);
}

static void the_way_back_follows_the_current_call(void **state)
{
	(void)state;
	expect("start next next went-back", "calling", 3, "say 3; ");
	expect("start next next pause went-back", "calling", 3, "say 3; ");
	expect("start next next choices went-back", "calling", 3, "say 3; ");
	expect("start next next next undo-again went-back undo-again", "calling", 3, "no; ");
	expect("start next next next next next next went-back", "ending", 6, "no; ");
	expect("start next next pause refused", "paused", 2, "say refused-redo-knot; ");

	/* Work on the calls that it replaces stays work. */
	struct player player = {.now_us = SECOND_US};
	session_init(&player.session, five, 1);
	play(&player, "start next +9s next +9s next +9s back back");
	int64_t worked_us = session_worked_us(&player.session, player.now_us);
	play(&player, "went-back");
	assert_int_equal(session_worked_us(&player.session, player.now_us), worked_us + SECOND_US);
	assert_int_equal(player.session.calls, WALK_CALLS + 5);
	session_free(&player.session);
	text_free(&player.told);
}

static void a_way_back_is_called_off_at_its_first_call(void **state)
{
	(void)state;
	expect("start next next went-back back", "calling", 3, "call off; ");
	expect("start next next went-back pause back", "paused", 3, "call off; ");
	expect("start next next went-back back called-off", "calling", 2,
	       "say called-off; then say 2 again; ");
	expect("start next next went-back back refused", "calling", 3, "say refused-redo-knot; ");
	/* One pedal: two double presses. The first takes back the press. */
	expect("start next next went-back next undo-again", "calling", 3,
	       "say 3 again; write undo 3 working; write again 3 working; ");
	expect("start next next went-back next undo-again next undo-back", "calling", 3,
	       "write undo 3 working; call off; ");
	/* When work on it was done, it can only be stepped back over. */
	expect("start next next went-back next back", "calling", 3,
	       "say 3 again; write back 3 working; ");
	expect("start next next went-back next back back", "calling", 2,
	       "say 2 again; then say way-back; write back 2 working; ");
	expect("start next next went-back next back next undo-again next undo-back", "calling", 2,
	       "say 2 again; then say way-back; write undo 3 working; write back 2 working; ");
	expect("start next next called-off", "calling", 2, "no; ");
}

/* One pedal, held on after it has paused the job: a string is said, and another one. */
static void a_long_hold_walks_through_the_strings(void **state)
{
	const char *const held = "start next next next next next next next next next next next "
				 "next next next next undo-pause1 held ";

	(void)state;
	static const struct {
		const char *then;
		const char *state;
		int call;
		const char *told;
	} ways[] = {
		{"", "choosing", 14, "say choose-string 11; "},
		{"held", "choosing", 14, "say choose-string 10; "},
		{"held held next", "paused", 14, "go back redo 9; "},
		{"held held next went-back", "calling", 15, "say 15; "},
		{"held held next undo-pause1", "paused", 14, "no; "},
		/* a double press leaves: the way back had begun with the first */
		{"held next went-back undo-again", "calling", 15, "call off; "},
		{"held next went-back undo-again called-off", "paused", 14,
		 "say called-off; write pause 14; "},
		{"held next refused", "paused", 14, "say refused-redo-knot; "},
		{"held next refused undo-again", "paused", 14, "no; "},
		{"back", "paused", 14, "say paused; "},
		{"held +20s timeout", "paused", 14, "say paused; "},
		{"pedal-stuck", "paused", 14, "then say pedal-stuck; write fault 14; "},
		{"pedal-gone", "paused", 14, "then say pedal-gone; write fault 14; "},
	};
	for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
		char *script = memory_format("%s%s", held, ways[i].then);
		expect_in(forty, script, ways[i].state, ways[i].call, ways[i].told);
		free(script);
	}
	/* A press and a hold; no string is in; what opened the choices, or took one, is held on. */
	expect_in(forty, "start next next next undo-again pause-toggle held", "choosing", 2,
		  "say choose-string 1; ");
	expect("start next next undo-pause1 held", "paused", 1, "no; ");
	expect("start next next next undo-pause1 next undo-pause1 held", "choosing", 2, "no; ");
	expect("start next next next undo-pause1 again held", "paused", 2, "no; ");
	expect("start next next held", "calling", 2, "no; ");
}

static void pauses_stop_the_clock_and_say_the_place_when_long(void **state)
{
	(void)state;
	expect("start next next pause", "paused", 2, "say paused; write pause 2; ");
	expect("start next next pause pause", "paused", 2, "no; ");
	expect("start next next resume", "calling", 2, "no; ");
	expect("start next next pause +30s next", "calling", 2,
	       "say 2 again; write resume 2 working; ");
	expect("start next next pause +60s next", "calling", 2,
	       "say place; then say 2; write resume 2 working; ");
	/* The computer slept meanwhile. */
	expect("start next next pause ~58s next", "calling", 2,
	       "say 2 again; write resume 2 working; ");
	expect("start next next pause ~59s next", "calling", 2,
	       "say place; then say 2; write resume 2 working; ");
	expect("start next next pause ~30s +29s next", "calling", 2,
	       "say place; then say 2; write resume 2 working; ");
	expect("start next next ~300s pause +30s next", "calling", 2,
	       "say 2 again; write resume 2 working; ");
	expect("start next next pause-toggle +5s pause-toggle", "calling", 2,
	       "say 2 again; write resume 2 working; ");
	expect("start +500s next", "calling", 1, "say 1; write resume 1 working; ");
	expect("start next next pause back", "paused", 1, "say 1 again; write back 1; ");
	expect("start next next pause again", "paused", 2, "say 2 again; write again 2; ");
}

static void faults_are_said_and_survived(void **state)
{
	(void)state;
	expect("start next next pedal-gone", "paused", 2, "say pedal-gone; write fault 2; ");
	expect("start next next pedal-gone pedal-back", "calling", 2,
	       "say pedal-back; then say 2; write mended 2 working; ");
	/* paused by the stringer: plugging in does not start the clock */
	expect("start next next pause pedal-gone pedal-back", "paused", 2,
	       "then say pedal-back; write mended 2; ");
	/* gone on with by a command meanwhile */
	expect("start next next pedal-gone resume pedal-back", "calling", 2,
	       "then say pedal-back; write mended 2 working; ");
	expect("start next report", "calling", 1, "then say noted; write note 1 working; ");
	expect("start next pedal-stuck", "calling", 1,
	       "then say pedal-stuck; write fault 1 working; ");
	expect("start next next announced1", "calling", 2, "");
}

static void a_run_is_stopped_or_abandoned(void **state)
{
	(void)state;
	expect("start next next stop", "over", 2, "write stopped 2; ");
	expect("start next next pause abandon", "over", 2, "write abandoned 2; ");
	expect("start next next next next next next stop", "over", 6, "write finished 6; ");
}

static void a_job_is_reopened_where_it_was_left(void **state)
{
	(void)state;
	struct player player = {.now_us = SECOND_US};

	session_init(&player.session, five, 3);
	play(&player, "reopen");
	assert_string_equal(text_string(&player.told), "say reopened; write started 3; ");
	/* Its plan has changed: that is said first. */
	expect("reopen1", "paused", 1, "say plan-changed; then say reopened; write started 1; ");
	play(&player, "+5s next");
	assert_string_equal(text_string(&player.told), "say 3 again; write resume 3 working; ");
	session_free(&player.session);

	/* At the first call of a way back, it can still be called off; at its second it cannot. */
	struct script *back = new_script(CALLS);
	script_add_mishap(back, &(struct script_mishap){.kind = "broke", .line = 1});
	script_add_mishap(back, &(struct script_mishap){.kind = "slipped", .line = 2});
	session_init(&player.session, back, 3);
	play(&player, "reopen back");
	assert_string_equal(text_string(&player.told), "call off; ");
	session_free(&player.session);
	session_init(&player.session, back, 4);
	play(&player, "reopen back");
	assert_string_equal(text_string(&player.told), "say 3 again; write back 3; ");
	session_free(&player.session);
	script_free(back);

	/* Killed between the last press and the finish. */
	session_init(&player.session, five, CALLS + 1);
	play(&player, "reopen");
	assert_string_equal(text_string(&player.told), "say done; write started 6; ");
	play(&player, "settled");
	assert_string_equal(text_string(&player.told), "write finished 6; ");
	session_free(&player.session);
	text_free(&player.told);
}

/* ---- every event in every state ---- */

static void check_effects(const struct session *session, const struct session_effects *effects)
{
	bool written = false;

	assert_in_range(effects->count, 0, SESSION_EFFECTS_MAX);
	for (int i = 0; i < effects->count; i++) {
		const struct session_effect *effect = &effects->items[i];
		if (effect->kind == SESSION_SAY_CALL)
			assert_in_range(effect->call, 1, session->calls);
		if (effect->kind == SESSION_WRITE)
			assert_in_range(effect->call, 1, session->calls + 1);
		/* The voice comes before the disk. */
		assert_false(written && (effect->kind == SESSION_SAY_CALL ||
					 effect->kind == SESSION_SAY_NOTICE));
		written = written || effect->kind == SESSION_WRITE;
	}
}

static void check_state(const struct session *session)
{
	assert_in_range(session->state, 0, SESSION_STATES - 1);
	assert_in_range(session->call, 1, session->calls + 1);
	if (session->state == SESSION_CALLING || session->state == SESSION_PAUSED ||
	    session->state == SESSION_CHOOSING)
		assert_in_range(session->call, 1, session->calls + (session->station != 0));
	if (session->state == SESSION_STATION)
		assert_in_range(session->station, 1, STATIONS);
	if (session->state == SESSION_ENDING)
		assert_int_equal(session->call, session->calls + 1);
	assert_in_range(session->remembered, 0, SESSION_MEMORY);
	if (session->way_back)
		assert_int_equal(session->way_back, session->call);
}

static void every_state_takes_every_event(void **state)
{
	(void)state;
	static const char *const ways[] = {
		"start",
		"start next",
		"start next next",
		"start next next pause",
		"start next next pedal-gone",
		"start next next choices",
		"start next next choices again",
		"start next next choices next",
		"start next next next next next",
		"start next next next next next next",
		"start next next next next",
		"start next stop",
		"start next next next next next next settled",
	};

	for (size_t i = 0; i < sizeof(ways) / sizeof(ways[0]); i++) {
		for (enum session_event_kind kind = SESSION_NEXT; kind < SESSION_EVENTS; kind++) {
			struct player player = {.now_us = SECOND_US};
			struct session_effects effects;
			begin(&player.session, i % 2 ? taught : five, LEVEL_ASKED);
			play(&player, ways[i]);
			const struct session_event event = {.kind = kind,
							    .time_us = player.now_us + 1,
							    .call = 1,
							    .script = more,
							    .text = "tail"};
			session_step(&player.session, &event, &effects);
			check_effects(&player.session, &effects);
			check_state(&player.session);
			session_free(&player.session);
			text_free(&player.told);
		}
	}
}

/* ---- teaching ---- */

static void a_call_is_said_as_the_level_asks(void **state)
{
	(void)state;
	static const char *const says[LEVELS] = {"name", "question", "short", "full", "reason"};

	for (enum level level = 0; level < LEVELS; level++) {
		char *told =
			memory_format("say 2 %s; write passed 2 working (alone); ", says[level]);
		/* the caution of the lock is heard at every level */
		expect_at(taught, level, "start next", "calling", 1,
			  level == LEVEL_REASON ? "say 1 reason; write resume 1 working; "
						: "say 1 full; write resume 1 working; ");
		expect_at(taught, level, "start next next next", "calling", 2, told);
		free(told);
	}
	expect_at(taught, LEVEL_NAMED, "start next next next again", "calling", 2,
		  "say 2 again; write again 2 working; ");
}

static void a_question_is_answered_and_judged(void **state)
{
	(void)state;
#define ASKED "start next next next"
	expect_at(taught, LEVEL_ASKED, ASKED " next", "calling", 2,
		  "say 2 short; write answered 2 working (pressed); ");
	expect_at(taught, LEVEL_ASKED, ASKED " next next", "calling", 3,
		  "say 3 question; write right 3 working; ");
	/* "I had not": a double tap, on the question or on its answer; then it is told */
	expect_at(taught, LEVEL_ASKED, ASKED " next undo-again", "calling", 2,
		  "say 2 again; write undo 2 working; write wrong 2 working; ");
	expect_at(taught, LEVEL_ASKED, ASKED " next next undo-again", "calling", 2,
		  "say 2 again; write undo 2 working; write wrong 2 working; ");
	expect_at(taught, LEVEL_ASKED, ASKED " next next undo-back", "calling", 2,
		  "say 2 again; write undo 2 working; write wrong 2 working; ");
	expect_at(taught, LEVEL_ASKED, ASKED " next next undo-back next", "calling", 3,
		  "say 3 question; then say 3 short; write next 3 working; ");
	/* with a pedal for it, once */
	expect_at(taught, LEVEL_ASKED, ASKED " again", "calling", 2,
		  "say 2 again; write wrong 2 working; ");
	expect_at(taught, LEVEL_ASKED, ASKED " next again again", "calling", 2,
		  "say 2 again; write again 2 working; ");
	/* a double tap right after a double tap goes back, as ever */
	expect_at(taught, LEVEL_ASKED, ASKED " next next undo-back next undo-back", "calling", 1,
		  "say 1 again; write undo 2 working; write back 1 working; ");
	/* the answer comes by itself 3 s after the question has been said */
	expect_at(taught, LEVEL_ASKED, ASKED " +2s timeout", "calling", 2, "no; ");
	expect_at(taught, LEVEL_ASKED, ASKED " +4s timeout", "calling", 2,
		  "say 2 short; write answered 2 working (late); ");
	expect_at(taught, LEVEL_ASKED, ASKED " +4s timeout next", "calling", 3,
		  "say 3 question; then say 3 short; write next 3 working; ");
	expect_at(taught, LEVEL_ASKED, ASKED " +4s timeout +9s timeout", "calling", 2, "no; ");
	/* a pause puts the question anew */
	expect_at(taught, LEVEL_ASKED, ASKED " pause next", "calling", 2,
		  "say 2 question; write resume 2 working; ");
	expect_at(taught, LEVEL_ASKED, ASKED " next undo-pause next", "calling", 2,
		  "say 2 question; write resume 2 working; ");
	expect_at(taught, LEVEL_ASKED, ASKED " announced2", "calling", 2,
		  "write announced 2 working; ");
}

static void the_work_is_looked_at_at_stations(void **state)
{
	(void)state;
	expect_at(taught, LEVEL_TOLD, "start next next", "station", 2,
		  "say station-mounted; then say station-alone; write next 2; "
		  "write station 2 (mounted); ");
	expect_at(taught, LEVEL_TOLD, "start next next again", "station", 2,
		  "say station-mounted; then say station-alone; ");
	expect_at(taught, LEVEL_TOLD, "start next next pause next", "station", 2,
		  "say station-mounted; then say station-alone; write resume 2; ");
	expect_at(taught, LEVEL_TOLD, "start next next back", "calling", 1,
		  "say 1 again; write back 1 working; ");
	expect_at(taught, LEVEL_TOLD, "start next next next undo-back", "calling", 1,
		  "say 1 again; write undo 2 working; write back 1 working; ");
	expect_at(taught, LEVEL_TOLD, "start next next found", "station", 2,
		  "say fault-misweave; write found 2 (misweave cross 1); ");
	expect_at(taught, LEVEL_TOLD, "start next next found1", "station", 2,
		  "say fault-misweave 1; write found 2 (misweave cross 1); go back redo 1; ");
	expect_at(taught, LEVEL_TOLD, "start next passed", "calling", 1, "no; ");
	expect_at(taught, LEVEL_TOLD, "start next found", "calling", 1, "no; ");
	/* the last one stands before the end */
	expect_at(taught, LEVEL_TOLD, "start next next next next next next next next next",
		  "station", 6,
		  "say station-finished; then say station-alone; write next 6; "
		  "write station 6 (finished); ");
	expect_at(taught, LEVEL_TOLD, "start next next next next next next next next next next",
		  "ending", 6, "say done; write passed 6 (alone); ");
}

/* What comes out can be put in again, a clamp that slipped has a way back of its own, and the rest
 * is seen too late or is no string (common practice). */
static void a_fault_that_can_be_mended_leads_to_its_way_back(void **state)
{
	static const char *const with_string[WORK_FAULTS] = {
		[WORK_MISWEAVE] = "go back redo 1; ",
		[WORK_WRONG_HOLE] = "go back redo 1; ",
		[WORK_CROSSED_LOOP] = "go back redo 1; ",
		[WORK_CLAMP_SLIP] = "go back slipped 1; ",
	};

	(void)state;
	for (enum work_fault fault = 0; fault < WORK_FAULTS; fault++) {
		for (int call = 0; call <= 1; call++) {
			struct player player = {.now_us = SECOND_US};
			struct session_effects effects;
			struct text back = {0};
			begin(&player.session, taught, LEVEL_TOLD);
			play(&player, "start next next");
			const struct session_event event = {.kind = SESSION_FOUND,
							    .call = call,
							    .text = work_fault_name(fault)};
			assert_true(session_step(&player.session, &event, &effects));
			if (effects.count > 2)
				tell(&back, &effects.items[2]);
			bool mended = with_string[fault] && (call || fault == WORK_CLAMP_SLIP);
			assert_string_equal(text_string(&back), !mended ? ""
								: call  ? with_string[fault]
									: "go back slipped; ");
			text_free(&back);
			session_free(&player.session);
			text_free(&player.told);
		}
	}
}

static void a_station_waits_for_a_trainer(void **state)
{
	(void)state;
	expect_at(trained, LEVEL_TOLD, "start next next", "station", 2,
		  "say station-mounted; then say station-trainer; write next 2; "
		  "write station 2 (mounted); ");
	expect_at(trained, LEVEL_TOLD, "start next next next", "station", 2,
		  "say station-trainer; no; ");
	expect_at(trained, LEVEL_TOLD, "start next next passed", "calling", 2,
		  "say station-passed; then say 2 full; write passed 2 working (trainer); ");
	/* of two trainers the second one comes too late */
	expect_at(trained, LEVEL_TOLD, "start next next passed passed", "calling", 2, "no; ");
}

static void each_way_to_say_a_call_has_its_words(void **state)
{
	static const char *const texts[] = {
		[SAY_PLANNED] = "Cross, over.",
		[SAY_AGAIN] = "Cross, over first.",
		[SAY_NAME] = "Cross.",
		[SAY_QUESTION] = "Cross. Which way?",
		[SAY_SHORT] = "Over.",
		[SAY_FULL] = "Cross, over.",
		[SAY_REASON] = "Cross, over. Each goes the other way.",
	};
	struct session session;

	(void)state;
	begin(&session, taught, LEVEL_TOLD);
	for (enum session_words words = 0; words <= SAY_REASON; words++) {
		char *text = session_words(&session, 2, words);
		assert_string_equal(text, texts[words]);
		free(text);
	}
	session_free(&session);
}

/* ---- a random walk ---- */

static uint32_t random_below(uint64_t *seed, uint32_t limit)
{
	*seed = *seed * 6364136223846793005u + 1442695040888963407u;
	return (uint32_t)(*seed >> 33) % limit;
}

/* What the journal would say is the place: its last event. */
struct replay {
	int call;
	bool working;
};

static void replay(struct replay *replay, const struct session_effects *effects)
{
	for (int i = 0; i < effects->count; i++) {
		if (effects->items[i].kind != SESSION_WRITE)
			continue;
		replay->call = effects->items[i].call;
		replay->working = effects->items[i].working;
	}
}

/* Each question of a drill comes until it was had, and never after that; one that was missed comes
 * back after two others, or as many as there still are. */
static void what_is_missed_in_a_drill_comes_back_after_two_others(void **state)
{
	uint64_t seed = 20261127;

	(void)state;
	for (int round = 0; round < 50; round++) {
		struct player player = {.now_us = SECOND_US};
		int questions[WALK_CALLS]; /* still to be asked, in order */
		int count = WALK_CALLS, misses = 0;
		for (int i = 0; i < WALK_CALLS; i++)
			questions[i] = i + 1;
		begin(&player.session, drill, LEVEL_TOLD);
		play(&player, "start next");
		while (count > 0) {
			int asked = questions[0];
			assert_int_equal(player.session.call, asked);
			char *told = memory_format("say %d short; ", asked);
			play(&player, "next");
			assert_ptr_equal(strstr(text_string(&player.told), told),
					 text_string(&player.told));
			free(told);
			bool missed = random_below(&seed, 100) < 40;
			misses += missed;
			int behind = missed && count > 2 ? 2 : count - 1;
			memmove(questions, questions + 1, (size_t)behind * sizeof(questions[0]));
			questions[behind] = asked;
			count -= !missed;
			play(&player, !missed      ? "next"
				      : misses % 2 ? "next undo-again next"
						   : "again next");
		}
		assert_string_equal(session_state_name(player.session.state), "ending");
		assert_true(misses > 5);
		session_free(&player.session);
		text_free(&player.told);
	}
}

static void walk(const struct script *lines)
{
	enum { STEPS = 100000 };
	uint64_t seed = 20261125;
	struct session session;
	struct replay place = {1, false};
	int64_t now_us = SECOND_US;
	int jobs = 0;

	begin(&session, lines, LEVEL_ASKED);
	struct session_event event = {.kind = SESSION_START, .time_us = now_us};
	for (int step = 0; step < STEPS; step++) {
		struct session_effects effects;
		int64_t worked_us = session_worked_us(&session, now_us);
		session_step(&session, &event, &effects);
		check_effects(&session, &effects);
		check_state(&session);
		replay(&place, &effects);
		if ((event.kind == SESSION_WENT_BACK || event.kind == SESSION_CALLED_OFF) &&
		    session.state == SESSION_CALLING)
			place = (struct replay){session.call, true}; /* written before */
		assert_int_equal(place.call, session.call);
		if (session.state != SESSION_OVER)
			assert_int_equal(place.working, session.state == SESSION_CALLING);
		/* The clock of work never runs backwards, nor faster than time. */
		assert_true(session_worked_us(&session, now_us) >= worked_us);
		if (session.state == SESSION_OVER) {
			jobs++;
			session_free(&session);
			begin(&session, lines, LEVEL_ASKED);
			event = (struct session_event){.kind = SESSION_START, .time_us = now_us};
			continue;
		}
		now_us += random_below(&seed, 3000) * MS_US;
		uint32_t dice = random_below(&seed, 100);
		event = (struct session_event){
			.kind = dice < 60 ? SESSION_NEXT
					  : (enum session_event_kind)(
						    SESSION_NEXT +
						    random_below(&seed,
								 SESSION_EVENTS - SESSION_NEXT)),
			.time_us = now_us,
			.count = (int)random_below(&seed, 4),
			.call = 1 + (int)random_below(&seed, WALK_CALLS),
			.script = lines == forty ? more : more_taught,
			.text = "misweave cross 2",
		};
		if (event.kind == SESSION_WENT_BACK && session.call >= more->count)
			event.kind = SESSION_NEXT; /* no way back is empty */
	}
	assert_true(jobs > 10);
	session_free(&session);
}

static void a_random_walk_stays_legal_and_the_journal_knows_the_place(void **state)
{
	(void)state;
	walk(forty);
	walk(trained);
}

/* ---- pace ---- */

static void the_time_left_follows_the_pace_of_this_job(void **state)
{
	(void)state;
	struct script *script = script_new(&(struct script){.job = "weights", .teaching = "no"});
	for (int i = 0; i < PACE_MIN_CALLS + 3; i++)
		script_add(script,
			   &(struct script_line){.string = i == PACE_MIN_CALLS ? NULL : "main",
						 .weight_s = 10});
	struct player player = {.now_us = SECOND_US};

	session_init(&player.session, script, 1);
	play(&player, "start next"); /* calling 1 */
	assert_int_equal(pace_left_us(&player.session, player.now_us), 130 * SECOND_US);
	/* Half the current call's usual time has gone. */
	assert_int_equal(pace_left_us(&player.session, player.now_us + 5 * SECOND_US),
			 125 * SECOND_US);
	/* Three calls of 60 s each where 10 s is usual change nothing yet. */
	play(&player, "+59s next +59s next +59s next");
	assert_int_equal(pace_left_us(&player.session, player.now_us), 100 * SECOND_US);
	/* After seven more at the usual pace: (60 + 180 + 70) / (60 + 100) times as slow. */
	play(&player, "+9s next +9s next +9s next +9s next +9s next +9s next +9s next");
	assert_true(fabs(pace_ratio(&player.session) - 310.0 / 160) < 1e-9);
	double left_s = (double)pace_left_us(&player.session, player.now_us) / 1e6;
	assert_true(fabs(left_s - 30 * 310.0 / 160) < 0.001);
	/* A pause is no work. */
	int64_t worked_us = session_worked_us(&player.session, player.now_us);
	play(&player, "~5000s pause +1000s ~1000s next");
	assert_int_equal(session_worked_us(&player.session, player.now_us), worked_us + SECOND_US);
	/* The pace is that of the strings done: not of what is under work, of what is no string, or
	 * of what was walked over in no time. */
	static const char *const others[] = {"+500s where", "next", "+-1s next", "+500s where"};
	for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
		play(&player, others[i]);
		assert_true(fabs(pace_ratio(&player.session) - 310.0 / 160) < 1e-9);
	}
	play(&player, "next");
	assert_int_equal(pace_left_us(&player.session, player.now_us), 0);
	script_free(script);
	session_free(&player.session);
	text_free(&player.told);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_job_goes_from_greeting_to_finish),
		cmocka_unit_test(a_place_is_repeated_and_gone_back_from),
		cmocka_unit_test(the_reason_is_said_on_request),
		cmocka_unit_test(gestures_are_taken_back),
		cmocka_unit_test(choices_are_said_one_at_a_time),
		cmocka_unit_test(leaving_the_choices_changes_nothing),
		cmocka_unit_test(a_choice_is_taken),
		cmocka_unit_test(a_string_is_chosen_for_a_redo),
		cmocka_unit_test(a_misweave_five_crosses_back_is_four_presses_away),
		cmocka_unit_test(the_way_back_follows_the_current_call),
		cmocka_unit_test(a_way_back_is_called_off_at_its_first_call),
		cmocka_unit_test(a_long_hold_walks_through_the_strings),
		cmocka_unit_test(pauses_stop_the_clock_and_say_the_place_when_long),
		cmocka_unit_test(faults_are_said_and_survived),
		cmocka_unit_test(a_run_is_stopped_or_abandoned),
		cmocka_unit_test(a_job_is_reopened_where_it_was_left),
		cmocka_unit_test(a_call_is_said_as_the_level_asks),
		cmocka_unit_test(each_way_to_say_a_call_has_its_words),
		cmocka_unit_test(a_question_is_answered_and_judged),
		cmocka_unit_test(the_work_is_looked_at_at_stations),
		cmocka_unit_test(a_fault_that_can_be_mended_leads_to_its_way_back),
		cmocka_unit_test(a_station_waits_for_a_trainer),
		cmocka_unit_test(what_is_missed_in_a_drill_comes_back_after_two_others),
		cmocka_unit_test(every_state_takes_every_event),
		cmocka_unit_test(a_random_walk_stays_legal_and_the_journal_knows_the_place),
		cmocka_unit_test(the_time_left_follows_the_pace_of_this_job),
	};
	return cmocka_run_group_tests(tests, set_up, strike);
}
