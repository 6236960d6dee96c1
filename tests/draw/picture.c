#include "draw/picture.h"

#include "base/base.h"

#include <expat.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

struct reading {
	struct picture *picture;
	int capacity;
	int open; /* the innermost open element */
};

static void begin_element(void *context, const XML_Char *name, const XML_Char **attributes)
{
	struct reading *reading = context;
	struct picture *picture = reading->picture;
	int count = 0;

	if (picture->count == reading->capacity) {
		reading->capacity = reading->capacity ? 2 * reading->capacity : 256;
		picture->items = memory_resize(picture->items, (size_t)reading->capacity,
					       sizeof(picture->items[0]));
	}
	while (attributes[count])
		count++;
	struct element *element = &picture->items[picture->count];
	*element = (struct element){
		.name = memory_copy(name),
		.attributes = memory_new((size_t)count + 1, sizeof(char *)),
		.text = memory_copy(""),
		.parent = reading->open,
	};
	for (int i = 0; i < count; i++)
		element->attributes[i] = memory_copy(attributes[i]);
	reading->open = picture->count++;
}

static void end_element(void *context, const XML_Char *name)
{
	struct reading *reading = context;

	(void)name;
	reading->open = reading->picture->items[reading->open].parent;
}

static void add_characters(void *context, const XML_Char *characters, int length)
{
	struct reading *reading = context;
	struct element *element = &reading->picture->items[reading->open];
	char *longer = memory_format("%s%.*s", element->text, length, characters);

	free(element->text);
	element->text = longer;
}

bool picture_read(const char *bytes, size_t length, struct picture *out)
{
	struct reading reading = {.picture = out, .open = -1};
	XML_Parser parser = XML_ParserCreate(NULL);

	*out = (struct picture){0};
	XML_SetUserData(parser, &reading);
	XML_SetElementHandler(parser, begin_element, end_element);
	XML_SetCharacterDataHandler(parser, add_characters);
	bool good = XML_Parse(parser, bytes, (int)length, 1) == XML_STATUS_OK;
	if (!good)
		fprintf(stderr, "%lu:%lu: %s\n", XML_GetCurrentLineNumber(parser),
			XML_GetCurrentColumnNumber(parser),
			XML_ErrorString(XML_GetErrorCode(parser)));
	XML_ParserFree(parser);
	return good;
}

void picture_free(struct picture *picture)
{
	for (int i = 0; i < picture->count; i++) {
		struct element *element = &picture->items[i];
		for (char **attribute = element->attributes; *attribute; attribute++)
			free(*attribute);
		free(element->attributes);
		free(element->name);
		free(element->text);
	}
	free(picture->items);
	*picture = (struct picture){0};
}

const char *element_get(const struct element *element, const char *name)
{
	for (int i = 0; element->attributes[i]; i += 2)
		if (strcmp(element->attributes[i], name) == 0)
			return element->attributes[i + 1];
	return NULL;
}

double element_number(const struct element *element, const char *name)
{
	const char *value = element_get(element, name);
	char *end;

	assert_non_null(value);
	double number = strtod(value, &end);
	if (end == value || *end)
		fail_msg("%s=\"%s\" is no number", name, value);
	return number;
}

static bool has_word(const char *words, const char *word)
{
	size_t length = strlen(word);

	for (const char *at = words; at && *at;) {
		size_t span = strcspn(at, " ");
		if (span == length && strncmp(at, word, length) == 0)
			return true;
		at += span;
		at += strspn(at, " ");
	}
	return false;
}

bool element_is(const struct element *element, const char *name, const char *class)
{
	if (strcmp(element->name, name) != 0)
		return false;
	return !class || has_word(element_get(element, "class"), class);
}

int picture_inside(const struct picture *picture, int parent, const char *name, const char *class)
{
	for (int i = parent + 1; i < picture->count; i++) {
		int above = picture->items[i].parent;
		while (above > parent)
			above = picture->items[above].parent;
		if (above != parent)
			return -1;
		if (element_is(&picture->items[i], name, class))
			return i;
	}
	return -1;
}

int corners_read(const char *data, struct corner_read *corners, int max)
{
	int count = 0;

	while (*data) {
		char letter = *data++, *end;
		if (letter == 'Z')
			continue;
		if (letter != 'M' && letter != 'L')
			fail_msg("'%c' in a path", letter);
		assert_true(count < max);
		struct corner_read *corner = &corners[count++];
		corner->begins = letter == 'M';
		corner->x = strtod(data, &end);
		assert_ptr_not_equal(data, end);
		corner->y = strtod(end, &end);
		data = end;
	}
	return count;
}
