/* The screen of `pullcall run` as text: golden frames, and no size at which it spills over. */
#include "base/base.h"
#include "cli/cli.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

struct stage {
	struct bench *bench;
	struct phrasebook *book;
	struct work *work;
};

static bool set_stage(struct stage *stage, const char *language)
{
	struct faults faults = {0};

	setenv("PULLCALL_PATTERNS", SOURCE_DIR "/patterns", 1);
	setenv("PULLCALL_VOICE", SOURCE_DIR "/voice", 1);
	stage->bench = bench_new();
	stage->book = phrasebook_find(language, &faults);
	stage->work = work_new(script_read(SOURCE_DIR "/demo/ridge-court.yaml", NULL, stage->bench,
					   stage->book, &faults),
			       stage->book, stage->bench, 1);
	faults_print(&faults, stderr);
	faults_free(&faults);
	return stage->work;
}

static void clear_stage(struct stage *stage)
{
	work_free(stage->work);
	phrasebook_free(stage->book);
	bench_free(stage->bench);
}

static int set_up(void **state)
{
	static struct stage stage;

	*state = &stage;
	return set_stage(&stage, "en") ? 0 : -1;
}

static int strike(void **state)
{
	clear_stage(*state);
	return 0;
}

static void step(struct work *work, enum session_event_kind kind, int64_t time_us)
{
	struct session_effects effects;

	session_step(&work->session, &(struct session_event){.kind = kind, .time_us = time_us},
		     &effects);
}

static struct daemon_look look_at(const struct work *work)
{
	return (struct daemon_look){
		.work = work,
		.book = work ? work->book : NULL,
		.said = "",
		.voice = "Desk speaker, 48000 Hz",
		.voice_good = true,
		.pedal = "Foot switch",
		.journal = "",
	};
}

/* A press every ten seconds, up to the main that is the third on the right. */
static struct daemon_look look_at_call_18(struct work *work)
{
	step(work, SESSION_START, 1 * SECOND_US);
	for (int press = 0; press < 18; press++)
		step(work, SESSION_NEXT, (2 + 10 * press) * SECOND_US);
	return look_at(work);
}

static void a_frame_says_what_to_do(void **state)
{
	struct stage *stage = *state;
	struct work *work = stage->work;
	struct text frame = {0};

	struct daemon_look look = look_at_call_18(work);
	screen_lines(&look, 185 * SECOND_US, &(struct screen_size){60, 14, false}, &frame);
	assert_string_equal(text_string(&frame),
			    "call 18 of 64  mains  ridge-court-0042\n"
			    "Main three right, hole three.\n"
			    "\n"
			    "\n"
			    "\n"
			    "\n"
			    "\n"
			    "\n"
			    "next: Check the mounts.\n"
			    "mains   ###########...........................  5 of 16\n"
			    "crosses ......................................  0 of 19\n"
			    "left 25 min  work 3:03  this call 0:13\n"
			    "voice Desk speaker, 48000 Hz  pedal Foot switch\n"
			    "space next  r again  b back  p pause  q stop  c choices\n");
	text_clear(&frame);
	step(work, SESSION_PAUSE, 190 * SECOND_US);
	look.voice_good = false;
	look.voice = "no sound device";
	screen_lines(&look, 500 * SECOND_US, &(struct screen_size){60, 24, true}, &frame);
	assert_non_null(strstr(text_string(&frame), "mains  PAUSED  ridge-court-0042\n"));
	assert_non_null(strstr(text_string(&frame), "NO VOICE: no sound device\n"));
	assert_non_null(strstr(text_string(&frame), "left 25 min  work 3:08  this call 0:18"));
	assert_non_null(strstr(text_string(&frame), "\n▄   ▄  ▄▄  ▄ ▄  ▄ "));
	assert_non_null(strstr(text_string(&frame), "\nspace go on  b back"));
	look.journal = "the disk is full";
	text_clear(&frame);
	screen_lines(&look, 500 * SECOND_US, &(struct screen_size){60, 24, true}, &frame);
	assert_non_null(strstr(text_string(&frame), "NOTHING IS BEING SAVED: the disk is full\n"));
	text_free(&frame);
}

