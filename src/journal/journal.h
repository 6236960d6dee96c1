/* The journal: every call of every job and what the stringer did with it, in one SQLite file.
 *
 * A job is begun with its plan, its pattern, its calls and its script; after that only events are
 * added, one commit each, synced to the disk before journal_append returns. Whatever ends the
 * program, SIGKILL or a power cut, the next start finds the job and the call of its last event, and
 * the script to go on with. When the job is over, its script goes; its calls and events stay.
 * Times are never stored: they are views over the events (views.sql).
 *
 * One program writes a journal at a time; others may read meanwhile. Nothing here waits longer than
 * a quarter of a second for another program. A function that fails leaves a sentence in
 * journal_message. No failure here should end a job: say it, show it, and go on calling.
 *
 *   1. What is in it        events, jobs
 *   2. Opening and closing
 *   3. Writing a job
 *   4. Finding a job
 *   5. The rack and the reels
 *   6. Reading it with SQL
 *   7. Looking after it     setting aside, backing up, merging, taking a name out
 */
#ifndef JOURNAL_JOURNAL_H
#define JOURNAL_JOURNAL_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

struct journal;
struct script;

enum journal_status {
	JOURNAL_OK,
	JOURNAL_NONE,      /* no such journal, or no such job in it */
	JOURNAL_NOT_OURS,  /* something else: a folder, another program's file */
	JOURNAL_NEWER,     /* written by a later version of this program */
	JOURNAL_READ_ONLY, /* may not be written: permissions, or a read-only medium */
	JOURNAL_FULL,      /* the disk, or the quota */
	JOURNAL_BUSY,      /* another program is writing it */
	JOURNAL_CORRUPT,   /* damaged: see journal_set_aside */
	JOURNAL_IO,        /* the disk failed, or the file was moved away while in use */
	JOURNAL_SHORT,     /* a reel has less string than the job cuts off it */
};

enum journal_mode {
	JOURNAL_READ,  /* never creates or changes anything */
	JOURNAL_WRITE, /* the one writer; creates the journal and its folders if there is none */
	JOURNAL_SHARE, /* likewise, but beside that writer: for the rack and the reels alone */
};

/* ---- 1. What is in it ---- */

/* What happened. */
enum journal_kind {
	JOURNAL_STARTED,   /* the job was begun or resumed: first event of a run */
	JOURNAL_ANNOUNCED, /* a call began to be said */
	JOURNAL_NEXT,
	JOURNAL_AGAIN,
	JOURNAL_BACK,
	JOURNAL_UNDO, /* a step just made was taken back */
	JOURNAL_PAUSE,
	JOURNAL_RESUME,
	JOURNAL_MISHAP, /* something went wrong, detail says what: the way back begins */
	JOURNAL_WHY,    /* the reason for a call was asked for */
	/* Teaching, where the detail of ANNOUNCED is how much was said (teach/teach.h). */
	JOURNAL_ANSWERED, /* the answer to a question was said; detail: pressed, or late */
	JOURNAL_RIGHT,    /* the trainee had it right: on to the next call */
	JOURNAL_WRONG,    /* the trainee had it wrong */
	JOURNAL_STATION,  /* the work is to be looked at; detail: the station */
	JOURNAL_PASSED,   /* it was right; detail: who said so, alone or trainer */
	JOURNAL_FOUND,    /* it was not; detail: the fault and its string */
	JOURNAL_FAULT,    /* of the speaker or the pedal; detail says what */
	JOURNAL_MENDED,   /* it works again */
	JOURNAL_STOPPED,  /* the run ended, not the job; detail: by what, or NULL: by a person */
	JOURNAL_FINISHED,
	JOURNAL_ABANDONED, /* detail says why */
	JOURNAL_NOTE,      /* detail says it */
	JOURNAL_KINDS
};

/* As they are stored. */
extern const char *const journal_kind_names[JOURNAL_KINDS];
bool journal_kind_parse(const char *name, enum journal_kind *out);

enum { JOURNAL_NO_RESPONSE = -1 };

struct journal_event {
	enum journal_kind kind;
	int call; /* number of the call current after this event, from 1; the number of calls + 1
		     is past the last */
	bool working;      /* the clock of work runs after this event */
	int64_t steady_us; /* the clock of work: stands while the computer sleeps */
	int64_t boot_us;   /* the clock of pauses: runs on while it sleeps */
	int64_t wall_us;
	int64_t response_us; /* from the press to the first sample, or JOURNAL_NO_RESPONSE */
	const char *detail;  /* or NULL */
};

