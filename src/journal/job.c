/* Jobs: beginning them, adding events, and where they stand. */
#include "journal/internal.h"

#include "base/base.h"
#include "script/script.h"

#include <stdlib.h>

/* ---- jobs as the journal holds them ---- */

#define JOB_SQL                                                                                    \
	"SELECT j.id, j.created_us, j.calls, s.call, s.place, s.places, s.working, s.put_away, "   \
	"s.state = 'open', s.last, s.last_wall_us, j.name, j.stringer, j.pattern, j.sport, "       \
	"j.method, j.plan_file, j.plan_text, j.pattern_text, j.language, j.program, j.detail, "    \
	"j.racket, j.customer, j.due, " JOURNAL_TENSIONS " "                                       \
	"FROM job AS j JOIN job_state AS s ON s.job = j.id "

/* Takes the columns of JOB_SQL from a row; NULL: frees what was taken. */
static void take_job(void *context, sqlite3_stmt *row)
{
	struct journal_job *job = context;
	const struct journal_target *columns = TARGETS(
		INTO(job->number), INTO(job->created_us), INTO(job->calls), INTO(job->call),
		INTO(job->place), INTO(job->places), INTO(job->working), INTO(job->put_away),
		INTO(job->open), INTO(job->last), INTO(job->last_wall_us), INTO(job->name),
		INTO(job->stringer), INTO(job->pattern), INTO(job->sport), INTO(job->method),
		INTO(job->plan_file), INTO(job->plan_text), INTO(job->pattern_text),
		INTO(job->language), INTO(job->program), INTO(job->detail), INTO(job->racket),
		INTO(job->customer), INTO(job->due), INTO(job->tensions));

	for (int i = 0; !row && columns[i].variable; i++)
		if (columns[i].type == TARGET_TEXT)
			free(*(char **)columns[i].variable);
	journal_take(row, columns);
}

void journal_job_free(struct journal_job *job)
{
	take_job(job, NULL);
}

/* Merged jobs are continued at the bench they came from. */
#define OPEN_SQL                                                                                   \
	JOB_SQL "WHERE s.state = 'open' AND NOT j.merged AND "                                     \
		"(:name IS NULL OR j.racket = :name OR "                                           \
		"(j.name = :name AND :name GLOB '*[^0-9]*')) "                                     \
		"ORDER BY coalesce(s.last_wall_us, j.created_us) DESC, j.id DESC"

struct job_list {
	struct journal_job *jobs;
	int count;
};

static void add_job(void *context, sqlite3_stmt *row)
{
	struct job_list *list = context;

	list->jobs = memory_resize(list->jobs, (size_t)list->count + 1, sizeof *list->jobs);
	take_job(&list->jobs[list->count++], row);
}

enum journal_status journal_open_jobs(struct journal *journal, const char *name,
				      struct journal_job **jobs, int *count)
{
	struct job_list list = {0};
	enum journal_status status =
		journal_each(journal, OPEN_SQL, FIELDS(field_text("name", name)), add_job, &list);

	*jobs = list.jobs;
	*count = list.count;
	return status;
}

bool journal_is_number(const char *which)
{
	return *which && strspn(which, "0123456789") == strlen(which) && strlen(which) < 19;
}

enum journal_status journal_find(struct journal *journal, const char *which,
				 struct journal_job *job)
{
	int64_t number = which && journal_is_number(which) ? strtoll(which, NULL, 10) : -1;

	*job = (struct journal_job){0};
	enum journal_status status = journal_each(
		journal,
		which ? JOB_SQL "WHERE j.racket = :which OR CASE WHEN :number >= 0 "
				"THEN j.id = :number ELSE :which IN (j.uuid, j.name) END "
				"ORDER BY j.id = :number DESC, :which IN (j.uuid, j.name) DESC, "
				"s.state = 'open' DESC, j.id DESC LIMIT 1"
		      : OPEN_SQL " LIMIT 1",
		FIELDS(field_text("which", which), field_number("number", number)), take_job, job);
	if (status != JOURNAL_OK || job->number)
		return status;
	return which ? journal_fail(journal, JOURNAL_NONE, "it has no job \"%s\"", which)
		     : journal_fail(journal, JOURNAL_NONE, "no job is open");
}

struct work_by_call {
	const struct script *script;
	int64_t *work_us;
	int64_t *aside_us;
};

static void add_work(void *context, sqlite3_stmt *row)
{
	const struct work_by_call *work = context;
	int place = script_place(work->script, sqlite3_column_int(row, 0));
	bool there = place >= 1 && place <= work->script->count;

	*(there ? &work->work_us[place] : work->aside_us) += sqlite3_column_int64(row, 1);
}

enum journal_status journal_work(struct journal *journal, int64_t job, const struct script *script,
				 int64_t *work_us, int64_t *aside_us)
{
	struct work_by_call work = {script, work_us, aside_us};

	return journal_each(journal, "SELECT n, work_us FROM call_time WHERE job = :job",
			    FIELDS(field_number("job", job)), add_work, &work);
}

