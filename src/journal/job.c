/* Jobs as the journal holds them, and where they stand. */
#include "journal/internal.h"

#include "base/base.h"
#include "script/script.h"

#include <stdlib.h>
#include <string.h>

static const char *const kind_names[JOURNAL_KINDS] = {
	[JOURNAL_STARTED] = "started",     [JOURNAL_ANNOUNCED] = "announced",
	[JOURNAL_NEXT] = "next",           [JOURNAL_AGAIN] = "again",
	[JOURNAL_BACK] = "back",           [JOURNAL_UNDO] = "undo",
	[JOURNAL_PAUSE] = "pause",         [JOURNAL_RESUME] = "resume",
	[JOURNAL_MISHAP] = "mishap",       [JOURNAL_WHY] = "why",
	[JOURNAL_FAULT] = "fault",         [JOURNAL_MENDED] = "mended",
	[JOURNAL_STOPPED] = "stopped",     [JOURNAL_FINISHED] = "finished",
	[JOURNAL_ABANDONED] = "abandoned", [JOURNAL_ANSWERED] = "answered",
	[JOURNAL_RIGHT] = "right",         [JOURNAL_WRONG] = "wrong",
	[JOURNAL_STATION] = "station",     [JOURNAL_PASSED] = "passed",
	[JOURNAL_FOUND] = "found",         [JOURNAL_NOTE] = "note",
};

const char *journal_kind_name(enum journal_kind kind)
{
	return kind_names[kind];
}

bool journal_kind_parse(const char *name, enum journal_kind *out)
{
	for (int i = 0; i < JOURNAL_KINDS; i++) {
		if (strcmp(name, kind_names[i]) == 0) {
			*out = (enum journal_kind)i;
			return true;
		}
	}
	return false;
}

#define JOB_SQL                                                                                    \
	"SELECT j.id, j.uuid, j.created_us, j.calls, s.call, s.place, s.places, s.working, "       \
	"s.paused, s.put_away, s.state = 'open', s.last, s.last_wall_us, s.runs, j.name, "         \
	"j.stringer, j.pattern, j.sport, j.method, j.plan_file, j.plan_text, j.pattern_text, "     \
	"j.language, j.program, j.detail, j.racket, j.customer, j.due FROM job AS j JOIN job_state AS s ON s.job = j.id "

static void read_job(struct journal_job *job, sqlite3_stmt *row)
{
	char **const texts[] = {
		&job->name,      &job->stringer,  &job->pattern,      &job->sport,    &job->method,
		&job->plan_file, &job->plan_text, &job->pattern_text, &job->language, &job->program,
		&job->detail,    &job->racket,    &job->customer,     &job->due};
	const char *last = (const char *)sqlite3_column_text(row, 11);

	*job = (struct journal_job){
		.number = sqlite3_column_int64(row, 0),
		.created_us = sqlite3_column_int64(row, 2),
		.calls = sqlite3_column_int(row, 3),
		.call = sqlite3_column_int(row, 4),
		.place = sqlite3_column_int(row, 5),
		.places = sqlite3_column_int(row, 6),
		.working = sqlite3_column_int(row, 7),
		.paused = sqlite3_column_int(row, 8),
		.put_away = sqlite3_column_int(row, 9),
		.open = sqlite3_column_int(row, 10),
		.last = JOURNAL_STARTED,
		.last_wall_us = sqlite3_column_int64(row, 12),
		.runs = sqlite3_column_int(row, 13),
	};
	strncpy(job->uuid, (const char *)sqlite3_column_text(row, 1), JOURNAL_UUID_MAX - 1);
	if (last)
		journal_kind_parse(last, &job->last);
	for (int i = 0; i < (int)(sizeof texts / sizeof texts[0]); i++)
		*texts[i] = journal_column_copy(row, i + 14);
}

struct job_list {
	struct journal_job *jobs;
	int count;
};

static void add_job(void *context, sqlite3_stmt *row)
{
	struct job_list *list = context;

	list->jobs = memory_resize(list->jobs, (size_t)list->count + 1, sizeof *list->jobs);
	read_job(&list->jobs[list->count++], row);
}

/* Runs JOB_SQL with an ending that leaves one job at most. */
static enum journal_status one_job(struct journal *journal, const char *sql,
				   const struct journal_field *fields, struct journal_job *job)
{
	struct job_list list = {0};
	enum journal_status status = journal_each(journal, sql, fields, add_job, &list);

	if (list.count)
		*job = list.jobs[0];
	free(list.jobs);
	return status == JOURNAL_OK && !list.count ? JOURNAL_NONE : status;
}

/* Merged jobs are continued at the bench they came from. */
#define OPEN_SQL                                                                                   \
	JOB_SQL "WHERE s.state = 'open' AND NOT j.merged AND (:name IS NULL OR j.name = :name) "   \
		"ORDER BY coalesce(s.last_wall_us, j.created_us) DESC, j.id DESC"

enum journal_status journal_open_job(struct journal *journal, const char *name,
				     struct journal_job *job)
{
	const struct journal_field fields[] = {field_text("name", name), {0}};
	enum journal_status status = one_job(journal, OPEN_SQL " LIMIT 1", fields, job);

	return status == JOURNAL_NONE ? journal_fail(journal, status, "no job is open") : status;
}

enum journal_status journal_open_jobs(struct journal *journal, const char *name,
				      struct journal_job **jobs, int *count)
{
	const struct journal_field fields[] = {field_text("name", name), {0}};
	struct job_list list = {0};
	enum journal_status status = journal_each(journal, OPEN_SQL, fields, add_job, &list);

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
	const struct journal_field fields[] = {
		field_text("which", which),
		field_number("number", journal_is_number(which) ? strtoll(which, NULL, 10) : -1),
		{0},
	};
	enum journal_status status =
		one_job(journal,
			JOB_SQL "WHERE CASE WHEN :number >= 0 THEN j.id = :number "
				"ELSE j.uuid = :which OR j.name = :which END "
				"ORDER BY s.state = 'open' DESC, j.id DESC LIMIT 1",
			fields, job);

	return status == JOURNAL_NONE ? journal_fail(journal, status, "it has no job \"%s\"", which)
				      : status;
}

void journal_job_free(struct journal_job *job)
{
	free(job->name);
	free(job->stringer);
	free(job->pattern);
	free(job->sport);
	free(job->method);
	free(job->plan_file);
	free(job->plan_text);
	free(job->pattern_text);
	free(job->language);
	free(job->program);
	free(job->detail);
	free(job->racket);
	free(job->customer);
	free(job->due);
	*job = (struct journal_job){0};
}

struct work {
	const struct script *script;
	int64_t *work_us;
	int64_t *aside_us;
};

static void add_work(void *context, sqlite3_stmt *row)
{
	const struct work *work = context;
	int place = script_place(work->script, sqlite3_column_int(row, 0));
	bool there = place >= 1 && place <= work->script->count;

	*(there ? &work->work_us[place] : work->aside_us) += sqlite3_column_int64(row, 1);
}

enum journal_status journal_work(struct journal *journal, int64_t job, const struct script *script,
				 int64_t *work_us, int64_t *aside_us)
{
	const struct journal_field fields[] = {field_number("job", job), {0}};
	struct work work = {script, work_us, aside_us};

	return journal_each(journal, "SELECT n, work_us FROM call_time WHERE job = :job", fields,
			    add_work, &work);
}
