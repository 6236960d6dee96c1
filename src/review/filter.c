#include "review/internal.h"

void review_bind_filter(sqlite3_stmt *statement, const struct review_filter *filter)
{
	journal_bind_text(statement, 1, filter->stringer);
	journal_bind_text(statement, 2, filter->pattern);
	journal_bind_text(statement, 3, filter->method);
	sqlite3_bind_int64(statement, 4, filter->since_us);
	sqlite3_bind_int64(statement, 5, filter->until_us);
	sqlite3_bind_int(statement, 6, filter->newest > 0 ? filter->newest : -1);
}
