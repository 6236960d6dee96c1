/* Beginning a job and adding events to it. */
#include "journal/internal.h"

#include "base/base.h"
#include "script/script.h"

#include <stdlib.h>
#include <string.h>

/* A stringer makes some hundred events an hour: enough for a day without a disk. */
enum { WAITING_MAX = 4096 };

/* Null where the number stands for none. */
static struct journal_field field_unless(int64_t none, const char *name, int64_t number)
{
	struct journal_field field = field_number(name, number);

	if (number == none)
		field.type = JOURNAL_NULL;
	return field;
}

/* Null where it is empty. */
static struct journal_field field_given(const char *name, const char *text)
{
	return field_text(name, text && *text ? text : NULL);
}

static enum journal_status insert_job(struct journal *journal, const struct script *script,
				      int64_t wall_us)
{
	const struct journal_field fields[] = {
		field_text("name", script->job),
		field_text("stringer", script->stringer),
		field_text("pattern", script->pattern),
		field_text("sport", script->sport),
		field_text("method", script->method),
		field_text("detail", script->detail),
		field_number("calls", script->count),
		field_number("created_us", wall_us),
		field_text("language", script->language),
		field_text("program", script->program),
		field_text("plan_file", script->plan_file),
		field_text("plan_text", script->plan_text),
		field_text("pattern_text", script->pattern_text),
		field_given("racket", script->racket),
		field_given("customer", script->customer),
		field_given("due", script->due),
		field_given("notes", script->notes),
		field_given("mains_tension", script->tension[0]),
		field_given("crosses_tension", script->tension[1]),
		{0},
	};

	return journal_insert(journal, "begin the job", "job", fields);
}

static enum journal_status insert_cut(struct journal *journal, int64_t job,
				      const struct script_line *line)
{
	const struct journal_field fields[] = {
		field_number("job", job),
		field_number("n", line->call),
		field_text("reel", line->reel),
		field_number("length_mm", line->cut_mm),
		{0},
	};

	return journal_insert(journal, "write the calls", "cut", fields);
}

/* From the place `first` on. */
static enum journal_status insert_calls(struct journal *journal, int64_t job,
					const struct script *script, int first)
{
	enum journal_status status = JOURNAL_OK;

	for (int place = first; status == JOURNAL_OK && place <= script->count; place++) {
		const struct script_line *line = script_line(script, place);
		const struct journal_field fields[] = {
			field_number("job", job),
			field_number("n", line->call),
			field_text("phase", line->phase),
			field_text("kind", line->kind),
			field_text("string", line->string),
			field_unless(0, "number", line->string ? line->number : 0),
			field_text("side", line->side),
			field_text("text", script_words(script, place)),
			field_number("place", place),
			field_unless(0, "mishap", line->mishap),
			field_text("skill", line->skill),
			{0},
		};
		status = journal_insert(journal, "write the calls", "call", fields);
		if (status == JOURNAL_OK && line->reel && *line->reel)
			status = insert_cut(journal, job, line);
	}
	return status;
}

/* Before the first call: nobody shall find a reel empty in the midst of a job. */
static enum journal_status check_reels(struct journal *journal, int64_t job)
{
	static const char sql[] =
		"SELECT iif(name IS NULL, format('there is no reel \"%s\"', c.reel), "
		"format('reel %s has %.2f m left, and job %s cuts %.2f m', name, left_mm / 1e3, "
		"(SELECT name FROM job WHERE id = :job), need / 1e3)) "
		"FROM (SELECT reel, sum(length_mm) AS need FROM cut WHERE job = :job GROUP BY reel) "
		"AS c LEFT JOIN reel ON name = c.reel WHERE name IS NULL OR need > left_mm";
	char *why = NULL;
	enum journal_status status = journal_ask_text(
		journal, sql, (struct journal_field[]){field_number("job", job), {0}}, &why);

	if (!why)
		return status;
	free(journal->message);
	journal->message = why;
	return JOURNAL_SHORT;
}

static enum journal_status replace_script(struct journal *journal, int64_t job,
					  const struct script *script)
{
	struct text packed = {0};

	script_pack(script, &packed);
	const struct journal_field fields[] = {
		field_number("job", job),
		field_bytes("packed", packed.bytes, packed.length),
		{0},
	};
	enum journal_status status =
		journal_do(journal, "keep the script",
			   "INSERT OR REPLACE INTO script VALUES (:job, :packed)", fields);
	text_free(&packed);
	return status;
}

enum journal_status journal_begin(struct journal *journal, const struct script *script,
				  int64_t wall_us)
{
	int64_t job = 0;
	enum journal_status status = journal_flush(journal);

	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, "begin the job");
	if (status != JOURNAL_OK)
		return status;
	status = insert_job(journal, script, wall_us);
	if (status == JOURNAL_OK) {
		job = sqlite3_last_insert_rowid(journal->database);
		status = insert_calls(journal, job, script, 1);
	}
	if (status == JOURNAL_OK)
		status = check_reels(journal, job);
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
	const struct journal_field fields[] = {field_number("job", job), {0}};
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status =
		journal_query(journal, "SELECT packed FROM script WHERE job = :job", fields, &row);

	*out = NULL;
	if (status == JOURNAL_OK)
		status = journal_step(journal, row, &more);
	if (more)
		*out = script_unpack(sqlite3_column_blob(row, 0),
				     (size_t)sqlite3_column_bytes(row, 0));
	sqlite3_finalize(row);
	if (status != JOURNAL_OK || *out)
		return status;
	return more ? journal_fail(journal, JOURNAL_CORRUPT, "the script of job %lld is damaged",
				   (long long)job)
		    : journal_fail(journal, JOURNAL_NONE, "it has no script of job %lld",
				   (long long)job);
}

