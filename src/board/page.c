/* What the page shows, as HTML: sections with fixed names, which board.js puts into their places.
 * Another section is another line in picture_add, and an area of the grid in board.css, which
 * leaves out those that are empty. */
#include "board/board.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- What the daemon answers ---- */

const char *word(const struct yaml_node *map, const char *key)
{
	const char *text = yaml_scalar(map, key);

	return text ? text : "";
}

/* 0 if it is missing or absurd. */
static int count(const struct yaml_node *map, const char *key)
{
	long value = strtol(word(map, key), NULL, 10);

	return value > 0 && value < 10000 ? (int)value : 0;
}

static double number(const struct yaml_node *map, const char *key)
{
	return strtod(word(map, key), NULL);
}

static bool holds(const struct yaml_node *list, int number)
{
	const struct yaml_node *item = list ? list->first : NULL;

	while (item && !(item->text && strtol(item->text, NULL, 10) == number))
		item = item->next;
	return item;
}

/* ---- HTML with words in braces ---- */

struct picture {
	struct text *out;
	const struct board_words *words;
	const struct yaml_node *answer; /* or a map of it */
};

/* {key} is a word of the phrasebook, {.key} the text of that name in the answer, {@key} the word of
 * the phrasebook that it names. */
static const char *shown(const struct picture *picture, const char *key)
{
	const struct board_words *words = picture->words;

	if (strcmp(key, "language") == 0)
		return words->language;
	if (*key == '.')
		return word(picture->answer, key + 1);
	return phrasebook_shown(words->book, *key == '@' ? word(picture->answer, key + 1) : key);
}

/* The rest of the format is as of printf. */
__attribute__((format(printf, 2, 3))) static void add(const struct picture *picture,
						      const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	char *html = memory_format_list(format, arguments);
	va_end(arguments);
	for (const char *at = html; *at;) {
		size_t plain = strcspn(at, "{");
		text_add_part(picture->out, at, plain);
		at += plain;
		if (!*at)
			break;
		size_t length = strcspn(++at, "}");
		char *key = memory_copy_part(at, length);
		xml_add(picture->out, shown(picture, key));
		free(key);
		at += length + 1;
	}
	free(html);
}

void page_add(struct text *out, const char *html, const struct board_words *words)
{
	add(&(struct picture){out, words, NULL}, "%s", html);
}

/* ---- The bed, schematic: its strings evenly spaced in an ellipse, seen from the face, head at the
 * top; board.css gives it its colours ---- */

/* The hoop in SVG units, and the share of it that the strings spread over. */
static const double centre_x = 100, centre_y = 134, radius_x = 88, radius_y = 114, spread = 0.88;

struct bed {
	int mains; /* on each side */
	int crosses;
	bool from_throat; /* the crosses are counted from there */
};

/* The string of the call shows its number. side: 0 left, 1 right. */
static void add_string(struct text *out, const struct bed *bed, bool is_main, int side, int number,
		       const char *look)
{
	double radius = is_main ? radius_x : radius_y, length = is_main ? radius_y : radius_x;
	double share = is_main            ? (number - 0.5) / (bed->mains - 0.5)
		       : bed->crosses > 1 ? 2.0 * (number - 1) / (bed->crosses - 1) - 1
					  : 0;
	double offset = (is_main ? side == 0 : bed->from_throat) ? -spread * share : spread * share;
	double half = length * sqrt(1 - offset * offset);
	double x = is_main ? centre_x + radius * offset : centre_x - half;
	double y = is_main ? centre_y - half : centre_y + radius * offset;

	text_format(out, "<path class=\"%s\" d=\"M%.1f %.1f%c%.1f\"/>", look, x, y,
		    is_main ? 'V' : 'H', is_main ? centre_y + half : centre_x + half);
	if (strcmp(look, "call") != 0)
		return;
	if (!is_main)
		x = side == 0 ? x - 11 : centre_x + half + 11;
	text_format(out, "<text x=\"%.1f\" y=\"%.1f\">%d</text>", x, is_main ? y - 7 : y + 4,
		    number);
}

static void add_strings(struct text *out, const struct yaml_node *answer, const struct bed *bed)
{
	static const char *const lists[] = {"left", "right", "crosses"};
	const struct yaml_node *in = yaml_get(answer, "in_bed");
	bool is_main = strcmp(word(answer, "string"), "main") == 0;
	int number = count(answer, "number"), side = strcmp(word(answer, "side"), "right") == 0;

	for (int s = 0; s < 3; s++) {
		const struct yaml_node *list = in ? yaml_get(in, lists[s]) : NULL;
		for (int i = 1; i <= (s < 2 ? bed->mains : bed->crosses); i++)
			add_string(out, bed, s < 2, s, i, holds(list, i) ? "in" : "to-do");
	}
	/* The hoop, and the shaft below its throat. */
	text_format(out,
		    "<ellipse class=\"hoop\" cx=\"%g\" cy=\"%g\" rx=\"%g\" ry=\"%g\"/>"
		    "<path class=\"hoop\" d=\"M58 235L84 272V290M142 235L116 272V290\"/>",
		    centre_x, centre_y, radius_x, radius_y);
	/* Once more, over all others. */
	if (*word(answer, "string") && number <= (is_main ? bed->mains : bed->crosses))
		add_string(out, bed, is_main, side, number, "call");
}

