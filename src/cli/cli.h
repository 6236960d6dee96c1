/* The program `pullcall`: one function a command, and what commands share.
 *
 * Data goes to standard output, messages to standard error. Every command reads its options by a
 * table, has its help in commands.yaml, and returns an exit code (base/base.h).
 *
 *   1. Commands        in the order of `pullcall --help`
 *   2. check, draw     what kind of file it is
 *   3. forms           a file written from answers: plan new, pattern new
 *   4. run, drill      what they are asked for
 *   5. the screen      of `run` in a terminal
 *   6. plans           what is in them, against the journal
 *   7. jobs, review    which journal, which jobs
 */
#ifndef CLI_CLI_H
#define CLI_CLI_H

#include "base/base.h"
#include "daemon/daemon.h"
#include "journal/journal.h"
#include "phrase/phrase.h"
#include "review/review.h"

#include <systemd/sd-event.h>

struct machine;
struct pedal_info;

/* ---- 1. Commands ---- */

/* argv[0] is the command's name. Returns the exit code. */
typedef int command_function(int argc, char **argv);

command_function command_check, command_steps, command_draw, command_run, command_load,
	command_tell, command_watch, command_pedals, command_voices, command_pattern, command_jobs,
	command_review, command_drill, command_export, command_journal, command_abandon,
	command_board, command_plan, command_rack, command_reel, command_label;

/* Reads the command line of a command, whose help is in commands.yaml, that of its options too if
 * they have none; `more`, or NULL, follows it. Ends the program as command_line_read does. */
const struct command_syntax *command_read(const struct option_row *rows, const char *more, int argc,
					  char **argv);
extern const char commands_yaml[];

/* What commands.yaml says of a command, or NULL. */
const char *command_text(const char *command, const char *key);

/* Words in lines as wide as the terminal, if out is one; then `end`. */
void print_words(FILE *out, int indent, const char *words, const char *end);

/* What an input device is, what its keys do or how they are taken for a pedal. */
void pedal_print(const struct pedal_info *info, FILE *out);

/* Another program replaces this one. Returns only if it cannot be started: the exit code. */
int become_program(const char *program, char **argv);

/* The only pattern of a sport (NULL: any) with so many strings ("16x19"). False with a list of
 * those there are, and how they differ. */
bool pattern_of_counts(const char *counts, const char *sport, char *name);

/* ---- 2. check, draw ---- */

enum file_kind { FILE_JOB, FILE_PATTERN, FILE_PHRASEBOOK, FILE_BENCH };

/* By the keys that only one kind has; false with a fault if there is none of them. */
bool file_kind_find(const struct yaml_document *document, enum file_kind *out);
bool file_is_pattern(const char *path);

/* ---- 3. forms: a file written from answers ----
 *
 * `plan new` and `pattern new` are lists of questions (*_questions.yaml), in the order in which
 * they are asked and written. In a terminal a wrong answer is asked again, "?" explains a question,
 * "back" goes back one and "-" leaves one out; at the end any answer can be changed or added; an
 * interrupted session is taken up again. From a file or a pipe a form reads one answer a line: an
 * empty line is a default, a line that begins with # is a comment.
 *
 * Each answer is checked by the reader of such files, on a file made of this answer and those
 * before it. So there is one set of rules, and what is written can be read.
 */

enum { ANSWER_MAX = 400 /* bytes, with the terminator */, QUESTIONS_MAX = 48 };

/* How an answer becomes a value of the file. */
enum write { WRITE_PLAIN, WRITE_TEXT, WRITE_HOLES, WRITE_SIDES, WRITE_EACH };

struct question { /* what each is: plan_questions.yaml; NULL where it is not given */
	char *key, *ask, *help, *standard, *option, *value, *only, *comment;
	bool needed, silent;
	unsigned write; /* enum write */
};

struct form {
	const char *what;                 /* "pattern": what is written, and what `new` follows */
	const char *about;                /* shown first: what the questions are about */
	const char *comment;              /* the first line of the file */
	const char *more;                 /* at the end of the file; or NULL */
	const char *then;                 /* a command for the file that was written; or NULL */
	bool all;                         /* the file gets the answers that do not apply, too */
	const struct question *questions; /* ended by an empty row; the first answer is the name */

