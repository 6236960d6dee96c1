/* Reviews as pages for a browser: for a screen, a phone, and paper.
 *
 * A page is one file, without network or script. Its pictures are SVG elements (draw/draw.h), and
 * every number in a picture is in a table beside it. Light or dark is the reader's choice. All text
 * from the journal is escaped.
 */
#ifndef REPORT_REPORT_H
#define REPORT_REPORT_H

#include "base/base.h"
#include "review/review.h"

/* The page of one job (journal_find), added to out; made_us is the wall time that is put under it.
 * On failure journal_message tells why and nothing is added. */
enum journal_status report_job(struct journal *journal, const char *which, int64_t made_us,
			       struct text *out);

/* The page of all jobs that pass the filter; standard NULL leaves standard times out. */
enum journal_status report_overview(struct journal *journal, const struct review_filter *filter,
				    const struct review_standard *standard, int64_t made_us,
				    struct text *out);

/* The page of somebody who is taught. */
enum journal_status report_teaching(struct journal *journal, const char *stringer, int64_t made_us,
				    struct text *out);

#endif
