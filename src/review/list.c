/* Lists of jobs and names. */
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
		field_text("racket", filter->racket),
		field_text("customer", filter->customer),
		field_text("due", filter->due),
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
		{"job", COLUMN_NUMBER},    {"begun", COLUMN_TEXT},   {"name", COLUMN_NAME},
		{"stringer", COLUMN_NAME}, {"pattern", COLUMN_NAME}, {"calls", COLUMN_FIGURES},
		{"state", COLUMN_TEXT},    {"work", COLUMN_TIME}};
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

struct names {
	char **names; /* ended by NULL */
	size_t count;
};

static void add_name(void *context, sqlite3_stmt *row)
{
	struct names *all = context;

	all->names = memory_resize(all->names, all->count + 2, sizeof(char *));
	all->names[all->count++] = journal_column_copy(row, 0);
	all->names[all->count] = NULL;
}

char *review_unknown(struct journal *journal, enum review_name what, const char *word)
{
	static const struct {
		const char *noun, *sql;
	} rows[] = {
		[REVIEW_JOB] = {"job", "SELECT DISTINCT name FROM job"},
		[REVIEW_STRINGER] = {"stringer", "SELECT DISTINCT stringer FROM job"},
		[REVIEW_RACKET] = {"job with the racket", "SELECT DISTINCT racket FROM job "
							  "WHERE racket NOT NULL"},
		[REVIEW_CUSTOMER] = {"job for the customer", "SELECT DISTINCT customer FROM job "
							     "WHERE customer NOT NULL"},
		[REVIEW_PATTERN] = {"job with the pattern", "SELECT DISTINCT pattern FROM job"},
	};
	bool number = what == REVIEW_JOB && journal_is_number(word);
	struct names all = {0};
	char *sentence = NULL;
	bool known = journal_each(journal, rows[what].sql, NULL, add_name, &all) != JOURNAL_OK;

	for (size_t i = 0; i < all.count; i++)
		known = known || (!number && strcmp(all.names[i], word) == 0);
	const char *meant =
		all.count ? fault_did_you_mean(word, (const char *const *)all.names) : NULL;
	if (!known && number)
		sentence = memory_format("no job has the number %s", word);
	else if (!known)
		sentence = memory_format("no %s \"%s\"%s%s%s", rows[what].noun, word,
					 meant ? "; did you mean \"" : "", meant ? meant : "",
					 meant ? "\"?" : "");
	for (size_t i = 0; i < all.count; i++)
		free(all.names[i]);
	free(all.names);
	return sentence;
}

char *review_other_spelling(struct journal *journal, const char *stringer)
{
	const struct journal_field fields[] = {field_text("stringer", stringer), {0}};
	char *other = NULL;

	journal_ask_text(journal,
			 "SELECT max(stringer) FROM job WHERE stringer = :stringer COLLATE NOCASE "
			 "AND NOT EXISTS (SELECT 1 FROM job WHERE stringer = :stringer)",
			 fields, &other);
	return other;
}
