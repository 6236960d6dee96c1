/* The layout of the pages: sheet, card and label. */
#include "draw/internal.h"

#include <math.h>
#include <stdlib.h>

/* Upright A4 (ISO 216). */
static const double page_width_mm = 210, page_height_mm = 297;

/* ---- The sheet ---- */

static const double sheet_margin_mm = 9;

/* Of the whole job: what it is, and how it goes. */
static void head_whole(struct column *column, const struct stringing *stringing)
{
	const struct pattern *pattern = stringing->sequence->pattern;
	struct text line = {0};
	struct column words = {.words = &line, .book = column->book};

	column_title(column, pattern->title, 6);
	text_format(&line, "%s: %s, %d x %d, %s: %d", pattern->name,
		    column_word(column, sport_names[pattern->sport]), pattern->mains,
		    pattern->crosses, column_word(column, "bridge_holes"), pattern->bridge);
	column_text(column, text_string(&line), 3.2, GREY, false);
	text_clear(&line);
	facts_of_mains(&words, stringing);
	column_text(column, text_string(&line), 2.7, INK, false);
	text_clear(&line);
	facts_of_crosses(&words, stringing);
	column_text(column, text_string(&line), 2.7, INK, false);
	text_free(&line);
}

/* A bare pattern has no plan, so its tensions are made up: its calls are not shown. */
static void head_call(struct column *column, const struct stringing *stringing)
{
	const struct draw_options *options = stringing->options;
	const struct sequence *sequence = stringing->sequence;
	struct text line = {0};

	add_call_number(&line, stringing);
	column_title(column, text_string(&line), 6);
	if (sequence->job->text) {
		char *words =
			phrase_call(options->book, sequence, options->at_call - 1, options->manner);
		column_text(column, words, 4, ACCENT, true);
		free(words);
	}
	column_text(column, sequence->pattern->title, 3.2, GREY, false);
	text_free(&line);
}

static void draw_sheet(struct canvas *canvas, const struct stringing *stringing)
{
	const int columns = 3;
	const double size_mm = 2.9, margin_mm = sheet_margin_mm;
	double width = page_width_mm - 2 * margin_mm, bottom = page_height_mm - margin_mm;
	struct column head =
		column_at(canvas, stringing->options->book, margin_mm, margin_mm, width, 3.2);

	(stringing->options->at_call ? head_call : head_whole)(&head, stringing);
	struct spot legend = {margin_mm, bottom};
	legend.y_mm -= legend_draw(NULL, stringing, legend, width, columns, size_mm);
	struct box bed = {margin_mm, head.next.y_mm + 2, width, legend.y_mm - head.next.y_mm - 6};
	figure_draw(canvas, stringing, &bed, 3.6);
	legend_draw(canvas, stringing, legend, width, columns, size_mm);
}

/* ---- The card ---- */

static const double margin_mm = 12, facts_mm = 48;

static void add_head(struct column *column, const struct stringing *stringing)
{
	const struct job *job = stringing->sequence->job;
	const struct pattern *pattern = stringing->sequence->pattern;
	struct text line = {0};

	column_title(column, job->name, 7);
	column_text(column, pattern->title, 3.6, INK, false);
	if (job->racket)
		text_format(&line, "%s %s", column_word(column, "racket"), job->racket);
	if (job->customer)
		text_format(&line, "%s%s", line.length ? ", " : "", job->customer);
	if (line.length)
		column_text(column, text_string(&line), 3.6, INK, false);
	text_clear(&line);
	text_format(&line, "%s, %s, %s", pattern->name,
		    column_word(column, sport_names[pattern->sport]),
		    column_word(column, method_names[job->method]));
	if (job->stringer)
		text_format(&line, ", %s: %s", column_word(column, "stringer"), job->stringer);
	column_text(column, text_string(&line), 3.2, GREY, false);
	text_clear(&line);
	text_format(&line, "%s: %s", column_word(column, "notes"), job->notes ? job->notes : "");
	if (job->notes)
		column_text(column, text_string(&line), 3.2, INK, false);
	text_free(&line);
}

