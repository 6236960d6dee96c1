/* A job with its pattern in hand. */
#include "job/job.h"

#include <math.h>
#include <stdlib.h>

static struct quantity adjusted(const struct job *job, enum string_kind strings, int number,
				const struct adjustment **last)
{
	struct quantity tension = job->tension[strings];

	for (int i = 0; i < job->adjustment_count; i++) {
		const struct adjustment *adjustment = &job->adjustments[i];
		if (adjustment->strings != strings || number < adjustment->first ||
		    number > adjustment->last)
			continue;
		tension = quantity_sum(tension, adjustment->by);
		if (last)
			*last = adjustment;
	}
	return tension;
}

struct quantity job_setting(const struct pattern *pattern, struct quantity tension)
{
	double steps = tension.unit == UNIT_N ? 1 : 10;
	double newton = quantity_base(tension);
	struct quantity set = {round(tension.value * steps) / steps, tension.unit};

	if (!pattern || !pattern->has_range)
		return set;
	double min = quantity_base(pattern->tension_min), max = quantity_base(pattern->tension_max);
	if (newton <= max && quantity_base(set) > max)
		set.value = floor(tension.value * steps) / steps;
	if (newton >= min && quantity_base(set) < min)
		set.value = ceil(tension.value * steps) / steps;
	return set;
}

struct quantity job_tension(const struct job *job, const struct pattern *pattern,
			    enum string_kind strings, int number)
{
	return job_setting(pattern, adjusted(job, strings, number, NULL));
}

struct quantity job_tie_off_tension(const struct job *job, const struct pattern *pattern,
				    enum string_kind strings, int number)
{
	struct quantity tension = adjusted(job, strings, number, NULL);

	tension.value *= 1 + job->tie_off_extra;
	return job_setting(pattern, tension);
}

const struct string_length *job_length(const struct job *job, enum string_kind strings)
{
	return job->method == METHOD_ONE_PIECE ? &job->whole : &job->length[strings];
}

int job_lead(const struct job *job)
{
	/* Flying clamps: main 2 of one side is needed to hold by before main 1 of the other. */
	int least = job->machine.clamps == CLAMPS_FLYING ? 2 : 1;

	return job->lead ? job->lead : least;
}

int job_first_pull(const struct job *job)
{
	if (job->first_pull)
		return job->first_pull;
	/* In one piece the clamp on the last main holds, so one cross can be pulled by itself; but
	 * a flying clamp needs a second one to hold by. */
	return job->method == METHOD_ONE_PIECE && job->machine.clamps != CLAMPS_FLYING ? 1 : 2;
}

static int string_count(const struct pattern *pattern, enum string_kind strings)
{
	return strings == STRING_MAIN ? pattern_half(pattern) : pattern->crosses;
}

/* A job with its pattern, and where to report. */
struct fit {
	const struct job *job;
	const struct pattern *pattern;
	struct faults *faults;
};

static void check_adjustments(const struct fit *fit)
{
	for (int i = 0; i < fit->job->adjustment_count; i++) {
		const struct adjustment *adjustment = &fit->job->adjustments[i];
		int count = string_count(fit->pattern, adjustment->strings);
		if (adjustment->last > count)
			fault_add(fit->faults, FAULT_ERROR, fit->job->file, adjustment->position,
				  "adjust-range", "there is no %s %d: %s has %d%s",
				  string_names[adjustment->strings], adjustment->last,
				  fit->pattern->name, count,
				  adjustment->strings == STRING_MAIN ? " mains a side"
								     : " crosses");
	}
}

/* Outside by more than the rounding of a printed table. */
static bool is_outside(const struct pattern *pattern, struct quantity tension)
{
	double newton = quantity_base(tension);

	return pattern->has_range && (newton < quantity_base(pattern->tension_min) * 0.9999 ||
				      newton > quantity_base(pattern->tension_max) * 1.0001);
}

/* `what` is "for main 7"; `extra`: it is pulled before a tie-off. False if there is a fault. */
static bool check_tension(const struct fit *fit, struct quantity tension, struct position position,
			  const char *what, bool extra)
{
	const struct job *job = fit->job;
	const struct pattern *pattern = fit->pattern;
	char value[QUANTITY_TEXT_MAX];
	double newton = quantity_base(tension);
	bool plausible = newton >= TENSION_LEAST_NEWTON && newton <= TENSION_MOST_NEWTON;

	if (plausible && !is_outside(pattern, tension))
		return true;
	double least = plausible ? quantity_base(pattern->tension_min) : TENSION_LEAST_NEWTON;
	double most = plausible ? quantity_base(pattern->tension_max) : TENSION_MOST_NEWTON;
	char *range = quantity_range(least, most, tension.unit);
	quantity_text(tension, value);
	if (!plausible)
		fault_add(fit->faults, FAULT_ERROR, job->file, position,
			  extra ? "tie-off-extra" : "adjust-tension",
			  "%s %s is not plausible: expected %s", value, what, range);
	else
		fault_add(fit->faults, job->beyond_range ? FAULT_WARNING : FAULT_ERROR, job->file,
			  position, extra ? "tie-off-extra" : "tension-range",
			  "%s %s is outside the maker's range of %s, %s%s", value, what,
			  pattern->name, range,
			  job->beyond_range ? ""
					    : ": if it is really wanted, the plan must say "
					      "\"beyond_makers_range: wanted\"");
	free(range);
	return false;
}

