/* The rack: who is next, whatever is begun, left for later and finished; and what is on the reels.
 */
#include "sample.h"

/* The names of the rack in order, with the job's number where it was begun. */
static void expect_rack(struct journal *journal, const char *expected)
{
	char *names = NULL;

	assert_int_equal(journal_ask(journal,
				     "SELECT group_concat(name || ifnull(':' || began, ''), ' ') "
				     "FROM (SELECT * FROM rack ORDER BY place)",
				     NULL, TARGETS(INTO(names))),
			 JOURNAL_OK);
	assert_string_equal(names ? names : "", expected);
	free(names);
}

static void add(struct journal *journal, const char *names)
{
	for (; *names; names++) {
		char name[] = {*names, '\0'};
		struct script script = sample_script(), *plans[] = {&script};
		script.job = name;
		assert_int_equal(journal_rack_add(journal, plans, 1), JOURNAL_OK);
	}
}

static void begin(struct journal *journal, const char *name)
{
	struct script script = sample_script();

	script.job = name;
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 1, false, 0);
}

static void jobs_take_their_turns(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));

	add(journal, "abc");
	expect_rack(journal, "a b c");
	begin(journal, "b");
	expect_rack(journal, "b:1 a c");
	sample_append(journal, JOURNAL_STOPPED, 3, false, 10); /* left for later */
	expect_rack(journal, "a c b:1");
	begin(journal, "x"); /* it was not on the rack */
	expect_rack(journal, "x:2 a c b:1");
	struct journal_event cut_off = sample_event(JOURNAL_STOPPED, 1, false, 20);
	cut_off.detail = "ended by a signal";
	journal_append(journal, &cut_off);
	expect_rack(journal, "x:2 a c b:1");
	assert_int_equal(journal_resume(journal, 1), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 3, false, 30);
	expect_rack(journal, "b:1 x:2 a c");
	sample_append(journal, JOURNAL_FINISHED, 21, false, 40);
	expect_rack(journal, "x:2 a c");
	journal_close(journal);
}

static void the_next_one_wraps_round(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct rack_entry entry;
	int64_t after = 0;

	assert_int_equal(journal_rack_next(journal, 0, 0, &entry), JOURNAL_OK);
	assert_int_equal(entry.count, 0);
	add(journal, "abc");
	for (const char *name = "abcab"; *name; name++) {
		assert_int_equal(journal_rack_next(journal, after, 0, &entry), JOURNAL_OK);
		assert_int_equal(entry.name[0], *name);
		assert_int_equal(entry.count, 3);
		after = entry.id;
		rack_entry_free(&entry);
	}
	assert_int_equal(journal_rack_next(journal, 99, 0, &entry), JOURNAL_OK); /* it is gone */
	assert_string_equal(entry.name, "a");
	rack_entry_free(&entry);
	journal_close(journal);
}

static void a_plan_is_on_it_once(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct script a = sample_script(), b = sample_script(), *plans[] = {&a, &b};

	a.job = "new";
	b.job = "old";
	assert_int_equal(journal_rack_add(journal, &plans[1], 1), JOURNAL_OK);
	assert_int_equal(journal_rack_add(journal, plans, 2), JOURNAL_NOT_OURS);
	assert_non_null(strstr(journal_message(journal), "job old is on the rack already"));
	expect_rack(journal, "old"); /* none of them was added */
	journal_close(journal);
}

static void drop(struct journal *journal, const char *which)
{
	char *said = NULL;

	assert_int_equal(journal_rack_drop(journal, which, &said), JOURNAL_OK);
	free(said);
}

static void they_are_moved_and_dropped(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	char *said = NULL;

	add(journal, "abcd");
	begin(journal, "b");
	expect_rack(journal, "b:1 a c d");
	static const struct {
		const char *which, *rack;
		int place;
	} moves[] = {
		{"d", "d b:1 a c", 1}, {"d", "b:1 d a c", 2}, {"1", "d a b:1 c", 3},
		{"a", "d b:1 c a", 9}, {"d", "d b:1 c a", 1},
	};
	for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++) {
		int place = moves[i].place;
		assert_int_equal(journal_rack_move(journal, moves[i].which, &place, &said),
				 JOURNAL_OK);
		free(said);
		expect_rack(journal, moves[i].rack);
		assert_int_equal(place, moves[i].place == 9 ? 4 : moves[i].place);
	}
	assert_int_equal(journal_rack_move(journal, "z", &(int){1}, &said), JOURNAL_NONE);
	assert_int_equal(journal_rack_drop(journal, "z", &said), JOURNAL_NONE);
	expect_rack(journal, "d b:1 c a");
	drop(journal, "c");
	drop(journal, "1");
	expect_rack(journal, "d a");
	assert_int_equal(sample_open_job(journal), 1); /* which stays open */
	journal_close(journal);
}

/* While one program strings, others change the rack. */
static void others_share_it(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct journal *writer = sample_begin(path), *other = NULL;
	char *error = NULL;

	assert_int_equal(journal_open(path, JOURNAL_SHARE, &other, &error), JOURNAL_OK);
	for (int i = 0; i < 26; i++) {
		add(other, (char[]){(char)('a' + i), '\0'});
		sample_append(writer, JOURNAL_NEXT, i % 20 + 1, true, i);
	}
	assert_int_equal(sample_ask(writer, "SELECT count(*) FROM rack"), 26);
	assert_int_equal(sample_ask(other, "SELECT count(*) FROM event"), 26);
	journal_close(other);
	sample_append(writer, JOURNAL_NEXT, 1, true, 30);
	journal_close(writer);
}

/* Lines 2 and 11 cut 5.5 m and 5 m off one reel. */
static struct script cutting_script(void)
{
	struct script script = sample_script();

