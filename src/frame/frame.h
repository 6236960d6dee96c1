/* The frame: its holes, its string pattern, and where every string stands in it.
 *
 *   1. Holes                as stringers number them
 *   2. The pattern          what a pattern file says, and the hole map that follows from it
 *   3. The hoop             a superellipse
 *   4. The bed              every string and hole in its place: one geometry for lengths and
 *                           pictures
 *   5. String lengths
 *
 * Trade rules here are common practice with no published source, as pullcall-pattern(5) gives them.
 */
#ifndef FRAME_FRAME_H
#define FRAME_FRAME_H

#include "base/base.h"

/* ---- Holes ----
 *
 * A hole (grommet) is numbered outward from the centre line on each side: 1H is the hole beside the
 * centre at the head, 1T likewise at the throat. A label names the pair; with a side it names one
 * hole. */

enum frame_end { END_HEAD, END_THROAT };

/* As seen on the face of the frame with the head pointing away from you. */
enum side { SIDE_LEFT, SIDE_RIGHT };

struct hole {
	enum frame_end end;
	int number; /* from 1; 0: no hole */
};

enum { HOLES_MAX = 40, HOLE_TEXT_MAX = 16 };

struct hole_set {
	uint64_t bits[2]; /* by end; bit n is hole n */
};

static inline enum frame_end other_end(enum frame_end end)
{
	return end == END_HEAD ? END_THROAT : END_HEAD;
}

static inline enum side other_side(enum side side)
{
	return side == SIDE_LEFT ? SIDE_RIGHT : SIDE_LEFT;
}

static inline bool hole_same(struct hole a, struct hole b)
{
	return a.end == b.end && a.number == b.number;
}

/* "7H"; "-" for no hole. Returns buffer. */
const char *hole_text(struct hole hole, char buffer[static HOLE_TEXT_MAX]);

/* "7H 9H 11H-18H 17T-11T": neighbours at one end are written as a range. The caller frees it. */
char *hole_list(const struct hole *holes, int count);

bool hole_in(const struct hole_set *set, struct hole hole);

extern const char *const end_names[];  /* "head", "throat"; like all of these, ended by NULL */
extern const char *const side_names[]; /* "left", "right" */

/* ---- The pattern ----
 *
 * Main k (from the centre) uses the k-th hole at the head and the k-th at the throat that the mains
 * do not skip and that is not unused. Crosses, from the head to the throat, take every other hole
 * that is not unused, and the shared ones. Both sides are alike. A hole takes two strings at most,
 * a tie-off counting as one. */

enum { MAINS_MAX = 40, CROSSES_MAX = 60 };

enum sport { SPORT_TENNIS, SPORT_BADMINTON, SPORT_SQUASH, SPORT_RACQUETBALL };

/* Which strings: also the two lengths of a two-piece job. */
enum string_kind { STRING_MAIN, STRING_CROSS };

/* The knots that tie a string to one already there. */
enum tie_off { TIE_OFF_MAINS, TIE_OFF_CROSS_START, TIE_OFF_CROSS_END, TIE_OFFS };

/* A tie-off over more holes than this outside the frame is suspect (common practice). */
enum { TIE_OFF_HOLES_USUAL = 3 };

/* The inside of the hoop; 0 where the file does not say. */
struct head {
	double length_mm;
	double width_mm;
	double area_mm2;
	double beam_mm; /* frame thickness in the plane of the strings; never 0 */
};

struct pattern {
	char *file; /* where it was read from */
	char *text; /* the file as it was, for the journal */
	char *name;
	char *title; /* never NULL: the name where the file gives none */
	enum sport sport;
	int mains;
	int crosses;
	int holes[2]; /* by end, per side */
	int bridge;   /* throat holes in the bridge, both sides together; 0: no bridge */
	struct hole_set mains_skip;
	struct hole_set shared;
	struct hole_set unused;
	struct hole tie_off[TIE_OFFS][2]; /* by side; number 0: the file leaves it open */
	enum frame_end crosses_start;
	struct head head;
	/* `spacing`, between neighbours; all 0 if not given. Mains: [0] is between the two centre
	 * mains, [k] between mains k and k + 1 of a side. Crosses: [c] is between crosses c and
	 * c + 1. */
	double main_gap_mm[MAINS_MAX / 2 + 1];
	double cross_gap_mm[CROSSES_MAX + 1];
	bool has_range;
	struct quantity tension_min; /* the maker's range, if has_range */
	struct quantity tension_max;

