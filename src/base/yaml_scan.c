/* From bytes to the tree: libfyaml's events, with what we refuse refused as early as possible. */
#include "base/base.h"

#include <ctype.h>
#include <errno.h>
#include <libfyaml.h>
#include <stdlib.h>
#include <string.h>

static bool document_fault(struct yaml_document *document, struct position position,
			   const char *code, const char *text)
{
	fault_add(document->faults, FAULT_ERROR, document->file, position, code, "%s", text);
	return false;
}

/* What is wrong with a character of a file written by a person; NULL: nothing. */
static const char *character_fault(uint32_t point)
{
	if (point == UTF8_BAD)
		return "not UTF-8: save the file as UTF-8 text";
	if (point == '\0')
		return "a NUL byte: this is not a text file";
	if (point == '\t')
		return "a tab: indent and separate with spaces";
	if (point != '\n' && point != '\r' && utf8_is_control(point))
		return "a control character: this is not a text file";
	return NULL;
}

/* Reports the first fault. The bytes are followed by a NUL. */
static bool bytes_are_text(struct yaml_document *document)
{
	const char *end = document->bytes + document->length;
	struct position position = {1, 1};

	for (const char *at = document->bytes; at < end;) {
		uint32_t point = utf8_next(&at);
		const char *fault = character_fault(point);
		if (fault)
			return document_fault(document, position, "file-text", fault);
		position.column++;
		if (point == '\n')
			position = (struct position){position.line + 1, 1};
	}
	return true;
}

struct scan {
	struct yaml_document *document;
	struct fy_parser *parser;
	struct fy_event *event; /* the last one */
	size_t end;             /* where the last key or value ends, in bytes */
	int depth;
};

/* False at the end, and if it is one that we refuse. A value that is left out has no position:
 * *position is unchanged. */
static bool next_event(struct scan *scan, struct position *position)
{
	fy_parser_event_free(scan->parser, scan->event);
	struct fy_event *event = scan->event = fy_parser_parse(scan->parser);
	const struct fy_mark *start = event ? fy_event_start_mark(event) : NULL;
	const struct fy_mark *end = event ? fy_event_end_mark(event) : NULL;

	if (start)
		*position = (struct position){start->line + 1, start->column + 1};
	if (end)
		scan->end = end->input_pos;
	if (event && (event->type == FYET_ALIAS || fy_event_get_anchor_token(event) ||
		      fy_event_get_tag_token(event)))
		return document_fault(
			scan->document, *position, "yaml-feature",
			"anchors, aliases and tags are not used here: write the value itself");
	return event;
}

/* The text of a scalar; NULL with a fault if it holds a NUL. */
static char *copy_scalar(const struct scan *scan, struct position position)
{
	size_t length = 0;
	struct fy_token *token = scan->event->scalar.value;
	const char *text = token ? fy_token_get_text(token, &length) : "";

	if (!memchr(text, '\0', length))
		return memory_copy_part(text, length);
	document_fault(scan->document, position, "file-text", "a NUL byte in a text");
	return NULL;
}

static bool read_key(struct scan *scan, const struct yaml_node *map, struct yaml_node *member)
{
	if (scan->event->type != FYET_SCALAR)
		return document_fault(scan->document, member->position, "key-kind",
				      "a key must be a plain word");
	member->key_position = member->position;
	member->key = copy_scalar(scan, member->position);
	const struct yaml_node *twin = member->key ? yaml_get(map, member->key) : NULL;
	if (!twin || twin == member)
		return twin;
	char *text = memory_format("duplicate key \"%s\": it is on line %d already", member->key,
				   twin->key_position.line);
	document_fault(scan->document, member->position, "key-duplicate", text);
	free(text);
	return false;
}

/* "job: club #12": the value is "club". With a space after it, # is meant as a comment. */
static void look_for_comment(const struct scan *scan, const struct yaml_node *node)
{
	const char *at = scan->document->bytes + scan->end;

	at += strspn(at, ": ");
	if (*at != '#' || strchr(" \t\r\n#!", at[1]))
		return;
	size_t length = strcspn(at, "\r\n");
	while (strchr(" }]", at[length - 1]))
		length--;
	yaml_warn(node, "value-comment",
		  "the value ends before #, which begins a comment: write \"%s%s%.*s\" in quotes "
		  "if it belongs to it",
		  node->text, *node->text ? " " : "", (int)length, at);
}