	script.lines[1].reel = script.lines[10].reel = "red";
	script.lines[1].cut_mm = 5500;
	script.lines[10].cut_mm = 5000;
	return script;
}

static void expect_left(struct journal *journal, int mm)
{
	assert_int_equal(sample_ask(journal, "SELECT left_mm FROM reel WHERE name = 'red'"), mm);
}

static void what_is_cut_is_taken_off_its_reel(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct script script = cutting_script();

	assert_int_equal(journal_reel_put(journal, "red", 1, false), JOURNAL_NONE);
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_SHORT);
	assert_string_equal(journal_message(journal), "there is no reel \"red\"");
	assert_int_equal(journal_reel_put(journal, "red", 10000, true), JOURNAL_OK);
	assert_int_equal(journal_reel_put(journal, "red", 10000, true), JOURNAL_NONE);
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_SHORT);
	assert_string_equal(journal_message(journal), "reel red has 10.00 m left, and job "
						      "ridge-court-0042 cuts 10.50 m");
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM job"), 0);
	assert_int_equal(journal_reel_put(journal, "red", 200000, false), JOURNAL_OK);
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 1, true, 0);
	sample_append(journal, JOURNAL_NEXT, 2, true, 1);
	expect_left(journal, 200000);
	sample_append(journal, JOURNAL_NEXT, 3, true, 2);
	expect_left(journal, 194500);
	sample_append(journal, JOURNAL_UNDO, 2, true, 3);
	expect_left(journal, 200000);
	sample_append(journal, JOURNAL_NEXT, 3, true, 4);
	sample_append(journal, JOURNAL_NEXT, 12, true, 5);
	expect_left(journal, 189500);
	sample_append(journal, JOURNAL_BACK, 11, true, 6);
	expect_left(journal, 194500);

	/* A way back from call 11 replaces the cut that was taken back, and cuts anew. */
	struct script_mishap mishap = {.kind = "broke", .line = 11};
	script.mishaps = &mishap;
	script.mishap_count = 1;
	for (int i = 11; i < script.count; i++)
		script.lines[i].call = i + 10;
	script.lines[12].reel = "red";
	script.lines[12].cut_mm = 4000;
	struct journal_event event = sample_event(JOURNAL_MISHAP, 21, true, 7);
	assert_int_equal(journal_go_back(journal, &script, &event), JOURNAL_OK);
	expect_left(journal, 194500);
	sample_append(journal, JOURNAL_NEXT, 22, true, 8);
	sample_append(journal, JOURNAL_NEXT, 23, true, 9);
	expect_left(journal, 190500);
	sample_append(journal, JOURNAL_FINISHED, 30, false, 10);
	expect_left(journal, 190500);
	journal_close(journal);
}

/* Each bench has reels and a rack of its own. */
static void merging_leaves_reels_and_rack_alone(void **state)
{
	const char *theirs = sample_path(state, "theirs.db");
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct journal *other = sample_open(theirs);
	struct script script = cutting_script();
	struct journal_merged merged;

	assert_int_equal(journal_reel_put(other, "red", 200000, true), JOURNAL_OK);
	assert_int_equal(journal_begin(other, &script, sample_wall_us), JOURNAL_OK);
	sample_append(other, JOURNAL_STARTED, 1, true, 0);
	sample_append(other, JOURNAL_NEXT, 3, true, 1);
	expect_left(other, 194500);
	assert_int_equal(journal_reel_put(journal, "red", 50000, true), JOURNAL_OK);
	for (int round = 0; round < 2; round++) {
		assert_int_equal(journal_merge(journal, theirs, &merged), JOURNAL_OK);
		assert_int_equal(merged.added + merged.lengthened, 1);
		expect_left(journal, 50000);
		assert_int_equal(sample_ask(journal, "SELECT count(*) FROM rack"), 0);
		sample_append(other, JOURNAL_NEXT, 12, true, 2);
	}
	expect_left(other, 189500);
	journal_close(other);
	journal_close(journal);
}

static void the_last_time_is_known(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct script script = sample_script();
	char *tension = NULL;
	int64_t wall_us = 1;

	script.racket = "R-118";
	script.tension[0] = "56 lb";
	for (int i = 0; i < 3; i++) { /* the third is under way */
		assert_int_equal(journal_begin(journal, &script, sample_wall_us + i), JOURNAL_OK);
		assert_int_equal(journal_last_time(journal, "R-118", &tension, &wall_us),
				 JOURNAL_OK);
		assert_int_equal(wall_us, i ? sample_wall_us + i - 1 : 0);
		if (i)
			assert_string_equal(tension, "56 lb");
		free(tension);
		sample_append(journal, i < 2 ? JOURNAL_FINISHED : JOURNAL_NEXT, 21, true, i);
	}
	assert_int_equal(journal_last_time(journal, "R-119", &tension, &wall_us), JOURNAL_OK);
	assert_null(tension);
	journal_close(journal);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(jobs_take_their_turns, sample_setup,
						sample_teardown),
		cmocka_unit_test_setup_teardown(the_next_one_wraps_round, sample_setup,
						sample_teardown),
		cmocka_unit_test_setup_teardown(a_plan_is_on_it_once, sample_setup,
						sample_teardown),
		cmocka_unit_test_setup_teardown(they_are_moved_and_dropped, sample_setup,
						sample_teardown),
		cmocka_unit_test_setup_teardown(others_share_it, sample_setup, sample_teardown),
		cmocka_unit_test_setup_teardown(what_is_cut_is_taken_off_its_reel, sample_setup,
						sample_teardown),
		cmocka_unit_test_setup_teardown(merging_leaves_reels_and_rack_alone, sample_setup,
						sample_teardown),
		cmocka_unit_test_setup_teardown(the_last_time_is_known, sample_setup,
						sample_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