	/* The hole map, the same on both sides. */
	int main_hole[2][MAINS_MAX / 2 + 1];     /* by end and main, from 1: a hole number */
	struct hole cross_hole[CROSSES_MAX + 1]; /* by cross, from 1 at the head */
};

/* Takes the document, as yaml_read returns it. NULL if that is NULL or at fault: its faults say
 * why, and may hold warnings in any case. */
struct pattern *pattern_read(struct yaml_document *document);
void pattern_free(struct pattern *pattern);

/* Mains a side. */
int pattern_half(const struct pattern *pattern);

/* The hole of main k of each side. */
static inline struct hole pattern_main_hole(const struct pattern *pattern, enum frame_end end,
					    int main)
{
	return (struct hole){end, pattern->main_hole[end][main]};
}

/* The strings (mains and crosses) that go through a hole, on either side: 0 to 2. */
int pattern_strings_in(const struct pattern *pattern, struct hole hole);

/* The main whose hole this is, from 1, or 0. The cross likewise, counted from the head. */
int pattern_main_at(const struct pattern *pattern, struct hole hole);
int pattern_cross_at(const struct pattern *pattern, struct hole hole);

/* The holes of one side in a row, from the middle of the head (0) round to the middle of the
 * throat, used or not. */
int pattern_hole_count(const struct pattern *pattern);
struct hole pattern_hole_at(const struct pattern *pattern, int index);
int pattern_hole_index(const struct pattern *pattern, struct hole hole);

/* Whether a cross in this hole meets main k of each side: the main's two holes lie on either side
 * of the cross's on the way round the hoop. */
bool pattern_meets(const struct pattern *pattern, struct hole cross, int main);

/* The usual end to start the mains, so that no loop at the throat spans the gap where the bridge
 * ends: with b mains a side whose throat hole is in the bridge, the throat if b is odd, else the
 * head. */
enum frame_end pattern_mains_start(const struct pattern *pattern);

/* The main k whose loop to main k + 1 would span that gap if the mains started at `start`, or 0. */
int pattern_loop_over_gap(const struct pattern *pattern, enum frame_end start);

/* The end where main k finishes if the mains start at `start`; where it begins is the other. */
enum frame_end pattern_main_end(enum frame_end start, int main);

extern const char *const sport_names[];  /* "tennis", "badminton" ... */
extern const char *const string_names[]; /* "main", "cross" */

/* From memory: no racket is strung outside these tensions, whatever its maker says, so a number
 * outside them is a slip of the pen. */
#define TENSION_LEAST_NEWTON 20.0
#define TENSION_MOST_NEWTON  500.0

/* In a row of a table (base/base.h): a quantity that is a plausible tension. */
#define TENSION_RANGE                                                                              \
	.dimension = DIMENSION_TENSION, .least = TENSION_LEAST_NEWTON, .most = TENSION_MOST_NEWTON

/* ---- The hoop ----
 *
 * Its inside is |x/a|^n + |y/b|^n = 1: x across the frame and y along it, the middle of the head at
 * 0, its far end at y = b. n = 2 is an ellipse, more is squarer; it is solved from the strung area,
 * 4 a b Gamma(1 + 1/n)^2 / Gamma(1 + 2/n) (MathWorld, "Superellipse"). A real hoop is not quite
 * such a figure: all that follows is an estimate. */

struct hoop {
	double a_mm; /* half the width inside */
	double b_mm; /* half the length inside */
	double n;
};

struct point {
	double x_mm;
	double y_mm;
};

/* The hoop of that length, width and area; area 0: an ellipse. False if there is none: the area has
 * to lie between half the rectangle round it (a diamond, n = 1) and the whole of it. */
bool hoop_fit(double length_mm, double width_mm, double area_mm2, struct hoop *out);
double hoop_area_mm2(const struct hoop *hoop);

