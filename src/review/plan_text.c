/* What a review needs of a job's plan, as it was on the day. Plans are read leniently: an old one
 * may have keys that today's reader does not know. */
#include "review/internal.h"

#include "base/base.h"

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

static struct yaml_document *read_plan(const char *plan)
{
	struct faults faults = {0};
	struct yaml_document *document = yaml_read_bytes("plan", plan, strlen(plan), &faults);

	if (document)
		document->faults = NULL;
	faults_free(&faults);
	return document;
}

const char *plan_detail(const char *plan)
{
	const char *found = quick_detail(plan), *text = NULL;

	if (found)
		return found;
	struct yaml_document *document = read_plan(plan);
	found = details[BENCH];
	if (document && yaml_get(document->root, "detail"))
		text = yaml_get(document->root, "detail")->text;
	for (int i = 0; text && i < DETAILS; i++) {
		if (strcmp(details[i], text) == 0)
			found = details[i];
	}
	yaml_free(document);
	return found;
}

/* plan_value(TEXT, KEY, PART): what the plan says of the tension or the string of its mains or
 * crosses, or of both: `tension: { mains: 54 lb }`, `string: { name: multifilament 1.30 }`. */
static void plan_value(sqlite3_context *context, int count, sqlite3_value **values)
{
	(void)count;
	struct yaml_document *document = read_plan((const char *)sqlite3_value_text(values[0]));
	const struct yaml_node *node =
		document ? yaml_get(document->root, (const char *)sqlite3_value_text(values[1]))
			 : NULL;
	const struct yaml_node *part =
		node ? yaml_get(node, (const char *)sqlite3_value_text(values[2])) : NULL;

	part = part ? part : node;
	const struct yaml_node *name = part ? yaml_get(part, "name") : NULL;
	part = name ? name : part;
	if (part && part->kind == YAML_SCALAR)
		sqlite3_result_text(context, part->text, -1, SQLITE_TRANSIENT);
	yaml_free(document);
}

void plan_functions(sqlite3 *database)
{
	sqlite3_create_function(database, "plan_value", 3,
				SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_DIRECTONLY, NULL,
				plan_value, NULL, NULL);
}
