#include "cli/cli.h"

#include <strings.h>

/* In any case: a reader says better than we can that a key is written small. */
static int count_keys(const struct yaml_document *document, const char *const *keys)
{
	int count = 0;

	for (; *keys; keys++)
		for (const struct yaml_node *node = document->root->first; node; node = node->next)
			count += strcasecmp(node->key, *keys) == 0;
	return count;
}

bool file_kind_find(const struct yaml_document *document, enum file_kind *out)
{
	/* Of tension, pattern and string both plans and patterns may have some: they tell nothing.
	 */
	static const char *const keys[][9] = {
		[FILE_JOB] = {"job", "stringer", "method", "adjust", "order", "weave", "detail"},
		[FILE_PATTERN] = {"title", "sport", "mains", "crosses", "holes", "bridge",
				  "crosses_start", "tie_off"},
		[FILE_PHRASEBOOK] = {"phrasebook", "calls", "notices", "numbers", "plural"},
		[FILE_BENCH] = {"pedals", "gestures", "voice", "sound", "speak", "reach",
				"machine"},
	};
	int most = 0;

	for (enum file_kind kind = FILE_JOB; kind <= FILE_BENCH; kind++) {
		int count = count_keys(document, keys[kind]);
		if (count <= most)
			continue;
		most = count;
		*out = kind;
	}
	if (most == 0)
		fault_add(document->faults, FAULT_ERROR, document->file, document->root->position,
			  "file-kind",
			  "neither a job plan (it would have the key \"job\"), nor a pattern "
			  "(\"mains\"), a phrasebook (\"calls\") or a bench file (\"voice\", "
			  "\"pedals\")");
	return most > 0;
}
