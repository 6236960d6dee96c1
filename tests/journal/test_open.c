/* What may stand where the journal should be, and what becomes of it. */
#include "journal/journal.h"
#include "journal/sample.h"

#include <fcntl.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <sys/wait.h>

static void write_bytes(const char *path, long offset, const char *bytes, size_t length)
{
	int file = open(path, O_WRONLY | O_CREAT, 0600);

	assert_true(file >= 0);
	assert_int_equal(pwrite(file, bytes, length, offset), length);
	close(file);
}

static char *read_bytes(const char *path, size_t *length)
{
	FILE *file = fopen(path, "rb");
	char *bytes = NULL;

	*length = 0;
	if (!file)
		return NULL;
	fseek(file, 0, SEEK_END);
	*length = (size_t)ftell(file);
	rewind(file);
	bytes = malloc(*length + 1);
	assert_int_equal(fread(bytes, 1, *length, file), *length);
	fclose(file);
	return bytes;
}

static void run_sql(const char *path, const char *sql)
{
	sqlite3 *database = NULL;

	assert_int_equal(sqlite3_open(path, &database), SQLITE_OK);
	if (sqlite3_exec(database, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(database));
	assert_int_equal(sqlite3_close(database), SQLITE_OK);
}

/* A journal with a job and some events in it, closed. */
static void write_journal(const char *path)
{
	struct journal *journal = sample_begin(path);

	for (int i = 0; i < 200; i++)
		sample_append(journal, JOURNAL_NEXT, i % 20 + 1, true, i);
	journal_close(journal);
}

static void make_folder(const char *path)
{
	assert_int_equal(mkdir(path, 0700), 0);
}

static void make_text(const char *path)
{
	static const char text[] = "a shopping list, kept for years\n";

	write_bytes(path, 0, text, sizeof text - 1);
}

static void make_short(const char *path)
{
	write_bytes(path, 0, "x", 1);
}

static void make_zeros(const char *path)
{
	static const char zeros[8192];

	write_bytes(path, 0, zeros, sizeof zeros);
}

static void make_other_database(const char *path)
{
	run_sql(path, "CREATE TABLE song (title TEXT); PRAGMA application_id = 7");
}

static void make_newer(const char *path)
{
	write_journal(path);
	run_sql(path, "PRAGMA user_version = 3");
}

static void make_truncated(const char *path)
{
	struct stat found;

	write_journal(path);
	assert_int_equal(stat(path, &found), 0);
	assert_int_equal(truncate(path, found.st_size / 2), 0);
}

/* The second page is the root of the table of jobs. */
static void make_scribbled(const char *path)
{
	char scribble[4096];

	write_journal(path);
	memset(scribble, 0xa5, sizeof scribble);
	write_bytes(path, 4096, scribble, sizeof scribble);
}

static void make_headless(const char *path)
{
	static const char zeros[4096];

	write_journal(path);
	write_bytes(path, 0, zeros, sizeof zeros);
}

static const struct {
	const char *what;
	void (*make)(const char *path);
	enum journal_status write, read;
	const char *says;
} stands[] = {
	{"folder", make_folder, JOURNAL_NOT_OURS, JOURNAL_NOT_OURS, "folder"},
	{"text", make_text, JOURNAL_NOT_OURS, JOURNAL_NOT_OURS, "not a journal"},
	{"short", make_short, JOURNAL_NOT_OURS, JOURNAL_NOT_OURS, "not a journal"},
	{"database", make_other_database, JOURNAL_NOT_OURS, JOURNAL_NOT_OURS, "not a journal"},
	{"newer", make_newer, JOURNAL_NEWER, JOURNAL_NEWER, "its version 3, known here up to 2"},
	{"zeros", make_zeros, JOURNAL_CORRUPT, JOURNAL_CORRUPT, "first page"},
	{"headless", make_headless, JOURNAL_CORRUPT, JOURNAL_CORRUPT, "first page"},
	{"truncated", make_truncated, JOURNAL_CORRUPT, JOURNAL_CORRUPT, "damaged"},
	{"scribbled", make_scribbled, JOURNAL_CORRUPT, JOURNAL_OK, "damaged"},
};

static void what_is_not_a_journal_is_told_and_left_alone(void **state)
{
	for (size_t i = 0; i < sizeof stands / sizeof stands[0]; i++) {
		const char *path = sample_path(state, stands[i].what);
		struct journal *journal = NULL;
		char *error = NULL;
		size_t before_size, after_size;
		stands[i].make(path);
		bool folder = stands[i].make == make_folder;
		char *before = folder ? NULL : read_bytes(path, &before_size);

		enum journal_status status = journal_open(path, JOURNAL_WRITE, &journal, &error);
		if (status != stands[i].write)
			fail_msg("%s to write: %d, %s", stands[i].what, status, error);
		assert_null(journal);
		if (!strstr(error, stands[i].says) || !strstr(error, path) || strchr(error, '\n'))
			fail_msg("%s: %s", stands[i].what, error);
		free(error);
		status = journal_open(path, JOURNAL_READ, &journal, &error);
		if (status != stands[i].read)
			fail_msg("%s to read: %d, %s", stands[i].what, status, error);
		journal_close(journal);
		free(error);

		if (before) {
			char *after = read_bytes(path, &after_size);
			assert_int_equal(before_size, after_size);
			assert_memory_equal(before, after, before_size);
			free(after);
		}
		free(before);
	}
}

static void nothing_and_an_empty_file_become_a_journal(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct journal *journal = NULL;
	char *error = NULL;

	assert_int_equal(journal_open(path, JOURNAL_READ, &journal, &error), JOURNAL_NONE);
	free(error);
	assert_int_equal(access(path, F_OK), -1);
	write_bytes(path, 0, "", 0);
	assert_int_equal(journal_open(path, JOURNAL_READ, &journal, &error), JOURNAL_NONE);
	free(error);
	write_journal(path);
}

static void a_damaged_journal_is_set_aside_as_it_is(void **state)
{
	const char *path = sample_path(state, "journal.db");
	char *before, *after, *aside, *second, *error, scribble[4096], log[SAMPLE_PATH_MAX + 40];
	size_t before_size, after_size;

	/* Left without being closed, so that there is a log; then damaged. */
	pid_t child = fork();
	assert_true(child >= 0);
	if (child == 0) {
		struct journal *journal = sample_begin(path);
		for (int i = 0; i < 50; i++)
			sample_append(journal, JOURNAL_NEXT, i % 20 + 1, true, i);
		_exit(0);
	}
	assert_int_equal(waitpid(child, NULL, 0), child);
	memset(scribble, 0xa5, sizeof scribble);
	write_bytes(path, 4096, scribble, sizeof scribble);
	snprintf(log, sizeof log, "%s-wal", path);
	write_bytes(log, 5000, scribble, 100);
	before = read_bytes(log, &before_size);
	assert_true(before_size > 10000);

	struct journal *journal = NULL;
	assert_int_equal(journal_open(path, JOURNAL_WRITE, &journal, &error), JOURNAL_CORRUPT);
	free(error);
	assert_int_equal(journal_set_aside(path, &aside, &error), JOURNAL_OK);
	assert_int_equal(access(path, F_OK), -1);
	snprintf(log, sizeof log, "%s-wal", aside);
	after = read_bytes(log, &after_size);
	assert_int_equal(before_size, after_size);
	assert_memory_equal(before, after, before_size);
	free(before);
	free(after);

	/* Work goes on in a new one; and the same may happen again in the same second. */
	write_journal(path);
	assert_int_equal(journal_set_aside(path, &second, &error), JOURNAL_OK);
	assert_string_not_equal(aside, second);
	free(aside);
	free(second);

	/* Not while somebody is writing it. */
	journal = sample_begin(path);
	assert_int_equal(journal_set_aside(path, &aside, &error), JOURNAL_BUSY);
	free(error);
	journal_close(journal);
	assert_int_equal(journal_set_aside(sample_path(state, "none/such"), &aside, &error),
			 JOURNAL_IO);
	free(error);
}

/* A log that lost its journal must not be played into the next one. */
static void a_stray_log_is_moved_away(void **state)
{
	const char *path = sample_path(state, "journal.db");
	char log[SAMPLE_PATH_MAX + 8];
	struct journal_job job;
	pid_t child = fork();

	assert_true(child >= 0);
	if (child == 0) {
		sample_append(sample_begin(path), JOURNAL_NEXT, 2, true, 0);
		_exit(0);
	}
	assert_int_equal(waitpid(child, NULL, 0), child);
	snprintf(log, sizeof log, "%s-wal", path);
	assert_int_equal(access(log, F_OK), 0);
	assert_int_equal(unlink(path), 0);
	struct journal *journal = sample_open(path);
	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_NONE);
	journal_close(journal);
	assert_int_equal(access(sample_path(state, "journal.db-wal.stray"), F_OK), 0);
}

