/* What a review needs of a job's plan, as it was on the day. Plans are read leniently: an old one
 * may have keys that today's reader does not know. */
#include "review/internal.h"

#include "base/base.h"

#include <stdlib.h>
#include <string.h>

static const char *const details[] = {"learner", "bench", "quick"};

enum { DETAILS = sizeof details / sizeof details[0], BENCH = 1 };

/* The detail of a plan written the usual way, a line "detail: quick"; NULL: look closer. */
static const char *quick_detail(const char *plan)
{
	const char *key = strstr(plan, "detail");

	if (!key)
		return details[BENCH];
	if ((key > plan && key[-1] != '\n') || strncmp(key, "detail: ", 8) != 0 ||
	    strstr(key + 8, "\ndetail"))
		return NULL;
	size_t length = strcspn(key + 8, " \r\n");
	for (int i = 0; i < DETAILS; i++) {
		if (strlen(details[i]) == length && strncmp(key + 8, details[i], length) == 0)
			return details[i];
	}
	return NULL;
}

const char *plan_detail(const char *plan)
{
	const char *found = quick_detail(plan), *text = NULL;

	if (found)
		return found;
	struct faults faults = {0};
	struct yaml_document *document = yaml_read_bytes("plan", plan, strlen(plan), &faults);
	found = details[BENCH];
	if (document && yaml_text(yaml_get(document->root, "detail"), 20, &text)) {
		for (int i = 0; i < DETAILS; i++) {
			if (strcmp(details[i], text) == 0)
				found = details[i];
		}
	}
	yaml_free(document);
	faults_free(&faults);
	return found;
}
