/* The holes of a pattern file, and the hole map worked out from them: which hole each string takes.
 */
#include "frame/internal.h"

#include <stdlib.h>

enum { LABEL_BYTES_MAX = 80 };

bool pattern_read_hole(const struct yaml_node *node, const struct pattern *pattern,
		       struct hole *out)
{
	const char *label;

	if (!yaml_text(node, LABEL_BYTES_MAX, &label))
		return false;
	struct hole hole;
	if (!hole_parse(label, &hole)) {
		yaml_fault(node, "hole-label",
			   "expected a hole such as 7H (head) or 7T (throat), not \"%s\"", label);
		return false;
	}
	int last = pattern->holes[hole.end];
	if (last && hole.number > last) {
		yaml_fault(node, "hole-range", "there is no hole %s: the %s has holes 1 to %d",
			   label, end_names[hole.end], last);
		return false;
	}
	*out = hole;
	return true;
}

/* A list of holes, each in none of the others: no hole can be both of two things. */
static void read_holes(const struct yaml_node *root, const char *key, const struct pattern *pattern,
		       struct hole_set *set)
{
	const struct {
		const char *key;
		const struct hole_set *set;
	} all[] = {{"mains_skip", &pattern->mains_skip},
		   {"shared", &pattern->shared},
		   {"unused", &pattern->unused}};
	const struct yaml_node *list = yaml_get(root, key);
	struct hole hole;

	if (!yaml_is_list(list))
		return;
	for (const struct yaml_node *node = list->first; node; node = node->next) {
		if (!pattern_read_hole(node, pattern, &hole))
			continue;
		if (hole_in(set, hole))
			yaml_fault(node, "hole-twice", "duplicate hole %s in %s", node->text, key);
		for (size_t i = 0; i < sizeof(all) / sizeof(all[0]); i++)
			if (all[i].set != set && hole_in(all[i].set, hole))
				yaml_fault(node, "hole-conflict",
					   "hole %s is in %s too: it cannot be both", node->text,
					   all[i].key);
		hole_put(set, hole);
	}
}

void pattern_read_hole_sets(const struct yaml_node *root, struct pattern *pattern)
{
	read_holes(root, "mains_skip", pattern, &pattern->mains_skip);
	read_holes(root, "shared", pattern, &pattern->shared);
	read_holes(root, "unused", pattern, &pattern->unused);
}

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
			pattern->mains, half, end_names[end], main, pattern->holes[end]);
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

	for (int i = 0; i < pattern_hole_count(pattern); i++) {
		struct hole hole = pattern_hole_at(pattern, i);
		if (takes_cross(pattern, hole))
			found[count++] = hole;
	}
	for (int c = 1; c <= pattern->crosses && c <= count; c++)
		pattern->cross_hole[c] = found[c - 1];
	if (count != pattern->crosses) {
		char *list = hole_list(found, count);
		yaml_fault_key(
			yaml_get(root, "crosses"), "crosses-count",
			"%d crosses, but %d holes a side are left for crosses: %s%s",
			pattern->crosses, count, count ? list : "none",
			count > pattern->crosses
				? "; if the counts are right, name each hole that stays empty as unused"
				: "");
		free(list);
	}
}

/* A shared hole needs its main. A skip beyond the outermost main is a slip somewhere: in the label,
 * or in the counts. */
static void check_labels(const struct yaml_node *root, const struct pattern *pattern)
{
	const struct yaml_node *shared = yaml_get(root, "shared");
	const struct yaml_node *skip = yaml_get(root, "mains_skip");
	struct hole hole;

	for (const struct yaml_node *node = shared ? shared->first : NULL; node; node = node->next)
		if (hole_parse(node->text, &hole) && !pattern_main_at(pattern, hole))
			yaml_fault(
				node, "shared-no-main",
				"no main goes through %s: a shared hole has a main and a cross in it",
				node->text);
	for (const struct yaml_node *node = skip ? skip->first : NULL; node; node = node->next)
		if (hole_parse(node->text, &hole) &&
		    hole.number > pattern->main_hole[hole.end][pattern_half(pattern)])
			yaml_warn(node, "skip-idle",
				  "the mains do not get as far as %s: there is nothing to skip",
				  node->text);
}

void pattern_map_holes(const struct yaml_node *root, struct pattern *pattern)
{
	struct faults *faults = root->document->faults;
	size_t errors = faults->errors;

	place_mains(root, pattern, END_HEAD);
	place_mains(root, pattern, END_THROAT);
	if (faults->errors > errors)
		return;
	check_labels(root, pattern);
	place_crosses(root, pattern);
}
