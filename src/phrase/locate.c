#include "phrase/internal.h"

#include <stdbool.h>

struct walk {
	const char *at;
	const char *end;
	struct position position;
};

/* Columns count characters: bytes that continue one do not count. */
static void advance(struct walk *walk)
{
	walk->at++;
	if (walk->at[-1] == '\n')
		walk->position = (struct position){walk->position.line + 1, 1};
	else if (walk->at == walk->end || ((unsigned char)*walk->at & 0xc0) != 0x80)
		walk->position.column++;
}

static bool is_before(struct position a, struct position b)
{
	return a.line < b.line || (a.line == b.line && a.column < b.column);
}

static bool is_blank(const struct walk *walk)
{
	return walk->at < walk->end && (*walk->at == ' ' || *walk->at == '\n' || *walk->at == '\r');
}

/* A line break and the blanks around it are one space of the text. */
static bool skip_fold(struct walk *walk)
{
	struct walk ahead = *walk;
	bool breaks = false;

	while (is_blank(&ahead)) {
		breaks |= *ahead.at == '\n';
		advance(&ahead);
	}
	if (breaks)
		*walk = ahead;
	return breaks;
}

struct position locate_in(const struct yaml_node *node, size_t offset)
{
	const struct yaml_document *document = node->document;
	struct walk walk = {document->bytes, document->bytes + document->length, {1, 1}};

	while (walk.at < walk.end && is_before(walk.position, node->position))
		advance(&walk);
	char quote = '\0';
	if (!node->plain && walk.at < walk.end && (*walk.at == '\'' || *walk.at == '"')) {
		quote = *walk.at;
		advance(&walk);
	}
	for (size_t i = 0; i < offset && walk.at < walk.end; i++) {
		if (node->text[i] == ' ' && skip_fold(&walk))
			continue;
		if (*walk.at != node->text[i])
			break;
		if (quote == '\'' && *walk.at == '\'')
			advance(&walk); /* it is written twice */
		if (walk.at < walk.end)
			advance(&walk);
	}
	return walk.position;
}
