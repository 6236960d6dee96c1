#include "journal/internal.h"
#include "journal/journal.h"

#include "base/base.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

/* PATH.damaged-20261125-143829 in UTC, with a number added if that exists. */
static char *free_name(const char *path)
{
	time_t now = (time_t)(clock_wall_us() / SECOND_US);
	char stamp[32] = "";
	struct tm utc;

	if (gmtime_r(&now, &utc))
		strftime(stamp, sizeof stamp, "%Y%m%d-%H%M%S", &utc);
	char *name = memory_format("%s.damaged-%s", path, stamp);
	for (int i = 2; access(name, F_OK) == 0; i++) {
		free(name);
		name = memory_format("%s.damaged-%s-%d", path, stamp, i);
	}
	return name;
}

/* The database first. If the power goes before the log is moved, the next journal_create moves that
 * away; a database left without its log would look complete. */
static enum journal_status move_aside(struct journal *journal, const char *name)
{
	int error = rename(journal->path, name) == 0 ? 0 : errno;

	if (!error)
		error = journal_move(journal->path, name, "-wal");
	if (!error)
		error = journal_move(journal->path, name, "-shm");
	if (error)
		return journal_fail_errno(journal, "set it aside", error);
	return journal_sync_folder(journal, journal->path);
}

enum journal_status journal_set_aside(const char *path, char **aside, char **error)
{
	struct journal journal = {.path = memory_copy(path), .lock = -1};
	char *name = free_name(path);
	enum journal_status status = journal_lock(&journal);

	if (status == JOURNAL_OK)
		status = move_aside(&journal, name);
	*aside = NULL;
	*error = NULL;
	if (status == JOURNAL_OK) {
		*aside = name;
	} else {
		*error = memory_copy(journal_message(&journal));
		free(name);
	}
	if (journal.lock >= 0)
		close(journal.lock);
	free(journal.message);
	free(journal.path);
	return status;
}