/* In a child, as a user who is not root: root may write everything. */
static enum journal_status open_as_nobody(const char *path, enum journal_mode mode)
{
	pid_t child = fork();
	int status = 0;

	assert_true(child >= 0);
	if (child == 0) {
		struct journal *journal = NULL;
		char *error = NULL;
		if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
			_exit(99);
		_exit((int)journal_open(path, mode, &journal, &error));
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status));
	return (enum journal_status)WEXITSTATUS(status);
}

static void what_may_only_be_read_is_read(void **state)
{
	const char *folder = *state, *path = sample_path(state, "journal.db");

	write_journal(path);
	assert_int_equal(chmod(folder, 0755), 0);
	assert_int_equal(chmod(path, 0444), 0);
	assert_int_equal(chmod(sample_path(state, "journal.db.lock"), 0444), 0);
	assert_int_equal(open_as_nobody(path, JOURNAL_READ), JOURNAL_OK);
	if (geteuid() != 0)
		assert_int_equal(chmod(folder, 0555), 0);
	assert_int_equal(open_as_nobody(path, JOURNAL_WRITE), JOURNAL_READ_ONLY);
	assert_int_equal(open_as_nobody(path, JOURNAL_READ), JOURNAL_OK);
	const char *deeper = sample_path(state, "no/where/journal.db");
	assert_int_equal(open_as_nobody(deeper, JOURNAL_WRITE), JOURNAL_READ_ONLY);
	assert_int_equal(chmod(path, 0000), 0);
	assert_int_equal(open_as_nobody(path, JOURNAL_READ), JOURNAL_READ_ONLY);
	assert_int_equal(chmod(folder, 0755), 0);
}

