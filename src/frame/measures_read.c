/* The measures in a pattern file: each plausible by itself, and possible together. */
#include "frame/internal.h"

/* Plausible sizes, from memory: outside them a number is a slip of the pen, not a racket. */
static const double head_length_min_mm = 150, head_length_max_mm = 450;
static const double head_width_min_mm = 120, head_width_max_mm = 400;
static const double beam_default_mm = 12, beam_min_mm = 4, beam_max_mm = 40;
static const double spacing_min_mm = 3, spacing_max_mm = 30;

static bool read_length(const struct yaml_node *node, double min_mm, double max_mm, double *out_mm)
{
	struct quantity quantity;

	if (!yaml_quantity_within(node, DIMENSION_LENGTH, min_mm, max_mm, &quantity))
		return false;
	*out_mm = quantity_base(quantity);
	return true;
}

/* The hoop is a superellipse, between the diamond and the rectangle: no other area fits in. */
static void read_area(const struct yaml_node *node, struct head *head)
{
	struct quantity quantity;
	struct hoop hoop;

	if (!yaml_quantity(node, DIMENSION_AREA, &quantity))
		return;
	double mm2 = quantity_base(quantity);
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

static void read_head(const struct yaml_node *root, struct pattern *pattern)
{
	static const char *const keys[] = {"length", "width", "area", "beam", NULL};
	const struct yaml_node *map = yaml_get(root, "head");
	struct head *head = &pattern->head;

	head->beam_mm = beam_default_mm;
	if (!yaml_is_map(map, keys))
		return;
	bool length = read_length(yaml_need(map, "length"), head_length_min_mm, head_length_max_mm,
				  &head->length_mm);
	bool width = read_length(yaml_need(map, "width"), head_width_min_mm, head_width_max_mm,
				 &head->width_mm);
	read_length(yaml_get(map, "beam"), beam_min_mm, beam_max_mm, &head->beam_mm);
	if (length && width)
		read_area(yaml_get(map, "area"), head);
}

/* One distance for all, or a list of every single one. */
static void read_gaps(const struct yaml_node *node, int count, double *gaps_mm, const char *order)
{
	double one_mm;

	if (!node)
		return;
	if (node->kind != YAML_LIST) {
		if (read_length(node, spacing_min_mm, spacing_max_mm, &one_mm))
			for (int i = 0; i < count; i++)
				gaps_mm[i] = one_mm;
		return;
	}
	int found = 0;
	for (const struct yaml_node *item = node->first; item; item = item->next, found++)
		if (read_length(item, spacing_min_mm, spacing_max_mm, &one_mm) && found < count)
			gaps_mm[found] = one_mm;
	if (found != count)
		yaml_fault(node, "spacing-count", "%d distances, but there are %d: %s", found,
			   count, order);
}

static void read_spacing(const struct yaml_node *root, struct pattern *pattern)
{
	static const char *const keys[] = {"mains", "crosses", NULL};
	const struct yaml_node *map = yaml_get(root, "spacing");

	if (!yaml_is_map(map, keys))
		return;
	/* Without the counts there is nothing to count the distances against. */
	if (pattern->mains > 0)
		read_gaps(yaml_get(map, "mains"), pattern_half(pattern), pattern->main_gap_mm,
			  "between the two centre mains, then outward on one side");
	if (pattern->crosses > 0)
		read_gaps(yaml_get(map, "crosses"), pattern->crosses - 1, &pattern->cross_gap_mm[1],
			  "between neighbours, from the head");
}

static double sum(const double *values, int count)
{
	double sum = 0;

	for (int i = 0; i < count; i++)
		sum += values[i];
	return sum;
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
		2 * sum(pattern->main_gap_mm, pattern_half(pattern)) - pattern->main_gap_mm[0];
	double crosses_mm = sum(pattern->cross_gap_mm, pattern->crosses);
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

bool tension_is_plausible(struct quantity tension)
{
	double newton = quantity_base(tension);

	return newton >= TENSION_LEAST_NEWTON && newton <= TENSION_MOST_NEWTON;
}

bool tension_read(const struct yaml_node *node, struct quantity *out)
{
	return yaml_quantity_within(node, DIMENSION_TENSION, TENSION_LEAST_NEWTON,
				    TENSION_MOST_NEWTON, out);
}

static void read_range(const struct yaml_node *root, struct pattern *pattern)
{
	static const char *const keys[] = {"min", "max", NULL};
	const struct yaml_node *map = yaml_get(root, "tension");

	if (!yaml_is_map(map, keys))
		return;
	bool min = tension_read(yaml_need(map, "min"), &pattern->tension_min);
	bool max = tension_read(yaml_need(map, "max"), &pattern->tension_max);
	if (!min || !max)
		return;
	if (quantity_base(pattern->tension_min) > quantity_base(pattern->tension_max))
		yaml_fault_key(map, "tension-range", "the least tension is above the greatest");
	else
		pattern->has_range = true;
}

void pattern_read_measures(const struct yaml_node *root, struct pattern *pattern)
{
	read_head(root, pattern);
	read_spacing(root, pattern);
	read_range(root, pattern);
}

void pattern_check_measures(const struct yaml_node *root, const struct pattern *pattern)
{
	check_spacing(root, pattern);
	rules_check(root, pattern);
}
