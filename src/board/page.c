/* What the page shows, as HTML: sections with fixed names, which board.js puts into their places.
 * Another section is another line in picture_add, and an area of the grid in board.css, which
 * leaves out those that are empty. */
#include "board/board.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void page_add(struct text *out, const char *html, const struct board_words *words)
{
	for (const char *at = html; *at;) {
		size_t plain = strcspn(at, "{");
		text_add_part(out, at, plain);
		at += plain;
		if (!*at)
			return;
		size_t length = strcspn(++at, "}");
		char *key = memory_copy_part(at, length);
		bool language = strcmp(key, "language") == 0;
		xml_add(out, language ? words->language : phrasebook_shown(words->book, key));
		free(key);
		at += length + 1;
	}
}

/* ---- What the daemon answers ---- */

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

static double number(const struct yaml_node *map, const char *key)
{
	return strtod(word(map, key), NULL);
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

/* ---- The bed, schematic: its strings evenly spaced in an ellipse, seen from the face, head at the
 * top; board.css gives it its colours ---- */

/* The hoop in SVG units, and the share of it that the strings spread over. */
static const double centre_x = 100, centre_y = 134, radius_x = 88, radius_y = 114, spread = 0.88;

struct bed {
	int mains; /* of one side */
	int crosses;
	bool crosses_from_throat;
	const char *string; /* what the call is about: "main", "cross" or "" */
	int number;         /* of that string */
	int side;           /* of that main; where that cross is worked on */
};

/* How far the hoop reaches along one axis, `offset` from its centre along the other. */
static double reach(double radius, double other_radius, double offset)
{
	return radius * sqrt(1 - offset * offset / (other_radius * other_radius));
}

/* The string of the call shows its number. */
static void add_main(struct text *out, const struct bed *bed, int side, int number,
		     const char *look)
{
	double offset = radius_x * spread * (number - 0.5) / (bed->mains - 0.5);
	double x = side == 0 ? centre_x - offset : centre_x + offset;
	double half = reach(radius_y, radius_x, offset);

	text_format(out, "<path class=\"%s\" d=\"M%.1f %.1fV%.1f\"/>", look, x, centre_y - half,
		    centre_y + half);
	if (strcmp(look, "call") == 0)
		text_format(out, "<text x=\"%.1f\" y=\"%.1f\">%d</text>", x, centre_y - half - 7,
			    number);
}

static void add_cross(struct text *out, const struct bed *bed, int number, const char *look)
{
	double step = bed->crosses > 1 ? 2 * radius_y * spread / (bed->crosses - 1) : 0;
	double down = (number - 1) * step - radius_y * spread;
	double y = bed->crosses_from_throat ? centre_y - down : centre_y + down;
	double half = reach(radius_x, radius_y, down);

	text_format(out, "<path class=\"%s\" d=\"M%.1f %.1fH%.1f\"/>", look, centre_x - half, y,
		    centre_x + half);
	if (strcmp(look, "call") == 0)
		text_format(out, "<text x=\"%.1f\" y=\"%.1f\">%d</text>",
			    centre_x + (bed->side == 0 ? -half - 11 : half + 11), y + 4, number);
}

static const char *look_of(uint64_t in, int number)
{
	return in >> number & 1 ? "in" : "to-do";
}

static void add_strings(struct text *out, const struct bed *bed, const struct yaml_node *in)
{
	uint64_t mains_in[] = {bits(in, "left"), bits(in, "right")};
	uint64_t crosses_in = bits(in, "crosses");

	for (int side = 0; side < 2; side++)
		for (int i = 1; i <= bed->mains; i++)
			add_main(out, bed, side, i, look_of(mains_in[side], i));
	for (int i = 1; i <= bed->crosses; i++)
		add_cross(out, bed, i, look_of(crosses_in, i));
	/* The hoop, and the shaft below its throat. */
	text_format(out,
		    "<ellipse class=\"hoop\" cx=\"%g\" cy=\"%g\" rx=\"%g\" ry=\"%g\"/>"
		    "<path class=\"hoop\" d=\"M58 235L84 272V290M142 235L116 272V290\"/>",
		    centre_x, centre_y, radius_x, radius_y);
	/* Once more, over all others. */
	if (strcmp(bed->string, "main") == 0 && bed->number <= bed->mains)
		add_main(out, bed, bed->side, bed->number, "call");
	if (strcmp(bed->string, "cross") == 0 && bed->number <= bed->crosses)
		add_cross(out, bed, bed->number, "call");
}

static void add_bed(struct text *out, const struct board_words *words,
		    const struct yaml_node *answer)
{
	const struct bed bed = {
		.mains = count(answer, "mains") / 2,
		.crosses = count(answer, "crosses"),
		.crosses_from_throat = strcmp(word(answer, "crosses_start"), "throat") == 0,
		.string = word(answer, "string"),
		.number = count(answer, "number"),
		.side = strcmp(word(answer, "side"), "right") == 0,
	};

	text_add(out, "<figure id=\"bed\">");
	if (bed.mains > 0 && bed.mains < 64 && bed.crosses < 64) {
		page_add(out,
			 "<svg viewBox=\"0 0 200 290\" role=\"img\" aria-labelledby=\"bed-title\">"
			 "<title id=\"bed-title\">{bed_seen}</title>",
			 words);
		add_strings(out, &bed, yaml_get(answer, "in_bed"));
		text_add(out, "</svg>");
	}
	text_add(out, "</figure>");
}

/* ---- The other sections ---- */

/* A section of words: a key's, in front of those of the answer. Empty without these. */
static void add_words(struct text *out, const char *tag, const char *name, const char *before,
		      const char *words)
{
	text_format(out, "<%s id=\"%s\">", tag, name);
	if (*words && *before) {
		text_add(out, "<span>");
		xml_add(out, before);
		text_add(out, "</span> ");
	}
	xml_add(out, words);
	text_format(out, "</%s>", tag);
}

static void add_place(struct text *out, const struct board_words *words,
		      const struct yaml_node *answer)
{
	int call = count(answer, "call"), calls = count(answer, "calls");

	text_add(out, "<header id=\"place\">");
	if (calls > 0) {
		text_add(out, "<p><b>");
		xml_add(out, word(answer, "job"));
		text_add(out, "</b> ");
		xml_add(out, phrasebook_shown(words->book, word(answer, "phase")));
		page_add(out, "</p><p>{call} ", words);
		text_format(out, "<b>%d</b>", call > calls ? calls : call);
		page_add(out, " {of} ", words);
		text_format(out, "%d</p>", calls);
		page_add(out, "<progress aria-label=\"{call}\"", words);
		text_format(out, " max=\"%d\" value=\"%d\"></progress>", calls, call - 1);
	}
	text_add(out, "</header>");
}

static void add_fact(struct text *out, const struct board_words *words, const char *key, int value,
		     const char *of)
{
	text_add(out, "<div><dt>");
	xml_add(out, phrasebook_shown(words->book, key));
	text_format(out, "</dt><dd>%d ", value);
	xml_add(out, of);
	text_add(out, "</dd></div>");
}

static void add_pulled(struct text *out, const struct board_words *words, const char *key, int left,
		       int all)
{
	char *of = memory_format("%s %d", phrasebook_shown(words->book, "of"), all);

	add_fact(out, words, key, all - left, of);
	free(of);
}

static void add_facts(struct text *out, const struct board_words *words,
		      const struct yaml_node *answer)
{
	int mains = count(answer, "mains"), crosses = count(answer, "crosses");
	const char *minutes = phrasebook_shown(words->book, "minutes");

	text_add(out, "<dl id=\"facts\">");
	if (mains > 0) {
		add_pulled(out, words, "mains", count(answer, "mains_left"), mains);
		add_pulled(out, words, "crosses", count(answer, "crosses_left"), crosses);
		add_fact(out, words, "work", (int)lround(number(answer, "worked_s") / 60), minutes);
		add_fact(out, words, "time_left", (int)lround(number(answer, "left_s") / 60),
			 minutes);
		add_fact(out, words, "usual_time", (int)lround(100 * number(answer, "pace")), "%");
	}
	text_add(out, "</dl>");
}

/* The jobs that wait: name, racket or customer, when they are due. */
static void add_rack(struct text *out, const struct board_words *words,
		     const struct yaml_node *answer)
{
	const struct yaml_node *rack = answer ? yaml_get(answer, "rack") : NULL;

	text_add(out, "<section id=\"rack\">");
	if (rack && rack->first)
		page_add(out, "<h2>{rack}</h2><ol>", words);
	for (const struct yaml_node *job = rack ? rack->first : NULL; job; job = job->next) {
		const char *racket = word(job, "racket");
		text_add(out, "<li><b>");
		xml_add(out, word(job, "job"));
		text_add(out, "</b> ");
		xml_add(out, *racket ? racket : word(job, "customer"));
		if (*word(job, "due"))
			page_add(out, " {due} ", words);
		xml_add(out, word(job, "due"));
		text_add(out, "</li>");
	}
	text_add(out, rack && rack->first ? "</ol></section>" : "</section>");
}

/* The words of the call, or why there is none. */
static const char *call_words(const struct board_words *words, const struct yaml_node *answer)
{
	if (!answer)
		return phrasebook_shown(words->book, "no_daemon");
	if (count(answer, "calls") == 0)
		return phrasebook_shown(words->book, "no_job");
	if (*word(answer, "text"))
		return word(answer, "text");
	return phrasebook_shown(words->book, "all_done");
}

/* A state that is to be seen; else "". */
static const char *state_words(const struct board_words *words, const char *state)
{
	static const char *const keys[][2] = {{"paused", "paused"},
					      {"choosing", "choosing"},
					      {"station", "station"},
					      {"ending", "done"},
					      {"over", "ended"}};

	for (size_t i = 0; i < sizeof(keys) / sizeof(keys[0]); i++)
		if (strcmp(state, keys[i][0]) == 0)
			return phrasebook_shown(words->book, keys[i][1]);
	return "";
}

void picture_add(struct text *out, const struct board_words *words, const struct yaml_node *answer)
{
	const char *state = word(answer, "state");

	text_add(out, "<main id=\"board\" data-state=\"");
	xml_add(out, state);
	text_add(out, "\">");
	add_place(out, words, answer);
	add_words(out, "p", "state", "", state_words(words, state));
	add_words(out, "h1", "call", "", call_words(words, answer));
	add_words(out, "p", "said", "", word(answer, "said"));
	add_words(out, "p", "next", phrasebook_shown(words->book, "next_call"),
		  word(answer, "next"));
	add_bed(out, words, answer);
	add_facts(out, words, answer);
	add_rack(out, words, answer);
	add_words(out, "p", "trouble", phrasebook_shown(words->book, "not_saved"),
		  word(answer, "journal"));
	text_add(out, "</main>");
}
