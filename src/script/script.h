/* The script of a job: the lines to say, in order, and the few facts that whoever watches a job
 * needs.
 *
 * It is made once, when the job begins, from plan, pattern, bench and phrasebook. From then on it
 * is all that session, daemon, journal and screen know of the job: frames, plans and moves end
 * here. The journal keeps it, packed, while the job is open, so a job that is reopened goes on with
 * the lines it began with, whatever became of the program, the phrasebook and the bench file
 * meanwhile.
 *
 * A line is known by its place, counted from 1. "Past the last" is the number of lines + 1: where a
 * job stands whose last call was answered.
 *
 * When something goes wrong, a way back takes the place of the lines that follow the one under work
 * (script_go_back). So a line also has a number that stays its own, by which the journal knows it:
 * its place at first; the lines of a way back have numbers that no line had before.
 */
#ifndef SCRIPT_SCRIPT_H
#define SCRIPT_SCRIPT_H

#include "base/base.h"

struct bench;
struct phrasebook;
struct plan;

/* ---- The script ---- */

enum { SCRIPT_LINES_MAX = 2000, SCRIPT_MISHAPS_MAX = 100 };

/* Strings to tension: not yet pulled. */
struct script_left {
	int mains;
	int crosses;
};

/* Strings that are in, a bit each, main 1 or cross 1 being bit 1: mains fed, crosses woven. */
struct script_bed {
	uint64_t left; /* mains of a side */
	uint64_t right;
	uint64_t crosses;
};

/* One call. What kinds, phases, skills and sides are called: sequence/sequence.h. Texts, then
 * numbers, then bits: they are packed by their order. */
struct script_line {
	const char *kind;
	const char *phase;
	const char *skill;
	const char *full_words;
	const char *short_words; /* for a hand that knows the way; often the same */
	const char *again_words; /* the full words, more explicit */
	const char *why;         /* one sentence: the reason for it */
	const char *place;       /* as it stands within a sentence: "main four left" */
	const char *string;      /* "main" or "cross"; this and the next four may be NULL */
	const char *side;        /* "left" or "right" */
	const char *name;        /* teaching: only what is next; NULL: it is never asked */
	const char *question;    /* teaching: that and a question, which short_words answer */
	const char *reel;        /* that this call cuts cut_mm off */
	int number;              /* of the string; 0 if it is about none */
	int weight_s;            /* usual seconds of work */
	int call;                /* its own number: see above */
	int cut_mm;              /* the length to cut; 0: none, or it is not known */
	int mishap;              /* the mishap of the script that it makes good, from 1; 0: none */
	struct script_left left; /* after this call */
	struct script_bed bed;   /* after this call */
	struct script_bed redo;  /* of that bed, the strings that a redo takes out */
	char *texts;             /* holds the words above; owned */
};

/* What went wrong, and where. Kinds: "redo" (a misweave or another fault is seen), "slipped" (a
 * clamp), "broke" (a string). The names are static. */
struct script_mishap {
	const char *kind;
	const char *string; /* of a redo: "main" or "cross"; else NULL */
	const char *side;   /* of a main: "left" or "right" */
	int number;
	int line;   /* where it was found: the one under work */
	int made;   /* the number of the line where its string was worked on last; 0: none */
	int undone; /* strings that come out */
};

struct script {
	/* As the plan and the pattern say; the files as they were. */
	const char *job;
	const char *title; /* of the pattern */
	const char *stringer;
	const char *pattern;
	const char *sport;
	const char *method;
	const char *crosses_start; /* the end that the crosses are woven from: "head", "throat" */
	const char *detail;
	const char *teaching;  /* "no"; "yes"; "trainer", "test": who looks at the work; "drill" */
	const char *language;  /* of the words */
	const char *program;   /* that made it: name and version */
	const char *plan_file; /* its full path, if it has one */
	const char *plan_text;
	const char *pattern_text;
	const char *racket; /* these four are "" where the plan does not say */
	const char *customer;
	const char *due;
	const char *notes;
	const char *tension[2];   /* "54 lb", of the mains and of the crosses */
	const char *string[2];    /* what the plan calls them; "" where it does not */
	struct script_left whole; /* strings of the frame */
	bool says_short;          /* calls are said with their short words */
	struct script_line *lines;
	int count;
	struct script_mishap *mishaps; /* in the order in which they happened */
	int mishap_count;
	char *texts; /* holds the texts above; owned */
};