static void a_frame_speaks_the_language_of_the_bench(void **state)
{
	struct stage stage;
	struct text frame = {0};

	(void)state;
	assert_true(set_stage(&stage, "de"));
	struct daemon_look look = look_at_call_18(stage.work);
	screen_lines(&look, 185 * SECOND_US, &(struct screen_size){70, 14, false}, &frame);
	assert_string_equal(
		text_string(&frame),
		"Ansage 18 von 64  längs  ridge-court-0042\n"
		"Längs drei rechts, Loch drei.\n"
		"\n"
		"\n"
		"\n"
		"\n"
		"\n"
		"\n"
		"danach: Auflagen prüfen.\n"
		"längs   ############............................  5 von 16\n"
		"quer    ........................................  0 von 19\n"
		"noch 25 Min  Arbeit 3:03  diese Ansage 0:13\n"
		"Stimme Desk speaker, 48000 Hz  Pedal Foot switch\n"
		"Leertaste weiter  r wiederholen  b zurück  p Pause  q Ende  c Auswahl\n");
	text_free(&frame);
	clear_stage(&stage);
}

static void a_small_screen_keeps_the_keys(void **state)
{
	struct stage *stage = *state;
	struct daemon_look look = look_at(stage->work);
	struct text frame = {0};

	screen_lines(&look, 500 * SECOND_US, &(struct screen_size){40, 12, true}, &frame);
	assert_non_null(strstr(text_string(&frame), "\nspace go on  b back  c choices  q stop\n"));
	assert_null(strstr(text_string(&frame), "voice Desk"));
	assert_non_null(strstr(text_string(&frame), "\nleft 25 min  work 3:08  this call 0:18\n"));
	/* What does not fit ends in an ellipsis. */
	text_clear(&frame);
	screen_lines(&look, 500 * SECOND_US, &(struct screen_size){20, 12, true}, &frame);
	assert_non_null(strstr(text_string(&frame), "\nnext: Check the mou…\n"));
	/* A fault is shown even so. */
	look.voice_good = false;
	look.voice = "no sound device";
	text_clear(&frame);
	screen_lines(&look, 500 * SECOND_US, &(struct screen_size){40, 12, true}, &frame);
	assert_non_null(strstr(text_string(&frame), "NO VOICE: no sound device\n"));
	text_free(&frame);
}

static void with_no_job_what_was_told_is_above_what_is_said(void **state)
{
	struct stage *stage = *state;
	struct daemon_look look = look_at(NULL);
	struct text frame = {0};

	look.book = stage->book;
	look.told = "nothing can press";
	look.said = "Two jobs wait.";
	screen_lines(&look, 0, &(struct screen_size){80, 24, false}, &frame);
	assert_int_equal(strncmp(text_string(&frame), "nothing can press\nTwo jobs wait.\n", 33),
			 0);
	assert_non_null(strstr(text_string(&frame), "\nspace next "));
	text_free(&frame);
}

static void what_is_said_after_a_call_is_shown_with_it(void **state)
{
	struct stage *stage = *state;
	const struct screen_size narrow = {60, 14, false}; /* no room for large letters */
	struct text frame = {0};
	struct daemon_look look = look_at(stage->work);
	char *both = memory_format("%s The pedal is back.", work_words(stage->work));

	for (int beside = 0; beside <= 1; beside++) {
		look.said = "The pedal is back.";
		look.said_beside = beside;
		text_clear(&frame);
		screen_lines(&look, 0, &narrow, &frame);
		for (char *end = frame.bytes; (end = strchr(end, '\n'));)
			*end = ' ';
		assert_non_null(strstr(text_string(&frame), look.said));
		assert_int_equal(strstr(text_string(&frame), both) != NULL, beside);
	}
	free(both);
	text_free(&frame);
}

/* "montants" is as long as the room that English words need. */
static void bars_stand_apart_from_their_names(void **state)
{
	static const char *const languages[] = {"en", "de", "fr", "es", "it"};

	(void)state;
	for (int l = 0; l < 5; l++) {
		struct stage stage;
		struct text frame = {0};
		assert_true(set_stage(&stage, languages[l]));
		struct daemon_look look = look_at(stage.work);
		for (int columns = 40; columns <= 120; columns += 40) {
			text_clear(&frame);
			screen_lines(&look, 0, &(struct screen_size){columns, 24, true}, &frame);
			const char *mains = strstr(text_string(&frame), "░");
			assert_non_null(mains);
			assert_true(mains[-1] == ' ');
			const char *crosses = strstr(strchr(mains, '\n'), "░");
			assert_non_null(crosses);
			assert_true(crosses[-1] == ' ');
		}
		text_free(&frame);
		clear_stage(&stage);
	}
}

static int columns_of(const char *line, size_t bytes)
{
	int columns = 0;

	for (size_t i = 0; i < bytes; i++)
		columns += (line[i] & 0xc0) != 0x80;
	return columns;
}

