#include "cli/cli.h"

#include <ctype.h>
#include <string.h>

/* A letter stands on five rows of dots; its accent is in the row above them. */
enum { DOTS_HIGH = 5, GAP = 1 };

/* Drawn for this program: low crossbars and small upper bowls, so that E, F, H, P and R differ from
 * each other at arm's length. From the top, '#' is a dot; the rows of a letter are equally long. */
static const struct letter {
	uint32_t point; /* Unicode */
	const char *rows[DOTS_HIGH];
} letters[] = {
	{' ', {"  ", "  ", "  ", "  ", "  "}},
	{'A', {" ## ", "#  #", "#  #", "####", "#  #"}},
	{'B', {"##  ", "# # ", "### ", "#  #", "### "}},
	{'C', {" ## ", "#  #", "#   ", "#  #", " ## "}},
	{'D', {"##  ", "# # ", "#  #", "# # ", "##  "}},
	{'E', {"###", "#  ", "## ", "#  ", "###"}},
	{'F', {"####", "#   ", "#   ", "### ", "#   "}},
	{'G', {" ## ", "#   ", "# ##", "#  #", " ###"}},
	{'H', {"#  #", "#  #", "#  #", "####", "#  #"}},
	{'I', {"#", "#", "#", "#", "#"}},
	{'J', {"   #", "   #", "   #", "#  #", " ## "}},
	{'K', {"#  #", "# # ", "##  ", "# ##", "#  #"}},
	{'L', {"#  ", "#  ", "#  ", "#  ", "###"}},
	{'M', {"#   #", "## ##", "# # #", "# # #", "#   #"}},
	{'N', {"#  #", "## #", "# ##", "#  #", "#  #"}},
	{'O', {" ## ", "#  #", "#  #", "#  #", " ## "}},
	{'P', {"### ", "#  #", "#  #", "### ", "#   "}},
	{'Q', {" ## ", "#  #", "#  #", "# ##", " ###"}},
	{'R', {"### ", "#  #", "#  #", "### ", "#  #"}},
	{'S', {" ###", "#   ", " #  ", "  ##", "### "}},
	{'T', {"###", " # ", " # ", " # ", " # "}},
	{'U', {"#  #", "#  #", "#  #", "#  #", " ###"}},
	{'V', {"#  #", "#  #", "#  #", " ## ", " #  "}},
	{'W', {"#   #", "#   #", "# # #", "# # #", " # # "}},
	{'X', {"#  #", " ## ", " #  ", " ## ", "#  #"}},
	{'Y', {"#  #", "#  #", " ###", "   #", "### "}},
	{'Z', {"####", "  # ", " #  ", "#   ", "####"}},
	{',', {"  ", "  ", "  ", " #", "# "}},
	{'.', {" ", " ", " ", " ", "#"}},
	{'-', {"  ", "  ", "  ", "##", "  "}},
	{'\'', {"#", "#", " ", " ", " "}},
	{0xc6, {" ####", "# #  ", "# ## ", "###  ", "# ###"}},
	{0xc7, {" ## ", "#   ", "#   ", " ## ", "  # "}},
	{0xd0, {" ##  ", " # # ", "### #", " # # ", " ##  "}},
	{0xd8, {" ###", "# ##", "## #", "## #", "### "}},
	{0xde, {"#   ", "### ", "#  #", "### ", "#   "}},
	{0xdf, {" ## ", "# # ", "#  #", "#  #", "# # "}},
};

/* U+00C0 to U+00DD: the letter below and its mark; ' ' where the table above has it all. */
static const char accented[] = "A`A'A^A~A:Ao    E`E'E^E:I`I'I^I:  N~O`O'O^O~O:    U`U'U^U:Y'";

struct shape {
	const struct letter *letter;
	const char *accent; /* a row of dots, or "" */
};

static const struct letter *find(uint32_t point)
{
	for (size_t i = 0; i < sizeof(letters) / sizeof(letters[0]); i++)
		if (letters[i].point == point)
			return &letters[i];
	return NULL;
}

static const char *accent_dots(char mark)
{
	switch (mark) {
	case '`':
		return " #";
	case '\'':
		return "  #";
	case '~':
		return "# ##";
	case ':':
		return "#  #";
	default: /* a circumflex, a ring */
		return " ##";
	}
}

/* The shape of a character in either case; false if there is none. */
static bool shape_of(uint32_t point, struct shape *shape)
{
	if (point < 0x80)
		point = (uint32_t)toupper((int)point);
	else if (point >= 0xe0 && point <= 0xfe && point != 0xf7)
		point -= 0x20;
	else if (point == 0xff)
		point = 0xdd;
	size_t place = 2 * (size_t)(point - 0xc0);
	bool is_accented = point >= 0xc0 && place < sizeof(accented) - 1 && accented[place] != ' ';
	shape->letter = find(is_accented ? (uint32_t)accented[place] : point);
	shape->accent = is_accented ? accent_dots(accented[place + 1]) : "";
	return shape->letter;
}

static int width_of(uint32_t point)
{
	struct shape shape;

	return shape_of(point, &shape) ? (int)strlen(shape.letter->rows[0]) : 1;
}

int large_letters_width(const char *text, int length)
{
	int width = 0;

	for (const char *at = text; at < text + length;)
		width += width_of(utf8_next(&at)) + GAP;
	return width > 0 ? width - GAP : 0;
}

/* Rows of dots count from the accent's. */
static bool dot(const struct shape *shape, int row, size_t column)
{
	if (row == 0)
		return column < strlen(shape->accent) && shape->accent[column] == '#';
	return shape->letter->rows[row - 1][column] == '#';
}

static void add_row(struct text *out, const struct shape *shape, int row)
{
	static const char *const blocks[] = {" ", "▄", "▀", "█"};

	for (size_t column = 0; shape->letter->rows[0][column]; column++) {
		int upper = dot(shape, 2 * row, column);
		int lower = dot(shape, 2 * row + 1, column);
		text_add(out, blocks[2 * upper + lower]);
	}
}

void large_letters_add(struct text *out, const char *text, int length)
{
	for (int row = 0; row < LARGE_LETTER_ROWS; row++) {
		for (const char *at = text; at < text + length;) {
			const char *character = at;
			struct shape shape;
			if (shape_of(utf8_next(&at), &shape))
				add_row(out, &shape, row);
			else if (row == LARGE_LETTER_ROWS - 1) /* as it is, on the line */
				text_add_part(out, character, (size_t)(at - character));
			else
				text_add_char(out, ' ');
			if (at < text + length)
				text_add_char(out, ' ');
		}
		text_add_char(out, '\n');
	}
}
