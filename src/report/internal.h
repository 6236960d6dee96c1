/* Shared by the files of this room only. */
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

/* The parts that a page is put together from. They are well-formed XML too. */

/* Everything before the content, with the style; and everything after it. */
void html_open(struct text *out, const char *title);
void html_close(struct text *out, int64_t made_us);

/* <tag>text</tag>, the text escaped. */
void html_element(struct text *out, const char *tag, const char *text);
void html_format(struct text *out, const char *tag, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/* A name that a person gave: whichever way its letters run, the words round it stay in order. */
void html_name(struct text *out, const char *name);

/* A fact in a list of facts: <div><dt>word</dt><dd>text</dd></div>. */
void html_fact(struct text *out, const char *word, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

struct html_column {
	const char *heading;
	bool number;
};

/* A table under construction; the first column names the row. */
struct html_table {
	struct text *out;
	const struct html_column *columns;
	size_t count;
	size_t at; /* the next cell's column */
	bool open; /* a row is */
};

void html_table_open(struct html_table *table, struct text *out, const char *caption,
		     const struct html_column *columns, size_t count);
void html_table_close(struct html_table *table);

/* A new row; every cell of it has to be given. */
void html_row(struct html_table *table);
void html_row_total(struct html_table *table); /* the same, set apart as a sum */
void html_cell(struct html_table *table, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

/* Words in the language of that code ("": in none that is known), and below them a remark unless it
 * is empty. */
void html_cell_words(struct html_table *table, const char *words, const char *language,
		     const char *remark);

/* A time; with a bar of that share of the longest, 0 to 1. A share below 0 has none. */
void html_cell_time(struct html_table *table, int64_t us, double share);

/* A count, or a dash for 0. */
void html_cell_count(struct html_table *table, int count);

/* What is hidden until somebody asks for it; printed in any case. */
void html_fold_open(struct text *out, const char *summary);
void html_fold_close(struct text *out);

/* Between the files of the page of many jobs. */

/* A page stays a page: this many groups, and the newest so many jobs of each. */
enum { OVERVIEW_GROUPS = 12, OVERVIEW_JOBS = 60 };

/* A finished job; the names belong to the overview. */
struct overview_job {
	int64_t job;
	int64_t created_us;
	const char *stringer;
	const char *pattern;
	const char *method;
	double work_us;
};

struct overview_page {
	struct text *out;
	struct review_overview overview;
	struct overview_job *jobs; /* in the order in which they were begun */
	size_t job_count;
};

/* "mira, open-16x19, two-piece": what a group shares. The caller frees it. */
char *overview_group_name(const struct review_group *group);

/* Sections of the page. */
void overview_add_charts(const struct overview_page *page);
void overview_add_learning(const struct overview_page *page);

/* The course of a job: which call was under way when, by the clock of work. */

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

/* The pictures of a page, each an SVG element. All are as wide as a phone, so that their letters
 * can be read there, and grow with the page; units are those of such a width. What they show and
 * how is said in draw/draw.h: a main is solid, a cross an outline, and what stands out has the one
 * colour and a shape or weight of its own. Numbers carry the class "value".
 */

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

/* Marks that several pictures are made of. */

/* A box by its top left corner. */
void sketch_box(struct canvas *canvas, struct spot corner, double wide, double high,
		const struct pen *pen, const char *attributes);
void sketch_line(struct canvas *canvas, struct spot from, struct spot to, const struct pen *pen,
		 const char *attributes);

/* Text whose capitals and figures stand with their middle at the height of the spot. */
void sketch_text(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 const char *text, const char *attributes);

/* How a page looks: the ink, the greys and the one colour of the pictures (draw/draw.h). */

void style_add(struct text *out);

/* Between the files that draw the timeline. */

/* Where a line begins and how long it is, where the first one's blocks are, how far it is to the
 * next, how high blocks are. */
#define TIMELINE_LEFT   34.0
#define TIMELINE_WIDTH  319.0
#define TIMELINE_TOP    16.0
#define TIMELINE_PITCH  56.0
#define TIMELINE_HEIGHT 22.0

struct timeline {
	struct canvas *canvas;
	const struct trace *trace;
	double line_us; /* of work in one line */
	int lines;
};

/* The line of a moment: the end of a line belongs to it, the beginning of work to the first. And
 * where in a line a moment is, at the top of its blocks. */
int timeline_line(const struct timeline *timeline, double at_us);
struct spot timeline_spot(const struct timeline *timeline, int line, double at_us);

void timeline_marks(const struct timeline *timeline);

/* Draws the marks that there are with their words, from a height on, and returns how much room they
 * take; without a canvas it only tells. */
double timeline_legend(struct canvas *canvas, const struct trace *trace, double y);

#endif
