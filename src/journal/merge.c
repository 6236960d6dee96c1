#include "journal/internal.h"

#include "base/base.h"
#include "journal/journal.h"

#include <stdlib.h>

/* The column of `jobs` (merge_jobs). */
enum { JOBS_CALLS = 12 };

/* One merge: reading from `other`, writing into `ours`. */
struct merge {
	struct journal *ours;
	struct journal *other;
	struct journal_merged *counts;
	sqlite3_stmt *known;
	sqlite3_stmt *calls;
	sqlite3_stmt *events;
	sqlite3_stmt *mishaps; /* these two are NULL if the other journal is of version 1 */
	sqlite3_stmt *script;
};

/* The columns after the first, which is the job's number and is given anew. */
static void bind_row(sqlite3_stmt *into, sqlite3_stmt *row, int64_t job)
{
	sqlite3_bind_int64(into, 1, job);
	for (int i = 1; i < sqlite3_column_count(row); i++)
		sqlite3_bind_value(into, i + 1, sqlite3_column_value(row, i));
}

static enum journal_status insert(struct journal *ours, sqlite3_stmt *into)
{
	int result = sqlite3_step(into);

	sqlite3_reset(into);
	if (result == SQLITE_DONE)
		return JOURNAL_OK;
	/* Every table says what it may hold, so that nothing else can be brought in. */
	if ((result & 0xff) == SQLITE_CONSTRAINT)
		return journal_fail(ours, JOURNAL_NOT_OURS, "cannot merge: %s",
				    sqlite3_errmsg(ours->database));
	return journal_fail_sql(ours, "merge", result);
}

static enum journal_status step_other(struct merge *merge, sqlite3_stmt *statement, bool *row)
{
	enum journal_status status = journal_step(merge->other, statement, row);

	return status == JOURNAL_OK
		       ? status
		       : journal_fail(merge->ours, status, "%s", journal_message(merge->other));
}

static enum journal_status copy_rows(struct merge *merge, sqlite3_stmt *from, const char *into_sql,
				     int64_t their_job, int64_t our_job)
{
	sqlite3_stmt *into = NULL;
	enum journal_status status = journal_prepare(merge->ours, into_sql, &into);
	bool row = true;

	sqlite3_reset(from);
	sqlite3_bind_int64(from, 1, their_job);
	while (status == JOURNAL_OK && row) {
		status = step_other(merge, from, &row);
		if (status == JOURNAL_OK && row) {
			bind_row(into, from, our_job);
			status = insert(merge->ours, into);
		}
	}
	sqlite3_reset(from);
	sqlite3_finalize(into);
	return status;
}

/* All that belongs to a job. */
static enum journal_status copy_job(struct merge *merge, int64_t their_job, int64_t our_job)
{
	enum journal_status status = copy_rows(
		merge, merge->calls, "INSERT INTO call VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		their_job, our_job);

	if (status == JOURNAL_OK)
		status = copy_rows(merge, merge->events,
				   "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
				   their_job, our_job);
	if (status == JOURNAL_OK && merge->mishaps)
		status = copy_rows(merge, merge->mishaps,
				   "INSERT INTO mishap VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
				   their_job, our_job);
	if (status == JOURNAL_OK && merge->script)
		status = copy_rows(merge, merge->script, "INSERT INTO script VALUES (?, ?)",
				   their_job, our_job);
	return status;
}

/* Columns of `jobs` from the third on are those of the job without its number and its mark. */
static enum journal_status add_job(struct merge *merge, sqlite3_stmt *jobs)
{
	sqlite3_stmt *into = NULL;
	int64_t theirs = sqlite3_column_int64(jobs, 0);
	enum journal_status status = journal_prepare(
		merge->ours,
		"INSERT INTO job (merged, uuid, name, stringer, pattern, sport, method, plan_file, "
		"plan_text, pattern_text, language, calls, created_us, program) "
		"VALUES (1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		&into);

	if (status != JOURNAL_OK)
		return status;
	for (int i = 2; i < sqlite3_column_count(jobs); i++)
		sqlite3_bind_value(into, i - 1, sqlite3_column_value(jobs, i));
	status = insert(merge->ours, into);
	sqlite3_finalize(into);
	int64_t ours = sqlite3_last_insert_rowid(merge->ours->database);
	if (status == JOURNAL_OK)
		status = copy_job(merge, theirs, ours);
	merge->counts->added++;
	return status;
}

static enum journal_status delete_rows(struct merge *merge, const char *sql, int64_t job)
{
	sqlite3_stmt *delete = NULL;
	enum journal_status status = journal_prepare(merge->ours, sql, &delete);

