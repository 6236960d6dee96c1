/* The commands of `pullcall`: one function each, all with the same manners.
 *
 * Data goes to standard output, messages to standard error. Exit codes: 0 done, 1 the input is at
 * fault or the answer is no, 2 wrong usage, and those of daemon/daemon.h for faults outside.
 */
#ifndef CLI_CLI_H
#define CLI_CLI_H

#include "base/base.h"
#include "daemon/daemon.h"
#include "frame/frame.h"
#include "journal/journal.h"
#include "phrase/phrase.h"
#include "review/review.h"
#include "sequence/sequence.h"

#include <stdbool.h>
#include <stdio.h>
#include <systemd/sd-event.h>

/* The other end of the control socket. */

struct client;

/* NULL with a message on standard error if no daemon is there. */
struct client *client_open(void);
void client_close(struct client *client);

/* Sends a line; false with a message if the daemon is gone. */
bool client_send(struct client *client, const char *line);

/* The next line, without its end; NULL at the end of the connection. Lives until the next call. */
const char *client_line(struct client *client);

/* Each takes its own argv: argv[0] is the command's name. Returns the exit code. */
typedef int command_function(int argc, char **argv);

command_function command_check, command_steps, command_draw, command_run, command_load,
	command_tell, command_watch, command_pedals, command_voices, command_jobs, command_review,
	command_pattern, command_export, command_journal;

/* One picture of the screen of `pullcall run`, as lines of text. Pure: no terminal in here. */

struct frame_size {
	int columns;
	int rows;
	bool blocks; /* the terminal can show UTF-8 block characters */
};

/* Fills *out with at most `rows` lines of at most `columns` columns, each ended by '\n'. From the
 * top: what job and where, the call as large as fits, the next call, mains and crosses, the clock,
 * what is wrong, the keys. On a small screen the less important lines go first. */
void frame_draw(const struct daemon_look *look, int64_t now_us, const struct frame_size *size,
		struct text *out);

/* The screen of `pullcall run` in a terminal: the call in words large enough to read at arm's
 * length, the next one, how far mains and crosses have got, the clock, the pace and the time left
 * (frame.h).
 *
 * It redraws when something changes, when the terminal is resized, and every second while the clock
 * of work runs; paused, it lets the machine sleep.
 */

struct screen;

/* Takes the terminal on `fd` over until screen_close, or the end of the program. */
struct screen *screen_open(struct daemon *daemon, int fd);
void screen_close(struct screen *screen); /* NULL is fine */

/* Draws what there is now; nothing while the terminal is given back. */
void screen_draw(struct screen *screen);

/* Gives the terminal back, as for a program that stops or dies. Async-signal-safe; does nothing if
 * it is not taken. screen_retake_terminal takes it again, unless others are in the foreground. */
void screen_restore_terminal(void);
void screen_retake_terminal(struct screen *screen);

/* A run that is stopped, goes on, or dies: the terminal is as the shell left it meanwhile. */

/* From now on SIGTSTP gives keys and screen back before the program stops, and SIGCONT takes them
 * again. Signals that kill give them back too: a terminal without echo and cursor is of no use.
 * *screen may be NULL at any time. */
void job_control_start(sd_event *loop, struct screen **screen);

/* What kind of file a person named: it shows in the keys that only that kind has. */

enum file_kind { FILE_PATTERN, FILE_JOB, FILE_PHRASEBOOK, FILE_BENCH };

enum file_kind file_kind_of(const struct yaml_document *document);

/* Letters large enough to read at arm's length: five dots high, drawn with half blocks, so that a
 * line of them takes three rows of a terminal (the sixth dot is the space below). */

enum { LETTERS_ROWS = 3 };

/* Columns that a text takes in large letters, or -1 if it has a character that there is no letter
 * for. */
int letters_width(const char *text, int length);

/* Adds the three rows of `length` bytes of text, each ended by '\n' (UTF-8). */
void letters_add(struct text *out, const char *text, int length);

/* The whole job on paper: a table that a person can follow, and the JSON of the contract. */

void paper_table(const struct sequence *sequence, const struct phrasebook *book,
		 const struct phrase_options *options, struct text *out);
void paper_json(const struct sequence *sequence, const struct phrasebook *book,
		const struct phrase_options *options, struct text *out);

/* One-piece routes: a list to choose from; one of them in words, or as a member of an object. */
void paper_routes(const struct job *job, const struct pattern *pattern, const struct routes *routes,
		  struct text *out);
void paper_routes_json(const struct job *job, const struct pattern *pattern,
		       const struct routes *routes, struct text *out);
void paper_route(const struct job *job, const struct pattern *pattern, const struct route *route,
		 struct text *out);
void paper_route_json(const struct pattern *pattern, const struct route *route, const char *key,
		      struct json *json);

