/* The review of one job. */
#include "review/internal.h"

#include <stdlib.h>

/* What the stringer's earlier jobs of this kind took. */
static enum journal_status read_usual(struct journal *journal, struct review *review)
{
	enum { ENOUGH = 4 * REVIEW_RECENT }; /* some may not be finished */
	const struct journal_job *job = &review->job;
	const struct review_filter filter = {
		.stringer = job->stringer,
		.pattern = job->pattern,
		.method = job->method,
		.sport = job->sport,
		.detail = job->detail,
		.until_us = job->created_us,
		.newest = ENOUGH,
	};
	struct review_overview before;
	enum journal_status status = review_overview(journal, &filter, &before);

	if (before.group_count && before.groups[0].has_quote) {
		review->usual_count = before.groups[0].count;
		review->usual_us = before.groups[0].usual_us;
		review->usual_low_us = before.groups[0].quote_low_us;
		review->usual_high_us = before.groups[0].quote_high_us;
	}
	review_overview_free(&before);
	return status;
}

static enum journal_status read_namesakes(struct journal *journal, const char *which,
					  struct review *review)
{
	const struct journal_field fields[] = {
		field_text("name", review->job.name),
		field_text("which", which),
		field_number("id", review->job.number),
		{0},
	};

	return journal_ask_text(journal,
				"SELECT group_concat(id, ', ') FROM job "
				"WHERE name IN (:name, :which) AND id <> :id",
				fields, &review->namesakes);
}

enum journal_status review_job(struct journal *journal, const char *which, struct review *out)
{
	*out = (struct review){0};
	enum journal_status status = journal_hold(journal);
	if (status != JOURNAL_OK)
		return status;
	status = journal_find(journal, which, &out->job);
	if (status == JOURNAL_OK)
		status = read_namesakes(journal, which, out);
	if (status == JOURNAL_OK)
		status = journal_ask_text(
			journal,
			"SELECT group_concat(note, '; ') FROM (SELECT notes AS note FROM job "
			"WHERE id = :job UNION ALL SELECT 'call ' || call || ': ' || detail "
			"FROM event WHERE job = :job AND kind = 'note')",
			(struct journal_field[]){field_number("job", out->job.number), {0}},
			&out->notes);
	if (status == JOURNAL_OK)
		status = review_read_course(journal, out);
	if (status == JOURNAL_OK)
		status = read_usual(journal, out);
	if (status == JOURNAL_OK)
		status = review_make_tables(journal, out);
	journal_let_go(journal);
	if (status != JOURNAL_OK)
		review_free(out);
	return status;
}

void review_free(struct review *review)
{
	journal_job_free(&review->job);
	free(review->notes);
	free(review->namesakes);
	for (int i = 1; i <= review->call_count; i++) {
		free(review->calls[i].phase);
		free(review->calls[i].text);
	}
	free(review->calls);
	free(review->visits);
	free(review->marks);
	free(review->strings);
	table_free(&review->facts);
	for (int part = 0; part < REVIEW_PARTS; part++)
		table_free(&review->parts[part]);
	*review = (struct review){0};
}
