/* The lines of a script and its facts: adding, reading by place, and keeping as bytes. */
#include "script/script.h"

#include "sequence/sequence.h"

#include <arpa/inet.h>
#include <assert.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* A struct that is kept: its texts come first in it, then numbers, then bits. */
struct fields {
	size_t texts;
	size_t needed; /* of these, the first ones, which are never NULL */
	size_t numbers_at, numbers;
	size_t bits_at, bits;
};

#define COUNT(size, type) ((size) / sizeof(type))
static const struct fields facts_fields = {
	.texts = COUNT(offsetof(struct script, whole), char *),
	.needed = COUNT(offsetof(struct script, whole), char *),
	.numbers_at = offsetof(struct script, whole),
	.numbers = COUNT(offsetof(struct script, says_short) - offsetof(struct script, whole), int),
};
static const struct fields line_fields = {
	.texts = COUNT(offsetof(struct script_line, number), char *),
	.needed = COUNT(offsetof(struct script_line, string), char *),
	.numbers_at = offsetof(struct script_line, number),
	/* up to the last, not to the padding behind it, which may hold anything */
	.numbers = COUNT(offsetof(struct script_line, left) + sizeof(struct script_left) -
				 offsetof(struct script_line, number),
			 int),
	.bits_at = offsetof(struct script_line, bed),
	.bits = COUNT(offsetof(struct script_line, texts) - offsetof(struct script_line, bed),
		      uint64_t),
};
static const struct fields mishap_fields = {
	.texts = COUNT(offsetof(struct script_mishap, number), char *),
	.numbers_at = offsetof(struct script_mishap, number),
	.numbers =
		COUNT(sizeof(struct script_mishap) - offsetof(struct script_mishap, number), int),
};

/* Copies the texts of a script or a line into one block, which is returned, and points to them
 * there. A needed one that is NULL becomes "". */
static char *own_texts(void *item, const struct fields *fields)
{
	const char **texts = item;
	struct text block = {0};

	for (size_t i = 0; i < fields->texts; i++) {
		if (!texts[i] && i < fields->needed)
			texts[i] = "";
		if (texts[i])
			text_add_part(&block, texts[i], strlen(texts[i]) + 1);
	}
	char *owned = text_take(&block), *at = owned;
	for (size_t i = 0; i < fields->texts; i++) {
		if (!texts[i])
			continue;
		texts[i] = at;
		at += strlen(at) + 1;
	}
	return owned;
}

struct script *script_new(const struct script *facts)
{
	struct script *script = memory_new(1, sizeof(*script));

	*script = *facts;
	script->lines = NULL;
	script->count = 0;
	script->mishaps = NULL;
	script->mishap_count = 0;
	script->texts = own_texts(script, &facts_fields);
	return script;
}

void script_add(struct script *script, const struct script_line *line)
{
	assert(script->count < SCRIPT_LINES_MAX);
	script->lines = memory_resize(script->lines, (size_t)script->count + 1, sizeof(*line));
	struct script_line *added = &script->lines[script->count++];
	*added = *line;
	if (added->call == 0)
		added->call = script->count;
	added->texts = own_texts(added, &line_fields);
}

/* The one of them that is the same as the name; NULL if none is, or there is no name. */
static const char *one_of(const char *const *names, const char *name)
{
	while (*names && strcmp(*names, name ? name : "") != 0)
		names++;
	return *names;
}

void script_add_mishap(struct script *script, const struct script_mishap *mishap)
{
	static const char *const kinds[] = {"redo", "slipped", "broke", NULL};

	script->mishaps =
		memory_resize(script->mishaps, (size_t)script->mishap_count + 1, sizeof *mishap);
	struct script_mishap *added = &script->mishaps[script->mishap_count++];
	*added = *mishap;
	added->kind = one_of(kinds, mishap->kind);
	added->string = one_of(string_names, mishap->string);
	added->side = one_of(side_names, mishap->side);
}

bool script_parse_string(const char *text, struct script_mishap *out, char **why)
{
	char string[8] = "", digits[5] = "", side[8] = "", rest;
	int words = sscanf(text, "%7s %4[0-9] %7s %c", string, digits, side, &rest);

	*out = (struct script_mishap){
		.string = one_of(string_names, string),
		.number = (int)strtol(digits, NULL, 10),
		.side = one_of(side_names, side),
	};
	bool cross = out->string == string_names[STRING_CROSS];
	if (out->string && out->number > 0 && (cross ? words == 2 : words == 3 && out->side))
		return true;
	*why = memory_format("unknown string \"%s\": expected \"cross 9\" or \"main 4 left\"",
			     text);
	return false;
}

