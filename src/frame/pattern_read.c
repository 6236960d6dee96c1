/* The pattern file: read strictly, then the hole map worked out and checked. */
#include "base/memory.h"
#include "base/text.h"
#include "base/yaml.h"
#include "frame/pattern.h"

#include <stdlib.h>
#include <string.h>

static const char *const sport_names[] = {"tennis", "badminton", "squash", "racquetball", NULL};
static const char *const end_names[] = {"head", "throat", NULL};
static const char *const tie_off_keys[] = {
	[TIE_OFF_MAINS] = "mains",
	[TIE_OFF_CROSS_START] = "cross_start",
	[TIE_OFF_CROSS_END] = "cross_end",
	[TIE_OFFS] = NULL,
};

enum { NAME_BYTES_MAX = 80, TITLE_BYTES_MAX = 160 };

/* Plausible sizes, from memory: outside them a number is a slip of the pen, not a racket. */
static const double head_length_min_mm = 150, head_length_max_mm = 450;
static const double head_width_min_mm = 120, head_width_max_mm = 400;
static const double beam_default_mm = 12, beam_min_mm = 4, beam_max_mm = 40;
static const double spacing_min_mm = 3, spacing_max_mm = 30;
static const double tension_min_newton = 20, tension_max_newton = 500;

const char *sport_name(enum sport sport)
{
	return sport_names[sport];
}

/* A file under a shop's own name could never be found by the name that job plans use. */
static void check_stem(const struct yaml_node *node, const char *name)
{
	const char *file = node->document->file;
	const char *base = strrchr(file, '/') ? strrchr(file, '/') + 1 : file;
	size_t length = strlen(base);

	if (length < 5 || strcmp(base + length - 5, ".yaml") != 0)
		return;
	if (strlen(name) != length - 5 || strncmp(name, base, length - 5) != 0)
		yaml_fault(node, "pattern-name",
			   "the pattern is named \"%s\" but the file \"%s\": they must agree", name,
			   base);
}

static void read_name(const struct yaml_node *root, struct pattern *pattern)
{
	const struct yaml_node *node = yaml_need(root, "pattern");
	const char *text;

	if (yaml_text(node, NAME_BYTES_MAX, &text)) {
		if (strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-") != strlen(text))
			yaml_fault(node, "pattern-name",
				   "expected small letters, digits and hyphens, not \"%s\"", text);
		check_stem(node, text);
		pattern->name = memory_copy(text);
	}
	if (yaml_text(yaml_get(root, "title"), TITLE_BYTES_MAX, &text))
		pattern->title = memory_copy(text);
	else
		pattern->title = memory_copy(pattern->name ? pattern->name : "");
}

static void read_counts(const struct yaml_node *root, struct pattern *pattern)
{
	static const char *const hole_keys[] = {"head", "throat", NULL};
	const struct yaml_node *mains = yaml_need(root, "mains");
	const struct yaml_node *holes = yaml_need(root, "holes");
	const struct yaml_node *bridge = yaml_need(root, "bridge");
	int sport = 0, start = END_HEAD;

	yaml_choice(yaml_need(root, "sport"), sport_names, &sport);
	pattern->sport = (enum sport)sport;
	if (yaml_int(mains, 4, MAINS_MAX, &pattern->mains) && pattern->mains % 2)
		yaml_fault(
			mains, "mains-odd",
			"an odd number of mains: the mains lie evenly on both sides of the centre");
	yaml_int(yaml_need(root, "crosses"), 4, CROSSES_MAX, &pattern->crosses);
	if (yaml_is_map(holes, hole_keys)) {
		yaml_int(yaml_need(holes, "head"), 1, HOLES_MAX, &pattern->holes[END_HEAD]);
		yaml_int(yaml_need(holes, "throat"), 1, HOLES_MAX, &pattern->holes[END_THROAT]);
	}
	if (yaml_int(bridge, 0, 2 * HOLES_MAX, &pattern->bridge)) {
		if (pattern->bridge % 2)
			yaml_fault(bridge, "bridge-odd",
				   "an odd number of bridge holes: count both sides together");
		else if (pattern->holes[END_THROAT] &&
			 pattern->bridge / 2 > pattern->holes[END_THROAT])
			yaml_fault(
				bridge, "bridge-holes",
				"%d bridge holes are %d a side, but there are %d throat holes a side",
				pattern->bridge, pattern->bridge / 2, pattern->holes[END_THROAT]);
	}
	yaml_choice(yaml_need(root, "crosses_start"), end_names, &start);
	pattern->crosses_start = (enum frame_end)start;
}

/* One label; checks that the frame has such a hole. */
static bool read_hole(const struct yaml_node *node, const struct pattern *pattern, struct hole *out)
{
	const char *label;

	if (!yaml_text(node, NAME_BYTES_MAX, &label))
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
			   label, end_name(hole.end), last);
		return false;
	}
	*out = hole;
	return true;
}

