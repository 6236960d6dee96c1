/* The pattern file as a whole; its names and counts. */
#include "frame/internal.h"

#include <stdlib.h>
#include <string.h>

const char *const sport_names[] = {"tennis", "badminton", "squash", "racquetball", NULL};
enum { NAME_BYTES_MAX = 80, TITLE_BYTES_MAX = 160 };
enum { BEAM_DEFAULT_MM = 12 }; /* from memory, plausible */

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

static void check_name(const struct yaml_node *node, const char *name)
{
	if (name[0] == '-' || strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789-") != strlen(name))
		yaml_fault(
			node, "pattern-name",
			"expected small letters, digits and hyphens, beginning with a letter or a "
			"digit, not \"%s\"",
			name);
	else
		check_stem(node, name);
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
		{.key = "mains_skip"}, /* with their rules, below */
		{.key = "shared"},
		{.key = "unused"},
		{"tie_off", .read = pattern_read_tie_offs, .out = pattern},
		{"crosses_start", true, .choice = &pattern->crosses_start, .names = end_names},
		{"head", .read = pattern_read_head, .out = &pattern->head},
		{"spacing", .read = pattern_read_spacing, .out = pattern},
		{"tension", .read = pattern_read_range, .out = pattern},
		{0},
	};

	yaml_read_map(root, rows);
	if (pattern->name)
		check_name(yaml_get(root, "pattern"), pattern->name);
	if (!pattern->title)
		pattern->title = memory_copy(pattern->name ? pattern->name : "");
	check_counts(root, pattern);
	pattern_read_hole_sets(root, pattern);
}

static struct pattern *read_pattern(struct yaml_document *document)
{
	const struct yaml_node *root = document->root;
	size_t errors = document->faults->errors;
	struct pattern *pattern = memory_new(1, sizeof(*pattern));

	pattern->file = memory_copy(document->file);
	pattern->text = memory_copy(document->bytes);
	pattern->head.beam_mm = BEAM_DEFAULT_MM;
	read_keys(root, pattern);
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
