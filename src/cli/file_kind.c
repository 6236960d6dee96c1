#include "cli/cli.h"

static bool has_any(const struct yaml_document *document, const char *const *keys)
{
	for (; *keys; keys++)
		if (yaml_get(document->root, *keys))
			return true;
	return false;
}

enum file_kind file_kind_of(const struct yaml_document *document)
{
	static const char *const job[] = {"job", "stringer", "method", NULL};
	static const char *const pattern[] = {"pattern", "mains", "crosses", NULL};
	static const char *const phrasebook[] = {"phrasebook", "calls", "notices", NULL};

	if (has_any(document, job))
		return FILE_JOB;
	if (has_any(document, pattern))
		return FILE_PATTERN;
	return has_any(document, phrasebook) ? FILE_PHRASEBOOK : FILE_BENCH;
}
