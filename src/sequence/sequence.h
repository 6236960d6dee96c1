/* The whole job, worked out before anything is spoken: moves, grouped into calls.
 *
 * A move is the smallest thing a hand does. A call is what is spoken at once and answered with one
 * press: one move for a learner, one string for a practised hand. A sequence never changes once it
 * is compiled. The order of work and its rules are those of the trade (common practice, no
 * published source), but for the interlacing of the strings, which is a rule of the sports.
 */
#ifndef SEQUENCE_SEQUENCE_H
#define SEQUENCE_SEQUENCE_H

#include "base/base.h"
#include "frame/frame.h"
#include "job/job.h"

/* ---- Weaves: how a cross goes over and under the mains ----
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

/* ---- Moves ---- */

enum phase { PHASE_PREPARE, PHASE_MAINS, PHASE_CROSSES, PHASE_FINISH, PHASES };

/* clang-format off */
#define ACTION_LIST(ACTION) \
	ACTION(CUT_OUT, "cut-out") ACTION(INSPECT, "inspect") ACTION(CUT, "cut") \
	ACTION(MOUNT, "mount") ACTION(LOCK, "lock") ACTION(SET_TENSION, "set-tension") \
	ACTION(FEED, "feed") ACTION(CLAMP, "clamp") ACTION(UNCLAMP, "unclamp") \
	ACTION(PULL, "pull") ACTION(RELEASE, "release") ACTION(KNOT, "knot") \
	ACTION(WEAVE, "weave") ACTION(DRAW, "draw") ACTION(TIE_OFF, "tie-off") \
	ACTION(DISMOUNT, "dismount") ACTION(CHECK, "check") ACTION(TRIM, "trim") \
	ACTION(STRAIGHTEN, "straighten") ACTION(SET_CLAMPS, "set-clamps") ACTION(TURN, "turn") \
	/* Of the way back only: LET_DOWN slowly what the tension head holds, TAKE_OUT a string \
	 * that has no tension, CLEAN and adjust the clamp that slipped. */ \
	ACTION(LET_DOWN, "let-down") ACTION(TAKE_OUT, "take-out") ACTION(UNTIE, "untie") \
	ACTION(CLEAN, "clean")

/* What an inspection, a cut or a check is about, where the action alone does not say. */
#define SUBJECT_LIST(SUBJECT) \
	SUBJECT(NONE, NULL) \
	SUBJECT(EYES, "eyes") /* check: eye protection, and the maker's instructions at hand */ \
	SUBJECT(FRAME, "frame") /* inspect: cracks in frame and grommets */ \
	SUBJECT(STRING, "string") /* inspect: kinks and knots */ \
	SUBJECT(MAINS, "mains") /* cut, set-tension: the mains' length; check: count and skips */ \
	SUBJECT(CROSSES, "crosses") /* cut, set-tension: the crosses' length */ \
	SUBJECT(WHOLE, "whole") /* cut: a one-piece length */ \
	SUBJECT(BED, "bed") /* check: misweaves and damage */ \
	SUBJECT(PATTERN, "pattern") /* check: the old bed against the pattern */ \
	SUBJECT(WEAVE, "weave") /* check: misweaves, while a cross can still be drawn out */ \
	SUBJECT(MOUNTS, "mounts") /* check: after the third main */ \
	SUBJECT(CLAMP, "clamp") /* check: one that slipped */
/* clang-format on */

enum action {
#define ACTION(id, name) DO_##id,
	ACTION_LIST(ACTION)
#undef ACTION
		ACTIONS,
};

enum subject {
#define SUBJECT(id, name) SUBJECT_##id,
	SUBJECT_LIST(SUBJECT)
#undef SUBJECT
		SUBJECTS,
};

enum clamp_kind { CLAMP_FIXED, CLAMP_FLYING, CLAMP_STARTING, CLAMP_KINDS };

/* Only the fields that belong to the action are set; `has_string` guards string, number, side. */
struct move {
	enum action action;
	enum phase phase;
	enum subject subject;
	bool has_string;
	enum string_kind string;
	/* Main: from the centre. Cross: from where the crosses start, which in all but one-piece
	 * work is the order of weaving; of a pull the last one that it tensions. */
	int number;
	enum side side;   /* main: the main's; cross: where it happens */
	struct hole from; /* feed, weave: the hole entered by */
	struct hole to;   /* feed, weave: the hole left by */
	/* pull: where the string leaves for the tension head; clamp, tie-off, knot */
	struct hole hole;
	bool start;     /* knot, untie: the starting knot */
	bool suggested; /* tie-off, starting knot: the pattern names no hole, this one will do */

