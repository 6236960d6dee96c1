/* The whole job, worked out before anything is spoken: moves, grouped into calls.
 *
 * A move is the smallest thing a hand does. A call is what is spoken at once and answered with one
 * press: one move for a learner, one string for a practised hand. A sequence never changes once it
 * is compiled. The order of work and its rules are those of the trade (common practice, no
 * published source), but for the interlacing of the strings, which is a rule of the sports
 * (sequence/sequence.h).
 */
#ifndef SEQUENCE_SEQUENCE_H
#define SEQUENCE_SEQUENCE_H

#include "base/base.h"
#include "frame/frame.h"
#include "job/job.h"

#include <stdbool.h>
#include <stdint.h>

/* How much string a job takes, and whether it is there. */

/* Estimates in millimetres; 0: not known, or not a length of this method. */
struct lengths {
	double mains_mm; /* two-piece */
	double crosses_mm;
	double short_mm; /* one-piece: the short side, the long side, both */
	double long_mm;
	double total_mm;
};

/* The lengths of a two-piece job; all 0 if the pattern does not say how large the head is. */
struct lengths lengths_of_two_pieces(const struct job *job, const struct pattern *pattern);

/* The same of a one-piece job, whose long side strings so many mains in a row and then runs so far
 * outside the frame on its way. */
struct lengths lengths_of_one_piece(const struct job *job, const struct pattern *pattern,
				    int in_a_row, double outside_mm);

/* Compares a length on hand with the estimate. Too short is an error that says by how much, and a
 * warning if the plan accepts it. False if there was an error. */
bool length_suffices(const struct job *job, const struct string_length *length, const char *what,
		     double needed_mm, struct faults *faults);

/* One-piece routes: the way of the long side's string once its early mains are in.
 *
 * The short side strings its mains and ties off. The long side goes straight on to the crosses if
 * its last main comes out where they begin. Otherwise its outermost main is left for later, and the
 * string finds a way "around the world" (common practice, no published source):
 *   - it begins where the long side's last early main comes out, and visits every cross and the
 *     delayed main once; it leaves a cross on the side opposite to the one it entered, and a main
 *     at the other end;
 *   - from the hole it leaves to the one it enters it runs outside the frame, on the same side, at
 *     least one and at most `reach` hole positions along, never across the gap where the bridge
 *     ends (not back into the hole it came out of: nothing would hold it there);
 *   - it can end only where there is room for a knot.
 * A break is a cross that is not woven right after the cross numbered one less, or for cross 1 not
 * first. The best route has the fewest breaks, then the least run outside, then the least string.
 *
 * Everything here is a pure function of struct route_frame, which knows one side of a frame as a
 * row of places: holes from the middle of the head (0) round to the middle of the throat.
 */

enum {
	ROUTE_PLACES_MAX = 2 * HOLES_MAX,
	ROUTE_REACH_MAX = 4,
	ROUTES_MAX = 40, /* so many are kept of those with the fewest breaks, the best */
};

struct route_frame {
	int crosses;
	int cross[CROSSES_MAX + 1]; /* places, by number from 1: rising or falling */
	int start;                  /* where the last early main comes out */
	int main[2];                /* the delayed main's holes, by end */
	int gap;                    /* the place behind which the bridge's gap lies, or -1 */
	int reach;                  /* longest run outside, in hole positions */
	bool knot_at_cross[CROSSES_MAX +
			   1]; /* there is room for a knot if this cross is the last */
	bool knot_at_main[2];  /* if the delayed main is, and comes out at this end */
	double run_mm[ROUTE_PLACES_MAX][ROUTE_PLACES_MAX]; /* string outside, by places; or all 0 */
};

struct route {
	bool delayed; /* the long side's outermost main is left for later, and one of the steps */
	int count;
	int steps[CROSSES_MAX + 1]; /* cross numbers in the order they are woven; 0: delayed main */
	enum frame_end main_from;   /* where the delayed main is entered */
	int breaks;
	int outside;       /* hole positions run outside the frame, in all */
	double outside_mm; /* the same as string; 0 if the frame is not measured */
};