static void read_holes(const struct yaml_node *root, const char *key, const struct pattern *pattern,
		       struct hole_set *set)
{
	const struct yaml_node *list = yaml_get(root, key);

	if (!yaml_is_list(list))
		return;
	for (const struct yaml_node *node = list->first; node; node = node->next) {
		struct hole hole;
		if (!read_hole(node, pattern, &hole))
			continue;
		if (hole_in(set, hole))
			yaml_fault(node, "hole-twice", "hole %s stands twice in %s", node->text,
				   key);
		hole_put(set, hole);
	}
}

/* No hole can be both of two things. */
static void check_apart(const struct yaml_node *root, const char *key, const struct hole_set *set,
			const char *other_key, const struct hole_set *other)
{
	const struct yaml_node *list = yaml_get(root, key);

	if (!list || list->kind != YAML_LIST)
		return;
	for (const struct yaml_node *node = list->first; node; node = node->next) {
		struct hole hole;
		if (node->kind == YAML_SCALAR && hole_parse(node->text, &hole) &&
		    hole_in(set, hole) && hole_in(other, hole))
			yaml_fault(node, "hole-conflict", "hole %s is in %s too: it cannot be both",
				   node->text, other_key);
	}
}

static void read_hole_sets(const struct yaml_node *root, struct pattern *pattern)
{
	read_holes(root, "mains_skip", pattern, &pattern->mains_skip);
	read_holes(root, "shared", pattern, &pattern->shared);
	read_holes(root, "unused", pattern, &pattern->unused);
	check_apart(root, "shared", &pattern->shared, "mains_skip", &pattern->mains_skip);
	check_apart(root, "unused", &pattern->unused, "mains_skip", &pattern->mains_skip);
	check_apart(root, "unused", &pattern->unused, "shared", &pattern->shared);
}

/* "7H 9H 11H-18H 17T-11T": runs of labels at one end are drawn together. */
static char *list_holes(const struct hole *holes, int count)
{
	struct text list = {0};
	char label[HOLE_TEXT_MAX];

	for (int i = 0; i < count;) {
		int last = i;
		int step = 0;
		while (last + 1 < count && holes[last + 1].end == holes[i].end) {
			int next = holes[last + 1].number - holes[last].number;
			if ((next != 1 && next != -1) || (step && next != step))
				break;
			step = next;
			last++;
		}
		text_format(&list, "%s%s", i ? " " : "", hole_text(holes[i], label));
		if (last > i)
			text_format(&list, "%s%s", last > i + 1 ? "-" : " ",
				    hole_text(holes[last], label));
		i = last + 1;
	}
	return text_take(&list);
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
			pattern->mains, half, end_name(end), main, pattern->holes[end]);
}

static bool takes_cross(const struct pattern *pattern, struct hole hole)
{
	if (hole_in(&pattern->unused, hole))
		return false;
	return pattern_main_at(pattern, hole) == 0 || hole_in(&pattern->shared, hole);
}

/* The holes of one side from the centre of the head round to the centre of the throat. */
static struct hole hole_on_the_way(const struct pattern *pattern, int index)
{
	int head = pattern->holes[END_HEAD];

	if (index < head)
		return (struct hole){END_HEAD, index + 1};
	return (struct hole){END_THROAT, pattern->holes[END_THROAT] - (index - head)};
}