	enum clamp_kind with; /* clamp, unclamp */
	bool outside;         /* clamp, unclamp: outside the frame, for the first pull */
	int across; /* clamp, unclamp: a flying clamp's other string, a neighbour of the same kind;
		       for main 1 it is main 1 of the other side: 1; else 0 */

	struct weave weave;
	bool loop;        /* weave: leave a loop, do not draw it through yet */
	uint64_t missing; /* weave of a main: the crosses (bit n: cross n) that come later, amid
			     those it meets: it goes over and under as if they were there */

	struct quantity tension; /* set-tension, pull */
	double prestretch;       /* set-tension: a share, 0.1 is 10 % */
	bool as_set;             /* set-tension: the machine is set so already */
	bool change;     /* set-tension: of strings of this kind, after some have been pulled */
	bool back;       /* a change: to the plan's own tension again */
	int through;     /* a change: it is for the strings from `number` to this one, */
	bool both_sides; /* of both sides; else of `side` */

	bool of_crosses;  /* inspect: the crosses' string, when it is taken up */
	double length_mm; /* cut, feed of the short side; 0: not known */
	int pulls_first;  /* pull of crosses: the first and the last cross that it tensions */
	int pulls_last;
};

/* ---- What goes wrong while a job is strung ---- */

enum mishap_kind {
	MISHAP_REDO, /* a misweave or another fault is seen: the string, and all after it, again */
	MISHAP_SLIPPED, /* a clamp let the last string slip */
	MISHAP_BROKE,   /* a string broke */
};

/* The string is that of a redo, the side that of a main. Else the clamp that slipped is on the
 * string pulled last, and the string that broke is the one under work. */
struct mishap {
	enum mishap_kind kind;
	enum string_kind string;
	int number;
	enum side side;
};

/* What loses its tension and is cut out when a string breaks. */
enum loss { LOSS_NONE, LOSS_CROSSES, LOSS_BED };

/* ---- Calls ---- */

/* What a stringer has to master; each call is about one of these. */
enum skill {
	SKILL_PREPARE,
	SKILL_MOUNT,
	SKILL_TENSION,
	SKILL_FEED,
	SKILL_SKIP, /* which hole, where numbers jump or a hole is shared */
	SKILL_CLAMP,
	SKILL_TIE_OFF,
	SKILL_KNOT,
	SKILL_WEAVE_START, /* where weaving begins: side, hole, over or under */
	SKILL_WEAVE,
	SKILL_BEHIND, /* what is pulled when, with one cross woven ahead */
	SKILL_FINISH,
	SKILLS,
};

/* Every kind of call, a row each:
 *
 *     KIND(enumerator, name, who is told such calls, skill, seconds, sentences)
 *
 * - name: its key in a phrasebook.
 * - who is told: ALL; LEARNER: told each move; PRACTISED: told each string.
 * - seconds: what a practised hand takes, from memory. The pace of a job soon corrects them, so
 *   only their proportions matter.
 * - sentences: one SAYS for each variant with a sentence of its own (phrase/internal.h), with the
 *   fields that it may use and those that it must use; after them one WHY for each variant of the
 *   reason alone. PLAIN: one sentence without fields. EITHER:
 *   one for a main and one for a cross, which must name the string. The sets are named in
 *   phrase/read.c. That a tie-off hole is only a suggestion must be said in every detail.
 */
