/* From the gathered jobs to groups and their statistics. */
#include "review/review.h"

#include "base/base.h"
#include "journal/journal.h"
#include "review/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double quote_probability = 0.8;

/* What the jobs of a group share. */
enum { SAME_STRINGER = 1, SAME_PATTERN = 2 };

static void name_outside(struct review_group *group, const struct gathered_job *const *jobs)
{
	for (size_t i = 0; i < group->count; i++) {
		double work_us = jobs[i]->work_us;
		if (work_us >= group->chart.low && work_us <= group->chart.high)
			continue;
		if (group->outside_count < REVIEW_OUTSIDE_MAX)
			group->outside[group->outside_count] = jobs[i]->job;
		group->outside_count++;
	}
}

/* work: the times of the group's jobs, in order. */
static void quote(struct review_group *group, const double *work)
{
	size_t recent = group->count < REVIEW_QUOTE_JOBS ? group->count : REVIEW_QUOTE_JOBS;

	if (group->has_learning && group->learning.shown)
		group->has_quote = stats_learning_next(&group->learning, quote_probability,
						       &group->quote_us, &group->quote_interval_us);
	else
		group->has_quote =
			recent >= REVIEW_QUOTE_MIN &&
			stats_next(work + group->count - recent, recent, quote_probability,
				   &group->quote_us, &group->quote_interval_us);
}

/* jobs in the order in which they were begun; room for as many numbers. */
static struct review_group describe(const struct gathered_job *const *jobs, size_t count, int same,
				    double *room)
{
	struct review_group group = {
		.stringer = same & SAME_STRINGER ? jobs[0]->stringer : NULL,
		.pattern = same & SAME_PATTERN ? jobs[0]->pattern : NULL,
		.method = same & SAME_PATTERN ? jobs[0]->method : NULL,
		.count = count,
	};

	for (size_t i = 0; i < count; i++)
		room[i] = jobs[i]->work_us;
	group.has_learning = stats_learning_fit(room, count, &group.learning);
	quote(&group, room);
	group.has_chart =
		count >= STATS_LEARNING_MIN && stats_chart_limits(room, count, &group.chart);
	if (group.has_chart)
		name_outside(&group, jobs);
	group.work = stats_summarise(room, count); /* sorts, so it comes last */
	return group;
}

/* The names are unique as pointers, but their order must not depend on where they lie. */
static int by_shared_names(const void *left, const void *right, void *same)
{
	const struct gathered_job *a = *(const struct gathered_job *const *)left;
	const struct gathered_job *b = *(const struct gathered_job *const *)right;
	int order = 0;

	if (*(const int *)same & SAME_STRINGER)
		order = strcmp(a->stringer, b->stringer);
	if (order == 0 && *(const int *)same & SAME_PATTERN) {
		order = strcmp(a->pattern, b->pattern);
		if (order == 0)
			order = strcmp(a->method, b->method);
	}
	return order ? order : (a > b) - (a < b); /* they lie in the order of their beginning */
}

static bool share(const struct gathered_job *a, const struct gathered_job *b, int same)
{
	return (!(same & SAME_STRINGER) || a->stringer == b->stringer) &&
	       (!(same & SAME_PATTERN) || (a->pattern == b->pattern && a->method == b->method));
}

static int compare_names(const char *a, const char *b)
{
	return a && b ? strcmp(a, b) : 0;
}

static int by_count(const void *left, const void *right)
{
	const struct review_group *a = left, *b = right;
	int order = (a->count < b->count) - (a->count > b->count);

	if (order == 0)
		order = compare_names(a->stringer, b->stringer);
	if (order == 0)
		order = compare_names(a->pattern, b->pattern);
	return order ? order : compare_names(a->method, b->method);
}

static struct review_group *group_by(const struct gathered *all, int same, double *room,
				     size_t *group_count)
{
	const struct gathered_job **jobs = memory_new(all->count, sizeof(struct gathered_job *));
	struct review_group *groups = NULL;
	size_t from = 0;

	for (size_t i = 0; i < all->count; i++)
		jobs[i] = &all->jobs[i];
	qsort_r(jobs, all->count, sizeof(struct gathered_job *), by_shared_names, &same);
	for (size_t to = 1; to <= all->count; to++) {
		if (to < all->count && share(jobs[from], jobs[to], same))
			continue;
		groups = memory_resize(groups, *group_count + 1, sizeof *groups);
		groups[(*group_count)++] = describe(jobs + from, to - from, same, room);
		from = to;
	}
	free(jobs);
	if (groups)
		qsort(groups, *group_count, sizeof *groups, by_count);
	return groups;
}