static bool read_scalar(const struct scan *scan, struct yaml_node *node)
{
	struct fy_token *token = scan->event->scalar.value;
	enum fy_scalar_style style = token ? fy_token_scalar_style(token) : FYSS_PLAIN;

	node->text = copy_scalar(scan, node->position);
	node->plain = style == FYSS_PLAIN;
	/* libfyaml marks the first character behind a quote. */
	if (style == FYSS_SINGLE_QUOTED || style == FYSS_DOUBLE_QUOTED)
		node->position.column--;
	if (node->text && node->plain)
		look_for_comment(scan, node);
	return node->text;
}

/* In { mains: 24,5 kg } the comma ends a value, and "5 kg" is taken for the next key. */
static bool join_number(struct yaml_node *before, const struct yaml_node *node)
{
	size_t length = before && before->text ? strlen(before->text) : 0;

	if (length == 0 || !isdigit((unsigned char)before->text[length - 1]) || !node->key ||
	    !isdigit((unsigned char)node->key[0]) || !node->plain || *node->text)
		return false;
	char *number = memory_format("%s,%s", before->text, node->key);
	free(before->text);
	before->text = number;
	before->cut = true;
	return true;
}

/* The depth is bounded by YAML_DEPTH_MAX, so recursion is too. */
static void free_nodes(struct yaml_node *node)
{
	while (node) {
		struct yaml_node *next = node->next;
		free_nodes(node->first);
		free(node->text);
		free(node->key);
		free(node);
		node = next;
	}
}

/* Reads the value that the last event begins, with all that is in it. */
static bool read_value(struct scan *scan, struct yaml_node *node)
{
	struct yaml_node **end = &node->first, *before = NULL;

	if (scan->event->type == FYET_SCALAR)
		return read_scalar(scan, node);
	node->kind = scan->event->type == FYET_MAPPING_START ? YAML_MAP : YAML_LIST;
	if (++scan->depth > YAML_DEPTH_MAX)
		return document_fault(scan->document, node->position, "file-depth",
				      "nested too deep: at most 16 levels are read");
	for (;;) {
		struct position position = node->position;
		if (!next_event(scan, &position))
			return false;
		if (scan->event->type == FYET_MAPPING_END || scan->event->type == FYET_SEQUENCE_END)
			break;
		struct yaml_node *member = *end = memory_new(1, sizeof(*member));
		*member = (struct yaml_node){.position = position, .document = scan->document};
		if (node->kind == YAML_MAP &&
		    (!read_key(scan, node, member) || !next_event(scan, &member->position)))
			return false;
		if (!read_value(scan, member))
			return false;
		if (join_number(before, member)) {
			free_nodes(member);
			*end = NULL;
			continue;
		}
		before = member;
		end = &member->next;
	}
	scan->depth--;
	return true;
}

static bool read_events(struct scan *scan)
{
	struct yaml_document *document = scan->document;
	struct position position = {1, 1};

	while (next_event(scan, &position)) {
		switch (scan->event->type) {
		case FYET_STREAM_START:
		case FYET_DOCUMENT_END:
			break;
		case FYET_DOCUMENT_START:
			if (document->root)
				return document_fault(document, position, "file-documents",
						      "a second document: one file holds one");
			break;
		case FYET_STREAM_END:
			return true;
		default:
			document->root = memory_new(1, sizeof(*document->root));
			*document->root =
				(struct yaml_node){.position = position, .document = document};
			if (!read_value(scan, document->root))
				return false;
		}
	}
	return false;
}

/* What some slips of the hand are called by libfyaml, and what to do about them. */
static const char *plain_words(const char *message)
{
	if (strstr(message, "nested block mapping"))
		return "a colon inside a value: write the value in quotes";
	if (strstr(message, "multiline plain key"))
		return "the next line is indented too far: keys of one map begin in the same column";
	if (strstr(message, "missing comma in flow"))
		return "expected a comma between two keys, or the closing bracket";
	return message;
}