/* clang-format off */
#define CALL_KIND_LIST(KIND) \
	KIND(CHECK_EYES,       "check-eyes",       ALL,       PREPARE, 10,  PLAIN) \
	KIND(CHECK_PATTERN,    "check-pattern",    ALL,       PREPARE, 60,  PLAIN) \
	KIND(CUT_OUT,          "cut-out",          ALL,       PREPARE, 90,  PLAIN) \
	KIND(INSPECT_FRAME,    "inspect-frame",    ALL,       PREPARE, 45,  PLAIN) \
	KIND(INSPECT_STRING,   "inspect-string",   ALL,       PREPARE, 45,  SAYS(MAIN, FIELD(CARE), NONE)) \
	KIND(CUT,              "cut",              ALL,       PREPARE, 45, \
	     SAYS(MAINS, MEASURED, NONE) \
	     SAYS(CROSSES, MEASURED, NONE) \
	     SAYS(WHOLE, MEASURED, NONE)) \
	KIND(MOUNT,            "mount",            ALL,       MOUNT,   90,  PLAIN) \
	KIND(MOUNT_SIX,        "mount-six",        ALL,       MOUNT,   120, PLAIN) \
	KIND(LOCK,             "lock",             ALL,       MOUNT,   10,  PLAIN) \
	KIND(TURN,             "turn",             LEARNER,   CLAMP,   5, \
	     SAYS(MAIN, HOLED, NONE) \
	     SAYS(CROSS, HOLED, NONE)) \
	KIND(SET_TENSION,      "set-tension",      ALL,       TENSION, 10, \
	     SAYS(MAINS, TENSED | STRETCHED, FIELD(TENSION)) \
	     SAYS(CROSSES, TENSED | STRETCHED | FIELD(AS_SET), FIELD(TENSION)) \
	     SAYS(MAIN, TENSED | STRUNG | CHANGED, FIELD(TENSION) | FIELD(NUMBER) | SPAN) \
	     SAYS(CROSS, TENSED | ONE_CROSS | CHANGED, FIELD(TENSION) | ONE_CROSS | FIELD(THROUGH)) \
	     WHY(KNOT)) \
	KIND(FEED,             "feed",             LEARNER,   FEED,    10,  SAYS(MAIN, FED, ONE_MAIN)) \
	KIND(FEED_CENTRE,      "feed-centre",      ALL,       FEED,    20, \
	     SAYS(BRIDGE, FED, NONE) WHY(PLANNED) WHY(EITHER)) \
	KIND(FEED_SHORT,       "feed-short",       ALL,       FEED,    10, \
	     SAYS(MAIN, FED | FIELD(LENGTH), FIELD(SIDE))) \
	KIND(CLAMP_START,      "clamp-start",      ALL,       CLAMP,   10,  SAYS(MAIN, HOLED, FIELD(SIDE))) \
	KIND(CLAMP_OUTSIDE,    "clamp-outside",    ALL,       CLAMP,   10,  SAYS(MAIN, HOLED, FIELD(SIDE))) \
	KIND(CLAMP_SCRAP,      "clamp-scrap",      ALL,       CLAMP,   20,  SAYS(MAIN, HOLED, FIELD(SIDE))) \
	KIND(UNCLAMP_START,    "unclamp-start",    LEARNER,   CLAMP,   10,  SAYS(MAIN, HOLED, FIELD(SIDE))) \
	KIND(UNCLAMP_OUTSIDE,  "unclamp-outside",  LEARNER,   CLAMP,   10,  SAYS(MAIN, HOLED, FIELD(SIDE))) \
	KIND(PULL,             "pull",             LEARNER,   CLAMP,   10, \
	     EITHER(HOLED | PULL | FIELD(HEAD)) \
	     SAYS(CROSSES, HOLED | PULL | SEVERAL | FIELD(HEAD), SEVERAL) \
	     WHY(ALONE) WHY(HELD)) \
	KIND(CLAMP,            "clamp",            LEARNER,   CLAMP,   10, \
	     SAYS(MAIN, HOLED | FIELD(ACROSS), ONE_MAIN | FIELD(ACROSS)) \
	     SAYS(CROSS, HOLED | FIELD(ACROSS), ONE_CROSS | FIELD(ACROSS))) \
	KIND(UNCLAMP,          "unclamp",          LEARNER,   CLAMP,   10,  EITHER(HOLED)) \
	KIND(UNCLAMP_KNOT,     "unclamp-knot",     LEARNER,   KNOT,    10,  EITHER(HOLED)) \
	KIND(RELEASE,          "release",          LEARNER,   CLAMP,   10, \
	     SAYS(MAIN, STRUNG, NONE) \
	     SAYS(CROSS, STRUNG, NONE)) \
	KIND(CENTRE_MAIN,      "centre-main",      PRACTISED, CLAMP,   10,  SAYS(MAIN, HOLED | PULL, FIELD(SIDE))) \
	KIND(CENTRE_BEYOND,    "centre-beyond",    PRACTISED, CLAMP,   10,  SAYS(MAIN, HOLED | PULL, FIELD(SIDE))) \
	KIND(MAIN,             "main",             PRACTISED, FEED,    20,  SAYS(MAIN, FED | PULL, ONE_MAIN)) \
	KIND(CHECK_MOUNTS,     "check-mounts",     ALL,       MOUNT,   15,  PLAIN) \
	KIND(CHECK_MAINS,      "check-mains",      ALL,       FEED,    20, \
	     SAYS(MAIN, DELAYED | FIELD(SIDE), NONE)) \
	KIND(SET_CLAMPS,       "set-clamps",       ALL,       CLAMP,   20, \
	     SAYS(CROSSES, NONE, NONE) \
	     SAYS(MAINS, NONE, NONE)) \
	KIND(TAKE_UP,          "take-up",          ALL,       PREPARE, 15, \
	     SAYS(CROSSES, FIELD(STRING_NAME) | FIELD(CARE), NONE)) \
	KIND(TIE_OFF,          "tie-off",          ALL,       TIE_OFF, 40, \
	     SAYS(MAIN, TIED, ONE_MAIN | DOUBTED) \
	     SAYS(CROSS, TIED, DOUBTED)) \
	KIND(KNOT,             "knot",             LEARNER,   KNOT,    10, \
	     SAYS(MAIN, KNOTTED, NONE) \
	     SAYS(CROSS, KNOTTED, NONE)) \
	KIND(START_KNOT,       "start-knot",       ALL,       KNOT,    40, \
	     SAYS(CROSS, KNOTTED | FIELD(SUGGESTED), DOUBTED)) \
	KIND(WEAVE,            "weave",            LEARNER,   WEAVE,   30,  SAYS(CROSS, WOVEN, ONE_CROSS)) \
	KIND(WEAVE_LOOP,       "weave-loop",       ALL,       WEAVE,   30,  SAYS(CROSS, WOVEN, ONE_CROSS)) \
	KIND(DRAW,             "draw",             ALL,       WEAVE,   10,  SAYS(CROSS, HOLED, ONE_CROSS)) \
	KIND(CROSS,            "cross",            PRACTISED, WEAVE,   45,  SAYS(CROSS, WOVEN, ONE_CROSS)) \
	KIND(CROSS_BEHIND,     "cross-behind",     PRACTISED, BEHIND,  45, \
	     SAYS(CROSS, WOVEN | PULL | BEHIND, ONE_CROSS | BEHIND)) \
	KIND(CROSS_PULL,       "cross-pull",       PRACTISED, WEAVE,   45,  SAYS(CROSS, WOVEN | PULL, ONE_CROSS)) \
	KIND(PULL_CROSS,       "pull-cross",       PRACTISED, BEHIND,  10,  SAYS(CROSS, HOLED | PULL, ONE_CROSS)) \
	KIND(PULL_CROSSES,     "pull-crosses",     PRACTISED, BEHIND,  10, \
	     SAYS(CROSSES, HOLED | PULL | SEVERAL, SEVERAL)) \
	KIND(WEAVE_MAIN,       "weave-main",       LEARNER,   WEAVE,   30, \
	     SAYS(MAIN, LATE, ONE_MAIN | FIELD(MISSING))) \
	KIND(DRAW_MAIN,        "draw-main",        LEARNER,   WEAVE,   10,  SAYS(MAIN, HOLED, ONE_MAIN)) \
	KIND(LATE_MAIN,        "late-main",        PRACTISED, WEAVE,   45, \
	     SAYS(MAIN, LATE | PULL, ONE_MAIN | FIELD(MISSING))) \
	KIND(STRAIGHTEN_CROSS, "straighten-cross", LEARNER,   WEAVE,   10, \
	     SAYS(CROSS, ONE_CROSS | FIELD(EARLY), ONE_CROSS) \
	     SAYS(CROSSES, SEVERAL | FIELD(EARLY), SEVERAL)) \
	KIND(CHECK_WEAVE,      "check-weave",      ALL,       WEAVE,   20,  PLAIN) \
	KIND(DISMOUNT,         "dismount",         ALL,       FINISH,  40,  PLAIN) \
	KIND(CHECK_BED,        "check-bed",        ALL,       FINISH,  45,  PLAIN) \
	KIND(TRIM,             "trim",             ALL,       FINISH,  40,  PLAIN) \
	KIND(STRAIGHTEN,       "straighten",       ALL,       FINISH,  45,  PLAIN) \
	/* The way back. */ \
	KIND(HOLD,             "hold",             ALL,       CLAMP,   15,  EITHER(HOLED | FIELD(ACROSS))) \
	KIND(LET_DOWN,         "let-down",         ALL,       TENSION, 20,  EITHER(HOLED)) \
	KIND(TAKE_OUT,         "take-out",         ALL,       WEAVE,   20,  EITHER(STRUNG)) \
	KIND(TAKE_OUT_BEGUN,   "take-out-begun",   ALL,       WEAVE,   20,  EITHER(STRUNG)) \
	KIND(CLAMP_OFF,        "clamp-off",        ALL,       CLAMP,   10,  EITHER(HOLED)) \
	KIND(UNTIE,            "untie",            ALL,       KNOT,    30, \
	     SAYS(MAIN, HOLED, ONE_MAIN) \
	     SAYS(CROSS, HOLED, NONE)) \
	KIND(UNTIE_START,      "untie-start",      ALL,       KNOT,    30,  SAYS(CROSS, HOLED, NONE)) \
	KIND(PULL_AGAIN,       "pull-again",       PRACTISED, CLAMP,   30, \
	     EITHER(HOLED | PULL) \
	     SAYS(CROSSES, HOLED | PULL | SEVERAL, SEVERAL)) \
	KIND(CLEAN_CLAMP,      "clean-clamp",      LEARNER,   CLAMP,   20,  PLAIN) \
	KIND(WATCH_CLAMP,      "watch-clamp",      ALL,       CLAMP,   10,  PLAIN) \
	KIND(CUT_OUT_CROSSES,  "cut-out-crosses",  ALL,       PREPARE, 60,  PLAIN) \
	KIND(CUT_OUT_BED,      "cut-out-bed",      ALL,       PREPARE, 90,  PLAIN)
