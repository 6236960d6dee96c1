/* What the commands that read the journal have in common: which journal, which jobs. */
#ifndef CLI_QUERY_H
#define CLI_QUERY_H

#include "cli/command.h"
#include "journal/journal.h"
#include "review/review.h"

/* Entries for a getopt_long table; the values are taken by query_option. */
enum {
	QUERY_JOURNAL = 0x300,
	QUERY_STRINGER,
	QUERY_PATTERN,
	QUERY_METHOD,
	QUERY_SINCE,
	QUERY_UNTIL,
	QUERY_END,
};

#define QUERY_JOURNAL_OPTION                                                                       \
	{                                                                                          \
		"journal", required_argument, NULL, QUERY_JOURNAL                                  \
	}
#define QUERY_FILTER_OPTIONS                                                                       \
	{"stringer", required_argument, NULL, QUERY_STRINGER},                                     \
		{"pattern", required_argument, NULL, QUERY_PATTERN},                               \
		{"method", required_argument, NULL, QUERY_METHOD},                                 \
		{"since", required_argument, NULL, QUERY_SINCE},                                   \
	{                                                                                          \
		"until", required_argument, NULL, QUERY_UNTIL                                      \
	}

#define QUERY_FILTER_HELP                                                                          \
	"  --stringer NAME   only jobs of this stringer\n"                                         \
	"  --pattern NAME    only jobs with this pattern\n"                                        \
	"  --method METHOD   only two-piece or one-piece jobs\n"                                   \
	"  --since DATE      only jobs begun on this day or later: 2026-11-25\n"                   \
	"  --until DATE      only jobs begun on this day or earlier\n"
#define QUERY_JOURNAL_HELP                                                                         \
	"  --journal FILE    the journal, instead of $PULLCALL_JOURNAL or the usual one\n"

struct query {
	const char *journal; /* NULL: the usual one */
	struct review_filter filter;
};

/* Takes one option. False if the value is wrong; *why says what was expected (static text). */
bool query_option(struct query *query, int option, const char *value, const char **why);

/* Opens the journal; NULL with a message on standard error and the exit code. That there is none
 * before the first job is an answer, not a fault. */
struct journal *query_open(const struct query *query, enum journal_mode mode, int *code);

/* Says what went wrong, if anything did, and closes the journal. Returns the exit code. */
int query_close(struct journal *journal, enum journal_status status);

#endif
