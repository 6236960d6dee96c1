/* From the gathered jobs to groups and their statistics. */
#include "review/internal.h"

#include "base/base.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool review_is_outside(const struct review_group *group, size_t job)
{
	double work_us = group->jobs[job].work_us;

	return group->has_limits && (work_us < group->limits.low || work_us > group->limits.high);
}

static size_t at_most(size_t count, size_t most)
{
	return count < most ? count : most;
}

/* The median and the middle four fifths of recent jobs hold whatever the times do; what a trend
 * says of the next job is believed only as far as the stringer has lately got. */
static void quote(struct review_group *group)
{
	size_t recent = at_most(group->count, REVIEW_RECENT);
	const struct review_time *newest = group->jobs + group->count - recent;
	double work[REVIEW_RECENT], total[REVIEW_RECENT], best = INFINITY, worst = 0;

	if (recent < REVIEW_QUOTE_MIN)
		return;
	for (size_t i = 0; i < recent; i++) {
		work[i] = newest[i].work_us;
		total[i] = newest[i].work_us + newest[i].pause_us;
		if (recent - i <= REVIEW_BEST_OF) {
			best = fmin(best, work[i]);
			worst = fmax(worst, work[i]);
		}
	}
	struct stats_summary of_work = stats_summarise(work, recent);
	struct stats_summary of_total = stats_summarise(total, recent);
	group->has_quote = true;
	group->usual_us = of_work.median;
	group->quote_us = of_work.median;
	if (group->has_learning && group->learning.trend != STATS_NO_TREND)
		group->quote_us = fmin(worst, stats_law_at(&group->learning, group->learning.better,
							   (double)group->count + 1));
	group->quote_us = fmax(group->quote_us, best);
	group->quote_low_us = fmin(of_work.decile1, group->quote_us);
	group->quote_high_us = fmax(of_work.decile9, group->quote_us);
	group->with_pauses_us = group->quote_us + of_total.median - of_work.median;
}

/* room: for as many numbers as there are jobs. */
static void describe(struct review_group *group, double *room)
{
	for (size_t i = 0; i < group->count; i++)
		room[i] = group->jobs[i].work_us;
	if (group->stringer) {
		group->has_learning = stats_learning_fit(room, group->count, &group->learning);
		group->has_limits = group->has_learning &&
				    group->learning.trend == STATS_NO_TREND &&
				    stats_limits_of(room, group->count, &group->limits);
		quote(group);
	}
	group->work = stats_summarise(room, group->count); /* sorts, so it comes last */
}

/* By kind, stringer and beginning. */
static int by_group(const void *left, const void *right)
{
	const struct gathered_job *a = *(const struct gathered_job *const *)left;
	const struct gathered_job *b = *(const struct gathered_job *const *)right;

	if (a->kind != b->kind)
		return a->kind < b->kind ? -1 : 1;
	int order = strcmp(a->stringer, b->stringer);
	return order ? order : (a > b) - (a < b); /* they lie in the order of their beginning */
}

/* The most jobs first; the rest is there so that the order is always the same. */
static int by_count(const void *left, const void *right)
{
	const struct review_group *a = left, *b = right;
	int order = (a->count < b->count) - (a->count > b->count);

	if (order == 0)
		order = strcmp(a->kind.pattern, b->kind.pattern);
	if (order == 0 && a->stringer)
		order = strcmp(a->stringer, b->stringer);
	if (order == 0)
		order = strcmp(a->kind.method, b->kind.method);
	if (order == 0)
		order = strcmp(a->kind.detail, b->kind.detail);
	return order ? order : strcmp(a->kind.sport, b->kind.sport);
}

/* Groups of neighbours among the sorted jobs: of one kind, and of one stringer or of all. */
static struct review_group *group_jobs(const struct gathered *all,
				       const struct gathered_job *const *jobs,
				       const struct review_time *times, bool of_one, double *room,
				       size_t *count)
{
	struct review_group *groups = NULL;
	size_t from = 0;

	for (size_t to = 1; to <= all->count; to++) {
		if (to < all->count && jobs[from]->kind == jobs[to]->kind &&
		    (!of_one || jobs[from]->stringer == jobs[to]->stringer))
			continue;
		groups = memory_resize(groups, *count + 1, sizeof *groups);
		groups[*count] = (struct review_group){
			.stringer = of_one ? jobs[from]->stringer : NULL,
			.kind = all->kinds[jobs[from]->kind].kind,
			.jobs = times + from,
			.count = to - from,
		};
		describe(&groups[(*count)++], room);
		from = to;
	}
	qsort(groups, *count, sizeof *groups, by_count);
	return groups;
}

