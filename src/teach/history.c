/* From the journal's events to those of teaching. */
#include "teach/teach.h"

#include "base/base.h"

#include <stdlib.h>
#include <string.h>

/* False if it says nothing about a trainee. */
static bool read_record(const struct teach_record *record, struct teach_event *out)
{
	static const struct {
		bool counts;
		enum teach_event_kind kind;
	} kinds[JOURNAL_KINDS] = {
		[JOURNAL_NEXT] = {true, TEACH_DONE},   [JOURNAL_RIGHT] = {true, TEACH_RIGHT},
		[JOURNAL_WRONG] = {true, TEACH_WRONG}, [JOURNAL_ANSWERED] = {true, TEACH_LATE},
		[JOURNAL_AGAIN] = {true, TEACH_AGAIN}, [JOURNAL_BACK] = {true, TEACH_BACK},
		[JOURNAL_FOUND] = {true, TEACH_FOUND}, [JOURNAL_FINISHED] = {true, TEACH_FINISHED},
	};
	const char *detail = record->detail ? record->detail : "";

	*out = (struct teach_event){
		.wall_us = record->wall_us,
		.racket = record->racket,
		.kind = kinds[record->kind].kind,
		.call = record->call,
		.skill = record->skill ? teach_skill(record->skill) : -1,
	};
	if (!kinds[record->kind].counts ||
	    (record->kind == JOURNAL_ANSWERED && strcmp(detail, TEACH_ANSWER_LATE) != 0))
		return false;
	if (out->kind == TEACH_FOUND) {
		char *name = memory_copy_part(detail, strcspn(detail, " "));
		bool known = work_fault_parse(name, &out->fault);
		free(name);
		return known;
	}
	return out->kind == TEACH_FINISHED || out->skill >= 0;
}

void teach_add(struct trainee *trainee, const struct teach_record *record)
{
	struct teach_event event;

	if (read_record(record, &event))
		teach_event(trainee, &event);
}

enum journal_status teach_history(struct journal *journal, const char *stringer,
				  void (*each)(void *owner, const struct teach_record *record),
				  void *owner)
{
	static const char sql[] =
		"SELECT r.job, r.time_us, r.kind, r.n, c.skill, r.detail FROM (SELECT e.job, e.seq, "
		"e.kind, e.detail, e.call - (e.kind IN ('next', 'right')) AS n, j.uuid, "
		"max(e.wall_us) OVER (PARTITION BY e.job ORDER BY e.seq) AS time_us "
		"FROM job AS j JOIN event AS e ON e.job = j.id WHERE j.id IN " TEACH_JOBS
		" AND e.kind IN ('next', 'right', 'wrong', 'answered', 'again', 'back', 'found', "
		"'passed', 'finished')) AS r "
		"LEFT JOIN call AS c ON c.job = r.job AND c.n = r.n ORDER BY time_us, uuid, seq";
	const struct journal_field fields[] = {field_text("stringer", stringer), {0}};
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_query(journal, sql, fields, &row);

	while (status == JOURNAL_OK && (status = journal_step(journal, row, &more)) == JOURNAL_OK &&
	       more) {
		struct teach_record record = {
			.racket = sqlite3_column_int64(row, 0),
			.wall_us = sqlite3_column_int64(row, 1),
			.call = sqlite3_column_int(row, 3),
			.skill = (const char *)sqlite3_column_text(row, 4),
			.detail = (const char *)sqlite3_column_text(row, 5),
		};
		if (journal_kind_parse((const char *)sqlite3_column_text(row, 2), &record.kind))
			each(owner, &record);
	}
	sqlite3_finalize(row);
	return status;
}
