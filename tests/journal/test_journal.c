/* Beginning, adding, finding the job again, and who may write. */
#include "journal/sample.h"

#include <signal.h>
#include <sys/stat.h>
#include <sys/wait.h>

static void is_made_private(void **state)
{
	struct stat found;
	struct journal *journal = sample_begin(sample_path(state, "deep/er/journal.db"));

	assert_int_equal(stat(sample_path(state, "deep"), &found), 0);
	assert_int_equal(found.st_mode & 0777, 0700);
	assert_int_equal(stat(sample_path(state, "deep/er"), &found), 0);
	assert_int_equal(found.st_mode & 0777, 0700);
	static const char *const files[] = {"deep/er/journal.db", "deep/er/journal.db-wal",
					    "deep/er/journal.db.lock"};
	for (int i = 0; i < 3; i++) {
		assert_int_equal(stat(sample_path(state, files[i]), &found), 0);
		assert_int_equal(found.st_mode & 0777, 0600);
	}
	journal_close(journal);
}

/* One value of the journal, for the caller to free. */
static char *asked(struct journal *journal, const char *sql)
{
	char *answer = NULL;

	assert_int_equal(journal_ask(journal, sql, NULL, TARGETS(INTO(answer))), JOURNAL_OK);
	return answer;
}

static void is_said(struct journal *journal, const char *sql, const char *want)
{
	char *answer = asked(journal, sql);

	assert_string_equal(answer, want);
	free(answer);
}

static const char first_uuid[] = "SELECT uuid FROM job WHERE id = 1";
static const char paused_and_runs[] = "SELECT paused || ' ' || runs FROM job_state";

static void a_job_stands_at_the_call_of_its_last_event(void **state)
{
	const char *path = sample_path(state, "journal.db");
	const struct script script = sample_script();
	struct journal_job job;
	struct journal *journal = sample_begin(path);
	char *uuid = asked(journal, first_uuid);

	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_OK);
	assert_int_equal(job.call, 1);
	is_said(journal, paused_and_runs, "0 0");
	assert_true(job.open);
	journal_job_free(&job);

	sample_append(journal, JOURNAL_STARTED, 1, true, 0);
	sample_append(journal, JOURNAL_NEXT, 2, true, 1000);
	sample_append(journal, JOURNAL_NEXT, 3, true, 2000);
	sample_append(journal, JOURNAL_BACK, 2, true, 3000);
	sample_append(journal, JOURNAL_PAUSE, 2, false, 4000);
	journal_close(journal);

	journal = sample_open(path);
	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_OK);
	is_said(journal, first_uuid, uuid);
	free(uuid);
	assert_string_equal(job.name, script.job);
	assert_string_equal(job.plan_text, script.plan_text);
	assert_string_equal(job.pattern_text, script.pattern_text);
	assert_string_equal(job.program, script.program);
	assert_int_equal(job.created_us, sample_wall_us);
	assert_int_equal(job.calls, SAMPLE_CALLS);
	assert_int_equal(job.call, 2);
	assert_int_equal(job.last, JOURNAL_PAUSE);
	assert_int_equal(job.last_wall_us, sample_wall_us + 4000);
	assert_false(job.working);
	is_said(journal, paused_and_runs, "1 1");

	assert_int_equal(journal_resume(journal, job.number), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 2, false, 90);
	sample_append(journal, JOURNAL_RESUME, 2, true, 100);
	journal_job_free(&job);
	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_OK);
	is_said(journal, paused_and_runs, "0 2");
	assert_true(job.working);
	journal_job_free(&job);

	sample_append(journal, JOURNAL_FINISHED, SAMPLE_CALLS + 1, false, 200);
	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_NONE);
	journal_close(journal);
}

static void the_work_on_each_call_is_known(void **state)
{
	int64_t work_us[SAMPLE_CALLS + 1] = {0}, aside_us = 0;
	struct script script = sample_script();
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));

	sample_append(journal, JOURNAL_STARTED, 1, false, 0);
	sample_append(journal, JOURNAL_RESUME, 1, true, 50);
	sample_append(journal, JOURNAL_NEXT, 2, true, 1000);
	sample_append(journal, JOURNAL_NEXT, 3, true, 3000);
	sample_append(journal, JOURNAL_BACK, 2, true, 7000);
	sample_append(journal, JOURNAL_PAUSE, 2, false, 15000);
	sample_append(journal, JOURNAL_RESUME, 2, true, 90000);
	/* Cut off here. */
	assert_int_equal(journal_resume(journal, sample_open_job(journal)), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 2, false, 100);
	sample_append(journal, JOURNAL_RESUME, 2, true, 200);
	sample_append(journal, JOURNAL_STOPPED, 2, false, 216);
	assert_int_equal(
		journal_work(journal, sample_open_job(journal), &script, work_us, &aside_us),
		JOURNAL_OK);
	assert_int_equal(work_us[1], 950);
	assert_int_equal(work_us[2], 2000 + 8000 + 16);
	assert_int_equal(work_us[3], 4000);
	assert_int_equal(work_us[4], 0);
	assert_int_equal(journal_work(journal, 999, &script, work_us, &aside_us), JOURNAL_OK);
	assert_int_equal(aside_us, 0);
	journal_close(journal);
}