/* clang-format on */

enum call_kind {
#define KIND(id, ...) CALL_##id,
	CALL_KIND_LIST(KIND)
#undef KIND
		CALL_KINDS,
};

/* Moves that are said at once, from first to last; `subject` is the one whose values are said. All
 * three are indexes into the sequence's moves. */
struct call {
	enum call_kind kind;
	int first;
	int last;
	int subject;
	bool abandoned;     /* under work when a way back began: its moves do not count as done */
	enum loss lost;     /* what a string that broke then took with it */
	struct mishap redo; /* the string that was to come out then; number 0: none */
};

/* ---- The sequence ---- */

struct sequence {
	const struct pattern *pattern; /* neither is owned: they must outlive the sequence */
	const struct job *job;
	enum frame_end mains_start;
	enum frame_end mains_end; /* where the outermost mains finish */
	enum frame_end crosses_start;
	struct hole cross_hole[CROSSES_MAX + 1]; /* by number, from where the crosses start */
	struct route *route; /* one-piece: the way of the long side, which is the side where
				the weaving begins; else NULL */
	int parity;          /* cross c is over main m where (c + m) % 2 is that */
	struct hole tie_off[TIE_OFFS][2];    /* holes for the knots, by side */
	bool tie_off_suggested[TIE_OFFS][2]; /* the pattern names no hole there */
	double length_mm[2]; /* to cut, an estimate: of mains and crosses; in one-piece work of the
				short and the long side, cut as one; 0: not known */
	struct move *moves;  /* in the order of work */
	int move_count;
	struct call *calls; /* every move is in one */
	int call_count;
	int undone; /* strings that the last way back takes out; 0: there was none */
};

