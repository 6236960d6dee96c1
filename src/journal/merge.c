/* Takes in the jobs of another journal: attaches its file and copies rows by SQL. */
#include "journal/internal.h"

#include "base/base.h"

#include <stdlib.h>

static const char theirs_sql[] =
	"CREATE TEMP TABLE theirs AS SELECT t.id AS id, t.uuid, o.id AS here, "
	"o.id AND (SELECT count(*) FROM other.event WHERE job = t.id) > "
	"(SELECT count(*) FROM main.event WHERE job = o.id) AS longer "
	"FROM other.job AS t LEFT JOIN main.job AS o ON o.uuid = t.uuid;"
	"CREATE TEMP VIEW copied AS SELECT t.id AS id, o.id AS ours FROM theirs AS t "
	"JOIN main.job AS o ON o.uuid = t.uuid WHERE t.longer OR t.here IS NULL;";

/* The tables that belong to jobs; the rack and the reels are each bench's own. */
#define OF_JOBS                                                                                    \
	"SELECT s.name FROM main.sqlite_schema AS s JOIN pragma_table_info(s.name) AS c "          \
	"ON c.name = 'job' WHERE s.type = 'table'"

static const char count_sql[] =
	"SELECT count(*) - count(here), total(longer), count(here) - total(longer) FROM theirs";

/* A job that has more events there gets all its rows from there, and its count of calls. */
static const char clear_sql[] = "SELECT format('DELETE FROM main.%s WHERE job IN (SELECT here "
				"FROM theirs WHERE longer)', name) FROM main.sqlite_schema "
				"WHERE name IN (" OF_JOBS ")";

static const char jobs_sql[] =
	"SELECT format('INSERT INTO main.job (merged, %s) SELECT 1, %s FROM other.job "
	"WHERE id IN (SELECT id FROM theirs WHERE longer OR here IS NULL) ORDER BY created_us, id "
	"ON CONFLICT (uuid) DO UPDATE SET calls = excluded.calls', columns, columns) "
	"FROM (" JOURNAL_SHARED_COLUMNS("t.name, 'other'", "'id', 'merged'") ") WHERE name = 'job'";

static const char rows_sql[] =
	"SELECT format('INSERT INTO main.%s (job, %s) SELECT copied.ours, %s FROM copied "
	"JOIN other.%s AS o ON o.job = copied.id', name, columns, columns, name) "
	"FROM (" JOURNAL_SHARED_COLUMNS("t.name, 'other'", "'job'") ") WHERE name IN (" OF_JOBS ")";

static void count(void *context, sqlite3_stmt *row)
{
	*(struct journal_merged *)context = (struct journal_merged){
		.added = sqlite3_column_int(row, 0),
		.lengthened = sqlite3_column_int(row, 1),
		.known = sqlite3_column_int(row, 2),
	};
}

static enum journal_status copy(struct journal *journal, const char *doing,
				struct journal_merged *out)
{
	static const char *const made[] = {clear_sql, jobs_sql, rows_sql};
	enum journal_status status = journal_run(journal, doing, theirs_sql);

	if (status == JOURNAL_OK)
		status = journal_each(journal, count_sql, NULL, count, out);
	for (size_t i = 0; status == JOURNAL_OK && i < sizeof made / sizeof made[0]; i++)
		status = journal_run_made(journal, doing, made[i]);
	/* The checks of the tables keep out what a journal may not hold. */
	if (status != JOURNAL_OK &&
	    (sqlite3_errcode(journal->database) & 0xff) == SQLITE_CONSTRAINT)
		status = journal_fail(journal, JOURNAL_NOT_OURS, "cannot %s: %s", doing,
				      sqlite3_errmsg(journal->database));
	if (status == JOURNAL_OK)
		status = journal_run(journal, doing, "DROP VIEW copied; DROP TABLE theirs");
	return status;
}

/* Checks that the other file is an undamaged journal; *uri is what to attach. */
static enum journal_status examine(struct journal *journal, const char *file, const char *doing,
				   char **uri)
{
	struct journal *other = NULL;
	char *error = NULL;
	enum journal_status status = journal_open(file, JOURNAL_READ, &other, &error);

	if (status == JOURNAL_OK) {
		status = journal_check(other);
		if (status != JOURNAL_OK)
			error = memory_copy(journal_message(other));
		*uri = memory_copy(other->uri);
	}
	if (error)
		journal_fail(journal, status, "cannot %s: %s", doing, error);
	free(error);
	journal_close(other);
	return status;
}

enum journal_status journal_merge(struct journal *journal, const char *file,
				  struct journal_merged *out)
{
	static const char doing[] = "merge";
	char *uri = NULL;
	enum journal_status status = examine(journal, file, doing, &uri);

	*out = (struct journal_merged){0};
	if (status == JOURNAL_OK)
		status = journal_do(journal, doing, "ATTACH :uri AS other",
				    (struct journal_field[]){field_text("uri", uri), {0}});
	free(uri);
	if (status != JOURNAL_OK)
		return status;
	status = journal_begin_transaction(journal, doing);
	if (status == JOURNAL_OK)
		status = journal_end_transaction(journal, copy(journal, doing, out), doing);
	sqlite3_exec(journal->database, "DETACH other", NULL, NULL, NULL);
	return status;
}
