/* Beginning a job and adding events to it. */
#include "journal/internal.h"

#include "base/base.h"
#include "script/script.h"

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

static enum journal_status insert_job(struct journal *journal, const struct script *script,
				      int64_t wall_us, const char *uuid)
{
	const char *const texts[] = {uuid,
				     script->job,
				     script->stringer,
				     script->pattern,
				     script->sport,
				     script->method,
				     script->plan_file,
				     script->plan_text,
				     script->pattern_text,
				     script->language,
				     script->program};
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
	sqlite3_bind_int(statement, TEXTS + 1, script->count);
	sqlite3_bind_int64(statement, TEXTS + 2, wall_us);
	status = step_once(journal, statement, "begin the job");
	sqlite3_finalize(statement);
	return status;
}

/* Those from the place `first` on. */
static enum journal_status insert_calls(struct journal *journal, int64_t job,
					const struct script *script, int first)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(
		journal, "INSERT INTO call VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, nullif(?, 0))",
		&statement);

	for (int place = first; status == JOURNAL_OK && place <= script->count; place++) {
		const struct script_line *line = script_line(script, place);
		sqlite3_bind_int64(statement, 1, job);
		sqlite3_bind_int(statement, 2, line->call);
		journal_bind_text(statement, 3, line->phase);
		journal_bind_text(statement, 4, line->kind);
		journal_bind_text(statement, 5, line->string);
		if (line->string)
			sqlite3_bind_int(statement, 6, line->number);
		else
			sqlite3_bind_null(statement, 6);
		journal_bind_text(statement, 7, line->side);
		journal_bind_text(statement, 8, script_words(script, place));
		sqlite3_bind_int(statement, 9, place);
		sqlite3_bind_int(statement, 10, line->mishap);
		status = step_once(journal, statement, "write the calls");
	}
	sqlite3_finalize(statement);
	return status;
}

static enum journal_status replace_script(struct journal *journal, int64_t job,
					  const struct script *script)
{
	sqlite3_stmt *statement = NULL;
	struct text packed = {0};
	enum journal_status status = journal_prepare(
		journal, "INSERT OR REPLACE INTO script (job, packed) VALUES (?, ?)", &statement);

	if (status != JOURNAL_OK)
		return status;
	script_pack(script, &packed);
	sqlite3_bind_int64(statement, 1, job);
	sqlite3_bind_blob64(statement, 2, packed.bytes, packed.length, SQLITE_STATIC);
	status = step_once(journal, statement, "keep the script");
	sqlite3_finalize(statement);
	text_free(&packed);
	return status;
}

enum journal_status journal_begin(struct journal *journal, const struct script *script,
				  int64_t wall_us)
{
	char uuid[JOURNAL_UUID_MAX];
	int64_t job = 0;
	enum journal_status status = journal_flush(journal);

	if (status == JOURNAL_OK)
		status = journal_uuid_new(journal, uuid);
	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, "begin the job");
	if (status != JOURNAL_OK)
		return status;
	status = insert_job(journal, script, wall_us, uuid);
	if (status == JOURNAL_OK) {
		job = sqlite3_last_insert_rowid(journal->database);
		status = insert_calls(journal, job, script, 1);
	}
	if (status == JOURNAL_OK)
		status = replace_script(journal, job, script);
	status = journal_end_transaction(journal, status, "begin the job");
	if (status != JOURNAL_OK)
		return status;
	journal->job = job;
	journal->run = 1;
	journal->next_seq = 1;
	return JOURNAL_OK;
}

enum journal_status journal_keep_script(struct journal *journal, int64_t job,
					const struct script *script)
{
	enum journal_status status = journal_begin_transaction(journal, "keep the script");

	if (status != JOURNAL_OK)
		return status;
	return journal_end_transaction(journal,
				       replace_script(journal, job ? job : journal->job, script),
				       "keep the script");
}

enum journal_status journal_script(struct journal *journal, int64_t job, struct script **out)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;
	enum journal_status status =
		journal_prepare(journal, "SELECT packed FROM script WHERE job = ?", &statement);

	*out = NULL;
	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, job);
	status = journal_step(journal, statement, &row);
	if (row)
		*out = script_unpack(sqlite3_column_blob(statement, 0),
				     (size_t)sqlite3_column_bytes(statement, 0));
	sqlite3_finalize(statement);
	if (status != JOURNAL_OK || *out)
		return status;
	return row ? journal_fail(journal, JOURNAL_CORRUPT, "the script of job %lld is damaged",
				  (long long)job)
		   : journal_fail(journal, JOURNAL_NONE, "it has no script of job %lld",
				  (long long)job);
}

enum journal_status journal_resume(struct journal *journal, int64_t job)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_flush(journal);

	if (status == JOURNAL_OK)
		status = journal_prepare(journal,
					 "SELECT coalesce(max(run), 0) + 1, "
					 "coalesce(max(seq), 0) + 1 FROM job LEFT JOIN event "
					 "ON event.job = job.id WHERE job.id = ? GROUP BY job.id",
					 &statement);
	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, job);
	int result = sqlite3_step(statement);
	if (result == SQLITE_ROW) {
		journal->job = job;
		journal->run = sqlite3_column_int64(statement, 0);
		journal->next_seq = sqlite3_column_int64(statement, 1);
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
	sqlite3_bind_int64(insert, 11, event->boot_us);
	return step_once(journal, insert, "write an event");
}