/* A job as the journal holds it, and where it stands. journal_job_free frees the texts. */
struct journal_job {
	int64_t number; /* in this journal */
	char *name;
	char *stringer;
	char *pattern;
	char *sport;
	char *method;
	char *detail;
	char *racket; /* this and what follows, up to the tensions, may be NULL */
	char *customer;
	char *due;
	char *tensions; /* "54/52 lb": see JOURNAL_TENSIONS */
	char *plan_file;
	char *plan_text;
	char *pattern_text;
	char *language;
	char *program;
	int64_t created_us;
	int calls;              /* the highest number of a call */
	int call;               /* the number of the current one; calls + 1 is past the last */
	int place;              /* where it is among the calls as they are now ... */
	int places;             /* ... and how many these are */
	bool working;           /* after the last event */
	bool put_away;          /* its last run was stopped by a person */
	bool open;              /* neither finished nor abandoned */
	enum journal_kind last; /* the last event; JOURNAL_STARTED if there is none */
	int64_t last_wall_us;
};

/* ---- 2. Opening and closing ---- */

/* $PULLCALL_JOURNAL, else $XDG_DATA_HOME/pullcall/journal.db, else ~/.local/share/pullcall/
 * journal.db. The caller frees it. NULL if there is no home folder. */
char *journal_default_path(void);

/* What a command has to say to mean this journal: " --journal FILE", or "" for the usual one and
 * for NULL. The caller frees it. */
char *journal_option(const char *path);
const char *journal_path(const struct journal *journal); /* as it was opened */

/* Opens the journal at path. A journal of an earlier version is brought up to date when it is
 * opened to write, completely or not at all; opened to read, its file stays as it is, and only what
 * is read is brought up to date. On anything but JOURNAL_OK *out is NULL and *error one sentence
 * that names the path; the caller frees it. Reading a journal that does not exist is JOURNAL_NONE.
 * Opening to write looks for damage first, through the whole file if it is of moderate size or was
 * not closed by its last writer; a damaged file is not changed by the attempt.
 *
 * When a journal turns out to be damaged, now or later, close it, set it aside (journal_set_aside),
 * open a new one and begin the job there anew at the call where it stands. */
enum journal_status journal_open(const char *path, enum journal_mode mode, struct journal **out,
				 char **error);

/* Tries once more to write the waiting events. NULL is allowed. */
void journal_close(struct journal *journal);

/* One sentence about the last failure; valid until another function of this journal is called. */
const char *journal_message(const struct journal *journal);

/* ---- 3. Writing a job ---- */

/* Begins a job, on disk with its script when this returns; the events appended from now on are its
 * events. On failure there is no job. */
enum journal_status journal_begin(struct journal *journal, const struct script *script,
				  int64_t wall_us);

/* Removes the job under way if it did not come from the rack and nobody has pressed yet; false if
 * it stays. Its number is 0 then. */
bool journal_discard(struct journal *journal);

/* Continues a job of the journal, in a new run. */
enum journal_status journal_resume(struct journal *journal, int64_t job);

/* The script of an open job of a journal that was opened to write; the caller frees it.
 * JOURNAL_NONE if it has none that this version can read: the job is over, or another version of
 * this program began it. */
enum journal_status journal_script(struct journal *journal, int64_t job, struct script **out);

/* Keeps a script for an open job, in place of any that it has. Job 0: the one begun or resumed
 * last. */
enum journal_status journal_keep_script(struct journal *journal, int64_t job,
					const struct script *script);

/* Begins the way back of the script's last mishap, in one commit: the mishap, the calls that follow
 * it now, the script, and the event by which the job stands at the first of them. Or, with an
 * event JOURNAL_UNDO at the call before that, calls the way back off, of which the script knows no
 * more: the mishap goes. On failure nothing has changed. */
enum journal_status journal_go_back(struct journal *journal, const struct script *script,
				    const struct journal_event *event);

/* Adds an event to the job begun or resumed last. An event that could not be written is kept in
 * memory and goes in, in order, with the next one that can be, or with journal_flush: a disk that
 * is full for a while loses nothing unless the program ends before there is room. Of more than
 * JOURNAL_WAITING_MAX, a day's work, the oldest are lost. */
enum { JOURNAL_WAITING_MAX = 4096 };
enum journal_status journal_append(struct journal *journal, const struct journal_event *event);
bool journal_waits(const struct journal *journal); /* an event does */
enum journal_status journal_flush(struct journal *journal);

/* The number of the job begun or resumed last; 0 if there is none. */
int64_t journal_number(const struct journal *journal);

/* ---- 4. Finding a job ---- */

/* The open jobs, of that name or racket's mark unless it is NULL, the one worked on last first.
 * Jobs that were merged from another journal are not among them: they are somebody else's. The
 * caller frees each, and *jobs. */