/* ---- rows ---- */

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

static void insert_job(struct journal *journal, const struct script *script, int64_t wall_us)
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

	journal_insert(journal, "job", fields);
}

/* Those from the place `first` on, with what they cut off a reel. */
static void insert_calls(struct journal *journal, int64_t job, const struct script *script,
			 int first)
{
	for (int place = first; place <= script->count; place++) {
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
		const struct journal_field cut[] = {
			field_number("job", job),
			field_number("n", line->call),
			field_text("reel", line->reel),
			field_number("length_mm", line->cut_mm),
			{0},
		};
		journal_insert(journal, "call", fields);
		if (line->reel && *line->reel)
			journal_insert(journal, "cut", cut);
	}
}

static void replace_script(struct journal *journal, int64_t job, const struct script *script)
{
	struct text packed = {0};

	script_pack(script, &packed);
	const struct journal_field fields[] = {
		field_number("job", job),
		{"packed", JOURNAL_BYTES, (int64_t)packed.length, packed.bytes},
		{0},
	};
	journal_do(journal, "INSERT OR REPLACE INTO script VALUES (:job, :packed)", fields);
	text_free(&packed);
}

/* A job that is over needs no script any more. */
static void insert_event(struct journal *journal, const struct journal_event *event, int64_t seq)
{
	const struct journal_field fields[] = {
		field_number("job", journal->job),
		field_number("seq", seq),
		field_number("run", journal->run),
		field_text("kind", journal_kind_names[event->kind]),
		field_number("call", event->call),
		field_number("working", event->working),
		field_number("steady_us", event->steady_us),
		field_number("boot_us", event->boot_us),
		field_number("wall_us", event->wall_us),
		field_text("detail", event->detail),
		field_unless(JOURNAL_NO_RESPONSE, "response_us", event->response_us),
		{0},
	};

	journal_insert(journal, "event", fields);
	journal->untouched &= event->kind == JOURNAL_STARTED || event->kind == JOURNAL_FAULT ||
			      event->kind == JOURNAL_MENDED;
	if (event->kind == JOURNAL_FINISHED || event->kind == JOURNAL_ABANDONED)
		journal_do(journal, "DELETE FROM script WHERE job = :job", fields);
}

/* ---- beginning and resuming ---- */

/* Before the first call: nobody shall find a reel empty in the midst of a job. */
static void check_reels(struct journal *journal, int64_t job)
{
	static const char sql[] =
		"SELECT iif(name IS NULL, format('there is no reel \"%s\"', c.reel), "
		"format('reel %s has %.2f m left, and job %s cuts %.2f m', name, left_mm / 1e3, "
		"(SELECT name FROM job WHERE id = :job), need / 1e3)) "
		"FROM (SELECT reel, sum(length_mm) AS need FROM cut WHERE job = :job GROUP BY reel) "
		"AS c LEFT JOIN reel ON name = c.reel WHERE name IS NULL OR need > left_mm";
	char *why = NULL;

	journal_ask(journal, sql, FIELDS(field_number("job", job)), TARGETS(INTO(why)));
	if (!why)
		return;
	free(journal->message);
	journal->message = why;
	journal->failed = JOURNAL_SHORT;
}

enum journal_status journal_begin(struct journal *journal, const struct script *script,
				  int64_t wall_us)
{
	enum journal_status status = journal_flush(journal);
	bool on_rack = false;

	if (status != JOURNAL_OK)
		return status;
	journal_begin_transaction(journal, "begin the job");
	insert_job(journal, script, wall_us);
	int64_t job = sqlite3_last_insert_rowid(journal->database);
	journal_ask(journal, "SELECT count(*) FROM rack WHERE began = :job",
		    FIELDS(field_number("job", job)), TARGETS(INTO(on_rack)));
	insert_calls(journal, job, script, 1);
	check_reels(journal, job);
	replace_script(journal, job, script);
	status = journal_end_transaction(journal);
	if (status != JOURNAL_OK)
		return status;
	journal->job = job;
	journal->run = 1;
	journal->next_seq = 1;
	journal->untouched = !on_rack;
	return JOURNAL_OK;
}

bool journal_discard(struct journal *journal)
{
	static const char sql[] =
		"DELETE FROM rack WHERE began = :job; DELETE FROM script WHERE job = :job;"
		"DELETE FROM cut WHERE job = :job; DELETE FROM event WHERE job = :job;"
		"DELETE FROM call WHERE job = :job; DELETE FROM job WHERE id = :job";

	if (!journal->untouched || journal->waiting_count > 0)
		return false;
	journal_begin_transaction(journal, "remove a job that was not begun");
	journal_do(journal, sql, FIELDS(field_number("job", journal->job)));
	if (journal_end_transaction(journal) != JOURNAL_OK)
		return false;
	journal->job = 0;
	return true;
}

