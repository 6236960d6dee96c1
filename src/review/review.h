/* Reviews of a journal: of one job, of many, of a trainee; and exports for other programs.
 *
 * Work is the time during which the clock of work ran. A pause is time during which it stood,
 * between the first press of a run and the last call. Away is the time between two runs (a crash, a
 * night). Only jobs of one kind are compared: never different stringers, sports, patterns, methods
 * or details.
 *
 * A review is made once, as tables and sentences, and printed as text here or as a page by
 * report/report.h. The journal is only read, and may be written meanwhile. Times are microseconds;
 * wall times count from 1970 UTC.
 */
#ifndef REVIEW_REVIEW_H
#define REVIEW_REVIEW_H

#include "base/base.h"
#include "journal/journal.h"
#include "stats/stats.h"
#include "teach/teach.h"

/* ---- Durations and dates as a person reads them ---- */

enum { DURATION_TEXT_MAX = 24, DATE_TEXT_MAX = 24 };

/* "0:07", "12:30", "1:02:05", rounded to the second. Returns buffer, as the next two do. */
const char *duration_text(double us, char buffer[static DURATION_TEXT_MAX]);

/* "2026-11-25 14:43" and "2026-11-25", in local time. */
const char *date_text(int64_t wall_us, char buffer[static DATE_TEXT_MAX]);
const char *day_text(int64_t wall_us, char buffer[static DATE_TEXT_MAX]);

/* ---- Tables ---- */

enum { TABLE_COLUMNS_MAX = 12 }; /* and one that ends them */

enum column_kind {
	COLUMN_TEXT,
	COLUMN_NAME,    /* words that a person wrote, in a language not known */
	COLUMN_SPOKEN,  /* words in the language of the table */
	COLUMN_FIGURES, /* words that stand to the right, as do the next */
	COLUMN_NUMBER,
	COLUMN_COUNT,  /* a dash for 0 */
	COLUMN_TIME,   /* microseconds */
	COLUMN_BAR,    /* a time, to which a page draws a bar */
	COLUMN_SHARE,  /* 1 is 100 % */
	COLUMN_CHANGE, /* a share with its sign */
};

struct table_column {
	const char *heading;
	enum column_kind kind;
};

static inline bool column_is_right(const struct table_column *column)
{
	return column->kind >= COLUMN_FIGURES;
}

struct table_cell {
	char *text;
	char *remark; /* below the text on a page; or NULL */
	double value; /* NaN: it is words */
};

/* Filled cell by cell, row by row; the first cell names its row. */
struct table {
	char *caption;
	const struct table_column *columns; /* borrowed */
	size_t column_count;
	const char *language; /* borrowed; "" or NULL if unknown */
	struct table_cell *cells;
	size_t cell_count;
	size_t total; /* the row that is a sum, counted from 1; 0: none */
};

/* The columns end with {0}; caption may be NULL. */
void table_begin(struct table *table, const char *caption, const struct table_column *columns);
void table_free(struct table *table);

void table_cell(struct table *table, const char *format, ...) __attribute__((format(printf, 2, 3)));
void table_value(struct table *table, double value); /* as its column says; NaN: a dash */

/* A table of lines, each a word and a fact. */
void facts_begin(struct table *facts);
#define table_fact(facts, word, ...) (table_cell(facts, "%s", word), table_cell(facts, __VA_ARGS__))

/* Gives the cell added last its remark. */
void table_remark(struct table *table, const char *remark);

/* Control characters become '?'. */
void words_print(const char *words, FILE *out);

/* ---- Which jobs ---- */

/* NULL or 0 takes all. */
struct review_filter {
	const char *stringer;
	const char *pattern;
	const char *method;
	const char *sport;
	const char *detail;
	const char *racket;
	const char *customer;
	const char *due;  /* on that day or earlier */
	int64_t since_us; /* begun at or after, wall time */
	int64_t until_us; /* begun before */
	int newest;       /* only this many, the newest */
};

/* Prints the list of jobs, or "no jobs". */
enum journal_status review_print_jobs(struct journal *journal, const struct review_filter *filter,
				      int64_t now_us, FILE *out);