	/* Reads the file; false with faults. */
	bool (*read)(const char *file, struct faults *faults);
	bool (*is_taken)(const char *name); /* whether there is a file of that name; or NULL */
	const char *const *given;           /* by options, for each question; or NULL */

	/* Is called after each answer or question that does not apply; NULL: goes on. Returns the
	 * question to ask next, n + 1 to go on, or FORM_END. */
	int (*after)(struct form *form, int n);
	void (*complete)(struct form *form); /* answers what nobody did; or NULL */
	void *context;                       /* for these two */

	/* Filled by form_run, or by a test. */
	FILE *in;            /* answers, one a line */
	const char *in_name; /* what faults call it */
	FILE *show;          /* for questions, and for what follows from the answers */
	bool person;         /* answers are typed: ask again after a wrong one */
	bool answered;       /* all that is needed is there: nothing is asked */
	bool ask_changes;    /* answered as an earlier job: a person may change it */
	const char *kept; /* the file that keeps the answers of an interrupted session, or NULL */
	bool are_kept;    /* it is there */
	int reached;      /* the question that came next when answers were kept last */
	int unkept;       /* the errno for which the last answers are not in it; 0: they are */

	/* As typed, trimmed; "": none. What is here at first is offered as the answer. */
	char answer[QUESTIONS_MAX][ANSWER_MAX];
	int line;    /* of the answers */
	char *typed; /* the last line, and the room for it */
	size_t room;
	struct faults faults;
	struct faults told; /* warnings, to show each once */
};

enum { FORM_END = -1 }; /* given up, or at fault */

/* The forms of a job plan, and of a pattern; `machine`, of the bench, says what is added to the
 * lengths. Their questions are read once and never freed. */
void plan_form(struct form *form);
void pattern_form(struct form *form, struct machine *machine);

/* The embedded files. */
extern const char plan_questions_yaml[], pattern_questions_yaml[];
const struct question *form_questions(const char *yaml);

/* The number of the question about a key, or -1; and its answer. */
int form_question(const struct form *form, const char *key);
char *form_answer(struct form *form, const char *key);

int form_question_count(const struct form *form);

/* Whether a question makes sense after the answers before it. */
bool form_applies(const struct form *form, int n);

/* Whether an answer may be written as it is. */
bool form_is_plain(const char *answer);

/* Asks on standard error, and writes `output`, or NAME.yaml from a terminal, or standard output.
 * Returns the exit code. */
int form_run(struct form *form, const char *output);

/* Its two parts: asks and puts the file together; false if the person gave up or an answer in a
 * file is wrong, which faults then say. form_free frees what it found. */
bool form_fill(struct form *form, struct text *out);
void form_free(struct form *form);

/* For `after`: the file of the answers up to and including `last` (the caller frees it), faults
 * told as those of an answer, and "words [yes]:". */
char *form_file(const struct form *form, int last);
void form_report(struct form *form, const struct faults *faults);
enum reply { REPLY_YES, REPLY_NO, REPLY_BACK, REPLY_END };
enum reply form_confirm(struct form *form, const char *words, const char *help);

/* ---- 4. run, drill ---- */

/* Whether there is the plan, or "-". If not, a message: perhaps a pattern was meant, or an open job
 * that `command` (NULL: none) goes on with. */
bool plan_exists(const char *path, const char *command);

extern const char drill_sheet_txt[];

/* What `run` and `drill` are asked for. */
struct run_wish {
	struct daemon_options daemon;
	bool resume;
	bool anew;
	const char *job; /* a plan's file, or what --resume names */
};

/* Until the job is over. Returns the exit code. */
int run_wish(struct run_wish *wish);

/* ---- 5. The screen of run ----
 *
 * It shows the call in words large enough to read at arm's length, the next one, how far mains and
 * crosses have got, the clock, the pace and the time left. It redraws when something changes, when
 * the terminal is resized, and every second while the clock of work runs.
 */

