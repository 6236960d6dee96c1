/* The bed's state, and what the files of the checker share. */
#ifndef TESTS_SEQUENCE_BED_STATE_H
#define TESTS_SEQUENCE_BED_STATE_H

#include "sequence/bed.h"

enum { CLAMPS = 3, PASSES_MAX = MAINS_MAX + CROSSES_MAX };

/* A working end of string: the two of the mains, and the one of the crosses' own length. */
enum working_end { END_OF_LEFT, END_OF_RIGHT, END_OF_CROSSES, WORKING_ENDS, NOWHERE };

enum slack { WOVEN_WITH_LOOP, THROUGH, TENSIONED };

/* One string of the bed: the way of a working end through two holes. */
struct pass {
	enum string_kind kind;
	int number;
	enum slack slack;
	enum side exit_side;
	struct hole entry;
	struct hole exit;
};

struct strand {
	struct pass passes[PASSES_MAX];
	int count;
	int tensioned; /* so many of them, from the first */
	bool start_knot;
	bool through_anchor; /* led through the hole of its last knot */
	struct hole anchor;
	struct hole start_anchor;
	bool tied;
};

struct grip {
	enum working_end on; /* NOWHERE: free */
	int pass;
	enum clamp_kind with;
	int across;      /* a flying clamp's other string */
	bool first_hold; /* on a string without tension of its own, for the first pull */
	struct hole hole;
};

/* A hole for a knot that the pattern does not name, and where the string is. */
struct suggestion {
	enum side side;
	struct hole near;
	struct hole hole;
	bool of_mains;
};

struct strung_bed {
	const struct sequence *sequence;
	const struct racket *racket;
	int at; /* the move under way */
	char *fault;
	struct strand strands[WORKING_ENDS];
	struct grip clamps[CLAMPS];
	struct grip head;           /* the tension head */
	bool set;                   /* the machine, to: */
	const struct move *setting; /* the move that set it, until the first pull after it */
	double newton;
	enum unit unit;
	double prestretch;
	int strings[2][2][HOLES_MAX + 1];         /* in a hole: by side, end and number */
	int over[CROSSES_MAX + 1][MAINS_MAX + 1]; /* by place from the head, main from the left */
	int woven;                                /* crosses */
	bool pulled_up; /* nothing is left behind the weaving, before a break */
	int first_end;  /* where the mains were begun */
	struct suggestion suggestions[4];
	int suggestion_count;
	const struct move *last_pull;
	const struct move *facing;       /* the pull or turn that faces the tension head */
	const struct move *straightened; /* since the last pull */
	bool turned;                     /* since the last pull */
	int gave_up;      /* the last call that was given up for a way back, from 1 */
	int gave_up_last; /* the call that was given up last so far */
	bool way_back;    /* there is one: strings come out again */
	bool anew;        /* a string broke, and the crosses or all strings begin anew */
	int mains_checks;
	int mounts_checks;
	int clamps_set;
	bool bars_across; /* glide bars lie as the crosses need it */
	int strings_taken_up;
	int last_check;   /* crosses woven when the weave was looked at last */
	bool crosses_set; /* the machine, for the crosses */
	bool crosses_set_before;
	int preparations;
	int finishes;
};

/* `over` */
enum { NOT_CROSSED, CROSS_OVER, CROSS_UNDER };

/* Keeps the first fault only: what follows from it is of no interest. */
void wrong(struct strung_bed *bed, const char *format, ...) __attribute__((format(printf, 2, 3)));

const struct move *this_move(const struct strung_bed *bed);

/* The cross, counted from the head, whose hole this is, or 0; and the one that a number means. */
int cross_place(const struct strung_bed *bed, struct hole hole);
int cross_of_number(const struct strung_bed *bed, int number);

/* A hole's place on its side, from the middle of the head round to the middle of the throat. */
int hole_place(const struct strung_bed *bed, struct hole hole);

/* Main k of a side, counted from the left. */
int main_from_left(const struct strung_bed *bed, enum side side, int main);

enum working_end end_of_crosses(const struct strung_bed *bed);
enum working_end end_of(const struct strung_bed *bed, const struct move *move);

/* The index of a pass, or -1. */
int find_pass(const struct strand *strand, enum string_kind kind, int number);

/* The pass that this move is about, and where it is; NULL with a fault if it is not there. */
struct pass *pass_of(struct strung_bed *bed, enum working_end *on, int *index);

bool grips(const struct grip *grip, enum working_end on, int pass);
struct grip *clamp_on(struct strung_bed *bed, enum working_end on, int pass, bool first_hold);
bool is_clamped(const struct strung_bed *bed, enum working_end on, int pass);

/* Counts a string in a hole. */
void put_string(struct strung_bed *bed, enum side side, struct hole hole);

/* Each follows this move. */
void follow_feed(struct strung_bed *bed);
void follow_weave(struct strung_bed *bed);
void follow_draw(struct strung_bed *bed);
void follow_set_tension(struct strung_bed *bed);
void follow_pull(struct strung_bed *bed);
void follow_clamp(struct strung_bed *bed);
void follow_release(struct strung_bed *bed);
void follow_tie_off(struct strung_bed *bed);
void follow_knot(struct strung_bed *bed);

/* The way back: strings are let down, come out, are untied or cut out. */
void follow_let_down(struct strung_bed *bed);
void follow_take_out(struct strung_bed *bed);
void follow_untie(struct strung_bed *bed);
void follow_cut_out(struct strung_bed *bed);

/* After a call that was given up: loses the tension of what broke, if the next thing to do is to
 * cut it out. */
void look_for_break(struct strung_bed *bed, int move);

/* Looks, turns of the frame and what else leaves the strings as they are, between preparation and
 * finish. */
void follow_look(struct strung_bed *bed);

/* What has to be looked at or done before the move under way. */
void check_looks_before(struct strung_bed *bed);
void check_looks_at_end(struct strung_bed *bed);

/* Whether all of its strings are tensioned and it is not tied off. */
bool is_ready_for_knot(const struct strung_bed *bed, enum working_end on);

/* Two strings cross if the holes of the one lie on either side of the hole of the other. */
bool they_cross(const struct strung_bed *bed, struct hole cross, int main);

#endif