/* A pattern being written down: what was answered so far, and the file that comes of it.
 *
 * Every answer is checked by the reader of pattern files itself, on a file made of this answer and
 * those before it: there is one set of rules, and what is written can be read.
 */

/* In the order in which they are asked and written. */
enum question {
	ASK_NAME,
	ASK_TITLE,
	ASK_SPORT,
	ASK_MAINS,
	ASK_CROSSES,
	ASK_HOLES_HEAD,
	ASK_HOLES_THROAT,
	ASK_BRIDGE,
	ASK_SKIP,
	ASK_SHARED,
	ASK_UNUSED, /* after this one the hole map is known */
	ASK_CROSSES_START,
	ASK_TIE_MAINS,
	ASK_TIE_CROSS_START,
	ASK_TIE_CROSS_END,
	ASK_LENGTH,
	ASK_WIDTH,
	ASK_AREA,
	ASK_BEAM,
	ASK_SPACING_MAINS,
	ASK_SPACING_CROSSES,
	ASK_TENSION_MIN,
	ASK_TENSION_MAX,
	QUESTIONS,
};

enum { ANSWER_MAX = 400 };

struct form {
	char answer[QUESTIONS][ANSWER_MAX]; /* as typed, trimmed; "": not answered, or left out */
};

/* What is asked, and what may help to answer it. */
const char *question_text(enum question question);
const char *question_help(enum question question);

/* What an empty answer means: a value, "" for leaving it out, NULL if an answer is needed. */
const char *question_default(enum question question);

/* False if it makes no sense after the answers so far: the width of a head without a length. */
bool question_applies(enum question question, const struct form *form);

/* The file of the answers up to and including `last`; the caller frees it. */
char *form_file(const struct form *form, enum question last);

/* What is wrong with an answer, given those before it, as one line; NULL: nothing. The caller frees
 * it. */
char *form_fault(const struct form *form, enum question question);

/* The pattern of the answers up to and including `last`; NULL with faults. */
struct pattern *form_pattern(const struct form *form, enum question last, struct faults *faults);

/* Writing a pattern by answering questions, with the frame in hand. */

struct pattern_new {
	FILE *in;         /* answers, one a line */
	FILE *show;       /* questions, and what comes of the answers */
	bool person;      /* somebody is there to be asked again; else questions are not shown */
	const char *file; /* as `in` is called in faults */
	double reach_mm;  /* of the machine's tension head, for the lengths */
};

/* Asks, and writes the pattern file to *out and its name to *name (the caller frees both). False if
 * it was not finished: the person gave up, or an answer of a file is at fault, and then faults says
 * where. In a file of answers empty lines stand for what is left out, and lines that begin with #
 * are comments. */
bool pattern_new(const struct pattern_new *asker, struct text *out, char **name,
		 struct faults *faults);

/* What the commands that read the journal have in common: which journal, which jobs. */

struct query {
	const char *journal; /* NULL: the usual one */
	struct review_filter filter;
};

/* Rows for the table of a command line that fills a query. */
#define QUERY_JOURNAL_ROW(query)                                                                   \
	{                                                                                          \
		"journal", 0, "FILE",                                                              \
			"the journal, instead of $PULLCALL_JOURNAL or the usual one",              \
			.text = &(query)->journal                                                  \
	}
#define QUERY_FILTER_ROWS(query)                                                                   \
	{"stringer", 0, "NAME", "only jobs of this stringer", .text = &(query)->filter.stringer},  \
		{"pattern", 0, "NAME", "only jobs with this pattern",                              \
		 .text = &(query)->filter.pattern},                                                \
		{"method",                                                                         \
		 0,                                                                                \
		 "METHOD",                                                                         \
		 "only two-piece or one-piece jobs",                                               \
		 .read = query_read_method,                                                        \
		 .out = &(query)->filter.method,                                                   \
		 .expected = "two-piece or one-piece"},                                            \
		{"since",                                                                          \
		 0,                                                                                \
		 "DATE",                                                                           \
		 "only jobs begun on this day or later: 2026-11-25",                               \
		 .read = query_read_since,                                                         \
		 .out = &(query)->filter.since_us,                                                 \
		 .expected = "a day such as 2026-11-25"},                                          \
	{                                                                                          \
		"until", 0, "DATE", "only jobs begun on this day or earlier",                      \
			.read = query_read_until, .out = &(query)->filter.until_us,                \
			.expected = "a day such as 2026-11-25"                                     \
	}

bool query_read_method(const char *value, void *out);
bool query_read_since(const char *value, void *out);
bool query_read_until(const char *value, void *out);

/* Opens the journal; NULL with a message on standard error and the exit code. That there is none
 * before the first job is an answer, not a fault. */
struct journal *query_open(const struct query *query, enum journal_mode mode, int *code);

/* Says what went wrong, if anything did, and closes the journal. Returns the exit code. */
int query_close(struct journal *journal, enum journal_status status);

#endif