static void place_crosses(const struct yaml_node *root, struct pattern *pattern)
{
	struct hole found[2 * HOLES_MAX];
	int count = 0;
	int holes = pattern->holes[END_HEAD] + pattern->holes[END_THROAT];

	for (int i = 0; i < holes; i++) {
		struct hole hole = hole_on_the_way(pattern, i);
		if (takes_cross(pattern, hole))
			found[count++] = hole;
	}
	for (int c = 1; c <= pattern->crosses && c <= count; c++)
		pattern->cross_hole[c] = found[c - 1];
	if (count != pattern->crosses) {
		char *list = list_holes(found, count);
		yaml_fault_key(yaml_get(root, "crosses"), "crosses-count",
			       "%d crosses, but %d holes a side are left for crosses: %s",
			       pattern->crosses, count, list);
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

/* A tie-off is `8T`, or a map where the sides differ. */
static void read_tie_off(const struct yaml_node *node, struct pattern *pattern,
			 enum tie_off tie_off)
{
	static const char *const side_keys[] = {"left", "right", NULL};
	struct hole *holes = pattern->tie_off[tie_off];

	if (!node)
		return;
	if (node->kind == YAML_MAP) {
		if (!yaml_is_map(node, side_keys))
			return;
		read_hole(yaml_get(node, "left"), pattern, &holes[SIDE_LEFT]);
		read_hole(yaml_get(node, "right"), pattern, &holes[SIDE_RIGHT]);
	} else if (read_hole(node, pattern, &holes[SIDE_LEFT])) {
		holes[SIDE_RIGHT] = holes[SIDE_LEFT];
	}
}

static const struct yaml_node *tie_off_node(const struct yaml_node *root, enum tie_off tie_off,
					    enum side side)
{
	const struct yaml_node *node = yaml_get(yaml_get(root, "tie_off"), tie_off_keys[tie_off]);
	const struct yaml_node *of_side = yaml_get(node, side_name(side));

	return of_side ? of_side : node;
}

/* The anchor has to be there when the knot is tied: for the mains and for the start of the crosses
 * that is a main. */
static void check_anchor(const struct yaml_node *node, const struct pattern *pattern,
			 enum tie_off tie_off, struct hole hole)
{
	char label[HOLE_TEXT_MAX];
	bool main = pattern_main_at(pattern, hole) != 0;
	bool cross = pattern_cross_at(pattern, hole) != 0;

	hole_text(hole, label);
	if (hole_in(&pattern->unused, hole) || (!main && !cross))
		yaml_fault(node, "tie-off-empty",
			   "no string goes through %s: nothing to tie to there", label);
	else if (!main && tie_off != TIE_OFF_CROSS_END)
		yaml_fault(
			node, "tie-off-early",
			"only a cross goes through %s, and it is not there yet: tie off on a main",
			label);
	else if (main && cross)
		yaml_fault(node, "hole-three",
			   "%s holds a main and a cross already: a hole takes two strings at most",
			   label);
}

/* A hole takes two strings at most, so two tie-offs on one side cannot share one. The crosses start
 * and end on sides that the job plan chooses, so for those any side counts. */
static void check_rivals(const struct yaml_node *root, const struct pattern *pattern,
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
		yaml_fault(tie_off_node(root, tie_off, side), "hole-three",
			   "%s %s takes the knots of %s and %s beside its string: a hole takes two "
			   "strings at most",
			   hole_text(hole, label), side_name(side), tie_off_keys[other],
			   tie_off_keys[tie_off]);
	}
}

static void check_mains_end(const struct yaml_node *node, const struct pattern *pattern,
			    struct hole hole)
{
	enum frame_end end = pattern_main_end(pattern_mains_start(pattern), pattern_half(pattern));
	char label[HOLE_TEXT_MAX];

	if (hole.end != end)
		yaml_warn(node, "tie-off-end",
			  "the mains of this frame end at the %s, not near %s: a job will suggest "
			  "another hole",
			  end_name(end), hole_text(hole, label));
}

static void read_tie_offs(const struct yaml_node *root, struct pattern *pattern)
{
	const struct yaml_node *map = yaml_get(root, "tie_off");

	if (!yaml_is_map(map, tie_off_keys))
		return;
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++)
		read_tie_off(yaml_get(map, tie_off_keys[tie_off]), pattern, tie_off);
}

static void check_tie_offs(const struct yaml_node *root, const struct pattern *pattern)
{
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++) {
		for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
			struct hole hole = pattern->tie_off[tie_off][side];
			const struct yaml_node *node = tie_off_node(root, tie_off, side);
			if (hole.number == 0)
				continue;
			/* Written once for both sides: say it once. */
			if (side == SIDE_RIGHT && node == tie_off_node(root, tie_off, SIDE_LEFT))
				continue;
			check_anchor(node, pattern, tie_off, hole);
			check_rivals(root, pattern, tie_off, side);
			if (tie_off == TIE_OFF_MAINS)
				check_mains_end(node, pattern, hole);
		}
	}
}

static void read_measure(const struct yaml_node *map, const char *key, enum dimension dimension,
			 double min, double max, double *out)
{
	const struct yaml_node *node = yaml_get(map, key);
	struct quantity quantity;

	if (!yaml_quantity(node, dimension, &quantity))
		return;
	double value = quantity_base(quantity);
	if (value < min || value > max)
		yaml_fault(node, "value-range",
			   "%s is not plausible for a racket: expected %g to %g %s", node->text,
			   min, max, dimension == DIMENSION_AREA ? "mm2" : "mm");
	else
		*out = value;
}