/* The first error is the cause; the others follow from it. */
static void report_syntax(struct yaml_document *document, struct fy_diag *diag)
{
	void *cursor = NULL;
	const struct fy_diag_error *error = fy_diag_errors_iterate(diag, &cursor);

	if (error)
		document_fault(document, (struct position){error->line, error->column},
			       "yaml-syntax", plain_words(error->msg));
	else
		document_fault(document, (struct position){1, 1}, "yaml-syntax", "not YAML");
}

static bool scan_document(struct yaml_document *document, bool json)
{
	const struct fy_parse_cfg config = {
		.flags = FYPCF_QUIET | FYPCF_DISABLE_ACCELERATORS |
			 (json ? FYPCF_JSON_FORCE : FYPCF_JSON_NONE),
	};
	struct fy_parser *parser = fy_parser_create(&config);

	if (!parser)
		memory_fail();
	struct fy_diag *diag = fy_parser_get_diag(parser);
	struct scan scan = {.document = document, .parser = parser};
	fy_diag_set_collect_errors(diag, true);
	bool good = fy_parser_set_string(parser, document->bytes, document->length) == 0 &&
		    read_events(&scan);
	if (!good && yaml_is_good(document))
		report_syntax(document, diag);
	fy_parser_event_free(parser, scan.event);
	fy_parser_destroy(parser);
	fy_diag_destroy(diag); /* the errors too: fy_diag_unref leaves them */
	return good;
}

static bool check_root(struct yaml_document *document)
{
	const struct yaml_node *root = document->root;

	if (root && root->kind == YAML_MAP)
		return true;
	return document_fault(document, root ? root->position : (struct position){1, 1},
			      "file-empty",
			      root ? "expected lines of \"key: value\"" : "the file is empty");
}

static struct yaml_document *read_bytes(const char *file, const char *bytes, size_t length,
					struct faults *faults, bool json)
{
	struct yaml_document *document = memory_new(1, sizeof(*document));
	bool fits = length <= YAML_BYTES_MAX;

	*document = (struct yaml_document){.file = memory_copy(file),
					   .length = length,
					   .faults = faults,
					   .errors_before = faults->errors};
	if (fits)
		document->bytes = memcpy(memory_new(length + 1, 1), bytes, length);
	else
		document_fault(document, (struct position){1, 1}, "file-size",
			       "larger than 256 KiB: this is not a file for pullcall");
	if (fits && bytes_are_text(document) && scan_document(document, json) &&
	    check_root(document))
		return document;
	yaml_free(document);
	return NULL;
}

/* Reads at most one byte more than is allowed, so that even /dev/zero ends. */
struct yaml_document *yaml_read(const char *path, struct faults *faults)
{
	bool standard_input = strcmp(path, "-") == 0;
	const char *name = standard_input ? "<standard input>" : path;
	FILE *in = standard_input ? stdin : fopen(path, "re");
	char *bytes = memory_new(YAML_BYTES_MAX + 1, 1);
	size_t length = in ? fread(bytes, 1, YAML_BYTES_MAX + 1, in) : 0;
	struct yaml_document *document = NULL;

	if (in && !ferror(in))
		document = read_bytes(name, bytes, length, faults, false);
	else
		fault_add(faults, FAULT_ERROR, name, (struct position){0}, "file-open", "%s",
			  strerror(errno));
	if (in && in != stdin)
		fclose(in);
	free(bytes);
	return document;
}

struct yaml_document *yaml_read_text(const char *file, const char *text, struct faults *faults)
{
	return read_bytes(file, text, strlen(text), faults, false);
}

struct yaml_document *yaml_read_json(const char *file, const char *bytes, size_t length,
				     struct faults *faults)
{
	return read_bytes(file, bytes, length, faults, true);
}

void yaml_free(struct yaml_document *document)
{
	if (!document)
		return;
	free_nodes(document->root);
	free(document->bytes);
	free(document->file);
	free(document);
}