static void check_fits(const struct daemon_look *look, struct screen_size size)
{
	struct text frame = {0};
	int rows = 0;

	screen_lines(look, 600 * SECOND_US, &size, &frame);
	for (const char *line = text_string(&frame); *line; rows++) {
		size_t bytes = strcspn(line, "\n");
		if (columns_of(line, bytes) > size.columns)
			fail_msg("%d columns: %.*s", size.columns, (int)bytes, line);
		line += bytes + 1;
	}
	/* Below the least height the terminal shows the top of it. */
	if (rows > size.rows && size.rows >= 8)
		fail_msg("%d rows in %d", rows, size.rows);
	text_free(&frame);
}

static void no_size_and_no_call_spills_over(void **state)
{
	struct stage *stage = *state;
	struct work *work = stage->work;
	struct daemon_look look = look_at(work);

	step(work, SESSION_RESUME, 600 * SECOND_US);
	step(work, SESSION_BACK, 600 * SECOND_US);
	for (int press = 0; press < work->session.calls + 5; press++) {
		for (int columns = 24; columns <= 160; columns += 17)
			for (int rows = 8; rows <= 50; rows += 3)
				check_fits(&look, (struct screen_size){columns, rows, press % 2});
		step(work, SESSION_NEXT, 600 * SECOND_US);
	}
}

static void the_pace_is_in_words_after_ten_strings(void **state)
{
	const struct stage *stage = *state;
	struct work *work = stage->work;
	struct daemon_look look = look_at(work);
	struct screen_size size = {60, 24, false};
	struct text frame = {0};

	for (int seconds = 501; work->session.call < 29; seconds++)
		step(work, SESSION_NEXT, seconds * SECOND_US);
	screen_lines(&look, 513 * SECOND_US, &size, &frame);
	assert_non_null(strstr(text_string(&frame), "faster than usual\n"));
	work->is_first = true;
	text_clear(&frame);
	screen_lines(&look, 513 * SECOND_US, &size, &frame);
	assert_null(strstr(text_string(&frame), "usual"));
	text_free(&frame);
}

/* Without a job there are words and keys. */
static void show_words(const struct stage *stage, const char *words, struct text *frame)
{
	struct daemon_look look = look_at(NULL);

	look.book = stage->book;
	look.said = words;
	text_clear(frame);
	screen_lines(&look, 0, &(struct screen_size){1000, 5, true}, frame);
}

static void letters_have_equal_rows(void **state)
{
	static const char all[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZ ,.-'"
				  "ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖØÙÚÛÜÝÞßàáâãäåæçèéêëìíîïðñòóôõöøùúûüýþÿ";
	struct text rows = {0};

	show_words(*state, all, &rows);
	const char *line = text_string(&rows);
	int width = columns_of(line, strcspn(line, "\n"));
	assert_in_range(width, 300, 600);
	for (int row = 0; row < 3; row++) {
		size_t bytes = strcspn(line, "\n");
		assert_int_equal(columns_of(line, bytes), width);
		line += bytes + 1;
	}
	assert_int_equal(*line, '\n');
	/* A character without a large letter stands among them as it is. */
	show_words(*state, "i€i", &rows);
	assert_ptr_equal(strstr(text_string(&rows), "▄   ▄\n█   █\n█ € █\n\n"), rows.bytes);
	show_words(*state, "é", &rows);
	assert_ptr_equal(strstr(text_string(&rows), "▄▄█\n█▄ \n█▄▄\n"), rows.bytes);
	/* Every letter of Latin-1 has its own shape: none looks like another one. */
	struct text seen = {0};
	for (const char *at = all; *at;) {
		const char *letter = at;
		uint32_t point = utf8_next(&at);
		char *word = memory_copy_part(letter, (size_t)(at - letter));
		if (point != ' ' && (point < 0xe0 || point == 0xff)) {
			show_words(*state, word, &rows);
			char *shape = memory_format("\n\n%s", text_string(&rows));
			*strstr(shape + 2, "space") = '\0';
			if (strstr(text_string(&seen), shape))
				fail_msg("%s looks like another letter", word);
			text_add(&seen, shape);
			free(shape);
		}
		free(word);
	}
	text_free(&seen);
	text_free(&rows);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_frame_says_what_to_do),
		cmocka_unit_test(a_frame_speaks_the_language_of_the_bench),
		cmocka_unit_test(a_small_screen_keeps_the_keys),
		cmocka_unit_test(with_no_job_what_was_told_is_above_what_is_said),
		cmocka_unit_test(what_is_said_after_a_call_is_shown_with_it),
		cmocka_unit_test(the_pace_is_in_words_after_ten_strings),
		cmocka_unit_test(bars_stand_apart_from_their_names),
		cmocka_unit_test(no_size_and_no_call_spills_over),
		cmocka_unit_test(letters_have_equal_rows),
	};
	return cmocka_run_group_tests(tests, set_up, strike);
}
