/* Which jobs there are. */
#include "review/internal.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

struct filter_fields review_filter_fields(const struct review_filter *filter)
{
	return (struct filter_fields){{
		field_text("stringer", filter->stringer),
		field_text("pattern", filter->pattern),
		field_text("method", filter->method),
		field_text("sport", filter->sport),
		field_text("detail", filter->detail),
		field_number("since", filter->since_us),
		field_number("until", filter->until_us),
		field_number("newest", filter->newest > 0 ? filter->newest : -1),
	}};
}

static const char list_sql[] =
	"SELECT j.id, strftime('%Y-%m-%d %H:%M', j.created_us / 1000000, 'unixepoch', 'localtime'), "
	"j.name, j.stringer, j.pattern, (s.place - 1) || '/' || s.places, s.state, "
	"coalesce((SELECT sum(p.span_us) FROM span AS p WHERE p.job = j.id AND p.working), 0) "
	"FROM " REVIEW_WANTED " AS wanted CROSS JOIN job AS j ON j.id = wanted.id "
	"CROSS JOIN job_state AS s ON s.job = j.id "
	"ORDER BY s.state <> 'open', j.created_us, j.id";

enum journal_status review_print_jobs(struct journal *journal, const struct review_filter *filter,
				      FILE *out)
{
	static const struct table_column columns[] = {
		{"job", COLUMN_NUMBER, false},   {"begun", COLUMN_TEXT, false},
		{"name", COLUMN_NAME, false},    {"stringer", COLUMN_NAME, false},
		{"pattern", COLUMN_NAME, false}, {"calls", COLUMN_FIGURES, false},
		{"state", COLUMN_TEXT, false},   {"work", COLUMN_TIME, false}};
	struct filter_fields wanted = review_filter_fields(filter);
	struct table table;

	table_begin(&table, NULL, columns, 8);
	enum journal_status status = table_rows(&table, journal, list_sql, wanted.fields);
	if (status == JOURNAL_OK && table.cell_count)
		table_print(&table, 0, out);
	else if (status == JOURNAL_OK)
		fputs("no jobs\n", out);
	table_free(&table);
	return status;
}

/* ---- names ---- */

static enum journal_status read_names(struct journal *journal, const char *sql, char ***names,
				      size_t *count)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_query(journal, sql, NULL, &statement);
	bool row = false;

	while (status == JOURNAL_OK &&
	       (status = journal_step(journal, statement, &row)) == JOURNAL_OK && row) {
		*names = memory_resize(*names, *count + 1, sizeof(char *));
		(*names)[(*count)++] = journal_column_copy(statement, 0);
	}
	sqlite3_finalize(statement);
	*names = memory_resize(*names, *count + 1, sizeof(char *));
	(*names)[*count] = NULL;
	return status;
}

char *review_unknown(struct journal *journal, enum review_name what, const char *word)
{
	static const struct {
		const char *noun, *sql;
	} rows[] = {
		[REVIEW_JOB] = {"job", "SELECT DISTINCT name FROM job"},
		[REVIEW_STRINGER] = {"stringer", "SELECT DISTINCT stringer FROM job"},
		[REVIEW_PATTERN] = {"job with the pattern", "SELECT DISTINCT pattern FROM job"},
	};
	char **names = NULL, *sentence = NULL;
	size_t count = 0;
	bool known = read_names(journal, rows[what].sql, &names, &count) != JOURNAL_OK;

	for (size_t i = 0; i < count; i++)
		known = known || (strcmp(names[i], word) == 0 &&
				  !(what == REVIEW_JOB && journal_is_number(word)));
	const char *meant = fault_did_you_mean(word, (const char *const *)names);
	if (!known && what == REVIEW_JOB && journal_is_number(word))
		sentence = memory_format("no job has the number %s", word);
	else if (!known)
		sentence = memory_format("no %s \"%s\"%s%s%s", rows[what].noun, word,
					 meant ? "; did you mean \"" : "", meant ? meant : "",
					 meant ? "\"?" : "");
	for (size_t i = 0; i < count; i++)
		free(names[i]);
	free(names);
	return sentence;
}

char *review_other_spelling(struct journal *journal, const char *stringer)
{
	char **names = NULL, *other = NULL;
	size_t count = 0;
	bool known = read_names(journal, "SELECT DISTINCT stringer FROM job", &names, &count) !=
		     JOURNAL_OK;

	for (size_t i = 0; i < count; i++) {
		known = known || strcmp(names[i], stringer) == 0;
		if (strcasecmp(names[i], stringer) == 0)
			memory_replace(&other, names[i]);
		free(names[i]);
	}
	free(names);
	if (known)
		memory_replace(&other, NULL);
	return other;
}
