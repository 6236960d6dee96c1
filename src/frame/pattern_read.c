/* The pattern file, step by step: each goes on only from what the ones before it read without
 * fault.
 */
#include "frame/frame.h"

#include <stdlib.h>
#include <string.h>

/* --- Holes --- */

enum { LABEL_BYTES_MAX = 80 };

/* "7H" or "12T"; false if it is no label. The number is 1 to HOLES_MAX. */
static bool hole_parse(const char *label, struct hole *out)
{
	size_t digits = strspn(label, "0123456789");

	if (digits == 0 || digits > 2 || label[0] == '0' || label[digits] == '\0' ||
	    label[digits + 1] != '\0')
		return false;
	char end = label[digits];
	long number = strtol(label, NULL, 10);
	if ((end != 'H' && end != 'T') || number > HOLES_MAX)
		return false;
	*out = (struct hole){.end = end == 'H' ? END_HEAD : END_THROAT, .number = (int)number};
	return true;
}

static void hole_put(struct hole_set *set, struct hole hole)
{
	set->bits[hole.end] |= UINT64_C(1) << hole.number;
}

/* One hole label; false with a fault if the frame has no such hole. */
static bool read_hole(const struct yaml_node *node, const struct pattern *pattern, struct hole *out)
{
	const char *label;

	if (!node || !yaml_text(node, LABEL_BYTES_MAX, &label))
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
static void read_holes(const struct yaml_node *list, void *out)
{
	struct pattern *pattern = out;
	const struct {
		const char *key;
		struct hole_set *set;
	} sets[] = {{"mains_skip", &pattern->mains_skip},
		    {"shared", &pattern->shared},
		    {"unused", &pattern->unused}};
	struct hole hole;

	if (!yaml_is_list(list))
		return;
	for (const struct yaml_node *node = list->first; node; node = node->next) {
		if (!read_hole(node, pattern, &hole))
			continue;
		for (size_t i = 0; i < sizeof(sets) / sizeof(sets[0]); i++) {
			bool own = strcmp(sets[i].key, list->key) == 0;
			if (own && hole_in(sets[i].set, hole))
				yaml_fault(node, "hole-twice", "duplicate hole %s in %s",
					   node->text, list->key);
			else if (own)
				hole_put(sets[i].set, hole);
			else if (hole_in(sets[i].set, hole))
				yaml_fault(node, "hole-conflict",
					   "hole %s is in %s too: it cannot be both", node->text,
					   sets[i].key);
		}
	}
}

static const char *const tie_off_keys[] = {
	[TIE_OFF_MAINS] = "mains",
	[TIE_OFF_CROSS_START] = "cross_start",
	[TIE_OFF_CROSS_END] = "cross_end",
	[TIE_OFFS] = NULL,
};

static void read_tie_offs(const struct yaml_node *map, void *out)
{
	struct pattern *pattern = out;

	if (!yaml_is_map(map, tie_off_keys))
		return;
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++) {
		const struct yaml_node *node = yaml_get(map, tie_off_keys[tie_off]);
		struct hole *holes = pattern->tie_off[tie_off];
		/* `8T`, or a map where the sides differ. */
		if (!node || node->kind != YAML_MAP) {
			if (read_hole(node, pattern, &holes[SIDE_LEFT]))
				holes[SIDE_RIGHT] = holes[SIDE_LEFT];
		} else if (yaml_is_map(node, side_names)) {
			for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
				read_hole(yaml_get(node, side_names[side]), pattern, &holes[side]);
		}
	}
}

/* --- Measures ---
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

static void read_head(const struct yaml_node *map, void *out)
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

static void read_spacing(const struct yaml_node *map, void *out)
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

static void read_range(const struct yaml_node *map, void *out)
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

/* --- Names and counts --- */

const char *const sport_names[] = {"tennis", "badminton", "squash", "racquetball", NULL};
enum { NAME_BYTES_MAX = 80, TITLE_BYTES_MAX = 160 };
enum { BEAM_DEFAULT_MM = 12 }; /* from memory, plausible */