static void read_head(const struct yaml_node *root, struct pattern *pattern)
{
	static const char *const keys[] = {"length", "width", "area", "beam", NULL};
	const struct yaml_node *map = yaml_get(root, "head");
	struct head *head = &pattern->head;

	head->beam_mm = beam_default_mm;
	if (!yaml_is_map(map, keys))
		return;
	yaml_need(map, "length");
	yaml_need(map, "width");
	read_measure(map, "length", DIMENSION_LENGTH, head_length_min_mm, head_length_max_mm,
		     &head->length_mm);
	read_measure(map, "width", DIMENSION_LENGTH, head_width_min_mm, head_width_max_mm,
		     &head->width_mm);
	read_measure(map, "beam", DIMENSION_LENGTH, beam_min_mm, beam_max_mm, &head->beam_mm);
	/* The hoop is a superellipse: between the diamond (n = 1) and the rectangle. */
	double rectangle = head->length_mm * head->width_mm;
	if (rectangle > 0)
		read_measure(map, "area", DIMENSION_AREA, rectangle / 2, rectangle,
			     &head->area_mm2);
}

static void read_spacing(const struct yaml_node *root, struct pattern *pattern)
{
	static const char *const keys[] = {"mains", "crosses", NULL};
	const struct yaml_node *map = yaml_get(root, "spacing");

	if (!yaml_is_map(map, keys))
		return;
	read_measure(map, "mains", DIMENSION_LENGTH, spacing_min_mm, spacing_max_mm,
		     &pattern->main_spacing_mm);
	read_measure(map, "crosses", DIMENSION_LENGTH, spacing_min_mm, spacing_max_mm,
		     &pattern->cross_spacing_mm);
}

static bool read_tension(const struct yaml_node *map, const char *key, struct quantity *out)
{
	const struct yaml_node *node = yaml_need(map, key);

	if (!yaml_quantity(node, DIMENSION_TENSION, out))
		return false;
	double newton = quantity_base(*out);
	if (newton >= tension_min_newton && newton <= tension_max_newton)
		return true;
	yaml_fault(node, "value-range", "%s is not plausible for a racket: expected %g to %g N",
		   node->text, tension_min_newton, tension_max_newton);
	return false;
}

static void read_range(const struct yaml_node *root, struct pattern *pattern)
{
	static const char *const keys[] = {"min", "max", NULL};
	const struct yaml_node *map = yaml_get(root, "tension");

	if (!yaml_is_map(map, keys))
		return;
	bool min = read_tension(map, "min", &pattern->tension_min);
	bool max = read_tension(map, "max", &pattern->tension_max);
	if (!min || !max)
		return;
	if (quantity_base(pattern->tension_min) > quantity_base(pattern->tension_max))
		yaml_fault_key(map, "tension-range", "the least tension is above the greatest");
	else
		pattern->has_range = true;
}

static struct pattern *read_pattern(struct yaml_document *document)
{
	static const char *const keys[] = {"pattern", "title",   "sport",   "mains",
					   "crosses", "holes",   "bridge",  "mains_skip",
					   "shared",  "unused",  "tie_off", "crosses_start",
					   "head",    "spacing", "tension", NULL};
	const struct yaml_node *root = document->root;
	size_t errors = document->faults->errors;
	struct pattern *pattern = memory_new(1, sizeof(*pattern));

	pattern->file = memory_copy(document->file);
	pattern->text = memory_copy(document->bytes);
	yaml_is_map(root, keys);
	read_name(root, pattern);
	read_counts(root, pattern);
	read_hole_sets(root, pattern);
	read_tie_offs(root, pattern);
	read_head(root, pattern);
	read_spacing(root, pattern);
	read_range(root, pattern);

	/* The hole map makes sense only of what was read without fault. */
	if (document->faults->errors == errors) {
		place_mains(root, pattern, END_HEAD);
		place_mains(root, pattern, END_THROAT);
	}
	if (document->faults->errors == errors) {
		check_shared(root, pattern);
		place_crosses(root, pattern);
	}
	if (document->faults->errors == errors)
		check_tie_offs(root, pattern);
	if (document->faults->errors == errors)
		return pattern;
	pattern_free(pattern);
	return NULL;
}

static struct pattern *read_document(struct yaml_document *document)
{
	struct pattern *pattern = document ? read_pattern(document) : NULL;

	yaml_free(document);
	return pattern;
}

struct pattern *pattern_read(const char *path, struct faults *faults)
{
	return read_document(yaml_read(path, faults));
}

struct pattern *pattern_read_text(const char *file, const char *text, struct faults *faults)
{
	return read_document(yaml_read_bytes(file, text, strlen(text), faults));
}
