#include "base/base.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

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

/* "Job": reported as unknown, with the way to write it. */
static bool is_in_capitals(const struct yaml_node *map, const char *key)
{
	for (const struct yaml_node *node = map->first; node; node = node->next)
		if (strcasecmp(node->key, key) == 0)
			return true;
	return false;
}

struct yaml_node *yaml_need(const struct yaml_node *map, const char *key)
{
	struct yaml_node *node = yaml_get(map, key);

	if (!node && map && map->kind == YAML_MAP && !is_in_capitals(map, key))
		yaml_fault_key(map, "key-missing", "key \"%s\" is missing%s%s", key,
			       map->key ? " in " : "", map->key ? map->key : "");
	return node;
}

/* In { mains: 24,5 kg } the comma ends a value, and "5 kg" is taken for the next key. */
static bool is_cut_by_comma(const struct yaml_node *node, const struct yaml_node *next)
{
	return next && next->key && isdigit((unsigned char)next->key[0]) &&
	       node->kind == YAML_SCALAR && node->text[0] != '\0' &&
	       isdigit((unsigned char)node->text[strlen(node->text) - 1]);
}

static bool report_comma(const struct yaml_node *map, const struct yaml_node *node)
{
	const struct yaml_node *before = map->first;

	while (before && before->next != node)
		before = before->next;
	if (!before || !is_cut_by_comma(before, node))
		return false;
	if (before->text[strspn(before->text, "+-0123456789")])
		yaml_fault_key(node, "key-unknown",
			       "write %s: \"%s,%s\", in quotes: a comma ends the value",
			       before->key, before->text, node->key);
	else
		yaml_fault_key(node, "key-unknown",
			       "write \"%s.%s\", with a point: a comma ends the value",
			       before->text, node->key);
	return true;
}

/* { mains:54 lb }: without a space after it, the colon is part of the key. */
static bool report_colon(const struct yaml_node *node)
{
	const char *colon = strchr(node->key, ':');

	if (!colon)
		return false;
	yaml_fault_key(node, "key-unknown", "write \"%.*s: %s\", with a space after the colon",
		       (int)(colon - node->key), node->key, colon + 1);
	return true;
}

static void report_unknown(const struct yaml_node *node, const char *const *keys)
{
	const char *nearest = fault_did_you_mean(node->key, keys);

	if (nearest) {
		yaml_fault_key(node, "key-unknown", "unknown key \"%s\": did you mean \"%s\"?",
			       node->key, nearest);
		return;
	}
	char *list = text_choice(keys);
	yaml_fault_key(node, "key-unknown", "unknown key \"%s\": expected %s", node->key, list);
	free(list);
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
	for (const struct yaml_node *member = node->first; member; member = member->next) {
		const char *const *key = keys;
		while (*key && strcmp(*key, member->key) != 0)
			key++;
		if (!*key && !report_comma(node, member) && !report_colon(member))
			report_unknown(member, keys);
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

static void report_empty(const struct yaml_node *node, const char *expected)
{
	const struct yaml_document *document = node->document;
	const char *rest = "";

	if (node->plain && node->key) {
		rest = document->bytes + yaml_offset(document, node->key_position);
		rest += strcspn(rest, ":\r\n");
		rest += strspn(rest, ": ");
	}
	if (*rest == '#')
		yaml_fault(node, "value-empty",
			   "the value is empty, because # begins a comment: write %s: \"%.*s\"",
			   node->key, (int)strcspn(rest, "\r\n"), rest);
	else
		yaml_fault(node, "value-empty", "expected %s, but nothing is there", expected);
}

static bool is_scalar(const struct yaml_node *node, const char *expected)
{
	if (!node)
		return false;
	if (node->kind != YAML_SCALAR) {
		yaml_fault(node, "value-kind", "expected %s, not a %s", expected,
			   node->kind == YAML_LIST ? "list" : "map");
		return false;
	}
	if (node->text[0] == '\0') {
		report_empty(node, expected);
		return false;
	}
	return true;
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

bool yaml_quantity(const struct yaml_node *node, enum dimension dimension, struct quantity *out)
{
	char *why = NULL;

	if (!is_scalar(node, "a number and its unit"))
		return false;
	bool good = quantity_parse(node->text, dimension, out, &why);
	if (!good && !is_cut_by_comma(node, node->next))
		yaml_fault(node, "value-quantity", "%s", why);
	free(why);
	return good;
}
