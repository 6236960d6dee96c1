#include "cli/cli.h"

#include <ctype.h>
#include <string.h>

enum { DOTS_HIGH = 5, GAP = 1 };

/* The rows of each letter from the top, '#' is a dot; all rows of a letter are equally long. */
static const struct letter {
	char name;
	const char *rows[DOTS_HIGH];
} letters[] = {
	{' ', {"   ", "   ", "   ", "   ", "   "}},
	{'A', {" ## ", "#  #", "####", "#  #", "#  #"}},
	{'B', {"### ", "#  #", "### ", "#  #", "### "}},
	{'C', {" ###", "#   ", "#   ", "#   ", " ###"}},
	{'D', {"### ", "#  #", "#  #", "#  #", "### "}},
	{'E', {"####", "#   ", "### ", "#   ", "####"}},
	{'F', {"####", "#   ", "### ", "#   ", "#   "}},
	{'G', {" ###", "#   ", "# ##", "#  #", " ###"}},
	{'H', {"#  #", "#  #", "####", "#  #", "#  #"}},
	{'I', {"###", " # ", " # ", " # ", "###"}},
	{'J', {"  #", "  #", "  #", "# #", " # "}},
	{'K', {"#  #", "# # ", "##  ", "# # ", "#  #"}},
	{'L', {"#   ", "#   ", "#   ", "#   ", "####"}},
	{'M', {"#   #", "## ##", "# # #", "#   #", "#   #"}},
	{'N', {"#   #", "##  #", "# # #", "#  ##", "#   #"}},
	{'O', {" ## ", "#  #", "#  #", "#  #", " ## "}},
	{'P', {"### ", "#  #", "### ", "#   ", "#   "}},
	{'Q', {" ## ", "#  #", "#  #", "# # ", " # #"}},
	{'R', {"### ", "#  #", "### ", "# # ", "#  #"}},
	{'S', {" ###", "#   ", " ## ", "   #", "### "}},
	{'T', {"#####", "  #  ", "  #  ", "  #  ", "  #  "}},
	{'U', {"#  #", "#  #", "#  #", "#  #", " ## "}},
	{'V', {"#   #", "#   #", " # # ", " # # ", "  #  "}},
	{'W', {"#   #", "#   #", "# # #", "## ##", "#   #"}},
	{'X', {"#  #", "#  #", " ## ", "#  #", "#  #"}},
	{'Y', {"#   #", " # # ", "  #  ", "  #  ", "  #  "}},
	{'Z', {"####", "   #", " ## ", "#   ", "####"}},
	{',', {"  ", "  ", "  ", " #", "# "}},
	{'.', {" ", " ", " ", " ", "#"}},
	{'-', {"  ", "  ", "##", "  ", "  "}},
	{'\'', {"#", "#", " ", " ", " "}},
};

static const struct letter *find(char byte)
{
	char name = (char)toupper((unsigned char)byte);

	for (size_t i = 0; i < sizeof(letters) / sizeof(letters[0]); i++)
		if (letters[i].name == name)
			return &letters[i];
	return NULL;
}

int large_letters_width(const char *text, int length)
{
	int width = 0;

	for (int i = 0; i < length; i++) {
		const struct letter *letter = find(text[i]);
		if (!letter)
			return -1;
		width += (int)strlen(letter->rows[0]) + GAP;
	}
	return width > 0 ? width - GAP : 0;
}

static bool dot(const struct letter *letter, int row, size_t column)
{
	return row < DOTS_HIGH && letter->rows[row][column] == '#';
}

static void add_letter_row(struct text *out, const struct letter *letter, int row)
{
	static const char *const blocks[] = {" ", "▄", "▀", "█"};

	for (size_t column = 0; letter->rows[0][column]; column++) {
		int upper = dot(letter, 2 * row, column);
		int lower = dot(letter, 2 * row + 1, column);
		text_add(out, blocks[2 * upper + lower]);
	}
}

void large_letters_add(struct text *out, const char *text, int length)
{
	for (int row = 0; row < LARGE_LETTER_ROWS; row++) {
		for (int i = 0; i < length; i++) {
			const struct letter *letter = find(text[i]);
			if (!letter)
				continue;
			add_letter_row(out, letter, row);
			if (i + 1 < length)
				text_add_char(out, ' ');
		}
		text_add_char(out, '\n');
	}
}
