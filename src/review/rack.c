/* The rack and the reels as tables. */
#include "review/internal.h"

#include <stdlib.h>

/* Where a job stands is looked up for each, because a join with job_state would be worked out for
 * all jobs of the journal. */
static const char rack_sql[] =
	"SELECT n, name, stringer, pattern, mains_tension || ' / ' || crosses_tension, due, left_us, "
	"trim(iif(short_reel IS NULL, '', 'reel ' || short_reel || ' will be empty  ') || "
	"coalesce((SELECT 'job ' || job || ', call ' || place || ' of ' || places FROM job_state "
	"WHERE job = began), '')) FROM rack_state ORDER BY n";

static const char done_sql[] =
	"SELECT 'All done by ' || strftime('%Y-%m-%d %H:%M', :now / 1000000 + sum(left_us) / 1e6, "
	"'unixepoch', 'localtime') || ', without pauses' || iif(count(*) > count(left_us), '; and ' "
	"|| (count(*) - count(left_us)) || ' whose time is not known', '') "
	"FROM rack_state HAVING count(left_us) > 0";

enum journal_status review_print_rack(struct journal *journal, int64_t now_us, FILE *out)
{
	static const struct table_column columns[] = {
		{"", COLUMN_NUMBER},      {"job", COLUMN_NAME},     {"stringer", COLUMN_NAME},
		{"pattern", COLUMN_NAME}, {"tension", COLUMN_TEXT}, {"due", COLUMN_TEXT},
		{"left", COLUMN_TIME},    {"", COLUMN_TEXT}};
	struct table table;
	char *done = NULL;

	table_begin(&table, NULL, columns, 8);
	enum journal_status status = table_rows(&table, journal, rack_sql, NULL);
	if (status == JOURNAL_OK)
		status = journal_ask_text(
			journal, done_sql,
			(struct journal_field[]){field_number("now", now_us), {0}}, &done);
	if (status == JOURNAL_OK && table.cell_count)
		table_print(&table, 0, out);
	else if (status == JOURNAL_OK)
		fputs("nothing waits on the rack\n", out);
	if (done)
		fprintf(out, "%s\n", done);
	free(done);
	table_free(&table);
	return status;
}

enum journal_status review_print_reels(struct journal *journal, FILE *out)
{
	static const struct table_column columns[] = {{"reel", COLUMN_NAME},
						      {"left", COLUMN_FIGURES}};
	struct table table;

	table_begin(&table, NULL, columns, 2);
	enum journal_status status = table_rows(
		&table, journal,
		"SELECT name, format('%.2f m', left_mm / 1e3) FROM reel ORDER BY name", NULL);
	if (status == JOURNAL_OK && table.cell_count)
		table_print(&table, 0, out);
	else if (status == JOURNAL_OK)
		fputs("no reels\n", out);
	table_free(&table);
	return status;
}