enum journal_status journal_open_jobs(struct journal *journal, const char *name,
				      struct journal_job **jobs, int *count);

/* A job by its number, else by its UUID or its name, else by its racket's mark (of several, the
 * newest that is open, else the newest). What is a number is never taken for a name. NULL: the
 * open job that was worked on last. */
bool journal_is_number(const char *which);
enum journal_status journal_find(struct journal *journal, const char *which,
				 struct journal_job *job);
void journal_job_free(struct journal_job *job);

/* The work on each call of a job up to now, added to work_us by its place in the script, from 1;
 * that on calls which a way back replaced is added to *aside_us. */
enum journal_status journal_work(struct journal *journal, int64_t job, const struct script *script,
				 int64_t *work_us, int64_t *aside_us);

/* ---- 5. The rack and the reels ---- */

/* The rack: plans that wait to be begun, and open jobs that were left for later. A job that is
 * begun or taken up is the first on it, one that is left for later becomes the last, and one that
 * is over is taken off: the tables see to that (tables.sql). */
struct rack_entry {
	int64_t id;
	char *began; /* number of the open job; NULL: a plan that was not begun yet */
	char *name;
	char *plan_file;
	char *plan_text;
	int count; /* on the rack; 0: it is empty, and there is no entry */
};

/* The entry behind the one whose id is `after`; the first one behind the last, and for 0. The job
 * of number `but` is left out. */
enum journal_status journal_rack_next(struct journal *journal, int64_t after, int64_t but,
				      struct rack_entry *out);
void rack_entry_free(struct rack_entry *entry);

/* Whether a plan's racket is on the rack: *began is the number of its open job, or "" if that was
 * not begun yet, which the caller frees; NULL: it is not there. A racket is the same if name,
 * pattern, method, stringer, mark and customer are. */
enum journal_status journal_rack_find(struct journal *journal, const struct script *plan,
				      char **began);

/* Puts plans at the end, all of them or none. */
enum journal_status journal_rack_add(struct journal *journal, struct script *const *plans,
				     int count);

/* Moves the job that alone has that number, mark, @place, customer or name to a place, from 1 to
 * the last, which *place becomes; takes it off, which leaves an open job open. What is a number is
 * never taken for a name. *said: its name and mark, the caller frees it. JOURNAL_NONE if none or
 * several fit. */
enum journal_status journal_rack_move(struct journal *journal, const char *which, int *place,
				      char **said);
enum journal_status journal_rack_drop(struct journal *journal, const char *which, char **said);

/* Sets how much is left on a new reel, or on one that is known. JOURNAL_NONE if the new one is
 * known already, or the other is not. */
enum journal_status journal_reel_put(struct journal *journal, const char *name, int length_mm,
				     bool is_new);

/* JOURNAL_NONE if there is no such reel, or if a job that waits or is open cuts string off it. */
enum journal_status journal_reel_remove(struct journal *journal, const char *name);

/* When a racket was strung last, and the tension of its mains then, which the caller frees; NULL if
 * it never was. */
enum journal_status journal_last_time(struct journal *journal, const char *racket, char **tension,
				      int64_t *wall_us);

/* ---- 6. Reading it with SQL, for the rooms that tell what is in it ----
 *
 * The tables and views are described in tables.sql and views.sql and, with `.schema`, by the
 * sqlite3 shell. An aggregate, work(run, working, steady_us), gives the work_us of job_time from
 * the events of a job in their order, and faster.
 */

/* SQL: both tensions of a job or of a plan on the rack, "54/52 lb", "54 lb / 24 kg". */
#define JOURNAL_TENSIONS                                                                           \
	"iif(ltrim(mains_tension, '0123456789.') = ltrim(crosses_tension, '0123456789.'), "        \
	"rtrim(mains_tension, ltrim(mains_tension, '0123456789.')) || '/' || crosses_tension, "    \
	"mains_tension || ' / ' || crosses_tension)"

/* A value for the parameter of its name (:name), if a statement has that. Texts and bytes must stay
 * until the statement is finalized. An array of fields ends with {0}. */
struct journal_field {
	const char *name;
	enum { JOURNAL_NULL, JOURNAL_NUMBER, JOURNAL_TEXT, JOURNAL_BYTES } type;
	int64_t number; /* or the length of the bytes */
	const void *bytes;
};

static inline struct journal_field field_number(const char *name, int64_t number)
{
	return (struct journal_field){name, JOURNAL_NUMBER, number, NULL};
}

/* NULL is null. */
static inline struct journal_field field_text(const char *name, const char *text)
{
	return (struct journal_field){name, text ? JOURNAL_TEXT : JOURNAL_NULL,
				      text ? (int64_t)strlen(text) : 0, text};
}