/* At call 12 it goes back: calls 11 and 12 again, and then the rest. */
static struct script with_way_back(struct script_mishap *mishap)
{
	struct script script = sample_script();
	static struct script_line lines[SAMPLE_CALLS + 2];

	for (int i = 0; i < SAMPLE_CALLS + 2; i++) {
		lines[i] = script.lines[i < 12 ? i : i - 2];
		lines[i].call = i < 12 ? i + 1 : SAMPLE_CALLS + 2 + i - 12;
		lines[i].mishap = i >= 12 && i < 14;
	}
	*mishap = (struct script_mishap){.kind = "redo",
					 .string = "cross",
					 .number = 1,
					 .line = 12,
					 .made = 11,
					 .undone = 2};
	script.lines = lines;
	script.count = SAMPLE_CALLS + 2;
	script.mishaps = mishap;
	script.mishap_count = 1;
	return script;
}

static void a_way_back_is_written_in_one_piece(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct script_mishap mishap;
	struct script script = with_way_back(&mishap), *kept = NULL;
	int64_t work_us[SAMPLE_CALLS + 3] = {0}, aside_us = 0, job;
	struct journal_job now;

	sample_append(journal, JOURNAL_STARTED, 1, false, 0);
	sample_append(journal, JOURNAL_RESUME, 12, true, 50);
	sample_append(journal, JOURNAL_NEXT, 13, true, 150);
	sample_append(journal, JOURNAL_BACK, 12, true, 157);
	struct journal_event event = sample_event(JOURNAL_MISHAP, SAMPLE_CALLS + 2, true, 1150);
	event.detail = "redo cross 1";
	assert_int_equal(journal_go_back(journal, &script, &event), JOURNAL_OK);
	sample_append(journal, JOURNAL_NEXT, SAMPLE_CALLS + 3, true, 2150);
	sample_append(journal, JOURNAL_NEXT, SAMPLE_CALLS + 4, true, 4150);
	/* The same once more is refused by the table of calls: all of it, or nothing. */
	assert_int_not_equal(journal_go_back(journal, &script, &event), JOURNAL_OK);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM event WHERE kind = 'mishap'"),
			 1);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM mishap"), 1);
	sample_append(journal, JOURNAL_NEXT, SAMPLE_CALLS + 5, true, 8150);

	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM call"), SAMPLE_CALLS + 10);
	assert_int_equal(sample_ask(journal, "SELECT work_us FROM mishap_time"), 3000);
	assert_int_equal(sample_ask(journal, "SELECT undone FROM mishap_time"), 2);
	job = sample_open_job(journal);
	assert_int_equal(journal_find(journal, NULL, &now), JOURNAL_OK);
	assert_int_equal(now.call, SAMPLE_CALLS + 5);
	assert_int_equal(now.place, 16);
	assert_int_equal(now.places, SAMPLE_CALLS + 2);
	journal_job_free(&now);
	assert_int_equal(journal_script(journal, job, &kept), JOURNAL_OK);
	assert_int_equal(script_place(kept, SAMPLE_CALLS + 5), 16);
	assert_int_equal(kept->mishap_count, 1);
	assert_string_equal(kept->mishaps[0].string, "cross");
	assert_int_equal(journal_work(journal, job, kept, work_us, &aside_us), JOURNAL_OK);
	assert_int_equal(work_us[12], 100 + 993);
	assert_int_equal(work_us[13], 1000);
	assert_int_equal(work_us[15], 4000);
	assert_int_equal(aside_us, 7); /* on call 13, which it replaced */
	script_free(kept);

	/* Merged, it is the same; and the longer copy takes the place of the shorter one. */
	const char *other = sample_path(state, "other.db");
	struct journal *copy = sample_open(sample_path(state, "copy.db"));
	struct journal_merged merged;
	assert_int_equal(journal_backup(journal, other), JOURNAL_OK);
	assert_int_equal(journal_merge(copy, other, &merged), JOURNAL_OK);
	assert_int_equal(merged.added, 1);
	assert_int_equal(sample_ask(copy, "SELECT work_us FROM mishap_time"), 3000);
	sample_append(journal, JOURNAL_FINISHED, SAMPLE_CALLS + 12, false, 9000);
	assert_int_equal(journal_backup(journal, other), JOURNAL_OK);
	assert_int_equal(journal_merge(copy, other, &merged), JOURNAL_OK);
	assert_int_equal(merged.lengthened, 1);
	assert_int_equal(sample_ask(copy, "SELECT count(*) FROM call"), SAMPLE_CALLS + 10);
	assert_int_equal(sample_ask(copy, "SELECT count(*) FROM mishap"), 1);
	journal_close(copy);
	journal_close(journal);
}

