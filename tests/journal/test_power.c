/* The power goes at every operation of a whole job; the disk is full at every write of one.
 *
 * An event counts as acknowledged when journal_append has said JOURNAL_OK: none of these may be
 * missing afterwards, and what is there must be the beginning of what was appended. */
#include "journal/disk.h"
#include "journal/journal.h"
#include "journal/sample.h"

#include <sys/stat.h>

/* SQLite moves the log into the file when it holds 1000 pages, each with a head of 24 bytes. */
enum { EVENTS = 48, EVENTS_AFTER = 16, LOG_ALMOST_FULL = 985 * (4096 + 24) };

struct run {
	const char *path;
	const char *before; /* the journal to go on with, or NULL */
	bool begun;         /* journal_begin said that it is */
	int acknowledged;   /* events */
	bool log_moved;     /* into the file, before closing */
};

/* Each event is told from all others by its time. */
static struct journal_event event_number(int i)
{
	static const enum journal_kind kinds[] = {JOURNAL_NEXT,  JOURNAL_ANNOUNCED, JOURNAL_NEXT,
						  JOURNAL_AGAIN, JOURNAL_BACK,      JOURNAL_NEXT};
	enum journal_kind kind = i == 0 ? JOURNAL_STARTED : kinds[i % 6];

	return sample_event(kind, i % 20 + 1, true, i);
}

static void copy_file(const char *path, const char *suffix, const char *to)
{
	char from[SAMPLE_PATH_MAX + 8], copy[SAMPLE_PATH_MAX + 8];
	static char bytes[LOG_ALMOST_FULL + 65536];

	snprintf(from, sizeof from, "%s%s", path, suffix);
	snprintf(copy, sizeof copy, "%s%s", to, suffix);
	FILE *in = fopen(from, "rb"), *out = fopen(copy, "wb");
	assert_true(in && out);
	size_t length = fread(bytes, 1, sizeof bytes, in);
	assert_true(length < sizeof bytes);
	assert_int_equal(fwrite(bytes, 1, length, out), length);
	fclose(in);
	fclose(out);
}

static void copy_journal(const char *path, const char *to)
{
	copy_file(path, "", to);
	copy_file(path, "-wal", to);
}

/* A journal with another job, so long that the log is just below where it is moved into the file;
 * copied while open, as closing would move it. */
static void write_prefilled(const char *path, const char *to)
{
	struct journal *journal = sample_begin(path);
	struct stat log = {0};
	char name[SAMPLE_PATH_MAX + 8];

	snprintf(name, sizeof name, "%s-wal", path);
	/* Before the other one is begun: the job worked on last is the one to go on with. */
	while (log.st_size < LOG_ALMOST_FULL) {
		sample_append(journal, JOURNAL_NEXT, 1, false, 0);
		assert_int_equal(stat(name, &log), 0);
	}
	copy_journal(path, to);
	journal_close(journal);
}

static off_t size_of(const char *path)
{
	struct stat found;

	return stat(path, &found) == 0 ? found.st_size : 0;
}

/* With a full log the first few events are the ones of interest. */
static int events_of(const struct run *run)
{
	return run->before ? EVENTS_AFTER : EVENTS;
}

/* Goes on until something fails or the job is done; then closes, which may fail too. */
static void run_job(struct run *run)
{
	struct journal *journal = NULL;
	char *error = NULL;
	const struct script script = sample_script();

	if (journal_open(run->path, JOURNAL_WRITE, &journal, &error) != JOURNAL_OK) {
		free(error);
		return;
	}
	run->begun = journal_begin(journal, &script, sample_wall_us) == JOURNAL_OK;
	for (int i = 0; run->begun && i < events_of(run); i++) {
		struct journal_event event = event_number(i);
		if (journal_append(journal, &event) != JOURNAL_OK)
			break;
		run->acknowledged++;
	}
	run->log_moved = run->before && size_of(run->path) > size_of(run->before);
	journal_close(journal);
}

static void is_sound(struct journal *journal)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;

	assert_int_equal(journal_query(journal, "PRAGMA integrity_check", NULL, &statement),
			 JOURNAL_OK);
	assert_int_equal(journal_step(journal, statement, &row), JOURNAL_OK);
	assert_string_equal((const char *)sqlite3_column_text(statement, 0), "ok");
	sqlite3_finalize(statement);
}

