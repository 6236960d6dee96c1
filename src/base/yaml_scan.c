/* From bytes to the tree: libfyaml's events, with what we refuse refused as early as possible. */
#include "base/base.h"

#include <ctype.h>
#include <errno.h>
#include <libfyaml.h>
#include <stdlib.h>
#include <string.h>

static void document_fault(struct yaml_document *document, struct position position,
			   const char *code, const char *text)
{
	fault_add(document->faults, FAULT_ERROR, document->file, position, code, "%s", text);
}

/* What is wrong with a character of a file written by a person; NULL: nothing. */
static const char *character_fault(uint32_t point)
{
	switch (point) {
	case UTF8_BAD:
		return "not UTF-8: save the file as UTF-8 text";
	case 0:
		return "a NUL byte: this is not a text file";
	case '\t':
		return "a tab: indent and separate with spaces";
	case '\n':
	case '\r':
		return NULL;
	default:
		return point < 0x20 || point == 0x7f
			       ? "a control character: this is not a text file"
			       : NULL;
	}
}

/* Reports the first fault. The bytes are followed by a NUL. */
static bool bytes_are_text(struct yaml_document *document)
{
	const char *end = document->bytes + document->length;
	struct position position = {1, 1};

	for (const char *at = document->bytes; at < end;) {
		uint32_t point = utf8_next(&at);
		const char *fault = character_fault(point);
		if (fault) {
			document_fault(document, position, "file-text", fault);
			return false;
		}
		position.column++;
		if (point == '\n')
			position = (struct position){position.line + 1, 1};
	}
	return true;
}

/* The state of a parse: the open lists and maps, and the key whose value comes next. */
struct scan {
	struct yaml_document *document;
	struct yaml_node *open[YAML_DEPTH_MAX];
	struct yaml_node **tail[YAML_DEPTH_MAX];
	int depth;
	char *key;
	struct position key_position;
	char *mended; /* the last line whose comment ends in brackets, with the value in quotes */
	struct position hidden; /* that value */
};

/* A value that is left out has no mark: its position is that of its key, or of its list. */
static struct position event_position(const struct scan *scan, struct fy_event *event)
{
	const struct fy_mark *mark = fy_event_start_mark(event);

	if (mark)
		return (struct position){mark->line + 1, mark->column + 1};
	if (scan->key)
		return scan->key_position;
	return scan->depth > 0 ? scan->open[scan->depth - 1]->position : (struct position){1, 1};
}

static bool scan_fault(struct scan *scan, struct position position, const char *code,
		       const char *text)
{
	document_fault(scan->document, position, code, text);
	return false;
}

static struct yaml_node *attach(struct scan *scan, enum yaml_kind kind, struct position position)
{
	struct yaml_node *node = memory_new(1, sizeof(*node));

	*node = (struct yaml_node){
		.kind = kind,
		.position = position,
		.key = scan->key,
		.key_position = scan->key_position,
		.document = scan->document,
	};
	scan->key = NULL;
	if (scan->depth == 0) {
		scan->document->root = node;
	} else {
		*scan->tail[scan->depth - 1] = node;
		scan->tail[scan->depth - 1] = &node->next;
	}
	return node;
}

static bool awaits_key(const struct scan *scan)
{
	return scan->depth > 0 && scan->open[scan->depth - 1]->kind == YAML_MAP && !scan->key;
}

static bool take_key(struct scan *scan, const char *key, size_t length, struct position position)
{
	const struct yaml_node *map = scan->open[scan->depth - 1];

	scan->key = memory_copy_part(key, length);
	scan->key_position = position;
	const struct yaml_node *twin = yaml_get(map, scan->key);
	if (!twin)
		return true;
	const struct yaml_node *last = map->first;
	while (last->next)
		last = last->next;
	/* Another comma in a number ("24,5"): the reader of the map says it. */
	if (isdigit((unsigned char)scan->key[0]) && last->kind == YAML_SCALAR && last->text[0] &&
	    isdigit((unsigned char)last->text[strlen(last->text) - 1]))
		return true;
	char *text = memory_format("duplicate key \"%s\": it is on line %d already", scan->key,
				   twin->key_position.line);
	document_fault(scan->document, position, "key-duplicate", text);
	free(text);
	return false;
}

