/* The string bed as a job leaves it: read from the moves of its sequence, from the first up to a
 * call. The pattern is not asked again, so what is seen in a picture is what is called out. */
#ifndef DRAW_STRINGING_H
#define DRAW_STRINGING_H

#include "sequence/sequence.h"

/* One hole of the frame. */
struct place {
	struct hole hole;
	enum side side;
};

struct strand {
	enum string_kind kind;
	int number;
	enum side side; /* main: its side; cross: where it goes in */
	int column;     /* main: counted from the left, from 1 */
	struct place from;
	struct place to;
	struct weave weave;     /* cross */
	struct mains_met mains; /* cross: the columns that it was woven through */
	int pull;               /* the pull that tensions it, from 1; 0: none so far */
	bool next;              /* what the call is about */
};

/* String that runs outside the frame from one hole to another. */
enum run_kind { RUN_LOOP, RUN_KNOT };

struct run {
	enum run_kind kind;
	enum string_kind string;
	struct place from;
	struct place to;
	bool next;
};

struct knot {
	struct place place;
	enum string_kind string;
	bool start;     /* a starting knot, else a tie-off */
	bool suggested; /* the pattern names no hole for it */
	bool next;
};

struct pull {
	enum string_kind string;
	struct place place; /* where the string leaves the frame for the tension head */
	int first;          /* the strings tensioned by it */
	int last;
	bool next;
};

struct clamp {
	enum string_kind string;
	int number;
	enum side side;
	bool start;
	struct place place;
};

enum {
	STRANDS_MAX = MAINS_MAX + CROSSES_MAX,
	RUNS_MAX = STRANDS_MAX + 8,
	KNOTS_MAX = 8,
	CLAMPS_MAX = 8,
};

struct stringing {
	const struct sequence *sequence;
	int call; /* the bed stands as it does when this call is made, from 1; 0: the job is done */
	struct strand strands[STRANDS_MAX];
	int strand_count;
	struct run runs[RUNS_MAX];
	int run_count;
	struct knot knots[KNOTS_MAX];
	int knot_count;
	struct pull pulls[STRANDS_MAX]; /* pull n is pulls[n - 1] */
	int pull_count;
	struct clamp clamps[CLAMPS_MAX]; /* those that hold; none once the job is done */
	int clamp_count;

	/* Under way: where the string was last fed through, of the mains by side and of the
	 * crosses. */
	struct place tip[3];
	bool tip_known[3];
};

void stringing_read(const struct sequence *sequence, int call, struct stringing *out);

/* Whether a strand is under tension; one that the call will pull is not yet. */
bool strand_is_pulled(const struct stringing *stringing, const struct strand *strand);

/* Whether a cross passes over the main of that column. */
bool strand_is_over(const struct strand *cross, const struct strand *main);

#endif
