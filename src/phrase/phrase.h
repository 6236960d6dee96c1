/* Calls and notices in words.
 *
 * A phrasebook is a file, voice/LANG.yaml: sentences with named fields in braces, and the rules by
 * which numbers, decimals, units, holes and sides become words of that language. Nothing is left to
 * the synthesiser's guess: the words are letters, spaces, apostrophes, commas, full stops,
 * question marks and hyphens, whatever a job is called. The comments in voice/en.yaml say how to
 * write a phrasebook.
 *
 * A call says at most three things: one spoken message of four items gave more wrong read-backs
 * than two of two items each (Morrow & Rodvold, NASA).
 */
#ifndef PHRASE_PHRASE_H
#define PHRASE_PHRASE_H

#include "base/base.h"

/* ---- Notices: what is said beside calls ---- */

/* NOTICE(enumerator, name in a phrasebook, fields that its sentence must name) */
/* clang-format off */
#define NOTICE_LIST(NOTICE)                                                                 \
	NOTICE(GREETING, "greeting", NONE)             /* a new job: press to begin */      \
	NOTICE(REOPENED, "reopened", FIELD(PLACE))     /* a job left open: press to go on */ \
	NOTICE(PLACE, "place", FIELD(PLACE) | FIELD(LEFT) | FIELD(TIME_LEFT)) /* where am I */ \
	NOTICE(PAUSED, "paused", NONE)                                                      \
	NOTICE(FIRST, "first", NONE)                   /* asked to go back at the first call */ \
	NOTICE(DONE, "done", NONE)                     /* the last call was answered */     \
	NOTICE(PEDAL_GONE, "pedal-gone", NONE)         /* unplugged: the job waits */       \
	NOTICE(PEDAL_BACK, "pedal-back", NONE)                                              \
	NOTICE(PEDAL_STUCK, "pedal-stuck", NONE)       /* its contact does not open */      \
	NOTICE(PEDAL_CHATTER, "pedal-chatter", NONE)   /* its contact bounces far too much */ \
	NOTICE(JOURNAL_FAILED, "journal-failed", NONE) /* what is lost; the calls go on */  \
	NOTICE(JOURNAL_MENDED, "journal-mended", NONE)                                      \
	NOTICE(JOURNAL_ASIDE, "journal-aside", NONE)   /* a damaged one; a new one is begun */ \
	NOTICE(PLAN_CHANGED, "plan-changed", NONE)     /* since the job began, which goes on */ \
	NOTICE(REEL_SHORT, "reel-short", NONE)         /* for the length that a call cuts */ \
	NOTICE(CHOICES, "choices", NONE)               /* they are open */                  \
	NOTICE(CHOOSE_REDO, "choose-redo", NONE)       /* in the order of enum choice */    \
	NOTICE(CHOOSE_SLIPPED, "choose-slipped", NONE)                                      \
	NOTICE(CHOOSE_BROKE, "choose-broke", NONE)                                          \
	NOTICE(CHOOSE_WHY, "choose-why", NONE)                                              \
	NOTICE(CHOOSE_FULLER, "choose-fuller", NONE)                                        \
	NOTICE(CHOOSE_SHORTER, "choose-shorter", NONE)                                      \
	NOTICE(CHOOSE_LOUDER, "choose-louder", NONE)                                        \
	NOTICE(CHOOSE_SOFTER, "choose-softer", NONE)                                        \
	NOTICE(CHOOSE_RACK, "choose-rack", NONE)                                            \
	NOTICE(CHOOSE_LATER, "choose-later", NONE)                                          \
	NOTICE(CHOOSE_STRING, "choose-string", FIELD(PLACE)) /* of a redo, a string */      \
	NOTICE(NO_STRING, "no-string", NONE)           /* there is nothing to redo yet */   \
	NOTICE(CALLED_OFF, "called-off", NONE)         /* a way back that had just begun */ \
	NOTICE(WAY_BACK, "way-back", NONE)             /* stepped back over it: it still stands */ \
	NOTICE(REFUSED, "refused", FIELD(REASON))      /* what was chosen: see each reason */ \
	/* what to do instead, by the code of the fault */                                  \
	NOTICE(REFUSED_STRING, "refused-redo-string", NONE)                                 \
	NOTICE(REFUSED_MAIN, "refused-redo-main", NONE)                                     \
	NOTICE(REFUSED_KNOT, "refused-redo-knot", NONE)                                     \
	NOTICE(REFUSED_SLIPPED, "refused-slipped-none", NONE)                               \
	NOTICE(REFUSED_BROKE, "refused-broke-string", NONE)                                 \
	NOTICE(REFUSED_CUT, "refused-broke-cut", NONE)                                      \
	NOTICE(REFUSED_OTHER, "refused-back-other", NONE)                                   \
	NOTICE(REFUSED_MANY, "refused-back-many", NONE)                                     \
	NOTICE(NOTED, "noted", NONE)                   /* a note was taken */               \
	NOTICE(RACK_WAITS, "rack-waits", FIELD(COUNT)) /* no job: how many wait on the rack */ \
	/* what a press begins: all that is to be set up; the same of one left for later */ \
	NOTICE(RACK_NEXT, "rack-next", FIELD(JOB) | FIELD(MAINS_STRING) | FIELD(CROSSES_STRING)) \
	NOTICE(RACK_AGAIN, "rack-again", FIELD(JOB) | FIELD(PLACE))                         \
	/* what comes after the job under way */                                            \
	NOTICE(RACK_AFTER, "rack-after", FIELD(JOB) | FIELD(MAINS_STRING) | FIELD(CROSSES_STRING)) \
	NOTICE(RACK_FAULT, "rack-fault", NONE)         /* the next one cannot be begun */   \
	NOTICE(RACK_EMPTY, "rack-empty", NONE)                                              \
	/* teaching (teach/teach.h) */                                                      \
	NOTICE(STATION_MOUNTED, "station-mounted", NONE) /* in the order of enum station */ \
	NOTICE(STATION_CENTRE_MAINS, "station-centre-mains", NONE)                          \
	NOTICE(STATION_MAINS_DONE, "station-mains-done", NONE)                              \
	NOTICE(STATION_THIRD_CROSS, "station-third-cross", NONE)                            \
	NOTICE(STATION_HALF_WAY, "station-half-way", NONE)                                  \
	NOTICE(STATION_BEFORE_LAST_KNOT, "station-before-last-knot", NONE)                  \
	NOTICE(STATION_FINISHED, "station-finished", NONE)                                  \
	NOTICE(STATION_ALONE, "station-alone", NONE)   /* who presses when all is right */  \
	NOTICE(STATION_TRAINER, "station-trainer", NONE) /* who says whether it is */       \
	NOTICE(STATION_PASSED, "station-passed", NONE)                                      \
	NOTICE(FAULT_MISWEAVE, "fault-misweave", NONE) /* in the order of enum work_fault */ \
	NOTICE(FAULT_WRONG_HOLE, "fault-wrong-hole", NONE)                                  \
	NOTICE(FAULT_CROSSED_LOOP, "fault-crossed-loop", NONE)                              \
	NOTICE(FAULT_CLAMP_SLIP, "fault-clamp-slip", NONE)                                  \
	NOTICE(FAULT_NOTCH, "fault-notch", NONE)                                            \
	NOTICE(FAULT_CROOKED, "fault-crooked", NONE)                                        \
	NOTICE(FAULT_KNOT, "fault-knot", NONE)                                              \
	NOTICE(FAULT_TAIL, "fault-tail", NONE)                                              \
	NOTICE(FAULT_AWL, "fault-awl", NONE)                                                \
	NOTICE(FAULT_UNEVEN, "fault-uneven", NONE)                                          \
	NOTICE(FAULT_FRAME, "fault-frame", NONE)
