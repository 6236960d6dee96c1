/* One job: its course, summed up by call, phase and string. */
#include "review/internal.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- sums ---- */

static void add_work(struct review_work *sum, const struct review_work *work)
{
	sum->work_us += work->work_us;
	sum->calls += work->calls;
	sum->repeats += work->repeats;
	sum->backs += work->backs;
}

static void sum_calls(struct review *review)
{
	for (size_t i = 0; i < review->visit_count; i++) {
		const struct review_visit *visit = &review->visits[i];
		struct review_work *work = &review->calls[visit->call].work;
		work->work_us += visit->work_us;
		work->calls = 1;
		work->repeats += visit->repeats;
		work->backs += visit->left == JOURNAL_BACK;
	}
}

static struct review_work *phase_of(struct review *review, const char *name)
{
	for (size_t i = 0; i < review->phase_count; i++) {
		if (strcmp(review->phases[i].name, name) == 0)
			return &review->phases[i].work;
	}
	review->phases =
		review_one_more(review->phases, &review->phase_count, sizeof *review->phases);
	review->phases[review->phase_count - 1].name = name;
	return &review->phases[review->phase_count - 1].work;
}

static struct review_work *string_of(struct review *review, const struct review_call *call)
{
	bool is_main = call->string == 'm';
	char side = is_main ? call->side : '\0';

	for (size_t i = 0; i < review->string_count; i++) {
		struct review_string *string = &review->strings[i];
		if (string->is_main == is_main && string->number == call->number &&
		    string->side == side)
			return &string->work;
	}
	review->strings =
		review_one_more(review->strings, &review->string_count, sizeof *review->strings);
	struct review_string *string = &review->strings[review->string_count - 1];
	string->is_main = is_main;
	string->number = call->number;
	string->side = side;
	return &string->work;
}

static void sum_phases_and_strings(struct review *review)
{
	for (int n = 1; n <= review->call_count; n++) {
		const struct review_call *call = &review->calls[n];
		if (!call->work.calls)
			continue;
		add_work(phase_of(review, call->phase), &call->work);
		if (call->string)
			add_work(string_of(review, call), &call->work);
	}
}

static double mean_work(const double *works, size_t count)
{
	return count ? gsl_stats_mean(works, 1, count) : NAN;
}

static struct review_halves halves_of(const struct review *review, bool mains)
{
	double *works = memory_new(review->string_count, sizeof *works);
	size_t count = 0;

	for (size_t i = 0; i < review->string_count; i++) {
		if (review->strings[i].is_main == mains)
			works[count++] = (double)review->strings[i].work.work_us;
	}
	struct review_halves halves = {
		.first_us = mean_work(works, count / 2),
		.second_us = mean_work(works + count - count / 2, count / 2),
	};
	free(works);
	return halves;
}

static void sum_up(struct review *review)
{
	sum_calls(review);
	sum_phases_and_strings(review);
	review->mains = halves_of(review, true);
	review->crosses = halves_of(review, false);
	gsl_sort(review->responses_us, 1, review->response_count);
}

double review_response_us(const struct review *review, double share)
{
	return gsl_stats_quantile_from_sorted_data(review->responses_us, 1, review->response_count,
						   share);
}

/* ---- reading ---- */

/* What the stringer's earlier jobs of this kind took. */
static enum journal_status read_usual(struct journal *journal, struct review *review)
{
	enum { ENOUGH = 4 * REVIEW_RECENT }; /* some may be of another detail */
	const struct journal_job *job = &review->job;
	const struct review_filter filter = {
		.stringer = job->stringer,
		.pattern = job->pattern,
		.method = job->method,
		.until_us = job->created_us,
		.newest = ENOUGH,
	};
	struct review_overview before;
	enum journal_status status = review_overview(journal, &filter, &before);

	for (size_t i = 0; i < before.group_count; i++) {
		const struct review_group *group = &before.groups[i];
		if (!group->has_quote || strcmp(group->kind.detail, review->detail) != 0 ||
		    strcmp(group->kind.sport, job->sport) != 0)
			continue;
		review->usual_count = group->count;
		review->usual_us = group->usual_us;
		review->usual_low_us = group->quote_low_us;
		review->usual_high_us = group->quote_high_us;
	}
	review_overview_free(&before);
	return status;
}

static enum journal_status read_namesakes(struct journal *journal, struct review *review)
{
	const struct journal_field fields[] = {
		field_text("name", review->job.name),
		field_number("id", review->job.number),
		{0},
	};

	return journal_ask_text(
		journal, "SELECT group_concat(id, ', ') FROM job WHERE name = :name AND id <> :id",
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
		status = read_namesakes(journal, out);
	if (status == JOURNAL_OK)
		status = review_read_course(journal, out);
	if (status == JOURNAL_OK) {
		sum_up(out);
		out->detail = plan_detail(out->job.plan_text);
		status = read_usual(journal, out);
	}
	journal_let_go(journal);
	if (status != JOURNAL_OK)
		review_free(out);
	return status;
}

void review_free(struct review *review)
{
	journal_job_free(&review->job);
	free(review->namesakes);
	for (int i = 1; i <= review->call_count; i++) {
		free(review->calls[i].phase);
		free(review->calls[i].text);
	}
	free(review->calls);
	free(review->visits);
	free(review->marks);
	free(review->phases);
	free(review->strings);
	free(review->responses_us);
	*review = (struct review){0};
}
