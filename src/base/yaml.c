/* Readers of the tree: one value each, or a map by a table of its keys. */
#include "base/base.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { ROWS_MAX = 24 };

bool yaml_is_good(const struct yaml_document *document)
{
	return document->faults->errors == document->errors_before;
}

size_t yaml_offset(const struct yaml_document *document, struct position position)
{
	const char *at = document->bytes;

	for (int line = 1; line < position.line; line++)
		at = strchr(at, '\n') + 1;
	for (int column = 1; column < position.column; column++)
		utf8_next(&at);
	return (size_t)(at - document->bytes);
}

struct yaml_node *yaml_get(const struct yaml_node *map, const char *key)
{
	if (!map || map->kind != YAML_MAP)
		return NULL;
	for (struct yaml_node *node = map->first; node; node = node->next)
		if (strcmp(node->key, key) == 0)
			return node;
	return NULL;
}

struct yaml_node *yaml_need(const struct yaml_node *map, const char *key)
{
	struct yaml_node *node = yaml_get(map, key);

	if (!node && map && map->kind == YAML_MAP)
		yaml_fault_key(map, "key-missing", "key \"%s\" is missing%s%s", key,
			       map->key ? " in " : "", map->key ? map->key : "");
	return node;
}

const char *yaml_scalar(const struct yaml_node *map, const char *keys)
{
	const struct yaml_node *node = map;

	while (node && *keys) {
		size_t length = strcspn(keys, "/");
		char *key = memory_copy_part(keys, length);
		node = yaml_get(node, key);
		free(key);
		keys += length + (keys[length] == '/');
	}
	return node && node->kind == YAML_SCALAR ? node->text : NULL;
}

/* A misspelt key becomes the one that was meant: it is not missing too, and the faults in its value
 * are found. */
static void report_unknown(const struct yaml_node *map, struct yaml_node *node,
			   const char *const *keys)
{
	const char *meant = fault_did_you_mean(node->key, keys);
	const char *colon = strchr(node->key, ':');
	char *why = fault_unknown("key", node->key, keys);

	if (colon)
		yaml_fault_key(node, "key-unknown",
			       "write \"%.*s: %s\", with a space after the colon",
			       (int)(colon - node->key), node->key, colon + 1);
	else
		yaml_fault_key(node, "key-unknown", "%s", why);
	free(why);
	if (meant && !yaml_get(map, meant))
		memory_replace(&node->key, meant);
}

bool yaml_is_map(const struct yaml_node *node, const char *const *keys)
{
	if (!node)
		return false;
	if (node->kind != YAML_MAP) {
		char *list = text_choice(keys);
		yaml_fault(node, "value-kind", "expected a map with the keys %s", list);
		free(list);
		return false;
	}
	for (struct yaml_node *member = node->first; member; member = member->next) {
		const char *const *key = keys;
		while (*key && strcmp(*key, member->key) != 0)
			key++;
		if (!*key)
			report_unknown(node, member, keys);
	}
	return true;
}

bool yaml_is_list(const struct yaml_node *node)
{
	if (!node)
		return false;
	if (node->kind == YAML_LIST)
		return true;
	yaml_fault(node, "value-kind", "expected a list such as [a, b]");
	return false;
}

static bool is_scalar(const struct yaml_node *node, const char *expected)
{
	if (!node)
		return false;
	if (node->kind != YAML_SCALAR)
		yaml_fault(node, "value-kind", "expected %s, not a %s", expected,
			   node->kind == YAML_LIST ? "list" : "map");
	else if (node->text[0] == '\0')
		yaml_fault(node, "value-empty", "expected %s, but nothing is there", expected);
	else
		return true;
	return false;
}

/* A file may not hold any, but an escape in quotes can write one. */
static bool has_control(const char *text)
{
	while (*text)
		if (utf8_is_control(utf8_next(&text)))
			return true;
	return false;
}

bool yaml_text(const struct yaml_node *node, size_t length_max, const char **out)
{
	if (!is_scalar(node, "a text"))
		return false;
	if (strlen(node->text) > length_max) {
		yaml_fault(node, "value-length", "longer than %zu bytes", length_max);
		return false;
	}
	if (has_control(node->text)) {
		yaml_fault(node, "value-control",
			   "expected a text of one line without control characters");
		return false;
	}
	if (node->cut) {
		yaml_fault(node, "key-unknown",
			   "write %s: \"%s\", in quotes: a comma ends the value", node->key,
			   node->text);
		return false;
	}
	*out = node->text;
	return true;
}

