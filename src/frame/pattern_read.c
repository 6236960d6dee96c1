/* The pattern file: its names, counts and holes. */
#include "base/base.h"
#include "frame/internal.h"

#include <stdlib.h>
#include <string.h>

static const char *const sport_names[] = {"tennis", "badminton", "squash", "racquetball", NULL};
static const char *const end_names[] = {"head", "throat", NULL};
enum { NAME_BYTES_MAX = 80, TITLE_BYTES_MAX = 160 };

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
		if (text[0] == '-' ||
		    strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-") != strlen(text))
			yaml_fault(node, "pattern-name",
				   "expected small letters, digits and hyphens, beginning with a "
				   "letter or a digit, not \"%s\"",
				   text);
		else
			check_stem(node, text);
		pattern->name = memory_copy(text);
	}
	if (yaml_text(yaml_get(root, "title"), TITLE_BYTES_MAX, &text))
		pattern->title = memory_copy(text);
	else
		pattern->title = memory_copy(pattern->name ? pattern->name : "");
}

static void read_bridge(const struct yaml_node *node, struct pattern *pattern)
{
	int holes = pattern->holes[END_THROAT];

	if (!yaml_int(node, 0, 2 * HOLES_MAX, &pattern->bridge))
		return;
	if (pattern->bridge % 2)
		yaml_fault(node, "bridge-odd",
			   "an odd number of bridge holes: count both sides together");
	else if (holes && pattern->bridge / 2 > holes)
		yaml_fault(node, "bridge-holes",
			   "%d bridge holes are %d a side, but there are %d throat holes a side",
			   pattern->bridge, pattern->bridge / 2, holes);
}

static void read_counts(const struct yaml_node *root, struct pattern *pattern)
{
	static const char *const hole_keys[] = {"head", "throat", NULL};
	const struct yaml_node *mains = yaml_need(root, "mains");
	const struct yaml_node *holes = yaml_need(root, "holes");
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
	read_bridge(yaml_need(root, "bridge"), pattern);
	yaml_choice(yaml_need(root, "crosses_start"), end_names, &start);
	pattern->crosses_start = (enum frame_end)start;
}

bool pattern_read_hole(const struct yaml_node *node, const struct pattern *pattern,
		       struct hole *out)
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
		if (!pattern_read_hole(node, pattern, &hole))
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
	pattern_read_tie_offs(root, pattern);
	pattern_read_measures(root, pattern);

	/* The rest makes sense only of what was read without fault. */
	if (document->faults->errors == errors)
		pattern_map_holes(root, pattern);
	if (document->faults->errors == errors) {
		pattern_check_tie_offs(root, pattern);
		pattern_check_measures(root, pattern);
	}
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
