/* The whole job, worked out before anything is spoken: moves, grouped into calls.
 *
 * A move is the smallest thing a hand does. A call is what is spoken at once and answered with one
 * press: one move for a learner, one string for a practised hand. A sequence never changes once it
 * is compiled. The order of work and its rules are those of the trade (common practice, no
 * published source), but for the interlacing of the strings, which is a rule of the sports
 * (sequence/weave.h).
 */
#ifndef SEQUENCE_SEQUENCE_H
#define SEQUENCE_SEQUENCE_H

#include "base/fault.h"
#include "base/quantity.h"
#include "frame/pattern.h"
#include "job/job.h"
#include "sequence/lengths.h"
#include "sequence/route.h"
#include "sequence/weave.h"

#include <stdbool.h>
#include <stdint.h>

enum phase { PHASE_PREPARE, PHASE_MAINS, PHASE_CROSSES, PHASE_FINISH, PHASES };

enum action {
	DO_CUT_OUT,
	DO_INSPECT,
	DO_CUT,
	DO_MOUNT,
	DO_LOCK,
	DO_SET_TENSION,
	DO_FEED,
	DO_CLAMP,
	DO_UNCLAMP,
	DO_PULL,
	DO_RELEASE,
	DO_KNOT,
	DO_WEAVE,
	DO_DRAW,
	DO_TIE_OFF,
	DO_DISMOUNT,
	DO_CHECK,
	DO_TRIM,
	DO_STRAIGHTEN,
	ACTIONS,
};

/* What an inspection, a cut or a check is about, where the action alone does not say. */
enum subject {
	SUBJECT_NONE,
	SUBJECT_EYES,    /* check: eye protection, and the maker's instructions at hand */
	SUBJECT_FRAME,   /* inspect: cracks in frame and grommets */
	SUBJECT_STRING,  /* inspect: kinks and knots */
	SUBJECT_MAINS,   /* cut, set-tension: the mains' length */
	SUBJECT_CROSSES, /* cut, set-tension: the crosses' length */
	SUBJECT_WHOLE,   /* cut: a one-piece length */
	SUBJECT_BED,     /* check: misweaves and damage */
	SUBJECTS,
};

/* Only the fields that belong to the action are set; `has_string` and `has_side` guard theirs. */
struct move {
	enum action action;
	enum phase phase;
	enum subject subject;
	bool has_string;
	enum string_kind string;
	int number; /* main: from the centre; cross: from where the crosses start, which in all but
		       one-piece work is the order of weaving; a cross pull: the last of its pulls
		     */
	bool has_side;
	enum side side;   /* main: the main's; cross: where it happens */
	struct hole from; /* feed, weave: the hole entered by */
	struct hole to;   /* feed, weave: the hole left by */
	struct hole
		hole; /* pull: where the string leaves for the tension head; clamp, tie-off, knot */
	bool start;   /* clamp, unclamp: the starting clamp; knot: the starting knot */
	bool loop;    /* weave: leave a loop, do not draw it through yet */
	bool suggested; /* tie-off, starting knot: the pattern names no hole, this is a suggestion
			 */
	struct weave weave;
	uint64_t missing; /* weave of a main: the crosses (bit n: cross n) that come later, amid
			     those it meets: it goes over and under as if they were there */
	struct quantity tension; /* set-tension, pull */
	double prestretch;       /* set-tension */
	double length_mm;        /* cut, feed of the short side: 0: not known */
	int pulls_first;         /* pull of crosses: the crosses that it tensions */
	int pulls_last;
};

/* What a call is, and so which sentence says it: the keys of a phrasebook (call_kind_name). */
enum call_kind {
	CALL_CHECK_EYES,
	CALL_CUT_OUT,
	CALL_INSPECT_FRAME,
	CALL_INSPECT_STRING,
	CALL_CUT,
	CALL_MOUNT,
	CALL_LOCK,
	CALL_SET_TENSION,
	CALL_FEED,          /* learner: one end through its two holes */
	CALL_FEED_CENTRE,   /* both ends, and the lengths made even */
	CALL_FEED_SHORT,    /* one-piece: both ends, and the short side left its length */
	CALL_CLAMP_START,   /* the starting clamp */
	CALL_UNCLAMP_START, /* learner */
	CALL_PULL,          /* learner: tension one string */
	CALL_CLAMP,         /* learner */
	CALL_UNCLAMP,       /* learner */
	CALL_RELEASE,       /* learner */
	CALL_CENTRE_MAIN,   /* pull, clamp and release a centre main */
	CALL_MAIN,          /* feed, pull, clamp and release a main */
	CALL_TIE_OFF, /* bench: through the hole, knot, clamp off; learner: through the hole */
	CALL_KNOT,    /* learner: two half hitches */
	CALL_START_KNOT,
	CALL_WEAVE,        /* learner: weave one cross */
	CALL_WEAVE_LOOP,   /* learner: weave one cross and leave a loop */
	CALL_DRAW,         /* learner */
	CALL_CROSS,        /* weave one cross and draw it through, no pull */
	CALL_CROSS_BEHIND, /* weave one cross, pull the one before, draw through */
	CALL_CROSS_PULL,   /* weave one cross, draw it through, pull it: nothing is left behind */
	CALL_PULL_CROSS,   /* pull, clamp and release one cross */
	CALL_PULL_CROSSES, /* the same for several at once */
	CALL_WEAVE_MAIN,   /* learner: weave a main through crosses */
	CALL_DRAW_MAIN,    /* learner */
	CALL_LATE_MAIN,    /* weave a main through crosses, draw it through, pull it */
	CALL_DISMOUNT,
	CALL_CHECK_BED,
	CALL_TRIM,
	CALL_STRAIGHTEN,
	CALL_KINDS,
};

/* Moves first to last (indexes into moves) said at once. `subject` is the move whose values are
 * said. */
struct call {
	enum call_kind kind;
	int first;
	int last;
	int subject;
};

struct sequence {
	const struct pattern *pattern; /* neither is owned: they must outlive the sequence */
	const struct job *job;
	enum frame_end mains_start;
	enum frame_end mains_end;                /* where the outermost mains finish */
	struct hole cross_hole[CROSSES_MAX + 1]; /* by number, from where the crosses start */
	struct route *route; /* one-piece: the way of the long side, which is the side where
				the weaving begins; else NULL */
	struct lengths lengths;
	struct move *moves;
	int move_count;
	struct call *calls;
	int call_count;
};

/* Works the job out. NULL if it cannot be done; faults says why, and may hold warnings in any case.
 */
struct sequence *sequence_compile(const struct job *job, const struct pattern *pattern,
				  struct faults *faults);
void sequence_free(struct sequence *sequence);

/* All routes that a one-piece job may take, the best first; the job takes the one that its plan
 * names. False with a fault if there is none, or if the job is not a one-piece job. */
bool sequence_routes(const struct job *job, const struct pattern *pattern, struct routes *out,
		     struct faults *faults);

/* The phase of a call is that of its first move. */
enum phase call_phase(const struct sequence *sequence, int call);

const char *phase_name(enum phase phase);
const char *action_name(enum action action);
const char *subject_name(enum subject subject); /* NULL for none */
const char *call_kind_name(enum call_kind kind);

#endif
