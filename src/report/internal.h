/* Between the files of this room. */
#ifndef REPORT_INTERNAL_H
#define REPORT_INTERNAL_H

#include "base/base.h"
#include "draw/draw.h"
#include "journal/journal.h"
#include "report/report.h"
#include "review/review.h"
#include "sequence/sequence.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* ---- HTML that is well-formed XML too; text is escaped ---- */

/* Everything before the content, with the style; and everything after it. */
void html_open(struct text *out, const char *title);
void html_close(struct text *out, int64_t made_us);

void html_element(struct text *out, const char *tag, const char *text);

/* Words with a name that a person gave: whichever way its letters run, the page's stay in order. */
void html_name(struct text *out, const char *tag, const char *name);

/* Both free the table; one without cells adds nothing. */
void html_table(struct text *out, struct table *table);
void html_facts(struct text *out, struct table *facts);

/* What is hidden until somebody asks for it; printed in any case. */
void html_fold_open(struct text *out, const char *summary);
void html_fold_close(struct text *out);

/* How a page looks: the ink, the greys and the one colour of the pictures (draw/draw.h). */
void style_add(struct text *out);

/* ---- the course of a job: which call was under way when, by the clock of work ---- */

struct trace_call {
	char *phase;
	char string; /* 'm' main, 'c' cross, 0 none */
	int number;
	char side; /* 'l', 'r', 0 */
	char *text;
};

/* From when a call became the current one until another did. */
struct trace_visit {
	int call;
	int64_t begin_us; /* of work, since the job was begun */
	int64_t work_us;
	int repeats;            /* asked for again */
	int64_t pause_us;       /* the clock stood still meanwhile */
	int64_t away_us;        /* between runs */
	enum journal_kind left; /* by next, back, undo, ...; JOURNAL_STARTED: not yet */
};

enum trace_mark_kind { TRACE_AGAIN, TRACE_BACK, TRACE_UNDO, TRACE_PAUSE, TRACE_AWAY, TRACE_MARKS };

struct trace_mark {
	enum trace_mark_kind kind;
	int number; /* of pauses and times away together, from 1; else 0 */
	int call;
	int64_t at_us; /* of work */
	int64_t wall_us;
	int64_t length_us; /* pause, away */
};

struct trace {
	struct trace_call *calls; /* by number, from 1 */
	int call_count;
	struct trace_visit *visits;
	size_t visit_count;
	struct trace_mark *marks;
	size_t mark_count;
	int break_count; /* pauses and times away */
	int64_t work_us;
};

enum journal_status trace_read(struct journal *journal, int64_t job, struct trace *out);
void trace_free(struct trace *trace);

/* "12", "4L": a string in a word that fits into a picture; "" for a call about none. */
enum { TRACE_LABEL_MAX = 16 };
const char *trace_label(const struct trace_call *call, char buffer[static TRACE_LABEL_MAX]);

/* ---- pictures, each an SVG element ----
 *
 * All are as wide as a phone and grow with the page; units are those of such a width. A main is
 * solid, a cross an outline, and what stands out has the one colour and a shape or weight of its
 * own. Numbers carry the class "value", and stand in a table too. */

#define PICTURE_WIDTH   360.0
#define PICTURE_LETTERS 12.0

/* The calls in the order in which they were worked on, along the clock of work, in lines as text
 * is. A pause takes no room in it: it is a numbered mark. */
void timeline_picture(struct text *out, const struct trace *trace);

/* The strings in their places, as thick as the work on them was long, and a bar for each. */
void bed_picture(struct text *out, const struct sequence *sequence, const struct review *review);

/* The times of a stringer's jobs one after the other: with the limits for single jobs while there
 * is no trend, else with the laws of learning. Only the newest are shown, from index series_first.
 */
void series_picture(struct text *out, const char *id, const struct review_group *group);
size_t series_first(const struct review_group *group);

/* ---- what several pictures are made of ---- */

/* Strokes across a scale of times: from the first to the last, so far apart. */
struct time_scale {
	double from_us;
	double to_us;
	double step_us;
};

struct time_scale time_scale_for(double least_us, double most_us, int strokes);
int time_scale_strokes(const struct time_scale *scale);

/* How wide the widest of the two times comes out in a picture's letters. */
double time_width(double one_us, double other_us);

/* A box by its top left corner. */
void sketch_box(struct canvas *canvas, struct spot corner, double wide, double high,
		const struct pen *pen, const char *attributes);
void sketch_line(struct canvas *canvas, struct spot from, struct spot to, const struct pen *pen,
		 const char *attributes);

/* Text whose capitals and figures stand with their middle at the height of the spot. */
void sketch_text(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 const char *text, const char *attributes);
void sketch_time(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 double us, const char *attributes);

/* ---- the lines of the timeline ---- */

struct timeline {
	struct canvas *canvas;
	const struct trace *trace;
	double left;    /* where lines begin */
	double line_us; /* of work in one line */
	int lines;
};

/* Where the first line's blocks are, how high blocks are, how far it is to the next line. */
#define TIMELINE_RIGHT  (PICTURE_WIDTH - 7)
#define TIMELINE_TOP    18.0
#define TIMELINE_HEIGHT 22.0
#define TIMELINE_PITCH  60.0

/* The line of a moment: the end of a line belongs to it, the beginning of work to the first. And
 * where in a line a moment is, at the top of its blocks. */
int timeline_line(const struct timeline *timeline, double at_us);
struct spot timeline_spot(const struct timeline *timeline, int line, double at_us);

/* What happened on the way, below its line. */
void timeline_marks(const struct timeline *timeline);

/* Draws the marks that there are with their words, from a height on, and returns how much room they
 * take; without a canvas it only tells. */
double timeline_legend(const struct timeline *timeline, double y);

#endif