/* As large as there is room for, the values as far left as all names but very long ones allow. */
static void draw_facts(struct canvas *canvas, const struct stringing *stringing, double top_mm,
		       double bottom_mm)
{
	const double left_mm = page_width_mm - margin_mm - facts_mm;
	struct column column;
	double size_mm = 3.2;

	do {
		size_mm -= 0.2;
		column = column_at(NULL, stringing->options->book, left_mm, top_mm, facts_mm,
				   size_mm);
		facts_of_job(&column, stringing);
		column.indent_mm = fmin(column.names_mm, facts_mm / 2);
		column.next.y_mm = top_mm;
		facts_of_job(&column, stringing);
	} while (column.next.y_mm > bottom_mm && size_mm > 2);
	column.canvas = canvas;
	column.next.y_mm = top_mm;
	facts_of_job(&column, stringing);
}

static void add_cautions(struct column *column)
{
	static const char *const cautions[] = {"caution_eyes", "caution_hands", "caution_frame",
					       "caution_makers"};

	column_heading(column, "safety");
	for (size_t i = 0; i < sizeof(cautions) / sizeof(cautions[0]); i++)
		column_text(column, column_word(column, cautions[i]), 3, INK, false);
}

void card_words(const struct sequence *sequence, const struct draw_options *options,
		struct text *out)
{
	struct column column = {.words = out, .book = options->book};
	struct stringing stringing;

	stringing_read(sequence, options, &stringing);
	add_head(&column, &stringing);
	text_add_char(out, '\n');
	facts_of_job(&column, &stringing);
	text_add_char(out, '\n');
	add_cautions(&column);
}

/* Room for a pencil, if there is any. */
static void draw_notes(struct canvas *canvas, const struct stringing *stringing, double top_mm,
		       double bottom_mm, double width_mm)
{
	const double line_mm = 8;
	struct column column =
		column_at(canvas, stringing->options->book, margin_mm, top_mm, width_mm, 2.7);

	if (bottom_mm - top_mm < 2 * line_mm)
		return;
	column_heading(&column, "notes");
	int lines = (int)((bottom_mm - column.next.y_mm + 2) / line_mm);
	for (int i = 1; i <= lines; i++) {
		struct spot left = spot_beside(column.next, 0, i * line_mm - 2);
		canvas_begin(canvas, left);
		canvas_to(canvas, spot_beside(left, width_mm, 0));
	}
	canvas_draw(canvas, pen_line(FAINT, HAIR_MM), NULL);
}

static void draw_card(struct canvas *canvas, const struct stringing *stringing)
{
	const double cautions_mm = 27, between_mm = 5, size_mm = 2.7;
	const int columns = 2;
	const struct phrasebook *book = stringing->options->book;
	double page = page_width_mm - 2 * margin_mm, width = page - facts_mm - between_mm;
	double bottom = page_height_mm - margin_mm - cautions_mm;
	struct column head = column_at(canvas, book, margin_mm, margin_mm, page, 3.2);
	struct column cautions = column_at(canvas, book, margin_mm, bottom, page, 3.2);

	add_head(&head, stringing);
	add_cautions(&cautions);
	double top = head.next.y_mm + 2;
	double legend_mm =
		legend_draw(NULL, stringing, (struct spot){0, 0}, width, columns, size_mm);
	struct box bed = {margin_mm, top, width, bottom - top - legend_mm - 3 * between_mm};
	struct spot legend = {margin_mm, figure_draw(canvas, stringing, &bed, 3) + between_mm};
	legend_draw(canvas, stringing, legend, width, columns, size_mm);
	draw_notes(canvas, stringing, legend.y_mm + legend_mm + 2, bottom - 2, width);
	draw_facts(canvas, stringing, top, bottom);
}

