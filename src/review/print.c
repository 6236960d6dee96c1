/* Reviews as text: at most 80 columns, no colour. */
#include "review/review.h"

#include "base/base.h"

#include <stdlib.h>

enum { COLUMNS = 80 };

/* Prints a blank line and the table, or nothing if it is empty. */
static void print_table(const struct table *table, FILE *out)
{
	if (table->cell_count) {
		fputc('\n', out);
		table_print(table, COLUMNS, out);
	}
}

/* ---- one job ---- */

static void print_head(const struct review *review, FILE *out)
{
	const struct journal_job *job = &review->job;
	char begun[DATE_TEXT_MAX], last[DATE_TEXT_MAX];

	words_print(job->name, out);
	fprintf(out, "  (job %lld%s%s)\n", (long long)job->number,
		review->namesakes ? "; other jobs of this name: " : "",
		review->namesakes ? review->namesakes : "");
	words_print(job->pattern, out);
	fprintf(out, ", %s, %s, strung by ", job->method, job->detail);
	words_print(job->stringer, out);
	fprintf(out, "\nbegun %s, %s %s\n\n", date_text(job->created_us, begun),
		job->open ? "open, last event" : journal_kind_name(job->last),
		date_text(job->last_wall_us, last));
}

void review_print(const struct review *review, FILE *out)
{
	print_head(review, out);
	facts_print(&review->facts, out);
	for (int part = 0; part < REVIEW_PARTS; part++)
		print_table(&review->parts[part], out);
}

/* ---- many jobs ---- */

static void print_group(const struct review_group *group, FILE *out)
{
	char *name = review_group_name(group);
	struct table facts;

	fputc('\n', out);
	words_print(name, out);
	fputc('\n', out);
	free(name);
	review_group_facts(group, &facts);
	facts_print(&facts, out);
	table_free(&facts);
}

void review_print_overview(const struct review_overview *overview,
			   const struct review_standard *standard, FILE *out)
{
	char *span = review_overview_span(overview);
	struct table table;

	fprintf(out, "%zu finished %s%s%s\n", overview->finished,
		overview->finished == 1 ? "job" : "jobs", *span ? ", " : "", span);
	free(span);
	for (size_t i = 0; i < overview->group_count && i < REVIEW_GROUPS; i++)
		print_group(&overview->groups[i], out);
	if (overview->group_count > REVIEW_GROUPS)
		fprintf(out, "\nand %zu more: ask for them by --stringer or --pattern\n",
			overview->group_count - REVIEW_GROUPS);
	if (standard && overview->finished) {
		review_table_standards(overview, standard, &table);
		print_table(&table, out);
		table_free(&table);
	}
	if (overview->finished)
		fputs("\nStatistics of work, each kind of job apart\n", out);
	for (int i = 0; overview->finished && i < REVIEW_STATISTICS; i++) {
		review_statistic(overview, i, &table);
		print_table(&table, out);
		table_free(&table);
	}
}

/* ---- a trainee ---- */

void review_print_teaching(const struct review_teaching *teaching, FILE *out)
{
	fprintf(out, "%s\n", teaching->advice);
	print_table(&teaching->skills, out);
	print_table(&teaching->by_racket, out);
	print_table(&teaching->found, out);
}
