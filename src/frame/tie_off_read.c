/* The knots of a pattern: each must find its anchor there already, and room in the hole. */
#include "frame/internal.h"

#include <stdlib.h>

static const char *const tie_off_keys[] = {
	[TIE_OFF_MAINS] = "mains",
	[TIE_OFF_CROSS_START] = "cross_start",
	[TIE_OFF_CROSS_END] = "cross_end",
	[TIE_OFFS] = NULL,
};

void pattern_read_tie_offs(const struct yaml_node *map, void *out)
{
	struct pattern *pattern = out;

	if (!yaml_is_map(map, tie_off_keys))
		return;
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++) {
		const struct yaml_node *node = yaml_get(map, tie_off_keys[tie_off]);
		struct hole *holes = pattern->tie_off[tie_off];
		/* `8T`, or a map where the sides differ. */
		if (!node || node->kind != YAML_MAP) {
			if (pattern_read_hole(node, pattern, &holes[SIDE_LEFT]))
				holes[SIDE_RIGHT] = holes[SIDE_LEFT];
		} else if (yaml_is_map(node, side_names)) {
			for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
				pattern_read_hole(yaml_get(node, side_names[side]), pattern,
						  &holes[side]);
		}
	}
}

static const struct yaml_node *tie_off_node(const struct yaml_node *root, enum tie_off tie_off,
					    enum side side)
{
	const struct yaml_node *node = yaml_get(yaml_get(root, "tie_off"), tie_off_keys[tie_off]);

	return node && node->kind == YAML_MAP ? yaml_get(node, side_names[side]) : node;
}

/* The hole where the string that this knot ends comes out, or where it goes in. */
static struct hole own_hole(const struct pattern *pattern, enum tie_off tie_off)
{
	bool from_head = pattern->crosses_start == END_HEAD;

	if (tie_off == TIE_OFF_MAINS) {
		int half = pattern_half(pattern);
		enum frame_end end = pattern_main_end(pattern_mains_start(pattern), half);
		return pattern_main_hole(pattern, end, half);
	}
	if (tie_off == TIE_OFF_CROSS_END)
		from_head = !from_head;
	return pattern->cross_hole[from_head ? 1 : pattern->crosses];
}

/* The anchor has to be there when the knot is tied: for the mains and for the start of the crosses
 * that is a main. */
static bool check_anchor(const struct yaml_node *node, const struct pattern *pattern,
			 enum tie_off tie_off, struct hole hole)
{
	char label[HOLE_TEXT_MAX];
	bool main = pattern_main_at(pattern, hole) != 0;
	bool cross = pattern_cross_at(pattern, hole) != 0;

	hole_text(hole, label);
	if (!main && !cross)
		yaml_fault(node, "tie-off-empty",
			   "no string goes through %s: nothing to tie to there", label);
	else if (main && cross)
		yaml_fault(node, "hole-three",
			   "%s holds a main and a cross already: a hole takes two strings at most",
			   label);
	else if (!main && tie_off != TIE_OFF_CROSS_END)
		yaml_fault(
			node, "tie-off-early",
			"only a cross goes through %s, and it is not there yet: tie off on a main",
			label);
	else if (hole_same(hole, own_hole(pattern, tie_off)))
		yaml_fault(node, "tie-off-own",
			   "the string that ends here comes out of %s itself: tie it to another",
			   label);
	else
		return true;
	return false;
}

/* A hole takes two strings at most, so two tie-offs on one side cannot share one. */
static bool check_rivals(const struct yaml_node *node, const struct pattern *pattern,
			 enum tie_off tie_off, enum side side)
{
	struct hole hole = pattern->tie_off[tie_off][side];
	char label[HOLE_TEXT_MAX];

	for (enum tie_off other = 0; other < tie_off; other++) {
		if (!hole_same(hole, pattern->tie_off[other][side]))
			continue;
		/* An odd number of crosses ends on the side where it did not start. */
		if (other == TIE_OFF_CROSS_START && pattern->crosses % 2)
			continue;
		yaml_fault(node, "hole-three",
			   "%s %s takes the knots of %s and %s beside its string: a hole takes two "
			   "strings at most",
			   hole_text(hole, label), side_names[side], tie_off_keys[other],
			   tie_off_keys[tie_off]);
		return false;
	}
	return true;
}

/* Warnings, because a job may begin the mains at the other end. */
static bool check_end(const struct yaml_node *node, const struct pattern *pattern,
		      enum tie_off tie_off, struct hole hole)
{
	static const char *const what[] = {
		[TIE_OFF_MAINS] = "the mains of this frame end",
		[TIE_OFF_CROSS_START] = "the crosses of this frame begin",
		[TIE_OFF_CROSS_END] = "the crosses of this frame end",
	};
	struct hole own = own_hole(pattern, tie_off);
	int away = abs(hole.number - own.number);
	char label[HOLE_TEXT_MAX];

	if (hole.end != own.end)
		yaml_warn(node, "tie-off-end", "%s at the %s, not near %s", what[tie_off],
			  end_names[own.end], hole_text(hole, label));
	else if (away > TIE_OFF_HOLES_USUAL)
		yaml_warn(
			node, "tie-off-far",
			"a tie-off %d holes away: more than %d is suspect, look for a nearer hole",
			away, TIE_OFF_HOLES_USUAL);
	else
		return true;
	return false;
}

/* False if there was something to say. */
static bool check_tie_off(const struct yaml_node *root, const struct pattern *pattern,
			  enum tie_off tie_off, enum side side)
{
	const struct yaml_node *node = tie_off_node(root, tie_off, side);
	struct hole hole = pattern->tie_off[tie_off][side];

	if (hole.number == 0)
		return true;
	return check_anchor(node, pattern, tie_off, hole) &&
	       check_rivals(node, pattern, tie_off, side) &&
	       check_end(node, pattern, tie_off, hole);
}

void pattern_check_tie_offs(const struct yaml_node *root, const struct pattern *pattern)
{
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++) {
		bool once = tie_off_node(root, tie_off, SIDE_LEFT) ==
			    tie_off_node(root, tie_off, SIDE_RIGHT);
		/* Written once for both sides: what is wrong is said once. */
		if (check_tie_off(root, pattern, tie_off, SIDE_LEFT) || !once)
			check_tie_off(root, pattern, tie_off, SIDE_RIGHT);
	}
}
