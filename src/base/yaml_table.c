/* Maps read by a table of their keys. */
#include "base/base.h"

#include <stdlib.h>
#include <string.h>

enum { ROWS_MAX = 24 };

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

	if (!yaml_quantity(node, row->dimension, &quantity))
		return false;
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
	else
		*row->base = value;
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
	if (row->quantity || row->base)
		return read_quantity(node, row);
	if (row->read)
		row->read(node, row->out);
	return true;
}

/* Whether an unknown key was meant for this one: then it is told, and that this one is missing only
 * follows. */
static bool is_misspelt(const struct yaml_node *map, const char *const *keys, const char *key)
{
	for (const struct yaml_node *member = map->first; member; member = member->next) {
		const char *meant = fault_did_you_mean(member->key, keys);
		if (meant && strcmp(meant, key) == 0 && strcmp(member->key, key) != 0)
			return true;
	}
	return false;
}

bool yaml_read_map(const struct yaml_node *node, const struct yaml_row *rows)
{
	const char *keys[ROWS_MAX + 1] = {0};

	for (int i = 0; i < ROWS_MAX && rows[i].key; i++)
		keys[i] = rows[i].key;
	if (!yaml_is_map(node, keys))
		return false;
	for (const struct yaml_row *row = rows; row->key; row++) {
		const struct yaml_node *value = yaml_get(node, row->key);
		if (!value && row->needed && !is_misspelt(node, keys, row->key))
			yaml_need(node, row->key);
		if (!value)
			continue;
		if (row->position)
			*row->position = value->position;
		if (yaml_read_value(value, row) && row->given)
			*row->given = true;
	}
	return true;
}