struct screen_size {
	int columns;
	int rows;
	bool blocks; /* the terminal shows UTF-8 block characters */
};

/* What the screen shows: at most `rows` lines of at most `columns` columns, each ended by '\n'. On
 * a small screen the less important lines are left out. Pure: knows no terminal. */
void screen_lines(const struct daemon_look *look, int64_t now_us, const struct screen_size *size,
		  struct text *out);

extern const char large_letters_txt[];

/* Takes the terminal that standard output is until screen_close, or until the program ends. `told`
 * (NULL: nothing), which lives as long, is shown until the first press. */
void screen_open(struct daemon *daemon, const char *told);
void screen_close(void); /* also one that was not opened */

/* Gives back the terminal that a killed program had taken. */
void screen_mend(void);

/* From now on SIGTSTP and signals that kill give screen and keys back first, and SIGCONT takes them
 * again. */
void suspend_start(sd_event *loop);

/* ---- 6. Plans and the journal ---- */

/* Warns of a plan whose stringer the journal (NULL: the usual one) knows by another spelling: two
 * names would be two people. */
void stringer_check(const struct yaml_document *plan, const char *journal);

/* The journal (NULL: the usual one), if there is one that can be read. */
struct journal *journal_there(const char *path);

/* A reel that a job cuts string off, all in all. */
struct reel_use {
	const char *reel; /* NULL or "": none */
	double cut_mm;
	const char *file; /* that says so, and where */
	struct position position;
};

/* A reel that the journal does not know is an error, one with too little a warning. */
void reel_check(struct journal *journal, const struct reel_use *use, struct faults *faults);

/* ---- 7. Jobs, review, export, journal ---- */

struct query {
	const char *journal; /* NULL: the usual one */
	struct review_filter filter;
};

/* Rows of a table of options that fill a query. */
/* clang-format off */
#define QUERY_JOURNAL_ROW(query) {"journal", .text = &(query)->journal}
#define QUERY_FILTER_ROWS(query) \
	{"stringer", .text = &(query)->filter.stringer}, \
	{"pattern", .text = &(query)->filter.pattern}, \
	{"method", .read = query_read_method, .out = &(query)->filter.method, \
	 .expected = "two-piece or one-piece"}, \
	{"racket", .text = &(query)->filter.racket}, \
	{"customer", .text = &(query)->filter.customer}, \
	{"due", .read = query_read_due, .out = &(query)->filter.due, .expected = QUERY_DAY}, \
	{"since", .read = query_read_since, .out = &(query)->filter.since_us, .expected = QUERY_DAY}, \
	{"until", .read = query_read_until, .out = &(query)->filter.until_us, .expected = QUERY_DAY}
#define QUERY_DAY "a day such as 2026-11-25"
/* clang-format on */

bool query_read_method(const char *value, void *out);
bool query_read_due(const char *value, void *out);
bool query_read_since(const char *value, void *out);
bool query_read_until(const char *value, void *out);

/* Opens the journal, which must exist; ends the program with a message if it cannot. */
struct journal *query_open(const struct query *query, enum journal_mode mode);

/* Finds the one open job that is meant (open_job_find); ends the program with a message if there is
 * none or if there are several. */
void query_open_job(struct journal *journal, const char *which, struct journal_job *job);

/* Says what went wrong, if anything did, and closes the journal. Returns the exit code. */
int query_close(struct journal *journal, enum journal_status status);

/* A command that has commands of its own, which work on the journal. */
struct task_call {
	const char *task; /* its name */
	int count;
	char **operands;
	void *context;
};

struct task {
	const char *name;
	const char *takes; /* operands, `least` to `most` of them */
	int least, most;
	enum journal_mode mode;
	enum journal_status (*run)(struct journal *journal, const struct task_call *call);
	const char *none; /* printed where there is no journal yet; NULL: that is an error, ... */
	bool creates;     /* ... unless one is created then */
};

/* Reads the command line and runs one of the tasks, which end with an empty row, on the journal of
 * the query. The exit code; wrong usage ends the program. */
int task_run(const struct option_row *options, int argc, char **argv, const struct query *query,
	     const struct task *tasks, void *context);

#endif