/* "job: club #12": the value is "club". With a space after it, # is meant as a comment. */
static void look_for_comment(struct scan *scan, struct fy_event *event,
			     const struct yaml_node *node)
{
	const struct fy_mark *end = fy_event_end_mark(event);
	const char *at = scan->document->bytes + (end ? end->input_pos : 0);

	at += strspn(at, " ");
	if (!end || *at != '#' || strchr(" \t\r\n#!", at[1]))
		return;
	size_t length = strcspn(at, "\r\n"), kept = length;
	while (kept > 0 && strchr(" }]", at[kept - 1]))
		kept--;
	yaml_warn(node, "value-comment",
		  "the value ends before #, which begins a comment: write \"%s %.*s\" in quotes if "
		  "it belongs to it",
		  node->text, (int)kept, at);
	if (kept == length)
		return;
	const char *value = scan->document->bytes + fy_event_start_mark(event)->input_pos;
	const char *line = value;
	while (line > scan->document->bytes && line[-1] != '\n')
		line--;
	line += strspn(line, " ");
	free(scan->mended);
	scan->mended = memory_format("%.*s\"%s %.*s\"%.*s", (int)(value - line), line, node->text,
				     (int)kept, at, (int)(length - kept), at + kept);
	scan->hidden = node->position;
}

static bool on_scalar(struct scan *scan, struct fy_event *event, struct position position)
{
	size_t length = 0;
	const char *text =
		event->scalar.value ? fy_token_get_text(event->scalar.value, &length) : "";

	if (memchr(text, '\0', length))
		return scan_fault(scan, position, "file-text", "a NUL byte in a text");
	if (awaits_key(scan))
		return take_key(scan, text, length, position);
	enum fy_scalar_style style =
		event->scalar.value ? fy_token_scalar_style(event->scalar.value) : FYSS_PLAIN;
	/* libfyaml marks the first character behind a quote. */
	if (style == FYSS_SINGLE_QUOTED || style == FYSS_DOUBLE_QUOTED)
		position.column--;
	struct yaml_node *node = attach(scan, YAML_SCALAR, position);
	node->text = memory_copy_part(text, length);
	node->plain = style == FYSS_PLAIN;
	if (node->plain && length > 0)
		look_for_comment(scan, event, node);
	return true;
}

static bool on_open(struct scan *scan, enum yaml_kind kind, struct position position)
{
	if (awaits_key(scan))
		return scan_fault(scan, position, "key-kind", "a key must be a plain word");
	if (scan->depth == YAML_DEPTH_MAX)
		return scan_fault(scan, position, "file-depth",
				  "nested too deep: at most 16 levels are read");
	struct yaml_node *node = attach(scan, kind, position);
	scan->open[scan->depth] = node;
	scan->tail[scan->depth] = &node->first;
	scan->depth++;
	return true;
}

