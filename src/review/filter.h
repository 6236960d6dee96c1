/* The six parameters that every statement with a filter has. */
#ifndef REVIEW_FILTER_H
#define REVIEW_FILTER_H

#include "journal/query.h"
#include "review/review.h"

/* ?1 stringer, ?2 pattern, ?3 method, ?4 since, ?5 until, ?6 how many (-1: all). The filter must
 * stay as it is while the statement is in use. */
void review_bind_filter(sqlite3_stmt *statement, const struct review_filter *filter);

/* The numbers of the jobs that pass, the newest first: a subquery. */
#define REVIEW_WANTED                                                                              \
	"(SELECT id FROM job WHERE (?1 IS NULL OR stringer = ?1) "                                 \
	"AND (?2 IS NULL OR pattern = ?2) AND (?3 IS NULL OR method = ?3) "                        \
	"AND (?4 = 0 OR created_us >= ?4) AND (?5 = 0 OR created_us < ?5) "                        \
	"ORDER BY created_us DESC, id DESC LIMIT ?6)"

#endif
