/* Beginning a job and adding events to it. */
#include "journal/internal.h"

#include "base/base.h"

#include <stdlib.h>
#include <string.h>

/* A stringer makes some hundred events an hour: enough for a day without a disk. */
enum { WAITING_MAX = 4096 };

static enum journal_status step_once(struct journal *journal, sqlite3_stmt *statement,
				     const char *doing)
{
	int result = sqlite3_step(statement);

	sqlite3_reset(statement);
	return result == SQLITE_DONE ? JOURNAL_OK : journal_fail_sql(journal, doing, result);
}

static enum journal_status insert_job(struct journal *journal, const struct journal_job *job,
				      int calls, const char *uuid)
{
	const char *const texts[] = {uuid,           job->name,      job->stringer,
				     job->pattern,   job->sport,     job->method,
				     job->plan_file, job->plan_text, job->pattern_text,
				     job->language,  job->program};
	enum { TEXTS = sizeof texts / sizeof texts[0] };
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(
		journal,
		"INSERT INTO job (uuid, name, stringer, pattern, sport, method, plan_file, "
		"plan_text, pattern_text, language, program, calls, created_us) "
		"VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		&statement);

	if (status != JOURNAL_OK)
		return status;
	for (int i = 0; i < TEXTS; i++)
		journal_bind_text(statement, i + 1, texts[i]);
	sqlite3_bind_int(statement, TEXTS + 1, calls);
	sqlite3_bind_int64(statement, TEXTS + 2, job->created_us);
	status = step_once(journal, statement, "begin the job");
	sqlite3_finalize(statement);
	return status;
}

static enum journal_status insert_calls(struct journal *journal, int64_t job,
					const struct journal_call *calls, int count)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(
		journal, "INSERT INTO call VALUES (?, ?, ?, ?, ?, ?, ?, ?)", &statement);

	for (int i = 0; status == JOURNAL_OK && i < count; i++) {
		sqlite3_bind_int64(statement, 1, job);
		sqlite3_bind_int(statement, 2, i + 1);
		journal_bind_text(statement, 3, calls[i].phase);
		journal_bind_text(statement, 4, calls[i].kind);
		journal_bind_text(statement, 5, calls[i].string);
		if (calls[i].string)
			sqlite3_bind_int(statement, 6, calls[i].number);
		else
			sqlite3_bind_null(statement, 6);
		journal_bind_text(statement, 7, calls[i].side);
		journal_bind_text(statement, 8, calls[i].text);
		status = step_once(journal, statement, "begin the job");
	}
	sqlite3_finalize(statement);
	return status;
}

/* SQLite ends the transaction itself after some failures, and then there is nothing to take back.
 */
static void take_back(struct journal *journal)
{
	if (!sqlite3_get_autocommit(journal->database))
		sqlite3_exec(journal->database, "ROLLBACK", NULL, NULL, NULL);
}

/* Written to a file without a name, or under a name that nobody will look at, events are lost. */
static enum journal_status still_in_place(struct journal *journal)
{
	int moved = 0;

	sqlite3_file_control(journal->database, "main", SQLITE_FCNTL_HAS_MOVED, &moved);
	return moved ? journal_fail(journal, JOURNAL_IO, "it was moved or removed while in use")
		     : JOURNAL_OK;
}

enum journal_status journal_begin_transaction(struct journal *journal, const char *doing)
{
	enum journal_status status = still_in_place(journal);

	return status == JOURNAL_OK ? journal_run(journal, doing, "BEGIN IMMEDIATE") : status;
}

/* What is damaged is not written to again, not even on closing. */
enum journal_status journal_end_transaction(struct journal *journal, enum journal_status status,
					    const char *doing)
{
	if (status == JOURNAL_OK)
		status = journal_run(journal, doing, "COMMIT");
	if (status != JOURNAL_OK)
		take_back(journal);
	if (status == JOURNAL_CORRUPT)
		journal_touch_nothing_on_close(journal, true);
	return status;
}

enum journal_status journal_begin(struct journal *journal, const struct journal_job *job,
				  const struct journal_call *calls, int count)
{
	char uuid[JOURNAL_UUID_MAX];
	int64_t number = 0;
	enum journal_status status = journal_flush(journal);

	if (status == JOURNAL_OK)
		status = journal_uuid_new(journal, uuid);
	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, "begin the job");
	if (status != JOURNAL_OK)
		return status;
	status = insert_job(journal, job, count, uuid);
	if (status == JOURNAL_OK) {
		number = sqlite3_last_insert_rowid(journal->database);
		status = insert_calls(journal, number, calls, count);
	}
	status = journal_end_transaction(journal, status, "begin the job");
	if (status != JOURNAL_OK)
		return status;
	journal->job = number;
	memcpy(journal->uuid, uuid, sizeof uuid);
	journal->run = 1;
	journal->next_seq = 1;
	return JOURNAL_OK;
}

