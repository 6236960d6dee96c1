/* The page of a trainee: what to practise, and how each skill's level came to be. */
#include "report/internal.h"

#include <stdlib.h>

static const double top = 8, bottom = 96, left = 52, right = PICTURE_WIDTH - 8;

static double y_of(int level)
{
	return bottom - (bottom - top) * level / (LEVELS - 1);
}

/* A step a racket: fewer words, further down. */
static void add_picture(struct text *out, const struct review_teaching *teaching, int skill)
{
	char *id = memory_format("skill-%d-", skill);
	char *title = memory_format("How much is said of %s", teach_skill_name(skill));
	const struct page page = {
		.width_mm = PICTURE_WIDTH,
		.height_mm = bottom + 20,
		.title = title,
		.description = "The level after each racket, from the first to the last.",
		.inside = id,
	};
	struct canvas *canvas = canvas_new(&page);
	struct lettering letters = {PICTURE_LETTERS, GREY, ANCHOR_END, false};
	double step = (right - left) / (double)teaching->racket_count;

	for (int level = 0; level < LEVELS; level++) {
		canvas_line(canvas, (struct spot){left, y_of(level)},
			    (struct spot){right, y_of(level)}, pen_line(FAINT, 0.5), NULL);
		canvas_label(canvas, (struct spot){left - 4, y_of(level)}, letters,
			     level_names[level], "class=\"scale\"");
	}
	for (size_t i = 0; i < teaching->racket_count; i++) {
		double y = y_of(teaching->rackets[i].levels[skill]);
		canvas_to(canvas, (struct spot){left + step * (double)i, y});
		canvas_to(canvas, (struct spot){left + step * (double)(i + 1), y});
	}
	canvas_draw(canvas, pen_line(ACCENT, 1.8), NULL);
	canvas_label(canvas, (struct spot){right, bottom + 13}, letters, "rackets", NULL);
	text_add(out, "<figure>\n");
	canvas_finish(canvas, out);
	text_add(out, "</figure>\n");
	free(id);
	free(title);
}

static void add_skill(struct text *out, const struct review_teaching *teaching, int skill)
{
	static const struct table_column columns[] = {
		{"racket", COLUMN_NUMBER}, {"job", COLUMN_NUMBER}, {"level", COLUMN_TEXT}, {0}};
	struct table table;

	text_add(out, "<div>\n");
	html_element(out, "h3", teach_skill_name(skill));
	add_picture(out, teaching, skill);
	table_begin(&table, teach_skill_name(skill), columns);
	for (size_t i = 0; i < teaching->racket_count; i++) {
		table_value(&table, (double)i + 1);
		table_value(&table, (double)teaching->rackets[i].job);
		table_cell(&table, "%s", level_names[teaching->rackets[i].levels[skill]]);
	}
	html_fold_table(out, "These levels as a table", &table);
	text_add(out, "</div>\n");
}

enum journal_status report_teaching(struct journal *journal, const char *stringer, int64_t made_us,
				    struct text *out)
{
	struct review_teaching teaching;
	enum journal_status status = review_teaching(journal, stringer, made_us, &teaching);

	if (status != JOURNAL_OK)
		return status;
	html_open(out, "Teaching");
	text_add(out, "<header>\n<p class=\"kind\">Teaching</p>\n");
	html_name(out, "h1", stringer);
	html_element(out, "p", teaching.advice);
	text_add(out, "</header>\n<section>\n");
	html_table(out, &teaching.skills);
	html_table(out, &teaching.by_racket);
	html_table(out, &teaching.found);
	text_add(out, "</section>\n<section>\n<h2>Level by racket</h2>\n<div class=\"charts\">\n");
	for (int skill = 0; teaching.racket_count && skill < TEACH_SKILLS; skill++)
		add_skill(out, &teaching, skill);
	text_add(out, "</div>\n</section>\n");
	html_close(out, made_us);
	review_teaching_free(&teaching);
	return status;
}