static const struct gathered_kind *kind_of(const struct gathered *all,
					   const struct review_kind *kind)
{
	size_t i = 0;

	while (memcmp(&all->kinds[i].kind, kind, sizeof *kind) != 0)
		i++;
	return &all->kinds[i];
}

/* A summary of one number of each job of a kind, those that are NaN left out. */
static struct stats_summary summarise(const struct gathered *all, const struct gathered_kind *kind,
				      size_t offset, double *room)
{
	size_t count = 0;

	for (size_t i = 0; i < all->count; i++) {
		double value;
		memcpy(&value, (const char *)&all->jobs[i] + offset, sizeof value);
		if (&all->kinds[all->jobs[i].kind] == kind && !isnan(value))
			room[count++] = value;
	}
	return stats_summarise(room, count);
}

static void take_strings(const struct gathered_kind *kind, struct review_overview *overview)
{
	static const char sides[GATHER_KINDS] = {
		[GATHER_MAINS_LEFT] = 'l',
		[GATHER_MAINS_RIGHT] = 'r',
	};

	overview->strings =
		memory_new((size_t)GATHER_KINDS * GATHER_NUMBERS, sizeof *overview->strings);
	for (int strings = 0; strings < GATHER_KINDS; strings++) {
		for (int number = 1; number < GATHER_NUMBERS; number++) {
			struct review_string_mean string = kind->strings[strings][number];
			if (string.jobs == 0)
				continue;
			string.is_main = strings != GATHER_CROSSES;
			string.side = sides[strings];
			string.number = number;
			string.mean_us /= string.jobs;
			overview->strings[overview->string_count++] = string;
		}
	}
}

static void take_commonest(const struct gathered *all, struct review_overview *out, double *room)
{
	const struct gathered_kind *kind = kind_of(all, &out->kinds[0].kind);

	for (size_t i = 0; i < REVIEW_PHASES; i++)
		out->phases[i] = summarise(
			all, kind, offsetof(struct gathered_job, phase_us) + i * sizeof(double),
			room);
	out->pause = summarise(all, kind, offsetof(struct gathered_job, time.pause_us), room);
	out->mains_ratio = summarise(all, kind, offsetof(struct gathered_job, mains_ratio), room);
	out->crosses_ratio =
		summarise(all, kind, offsetof(struct gathered_job, crosses_ratio), room);
	take_strings(kind, out);
}

static void compute(const struct gathered *all, struct review_overview *out)
{
	double *room = memory_new(all->count, sizeof *room);
	const struct gathered_job **jobs = memory_new(all->count, sizeof(struct gathered_job *));

	out->finished = all->count;
	out->first_us = all->jobs[0].time.created_us;
	out->last_us = all->jobs[all->count - 1].time.created_us;
	for (size_t i = 0; i < all->count; i++)
		jobs[i] = &all->jobs[i];
	qsort(jobs, all->count, sizeof(struct gathered_job *), by_group);
	out->times = memory_new(all->count, sizeof *out->times);
	for (size_t i = 0; i < all->count; i++)
		out->times[i] = jobs[i]->time;
	out->kinds = group_jobs(all, jobs, out->times, false, room, &out->kind_count);
	out->groups = group_jobs(all, jobs, out->times, true, room, &out->group_count);
	take_commonest(all, out, room);
	free(jobs);
	free(room);
}

enum journal_status review_overview(struct journal *journal, const struct review_filter *filter,
				    struct review_overview *out)
{
	struct gathered all = {0};

	*out = (struct review_overview){0};
	enum journal_status status = journal_hold(journal);
	if (status == JOURNAL_OK) {
		status = gather(journal, filter, &all, out);
		journal_let_go(journal);
	}
	if (status != JOURNAL_OK)
		review_overview_free(out);
	else if (all.count)
		compute(&all, out);
	free(all.jobs);
	free(all.kinds);
	return status;
}

void review_overview_free(struct review_overview *overview)
{
	for (size_t i = 0; i < overview->name_count; i++)
		free(overview->names[i]);
	free(overview->names);
	free(overview->times);
	free(overview->kinds);
	free(overview->groups);
	free(overview->strings);
	*overview = (struct review_overview){0};
}