/* A summary of one number a job, those that are NaN left out. */
static struct stats_summary summarise(const struct gathered *all, size_t offset, double *room)
{
	size_t count = 0;

	for (size_t i = 0; i < all->count; i++) {
		double value;
		memcpy(&value, (const char *)&all->jobs[i] + offset, sizeof value);
		if (!isnan(value))
			room[count++] = value;
	}
	return stats_summarise(room, count);
}

static void take_strings(const struct gathered *all, struct review_overview *overview)
{
	static const char sides[GATHER_KINDS] = {
		[GATHER_MAINS_LEFT] = 'l',
		[GATHER_MAINS_RIGHT] = 'r',
	};

	overview->strings =
		memory_new((size_t)GATHER_KINDS * GATHER_NUMBERS, sizeof *overview->strings);
	for (int kind = 0; kind < GATHER_KINDS; kind++) {
		for (int number = 1; number < GATHER_NUMBERS; number++) {
			struct review_string_mean string = all->strings[kind][number];
			overview->repeats += string.repeats;
			overview->backs += string.backs;
			if (string.jobs == 0)
				continue;
			string.is_main = kind != GATHER_CROSSES;
			string.side = sides[kind];
			string.number = number;
			string.mean_us /= string.jobs;
			overview->strings[overview->string_count++] = string;
		}
	}
}

static void compute(const struct gathered *all, struct review_overview *out)
{
	double *room = memory_new(all->count, sizeof *room);

	out->finished = all->count;
	out->first_us = all->jobs[0].created_us;
	out->last_us = all->jobs[all->count - 1].created_us;
	size_t one = 0;
	struct review_group *whole = group_by(all, 0, room, &one);
	out->all = whole[0];
	free(whole);
	out->stringers = group_by(all, SAME_STRINGER, room, &out->stringer_count);
	out->patterns = group_by(all, SAME_PATTERN, room, &out->pattern_count);
	out->pairs = group_by(all, SAME_STRINGER | SAME_PATTERN, room, &out->pair_count);
	for (size_t i = 0; i < REVIEW_PHASES; i++)
		out->phases[i] = summarise(
			all, offsetof(struct gathered_job, phase_us) + i * sizeof(double), room);
	out->pause = summarise(all, offsetof(struct gathered_job, pause_us), room);
	out->mains_ratio = summarise(all, offsetof(struct gathered_job, mains_ratio), room);
	out->crosses_ratio = summarise(all, offsetof(struct gathered_job, crosses_ratio), room);
	take_strings(all, out);
	free(room);
}

enum journal_status review_overview(struct journal *journal, const struct review_filter *filter,
				    struct review_overview *out)
{
	struct gathered *all = memory_new(1, sizeof *all);

	*out = (struct review_overview){0};
	enum journal_status status = journal_hold(journal);
	if (status == JOURNAL_OK) {
		status = gather(journal, filter, all, out);
		journal_let_go(journal);
	}
	if (status != JOURNAL_OK)
		review_overview_free(out);
	else if (all->count)
		compute(all, out);
	free(all->jobs);
	free(all);
	return status;
}

void review_overview_free(struct review_overview *overview)
{
	for (size_t i = 0; i < overview->name_count; i++)
		free(overview->names[i]);
	free(overview->names);
	free(overview->stringers);
	free(overview->patterns);
	free(overview->pairs);
	free(overview->strings);
	*overview = (struct review_overview){0};
}

const struct review_group *review_find_pair(const struct review_overview *overview,
					    const char *stringer, const char *pattern,
					    const char *method)
{
	for (size_t i = 0; i < overview->pair_count; i++) {
		const struct review_group *pair = &overview->pairs[i];
		if (strcmp(pair->stringer, stringer) == 0 && strcmp(pair->pattern, pattern) == 0 &&
		    strcmp(pair->method, method) == 0)
			return pair;
	}
	return NULL;
}