/* Half the inside length at x, half the inside width at y; 0 outside the hoop. */
double hoop_half_length_mm(const struct hoop *hoop, double x_mm);
double hoop_half_width_mm(const struct hoop *hoop, double y_mm);

/* The right half of the inner edge, in pieces of equal angles; true to a thousandth of a mm. */
enum { RIM_PIECES = 1024 };

struct rim {
	struct hoop hoop;
	double along_mm[RIM_PIECES + 1]; /* from the middle of the head to where each begins */
};

void rim_of_hoop(const struct hoop *hoop, struct rim *out);

/* From the middle of the head to the middle of the throat. */
double rim_half_mm(const struct rim *rim);

/* The point that far along, clockwise as seen on the face; any number goes round as often as it
 * must. */
struct point rim_point(const struct rim *rim, double along_mm);

/* ---- The bed ----
 *
 * Mains stand at their spacing and give their holes. Crosses stand where their holes are: the holes
 * between two main holes lie evenly between them on the hoop, and the crosses of the side holes are
 * spread evenly over what is left. */

/* Where the outermost main stands if the pattern gives no spacing, as a share of a. From memory:
 * plausible for a racket, no source. */
#define OUTERMOST_MAIN_SHARE 0.79

struct bed {
	struct rim rim;
	double beam_mm;
	int half; /* mains a side */
	int crosses;
	double main_x_mm[MAINS_MAX / 2 + 1]; /* by main from 1: distance from the centre line */
	double cross_y_mm[CROSSES_MAX + 1];  /* by cross from 1 at the head: falling */
	double hole_mm[2][HOLES_MAX + 1];    /* by end and number: along the rim */
	int misplaced; /* the first cross that `spacing` would put beside its hole, which is then
			  not followed; 0: none */
};

/* The bed of a pattern. False if the pattern does not give length and width of the head. */
bool bed_of_pattern(const struct pattern *pattern, struct bed *out);

/* The inside length of the hoop where a string is. */
double bed_main_mm(const struct bed *bed, int main);
double bed_cross_mm(const struct bed *bed, int cross);

/* Between neighbours: mains k and k + 1 of one side (k = 0: the two centre mains), crosses c and
 * c + 1. */
double bed_main_gap_mm(const struct bed *bed, int main);
double bed_cross_gap_mm(const struct bed *bed, int cross);

/* ---- String lengths ----
 *
 * A string is as long as the hoop inside where it stands, and passes the frame twice; between
 * neighbours it runs outside the frame. To that come the ends that the machine grips, the knots and
 * a margin. An estimate, to be printed and spoken as one: prestretching, the sag of a loose bed and
 * a real hoop's shape are not in it. */

/* What is added to the bed itself; reach and margin are the user's to choose in the bench file. */
struct length_allowance {
	double reach_mm;  /* an end: string the machine needs beyond the frame to grip */
	double knot_mm;   /* a knot */
	double weave;     /* going over and under makes a cross longer by this share */
	double margin_mm; /* a cut length */
};

/* With a knot and a weave from memory, plausible values without a source. */
#define LENGTH_ALLOWANCE(reach, margin) ((struct length_allowance){reach, 100, 0.01, margin})

/* Two-piece: the mains have two ends and two knots; the crosses begin in a knot and so have one end
 * and two knots. */
double length_of_mains_mm(const struct bed *bed, const struct length_allowance *allowance);
double length_of_crosses_mm(const struct bed *bed, const struct length_allowance *allowance);

/* One-piece. The short side strings one half of the mains and has one end and one knot; the margin
 * is the long side's. */
double length_of_short_side_mm(const struct bed *bed, const struct length_allowance *allowance);

/* The long side strings the other half, of which `in_a_row` mains outward from the centre, and then
 * whatever is left and every cross along a route; `outside_mm` is what the route runs outside the
 * frame from the last of those mains on. */
double length_of_long_side_mm(const struct bed *bed, const struct length_allowance *allowance,
			      int in_a_row, double outside_mm);

/* Outside the frame from the hole where the string leaves to the one on the same side where it
 * enters: the spacing between neighbouring crosses or mains, along the hoop otherwise. */
double length_outside_mm(const struct bed *bed, const struct pattern *pattern, struct hole from,
			 struct hole to);

#endif
