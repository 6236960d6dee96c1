/* What the page shows, as HTML: sections with fixed names, which board.js puts into their places.
 * Another section is another line in picture_add, and an area of the grid in board.css, which
 * leaves out those that are empty. */
#include "board/board.h"

#include <stdlib.h>
#include <string.h>

const char *word(const struct yaml_node *map, const char *key)
{
	const struct yaml_node *node = map ? yaml_get(map, key) : NULL;

	return node && node->kind == YAML_SCALAR ? node->text : "";
}

/* 0 if it is missing or absurd. */
static int count(const struct yaml_node *map, const char *key)
{
	long value = strtol(word(map, key), NULL, 10);

	return value > 0 && value < 10000 ? (int)value : 0;
}

static double minutes(const struct yaml_node *answer, const char *key)
{
	return strtod(word(answer, key), NULL) / 60;
}

/* A section of words: those before, which are ours, and those of the answer. Empty without these.
 */
static void add_words(struct text *out, const char *tag, const char *name, const char *before,
		      const char *words)
{
	text_format(out, "<%s id=\"%s\">", tag, name);
	if (*words)
		text_add(out, before);
	xml_add(out, words);
	text_format(out, "</%s>", tag);
}

static void add_place(struct text *out, const struct yaml_node *answer)
{
	int call = count(answer, "call"), calls = count(answer, "calls");

	text_add(out, "<header id=\"place\">");
	if (calls > 0) {
		text_add(out, "<p><b>");
		xml_add(out, word(answer, "job"));
		text_add(out, "</b> ");
		xml_add(out, word(answer, "phase"));
		text_format(out,
			    "</p><p>call <b>%d</b> of %d</p><progress aria-label=\"calls done\" "
			    "max=\"%d\" value=\"%d\"></progress>",
			    call > calls ? calls : call, calls, calls, call - 1);
	}
	text_add(out, "</header>");
}

/* A list of numbers as bits. */
static uint64_t bits(const struct yaml_node *map, const char *key)
{
	const struct yaml_node *list = map ? yaml_get(map, key) : NULL;
	uint64_t found = 0;

	for (const struct yaml_node *item = list ? list->first : NULL; item; item = item->next)
		found |= UINT64_C(1) << (item->text ? strtoul(item->text, NULL, 10) % 64 : 0);
	return found;
}

static void add_bed(struct text *out, const struct yaml_node *answer)
{
	int half = count(answer, "mains") / 2;

	text_add(out, "<figure id=\"bed\">");
	if (half > 0 && half < 64 && count(answer, "crosses") < 64) {
		const struct yaml_node *in = yaml_get(answer, "in_bed");
		const struct bed_picture bed = {
			.mains = half,
			.crosses = count(answer, "crosses"),
			.mains_in = {bits(in, "left"), bits(in, "right")},
			.crosses_in = bits(in, "crosses"),
			.crosses_from_throat = strcmp(word(answer, "crosses_start"), "throat") == 0,
			.calls_main = strcmp(word(answer, "string"), "main") == 0,
			.calls_cross = strcmp(word(answer, "string"), "cross") == 0,
			.number = count(answer, "number"),
			.side = strcmp(word(answer, "side"), "right") == 0,
		};
		bed_add(out, &bed);
	}
	text_add(out, "</figure>");
}

static void add_facts(struct text *out, const struct yaml_node *answer)
{
	int mains = count(answer, "mains"), crosses = count(answer, "crosses");

	text_add(out, "<dl id=\"facts\">");
	if (mains > 0)
		text_format(out,
			    "<div><dt>Mains pulled</dt><dd>%d of %d</dd></div>"
			    "<div><dt>Crosses pulled</dt><dd>%d of %d</dd></div>"
			    "<div><dt>Worked</dt><dd>%.0f min</dd></div>"
			    "<div><dt>Left, about</dt><dd>%.0f min</dd></div>"
			    "<div><dt>Of usual time</dt><dd>%.0f %%</dd></div>",
			    mains - count(answer, "mains_left"), mains,
			    crosses - count(answer, "crosses_left"), crosses,
			    minutes(answer, "worked_s"), minutes(answer, "left_s"),
			    100 * strtod(word(answer, "pace"), NULL));
	text_add(out, "</dl>");
}

/* The words of the call, or why there is none. */
static const char *call_words(const struct yaml_node *answer)
{
	if (!answer)
		return "No pullcalld is running.";
	if (count(answer, "calls") == 0)
		return "No job is running.";
	return *word(answer, "text") ? word(answer, "text") : "All calls are done.";
}

void picture_add(struct text *out, const struct yaml_node *answer)
{
	const char *state = word(answer, "state");

	text_add(out, "<main id=\"board\" data-state=\"");
	xml_add(out, state);
	text_add(out, "\">");
	add_place(out, answer);
	add_words(out, "p", "state", "", strcmp(state, "calling") == 0 ? "" : state);
	add_words(out, "h1", "call", "", call_words(answer));
	add_words(out, "p", "said", "", word(answer, "said"));
	add_words(out, "p", "next", "<span>Next</span> ", word(answer, "next"));
	add_bed(out, answer);
	add_facts(out, answer);
	add_words(out, "p", "trouble", "Times are not being saved: ", word(answer, "journal"));
	text_add(out, "</main>");
}
