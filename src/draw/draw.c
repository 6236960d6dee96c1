#include "draw/internal.h"

#include <string.h>
#include <strings.h>

static const struct draw_options no_options;

static void fault(struct faults *faults, const char *path, const char *code, const char *text)
{
	fault_add(faults, FAULT_ERROR, path, (struct position){0, 0}, code, "%s", text);
}

static bool format_of(const char *path, enum canvas_format *out)
{
	static const char *const suffixes[] = {
		[CANVAS_SVG] = ".svg", [CANVAS_PDF] = ".pdf", [CANVAS_PNG] = ".png"};
	size_t length = strlen(path);

	*out = CANVAS_SVG;
	if (strcmp(path, "-") == 0)
		return true;
	for (int i = 0; i < 3; i++) {
		*out = (enum canvas_format)i;
		if (length > 4 && strcasecmp(path + length - 4, suffixes[i]) == 0)
			return true;
	}
	return false;
}

/* NULL with a fault if the path does not name a format. */
static struct canvas *open_canvas(const char *path, const struct page *page, struct faults *faults)
{
	enum canvas_format format;

	if (format_of(path, &format))
		return canvas_new(format, page);
	fault(faults, path, "draw-format", "the name of a picture ends in .svg, .pdf or .png");
	return NULL;
}

static enum draw_result save(struct canvas *canvas, const char *path, struct faults *faults)
{
	struct text bytes = {0};
	const char *why;
	bool made = canvas_finish(canvas, &bytes, &why);
	bool written = made && output_write(path, text_string(&bytes), bytes.length, &why);

	if (!written)
		fault(faults, path, made ? "draw-write" : "draw-picture", why);
	text_free(&bytes);
	return written ? DRAW_DONE : DRAW_OUTSIDE;
}

enum draw_result draw_bed(const struct sequence *sequence, const struct draw_options *options,
			  const char *path, struct faults *faults)
{
	struct text title = {0}, description = {0};
	struct stringing stringing;

	if (!options)
		options = &no_options;
	if (options->at_call < 0 || options->at_call > sequence->call_count) {
		fault_add(faults, FAULT_ERROR, path, (struct position){0, 0}, "draw-call",
			  "there is no call %d: the job has %d", options->at_call,
			  sequence->call_count);
		return DRAW_USAGE;
	}
	stringing_read(sequence, options->at_call, &stringing);
	stringing.by_call = options->card;
	sheet_title(&title, &stringing);
	facts_describe(&description, &stringing);
	const struct page page = {
		.width_mm = SHEET_WIDTH_MM,
		.height_mm = SHEET_HEIGHT_MM,
		.title = text_string(&title),
		.description = text_string(&description),
	};
	struct canvas *canvas = open_canvas(path, &page, faults);
	if (canvas)
		(options->card ? card_draw : sheet_draw)(canvas, &stringing, options);
	text_free(&title);
	text_free(&description);
	return canvas ? save(canvas, path, faults) : DRAW_USAGE;
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
		.weave_over = true,
		.behind = 1,
		.detail = DETAIL_BENCH,
	};
}

enum draw_result draw_pattern(const struct pattern *pattern, const struct draw_options *options,
			      const char *path, struct faults *faults)
{
	struct job job = usual_job(pattern);
	struct sequence *sequence = sequence_compile(&job, pattern, faults);

	if (!sequence)
		return DRAW_INPUT;
	enum draw_result result = draw_bed(sequence, options, path, faults);
	sequence_free(sequence);
	return result;
}

enum draw_result draw_label(const struct job *job, const struct pattern *pattern,
			    const struct label *label, const char *path, struct faults *faults)
{
	const struct page page = {
		.width_mm = label->width_mm,
		.height_mm = label->height_mm,
		.title = job->name,
		.description = "What was strung, and how.",
	};
	struct canvas *canvas = open_canvas(path, &page, faults);

	if (!canvas)
		return DRAW_USAGE;
	label_draw(canvas, job, pattern, label);
	return save(canvas, path, faults);
}