static void a_script_is_kept_until_the_job_is_over(void **state)
{
	static const enum journal_kind ends[] = {JOURNAL_FINISHED, JOURNAL_ABANDONED};
	const char *path = sample_path(state, "journal.db");
	const struct script script = sample_script();

	for (int i = 0; i < 2; i++) {
		struct script *kept = NULL;
		struct text want = {0}, got = {0};
		struct journal *journal = sample_begin(path);
		int64_t job = sample_open_job(journal);
		sample_append(journal, JOURNAL_STARTED, 1, true, 0);
		sample_append(journal, JOURNAL_STOPPED, 1, false, 10);
		journal_close(journal);

		journal = sample_open(path);
		assert_int_equal(journal_script(journal, job, &kept), JOURNAL_OK);
		script_pack(&script, &want);
		script_pack(kept, &got);
		assert_int_equal(got.length, want.length);
		assert_memory_equal(got.bytes, want.bytes, want.length);
		script_free(kept);
		assert_int_equal(journal_resume(journal, job), JOURNAL_OK);
		sample_append(journal, ends[i], 1, false, 20);
		assert_int_equal(journal_script(journal, job, &kept), JOURNAL_NONE);
		assert_null(kept);
		assert_int_equal(sample_ask(journal, "SELECT count(*) FROM call WHERE job = 1"),
				 SAMPLE_CALLS);
		journal_close(journal);
		text_free(&want);
		text_free(&got);
	}
}

static void sleep_is_pause_and_not_work(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct journal_event event;

	sample_append(journal, JOURNAL_STARTED, 1, true, 0);
	event = sample_event(JOURNAL_NEXT, 2, true, 10);
	event.boot_us += 5000; /* slept during call 1 */
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	event = sample_event(JOURNAL_PAUSE, 2, false, 30);
	event.boot_us += 5000;
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	event = sample_event(JOURNAL_RESUME, 2, true, 70);
	event.boot_us += 905000; /* and during the pause */
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	assert_int_equal(sample_ask(journal, "SELECT work_us FROM job_time"), 30);
	assert_int_equal(sample_ask(journal, "SELECT pause_us FROM job_time"), 900040);
	assert_int_equal(sample_ask(journal, "SELECT pause_us FROM pause_time"), 900040);
	journal_close(journal);
}

static void a_finish_taken_back_is_open_again(void **state)
{
	struct journal_job job;
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));

	sample_append(journal, JOURNAL_FINISHED, SAMPLE_CALLS + 1, false, 0);
	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_NONE);
	sample_append(journal, JOURNAL_UNDO, SAMPLE_CALLS, true, 10);
	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_OK);
	assert_int_equal(job.call, SAMPLE_CALLS);
	journal_job_free(&job);
	sample_append(journal, JOURNAL_ABANDONED, SAMPLE_CALLS, false, 20);
	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_NONE);
	journal_close(journal);
}

static void jobs_are_found_by_number_uuid_and_name(void **state)
{
	struct journal_job job;
	struct script script = sample_script(), other = sample_script();
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	char *uuid = asked(journal, first_uuid);

	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	other.job = "77";
	assert_int_equal(journal_begin(journal, &other, sample_wall_us), JOURNAL_OK);
	const struct {
		const char *which;
		int64_t job;
	} cases[] = {{"1", 1}, {"2", 2}, {uuid, 1}, {"ridge-court-0042", 2}};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		assert_int_equal(journal_find(journal, cases[i].which, &job), JOURNAL_OK);
		assert_int_equal(job.number, cases[i].job);
		journal_job_free(&job);
	}
	free(uuid);
	static const char *const absent[] = {"4", "0", "77", "ridge", "", "99999999999999999999"};
	for (size_t i = 0; i < sizeof absent / sizeof absent[0]; i++)
		assert_int_equal(journal_find(journal, absent[i], &job), JOURNAL_NONE);
	assert_non_null(strstr(journal_message(journal), "\"99999999999999999999\""));
	journal_close(journal);
}