	if (status == JOURNAL_OK) {
		sqlite3_bind_int64(delete, 1, job);
		status = insert(merge->ours, delete);
	}
	sqlite3_finalize(delete);
	return status;
}

static enum journal_status lengthen_job(struct merge *merge, sqlite3_stmt *jobs, int64_t ours)
{
	static const char *const deletes[] = {
		"DELETE FROM event WHERE job = ?", "DELETE FROM call WHERE job = ?",
		"DELETE FROM mishap WHERE job = ?", "DELETE FROM script WHERE job = ?"};
	enum journal_status status = JOURNAL_OK;

	for (size_t i = 0; status == JOURNAL_OK && i < sizeof deletes / sizeof *deletes; i++)
		status = delete_rows(merge, deletes[i], ours);
	if (status == JOURNAL_OK)
		status = copy_job(merge, sqlite3_column_int64(jobs, 0), ours);
	if (status == JOURNAL_OK) { /* a way back adds to the calls */
		char *sql = memory_format("UPDATE job SET calls = %d WHERE id = %lld",
					  sqlite3_column_int(jobs, JOBS_CALLS), (long long)ours);
		status = journal_run(merge->ours, "merge", sql);
		free(sql);
	}
	merge->counts->lengthened++;
	return status;
}

/* A row of `jobs` begins with the job's number there, its count of events and its UUID. */
static enum journal_status merge_job(struct merge *merge, sqlite3_stmt *jobs)
{
	bool row = false;

	sqlite3_bind_value(merge->known, 1, sqlite3_column_value(jobs, 2));
	enum journal_status status = journal_step(merge->ours, merge->known, &row);
	int64_t ours = row ? sqlite3_column_int64(merge->known, 0) : 0;
	int64_t events = row ? sqlite3_column_int64(merge->known, 1) : 0;
	sqlite3_reset(merge->known);
	if (status != JOURNAL_OK)
		return status;
	if (!row)
		return add_job(merge, jobs);
	if (sqlite3_column_int64(jobs, 1) > events)
		return lengthen_job(merge, jobs, ours);
	merge->counts->known++;
	return JOURNAL_OK;
}

static enum journal_status merge_jobs(struct merge *merge)
{
	sqlite3_stmt *jobs = NULL;
	enum journal_status status = journal_prepare(
		merge->other,
		"SELECT id, (SELECT count(*) FROM event WHERE job = id), uuid, name, stringer, "
		"pattern, sport, method, plan_file, plan_text, pattern_text, language, calls, "
		"created_us, program FROM job ORDER BY created_us, id",
		&jobs);
	bool row = true;

	while (status == JOURNAL_OK && row) {
		status = step_other(merge, jobs, &row);
		if (status == JOURNAL_OK && row)
			status = merge_job(merge, jobs);
	}
	sqlite3_finalize(jobs);
	return status;
}

static enum journal_status prepare(struct merge *merge)
{
	enum journal_status status = journal_prepare(
		merge->ours,
		"SELECT id, (SELECT count(*) FROM event WHERE job = id) FROM job WHERE uuid = ?",
		&merge->known);

	if (status != JOURNAL_OK)
		return status;
	bool old = merge->other->version < 2;
	status = journal_prepare(merge->other,
				 old ? "SELECT *, NULL, NULL FROM call WHERE job = ? ORDER BY n"
				     : "SELECT * FROM call WHERE job = ? ORDER BY n",
				 &merge->calls);
	if (status == JOURNAL_OK)
		status = journal_prepare(merge->other,
					 old ? "SELECT *, NULL FROM event WHERE job = ? "
					       "ORDER BY seq"
					     : "SELECT * FROM event WHERE job = ? ORDER BY seq",
					 &merge->events);
	if (status == JOURNAL_OK && !old)
		status = journal_prepare(merge->other, "SELECT * FROM mishap WHERE job = ?",
					 &merge->mishaps);
	if (status == JOURNAL_OK && !old)
		status = journal_prepare(merge->other, "SELECT * FROM script WHERE job = ?",
					 &merge->script);
	return status == JOURNAL_OK
		       ? status
		       : journal_fail(merge->ours, status, "%s", journal_message(merge->other));
}

enum journal_status journal_merge(struct journal *journal, const char *file,
				  struct journal_merged *out)
{
	struct merge merge = {.ours = journal, .counts = out};
	char *error = NULL;

	*out = (struct journal_merged){0};
	enum journal_status status = journal_open(file, JOURNAL_READ, &merge.other, &error);
	if (status != JOURNAL_OK) {
		journal_fail(journal, status, "cannot merge: %s", error);
		free(error);
		return status;
	}
	status = journal_hold(merge.other);
	if (status == JOURNAL_OK)
		status = prepare(&merge);
	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, "merge");
	if (status == JOURNAL_OK)
		status = journal_end_transaction(journal, merge_jobs(&merge), "merge");
	sqlite3_finalize(merge.known);
	sqlite3_finalize(merge.calls);
	sqlite3_finalize(merge.events);
	sqlite3_finalize(merge.mishaps);
	sqlite3_finalize(merge.script);
	journal_close(merge.other);
	return status;
}