/* The events of the last job are event 0, 1, 2 ... in order; how many there are. */
static int events_in_order(struct journal *journal)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;
	int count = 0;

	assert_int_equal(journal_query(journal,
				       "SELECT seq, kind, call, steady_us FROM event WHERE job = "
				       "(SELECT max(id) FROM job) ORDER BY seq",
				       NULL, &statement),
			 JOURNAL_OK);
	while (journal_step(journal, statement, &row) == JOURNAL_OK && row) {
		struct journal_event want = event_number(count++);
		assert_int_equal(sqlite3_column_int(statement, 0), count);
		assert_string_equal((const char *)sqlite3_column_text(statement, 1),
				    journal_kind_names[want.kind]);
		assert_int_equal(sqlite3_column_int(statement, 2), want.call);
		assert_int_equal(sqlite3_column_int64(statement, 3), want.steady_us);
	}
	sqlite3_finalize(statement);
	return count;
}

/* What the next start finds; it must be able to go on. */
static void check_after(const struct run *run, long operation)
{
	struct journal *journal = sample_open(run->path);
	struct journal_job job;

	is_sound(journal);
	enum journal_status status = journal_find(journal, NULL, &job);
	if (run->begun && status != JOURNAL_OK)
		fail_msg("operation %ld: the job is lost", operation);
	if (status == JOURNAL_OK) {
		assert_int_equal(job.calls, SAMPLE_CALLS);
		journal_job_free(&job);
	}
	if (run->before && !run->begun) { /* the last job is the long one */
		assert_int_equal(status, JOURNAL_OK);
		journal_close(journal);
		return;
	}
	int events = events_in_order(journal);
	if (events < run->acknowledged || events > run->acknowledged + 1)
		fail_msg("operation %ld: %d events acknowledged, %d found", operation,
			 run->acknowledged, events);
	if (run->begun) {
		struct journal_event event = event_number(events);
		assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_OK);
		assert_int_equal(journal_resume(journal, job.number), JOURNAL_OK);
		journal_job_free(&job);
		assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
		assert_int_equal(events_in_order(journal), events + 1);
	}
	journal_close(journal);
}

static void remove_journal(const char *path)
{
	static const char *const suffixes[] = {"",         "-wal",       "-shm",
					       "-journal", "-wal.stray", ".lock"};
	char name[SAMPLE_PATH_MAX + 16];

	for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
		snprintf(name, sizeof name, "%s%s", path, suffixes[i]);
		unlink(name);
	}
}

static void lose_power_at(const char *path, const char *before, long operation, unsigned seed)
{
	struct run run = {.path = path, .before = before};

	if (before)
		copy_journal(before, path);
	disk_start();
	disk_power_off_at(operation, seed);
	run_job(&run);
	if (!disk_is_off())
		fail_msg("operation %ld was never reached", operation);
	disk_restore();
	disk_stop();
	disk_start(); /* for its speed only: nothing fails from now on */
	check_after(&run, operation);
	disk_stop();
	remove_journal(path);
}

/* seed 0: nothing that was not synced is on the medium; else each sector of it is or is not. */
static void lose_power_at_every_operation(void **state, const char *before, unsigned seed)
{
	const char *path = sample_path(state, "journal.db");
	struct run whole = {.path = path, .before = before};

	if (before)
		copy_journal(before, path);
	disk_start();
	run_job(&whole);
	long operations = disk_operations();
	disk_stop();
	remove_journal(path);
	assert_int_equal(whole.acknowledged, events_of(&whole));
	assert_int_equal(whole.log_moved, before != NULL);
	print_message("power lost at each of %ld operations, seed %u\n", operations, seed);
	for (long k = 0; k < operations; k++)
		lose_power_at(path, before, k, seed ? seed + (unsigned)k : 0);
}

static void nothing_unsynced_survives(void **state)
{
	lose_power_at_every_operation(state, NULL, 0);
}

static void half_of_the_unsynced_survives(void **state)
{
	lose_power_at_every_operation(state, NULL, 1987);
}

static void while_the_log_is_moved_into_the_file(void **state)
{
	const char *path = sample_path(state, "journal.db");
	char before[SAMPLE_PATH_MAX];

	snprintf(before, sizeof before, "%s/before.db", (const char *)*state);
	write_prefilled(path, before);
	remove_journal(path);
	lose_power_at_every_operation(state, before, 0);
	lose_power_at_every_operation(state, before, 42);
}

