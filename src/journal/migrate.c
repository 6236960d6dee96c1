/* Bringing a journal up to date, in place and in one transaction: whenever the power goes, the file
 * is of the old version or of the new one. A job of version 1 that is open has no script and gets
 * none here: it is compiled once, from the plan and the pattern that the journal holds, when it is
 * gone on with (daemon/work.c). */
#include "journal/internal.h"

#include "base/base.h"

#include <stdlib.h>

enum journal_status journal_migrate(struct journal *journal)
{
	static const char doing[] = "bring it up to date";

	if (journal->version == JOURNAL_VERSION)
		return JOURNAL_OK;
	enum journal_status status = journal_begin_transaction(journal, doing);
	if (status != JOURNAL_OK)
		return status;
	status = journal_run_all(journal, doing, journal_changes_1_to_2);
	if (status == JOURNAL_OK)
		status = journal_run_all(journal, doing, journal_views);
	if (status == JOURNAL_OK) {
		char *version = memory_format("PRAGMA user_version = %d", JOURNAL_VERSION);
		status = journal_run(journal, doing, version);
		free(version);
	}
	status = journal_end_transaction(journal, status, doing);
	if (status == JOURNAL_OK)
		journal->version = JOURNAL_VERSION;
	return status;
}
