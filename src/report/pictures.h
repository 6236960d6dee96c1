/* The pictures of a page, each an SVG element. All are as wide as a phone, so that their letters
 * can be read there, and grow with the page; units are those of such a width. What they show and
 * how is said in draw/style.h: a main is solid, a cross an outline, and what stands out has the one
 * colour and a shape or weight of its own. Numbers carry the class "value".
 */
#ifndef REPORT_PICTURES_H
#define REPORT_PICTURES_H

#include "base/text.h"
#include "report/trace.h"
#include "review/overview.h"
#include "sequence/sequence.h"

#include <stdbool.h>

#define PICTURE_WIDTH   360.0
#define PICTURE_LETTERS 9.5

/* The calls in the order in which they were worked on, along the clock of work, in lines as text
 * is. A pause takes no room in it: it is a numbered mark. */
void timeline_picture(struct text *out, const struct trace *trace);

/* The strings in their places, as thick as the work on them was long, and a bar for each. */
void bed_picture(struct text *out, const struct sequence *sequence, const struct review *review);

/* How times spread: a line from the least to the most, a box from quartile to quartile, a stroke at
 * the median. */
struct spread_row {
	const char *name;
	const struct stats_summary *times_us; /* of one time or more */
};

void spread_picture(struct text *out, const char *id, const char *title,
		    const struct spread_row *rows, size_t count);

/* The times of jobs one after the other, with what they are judged by: the limits for single jobs,
 * or the curves of learning. */
struct series {
	const char *id;
	const char *title;
	size_t first; /* the number of the first one, from 1 */
	const int64_t *jobs;
	const double *times_us;
	size_t count;
	const struct stats_chart *limits;      /* or NULL */
	const struct stats_learning *learning; /* or NULL */
};

void series_picture(struct text *out, const struct series *series);
bool series_is_outside(const struct series *series, size_t i);

/* What a law of learning says of the n-th job. */
double series_power_us(const struct stats_learning *learning, double n);
double series_exponential_us(const struct stats_learning *learning, double n);

/* Strokes across a scale of times: from the first to the last, so far apart. */
struct time_scale {
	double from_us;
	double to_us;
	double step_us;
};

struct time_scale time_scale_for(double least_us, double most_us, int strokes);

#endif