/* Works the job out. NULL if it cannot be done; faults says why, and may hold warnings in any case.
 */
struct sequence *sequence_compile(const struct job *job, const struct pattern *pattern,
				  struct faults *faults);
void sequence_free(struct sequence *sequence);

/* The end where the mains of a side finish before the crosses: one-piece work may have its two
 * sides at different ends. */
enum frame_end sequence_mains_end(const struct sequence *sequence, enum side side);

/* The phase of a call is that of its first move. */
enum phase call_phase(const struct sequence *sequence, int call);

/* The skill of its kind; but SKIP where the hole is not the obvious one, and WEAVE_START for the
 * first cross. */
enum skill call_skill(const struct sequence *sequence, int call);

/* The move that brings string through holes: its feed or its weave. NULL if it has none. */
const struct move *call_route(const struct sequence *sequence, const struct call *call);

/* What a plan says of the length that is cut, inspected or taken up. */
const struct string_length *move_length(const struct job *job, const struct move *move);

/* The cross woven last before the call, of those that are in the bed; or NULL. */
const struct move *call_woven_before(const struct sequence *sequence, const struct call *call);

/* Whether its route begins in a hole that a hand would not take without thinking: for a cross, not
 * the one beside the cross before, or one that has a main in it; for a main, not the one of its own
 * number at both ends. Only for calls with a route. */
