/* Journals of version 1, as this program wrote them before it kept scripts: version-1.db has a
 * finished job, an abandoned one and one left open at call 38 of 58. */
#include "journal/journal.h"
#include "journal/sample.h"

#include <sqlite3.h>
#include <sys/stat.h>

static const char fixture[] = SOURCE_DIR "/tests/journal/version-1.db";

static void copy_fixture(const char *path)
{
	char command[2 * SAMPLE_PATH_MAX];

	snprintf(command, sizeof command, "cp '%s' '%s'", fixture, path);
	assert_int_equal(system(command), 0); /* NOLINT(cert-env33-c): paths of our own */
}

static void alter(const char *path, const char *sql)
{
	sqlite3 *database = NULL;

	assert_int_equal(sqlite3_open(path, &database), SQLITE_OK);
	assert_int_equal(sqlite3_exec(database, sql, NULL, NULL, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_close(database), SQLITE_OK);
}

/* A database beside others, with the fixture attached as `old` and a new journal as `fresh`. */
static sqlite3 *attach(const char *path, const char *fresh)
{
	sqlite3 *database = NULL;
	char sql[3 * SAMPLE_PATH_MAX];

	snprintf(sql, sizeof sql, "ATTACH 'file:%s?immutable=1' AS old; ATTACH '%s' AS fresh",
		 fixture, fresh);
	assert_int_equal(
		sqlite3_open_v2(path, &database, SQLITE_OPEN_READWRITE | SQLITE_OPEN_URI, NULL),
		SQLITE_OK);
	if (sqlite3_exec(database, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s", sqlite3_errmsg(database));
	return database;
}

static void expect_no_rows(sqlite3 *database, const char *sql)
{
	sqlite3_stmt *statement = NULL;

	if (sqlite3_prepare_v2(database, sql, -1, &statement, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(database));
	if (sqlite3_step(statement) != SQLITE_DONE)
		fail_msg("%s: there is a row", sql);
	sqlite3_finalize(statement);
}

/* Both have the same rows; `columns` are those of the old one. */
static void expect_same_rows(sqlite3 *database, const char *table, const char *columns)
{
	char sql[500];

	snprintf(sql, sizeof sql, "SELECT %s FROM main.%s EXCEPT SELECT %s FROM old.%s", columns,
		 table, columns, table);
	expect_no_rows(database, sql);
	snprintf(sql, sizeof sql, "SELECT %s FROM old.%s EXCEPT SELECT %s FROM main.%s", columns,
		 table, columns, table);
	expect_no_rows(database, sql);
}

static void opened_to_write_it_is_brought_up_to_date(void **state)
{
	static const char *const views[][2] = {
		{"span", "*"},
		{"call_time", "job, n, phase, kind, string, number, side, text, work_us, repeats, "
			      "backs"},
		{"string_time", "*"},
		{"phase_time", "*"},
		{"away_time", "*"},
		{"job_state", "job, last, call, working, runs, last_wall_us, state"},
		{"job_time", "job, work_us, repeats, backs, undos"},
	};
	const char *path = sample_path(state, "journal.db"), *fresh = sample_path(state, "new.db");
	struct journal_job job;
	struct script *script = NULL;

	copy_fixture(path);
	alter(path, "UPDATE job SET plan_text = replace(plan_text, 'detail: bench', 'detail: "
		    "learner') WHERE id = 2");
	journal_close(sample_open(fresh));
	for (int round = 0; round < 2; round++) {
		struct journal *journal = sample_open(path);
		assert_int_equal(sample_ask(journal, "PRAGMA user_version"), 2);
		assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_OK);
		assert_string_equal(job.name, "ridge-court-0042");
		assert_int_equal(job.call, 38);
		assert_int_equal(job.calls, 58);
		assert_int_equal(journal_script(journal, job.number, &script), JOURNAL_NONE);
		assert_null(script);
		journal_job_free(&job);
		journal_close(journal);
	}
	sqlite3 *database = attach(path, fresh);
	expect_same_rows(database, "job",
			 "id, uuid, name, stringer, pattern, sport, method, calls, created_us, "
			 "merged, language, program, plan_file, pattern_text");
	expect_no_rows(database, "SELECT * FROM main.job WHERE detail <> iif(id = 2, 'learner', "
				 "'bench')");
	/* The jobs that were left open are on the rack. */
	expect_no_rows(database, "SELECT job FROM old.job_state WHERE state = 'open' EXCEPT "
				 "SELECT began FROM main.rack");
	expect_no_rows(database, "SELECT began FROM main.rack EXCEPT "
				 "SELECT job FROM old.job_state WHERE state = 'open'");
	expect_same_rows(database, "call", "job, n, phase, kind, string, number, side, text");
	expect_no_rows(database, "SELECT * FROM main.call WHERE place IS NOT n");
	expect_same_rows(database, "event",
			 "job, seq, run, kind, call, working, steady_us, wall_us, response_us, "
			 "detail");
	for (size_t i = 0; i < sizeof views / sizeof views[0]; i++)
		expect_same_rows(database, views[i][0], views[i][1]);
	/* Version 1 took the wait for the first press, and past the last call, for a pause. */
	expect_no_rows(database,
		       "SELECT * FROM main.pause_time EXCEPT SELECT * FROM old.pause_time");
	expect_no_rows(database, "SELECT seq FROM old.pause_time AS p JOIN old.event AS e "
				 "USING (job, seq) JOIN old.job AS j ON j.id = p.job "
				 "WHERE e.kind <> 'started' AND e.call <= j.calls EXCEPT "
				 "SELECT seq FROM main.pause_time");
	/* Its tables and views are those of a new journal. */
	expect_no_rows(database, "SELECT name, type FROM main.sqlite_schema EXCEPT "
				 "SELECT name, type FROM fresh.sqlite_schema");
	expect_no_rows(database, "SELECT name, type FROM fresh.sqlite_schema EXCEPT "
				 "SELECT name, type FROM main.sqlite_schema");
	expect_no_rows(database, "SELECT sql FROM fresh.sqlite_schema EXCEPT "
				 "SELECT sql FROM main.sqlite_schema");
	assert_int_equal(sqlite3_close(database), SQLITE_OK);
}

static void opened_to_read_it_stays_as_it_is(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct journal *journal = NULL;
	struct journal_job job;
	char *error = NULL, command[3 * SAMPLE_PATH_MAX];

	copy_fixture(path);
	assert_int_equal(journal_open(path, JOURNAL_READ, &journal, &error), JOURNAL_OK);
	assert_int_equal(journal_find(journal, "mill-lane-0007", &job), JOURNAL_OK);
	assert_false(job.open);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM span"), 218);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM mishap"), 0);
	journal_job_free(&job);
	journal_close(journal);
	snprintf(command, sizeof command, "cmp '%s' '%s'", fixture, path);
	assert_int_equal(system(command), 0); /* NOLINT(cert-env33-c): paths of our own */
}

static void it_is_merged_and_added_to(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct journal_merged merged;
	const char *other = sample_path(state, "other.db");

	copy_fixture(other);
	for (int round = 0; round < 2; round++) {
		assert_int_equal(journal_merge(journal, other, &merged), JOURNAL_OK);
		assert_int_equal(merged.added, round == 0 ? 3 : 0);
		assert_int_equal(merged.known, round == 0 ? 0 : 3);
	}
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM event WHERE boot_us IS NULL"),
			 221);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM script"), 1);
	sample_append(journal, JOURNAL_STARTED, 1, true, 0);
	journal_close(journal);
}