#define FIELDS(...) ((const struct journal_field[]){__VA_ARGS__, {0}})

/* A variable for the value of a column: TARGETS(INTO(number), INTO(text)). A text becomes a copy
 * for the caller to free, its first letter or '\0', or the kind of an event; null becomes 0 or
 * NULL. An array of targets ends with {0}. */
struct journal_target {
	enum {
		TARGET_BOOL,
		TARGET_INT,
		TARGET_INT64,
		TARGET_DOUBLE,
		TARGET_TEXT,
		TARGET_LETTER,
		TARGET_KIND
	} type;
	void *variable;
};

#define TARGETS(...) ((const struct journal_target[]){__VA_ARGS__, {0}})
/* clang-format off */
#define INTO(variable) \
	{_Generic(&(variable), bool *: TARGET_BOOL, int *: TARGET_INT, int64_t *: TARGET_INT64, \
		  double *: TARGET_DOUBLE, char **: TARGET_TEXT, char *: TARGET_LETTER, \
		  enum journal_kind *: TARGET_KIND), &(variable)}
/* clang-format on */

/* The first columns of a row. */
void journal_take(sqlite3_stmt *row, const struct journal_target *targets);

/* The first row of a query; 0 and NULL if there is none, and on failure. */
enum journal_status journal_ask(struct journal *journal, const char *sql,
				const struct journal_field *fields,
				const struct journal_target *targets);

/* For SQL functions of a room's own. */
sqlite3 *journal_database(const struct journal *journal);

/* A statement ready to be stepped; the caller finalizes it. NULL on failure. */
enum journal_status journal_query(struct journal *journal, const char *sql,
				  const struct journal_field *fields, sqlite3_stmt **out);

/* Hands every row of a query, or of several one after the other, to `take` (may be NULL). */
typedef void journal_row_taker(void *context, sqlite3_stmt *row);
enum journal_status journal_each(struct journal *journal, const char *sql,
				 const struct journal_field *fields, journal_row_taker *take,
				 void *context);

/* Goes to the next row; *row is false after the last one and on failure. */
enum journal_status journal_step(struct journal *journal, sqlite3_stmt *statement, bool *row);

/* Between the two, everything that is read is of one moment. They may be nested. */
void journal_hold(struct journal *journal);
void journal_let_go(struct journal *journal);

/* ---- 7. Looking after it ---- */

/* Moves a journal that is not open, with its write-ahead log, to a new name beside its own, byte by
 * byte as it is, so that a new one can be begun. *aside is the new name, or *error a sentence; the
 * caller frees either. */
enum journal_status journal_set_aside(const char *path, char **aside, char **error);

/* Copies the journal, as it is at one moment and while it may be written, into one file that needs
 * nothing beside it. The file appears complete or not at all. An older backup of that name is
 * replaced; a file that is not a journal is not (JOURNAL_NOT_OURS). */
enum journal_status journal_backup(struct journal *journal, const char *file);

struct journal_merged {
	int added;      /* jobs that were not here */
	int lengthened; /* jobs that were here, and have more events in the other journal */
	int known;      /* jobs that were here with all that the other has of them */
};

/* Takes in the jobs of another journal, which is only read. A job is known by its UUID, so merging
 * the same file again changes nothing; of a job that is in both, the copy with more events stays.
 * All of it or nothing; JOURNAL_NONE if the file is not a journal that can be read. Names that were
 * anonymised here come back with jobs of an older copy that are added or lengthened. */
enum journal_status journal_merge(struct journal *journal, const char *file,
				  struct journal_merged *out);

struct journal_anonymised {
	int jobs;       /* strung by that person, alone or with others */
	int customer;   /* jobs strung for that person */
	int texts;      /* plans and notes in which the name was replaced */
	int set_aside;  /* damaged journals beside this one, which may hold the name and stay */
	char alias[24]; /* what stands there now: "forgotten-1" */
	char *others;   /* who stays because the name is only a part of theirs, a line each:
			   "stringer kim lee"; or NULL. The caller frees it */
};

/* Replaces a person's name, in capitals or not, in the whole journal: as a stringer, alone or one
 * of several ("ada & kim"), as a customer likewise, and as a word in plans, patterns, file names,
 * job names and details of events. Then rewrites the file and empties the write-ahead log, so that
 * no page that was freed holds it either. JOURNAL_NONE if there was nothing to replace.
 * JOURNAL_BUSY if another program is just reading: the name is replaced, but may still be found in
 * the raw file until this is called once more. Backups, and journals that were set aside, are not
 * changed. */
enum journal_status journal_anonymise(struct journal *journal, const char *name,
				      struct journal_anonymised *out);

#endif