struct routes {
	struct route
		items[ROUTES_MAX]; /* all of the same, least number of breaks; the best first */
	int count;
	bool more; /* there are others with as few breaks */
};

/* Finds the best routes with the outermost main delayed. False if there is none. */
bool routes_find(const struct route_frame *frame, struct routes *out);

/* Which rules stand in the way where there is no route: as few as can be, without which there would
 * be one. */
enum route_rule {
	ROUTE_RULE_KNOT,   /* room for a knot where it ends */
	ROUTE_RULE_BRIDGE, /* not across the bridge's gap */
	ROUTE_RULE_SIDES,  /* every cross changes the side */
	ROUTE_RULE_REACH,  /* no longer run outside */
	ROUTE_RULES,
};

/* Bit n of the result is rule n; with ROUTE_RULE_REACH, *reach is the least that would do. No bit:
 * even without the other rules and at ROUTE_REACH_MAX there is none. */
unsigned routes_forbidden_by(const struct route_frame *frame, int *reach);

/* How a cross goes over and under the mains.
 *
 * The strings of a bed are alternately interlaced or bonded where they cross: ITF Rules of Tennis,
 * Appendix II b; BWF Laws of Badminton, Law 4; WSF racket specification. Nobody bonds them, so with
 * mains numbered 1 to M from left to right and crosses numbered from one end of the bed, cross c is
 * over main m exactly when c + m has one and the same parity over the whole bed.
 */

enum travel {
	TRAVEL_LEFT_TO_RIGHT,
	TRAVEL_RIGHT_TO_LEFT,
	TRAVEL_HEAD_TO_THROAT, /* a main that is woven when crosses are in already */
	TRAVEL_THROAT_TO_HEAD,
};

/* What is announced: the stringer meets the other strings in the direction of travel. */
struct weave {
	enum travel travel;
	bool first_over; /* at the first string met */
	bool last_over;  /* at the last */
};

/* The mains that a cross meets, numbered from the left. Not always all: a cross in a hole that the
 * mains skip passes by the mains that leave the frame beyond it (frame/frame.h, pattern_meets).
 * It still has to interlace with its neighbours, so where an odd number a side is passed by, it
 * starts the other way. */
struct mains_met {
	int first;
	int last;
};

/* The main that a cross meets first, coming from that side. */
int weave_first_met(struct mains_met mains, enum side side);

/* The parity of c + m at which crosses are over, if cross c is to be `over` at main m. */
int weave_parity(int cross, int main, bool over);

/* Whether cross c is over main m (from the left) in a bed of that parity. */
bool weave_is_over(int parity, int cross, int main);

/* How cross c goes when it is woven from `side`. */
struct weave weave_of_cross(int parity, struct mains_met mains, int cross, enum side side);

/* How main m goes when it is woven through crosses that are in: from cross `first` to cross
 * `last`. */
struct weave weave_of_main(int parity, int main, int first, int last, enum travel travel);

const char *travel_name(enum travel travel); /* "left-to-right", "throat-to-head" ... */

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

/* A job plan with its pattern and the sequence compiled from them, held together. */

struct plan {
	struct job *job;
	struct pattern *pattern;
	struct sequence *sequence;
};

/* From a job plan's file ("-": standard input) or text, its pattern looked for as usual
 * (job/job.h). reach_mm is the machine's. False if it cannot be done; faults says why, and *out
 * holds what could be made all the same. plan_free in any case. */
bool plan_read(struct plan *out, const char *path, double reach_mm, struct faults *faults);
bool plan_read_text(struct plan *out, const char *file, const char *text, double reach_mm,
		    struct faults *faults);

/* The same with the pattern as a text too: as it was when a journal was written. */
bool plan_read_texts(struct plan *out, const char *file, const char *text, const char *pattern_file,
		     const char *pattern_text, double reach_mm, struct faults *faults);

void plan_free(struct plan *plan);

#endif
