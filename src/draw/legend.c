/* The legend: what the symbols of the figure mean. */
#include "draw/internal.h"

#include <math.h>
#include <string.h>

/* By their keys in a phrasebook. */
static const char *const meanings[] = {
	"legend_main",      "legend_cross",  "legend_next",   "legend_slack",  "legend_hole",
	"legend_skipped",   "legend_shared", "legend_unused", "bridge",        "tie_off",
	"legend_suggested", "starting_knot", "legend_clamp",  "legend_across", "legend_calls",
	"legend_pulls",     "legend_names",
};

enum { MEANINGS = sizeof(meanings) / sizeof(meanings[0]) };

static void add_meaning(bool *there, const char *key)
{
	int i = 0;

	while (strcmp(meanings[i], key) != 0)
		i++;
	there[i] = true;
}

static void find_meanings(const struct stringing *stringing, bool there[static MEANINGS])
{
	const struct pattern *pattern = stringing->sequence->pattern;

	add_meaning(there, "legend_hole");
	for (int i = 0; i < pattern_hole_count(pattern); i++)
		add_meaning(there, hole_symbol(pattern, pattern_hole_at(pattern, i)));
	if (pattern->bridge > 0)
		add_meaning(there, "bridge");
	if (stringing->options->at_call)
		add_meaning(there, "legend_next");
	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		bool main = strand->move->string == STRING_MAIN;
		add_meaning(there, main ? "legend_main" : "legend_cross");
		add_meaning(there, "legend_names");
		if (!strand->next && !strand->pulled)
			add_meaning(there, "legend_slack");
	}
	for (int i = 0; i < stringing->mark_count; i++) {
		const struct move *move = stringing->marks[i].move;
		if (move->action == DO_KNOT)
			add_meaning(there, move->start ? "starting_knot" : "tie_off");
		if (move->action == DO_KNOT && move->suggested)
			add_meaning(there, "legend_suggested");
		if (move->action == DO_CLAMP)
			add_meaning(there, move->across ? "legend_across" : "legend_clamp");
		if (move->action == DO_PULL)
			add_meaning(there,
				    stringing->options->card ? "legend_calls" : "legend_pulls");
	}
}

/* A long meaning is set smaller. */
static void draw_meaning(struct canvas *canvas, const struct stringing *stringing, const char *key,
			 struct spot left, double width_mm, double size_mm)
{
	const double text_mm = 9.5;
	const char *meaning = shown(stringing, key);
	double fitting_mm = (width_mm - text_mm - 1) / lettering_width_mm(meaning, 1, false);
	struct lettering letters = {fmin(size_mm, fitting_mm), INK, ANCHOR_START, false};
	struct lettering name = {0.9 * size_mm, GREY, ANCHOR_MIDDLE, false};
	struct spot sample = spot_beside(left, 3.5, 0);
	bool calls = strcmp(key, "legend_calls") == 0;

	canvas_label(canvas, spot_beside(left, text_mm, 0), letters, meaning, NULL);
	if (calls || strcmp(key, "legend_pulls") == 0)
		draw_pull(canvas, sample, 0.86 * size_mm, 0.86 * size_mm, "12", calls, false, NULL);
	else if (strcmp(key, "legend_names") == 0)
		canvas_label(canvas, sample, name, "M4 C9", NULL);
	else
		canvas_symbol(canvas, key, sample, 1, 0, NULL);
}

double legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		   double width_mm, int columns, double size_mm)
{
	const double row_mm = 1.85 * size_mm, column_mm = width_mm / columns;
	bool there[MEANINGS] = {false};
	int count = 0, n = 0;

	find_meanings(stringing, there);
	for (int i = 0; i < MEANINGS; i++)
		count += there[i];
	int rows = (count + columns - 1) / columns;
	for (int i = 0; canvas && i < MEANINGS; i++) {
		if (!there[i])
			continue;
		int column = n / rows;
		draw_meaning(canvas, stringing, meanings[i],
			     spot_beside(top_left, column * column_mm, (n % rows + 0.5) * row_mm),
			     column_mm, size_mm);
		n++;
	}
	return rows * row_mm;
}
