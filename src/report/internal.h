/* Shared by the files of this room: pages.c puts the pages together, with the pictures of charts.c
 * and bed.c. */
#ifndef REPORT_INTERNAL_H
#define REPORT_INTERNAL_H

#include "draw/draw.h"
#include "report/report.h"
#include "sequence/sequence.h"

/* Files of this folder, embedded at build time. */
extern const char page_css[], head_html[];

/* ---- Pictures, each an SVG element ----
 *
 * Drawn PICTURE_WIDTH units wide, about the pixels of a phone, and scaled with the page. A main is
 * solid, a cross an outline; colour never carries a meaning alone. Numbers have the class "value"
 * and stand in a table too. */

#define PICTURE_WIDTH   360.0
#define PICTURE_LETTERS 12.0

/* The calls in the order in which they were worked on, along the clock of work, broken into lines.
 * A pause is a numbered mark without width. */
void timeline_picture(struct text *out, const struct review *review);

/* The string bed, with a bar for the work on each string. */
void bed_picture(struct text *out, const struct sequence *sequence, const struct review *review);

/* The times of a stringer's jobs in order, with the limits for single jobs where there is no trend,
 * else with the laws of learning. Only the newest are shown, from index series_first. */
void series_picture(struct text *out, const char *id, const struct review_group *group);
size_t series_first(const struct review_group *group);

/* How much was said of a skill, racket by racket. */
void skill_picture(struct text *out, const struct review_teaching *teaching, int skill);

#endif
