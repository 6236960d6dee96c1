#include "journal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { CHECKED_BYTES_MAX = 32 * 1024 * 1024 }; /* some three thousand jobs */

/* 0 if there is no such file. */
static int64_t file_size(const char *path)
{
	struct stat found;

	return stat(path, &found) == 0 ? (int64_t)found.st_size : 0;
}

/* A journal that was closed properly has no log: closing moves it into the file. */
static bool has_log(const struct journal *journal)
{
	char *log = memory_format("%s-wal", journal->path);
	int64_t size = file_size(log);

	free(log);
	return size > 0;
}

/* A path as a URI; the option "immutable=1" tells SQLite that nobody can be writing the file. */
static char *uri_of(const char *path, const char *options)
{
	struct text uri = {0};

	text_add(&uri, "file:");
	for (; *path; path++) {
		if (strchr("%?#", *path))
			text_format(&uri, "%%%02x", (unsigned)*path);
		else
			text_add_char(&uri, *path);
	}
	text_format(&uri, "?%s", options);
	return text_take(&uri);
}

/* A journal may come from anywhere: its views and triggers may call nothing that reaches outside.
 */
static void distrust(sqlite3 *database)
{
	sqlite3_db_config(database, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
	sqlite3_db_config(database, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
}

static enum journal_status connect(struct journal *journal, const char *options)
{
	free(journal->uri);
	journal->uri = uri_of(journal->path, options);
	int result = sqlite3_open_v2(
		journal->uri, &journal->database,
		SQLITE_OPEN_READWRITE | SQLITE_OPEN_URI | SQLITE_OPEN_EXRESCODE, NULL);

	if (result != SQLITE_OK)
		return journal_fail_sql(journal, "open it", result);
	journal_touch_nothing_on_close(journal, true); /* until the file has passed every check */
	distrust(journal->database);
	sqlite3_busy_timeout(journal->database, JOURNAL_BUSY_MS);
	return journal_run(journal, "open it", "PRAGMA cell_size_check = ON");
}

/* A first page of zeros is how a disk loses a page: more likely a damaged journal than another
 * program's file. */
static enum journal_status explain_not_database(struct journal *journal)
{
	char head[16] = {0};
	static const char zeros[sizeof head];
	FILE *file = fopen(journal->path, "rb");
	bool read = file && fread(head, sizeof head, 1, file) == 1;

	if (file)
		fclose(file);
	if (read && memcmp(head, zeros, sizeof head) == 0)
		return journal_fail(journal, JOURNAL_CORRUPT, "its first page is gone");
	return JOURNAL_NOT_OURS;
}

static enum journal_status identify(struct journal *journal)
{
	int64_t application = 0, version = 0;
	enum journal_status status =
		journal_ask_int(journal, "PRAGMA application_id", &application);

	if (status == JOURNAL_NOT_OURS)
		return explain_not_database(journal);
	if (status == JOURNAL_OK)
		status = journal_ask_int(journal, "PRAGMA user_version", &version);
	if (status != JOURNAL_OK)
		return status;
	if (application != JOURNAL_APPLICATION || version < 1)
		return journal_fail(journal, JOURNAL_NOT_OURS, "it is not a journal of pullcall");
	if (version > JOURNAL_VERSION)
		return journal_fail(
			journal, JOURNAL_NEWER,
			"it was written by a newer pullcall (its version %d, known here "
			"up to %d)",
			(int)version, JOURNAL_VERSION);
	journal->version = (int)version;
	return JOURNAL_OK;
}

enum journal_status journal_check(struct journal *journal)
{
	char *answer = NULL;
	enum journal_status status =
		journal_ask_text(journal, "PRAGMA quick_check(1)", NULL, &answer);

	if (status == JOURNAL_OK && answer && strcmp(answer, "ok") != 0)
		status = journal_fail(journal, JOURNAL_CORRUPT, "the file is damaged");
	free(answer);
	return status;
}

/* Checking reads the whole file, at about 20 MB a second from a slow medium: not worth it for a
 * large journal that was closed properly. */
static bool is_to_be_checked(const struct journal *journal)
{
	return journal->was_left_open || file_size(journal->path) <= CHECKED_BYTES_MAX;
}

static enum journal_status prepare_to_write(struct journal *journal)
{
	int64_t ignored = 0;
	int moved = 0;

	if (sqlite3_db_readonly(journal->database, "main") != 0)
		return journal_fail(journal, JOURNAL_READ_ONLY, "it may only be read");
	/* Another program may have set the file aside before it was locked. */
	sqlite3_file_control(journal->database, "main", SQLITE_FCNTL_HAS_MOVED, &moved);
	if (moved)
		return journal_fail(journal, JOURNAL_BUSY, "another program has just moved it");
	if (chmod(journal->path, 0600) != 0 && errno != EPERM)
		return journal_fail_errno(journal, "make it private", errno);
	bool alone = journal->lock >= 0;
	enum journal_status status =
		alone && is_to_be_checked(journal) ? journal_check(journal) : JOURNAL_OK;
	if (status == JOURNAL_OK)
		status = journal_run(journal, "open it",
				     "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
				     "PRAGMA foreign_keys = ON; PRAGMA secure_delete = ON");
	if (status == JOURNAL_OK)
		status = journal_ask_int(journal, "SELECT count(*) FROM sqlite_schema", &ignored);
	if (status == JOURNAL_OK)
		journal_touch_nothing_on_close(journal, false);
	return status == JOURNAL_OK ? journal_migrate(journal) : status;
}

static enum journal_status open_to_write(struct journal *journal, bool share)
{
	enum journal_status status = journal_make_folders(journal);

	if (status == JOURNAL_OK && journal_is_missing(journal)) {
		status = journal_lock(journal);
		if (status == JOURNAL_OK && journal_is_missing(journal))
			status = journal_create(journal);
	}
	journal->was_left_open = has_log(journal);
	if (status == JOURNAL_OK)
		status = connect(journal, "mode=rw");
	if (status == JOURNAL_OK)
		status = identify(journal);
	bool lock = !share || journal->version != JOURNAL_VERSION;
	if (status == JOURNAL_OK && journal->lock < 0 && lock)
		status = journal_lock(journal);
	if (status == JOURNAL_OK)
		status = prepare_to_write(journal);
	return status;
}

/* SQLite cannot read a write-ahead log in a read-only folder; without a log the file is complete.
 */
static enum journal_status reopen_immutable(struct journal *journal)
{
	if (has_log(journal))
		return journal_fail(journal, JOURNAL_READ_ONLY,
				    "it was left open and its folder may not be written: copy it, "
				    "with its -wal file, to where that is allowed");
	sqlite3_close(journal->database);
	journal->database = NULL;
	enum journal_status status = connect(journal, "mode=ro&immutable=1");
	return status == JOURNAL_OK ? identify(journal) : status;
}

/* Brings an older journal up to date in memory, so that readers know only one version. */
static enum journal_status read_as_new(struct journal *journal)
{
	sqlite3 *memory = NULL;
	int result = sqlite3_open(":memory:", &memory);

	if (result == SQLITE_OK)
		result = journal_copy_pages(journal->database, memory);
	if (result != SQLITE_OK) {
		sqlite3_close(memory);
		return journal_fail_sql(journal, "read it", result);
	}
	sqlite3_close(journal->database);
	journal->database = memory;
	distrust(memory);
	return journal_migrate(journal);
}

static enum journal_status open_to_read(struct journal *journal)
{
	if (journal_is_missing(journal))
		return journal_fail(journal, JOURNAL_NONE, "there is none");
	enum journal_status status = connect(journal, "mode=ro");
	if (status == JOURNAL_OK)
		status = identify(journal);
	if (status == JOURNAL_READ_ONLY)
		status = reopen_immutable(journal);
	if (status == JOURNAL_OK && journal->version != JOURNAL_VERSION)
		status = read_as_new(journal);
	return status;
}

enum journal_status journal_open(const char *path, enum journal_mode mode, struct journal **out,
				 char **error)
{
	struct journal *journal = memory_new(1, sizeof *journal);

	journal->path = memory_copy(path);
	journal->lock = -1;
	enum journal_status status = mode == JOURNAL_READ
					     ? open_to_read(journal)
					     : open_to_write(journal, mode == JOURNAL_SHARE);
	*out = NULL;
	*error = NULL;
	if (status == JOURNAL_OK) {
		*out = journal;
		return status;
	}
	*error = memory_copy(journal_message(journal));
	journal_close(journal);
	return status;
}

void journal_close(struct journal *journal)
{
	if (!journal)
		return;
	journal_flush(journal);
	for (int i = 0; i < journal->waiting_count; i++)
		free(journal->waiting[i].detail);
	free(journal->waiting);
	sqlite3_close(journal->database);
	if (journal->lock >= 0)
		close(journal->lock); /* only now: closing the database may still write */
	free(journal->message);
	free(journal->path);
	free(journal->uri);
	free(journal);
}
