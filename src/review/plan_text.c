/* Reads tension and string from a job's plan for an export. Unknown keys are ignored: the plan may
 * be old. */
#include "review/internal.h"

#include "base/base.h"

#include <string.h>

static struct yaml_document *read_plan(const char *plan)
{
	struct faults faults = {0};
	struct yaml_document *document = yaml_read_bytes("plan", plan, strlen(plan), &faults);

	if (document)
		document->faults = NULL;
	faults_free(&faults);
	return document;
}

/* plan_value(TEXT, KEY, PART): the tension or string (KEY) of the mains or crosses (PART), or of
 * both: `tension: { mains: 54 lb }`, `string: { name: multifilament 1.30 }`. */
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