static void an_open_job_gets_a_script_and_goes_on(void **state)
{
	const char *path = sample_path(state, "journal.db");
	const struct script script = sample_script();
	struct script *kept = NULL;

	copy_fixture(path);
	struct journal *journal = sample_open(path);
	int64_t job = sample_open_job(journal);
	assert_int_equal(journal_keep_script(journal, job, &script), JOURNAL_OK);
	assert_int_equal(journal_resume(journal, job), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 38, true, 0);
	sample_append(journal, JOURNAL_PAUSE, 38, false, 0);
	assert_int_equal(journal_script(journal, job, &kept), JOURNAL_OK);
	assert_string_equal(kept->title, script.title);
	script_free(kept);
	/* The pause of two seconds, of which the computer slept one, beside pauses without boot
	 * time.
	 */
	struct journal_event event = sample_event(JOURNAL_RESUME, 38, true, 1000000);
	event.boot_us += 1000000;
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	assert_int_equal(
		sample_ask(journal,
			   "SELECT pause_us FROM pause_time WHERE job = 3 ORDER BY seq DESC"),
		2000000);
	journal_close(journal);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(opened_to_write_it_is_brought_up_to_date),
		TEST(opened_to_read_it_stays_as_it_is),
		TEST(it_is_merged_and_added_to),
		TEST(an_open_job_gets_a_script_and_goes_on),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
