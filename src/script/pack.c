/* A script as bytes: a byte for the version, four for the length of what is compressed (the least
 * significant first), and a zlib stream, whose checksum notices damage. What is compressed is a row
 * of texts, each ended by a NUL; numbers are written in decimal. An absent text is empty. */
#include "script/internal.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* Room for 2000 learner's lines and the largest files that are read. */
enum {
	PACK_VERSION = 4,
	PACK_HEAD = 5,
	PACK_BYTES_MAX = 16 * 1024 * 1024,
	PACK_NUMBER_MAX = 10000000,
};

static void add_text(struct text *out, const char *text)
{
	text_add(out, text ? text : "");
	text_add_char(out, '\0');
}

static void add_number(struct text *out, uint64_t number)
{
	text_format(out, "%" PRIu64, number);
	text_add_char(out, '\0');
}

#define AT(name) offsetof(struct script_line, name)
static const size_t line_numbers[] = {
	AT(number),     AT(weight_s),     AT(call),   AT(cut_mm),
	AT(left.mains), AT(left.crosses), AT(mishap),
};
static const size_t line_bits[] = {
	AT(bed.left),  AT(bed.right),  AT(bed.crosses),
	AT(redo.left), AT(redo.right), AT(redo.crosses),
};
enum {
	LINE_NUMBERS = sizeof line_numbers / sizeof *line_numbers,
	LINE_BITS = sizeof line_bits / sizeof *line_bits,
};

static void *member(struct script_line *line, size_t offset)
{
	return (char *)line + offset;
}

static void add_line(struct text *out, struct script_line line)
{
	for (int i = 0; i < SCRIPT_LINE_TEXTS; i++)
		add_text(out, *script_text_at(&line, script_line_texts[i]));
	for (int i = 0; i < LINE_NUMBERS; i++)
		add_number(out, (uint64_t) * (int *)member(&line, line_numbers[i]));
	for (int i = 0; i < LINE_BITS; i++)
		add_number(out, *(uint64_t *)member(&line, line_bits[i]));
}

static void add_mishap(struct text *out, const struct script_mishap *mishap)
{
	add_text(out, mishap->kind);
	add_text(out, mishap->string);
	add_text(out, mishap->side);
	add_number(out, (uint64_t)mishap->number);
	add_number(out, (uint64_t)mishap->line);
	add_number(out, (uint64_t)mishap->made);
	add_number(out, (uint64_t)mishap->undone);
}

static void compress_into(const struct text *plain, struct text *out)
{
	uLongf size = compressBound(plain->length);
	unsigned char *bytes = memory_new(PACK_HEAD + size, 1);

	bytes[0] = PACK_VERSION;
	for (int i = 0; i < 4; i++)
		bytes[1 + i] = (unsigned char)(plain->length >> (8 * i));
	int result = compress(bytes + PACK_HEAD, &size, (const Bytef *)plain->bytes, plain->length);
	if (result != Z_OK) /* there is room enough: only memory can be missing */
		memory_fail();
	text_add_part(out, (const char *)bytes, PACK_HEAD + size);
	free(bytes);
}

void script_pack(const struct script *script, struct text *out)
{
	struct script facts = *script;
	struct text plain = {0};

	for (int i = 0; i < SCRIPT_FACTS; i++)
		add_text(&plain, *script_text_at(&facts, script_facts[i]));
	add_number(&plain, (uint64_t)script->whole.mains);
	add_number(&plain, (uint64_t)script->whole.crosses);
	add_number(&plain, script->says_short);
	add_number(&plain, (uint64_t)script->count);
	for (int i = 0; i < script->count; i++)
		add_line(&plain, script->lines[i]);
	add_number(&plain, (uint64_t)script->mishap_count);
	for (int i = 0; i < script->mishap_count; i++)
		add_mishap(&plain, &script->mishaps[i]);
	compress_into(&plain, out);
	text_free(&plain);
}

/* ---- and back ---- */

struct reader {
	const char *at;
	const char *end;
	bool good;
};

static const char *take_text(struct reader *reader)
{
	const char *text = reader->at;
	const char *end = memchr(text, '\0', (size_t)(reader->end - text));

	if (!end) {
		reader->good = false;
		return "";
	}
	reader->at = end + 1;
	return text;
}

static uint64_t take_bits(struct reader *reader, uint64_t max)
{
	const char *text = take_text(reader);
	size_t digits = strspn(text, "0123456789");
	uint64_t number = strtoull(text, NULL, 10);

	if (digits > 0 && digits <= 20 && text[digits] == '\0' && number <= max)
		return number;
	reader->good = false;
	return 0;
}