static void moved_away_while_in_use(void **state)
{
	const char *path = sample_path(state, "journal.db");
	const char *elsewhere = sample_path(state, "elsewhere.db");
	struct journal *journal = sample_begin(path);
	struct journal_event event = sample_event(JOURNAL_NEXT, 2, true, 0);

	assert_int_equal(rename(path, elsewhere), 0);
	assert_int_equal(journal_append(journal, &event), JOURNAL_IO);
	assert_non_null(strstr(journal_message(journal), "moved or removed"));
	for (event.call = 3; event.call < JOURNAL_WAITING_MAX + 10; event.call++)
		assert_int_equal(journal_append(journal, &event), JOURNAL_IO);
	assert_int_equal(rename(elsewhere, path), 0);
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM event"), JOURNAL_WAITING_MAX);
	assert_int_equal(sample_ask(journal, "SELECT max(call) FROM event"), event.call);
	journal_close(journal);
}

static void the_default_place(void **state)
{
	(void)state;
	static const struct {
		const char *journal, *data, *home, *want;
	} cases[] = {
		{"/a/b.db", "/data", "/home/x", "/a/b.db"},
		{"", "/data", "/home/x", "/data/pullcall/journal.db"},
		{NULL, "/data", "/home/x", "/data/pullcall/journal.db"},
		{NULL, "relative", "/home/x", "/home/x/.local/share/pullcall/journal.db"},
		{NULL, NULL, "/home/x", "/home/x/.local/share/pullcall/journal.db"},
		{NULL, NULL, NULL, NULL},
	};
	static const char *const names[] = {"PULLCALL_JOURNAL", "XDG_DATA_HOME", "HOME"};

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		const char *values[] = {cases[i].journal, cases[i].data, cases[i].home};
		for (int k = 0; k < 3; k++) {
			if (values[k])
				setenv(names[k], values[k], 1);
			else
				unsetenv(names[k]);
		}
		char *path = journal_default_path();
		if (cases[i].want)
			assert_string_equal(path, cases[i].want);
		else
			assert_null(path);
		free(path);
	}
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(what_is_not_a_journal_is_told_and_left_alone),
		TEST(nothing_and_an_empty_file_become_a_journal),
		TEST(a_damaged_journal_is_set_aside_as_it_is),
		TEST(a_stray_log_is_moved_away),
		TEST(what_may_only_be_read_is_read),
		TEST(moved_away_while_in_use),
		cmocka_unit_test(the_default_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
