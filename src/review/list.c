/* Lists of jobs, of the rack and the reels, and of names. */
#include "review/internal.h"

#include <stdlib.h>
#include <string.h>

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

/* What tells a racket, and where its job stands, comes first: a narrow terminal has it in one line.
 * Of the last 180 days the time of day is shown, of others the year. */
static const char list_sql[] =
	"SELECT j.id, strftime(iif(j.created_us BETWEEN :now - 15552000000000 AND :now, "
	"'%m-%d %H:%M', '%Y-%m-%d'), j.created_us / 1000000, 'unixepoch', 'localtime'), "
	"j.name, j.racket, j.customer, "
	"iif(s.state = 'open', 'call ' || min(s.place, s.places) || '/' || s.places, s.state), "
	"(SELECT work(run, working, steady_us) FROM "
	"(SELECT run, working, steady_us FROM event WHERE job = j.id ORDER BY seq)), "
	"j.stringer, j.pattern, " JOURNAL_TENSIONS " "
	"FROM " REVIEW_WANTED " AS wanted CROSS JOIN job AS j ON j.id = wanted.id "
	"CROSS JOIN job_state AS s ON s.job = j.id "
	"ORDER BY s.state <> 'open', j.created_us, j.id";

/* Prints the rows of a query, or what to say of none. */
static enum journal_status print_rows(struct journal *journal, const struct table_column *columns,
				      const char *sql, const struct journal_field *fields,
				      const char *none, FILE *out)
{
	struct table table;

	table_begin(&table, NULL, columns);
	enum journal_status status = table_rows(&table, journal, sql, fields);
	if (status == JOURNAL_OK && table.cell_count)
		table_print_list(&table, out);
	else if (status == JOURNAL_OK)
		fprintf(out, "%s\n", none);
	table_free(&table);
	return status;
}

enum journal_status review_print_jobs(struct journal *journal, const struct review_filter *filter,
				      int64_t now_us, FILE *out)
{
	static const struct table_column columns[] = {{"job", COLUMN_NUMBER},
						      {"begun", COLUMN_TEXT},
						      {"name", COLUMN_NAME},
						      {"racket", COLUMN_NAME},
						      {"customer", COLUMN_NAME},
						      {"state", COLUMN_TEXT},
						      {"work", COLUMN_TIME},
						      {"stringer", COLUMN_NAME},
						      {"pattern", COLUMN_NAME},
						      {"tension", COLUMN_TEXT},
						      {0}};
	struct filter_fields wanted = review_filter_fields(filter);

	wanted.fields[FILTER_FIELDS] = field_number("now", now_us);
	return print_rows(journal, columns, list_sql, wanted.fields, "no jobs", out);
}

/* ---- the rack and the reels ---- */

/* Where a job stands is looked up for each, because a join with job_state would be worked out for
 * all jobs of the journal. */
static const char rack_sql[] =
	"SELECT '@' || n, name, racket, customer, due, left_us, stringer, pattern, " JOURNAL_TENSIONS
	", "
	"trim(iif(short_reel IS NULL, '', 'reel ' || short_reel || ' too short  ') || "
	"coalesce((SELECT 'job ' || job || ', call ' || place || '/' || places FROM job_state "
	"WHERE job = began), '')) FROM rack_state ORDER BY n";

enum journal_status review_print_rack(struct journal *journal, int64_t now_us, FILE *out)
{
	static const struct table_column columns[] = {{"", COLUMN_FIGURES},
						      {"name", COLUMN_NAME},
						      {"racket", COLUMN_NAME},
						      {"customer", COLUMN_NAME},
						      {"due", COLUMN_TEXT},
						      {"left", COLUMN_TIME},
						      {"stringer", COLUMN_NAME},
						      {"pattern", COLUMN_NAME},
						      {"tension", COLUMN_TEXT},
						      {"", COLUMN_TEXT},
						      {0}};
	char *done = NULL;
	enum journal_status status =
		print_rows(journal, columns, rack_sql, NULL, "nothing waits on the rack", out);

	if (status == JOURNAL_OK)
		status = journal_ask(journal, rack_done_sql, FIELDS(field_number("now", now_us)),
				     TARGETS(INTO(done)));
	if (done)
		fprintf(out, "%s\n", done);
	free(done);
	return status;
}

enum journal_status review_print_reels(struct journal *journal, FILE *out)
{
	static const struct table_column columns[] = {
		{"reel", COLUMN_NAME}, {"left", COLUMN_FIGURES}, {"remark", COLUMN_TEXT}, {0}};
	static const char sql[] =
		"SELECT name, format('%.2f m', max(left_mm, 0) / 1e3), iif(left_mm < 0, "
		"format('%.2f m more was cut than it held: measure it, and say so with reel set', "
		"-left_mm / 1e3), '') FROM reel ORDER BY name";

	return print_rows(journal, columns, sql, NULL, "no reels", out);
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
	all->names[all->count++] = memory_copy((const char *)sqlite3_column_text(row, 0));
	all->names[all->count] = NULL;
}

char *review_unknown(struct journal *journal, enum review_name what, const char *word)
{
	static const struct {
		const char *noun, *column, *table;
	} rows[] = {
		[REVIEW_JOB] = {"job", "name", "job"},
		[REVIEW_STRINGER] = {"stringer", "stringer", "job"},
		[REVIEW_RACKET] = {"job with the racket", "racket", "job"},
		[REVIEW_CUSTOMER] = {"job for the customer", "customer", "job"},
		[REVIEW_PATTERN] = {"job with the pattern", "pattern", "job"},
		[REVIEW_REEL] = {"reel", "name", "reel"},
	};
	const char *column = rows[what].column;
	struct names all = {0};
	char *sentence = NULL;

	if (what == REVIEW_JOB && journal_is_number(word))
		return memory_format("no job has the number %s", word);
	char *sql = memory_format("SELECT DISTINCT %s FROM %s WHERE %s NOT NULL", column,
				  rows[what].table, column);
	bool known = journal_each(journal, sql, NULL, add_name, &all) != JOURNAL_OK;

	free(sql);
	for (size_t i = 0; i < all.count; i++)
		known = known || strcmp(all.names[i], word) == 0;
	const char *meant =
		all.count ? fault_did_you_mean(word, (const char *const *)all.names) : NULL;
	if (!known)
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
	char *other;

	journal_ask(journal,
		    "SELECT max(stringer) FROM job WHERE stringer = :stringer COLLATE NOCASE "
		    "AND NOT EXISTS (SELECT 1 FROM job WHERE stringer = :stringer)",
		    FIELDS(field_text("stringer", stringer)), TARGETS(INTO(other)));
	return other;
}