/* ---- Making ---- */

/* From a job plan's path ("-": standard input); `teach`: as if it said `teach: ` that, or NULL.
 * NULL if the job cannot be done; faults says why. */
struct script *script_read(const char *path, const char *teach, const struct bench *bench,
			   const struct phrasebook *book, struct faults *faults);

/* The same from the text of a plan (its file: for messages) and of a pattern; NULL: looked for. */
struct script *script_read_text(const char *file, const char *text, const char *pattern_text,
				const char *teach, const struct bench *bench,
				const struct phrasebook *book, struct faults *faults);

/* The calls of some skills, which end with NULL, of a job that is taught: in an order that comes
 * from the seed, to be asked without a racket. */
struct script *script_drill(const struct script *taught, const char *const *skills, uint64_t seed);

/* From a plan that was compiled. */
struct script *script_make(const struct plan *plan, const struct bench *bench,
			   const struct phrasebook *book);

/* A script without lines; texts are copied. Then lines are added at the end, copied too; one
 * without a number gets its place for it. And what went wrong, whose names become static ones. */
struct script *script_new(const struct script *facts);
void script_add(struct script *script, const struct script_line *line);
void script_add_mishap(struct script *script, const struct script_mishap *mishap);

/* ---- When something goes wrong ---- */

/* Reads the string of a redo: "cross 9", "main 4 left". False with *why, which the caller frees. */
bool script_parse_string(const char *text, struct script_mishap *out, char **why);

/* A new script: the lines up to `line`, the one under work, as they are, then the way back and the
 * rest of the job. Plan and pattern are compiled anew, and every mishap so far is gone through
 * again, so the result is the same whatever was said and done in between. Of the mishap, what went
 * wrong is read; the rest is filled in. NULL if there is no way back, or if this program makes
 * other calls of the work that is done already; faults says what to do instead. */
struct script *script_go_back(const struct script *script, int line,
			      const struct script_mishap *mishap, const struct bench *bench,
			      const struct phrasebook *book, struct faults *faults);

/* The same without the last mishap: the lines up to the one where it was found, and the rest of the
 * job as it would have gone on. NULL if this program makes other calls; faults says so. */
struct script *script_call_off(const struct script *script, const struct bench *bench,
			       const struct phrasebook *book, struct faults *faults);

void script_free(struct script *script); /* NULL is fine */

/* "ridge-court-0042 (R-118)": the name of a job with its racket's mark, else the customer, either
 * "" or NULL where it is not known. The caller frees it. */
char *script_label(const char *job, const char *racket, const char *customer);

/* The plan with the sequence that the script is said from, its ways back and all: its call n is the
 * line of place n + 1, and sequence_bed_strings tells the bed at each. False if this program, with
 * this bench, would say other calls up to `line`; faults says so. plan_free in any case. */
bool script_plan(const struct script *script, int line, const struct bench *bench, struct plan *out,
		 struct faults *faults);

/* ---- Reading, by place ---- */

/* The line of that place; the last one if it is past it. */
const struct script_line *script_line(const struct script *script, int place);

/* What to say for that line the first time: its full or its short words. */
const char *script_words(const struct script *script, int place);

/* Whether a trainee strings, and whether a trainer looks at the work. */
bool script_is_taught(const struct script *script);
bool script_has_trainer(const struct script *script);
bool script_teaching_is(const struct script *script, const char *teaching);

/* What is left to pull before that line is done. */
struct script_left script_left(const struct script *script, int place);

/* The strings that are in before that line is done. */
struct script_bed script_bed(const struct script *script, int place);

/* The number of a place's line (past the last, one that no line has); and its place, or 0. */
int script_call(const struct script *script, int place);
int script_place(const struct script *script, int call);

/* Before that line is done: the places where the strings that a redo takes out were worked on last,
 * the newest first. Returns how many. */
enum { SCRIPT_STRINGS_MAX = 3 * 64 };
int script_strings(const struct script *script, int place, int lines[SCRIPT_STRINGS_MAX]);

/* ---- Keeping ---- */

/* Compressed, into `out`. The same script always gives the same bytes. */
void script_pack(const struct script *script, struct text *out);

/* NULL if the bytes are not those of a whole script, or are of another version. */
struct script *script_unpack(const void *bytes, size_t size);

#endif