bool call_hole_is_odd(const struct sequence *sequence, const struct call *call);

/* By their enums: the names in JSON, phrasebooks and messages. */
extern const char *const phase_names[PHASES], *const action_names[ACTIONS];
extern const char *const subject_names[SUBJECTS]; /* NULL for none */
extern const char *const clamp_kind_names[CLAMP_KINDS], *const skill_names[SKILLS];
extern const char *const travel_names[]; /* "left-to-right", "throat-to-head" ... */
const char *call_kind_name(enum call_kind kind);
int call_kind_seconds(enum call_kind kind);

/* ---- The way back ---- */

/* The way back: a whole new sequence, whose calls 0 to `call` are those of `before`. The next ones
 * undo what has to come out, and the rest of the job follows from there. `call` is the one under
 * work: it is not done, so its moves come again later where they are still needed. `before` may
 * itself be such a sequence. NULL where there is no way back; faults says what to do instead. */
struct sequence *sequence_go_back(const struct sequence *before, int call,
				  const struct mishap *mishap, struct faults *faults);

/* Strings of a bed: bit n is main n of a side, counted from the centre, or cross n. */
struct strings {
	uint64_t mains[2]; /* by side */
	uint64_t crosses;
};

struct bed_strings {
	struct strings in;        /* mains fed, crosses woven */
	struct strings tensioned; /* of these */
	struct strings redo;      /* of these: what a redo would take out */
};

/* The bed as it stands before each call, and after the last one: call_count + 1 of them, for the
 * caller to free. It knows the ways back: what was let down or taken out is so, the moves of a call
 * that was given up do not count, and of a string that broke nothing is left, nor of what is cut
 * out with it. */
struct bed_strings *sequence_bed_strings(const struct sequence *sequence);

/* ---- One-piece routes: the way of the long side's string once its early mains are in ----
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
 * first. The best route has the fewest breaks; then no cross left for last by itself, or one at the
 * edge of the bed; then the least run outside, then the least string.
 */

struct route {
	bool delayed; /* the long side's outermost main is one of the steps; else straight on */
	int count;
	int steps[CROSSES_MAX + 1]; /* cross numbers in the order they are woven; 0: delayed main */
	enum frame_end main_from;   /* where the delayed main is entered */
	int breaks;
	int leftover;      /* how bad it is that the last cross is woven by itself; 0: it is not */
	int outside;       /* hole positions run outside the frame, in all */
	double outside_mm; /* the same as string; 0 if the frame is not measured */
};

struct routes {
	struct route items[ROUTE_NUMBER_MAX]; /* the best first, of those with the fewest breaks */
	int count;
	int taken;     /* the one that the plan takes, from 1; 0: none, it must name one */
	bool more;     /* there are others with as few breaks */
	bool given_up; /* the search was stopped early: there may be better ones */
};

/* All routes that a one-piece job may take, the best first; the job takes the one that its plan
 * names. False with a fault if there is none, or if the job is not a one-piece job. */
bool sequence_routes(const struct job *job, const struct pattern *pattern, struct routes *out,
		     struct faults *faults);

/* ---- A job plan with its pattern and the sequence compiled from them ---- */

struct plan {
	struct job *job;
	struct pattern *pattern;
	struct sequence *sequence;
};

/* From the text of a job plan; `file` is what messages call it. Its pattern is looked for as usual
 * (job/job.h), or is a text too: as it was when a journal was written. False if it cannot be done;
 * faults says why, and *out holds what could be made all the same. plan_free in any case. */
bool plan_read(struct plan *out, const char *file, const char *text, const char *pattern_text,
	       const struct machine *machine, struct faults *faults);
void plan_free(struct plan *plan);

#endif