/* A journal of version 1 is brought up to date, or it is not yet: nothing in between. */
static void while_version_1_is_brought_up_to_date(void **state)
{
	const char *path = sample_path(state, "journal.db");
	long operations = 1;

	for (long k = 0; k <= operations; k++) {
		struct journal *journal = NULL;
		struct journal_job job;
		char *error = NULL;
		copy_file(SOURCE_DIR "/tests/journal/version-1.db", "", path);
		disk_start();
		if (k > 0) /* the first round only counts */
			disk_power_off_at(k - 1, k % 2 ? 0 : (unsigned)k);
		if (journal_open(path, JOURNAL_WRITE, &journal, &error) == JOURNAL_OK)
			journal_close(journal);
		if (k == 0)
			operations = disk_operations();
		assert_int_equal(disk_is_off(), k > 0);
		if (k > 0)
			disk_restore();
		disk_stop();
		free(error);
		/* To read: of either version, whole. */
		assert_int_equal(journal_open(path, JOURNAL_READ, &journal, &error), JOURNAL_OK);
		is_sound(journal);
		assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_OK);
		assert_int_equal(job.call, 38);
		journal_job_free(&job);
		journal_close(journal);
		journal = sample_open(path);
		is_sound(journal);
		assert_int_equal(journal_resume(journal, sample_open_job(journal)), JOURNAL_OK);
		sample_append(journal, JOURNAL_STARTED, 38, false, 0);
		journal_close(journal);
		remove_journal(path);
	}
	print_message("power lost at each of %ld operations\n", operations);
	assert_true(operations > 5);
}

/* The same operations, but the file system holds back even what was synced: the test must see it.
 */
static void the_test_sees_a_disk_that_lies(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct run run = {.path = path};
	struct journal_job job;

	disk_start();
	disk_lie(true);
	disk_power_off_at(200, 0);
	run_job(&run);
	assert_true(run.acknowledged > 5);
	disk_restore();
	disk_stop();
	struct journal *journal = NULL;
	char *error = NULL;
	enum journal_status status = journal_open(path, JOURNAL_WRITE, &journal, &error);
	int events = status == JOURNAL_OK && journal_find(journal, NULL, &job) == JOURNAL_OK
			     ? events_in_order(journal)
			     : 0;
	assert_true(events < run.acknowledged);
	journal_close(journal);
	free(error);
}

/* Opens and begins, trying again while the disk is full. */
static struct journal *begin_in_the_end(const char *path, long write)
{
	struct journal *journal = NULL;
	char *error = NULL;
	enum journal_status status = JOURNAL_FULL;
	const struct script script = sample_script();

	for (int tries = 0; tries < 100 && status != JOURNAL_OK; tries++) {
		status = journal ? JOURNAL_OK : journal_open(path, JOURNAL_WRITE, &journal, &error);
		if (status == JOURNAL_OK)
			status = journal_begin(journal, &script, sample_wall_us);
		if (status != JOURNAL_OK && status != JOURNAL_FULL)
			fail_msg("write %ld: status %d, %s", write, status,
				 journal ? journal_message(journal) : error);
		free(error);
		error = NULL;
	}
	assert_int_equal(status, JOURNAL_OK);
	return journal;
}

/* The calling goes on while the disk is full, and when there is room again nothing is missing. */
static void fill_up_at(const char *path, long write, long length)
{
	disk_start();
	disk_full_at(write, length);
	struct journal *journal = begin_in_the_end(path, write);
	for (int i = 0; i < EVENTS; i++) {
		struct journal_event event = event_number(i);
		enum journal_status status = journal_append(journal, &event);
		if (status != JOURNAL_OK && status != JOURNAL_FULL)
			fail_msg("write %ld: %s", write, journal_message(journal));
	}
	bool room = disk_writes() > write + length;
	assert_true(room ? events_in_order(journal) == EVENTS : events_in_order(journal) <= EVENTS);
	is_sound(journal);
	disk_full_at(0, 0);
	journal_close(journal); /* now there is room in any case */
	journal = sample_open(path);
	assert_int_equal(events_in_order(journal), EVENTS);
	journal_close(journal);
	disk_stop();
	remove_journal(path);
}

static void full_for_a_while_at_every_write(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct run whole = {.path = path};

	disk_start();
	run_job(&whole);
	long writes = disk_writes();
	disk_stop();
	remove_journal(path);
	print_message("%ld writes, the disk full from each of them for 1 and for 25 writes\n",
		      writes);
	for (long w = 0; w < writes; w++) {
		fill_up_at(path, w, 1);
		fill_up_at(path, w, 25);
	}
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(nothing_unsynced_survives),
		TEST(half_of_the_unsynced_survives),
		TEST(while_the_log_is_moved_into_the_file),
		TEST(while_version_1_is_brought_up_to_date),
		TEST(the_test_sees_a_disk_that_lies),
		TEST(full_for_a_while_at_every_write),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