/* False ends the scan. */
static bool on_event(struct scan *scan, struct fy_event *event)
{
	struct position position = event_position(scan, event);

	if (event->type == FYET_ALIAS || fy_event_get_anchor_token(event) ||
	    fy_event_get_tag_token(event))
		return scan_fault(
			scan, position, "yaml-feature",
			"anchors, aliases and tags are not used here: write the value itself");
	switch (event->type) {
	case FYET_SCALAR:
		return on_scalar(scan, event, position);
	case FYET_MAPPING_START:
		return on_open(scan, YAML_MAP, position);
	case FYET_SEQUENCE_START:
		return on_open(scan, YAML_LIST, position);
	case FYET_MAPPING_END:
	case FYET_SEQUENCE_END:
		scan->depth--;
		return true;
	case FYET_DOCUMENT_START:
		if (scan->document->root)
			return scan_fault(scan, position, "file-documents",
					  "a second document: one file holds one");
		return true;
	default:
		return true;
	}
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

static void report_syntax(struct scan *scan, struct fy_diag *diag)
{
	struct yaml_document *document = scan->document;
	void *cursor = NULL;
	struct fy_diag_error *error = fy_diag_errors_iterate(diag, &cursor);

	/* The first error is the cause; the others follow from it. */
	if (scan->mended)
		fault_add(document->faults, FAULT_ERROR, document->file, scan->hidden,
			  "yaml-syntax",
			  "# begins a comment, which hides the closing brackets: write %s",
			  scan->mended);
	else if (error)
		document_fault(document, (struct position){error->line, error->column},
			       "yaml-syntax", plain_words(error->msg));
	else
		document_fault(document, (struct position){1, 1}, "yaml-syntax", "not YAML");
}

static bool scan_events(struct scan *scan, struct fy_parser *parser, struct fy_diag *diag)
{
	bool going_on = true;
	struct fy_event *event;

	while (going_on && (event = fy_parser_parse(parser))) {
		going_on = on_event(scan, event);
		fy_parser_event_free(parser, event);
	}
	free(scan->key);
	if (going_on && fy_diag_got_error(diag)) {
		report_syntax(scan, diag);
		return false;
	}
	return going_on;
}

static bool scan_document(struct yaml_document *document, bool json)
{
	struct fy_diag_cfg diag_config;
	fy_diag_cfg_default(&diag_config);
	diag_config.fp = NULL;
	diag_config.colorize = false;
	struct fy_diag *diag = fy_diag_create(&diag_config);
	fy_diag_set_collect_errors(diag, true);
	struct fy_parse_cfg config = {
		.flags = FYPCF_QUIET | FYPCF_DISABLE_ACCELERATORS |
			 (json ? FYPCF_JSON_FORCE : FYPCF_JSON_NONE),
		.diag = diag,
	};
	struct fy_parser *parser = fy_parser_create(&config);
	struct scan scan = {.document = document};
	bool good = parser &&
		    fy_parser_set_string(parser, document->bytes, document->length) == 0 &&
		    scan_events(&scan, parser, diag);

	if (parser)
		fy_parser_destroy(parser);
	fy_diag_destroy(diag);
	free(scan.mended);
	return good;
}

static bool check_root(struct yaml_document *document)
{
	if (document->root && document->root->kind == YAML_MAP)
		return true;
	document_fault(document,
		       document->root ? document->root->position : (struct position){1, 1},
		       "file-empty",
		       document->root ? "expected lines of \"key: value\"" : "the file is empty");
	return false;
}

/* Takes the bytes, which a NUL follows. */
static struct yaml_document *read_document(const char *file, char *bytes, size_t length,
					   struct faults *faults, bool json)
{
	struct yaml_document *document = memory_new(1, sizeof(*document));

	*document = (struct yaml_document){
		.file = memory_copy(file), .bytes = bytes, .length = length, .faults = faults};
	if (length > YAML_BYTES_MAX)
		document_fault(document, (struct position){1, 1}, "file-size",
			       "larger than 256 KiB: this is not a file for pullcall");
	else if (bytes_are_text(document) && scan_document(document, json) && check_root(document))
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
	char *bytes = memory_new(YAML_BYTES_MAX + 2, 1);
	size_t length = in ? fread(bytes, 1, YAML_BYTES_MAX + 1, in) : 0;
	bool good = in && !ferror(in);

	if (!good)
		fault_add(faults, FAULT_ERROR, name, (struct position){0}, "file-open", "%s",
			  strerror(errno));
	if (in && in != stdin)
		fclose(in);
	if (good)
		return read_document(name, bytes, length, faults, false);
	free(bytes);
	return NULL;
}

static char *copy_bytes(const char *bytes, size_t *length)
{
	*length = *length > YAML_BYTES_MAX ? YAML_BYTES_MAX + 1 : *length;
	return memcpy(memory_new(*length + 1, 1), bytes, *length);
}

struct yaml_document *yaml_read_bytes(const char *file, const char *bytes, size_t length,
				      struct faults *faults)
{
	char *copy = copy_bytes(bytes, &length);

	return read_document(file, copy, length, faults, false);
}

struct yaml_document *yaml_read_json(const char *file, const char *bytes, size_t length,
				     struct faults *faults)
{
	char *copy = copy_bytes(bytes, &length);

	return read_document(file, copy, length, faults, true);
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

void yaml_free(struct yaml_document *document)
{
	if (!document)
		return;
	free_nodes(document->root);
	free(document->bytes);
	free(document->file);
	free(document);
}