bool yaml_int(const struct yaml_node *node, int min, int max, int *out)
{
	if (!is_scalar(node, "a whole number"))
		return false;
	const char *digits = node->text[0] == '-' ? node->text + 1 : node->text;
	size_t count = strspn(digits, "0123456789");
	bool is_number = count > 0 && count <= 9 && digits[count] == '\0' &&
			 (count == 1 || digits[0] != '0');
	long value = is_number ? strtol(node->text, NULL, 10) : 0;
	if (!is_number || value < min || value > max) {
		yaml_fault(node, "value-number",
			   "expected a whole number from %d to %d, not \"%s\"", min, max,
			   node->text);
		return false;
	}
	*out = (int)value;
	return true;
}

bool yaml_choice(const struct yaml_node *node, const char *const *names, int *out)
{
	const char *meant = NULL;

	if (!node)
		return false;
	for (int i = 0; node->kind == YAML_SCALAR && names[i]; i++) {
		if (strcmp(names[i], node->text) == 0) {
			*out = i;
			return true;
		}
		if (strcasecmp(names[i], node->text) == 0)
			meant = names[i];
	}
	char *list = text_choice(names);
	if (meant)
		yaml_fault(node, "value-choice", "write \"%s\", not \"%s\"", meant, node->text);
	else if (node->kind == YAML_SCALAR)
		yaml_fault(node, "value-choice", "expected %s, not \"%s\"", list, node->text);
	else
		yaml_fault(node, "value-choice", "expected %s", list);
	free(list);
	return false;
}

static bool read_text(const struct yaml_node *node, const struct yaml_row *row)
{
	const char *text;

	if (!yaml_text(node, (size_t)row->most, &text))
		return false;
	memory_replace(row->text, text);
	return true;
}

static bool read_choice(const struct yaml_node *node, const struct yaml_row *row)
{
	static const char *const no_or_yes[] = {"no", "yes", NULL};
	int choice;

	if (!yaml_choice(node, row->yes ? no_or_yes : row->names, &choice))
		return false;
	if (row->yes)
		*row->yes = choice == 1;
	else
		*row->choice = (unsigned)choice;
	return true;
}

static bool read_quantity(const struct yaml_node *node, const struct yaml_row *row)
{
	struct quantity quantity;
	char *why = NULL;

	if (!is_scalar(node, "a number and its unit"))
		return false;
	if (!quantity_parse(node->text, row->us ? DIMENSION_TIME : row->dimension, &quantity,
			    &why)) {
		yaml_fault(node, "value-quantity", "%s", why);
		free(why);
		return false;
	}
	double value = quantity_base(quantity);
	if (row->least < row->most && (value < row->least || value > row->most)) {
		char *range = quantity_range(row->least, row->most, quantity.unit);
		yaml_fault(node, "value-range", "%s is not plausible: expected %s", node->text,
			   range);
		free(range);
		return false;
	}
	if (row->quantity)
		*row->quantity = quantity;
	else if (row->base)
		*row->base = value;
	else
		*row->us = (int64_t)(value * (double)SECOND_US);
	return true;
}

bool yaml_read_value(const struct yaml_node *node, const struct yaml_row *row)
{
	if (row->map)
		return yaml_read_map(node, row->map);
	if (row->text)
		return read_text(node, row);
	if (row->number)
		return yaml_int(node, (int)row->least, (int)row->most, row->number);
	if (row->choice || row->yes)
		return read_choice(node, row);
	if (row->quantity || row->base || row->us)
		return read_quantity(node, row);
	if (row->read)
		row->read(node, row->out);
	else if (row->each && yaml_is_list(node))
		for (const struct yaml_node *item = node->first; item; item = item->next)
			row->each(item, row->out);
	return true;
}

bool yaml_read_map(const struct yaml_node *node, const struct yaml_row *rows)
{
	const char *keys[ROWS_MAX + 1] = {0};

	for (int i = 0; i < ROWS_MAX && rows[i].key; i++)
		keys[i] = rows[i].key;
	if (!yaml_is_map(node, keys))
		return false;
	for (const struct yaml_row *row = rows; row->key; row++) {
		const struct yaml_node *value =
			(row->needed ? yaml_need : yaml_get)(node, row->key);
		if (!value)
			continue;
		if (row->position)
			*row->position = value->position;
		if (yaml_read_value(value, row) && row->given)
			*row->given = true;
	}
	return true;
}