/* ---- The page of a bed ---- */

enum exit_code draw_bed(const struct sequence *sequence, const struct draw_options *options,
			const char *path, struct faults *faults)
{
	struct text title = {0}, description = {0};
	struct stringing stringing;

	if (options->at_call < 0 || options->at_call > sequence->call_count) {
		fault_add(faults, FAULT_ERROR, "--at", (struct position){0, 0}, "draw-call",
			  "there is no call %d: the job has %d", options->at_call,
			  sequence->call_count);
		return EXIT_USAGE;
	}
	stringing_read(sequence, options, &stringing);
	picture_describe(&stringing, &title, &description);
	struct canvas *canvas = canvas_new(page_width_mm, page_height_mm, text_string(&title),
					   text_string(&description), NULL);
	(options->card ? draw_card : draw_sheet)(canvas, &stringing);
	text_free(&title);
	text_free(&description);
	return picture_save(canvas, path, faults);
}

/* A job as usual practice has it. The tensions are never shown: inside the maker's range, so that
 * nothing is said about them. */
static struct job usual_job(const struct pattern *pattern)
{
	struct quantity tension =
		pattern->has_range ? pattern->tension_min : (struct quantity){20, UNIT_KG};

	return (struct job){
		.file = pattern->file,
		.name = pattern->name,
		.pattern = pattern->name,
		.tension = {tension, tension},
		.behind = 1,
		.detail = DETAIL_BENCH,
	};
}

enum exit_code draw_pattern(const struct pattern *pattern, const struct draw_options *options,
			    const char *path, struct faults *faults)
{
	struct job job = usual_job(pattern);
	struct sequence *sequence = sequence_compile(&job, pattern, faults);

	if (!sequence)
		return EXIT_NO;
	enum exit_code code = draw_bed(sequence, options, path, faults);
	sequence_free(sequence);
	return code;
}

/* ---- The label for a strung racket ---- */

enum exit_code draw_label(const struct job *job, const struct pattern *pattern,
			  const struct label *label, const char *path, struct faults *faults)
{
	static const char *const keys[] = {"racket",  "main_strings", "cross_strings",
					   "pattern", "stringer",     "strung"};
	const double edge_mm = 2, title_share = 1.3;
	double rows = 4 + (job->stringer != NULL) + (job->racket != NULL);
	double width = label->width_mm - 2 * edge_mm, height = label->height_mm - 2 * edge_mm;
	double size = height / (COLUMN_LINE_SHARE * (title_share + rows));
	struct canvas *canvas =
		canvas_new(label->width_mm, label->height_mm, job->name, pattern->title, NULL);
	struct column column =
		column_at(canvas, label->book, edge_mm, edge_mm, width, fmin(size, 0.06 * width));

	column.cut = true;
	column.indent_mm = 0;
	for (size_t i = 0; i < sizeof(keys) / sizeof(keys[0]); i++)
		column.indent_mm =
			fmax(column.indent_mm, lettering_width_mm(column_word(&column, keys[i]),
								  column.size_mm, false) +
						       0.5 * column.size_mm);
	column_title(&column, job->name, title_share * column.size_mm);
	if (job->racket)
		column_fact(&column, "racket", "%s", job->racket);
	fact_pulled(&column, "main_strings", job, pattern, STRING_MAIN, pattern_half(pattern));
	fact_pulled(&column, "cross_strings", job, pattern, STRING_CROSS, pattern->crosses);
	column_fact(&column, "pattern", "%s", pattern->name);
	if (job->stringer)
		column_fact(&column, "stringer", "%s", job->stringer);
	if (label->number)
		column_fact(&column, "strung", "%s, %s %d", label->date,
			    column_word(&column, "job"), label->number);
	else
		column_fact(&column, "strung", "%s", label->date);
	return picture_save(canvas, path, faults);
}
