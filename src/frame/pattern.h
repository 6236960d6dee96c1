/* A frame's string pattern: what its file says, and the hole map computed from it.
 *
 * The rules are those of the trade (common practice, no published source), as the manual page
 * pullcall-pattern(5) gives them:
 *   - main k (from the centre) uses the k-th hole at the head and the k-th at the throat that are
 * neither skipped by the mains nor unused; both sides alike;
 *   - crosses, from the head to the throat, take in that order every hole that is not a main's and
 * not unused, plus the shared ones; both sides alike;
 *   - a hole takes two strings at most, a tie-off counting as one.
 */
#ifndef FRAME_PATTERN_H
#define FRAME_PATTERN_H

#include "base/fault.h"
#include "base/quantity.h"
#include "frame/hole.h"

#include <stdbool.h>

enum { MAINS_MAX = 40, CROSSES_MAX = 60 };

enum sport { SPORT_TENNIS, SPORT_BADMINTON, SPORT_SQUASH, SPORT_RACQUETBALL };

/* The knots that end a string on one already there. */
enum tie_off { TIE_OFF_MAINS, TIE_OFF_CROSS_START, TIE_OFF_CROSS_END, TIE_OFFS };

/* The inside of the hoop, for lengths and pictures; 0 where the file does not say. */
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
	int bridge; /* throat holes in the bridge, both sides together; 0: the hoop has no bridge */
	struct hole_set mains_skip;
	struct hole_set shared;
	struct hole_set unused;
	struct hole tie_off[TIE_OFFS][2]; /* by side; number 0: the file leaves it open */
	enum frame_end crosses_start;
	struct head head;
	/* Between neighbours; all 0 if not given. [0]: between the two centre mains, [k]: between
	 * mains k and k + 1 of a side; [c]: between crosses c and c + 1. */
	double main_gap_mm[MAINS_MAX / 2 + 1];
	double cross_gap_mm[CROSSES_MAX + 1];
	bool has_range;
	struct quantity tension_min; /* the maker's range, if has_range */
	struct quantity tension_max;

	/* The hole map, the same on both sides. */
	int main_hole[2][MAINS_MAX / 2 + 1];     /* by end and main, from 1: a hole number */
	struct hole cross_hole[CROSSES_MAX + 1]; /* by cross, from 1 at the head */
};

/* Reads a pattern file ("-": standard input). NULL if it is at fault; faults says why, and may hold
 * warnings in any case. */
struct pattern *pattern_read(const char *path, struct faults *faults);
struct pattern *pattern_read_text(const char *file, const char *text, struct faults *faults);
void pattern_free(struct pattern *pattern);

/* Mains a side. */
int pattern_half(const struct pattern *pattern);

/* The strings (mains and crosses) that go through a hole, on either side: 0 to 2. */
int pattern_strings_in(const struct pattern *pattern, struct hole hole);

/* The main whose hole this is, from 1, or 0. The cross likewise, counted from the head. */
int pattern_main_at(const struct pattern *pattern, struct hole hole);
int pattern_cross_at(const struct pattern *pattern, struct hole hole);

/* The holes of one side from the middle of the head round to the middle of the throat, used or not:
 * how many, the one at a place from 0, and the place of one. */
int pattern_places(const struct pattern *pattern);
struct hole pattern_hole_at(const struct pattern *pattern, int place);
int pattern_place_of(const struct pattern *pattern, struct hole hole);

/* Whether a cross in this hole meets main k of each side. It passes by a main whose hole at that
 * end lies beyond its own, or is its own: that main comes out of the frame farther along. Follows
 * from the order of the holes alone. */
bool pattern_meets(const struct pattern *pattern, struct hole cross, int main);

/* The end where the mains start so that no loop at the throat spans the gap where the bridge ends:
 * with b mains a side whose throat hole is in the bridge, the throat if b is odd, else the head. */
enum frame_end pattern_mains_start(const struct pattern *pattern);

/* The main k whose loop to main k + 1 would span that gap if the mains started at `start`, or 0. */
int pattern_loop_over_gap(const struct pattern *pattern, enum frame_end start);

/* The end where main k finishes if the mains start at `start`; where it begins is the other. */
enum frame_end pattern_main_end(enum frame_end start, int main);

const char *sport_name(enum sport sport);

#endif
