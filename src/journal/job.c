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
	[JOURNAL_ABANDONED] = "abandoned",
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

/* Paused: the last pause has no resume after it. Put away: stopped, and not by what a detail says.
 */
#define JOB_SQL                                                                                    \
	"SELECT j.id, j.uuid, j.name, j.stringer, j.pattern, j.sport, j.method, j.plan_file, "     \
	"j.plan_text, j.pattern_text, j.language, j.program, j.created_us, j.calls, s.call, "      \
	"s.working, s.state = 'open', s.last, s.last_wall_us, s.runs, "                            \
	"coalesce((SELECT e.kind = 'pause' FROM event AS e WHERE e.job = j.id "                    \
	"AND e.kind IN ('pause', 'resume') ORDER BY e.seq DESC LIMIT 1), 0), "                     \
	"coalesce((SELECT e.kind = 'stopped' AND e.detail IS NULL FROM event AS e "                \
	"WHERE e.job = j.id ORDER BY e.seq DESC LIMIT 1), 0) "                                     \
	"FROM job AS j JOIN job_state AS s ON s.job = j.id "

static void read_job(sqlite3_stmt *row, struct journal_job *job)
{
	char **const texts[] = {&job->name,      &job->stringer,     &job->pattern,
				&job->sport,     &job->method,       &job->plan_file,
				&job->plan_text, &job->pattern_text, &job->language,
				&job->program};
	const char *last = (const char *)sqlite3_column_text(row, 17);

	*job = (struct journal_job){.number = sqlite3_column_int64(row, 0)};
	strncpy(job->uuid, (const char *)sqlite3_column_text(row, 1), JOURNAL_UUID_MAX - 1);
	for (int i = 0; i < (int)(sizeof texts / sizeof texts[0]); i++)
		*texts[i] = journal_column_copy(row, i + 2);
	job->created_us = sqlite3_column_int64(row, 12);
	job->calls = sqlite3_column_int(row, 13);
	job->call = sqlite3_column_int(row, 14);
	job->working = sqlite3_column_int(row, 15);
	job->open = sqlite3_column_int(row, 16);
	job->last = JOURNAL_STARTED;
	if (last)
		journal_kind_parse(last, &job->last);
	job->last_wall_us = sqlite3_column_int64(row, 18);
	job->runs = sqlite3_column_int(row, 19);
	job->paused = sqlite3_column_int(row, 20);
	job->put_away = sqlite3_column_int(row, 21);
	job->place = job->call;
	job->places = job->calls;
}

/* Where a way back gave calls numbers of their own, their places are not their numbers. A journal
 * of version 1 has none. */
static enum journal_status read_places(struct journal *journal, struct journal_job *job)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;

	if (journal->version < 2)
		return JOURNAL_OK;
	enum journal_status status = journal_prepare(
		journal,
		"SELECT max(iif(n = ?2, place, NULL)), max(iif(n = ?3, place, NULL)) FROM call "
		"WHERE job = ?1 AND n IN (?2, ?3)",
		&statement);
	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, job->number);
	sqlite3_bind_int(statement, 2, job->call);
	sqlite3_bind_int(statement, 3, job->calls);
	status = journal_step(journal, statement, &row);
	if (row && sqlite3_column_type(statement, 1) != SQLITE_NULL)
		job->places = sqlite3_column_int(statement, 1);
	if (row && sqlite3_column_type(statement, 0) != SQLITE_NULL)
		job->place = sqlite3_column_int(statement, 0);
	else if (job->call > job->calls)
		job->place = job->places + 1;
	sqlite3_finalize(statement);
	return status;
}

/* Runs a prepared JOB_SQL, which it finalizes, for its first row. */
static enum journal_status first_job(struct journal *journal, sqlite3_stmt *statement,
				     struct journal_job *job)
{
	bool row = false;
	enum journal_status status = journal_step(journal, statement, &row);

	if (row)
		read_job(statement, job);
	else if (status == JOURNAL_OK)
		status = JOURNAL_NONE;
	sqlite3_finalize(statement);
	return status == JOURNAL_OK ? read_places(journal, job) : status;
}

/* Jobs that were merged from another journal are somebody else's to go on with. */
#define OPEN_SQL                                                                                   \
	JOB_SQL "WHERE s.state = 'open' AND NOT j.merged AND (?1 IS NULL OR j.name = ?1) "         \
		"ORDER BY coalesce(s.last_wall_us, j.created_us) DESC, j.id DESC"

enum journal_status journal_open_job(struct journal *journal, const char *name,
				     struct journal_job *job)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(journal, OPEN_SQL " LIMIT 1", &statement);

	if (status != JOURNAL_OK)
		return status;
	journal_bind_text(statement, 1, name);
	status = first_job(journal, statement, job);
	return status == JOURNAL_NONE ? journal_fail(journal, status, "no job is open") : status;
}

enum journal_status journal_open_jobs(struct journal *journal, const char *name,
				      struct journal_job **jobs, int *count)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(journal, OPEN_SQL, &statement);
	bool row = false;

	*jobs = NULL;
	*count = 0;
	if (status != JOURNAL_OK)
		return status;
	journal_bind_text(statement, 1, name);
	while ((status = journal_step(journal, statement, &row)) == JOURNAL_OK && row) {
		*jobs = memory_resize(*jobs, (size_t)*count + 1, sizeof(**jobs));
		read_job(statement, &(*jobs)[*count]);
		read_places(journal, &(*jobs)[(*count)++]);
	}
	sqlite3_finalize(statement);
	return status;
}

static bool is_number(const char *which)
{
	return *which && strspn(which, "0123456789") == strlen(which) && strlen(which) < 19;
}

enum journal_status journal_find(struct journal *journal, const char *which,
				 struct journal_job *job)
{
	sqlite3_stmt *statement = NULL;
	const char *sql =
		is_number(which) ? JOB_SQL
			"WHERE j.id = ?1 OR j.name = ?2 "
			"ORDER BY j.id = ?1 DESC, s.state = 'open' DESC, j.id DESC LIMIT 1"
				 : JOB_SQL "WHERE j.uuid = ?2 OR j.name = ?2 "
					   "ORDER BY s.state = 'open' DESC, j.id DESC LIMIT 1";
	enum journal_status status = journal_prepare(journal, sql, &statement);

	if (status != JOURNAL_OK)
		return status;
	if (is_number(which))
		sqlite3_bind_int64(statement, 1, strtoll(which, NULL, 10));
	journal_bind_text(statement, 2, which);
	status = first_job(journal, statement, job);
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
	*job = (struct journal_job){0};
}

enum journal_status journal_work(struct journal *journal, int64_t job, const struct script *script,
				 int64_t *work_us, int64_t *aside_us)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;
	enum journal_status status = journal_prepare(
		journal, "SELECT n, work_us FROM call_time WHERE job = ?1", &statement);

	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, job);
	while ((status = journal_step(journal, statement, &row)) == JOURNAL_OK && row) {
		int place = script_place(script, sqlite3_column_int(statement, 0));
		bool there = place >= 1 && place <= script->count;
		*(there ? &work_us[place] : aside_us) += sqlite3_column_int64(statement, 1);
	}
	sqlite3_finalize(statement);
	return status;
}
