/* Creates a journal under a temporary name, syncs it and renames it, so that a power cut never
 * leaves half a journal under the final name. */
#include "journal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

/* SQLite would make the file readable by everybody, and would reuse what an interrupted attempt
 * left. */
static int make_empty(const char *path)
{
	unlink(path);
	int descriptor = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);

	if (descriptor < 0)
		return errno;
	close(descriptor);
	return 0;
}

static enum journal_status write_whole(struct journal *journal, const char *doing)
{
	enum journal_status status =
		journal_run(journal, doing, "PRAGMA synchronous = FULL; BEGIN");

	if (status == JOURNAL_OK)
		status = journal_write_schema(journal, doing);
	return status == JOURNAL_OK
		       ? journal_run(journal, doing, "COMMIT; PRAGMA journal_mode = WAL")
		       : status;
}

static enum journal_status build(struct journal *journal, const char *path)
{
	int result = sqlite3_open_v2(path, &journal->database, SQLITE_OPEN_READWRITE, NULL);
	enum journal_status status = result == SQLITE_OK
					     ? write_whole(journal, "begin it")
					     : journal_fail_sql(journal, "begin it", result);

	/* Closing moves the write-ahead log into the file and syncs it. */
	result = sqlite3_close(journal->database);
	journal->database = NULL;
	if (status == JOURNAL_OK && result != SQLITE_OK)
		status = journal_fail_sql(journal, "begin it", result);
	return status;
}

/* SQLite would replay a stray write-ahead log into the new journal: it is moved away. */
static enum journal_status move_into_place(struct journal *journal, const char *path)
{
	char *log = memory_format("%s-wal", journal->path), *stray = memory_format("%s.stray", log);
	int error = journal_sync(path);

	if (!error)
		error = journal_move(log, stray, "");
	free(log);
	free(stray);
	if (!error && rename(path, journal->path) != 0)
		error = errno;
	if (error)
		return journal_fail_errno(journal, "begin it", error);
	return journal_sync_folder(journal, journal->path);
}

enum journal_status journal_create(struct journal *journal)
{
	char *path = memory_format("%s.new", journal->path);
	int error = make_empty(path);
	enum journal_status status =
		error ? journal_fail_errno(journal, "begin it", error) : build(journal, path);

	if (status == JOURNAL_OK)
		status = move_into_place(journal, path);
	if (status != JOURNAL_OK)
		unlink(path);
	free(path);
	return status;
}
