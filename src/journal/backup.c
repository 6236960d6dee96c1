#include "journal/internal.h"
#include "journal/journal.h"

#include "base/base.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static bool same_file(const char *one, const char *other)
{
	struct stat a, b;

	return stat(one, &a) == 0 && stat(other, &b) == 0 && a.st_dev == b.st_dev &&
	       a.st_ino == b.st_ino;
}

/* A backup may replace a journal or an empty file, nothing else. */
static enum journal_status may_replace(struct journal *journal, const char *file)
{
	struct journal *old = NULL;
	char *error = NULL;

	if (same_file(journal->path, file))
		return journal_fail(journal, JOURNAL_NOT_OURS, "it cannot be its own backup");
	enum journal_status status = journal_open(file, JOURNAL_READ, &old, &error);
	journal_close(old);
	free(error);
	if (status == JOURNAL_OK || status == JOURNAL_NONE)
		return JOURNAL_OK;
	return journal_fail(journal, JOURNAL_NOT_OURS,
			    "%s is there and is not a journal: it is not replaced", file);
}

/* The copy is in write-ahead mode like the original; a single file must not be. */
static int write_copy(sqlite3 *from, const char *path)
{
	sqlite3 *to = NULL;
	int result = sqlite3_open_v2(path, &to, SQLITE_OPEN_READWRITE, NULL);

	if (result == SQLITE_OK)
		result = journal_copy_pages(from, to);
	if (result == SQLITE_OK)
		result = sqlite3_exec(to, "PRAGMA journal_mode = DELETE", NULL, NULL, NULL);
	int closed = sqlite3_close(to);
	return result == SQLITE_OK ? closed : result;
}

enum journal_status journal_backup(struct journal *journal, const char *file)
{
	enum journal_status status = may_replace(journal, file);

	if (status != JOURNAL_OK)
		return status;
	char *path = memory_format("%s.XXXXXX", file);
	int descriptor = mkstemp(path); /* readable by the owner alone */
	if (descriptor < 0) {
		status = journal_fail_errno(journal, "write the backup", errno);
	} else {
		int result = write_copy(journal->database, path);
		if (result != SQLITE_OK)
			status = journal_fail_sql(journal, "write the backup", result);
		else if (fsync(descriptor) != 0 || rename(path, file) != 0)
			status = journal_fail_errno(journal, "write the backup", errno);
		else
			status = journal_sync_folder(journal, file);
		close(descriptor);
		if (status != JOURNAL_OK)
			unlink(path);
	}
	free(path);
	return status;
}