static void uuid_is_version_4(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	char *uuid = asked(journal, first_uuid);

	/* RFC 9562, section 5.4: version 4 in the 13th digit, variant 10 in the 17th. */
	assert_int_equal(strlen(uuid), 36);
	assert_int_equal(uuid[14], '4');
	assert_non_null(strchr("89ab", uuid[19]));
	assert_int_equal(strspn(uuid, "0123456789abcdef-"), 36);
	free(uuid);
	journal_close(journal);
}

static void one_program_writes_others_read(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct journal *writer = sample_begin(path), *other = NULL;
	struct journal_job job;
	char *error = NULL;
	char process[32];

	sample_append(writer, JOURNAL_STARTED, 1, true, 0);
	assert_int_equal(journal_open(path, JOURNAL_WRITE, &other, &error), JOURNAL_BUSY);
	assert_null(other);
	assert_non_null(strstr(error, "another program is writing it"));
	snprintf(process, sizeof process, "process %d", (int)getpid());
	assert_non_null(strstr(error, process));
	free(error);

	assert_int_equal(journal_open(path, JOURNAL_READ, &other, &error), JOURNAL_OK);
	sample_append(writer, JOURNAL_NEXT, 2, true, 10);
	assert_int_equal(journal_find(other, NULL, &job), JOURNAL_OK);
	assert_int_equal(job.call, 2);
	journal_job_free(&job);
	struct script script = sample_script();
	assert_int_equal(journal_begin(other, &script, sample_wall_us), JOURNAL_READ_ONLY);
	journal_close(other);

	sample_append(writer, JOURNAL_NEXT, 3, true, 20);
	journal_close(writer);
	writer = sample_open(path);
	journal_close(writer);
}

/* A child writes until it is killed; it reports each event once the journal has taken it. */
static int write_until_killed(const char *path, int report)
{
	struct journal *journal = NULL;
	char *error = NULL;
	const struct script script = sample_script();

	if (journal_open(path, JOURNAL_WRITE, &journal, &error) != JOURNAL_OK ||
	    journal_begin(journal, &script, sample_wall_us) != JOURNAL_OK)
		return 1;
	for (int i = 0;; i++) {
		struct journal_event event = sample_event(JOURNAL_NEXT, i % 20 + 1, true, i);
		if (journal_append(journal, &event) != JOURNAL_OK ||
		    write(report, &i, sizeof i) != sizeof i)
			return 1;
	}
}

static void killed_at_any_moment_nothing_acknowledged_is_lost(void **state)
{
	const char *path = sample_path(state, "journal.db");

	for (int round = 0; round < 20; round++) {
		int pipe_ends[2], acknowledged = -1, i;
		struct journal_job job;

		assert_int_equal(pipe(pipe_ends), 0);
		pid_t child = fork();
		assert_true(child >= 0);
		if (child == 0) {
			close(pipe_ends[0]);
			_exit(write_until_killed(path, pipe_ends[1]));
		}
		close(pipe_ends[1]);
		for (int wanted = 3 * round; acknowledged < wanted; acknowledged = i)
			assert_int_equal(read(pipe_ends[0], &i, sizeof i), sizeof i);
		kill(child, SIGKILL);
		while (read(pipe_ends[0], &i, sizeof i) == sizeof i)
			acknowledged = i;
		close(pipe_ends[0]);
		assert_int_equal(waitpid(child, NULL, 0), child);

		/* The kernel has let go of the lock; the event after the last acknowledged one may
		 * be there too. */
		struct journal *journal = sample_open(path);
		char number[16];
		snprintf(number, sizeof number, "%d", round + 1);
		assert_int_equal(journal_find(journal, number, &job), JOURNAL_OK);
		int events = (int)(job.last_wall_us - sample_wall_us) + 1;
		assert_in_range(events, acknowledged + 1, acknowledged + 2);
		assert_int_equal(job.call, (events - 1) % 20 + 1);
		journal_job_free(&job);
		journal_close(journal);
	}
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(is_made_private),
		TEST(a_job_stands_at_the_call_of_its_last_event),
		TEST(the_work_on_each_call_is_known),
		TEST(a_way_back_is_written_in_one_piece),
		TEST(a_script_is_kept_until_the_job_is_over),
		TEST(sleep_is_pause_and_not_work),
		TEST(a_finish_taken_back_is_open_again),
		TEST(jobs_are_found_by_number_uuid_and_name),
		TEST(uuid_is_version_4),
		TEST(one_program_writes_others_read),
		TEST(killed_at_any_moment_nothing_acknowledged_is_lost),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