enum journal_status journal_resume(struct journal *journal, int64_t job)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_flush(journal);

	if (status == JOURNAL_OK)
		status = journal_prepare(journal,
					 "SELECT uuid, coalesce(max(run), 0) + 1, "
					 "coalesce(max(seq), 0) + 1 FROM job LEFT JOIN event "
					 "ON event.job = job.id WHERE job.id = ? GROUP BY job.id",
					 &statement);
	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, job);
	int result = sqlite3_step(statement);
	if (result == SQLITE_ROW) {
		journal->job = job;
		strncpy(journal->uuid, (const char *)sqlite3_column_text(statement, 0),
			sizeof journal->uuid - 1);
		journal->run = sqlite3_column_int64(statement, 1);
		journal->next_seq = sqlite3_column_int64(statement, 2);
	} else if (result == SQLITE_DONE) {
		status = journal_fail(journal, JOURNAL_NONE, "it has no job %lld", (long long)job);
	} else {
		status = journal_fail_sql(journal, "go on with the job", result);
	}
	sqlite3_finalize(statement);
	return status;
}

static enum journal_status insert_event(struct journal *journal, const struct journal_event *event,
					int64_t seq)
{
	sqlite3_stmt *insert = journal->insert;

	sqlite3_bind_int64(insert, 1, journal->job);
	sqlite3_bind_int64(insert, 2, seq);
	sqlite3_bind_int64(insert, 3, journal->run);
	journal_bind_text(insert, 4, journal_kind_name(event->kind));
	sqlite3_bind_int(insert, 5, event->call);
	sqlite3_bind_int(insert, 6, event->working);
	sqlite3_bind_int64(insert, 7, event->steady_us);
	sqlite3_bind_int64(insert, 8, event->wall_us);
	if (event->response_us >= 0)
		sqlite3_bind_int64(insert, 9, event->response_us);
	else
		sqlite3_bind_null(insert, 9);
	journal_bind_text(insert, 10, event->detail);
	return step_once(journal, insert, "write an event");
}

enum journal_status journal_flush(struct journal *journal)
{
	enum journal_status status = JOURNAL_OK;

	if (journal->waiting_count == 0)
		return status;
	if (!journal->insert)
		status = journal_prepare(journal,
					 "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
					 &journal->insert);
	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, "write an event");
	if (status != JOURNAL_OK)
		return status;
	for (int i = 0; status == JOURNAL_OK && i < journal->waiting_count; i++)
		status = insert_event(journal, &journal->waiting[i].event, journal->next_seq + i);
	status = journal_end_transaction(journal, status, "write an event");
	if (status != JOURNAL_OK)
		return status;
	journal->next_seq += journal->waiting_count;
	for (int i = 0; i < journal->waiting_count; i++)
		free(journal->waiting[i].detail);
	journal->waiting_count = 0;
	return JOURNAL_OK;
}

static void let_wait(struct journal *journal, const struct journal_event *event)
{
	/* The place is what the last event says, so of too many the oldest is the least missed. */
	if (journal->waiting_count == WAITING_MAX) {
		free(journal->waiting[0].detail);
		memmove(journal->waiting, journal->waiting + 1,
			(WAITING_MAX - 1) * sizeof *journal->waiting);
		journal->waiting_count--;
	}
	if (journal->waiting_count == journal->waiting_room) {
		journal->waiting_room = journal->waiting_room ? 2 * journal->waiting_room : 16;
		journal->waiting = memory_resize(journal->waiting, (size_t)journal->waiting_room,
						 sizeof *journal->waiting);
	}
	struct waiting *last = &journal->waiting[journal->waiting_count++];
	*last = (struct waiting){.event = *event, .detail = memory_copy(event->detail)};
	last->event.detail = last->detail;
}

enum journal_status journal_append(struct journal *journal, const struct journal_event *event)
{
	let_wait(journal, event);
	return journal_flush(journal);
}

int journal_waiting(const struct journal *journal)
{
	return journal->waiting_count;
}

int64_t journal_job(const struct journal *journal)
{
	return journal->job;
}

const char *journal_uuid(const struct journal *journal)
{
	return journal->uuid;
}