enum journal_status journal_resume(struct journal *journal, int64_t job)
{
	const struct journal_field fields[] = {field_number("job", job), {0}};
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_flush(journal);

	if (status == JOURNAL_OK)
		status = journal_query(journal,
				       "SELECT coalesce(max(run), 0) + 1, "
				       "coalesce(max(seq), 0) + 1 FROM job LEFT JOIN event "
				       "ON event.job = job.id WHERE job.id = :job GROUP BY job.id",
				       fields, &row);
	if (status == JOURNAL_OK)
		status = journal_step(journal, row, &more);
	if (more) {
		journal->job = job;
		journal->run = sqlite3_column_int64(row, 0);
		journal->next_seq = sqlite3_column_int64(row, 1);
	} else if (status == JOURNAL_OK) {
		status = journal_fail(journal, JOURNAL_NONE, "it has no job %lld", (long long)job);
	}
	sqlite3_finalize(row);
	return status;
}

/* A job that is over needs no script any more. */
static enum journal_status insert_event(struct journal *journal, const struct journal_event *event,
					int64_t seq)
{
	const struct journal_field fields[] = {
		field_number("job", journal->job),
		field_number("seq", seq),
		field_number("run", journal->run),
		field_text("kind", journal_kind_name(event->kind)),
		field_number("call", event->call),
		field_number("working", event->working),
		field_number("steady_us", event->steady_us),
		field_number("boot_us", event->boot_us),
		field_number("wall_us", event->wall_us),
		field_text("detail", event->detail),
		field_unless(JOURNAL_NO_RESPONSE, "response_us", event->response_us),
		{0},
	};
	bool over = event->kind == JOURNAL_FINISHED || event->kind == JOURNAL_ABANDONED;

	enum journal_status status = journal_insert(journal, "write an event", "event", fields);
	if (status == JOURNAL_OK && over)
		status =
			journal_do(journal, "write an event", "DELETE FROM script WHERE job = :job",
				   (struct journal_field[]){fields[0], {0}});
	return status;
}

static const char *column_text(sqlite3_stmt *row, int column)
{
	return (const char *)sqlite3_column_text(row, column);
}

enum journal_status journal_old_calls(struct journal *journal, const struct journal_job *job,
				      struct script **out)
{
	const struct journal_field fields[] = {field_number("job", job->number), {0}};
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_query(journal,
						   "SELECT phase, kind, string, number, side, text "
						   "FROM call WHERE job = :job ORDER BY n",
						   fields, &row);

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

static enum journal_status insert_waiting(struct journal *journal)
{
	enum journal_status status = JOURNAL_OK;

	for (int i = 0; status == JOURNAL_OK && i < journal->waiting_count; i++)
		status = insert_event(journal, &journal->waiting[i].event, journal->next_seq + i);
	return status;
}

enum journal_status journal_flush(struct journal *journal)
{
	enum journal_status status = JOURNAL_OK;

	if (journal->waiting_count == 0)
		return status;
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
	/* The newest event says where the job stands: drop the oldest. */
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

static enum journal_status insert_mishap(struct journal *journal, const struct script *script,
					 const struct journal_event *event)
{
	const struct script_mishap *mishap = &script->mishaps[script->mishap_count - 1];
	const struct journal_field fields[] = {
		field_number("job", journal->job),
		field_number("n", script->mishap_count),
		field_text("kind", mishap->kind),
		field_text("string", mishap->string),
		field_unless(0, "number", mishap->number),
		field_text("side", mishap->side),
		field_unless(0, "made", mishap->made),
		field_number("found", script_call(script, mishap->line)),
		field_number("first", event->call),
		field_number("undone", mishap->undone),
		field_number("wall_us", event->wall_us),
		{0},
	};

	return journal_insert(journal, "write the mishap", "mishap", fields);
}

/* A mishap that was none: its calls count as any others. */
static enum journal_status drop_mishap(struct journal *journal, int number)
{
	const struct journal_field fields[] = {
		field_number("job", journal->job),
		field_number("n", number),
		{0},
	};
	enum journal_status status = journal_do(
		journal, "drop the mishap",
		"UPDATE call SET mishap = NULL WHERE job = :job AND mishap = :n", fields);

	if (status != JOURNAL_OK)
		return status;
	return journal_do(journal, "drop the mishap",
			  "DELETE FROM mishap WHERE job = :job AND n = :n", fields);
}

static enum journal_status insert_way_back(struct journal *journal, const struct script *script,
					   const struct journal_event *event)
{
	const struct journal_field fields[] = {
		field_number("job", journal->job),
		field_number("calls", script_call(script, script->count)),
		{0},
	};
	enum journal_status status =
		journal_do(journal, "write the calls",
			   "UPDATE job SET calls = :calls WHERE id = :job", fields);

	if (status == JOURNAL_OK) /* those of the calls that are replaced */
		status = journal_do(journal, "write the calls",
				    "DELETE FROM cut WHERE job = :job AND NOT done",
				    (struct journal_field[]){fields[0], {0}});
	bool begins = event->kind == JOURNAL_MISHAP;
	int place = script_place(script, event->call);
	if (status == JOURNAL_OK)
		status = insert_calls(journal, journal->job, script, begins ? place : place + 1);
	if (status == JOURNAL_OK)
		status = begins ? insert_mishap(journal, script, event)
				: drop_mishap(journal, script->mishap_count + 1);
	if (status == JOURNAL_OK)
		status = replace_script(journal, journal->job, script);
	return status == JOURNAL_OK ? insert_event(journal, event, journal->next_seq) : status;
}

enum journal_status journal_go_back(struct journal *journal, const struct script *script,
				    const struct journal_event *event)
{
	enum journal_status status = journal_flush(journal);

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
