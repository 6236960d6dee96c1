/* Where a job stands. */
#include "journal/internal.h"

#include "base/base.h"

#include <stdlib.h>
#include <string.h>

static const char *const kind_names[JOURNAL_KINDS] = {
	[JOURNAL_STARTED] = "started",     [JOURNAL_ANNOUNCED] = "announced",
	[JOURNAL_NEXT] = "next",           [JOURNAL_AGAIN] = "again",
	[JOURNAL_BACK] = "back",           [JOURNAL_UNDO] = "undo",
	[JOURNAL_PAUSE] = "pause",         [JOURNAL_RESUME] = "resume",
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

/* Paused: the last pause has no resume after it. */
#define PLACE_SQL                                                                                  \
	"SELECT j.id, j.uuid, j.name, j.stringer, j.pattern, j.sport, j.method, j.plan_file, "     \
	"j.plan_text, j.pattern_text, j.language, j.program, j.created_us, j.calls, s.call, "      \
	"s.working, s.state = 'open', s.last, s.last_wall_us, s.runs, "                            \
	"coalesce((SELECT e.kind = 'pause' FROM event AS e WHERE e.job = j.id "                    \
	"AND e.kind IN ('pause', 'resume') ORDER BY e.seq DESC LIMIT 1), 0) "                      \
	"FROM job AS j JOIN job_state AS s ON s.job = j.id "

static void read_place(sqlite3_stmt *row, struct journal_place *place)
{
	char **const texts[] = {&place->name,      &place->stringer,     &place->pattern,
				&place->sport,     &place->method,       &place->plan_file,
				&place->plan_text, &place->pattern_text, &place->language,
				&place->program};
	const char *last = (const char *)sqlite3_column_text(row, 17);

	*place = (struct journal_place){.job = sqlite3_column_int64(row, 0)};
	strncpy(place->uuid, (const char *)sqlite3_column_text(row, 1), JOURNAL_UUID_MAX - 1);
	for (int i = 0; i < (int)(sizeof texts / sizeof texts[0]); i++)
		*texts[i] = journal_column_copy(row, i + 2);
	place->created_us = sqlite3_column_int64(row, 12);
	place->calls = sqlite3_column_int(row, 13);
	place->call = sqlite3_column_int(row, 14);
	place->working = sqlite3_column_int(row, 15);
	place->open = sqlite3_column_int(row, 16);
	place->last = JOURNAL_STARTED;
	if (last)
		journal_kind_parse(last, &place->last);
	place->last_wall_us = sqlite3_column_int64(row, 18);
	place->runs = sqlite3_column_int(row, 19);
	place->paused = sqlite3_column_int(row, 20);
}

/* Runs a prepared PLACE_SQL, which it finalizes, for its first row. */
static enum journal_status first_place(struct journal *journal, sqlite3_stmt *statement,
				       struct journal_place *place)
{
	bool row = false;
	enum journal_status status = journal_step(journal, statement, &row);

	if (row)
		read_place(statement, place);
	else if (status == JOURNAL_OK)
		status = JOURNAL_NONE;
	sqlite3_finalize(statement);
	return status;
}

enum journal_status journal_open_job(struct journal *journal, struct journal_place *place)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(
		journal,
		PLACE_SQL "WHERE j.id = (SELECT s.job FROM job_state AS s JOIN job AS o "
			  "ON o.id = s.job WHERE s.state = 'open' AND NOT o.merged "
			  "ORDER BY o.id DESC LIMIT 1)",
		&statement);

	if (status == JOURNAL_OK)
		status = first_place(journal, statement, place);
	return status == JOURNAL_NONE ? journal_fail(journal, status, "no job is open") : status;
}

static bool is_number(const char *which)
{
	return *which && strspn(which, "0123456789") == strlen(which) && strlen(which) < 19;
}

enum journal_status journal_find(struct journal *journal, const char *which,
				 struct journal_place *place)
{
	sqlite3_stmt *statement = NULL;
	const char *sql = is_number(which) ? PLACE_SQL "WHERE j.id = ?1 OR j.name = ?2 "
						       "ORDER BY j.id = ?1 DESC, j.id DESC LIMIT 1"
					   : PLACE_SQL "WHERE j.uuid = ?2 OR j.name = ?2 "
						       "ORDER BY j.id DESC LIMIT 1";
	enum journal_status status = journal_prepare(journal, sql, &statement);

	if (status != JOURNAL_OK)
		return status;
	if (is_number(which))
		sqlite3_bind_int64(statement, 1, strtoll(which, NULL, 10));
	journal_bind_text(statement, 2, which);
	status = first_place(journal, statement, place);
	return status == JOURNAL_NONE ? journal_fail(journal, status, "it has no job \"%s\"", which)
				      : status;
}

void journal_place_free(struct journal_place *place)
{
	free(place->name);
	free(place->stringer);
	free(place->pattern);
	free(place->sport);
	free(place->method);
	free(place->plan_file);
	free(place->plan_text);
	free(place->pattern_text);
	free(place->language);
	free(place->program);
	*place = (struct journal_place){0};
}

enum journal_status journal_work(struct journal *journal, int64_t job, int64_t *work_us, int calls)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;
	enum journal_status status = journal_prepare(
		journal, "SELECT n, work_us FROM call_time WHERE job = ?1 AND n <= ?2", &statement);

	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, job);
	sqlite3_bind_int(statement, 2, calls);
	while ((status = journal_step(journal, statement, &row)) == JOURNAL_OK && row)
		work_us[sqlite3_column_int(statement, 0)] = sqlite3_column_int64(statement, 1);
	sqlite3_finalize(statement);
	return status;
}
