/* The measures that a pattern file gives: the head, the spacing, the range of tension. They are
 * read, then checked against the rules of the sports and the room in the frame. */
#include "frame/internal.h"

/* ---- Reading ----
 *
 * The limits on what is plausible are from memory: outside them a number is a slip of the pen, not
 * a racket. */

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
	bool area = false;
	const struct yaml_row rows[] = {
		{"length", true, .base = &head->length_mm, .least = 150, .most = 450},
		{"width", true, .base = &head->width_mm, .least = 120, .most = 400},
		{"area", .base = &area_mm2, .given = &area, .dimension = DIMENSION_AREA},
		{"beam", .base = &head->beam_mm, .least = 4, .most = 40},
		{0},
	};

	yaml_read_map(map, rows);
	if (head->length_mm > 0 && head->width_mm > 0 && area)
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

void pattern_read_tension(const struct yaml_node *map, void *out)
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

/* ---- The rules of the sports ----
 *
 * What they do not allow exists and can be strung, so these are warnings, each naming its rule:
 *   - tennis: ITF Rules of Tennis, Appendix II b and c
 *   - badminton: BWF Laws of Badminton, Law 4
 *   - squash: WSF racket specification (Appendix 4)
 *   - racquetball: USA Racquetball Official Rules 2.4 limits the whole racket only, which no
 *     plausible head exceeds */

static double sum_of(const double *values, int count)
{
	double sum = 0;

	for (int i = 0; i < count; i++)
		sum += values[i];
	return sum;
}

/* The largest each sport allows; 0: no such rule. */
struct limits {
	const char *rule;
	double length_mm; /* of the strung surface */
	double width_mm;
	double area_mm2;
	double frame_width_mm; /* overall */
	const char *length_note;
};

static const struct limits limits[] = {
	[SPORT_TENNIS] = {"ITF Rules of Tennis, Appendix II c", 394, 292, 0, 317, ""},
	[SPORT_BADMINTON] = {"BWF Laws of Badminton, Law 4", 280, 220, 0, 230,
			     ", and beyond that only a throat at most 35 mm wide, to 330 mm"},
	[SPORT_SQUASH] = {"WSF racket specification, Appendix 4", 390, 0, 50000, 215, ""},
	[SPORT_RACQUETBALL] = {0},
};

/* A measure written as 29.2 cm is 292 mm, not a rounding error more. */
static bool is_over(double value, double limit)
{
	return limit > 0 && value > limit * (1 + 1e-9);
}

/* Measures that the file gives: the default beam is no ground for a warning. */
static void check_head(const struct yaml_node *map, const struct pattern *pattern,
		       const struct limits *limit)
{
	const struct head *head = &pattern->head;
	const struct {
		const char *key, *code, *what, *how, *note;
		double mm, limit_mm;
	} rows[] = {
		{"length", "rule-length", "the strings are up to", "long", limit->length_note,
		 head->length_mm, limit->length_mm},
		{"width", "rule-width", "the strung surface is", "wide", "", head->width_mm,
		 limit->width_mm},
		{"beam", "rule-frame", "the frame is", "wide with its beam", "",
		 head->width_mm + 2 * head->beam_mm, limit->frame_width_mm},
	};

	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
		if (yaml_get(map, rows[i].key) && is_over(rows[i].mm, rows[i].limit_mm))
			yaml_warn(yaml_get(map, rows[i].key), rows[i].code,
				  "%s %g mm %s: %s allows %g mm%s", rows[i].what, rows[i].mm,
				  rows[i].how, limit->rule, rows[i].limit_mm, rows[i].note);
}

static void check_rule_area(const struct yaml_node *map, const struct hoop *hoop,
			    const struct limits *limit)
{
	const struct yaml_node *area = yaml_get(map, "area");
	double mm2 = hoop_area_mm2(hoop);

	if (is_over(mm2, limit->area_mm2))
		yaml_warn(area ? area : map, "rule-area",
			  "the strung area is %.0f cm2%s: %s allows %g cm2", mm2 / 100,
			  area ? "" : " as an ellipse", limit->rule, limit->area_mm2 / 100);
}

/* Whether a bed is less dense in its centre (the middle third) than in any other run of as many
 * strings, given the distances between its strings in order from edge to edge. */
static bool is_thin_in_centre(const double *gaps_mm, int count)
{
	/* Of the parity of count, so that it lies in the middle. */
	int third = count / 3 + (count / 3 + count) % 2;
	int first = (count - third) / 2;
	double centre = sum_of(gaps_mm + first, third);

	/* Closer than a hundredth is closer than holes are drilled. */
	for (int i = 0; i + third <= count; i++)
		if (sum_of(gaps_mm + i, third) < 0.99 * centre)
			return true;
	return false;
}

static void check_density(const struct yaml_node *spacing, const struct pattern *pattern)
{
	static const char *const words =
		"the bed is less dense in the centre than elsewhere: ITF Rules of Tennis, Appendix "
		"II b, forbids it";
	const struct yaml_node *mains = yaml_get(spacing, "mains");
	const struct yaml_node *crosses = yaml_get(spacing, "crosses");
	int half = pattern_half(pattern);
	double gaps[MAINS_MAX];

	gaps[half - 1] = pattern->main_gap_mm[0];
	for (int k = 1; k < half; k++)
		gaps[half - 1 - k] = gaps[half - 1 + k] = pattern->main_gap_mm[k];
	if (mains && is_thin_in_centre(gaps, 2 * half - 1))
		yaml_warn(mains, "rule-density", "%s", words);
	if (crosses && is_thin_in_centre(&pattern->cross_gap_mm[1], pattern->crosses - 1))
		yaml_warn(crosses, "rule-density", "%s", words);
}

/* ---- Room in the head ---- */

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
static void check_spacing(const struct yaml_node *spacing, const struct pattern *pattern,
			  const struct bed *bed)
{
	const struct yaml_node *crosses = yaml_get(spacing, "crosses");
	double mains_mm =
		2 * sum_of(pattern->main_gap_mm, pattern_half(pattern)) - pattern->main_gap_mm[0];
	double crosses_mm = sum_of(pattern->cross_gap_mm, pattern->crosses);
	char label[HOLE_TEXT_MAX];

	if (!check_room(yaml_get(spacing, "mains"), "mains", mains_mm, "wide",
			pattern->head.width_mm) ||
	    !check_room(crosses, "crosses", crosses_mm, "long", pattern->head.length_mm))
		return;
	if (bed->misplaced)
		yaml_warn(crosses, "spacing-holes",
			  "with this spacing the cross in %s would not stand at its hole: lengths "
			  "and pictures follow the holes instead",
			  hole_text(pattern->cross_hole[bed->misplaced], label));
}

void pattern_check_measures(const struct yaml_node *root, const struct pattern *pattern)
{
	const struct yaml_node *head = yaml_get(root, "head");
	const struct yaml_node *spacing = yaml_get(root, "spacing");
	const struct limits *limit = &limits[pattern->sport];
	struct bed bed;

	if (bed_of_pattern(pattern, &bed)) {
		check_head(head, pattern, limit);
		check_rule_area(head, &bed.rim.hoop, limit);
		if (spacing)
			check_spacing(spacing, pattern, &bed);
	}
	if (pattern->sport == SPORT_TENNIS)
		check_density(spacing, pattern);
}
