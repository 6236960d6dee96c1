/* What went wrong, as a status for the program and a sentence for a person. */
#include "journal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum journal_status journal_fail(struct journal *journal, enum journal_status status,
				 const char *format, ...)
{
	char *what = NULL;
	va_list values;

	va_start(values, format);
	int length = vasprintf(&what, format, values);
	va_end(values);
	free(journal->message);
	journal->message =
		memory_format("journal %s: %s", journal->path, length < 0 ? "failed" : what);
	free(what);
	return status;
}

static enum journal_status status_of_errno(int error)
{
	switch (error) {
	case ENOSPC:
	case EDQUOT:
		return JOURNAL_FULL;
	case EACCES:
	case EPERM:
	case EROFS:
		return JOURNAL_READ_ONLY;
	case EISDIR:
	case ENOTDIR:
	case ELOOP:
		return JOURNAL_NOT_OURS;
	default:
		return JOURNAL_IO;
	}
}

enum journal_status journal_fail_errno(struct journal *journal, const char *doing, int error)
{
	return journal_fail(journal, status_of_errno(error), "cannot %s: %s", doing,
			    strerror(error));
}

/* SQLite does not always tell a full disk or a missing permission from other failures; errno does.
 */
static enum journal_status status_of_sql(struct journal *journal, int result)
{
	int error = journal->database ? sqlite3_system_errno(journal->database) : 0;

	switch (result & 0xff) {
	case SQLITE_FULL:
		return JOURNAL_FULL;
	case SQLITE_BUSY:
	case SQLITE_LOCKED:
		return JOURNAL_BUSY;
	case SQLITE_CORRUPT:
		return JOURNAL_CORRUPT;
	case SQLITE_NOTADB:
		return JOURNAL_NOT_OURS;
	case SQLITE_READONLY:
	case SQLITE_PERM:
	case SQLITE_AUTH:
		return JOURNAL_READ_ONLY;
	case SQLITE_IOERR:
	case SQLITE_CANTOPEN:
		return error ? status_of_errno(error) : JOURNAL_IO;
	default:
		return JOURNAL_IO;
	}
}

enum journal_status journal_fail_sql(struct journal *journal, const char *doing, int result)
{
	enum journal_status status = status_of_sql(journal, result);
	static const char *const reasons[] = {
		[JOURNAL_NOT_OURS] = "it is not a journal of pullcall",
		[JOURNAL_READ_ONLY] = "it may only be read",
		[JOURNAL_FULL] = "the disk is full",
		[JOURNAL_BUSY] = "another program is using it",
		[JOURNAL_CORRUPT] = "the file is damaged",
	};

	if (status != JOURNAL_IO)
		return journal_fail(journal, status, "cannot %s: %s", doing, reasons[status]);
	return journal_fail(journal, status, "cannot %s: %s", doing,
			    journal->database ? sqlite3_errmsg(journal->database)
					      : sqlite3_errstr(result));
}

const char *journal_message(const struct journal *journal)
{
	return journal->message ? journal->message : "";
}
