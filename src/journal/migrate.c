/* Brings a journal of version 1 up to date in one transaction, so that after a power cut it is of
 * the one version or the other. An open job of version 1 has no script; one is made from the plan
 * and the pattern in the journal when the job is continued. */
#include "journal/internal.h"

#include "base/base.h"

#include <stdlib.h>

enum journal_status journal_write_schema(struct journal *journal, const char *doing)
{
	char *identity = memory_format("PRAGMA application_id = %d; PRAGMA user_version = %d",
				       JOURNAL_APPLICATION, JOURNAL_VERSION);
	enum journal_status status = journal_run(journal, doing, tables_sql);

	if (status == JOURNAL_OK)
		status = journal_run(journal, doing, views_sql);
	if (status == JOURNAL_OK)
		status = journal_run(journal, doing, identity);
	free(identity);
	return status;
}

/* Renames the old tables, creates those of a new journal, and copies the rows. */
static enum journal_status remake(struct journal *journal, const char *doing)
{
	static const char move_old[] =
		"SELECT format('DROP %s \"%w\"', type, name) FROM sqlite_schema "
		"WHERE type <> 'table' AND sql NOT NULL UNION ALL "
		"SELECT format('ALTER TABLE %s RENAME TO old_%s', name, name) FROM sqlite_schema "
		"WHERE name IN ('job', 'call', 'event')";
	static const char copy[] =
		"SELECT format('INSERT INTO %s (%s) SELECT %s FROM old_%s', name, columns, columns, "
		"name) FROM (" JOURNAL_SHARED_COLUMNS("'old_' || t.name", "''") ")";
	static const char set_detail[] = /* which a plan of that time says in a line of its own */
		"UPDATE job SET detail = value FROM json_each('[\"learner\", \"quick\"]') "
		"WHERE instr(char(10) || plan_text || char(10), "
		"char(10) || 'detail: ' || value || char(10))";
	static const char drop_old[] = "DROP TABLE old_event; DROP TABLE old_call; "
				       "DROP TABLE old_job";
	enum journal_status status = journal_run_made(journal, doing, move_old);

	if (status == JOURNAL_OK)
		status = journal_write_schema(journal, doing);
	if (status == JOURNAL_OK)
		status = journal_run_made(journal, doing, copy);
	if (status == JOURNAL_OK)
		status = journal_run(journal, doing, set_detail);
	return status == JOURNAL_OK ? journal_run(journal, doing, drop_old) : status;
}

enum journal_status journal_migrate(struct journal *journal)
{
	static const char doing[] = "bring it up to date";

	if (journal->version == JOURNAL_VERSION)
		return JOURNAL_OK;
	enum journal_status status = journal_begin_transaction(journal, doing);
	if (status != JOURNAL_OK)
		return status;
	status = journal_end_transaction(journal, remake(journal, doing), doing);
	if (status == JOURNAL_OK)
		journal->version = JOURNAL_VERSION;
	return status;
}