void script_free(struct script *script)
{
	if (!script)
		return;
	for (int i = 0; i < script->count; i++)
		free(script->lines[i].texts);
	free(script->lines);
	free(script->mishaps);
	free(script->texts);
	free(script);
}

char *script_label(const char *job, const char *racket, const char *customer)
{
	const char *whose = racket && *racket ? racket : customer;

	return whose && *whose ? memory_format("%s (%s)", job, whose) : memory_copy(job);
}

/* ---- reading, by place ---- */

const struct script_line *script_line(const struct script *script, int place)
{
	assert(place >= 1 && script->count > 0);
	return &script->lines[(place > script->count ? script->count : place) - 1];
}

const char *script_words(const struct script *script, int place)
{
	const struct script_line *line = script_line(script, place);

	return script->says_short ? line->short_words : line->full_words;
}

bool script_teaching_is(const struct script *script, const char *teaching)
{
	return strcmp(script->teaching, teaching) == 0;
}

bool script_is_taught(const struct script *script)
{
	return !script_teaching_is(script, "no");
}

bool script_has_trainer(const struct script *script)
{
	return script_teaching_is(script, "trainer") || script_teaching_is(script, "test");
}

struct script_left script_left(const struct script *script, int place)
{
	return place == 1 ? script->whole : script_line(script, place - 1)->left;
}

struct script_bed script_bed(const struct script *script, int place)
{
	static const struct script_bed empty = {0};

	return place == 1 ? empty : script_line(script, place - 1)->bed;
}

/* Calls that a way back replaces keep their numbers, so the last line has the highest. */
int script_call(const struct script *script, int place)
{
	int past = place > script->count;

	return script_line(script, place)->call + past;
}

int script_place(const struct script *script, int call)
{
	for (int i = 1; i <= script->count + 1; i++)
		if (script_call(script, i) == call)
			return i;
	return 0;
}

/* The bits of the bed in which the string of a line is counted; NULL: it is about none. */
static uint64_t *bits_of(struct script_bed *bed, const struct script_line *line)
{
	if (!line->string || line->number >= 64)
		return NULL;
	if (strcmp(line->string, "cross") == 0)
		return &bed->crosses;
	return line->side && strcmp(line->side, "left") == 0 ? &bed->left : &bed->right;
}

int script_strings(const struct script *script, int place, int lines[SCRIPT_STRINGS_MAX])
{
	int count = 0;

	if (place == 1)
		return 0;
	struct script_bed bed = script_line(script, place - 1)->redo;
	for (int i = place - 1; i >= 1; i--) {
		const struct script_line *line = script_line(script, i);
		uint64_t *bits = bits_of(&bed, line);
		uint64_t bit = UINT64_C(1) << (line->number & 63);
		if (!bits || !(*bits & bit))
			continue;
		*bits &= ~bit; /* each once */
		lines[count++] = i;
	}
	return count;
}

/* ---- keeping ----
 *
 * A byte for the version, and a zlib stream, whose checksum notices damage. What is compressed is a
 * row of texts, each ended by a NUL; numbers are written in decimal. An absent text is empty. */

/* Room for 2000 learner's lines and the largest files that are read. */
enum {
	PACK_VERSION = 7,
	PACK_HEAD = 1 + 4, /* the version, and the sum of the compressed bytes */
	PACK_BYTES_MAX = 16 * 1024 * 1024,
	PACK_NUMBER_MAX = 10000000,
};

static void add_number(struct text *out, uint64_t number)
{
	text_format(out, "%" PRIu64, number);
	text_add_char(out, '\0');
}

static void add_item(struct text *out, const void *item, const struct fields *fields)
{
	const char *const *texts = item;
	const int *numbers = (const void *)((const char *)item + fields->numbers_at);
	const uint64_t *bits = (const void *)((const char *)item + fields->bits_at);

	for (size_t i = 0; i < fields->texts; i++)
		text_add_part(out, texts[i] ? texts[i] : "", texts[i] ? strlen(texts[i]) + 1 : 1);
	for (size_t i = 0; i < fields->numbers; i++)
		add_number(out, (uint64_t)numbers[i]);
	for (size_t i = 0; i < fields->bits; i++)
		add_number(out, bits[i]);
}

/* Of the stream itself: one bit of it may change many bytes of what it holds, so that the sum of
 * zlib's own format stays the same. */
static uint32_t sum_of(const unsigned char *stream, size_t size)
{
	return htonl((uint32_t)crc32(0, stream, (uInt)size));
}