/* The rack: what waits in which order, when each is due, what to quote for it, and what a reel has
 * too little for; then when all will be done. And what is left on the reels. */
enum journal_status review_print_rack(struct journal *journal, int64_t now_us, FILE *out);
enum journal_status review_print_reels(struct journal *journal, FILE *out);

enum review_name {
	REVIEW_JOB,
	REVIEW_STRINGER,
	REVIEW_PATTERN,
	REVIEW_REEL,
	REVIEW_RACKET,
	REVIEW_CUSTOMER
};

/* `no stringer "kin"; did you mean "kim"?`, or NULL where there is one. The caller frees it. */
char *review_unknown(struct journal *journal, enum review_name what, const char *word);

/* A stringer whose name differs from this one in capitals only, where this one has no job yet; else
 * NULL. The caller frees it. */
char *review_other_spelling(struct journal *journal, const char *stringer);

/* ---- Many jobs ---- */

/* Work on ways back from mishaps, which is part of the work too. */
struct review_lost {
	int mishaps;
	int undone; /* strings that came out */
	double work_us;
};

struct review_time {
	int64_t job;
	int64_t created_us;
	double work_us;
	double pause_us;
	struct review_lost lost;
};

enum { REVIEW_QUOTE_MIN = 3, REVIEW_RECENT = 10, REVIEW_BEST_OF = 5 };

/* The finished jobs of one stringer that can be compared. */
struct review_group {
	char *name;                     /* "mira: open-16x19, two-piece, bench" */
	const struct review_time *jobs; /* in the order in which they were begun */
	size_t count;
	double mean_us;

	/* From STATS_LEARNING_MIN jobs. */
	bool has_learning;
	struct stats_learning learning;

	/* Limits for single jobs; only where there is no trend. */
	bool has_limits;
	struct stats_limits limits;

	/* What to quote, from REVIEW_QUOTE_MIN jobs: the median of the newest REVIEW_RECENT, or
	 * what a significant trend says of the next job; never less than the best of the newest
	 * REVIEW_BEST_OF. The range holds the middle four fifths of the recent jobs. */
	bool has_quote;
	double usual_us; /* the median of the recent jobs */
	double quote_us;
	double quote_low_us;
	double quote_high_us;
	double with_pauses_us; /* the quote and the usual pauses */

	struct table facts; /* word and fact */
};

bool review_is_outside(const struct review_group *group, size_t job);

/* At most REVIEW_GROUPS groups are shown. */
enum { REVIEW_GROUPS = 12, REVIEW_STATISTICS = 8 };

struct review_overview {
	char *span; /* "begun 2026-11-18 to 2026-11-29; left out: 1 open, 2 abandoned" */
	struct review_time *times; /* of the finished jobs: the groups point into them */
	size_t finished;
	struct review_group *groups; /* the most jobs first */
	size_t group_count;
	/* A table may be empty (cell_count 0). */
	struct table standards;
	struct table statistics[REVIEW_STATISTICS];
};

struct review_standard {
	double rating;    /* 1: the pace that is expected */
	double allowance; /* for rest and delays: 0.13 is 13 % */
};

/* standard NULL leaves standard times out. On failure journal_message says why, *out is empty. */
enum journal_status review_overview(struct journal *journal, const struct review_filter *filter,
				    const struct review_standard *standard,
				    struct review_overview *out);
void review_overview_free(struct review_overview *overview);

void review_print_overview(const struct review_overview *overview, FILE *out);

/* For the counter: one line about a group. */
void review_print_quote(const struct review_group *group, FILE *out);

/* ---- One job ---- */

/* Strings have an index by which one table holds them all. side: of a main, 'l' or 'r'. */
enum {
	REVIEW_NUMBERS = 64,
	REVIEW_CROSSES = 2 * REVIEW_NUMBERS,
	REVIEW_STRINGS = 3 * REVIEW_NUMBERS
};

static inline int review_string(bool is_main, int number, char side)
{
	return is_main ? 2 * number + (side == 'r') : REVIEW_CROSSES + number;
}

