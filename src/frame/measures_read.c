/* The measures in a pattern file: each plausible by itself, and possible together. The limits are
 * from memory: outside them a number is a slip of the pen, not a racket. */
#include "frame/internal.h"

/* The hoop is a superellipse, between the diamond and the rectangle: no other area fits in. */
static void check_area(const struct yaml_node *node, struct head *head, double mm2)
{
	struct hoop hoop;

	if (mm2 > 0 && hoop_fit(head->length_mm, head->width_mm, mm2, &hoop)) {
		head->area_mm2 = mm2;
		return;
	}
	double rectangle_cm2 = head->length_mm * head->width_mm / 100;
	yaml_fault(node, "head-area",
		   "%s does not fit a head of %g by %g mm: expected more than %.0f and less than "
		   "%.0f cm2",
		   node->text, head->length_mm, head->width_mm, rectangle_cm2 / 2, rectangle_cm2);
}

void pattern_read_head(const struct yaml_node *map, void *out)
{
	struct head *head = out;
	double area_mm2 = 0;
	bool length = false, width = false, area = false;
	const struct yaml_row rows[] = {
		{"length", true, .base = &head->length_mm, .given = &length, .least = 150,
		 .most = 450},
		{"width", true, .base = &head->width_mm, .given = &width, .least = 120,
		 .most = 400},
		{"area", .base = &area_mm2, .given = &area, .dimension = DIMENSION_AREA},
		{"beam", .base = &head->beam_mm, .least = 4, .most = 40},
		{0},
	};

	yaml_read_map(map, rows);
	if (length && width && area)
		check_area(yaml_get(map, "area"), head, area_mm2);
}

/* Distances between neighbours: how many, and their order. */
struct gaps {
	int count;
	double *mm;
	const char *order;
};

/* One distance for all, or a list of every single one. */
static void read_gaps(const struct yaml_node *node, void *out)
{
	const struct gaps *gaps = out;
	double one_mm = 0;
	const struct yaml_row row = {.base = &one_mm, .least = 3, .most = 30};
	int found = 0;

	/* Without the counts there is nothing to count the distances against. */
	if (gaps->count <= 0)
		return;
	if (node->kind != YAML_LIST) {
		yaml_read_value(node, &row);
		for (int i = 0; i < gaps->count; i++)
			gaps->mm[i] = one_mm;
		return;
	}
	for (const struct yaml_node *item = node->first; item; item = item->next, found++)
		if (yaml_read_value(item, &row) && found < gaps->count)
			gaps->mm[found] = one_mm;
	if (found != gaps->count)
		yaml_fault(node, "spacing-count", "%d distances, but there are %d: %s", found,
			   gaps->count, gaps->order);
}

void pattern_read_spacing(const struct yaml_node *map, void *out)
{
	struct pattern *pattern = out;
	struct gaps mains = {pattern_half(pattern), pattern->main_gap_mm,
			     "between the two centre mains, then outward on one side"};
	struct gaps crosses = {pattern->crosses - 1, &pattern->cross_gap_mm[1],
			       "between neighbours, from the head"};
	const struct yaml_row rows[] = {
		{"mains", .read = read_gaps, .out = &mains},
		{"crosses", .read = read_gaps, .out = &crosses},
		{0},
	};

	yaml_read_map(map, rows);
}

void pattern_read_range(const struct yaml_node *map, void *out)
{
	struct pattern *pattern = out;
	bool min = false, max = false;
	const struct yaml_row rows[] = {
		{"min", true, .quantity = &pattern->tension_min, .given = &min, TENSION_RANGE},
		{"max", true, .quantity = &pattern->tension_max, .given = &max, TENSION_RANGE},
		{0},
	};

	yaml_read_map(map, rows);
	pattern->has_range = min && max;
	if (pattern->has_range &&
	    quantity_base(pattern->tension_min) > quantity_base(pattern->tension_max))
		yaml_fault_key(map, "tension-range", "the least tension is above the greatest");
}

bool tension_is_plausible(struct quantity tension)
{
	double newton = quantity_base(tension);

	return newton >= TENSION_LEAST_NEWTON && newton <= TENSION_MOST_NEWTON;
}

static bool check_room(const struct yaml_node *node, const char *strings, double taken_mm,
		       const char *measure, double head_mm)
{
	if (taken_mm < head_mm)
		return true;
	yaml_fault(node, "spacing-room",
		   "the %s would be %g mm from the first to the last, but the head is %g mm %s",
		   strings, taken_mm, head_mm, measure);
	return false;
}

/* The outermost strings have to stand inside the hoop, and each cross at its hole. */
static void check_spacing(const struct yaml_node *root, const struct pattern *pattern)
{
	const struct yaml_node *spacing = yaml_get(root, "spacing");
	const struct yaml_node *crosses = yaml_get(spacing, "crosses");
	double mains_mm =
		2 * sum_of(pattern->main_gap_mm, pattern_half(pattern)) - pattern->main_gap_mm[0];
	double crosses_mm = sum_of(pattern->cross_gap_mm, pattern->crosses);
	char label[HOLE_TEXT_MAX];
	struct bed bed;

	if (!spacing || !bed_of_pattern(pattern, &bed) ||
	    !check_room(yaml_get(spacing, "mains"), "mains", mains_mm, "wide",
			pattern->head.width_mm) ||
	    !check_room(crosses, "crosses", crosses_mm, "long", pattern->head.length_mm))
		return;
	if (bed.misplaced)
		yaml_warn(crosses, "spacing-holes",
			  "with this spacing the cross in %s would not stand at its hole: lengths "
			  "and pictures follow the holes instead",
			  hole_text(pattern->cross_hole[bed.misplaced], label));
}

void pattern_check_measures(const struct yaml_node *root, const struct pattern *pattern)
{
	check_spacing(root, pattern);
	rules_check(root, pattern);
}