static const char *column_text(sqlite3_stmt *row, int column)
{
	return (const char *)sqlite3_column_text(row, column);
}

enum journal_status journal_old_calls(struct journal *journal, const struct journal_job *job,
				      struct script **out)
{
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_prepare(
		journal,
		"SELECT phase, kind, string, number, side, text FROM call WHERE job = ? ORDER BY n",
		&row);

	if (status != JOURNAL_OK)
		return status;
	*out = script_new(&(struct script){
		.job = job->name,
		.stringer = job->stringer,
		.pattern = job->pattern,
		.sport = job->sport,
		.method = job->method,
		.language = job->language,
		.program = job->program,
		.plan_file = job->plan_file,
		.plan_text = job->plan_text,
		.pattern_text = job->pattern_text,
	});
	sqlite3_bind_int64(row, 1, job->number);
	while ((status = journal_step(journal, row, &more)) == JOURNAL_OK && more)
		script_add(*out, &(struct script_line){
					 .phase = column_text(row, 0),
					 .kind = column_text(row, 1),
					 .string = column_text(row, 2),
					 .number = sqlite3_column_int(row, 3),
					 .side = column_text(row, 4),
					 .full_words = column_text(row, 5),
				 });
	sqlite3_finalize(row);
	return status;
}

/* Nobody goes on with a job that is over. */
static enum journal_status drop_script(struct journal *journal)
{
	char *sql = memory_format("DELETE FROM script WHERE job = %lld", (long long)journal->job);
	enum journal_status status = journal_run(journal, "write an event", sql);

	free(sql);
	return status;
}

static enum journal_status insert_waiting(struct journal *journal)
{
	enum journal_status status = JOURNAL_OK;

	for (int i = 0; status == JOURNAL_OK && i < journal->waiting_count; i++) {
		const struct journal_event *event = &journal->waiting[i].event;
		status = insert_event(journal, event, journal->next_seq + i);
		bool over = event->kind == JOURNAL_FINISHED || event->kind == JOURNAL_ABANDONED;
		if (status == JOURNAL_OK && over)
			status = drop_script(journal);
	}
	return status;
}

static enum journal_status prepare_insert(struct journal *journal)
{
	if (journal->insert)
		return JOURNAL_OK;
	return journal_prepare(journal,
			       "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			       &journal->insert);
}

enum journal_status journal_flush(struct journal *journal)
{
	enum journal_status status = JOURNAL_OK;

	if (journal->waiting_count == 0)
		return status;
	status = prepare_insert(journal);
	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, "write an event");
	if (status != JOURNAL_OK)
		return status;
	status = journal_end_transaction(journal, insert_waiting(journal), "write an event");
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
	/* The last event says where the job stands, so the oldest is the least missed. */
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

int64_t journal_number(const struct journal *journal)
{
	return journal->job;
}

int journal_waiting(const struct journal *journal)
{
	return journal->waiting_count;
}

static enum journal_status insert_mishap(struct journal *journal, const struct script *script,
					 const struct journal_event *event)
{
	const struct script_mishap *mishap = &script->mishaps[script->mishap_count - 1];
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(
		journal,
		"INSERT INTO mishap VALUES (?, ?, ?, ?, nullif(?, 0), ?, nullif(?, 0), ?, ?, ?, ?)",
		&statement);

	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, journal->job);
	sqlite3_bind_int(statement, 2, script->mishap_count);
	journal_bind_text(statement, 3, mishap->kind);
	journal_bind_text(statement, 4, mishap->string);
	sqlite3_bind_int(statement, 5, mishap->number);
	journal_bind_text(statement, 6, mishap->side);
	sqlite3_bind_int(statement, 7, mishap->made);
	sqlite3_bind_int(statement, 8, script_call(script, mishap->line));
	sqlite3_bind_int(statement, 9, event->call);
	sqlite3_bind_int(statement, 10, mishap->undone);
	sqlite3_bind_int64(statement, 11, event->wall_us);
	status = step_once(journal, statement, "write the mishap");
	sqlite3_finalize(statement);
	return status;
}

static enum journal_status insert_way_back(struct journal *journal, const struct script *script,
					   const struct journal_event *event)
{
	char *sql = memory_format("UPDATE job SET calls = %d WHERE id = %lld",
				  script_call(script, script->count), (long long)journal->job);
	enum journal_status status = journal_run(journal, "write the calls", sql);

	free(sql);
	if (status == JOURNAL_OK)
		status = insert_calls(journal, journal->job, script,
				      script_place(script, event->call));
	if (status == JOURNAL_OK)
		status = insert_mishap(journal, script, event);
	if (status == JOURNAL_OK)
		status = replace_script(journal, journal->job, script);
	return status == JOURNAL_OK ? insert_event(journal, event, journal->next_seq) : status;
}

enum journal_status journal_go_back(struct journal *journal, const struct script *script,
				    const struct journal_event *event)
{
	enum journal_status status = journal_flush(journal);

	if (status == JOURNAL_OK)
		status = prepare_insert(journal);
	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, "begin the way back");
	if (status != JOURNAL_OK)
		return status;
	status = journal_end_transaction(journal, insert_way_back(journal, script, event),
					 "begin the way back");
	if (status == JOURNAL_OK)
		journal->next_seq++;
	return status;
}