/* Adjustments can add up to what no machine pulls. Each tension that is too low or too high is said
 * once, at the first string that has it. */
static void check_strings(const struct fit *fit, enum string_kind strings)
{
	const struct job *job = fit->job;
	struct quantity said = {NAN, job->tension[strings].unit}; /* like no other */

	if (job->tension[strings].value == 0)
		return; /* it could not be read */
	for (int n = 1; n <= string_count(fit->pattern, strings); n++) {
		const struct adjustment *by = NULL;
		struct quantity tension = job_setting(fit->pattern, adjusted(job, strings, n, &by));
		if (quantity_same(tension, said))
			continue;
		char *what = memory_format("for %s %d", string_names[strings], n);
		if (!check_tension(fit, tension, by ? by->position : job->tension_position[strings],
				   what, false))
			said = tension;
		free(what);
	}
}

/* A route of one-piece work may end with any cross. */
static void check_extra(const struct fit *fit, enum string_kind strings)
{
	const struct job *job = fit->job;
	int last = string_count(fit->pattern, strings);
	bool any = job->method == METHOD_ONE_PIECE && strings == STRING_CROSS;
	struct quantity most = {0, job->tension[strings].unit};

	if (job->tension[strings].value == 0)
		return;
	for (int n = any ? 1 : last; n <= last; n++) {
		struct quantity tension = job_tie_off_tension(job, fit->pattern, strings, n);
		if (quantity_base(tension) > quantity_base(most))
			most = tension;
	}
	check_tension(fit, most, job->extra_position, "before a tie-off", true);
}

/* What flying clamps need, where the plan says otherwise. */
static void check_machine(const struct job *job, struct faults *faults)
{
	if (job->machine.clamps != CLAMPS_FLYING)
		return;
	if (job->lead == 1)
		fault_add(faults, FAULT_ERROR, job->file, job->lead_position, "flying-lead",
			  "with flying clamps one side is two mains ahead at the start: write "
			  "\"lead: 2\", or leave it out");
	if (job->first_pull == 1)
		fault_add(faults, FAULT_ERROR, job->file, job->first_pull_position,
			  "flying-first-pull",
			  "a flying clamp holds the first cross by the second: write \"first_pull: "
			  "2\", or leave it out");
}

bool job_fits(const struct job *job, const struct pattern *pattern, struct faults *faults)
{
	const struct fit fit = {job, pattern, faults};
	size_t errors = faults->errors;

	check_machine(job, faults);
	check_adjustments(&fit);
	size_t strings = faults->errors;
	check_strings(&fit, STRING_MAIN);
	check_strings(&fit, STRING_CROSS);
	if (faults->errors == strings && job->tie_off_extra > 0) {
		check_extra(&fit, STRING_MAIN);
		check_extra(&fit, STRING_CROSS);
	}
	return faults->errors == errors;
}

static void report_missing(const struct job *job, const char *looked, struct faults *faults)
{
	char *nearest = path_nearest(PATH_PATTERNS, job->pattern, job->file);
	char *guess = nearest ? memory_format(" (did you mean \"%s\"?)", nearest) : NULL;

	fault_add(
		faults, FAULT_ERROR, job->file, job->pattern_position, "pattern-missing",
		"there is no pattern \"%s\"%s: looked for %s.yaml in %s; \"pullcall pattern list\" "
		"shows those there are",
		job->pattern, guess ? guess : "", job->pattern, looked);
	free(guess);
	free(nearest);
}

struct pattern *job_find_pattern(const struct job *job, struct faults *faults)
{
	char *looked;
	char *path = path_find(PATH_PATTERNS, job->pattern, job->file, &looked);

	if (!path) {
		report_missing(job, looked, faults);
		free(looked);
		return NULL;
	}
	struct yaml_document *document = yaml_read(path, faults);
	if (document && yaml_get(document->root, "job")) {
		fault_add(
			faults, FAULT_ERROR, job->file, job->pattern_position, "pattern-missing",
			"%s is a job plan, not the pattern \"%s\": give the plan another file name",
			path, job->pattern);
		yaml_free(document);
		document = NULL;
	}
	free(path);
	return pattern_read(document);
}