/* A file under a shop's own name could never be found by the name that job plans use. */
static void check_name(const struct yaml_node *node, const char *name)
{
	const char *base = basename(node->document->file), *ending = strrchr(base, '.');
	char *own = memory_format("%s.yaml", name);

	if (name[0] == '-' || strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789-") != strlen(name))
		yaml_fault(
			node, "pattern-name",
			"expected small letters, digits and hyphens, beginning with a letter or a "
			"digit, not \"%s\"",
			name);
	else if (ending && strcmp(ending, ".yaml") == 0 && strcmp(base, own) != 0)
		yaml_fault(node, "pattern-name",
			   "the pattern is named \"%s\" but the file \"%s\": they must agree", name,
			   base);
	free(own);
}

static void check_counts(const struct yaml_node *root, const struct pattern *pattern)
{
	const struct yaml_node *bridge = yaml_get(root, "bridge");
	int holes = pattern->holes[END_THROAT];

	if (pattern->mains % 2)
		yaml_fault(
			yaml_get(root, "mains"), "mains-odd",
			"an odd number of mains: the mains lie evenly on both sides of the centre");
	if (pattern->bridge % 2)
		yaml_fault(bridge, "bridge-odd",
			   "an odd number of bridge holes: count both sides together");
	else if (holes && pattern->bridge / 2 > holes)
		yaml_fault(bridge, "bridge-holes",
			   "%d bridge holes are %d a side, but there are %d throat holes a side",
			   pattern->bridge, pattern->bridge / 2, holes);
}

static void read_keys(const struct yaml_node *root, struct pattern *pattern)
{
	const struct yaml_row holes[] = {
		{"head", true, .number = &pattern->holes[END_HEAD], .least = 1, .most = HOLES_MAX},
		{"throat", true, .number = &pattern->holes[END_THROAT], .least = 1,
		 .most = HOLES_MAX},
		{0},
	};
	const struct yaml_row rows[] = {
		{"pattern", true, .text = &pattern->name, .most = NAME_BYTES_MAX},
		{"title", .text = &pattern->title, .most = TITLE_BYTES_MAX},
		{"sport", true, .choice = &pattern->sport, .names = sport_names},
		{"mains", true, .number = &pattern->mains, .least = 4, .most = MAINS_MAX},
		{"crosses", true, .number = &pattern->crosses, .least = 4, .most = CROSSES_MAX},
		{"holes", true, .map = holes},
		{"bridge", true, .number = &pattern->bridge, .most = 2 * HOLES_MAX},
		{"mains_skip", .read = read_holes, .out = pattern},
		{"shared", .read = read_holes, .out = pattern},
		{"unused", .read = read_holes, .out = pattern},
		{"tie_off", .read = read_tie_offs, .out = pattern},
		{"crosses_start", true, .choice = &pattern->crosses_start, .names = end_names},
		{"head", .read = read_head, .out = &pattern->head},
		{"spacing", .read = read_spacing, .out = pattern},
		{"tension", .read = read_range, .out = pattern},
		{0},
	};

	yaml_read_map(root, rows);
	if (pattern->name)
		check_name(yaml_get(root, "pattern"), pattern->name);
	if (!pattern->title)
		pattern->title = memory_copy(pattern->name ? pattern->name : "");
	check_counts(root, pattern);
}

/* --- The hole map: which hole each string takes --- */

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

static void map_holes(const struct yaml_node *root, struct pattern *pattern)
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

/* --- Knots that find their anchor there already, and room in the hole --- */

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

/* The knot before this one that would share its hole; TIE_OFFS: none. */
static enum tie_off rival_of(const struct pattern *pattern, enum tie_off tie_off, enum side side)
{
	for (enum tie_off other = 0; other < tie_off; other++) {
		/* An odd number of crosses ends on the side where it did not start. */
		bool apart = other == TIE_OFF_CROSS_START && pattern->crosses % 2;
		if (!apart &&
		    hole_same(pattern->tie_off[tie_off][side], pattern->tie_off[other][side]))
			return other;
	}
	return TIE_OFFS;
}

/* The anchor has to be there when the knot is tied: for the mains and for the start of the crosses
 * that is a main. Where the end is concerned these are warnings, because a job may begin the mains
 * at the other end. False if there was something to say. */
static bool check_tie_off(const struct yaml_node *root, const struct pattern *pattern,
			  enum tie_off tie_off, enum side side)
{
	static const char *const what[] = {
		[TIE_OFF_MAINS] = "the mains of this frame end",
		[TIE_OFF_CROSS_START] = "the crosses of this frame begin",
		[TIE_OFF_CROSS_END] = "the crosses of this frame end",
	};
	const struct yaml_node *node = tie_off_node(root, tie_off, side);
	struct hole hole = pattern->tie_off[tie_off][side], own = own_hole(pattern, tie_off);
	bool main = pattern_main_at(pattern, hole), cross = pattern_cross_at(pattern, hole);
	enum tie_off rival = rival_of(pattern, tie_off, side);
	int away = abs(hole.number - own.number);
	char label[HOLE_TEXT_MAX];

	hole_text(hole, label);
	if (hole.number == 0)
		return true;
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
	else if (hole_same(hole, own))
		yaml_fault(node, "tie-off-own",
			   "the string that ends here comes out of %s itself: tie it to another",
			   label);
	else if (rival != TIE_OFFS)
		yaml_fault(node, "hole-three",
			   "%s %s takes the knots of %s and %s beside its string: a hole takes two "
			   "strings at most",
			   label, side_names[side], tie_off_keys[rival], tie_off_keys[tie_off]);
	else if (hole.end != own.end)
		yaml_warn(node, "tie-off-end", "%s at the %s, not near %s", what[tie_off],
			  end_names[own.end], label);
	else if (away > TIE_OFF_HOLES_USUAL)
		yaml_warn(
			node, "tie-off-far",
			"a tie-off %d holes away: more than %d is suspect, look for a nearer hole",
			away, TIE_OFF_HOLES_USUAL);
	else
		return true;
	return false;
}

static void check_tie_offs(const struct yaml_node *root, const struct pattern *pattern)
{
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++) {
		bool once = tie_off_node(root, tie_off, SIDE_LEFT) ==
			    tie_off_node(root, tie_off, SIDE_RIGHT);
		/* Written once for both sides: what is wrong is said once. */
		if (check_tie_off(root, pattern, tie_off, SIDE_LEFT) || !once)
			check_tie_off(root, pattern, tie_off, SIDE_RIGHT);
	}
}

/* --- The rules of the sports ---
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

/* --- Room --- */

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

static void check_measures(const struct yaml_node *root, const struct pattern *pattern)
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

/* --- The whole file --- */

struct pattern *pattern_read(struct yaml_document *document)
{
	if (!document)
		return NULL;
	const struct yaml_node *root = document->root;
	struct pattern *pattern = memory_new(1, sizeof(*pattern));

	pattern->file = memory_copy(document->file);
	pattern->text = memory_copy(document->bytes);
	pattern->head.beam_mm = BEAM_DEFAULT_MM;
	read_keys(root, pattern);
	/* The rest makes sense only of what was read without fault. */
	if (yaml_is_good(document))
		map_holes(root, pattern);
	if (yaml_is_good(document)) {
		check_tie_offs(root, pattern);
		check_measures(root, pattern);
	}
	if (!yaml_is_good(document)) {
		pattern_free(pattern);
		pattern = NULL;
	}
	yaml_free(document);
	return pattern;
}