/* clang-format on */

enum notice {
#define NOTICE_ID(id, name, needed) NOTICE_##id,
	NOTICE_LIST(NOTICE_ID)
#undef NOTICE_ID
		NOTICES,
};

const char *notice_name(enum notice notice);

/* ---- How a thing is said ---- */

/* Which words of a call. */
enum wording {
	WORDING_PLANNED, /* as the job's detail asks: short if it is quick, else full */
	WORDING_FULL,    /* the sentence of the job's detail; if that is quick, of bench */
	WORDING_SHORT,   /* the sentence of quick, where that detail has such calls */
	WORDING_WHY,     /* why it is done */
	WORDING_AGAIN, /* the full words, with numbers more explicit (`repeat` in the phrasebook) */
	WORDING_NAME,  /* teaching: only what is next */
	WORDING_ASK,   /* teaching: that, and a question */
};

/* How the user wants it said. A zeroed struct is the plan's own unit and the language's words. */
struct phrase_options {
	enum wording wording;
	bool clear;       /* the shop is loud: numbers as `clear` in the phrasebook says */
	bool unit_chosen; /* say tensions in `unit`, not in the unit that they are written in */
	enum unit unit;   /* lb, kg or N */
	const char *side_words[2]; /* left, right: "tape side"; NULL: the phrasebook's own */
};

