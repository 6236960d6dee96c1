/* What the files of this room share. */
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

/* Everything before the content, and everything after it. */
void html_open(struct text *out, const char *title);
void html_close(struct text *out, int64_t made_us);

void html_element(struct text *out, const char *tag, const char *text);

/* Text that holds a person's words, isolated so that right-to-left script cannot reorder the page.
 */
void html_name(struct text *out, const char *tag, const char *name);

/* Both free the table. A table without cells adds nothing. */
void html_table(struct text *out, struct table *table);
void html_facts(struct text *out, struct table *facts);

/* Folded until the reader opens it, but always printed on paper. */
void html_fold_table(struct text *out, const char *summary, struct table *table);

/* Files of this folder, embedded at build time. */
extern const char page_css[], head_html[];

/* The string that a call is about, short enough for a picture: "12", "4L"; else "". */
enum { CALL_LABEL_MAX = 16 };
const char *call_label(const struct review_call *call, char buffer[static CALL_LABEL_MAX]);

/* ---- pictures, each an SVG element ----
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

#endif