static void add_bed(const struct picture *picture)
{
	const struct bed bed = {count(picture->answer, "mains") / 2,
				count(picture->answer, "crosses"),
				strcmp(word(picture->answer, "crosses_start"), "throat") == 0};

	add(picture, "<figure id=\"bed\">");
	if (bed.mains > 0) {
		add(picture,
		    "<svg viewBox=\"0 0 200 290\" role=\"img\" aria-labelledby=\"bed-title\">"
		    "<title id=\"bed-title\">{bed_seen}</title>");
		add_strings(picture->out, picture->answer, &bed);
		add(picture, "</svg>");
	}
	add(picture, "</figure>");
}

/* ---- The other sections ---- */

static void add_place(const struct picture *picture)
{
	int call = count(picture->answer, "call"), calls = count(picture->answer, "calls");

	add(picture, "<header id=\"place\">");
	if (calls > 0)
		add(picture,
		    "<p><b>{.job}</b> {.%s} {@phase}</p><p>{call} <b>%d</b> {of} %d</p>"
		    "<progress aria-label=\"{call}\" max=\"%d\" value=\"%d\"></progress>",
		    *word(picture->answer, "racket") ? "racket" : "customer",
		    call > calls ? calls : call, calls, calls, call - 1);
	add(picture, "</header>");
}

static void add_facts(const struct picture *picture)
{
	const struct yaml_node *answer = picture->answer;
	int mains = count(answer, "mains"), crosses = count(answer, "crosses");

	add(picture, "<dl id=\"facts\">");
	if (mains > 0)
		add(picture,
		    "<div><dt>{mains}</dt><dd>%d {of} %d</dd></div>"
		    "<div><dt>{crosses}</dt><dd>%d {of} %d</dd></div>"
		    "<div><dt>{work}</dt><dd>%ld {minutes}</dd></div>"
		    "<div><dt>{time_left}</dt><dd>%ld {minutes}</dd></div>",
		    mains - count(answer, "mains_left"), mains,
		    crosses - count(answer, "crosses_left"), crosses,
		    lround(number(answer, "worked_s") / 60),
		    (long)ceil(number(answer, "left_s") / 60));
	if (number(answer, "pace") > 0)
		add(picture, "<div><dt>{usual_time}</dt><dd>%ld %%</dd></div>",
		    lround(100 * number(answer, "pace")));
	add(picture, "</dl>");
}

/* The jobs that wait: name, racket or customer, when they are due. */
static void add_rack(const struct picture *picture)
{
	const struct yaml_node *answer = picture->answer;
	const struct yaml_node *rack = answer ? yaml_get(answer, "rack") : NULL;

	add(picture, "<section id=\"rack\">");
	if (rack && rack->first)
		add(picture, "<h2>{rack}</h2><ol>");
	for (const struct yaml_node *job = rack ? rack->first : NULL; job; job = job->next) {
		const struct picture of_job = {picture->out, picture->words, job};
		add(&of_job, "<li><b>{.job}</b> {.%s}%s</li>",
		    *word(job, "racket") ? "racket" : "customer",
		    *word(job, "due") ? " {due} {.due}" : "");
	}
	add(picture, rack && rack->first ? "</ol></section>" : "</section>");
}

/* The words of the call, or why there is none. */
static const char *call_key(const struct yaml_node *answer)
{
	if (!answer)
		return "no_daemon";
	if (count(answer, "calls") == 0)
		return "no_job";
	return *word(answer, "text") ? ".text" : "all_done";
}

/* A state that is to be seen; else nothing. */
static const char *state_words(const char *state)
{
	static const char *const keys[][2] = {{"paused", "{paused}"},
					      {"choosing", "{choosing}"},
					      {"station", "{station}"},
					      {"ending", "{done}"},
					      {"over", "{ended}"}};

	for (size_t i = 0; i < sizeof(keys) / sizeof(keys[0]); i++)
		if (strcmp(state, keys[i][0]) == 0)
			return keys[i][1];
	return "";
}

void picture_add(struct text *out, const struct board_words *words, const struct yaml_node *answer)
{
	const struct picture picture = {out, words, answer};

	add(&picture, "<main id=\"board\" data-state=\"{.state}\">");
	add_place(&picture);
	add(&picture, "<p id=\"state\">%s</p>", state_words(word(answer, "state")));
	add(&picture, "<h1 id=\"call\">{%s}</h1>", call_key(answer));
	add(&picture, "<p id=\"said\">{.said}</p>");
	add(&picture, "<p id=\"next\">%s</p>",
	    *word(answer, "next") ? "<span>{next_call}</span> {.next}" : "");
	add_bed(&picture);
	add_facts(&picture);
	add_rack(&picture);
	add(&picture, "<p id=\"trouble\">%s</p>",
	    *word(answer, "journal") ? "<span>{not_saved}</span> {.journal}" : "");
	add(&picture, "</main>");
}
