/* Reads a pattern file: its keys, then the hole map that follows from them, then whether all that
 * fits together. Each step is taken only if those before it found no fault. */
#include "frame/internal.h"

#include <stdlib.h>
#include <string.h>

/* ---- Holes ---- */

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
				sets[i].set->bits[hole.end] |= UINT64_C(1) << hole.number;
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

/* ---- Names and counts ---- */

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
		{"head", .read = pattern_read_head, .out = &pattern->head},
		{"spacing", .read = pattern_read_spacing, .out = pattern},
		{"tension", .read = pattern_read_tension, .out = pattern},
		{0},
	};

	yaml_read_map(root, rows);
	if (pattern->name)
		check_name(yaml_get(root, "pattern"), pattern->name);
	if (!pattern->title)
		pattern->title = memory_copy(pattern->name ? pattern->name : "");
	check_counts(root, pattern);
}

/* ---- The hole map: which hole each string takes ---- */

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

/* ---- Tie-offs: their anchor has to be there, and their hole to have room ---- */

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

/* ---- The whole file ---- */

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
		pattern_check_measures(root, pattern);
	}
	if (!yaml_is_good(document)) {
		pattern_free(pattern);
		pattern = NULL;
	}
	yaml_free(document);
	return pattern;
}