static int take_number(struct reader *reader, int max)
{
	return (int)take_bits(reader, (uint64_t)max);
}

static const char *or_null(const char *text)
{
	return *text ? text : NULL;
}

static struct script_line take_line(struct reader *reader)
{
	struct script_line line = {0};

	for (int i = 0; i < SCRIPT_LINE_TEXTS; i++)
		*script_text_at(&line, script_line_texts[i]) = take_text(reader);
	line.string = or_null(line.string);
	line.side = or_null(line.side);
	for (int i = 0; i < LINE_NUMBERS; i++)
		*(int *)member(&line, line_numbers[i]) = take_number(reader, PACK_NUMBER_MAX);
	for (int i = 0; i < LINE_BITS; i++)
		*(uint64_t *)member(&line, line_bits[i]) = take_bits(reader, UINT64_MAX);
	return line;
}

/* One of the names, or NULL for an empty text. */
static const char *take_name(struct reader *reader, const char *const *names)
{
	const char *text = take_text(reader);

	for (; *names; names++)
		if (strcmp(*names, text) == 0)
			return *names;
	reader->good = reader->good && !*text;
	return NULL;
}

static bool take_mishap(struct reader *reader, struct script *script)
{
	static const char *const strings[] = {"main", "cross", NULL};
	static const char *const sides[] = {"left", "right", NULL};
	struct script_mishap mishap = {
		.kind = take_name(reader, script_mishap_kinds),
		.string = take_name(reader, strings),
		.side = take_name(reader, sides),
		.number = take_number(reader, PACK_NUMBER_MAX),
		.line = take_number(reader, script->count),
		.made = take_number(reader, PACK_NUMBER_MAX),
		.undone = take_number(reader, PACK_NUMBER_MAX),
	};

	if (!reader->good || !mishap.kind || mishap.line == 0)
		return false;
	script_add_mishap(script, &mishap);
	return true;
}

/* The numbers of calls rise, and each mishap that a line makes good is there. */
static bool is_sound(const struct script *script)
{
	for (int i = 0; i < script->count; i++)
		if (script->lines[i].call <= (i ? script->lines[i - 1].call : 0) ||
		    script->lines[i].mishap > script->mishap_count)
			return false;
	return true;
}

/* NULL unless all of the bytes are one script. */
static struct script *read_plain(const char *bytes, size_t size)
{
	struct reader reader = {bytes, bytes + size, .good = true};
	struct script facts = {0};

	for (int i = 0; i < SCRIPT_FACTS; i++)
		*script_text_at(&facts, script_facts[i]) = take_text(&reader);
	facts.whole.mains = take_number(&reader, PACK_NUMBER_MAX);
	facts.whole.crosses = take_number(&reader, PACK_NUMBER_MAX);
	facts.says_short = take_number(&reader, 1) == 1;
	int count = take_number(&reader, SCRIPT_LINES_MAX);
	if (!reader.good || count == 0)
		return NULL;
	struct script *script = script_new(&facts);
	for (int i = 0; reader.good && i < count; i++) {
		struct script_line line = take_line(&reader);
		if (reader.good)
			script_add(script, &line);
	}
	int mishaps = take_number(&reader, SCRIPT_MISHAPS_MAX);
	while (reader.good && mishaps-- > 0)
		reader.good = take_mishap(&reader, script);
	if (reader.good && reader.at == reader.end && is_sound(script))
		return script;
	script_free(script);
	return NULL;
}

struct script *script_unpack(const void *bytes, size_t size)
{
	const unsigned char *packed = bytes;
	uLongf length = 0;

	if (size < PACK_HEAD || packed[0] != PACK_VERSION)
		return NULL;
	for (int i = 0; i < 4; i++)
		length |= (uLongf)packed[1 + i] << (8 * i);
	if (length == 0 || length > PACK_BYTES_MAX)
		return NULL;
	uLongf plain_length = length;
	unsigned char *plain = memory_new(length, 1);
	struct script *script = NULL;
	int result = uncompress(plain, &plain_length, packed + PACK_HEAD, size - PACK_HEAD);
	if (result == Z_MEM_ERROR)
		memory_fail();
	if (result == Z_OK && plain_length == length)
		script = read_plain((const char *)plain, length);
	free(plain);
	return script;
}
