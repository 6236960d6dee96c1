/* The pattern file as a whole; its names and counts. */
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
	pattern_read_hole_sets(root, pattern);
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