/* What a notice may speak of. Texts are the caller's. */
struct notice_facts {
	const char *job;              /* its name; NULL: none */
	const char *racket;           /* its mark, which follows the name; NULL or "": none */
	const char *place;            /* phrase_place; NULL: nowhere */
	int mains, crosses;           /* that the frame has */
	int mains_left, crosses_left; /* to pull */
	double seconds_left;          /* said in minutes, rounded up; 0: not known */
	double seconds_worked;        /* said in minutes, rounded; less than half a one is not */
	const char *reason;           /* of a refusal, or what has changed; NULL: none */
	const char *pattern;          /* its name; this and what follows: NULL or 0 if not known */
	const char *tensions[2];      /* "54 lb", of mains and crosses */
	const char *strings[2];       /* their names */
	const char *notes;            /* of the plan */
	const char *last_tension;     /* of the mains when this racket was strung last */
	int reel_left_mm;             /* on the reel that a call cuts from */
	int last_days;                /* since then; negative: not known */
	int last_month;               /* from 1: of that day */
	int jobs;                     /* that wait on the rack */
	const char *string;           /* phrase_place of a string with a fault; NULL: none */
};

/* ---- The phrasebook ---- */

struct phrasebook;

/* Takes the document, as yaml_read returns it. NULL, with faults, if that is NULL or at fault. */
struct phrasebook *phrasebook_read(struct yaml_document *document);

/* The phrasebook of a language ("en"), from the voice folders (base/base.h). */
struct phrasebook *phrasebook_find(const char *language, struct faults *faults);
void phrasebook_free(struct phrasebook *book);

/* The synthesiser's voice that its words were chosen with, or NULL. */
const char *phrasebook_voice(const struct phrasebook *book);

/* What is shown beside what is said: the word of the phrasebook for a key of its map `shown`, among
 * them the names of phases, skills and levels, or of its sides (left, right) and ends (head,
 * throat). The key itself if there is none, or no book. The book's. */
const char *phrasebook_shown(const struct phrasebook *book, const char *key);

/* The word for a part of a move, as pullcall-steps(5) calls it: of the map `moves`, else likewise.
 */
const char *phrasebook_move(const struct phrasebook *book, const char *key);

/* ---- What to say ----
 *
 * The caller frees what these return. options may be NULL.
 */

/* The longest phrase, which fits the wire to the speaker; a longer one is cut between words. */
enum { PHRASE_BYTES_MAX = 800 };

struct sequence;

/* For a call, an index into sequence->calls. NULL if its name or a question is wanted and it is one
 * that is never asked. */
char *phrase_call(const struct phrasebook *book, const struct sequence *sequence, int call,
		  const struct phrase_options *options);

char *phrase_notice(const struct phrasebook *book, enum notice notice,
		    const struct notice_facts *facts, const struct phrase_options *options);

/* Where a call is, as it stands within a sentence: "main four left", "getting ready, step two of
 * nine". */
char *phrase_place(const struct phrasebook *book, const struct sequence *sequence, int call,
		   const struct phrase_options *options);

#endif