struct review_call {
	int n;     /* its number */
	int place; /* among the calls as they are after every way back */
	char *phase;
	char string; /* 'm' main, 'c' cross, 0 none */
	char *label; /* the string, short enough for a picture: "12", "4L", "" */
	char *text;
};

/* The time during which one call was current. */
struct review_visit {
	struct review_call call;
	int64_t begin_us; /* work done before it */
	int64_t work_us;
	int repeats;            /* asked again */
	int64_t pause_us;       /* while the clock of work stood */
	int64_t away_us;        /* between runs */
	enum journal_kind left; /* the event that ended it; JOURNAL_STARTED: still current */
};

struct review_mark {
	char label[8]; /* A again, B back, U undo; pauses and times away are numbered, from 1 */
	int64_t at_us; /* work done before it */
};

enum review_part {
	REVIEW_BY_PHASE,
	REVIEW_BREAKS,
	REVIEW_BY_STRING,
	REVIEW_HALVES,
	REVIEW_SLOWEST_CALLS,
	REVIEW_UNSURE_CALLS,
	REVIEW_PARTS
};

struct review {
	struct journal_job job;
	char *namesakes; /* the numbers of other jobs of this name, "3, 5", or NULL */
	char *of_racket; /* likewise of other names, but the same racket */
	int64_t work_us;
	int repeats;
	int backs;
	int undos;
	int pauses;
	int aways;
	struct review_visit *visits; /* in order, as are the next */
	size_t visit_count;
	struct review_mark *marks;
	size_t mark_count;
	int64_t string_us[REVIEW_STRINGS]; /* work by string; below 0: none */

	struct table facts; /* word and fact */
	struct table parts[REVIEW_PARTS];
};

/* The job of that number, UUID or name (journal_find). On failure journal_message tells why and
 * *out is empty. */
enum journal_status review_job(struct journal *journal, const char *which, struct review *out);
void review_free(struct review *review);

void review_print(const struct review *review, FILE *out);

/* ---- A trainee ---- */

struct review_racket {
	int64_t job;
	int levels[TEACH_SKILLS]; /* when it was done */
};

/* What a trainer wants to know of somebody who is taught (teach/teach.h). */
struct review_teaching {
	struct table skills;           /* a row each: the level, and why */
	struct table by_racket;        /* how questions were answered; the last row is the shop's */
	struct table found;            /* faults at stations: where they were found, and made */
	char *advice;                  /* what to practise next, in a sentence */
	struct review_racket *rackets; /* in the order in which they were begun */
	size_t racket_count;
};

/* On failure journal_message tells why and *out is empty. */
enum journal_status review_teaching(struct journal *journal, const char *stringer, int64_t now_us,
				    struct review_teaching *out);
void review_teaching_free(struct review_teaching *teaching);
void review_print_teaching(const struct review_teaching *teaching, FILE *out);

/* ---- For other programs ----
 *
 *   CSV         RFC 4180, UTF-8, a line of names first. Null is an empty field, an empty text is
 *               "", which is how PostgreSQL's COPY ... (FORMAT csv, HEADER) reads them.
 *   JSON Lines  one object a line, the same names.
 *   XES         IEEE 1849: one trace a job, one activity a call, for process mining. A call
 *               starts, is suspended and resumed by pauses, and is completed by "next"; leaving it
 *               by a step back aborts it. "Again" and faults have the transition "unknown".
 *
 * What is not UTF-8 comes out as U+FFFD. The caller looks at ferror(out). */

enum review_format { REVIEW_CSV, REVIEW_JSON_LINES, REVIEW_XES };

/* What a line of CSV or JSON Lines is. */
enum review_table { REVIEW_JOBS, REVIEW_CALLS, REVIEW_EVENTS };

/* csv, json, xes; jobs, calls, events; both ended by NULL. */
extern const char *const review_format_names[], *const review_table_names[];

/* Writes the jobs that pass the filter, the oldest first. XES has events only and ignores the
 * table. */
enum journal_status review_export(struct journal *journal, const struct review_filter *filter,
				  enum review_table table, enum review_format format, FILE *out);

#endif
