/* The hole map: which hole each string takes, worked out from the counts and the lists of holes. */
#include "frame/internal.h"

#include <stdlib.h>

static void place_mains(const struct yaml_node *root, struct pattern *pattern, enum frame_end end)
{
	int main = 0;
	int half = pattern_half(pattern);

	for (int number = 1; number <= pattern->holes[end] && main < half; number++) {
		struct hole hole = {end, number};
		if (!hole_in(&pattern->mains_skip, hole) && !hole_in(&pattern->unused, hole))
			pattern->main_hole[end][++main] = number;
	}
	if (main < half)
		yaml_fault_key(
			yaml_get(root, "mains"), "mains-count",
			"%d mains need %d holes a side at the %s, but only %d of its %d holes "
			"are left for mains",
			pattern->mains, half, end_name(end), main, pattern->holes[end]);
}

static bool takes_cross(const struct pattern *pattern, struct hole hole)
{
	if (hole_in(&pattern->unused, hole))
		return false;
	return pattern_main_at(pattern, hole) == 0 || hole_in(&pattern->shared, hole);
}

static void place_crosses(const struct yaml_node *root, struct pattern *pattern)
{
	struct hole found[2 * HOLES_MAX];
	int count = 0;

	for (int place = 0; place < pattern_places(pattern); place++) {
		struct hole hole = pattern_hole_at(pattern, place);
		if (takes_cross(pattern, hole))
			found[count++] = hole;
	}
	for (int c = 1; c <= pattern->crosses && c <= count; c++)
		pattern->cross_hole[c] = found[c - 1];
	if (count != pattern->crosses) {
		char *list = hole_list(found, count);
		yaml_fault_key(yaml_get(root, "crosses"), "crosses-count",
			       "%d crosses, but %d holes a side are left for crosses: %s",
			       pattern->crosses, count, count ? list : "none");
		free(list);
	}
}

static void check_shared(const struct yaml_node *root, const struct pattern *pattern)
{
	const struct yaml_node *list = yaml_get(root, "shared");

	for (const struct yaml_node *node = list ? list->first : NULL; node; node = node->next) {
		struct hole hole;
		if (hole_parse(node->text, &hole) && !pattern_main_at(pattern, hole))
			yaml_fault(
				node, "shared-no-main",
				"no main goes through %s: a shared hole has a main and a cross in it",
				node->text);
	}
}

/* A skip beyond the outermost main is a slip somewhere: in the label, or in the counts. */
static void check_skips(const struct yaml_node *root, const struct pattern *pattern)
{
	const struct yaml_node *list = yaml_get(root, "mains_skip");

	for (const struct yaml_node *node = list ? list->first : NULL; node; node = node->next) {
		struct hole hole;
		if (hole_parse(node->text, &hole) &&
		    hole.number > pattern->main_hole[hole.end][pattern_half(pattern)])
			yaml_warn(node, "skip-idle",
				  "the mains do not get as far as %s: there is nothing to skip",
				  node->text);
	}
}

void pattern_map_holes(const struct yaml_node *root, struct pattern *pattern)
{
	struct faults *faults = root->document->faults;
	size_t errors = faults->errors;

	place_mains(root, pattern, END_HEAD);
	place_mains(root, pattern, END_THROAT);
	if (faults->errors > errors)
		return;
	check_skips(root, pattern);
	check_shared(root, pattern);
	place_crosses(root, pattern);
}