enum journal_status journal_resume(struct journal *journal, int64_t job)
{
	static const char sql[] =
		"SELECT coalesce(max(run), 0) + 1, coalesce(max(seq), 0) + 1 FROM job "
		"LEFT JOIN event ON event.job = job.id WHERE job.id = :job GROUP BY job.id";
	int64_t run = 0, seq = 0;
	enum journal_status status = journal_flush(journal);

	if (status == JOURNAL_OK)
		status = journal_ask(journal, sql, FIELDS(field_number("job", job)),
				     TARGETS(INTO(run), INTO(seq)));
	if (status == JOURNAL_OK && run == 0)
		status = journal_fail(journal, JOURNAL_NONE, "it has no job %lld", (long long)job);
	if (status != JOURNAL_OK)
		return status;
	journal->job = job;
	journal->untouched = false;
	journal->run = run;
	journal->next_seq = seq;
	return JOURNAL_OK;
}

int64_t journal_number(const struct journal *journal)
{
	return journal->job;
}

/* ---- scripts ---- */

enum journal_status journal_keep_script(struct journal *journal, int64_t job,
					const struct script *script)
{
	journal_begin_transaction(journal, "keep the script");
	replace_script(journal, job ? job : journal->job, script);
	return journal_end_transaction(journal);
}

static void unpack(void *context, sqlite3_stmt *row)
{
	*(struct script **)context =
		script_unpack(sqlite3_column_blob(row, 0), (size_t)sqlite3_column_bytes(row, 0));
}

enum journal_status journal_script(struct journal *journal, int64_t job, struct script **out)
{
	*out = NULL;
	enum journal_status status =
		journal_each(journal, "SELECT packed FROM script WHERE job = :job",
			     FIELDS(field_number("job", job)), unpack, out);
	return status != JOURNAL_OK || *out
		       ? status
		       : journal_fail(journal, JOURNAL_NONE,
				      "it has no script of job %lld that this version can read",
				      (long long)job);
}

/* ---- events ---- */

bool journal_waits(const struct journal *journal)
{
	return journal->waiting_count > 0;
}

enum journal_status journal_flush(struct journal *journal)
{
	if (journal->waiting_count == 0)
		return JOURNAL_OK;
	journal_begin_transaction(journal, "write an event");
	for (int i = 0; i < journal->waiting_count; i++)
		insert_event(journal, &journal->waiting[i].event, journal->next_seq + i);
	enum journal_status status = journal_end_transaction(journal);
	if (status != JOURNAL_OK)
		return status;
	journal->next_seq += journal->waiting_count;
	for (int i = 0; i < journal->waiting_count; i++)
		free(journal->waiting[i].detail);
	journal->waiting_count = 0;
	return JOURNAL_OK;
}

enum journal_status journal_append(struct journal *journal, const struct journal_event *event)
{
	/* The newest event says where the job stands, so the oldest goes. */
	if (journal->waiting_count == JOURNAL_WAITING_MAX) {
		free(journal->waiting[0].detail);
		memmove(journal->waiting, journal->waiting + 1,
			(size_t)--journal->waiting_count * sizeof *journal->waiting);
	}
	journal->waiting = memory_resize(journal->waiting, (size_t)journal->waiting_count + 1,
					 sizeof *journal->waiting);
	struct waiting *last = &journal->waiting[journal->waiting_count++];
	*last = (struct waiting){.event = *event, .detail = memory_copy(event->detail)};
	last->event.detail = last->detail;
	return journal_flush(journal);
}

/* ---- the way back ---- */

static void insert_mishap(struct journal *journal, const struct script *script,
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

	journal_insert(journal, "mishap", fields);
}

enum journal_status journal_go_back(struct journal *journal, const struct script *script,
				    const struct journal_event *event)
{
	const struct journal_field fields[] = {
		field_number("job", journal->job),
		field_number("calls", script_call(script, script->count)),
		field_number("n", script->mishap_count + 1), /* of a mishap that was none */
		{0},
	};
	int place = script_place(script, event->call);
	enum journal_status status = journal_flush(journal);

	if (status != JOURNAL_OK)
		return status;
	journal_begin_transaction(journal, "begin the way back");
	journal_do(journal,
		   "UPDATE job SET calls = :calls WHERE id = :job;"
		   "DELETE FROM cut WHERE job = :job AND NOT done", /* of calls that are replaced */
		   fields);
	if (event->kind == JOURNAL_MISHAP) {
		insert_calls(journal, journal->job, script, place);
		insert_mishap(journal, script, event);
	} else {
		insert_calls(journal, journal->job, script, place + 1);
		journal_do(journal,
			   "UPDATE call SET mishap = NULL WHERE job = :job AND mishap = :n;"
			   "DELETE FROM mishap WHERE job = :job AND n = :n",
			   fields);
	}
	replace_script(journal, journal->job, script);
	insert_event(journal, event, journal->next_seq);
	status = journal_end_transaction(journal);
	if (status == JOURNAL_OK)
		journal->next_seq++;
	return status;
}