void script_pack(const struct script *script, struct text *out)
{
	struct text plain = {0};

	add_item(&plain, script, &facts_fields);
	add_number(&plain, script->says_short);
	add_number(&plain, (uint64_t)script->count);
	for (int i = 0; i < script->count; i++)
		add_item(&plain, &script->lines[i], &line_fields);
	add_number(&plain, (uint64_t)script->mishap_count);
	for (int i = 0; i < script->mishap_count; i++)
		add_item(&plain, &script->mishaps[i], &mishap_fields);

	uLongf size = compressBound(plain.length);
	unsigned char *bytes = memory_new(size, 1);
	/* There is room enough: only memory can be missing. */
	if (compress(bytes, &size, (const Bytef *)plain.bytes, plain.length) != Z_OK)
		memory_fail();
	uint32_t sum = sum_of(bytes, size);
	text_add_char(out, PACK_VERSION);
	text_add_part(out, (const char *)&sum, sizeof(sum));
	text_add_part(out, (const char *)bytes, size);
	free(bytes);
	text_free(&plain);
}

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

static uint64_t take_number(struct reader *reader, uint64_t max)
{
	const char *text = take_text(reader);
	size_t digits = strspn(text, "0123456789");
	uint64_t number = strtoull(text, NULL, 10);

	if (digits > 0 && digits <= 20 && text[digits] == '\0' && number <= max)
		return number;
	reader->good = false;
	return 0;
}

static void take_item(struct reader *reader, void *item, const struct fields *fields)
{
	const char **texts = item;
	int *numbers = (void *)((char *)item + fields->numbers_at);
	uint64_t *bits = (void *)((char *)item + fields->bits_at);

	for (size_t i = 0; i < fields->texts; i++) {
		texts[i] = take_text(reader);
		if (i >= fields->needed && !*texts[i])
			texts[i] = NULL;
	}
	for (size_t i = 0; i < fields->numbers; i++)
		numbers[i] = (int)take_number(reader, PACK_NUMBER_MAX);
	for (size_t i = 0; i < fields->bits; i++)
		bits[i] = take_number(reader, UINT64_MAX);
}

static bool take_line(struct reader *reader, struct script *script)
{
	struct script_line line = {0};

	take_item(reader, &line, &line_fields);
	if (reader->good)
		script_add(script, &line);
	return reader->good;
}

static bool take_mishap(struct reader *reader, struct script *script)
{
	struct script_mishap mishap = {0};

	take_item(reader, &mishap, &mishap_fields);
	script_add_mishap(script, &mishap);
	reader->good = reader->good && script->mishaps[script->mishap_count - 1].kind &&
		       mishap.line >= 1 && mishap.line <= script->count;
	return reader->good;
}

/* The numbers of calls rise, and each mishap that a line makes good is there. */
static bool is_sound(const struct script *script)
{
	for (int i = 0; i < script->count; i++)
		if (script->lines[i].call <= (i ? script->lines[i - 1].call : 0) ||
		    script->lines[i].mishap > script->mishap_count)
			return false;
	return script->count > 0;
}

/* NULL unless all of the bytes are one script. */
static struct script *read_plain(const char *bytes, size_t size)
{
	struct reader reader = {bytes, bytes + size, .good = true};
	struct script facts = {0};

	take_item(&reader, &facts, &facts_fields);
	facts.says_short = take_number(&reader, 1) == 1;
	struct script *script = script_new(&facts);
	for (uint64_t lines = take_number(&reader, SCRIPT_LINES_MAX); lines > 0; lines--)
		if (!take_line(&reader, script))
			break;
	for (uint64_t mishaps = take_number(&reader, SCRIPT_MISHAPS_MAX); mishaps > 0; mishaps--)
		if (!take_mishap(&reader, script))
			break;
	if (reader.good && reader.at == reader.end && is_sound(script))
		return script;
	script_free(script);
	return NULL;
}

struct script *script_unpack(const void *bytes, size_t size)
{
	const unsigned char *packed = bytes, *stream = packed + PACK_HEAD;
	uLongf length = PACK_BYTES_MAX;
	struct script *script = NULL;
	uint32_t sum;

	if (size < PACK_HEAD || packed[0] != PACK_VERSION)
		return NULL;
	size -= PACK_HEAD;
	memcpy(&sum, packed + 1, sizeof(sum));
	if (sum != sum_of(stream, size))
		return NULL;
	char *plain = memory_resize(NULL, length, 1);
	int result = uncompress((Bytef *)plain, &length, stream, size);
	if (result == Z_MEM_ERROR)
		memory_fail();
	if (result == Z_OK)
		script = read_plain(plain, length);
	free(plain);
	return script;
}
