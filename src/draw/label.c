/* The label for a strung racket. */
#include "draw/internal.h"

#include <math.h>

/* "54 lb co-polyester 1.25"; "50 to 54 lb" where not all are pulled alike. The tension comes first,
 * because a line that is too long is cut. */
static void set_string(struct column *column, const char *what, const struct job *job,
		       enum string_kind strings, int count)
{
	const char *name = job_length(job, strings)->name;
	struct quantity least = job_tension(job, strings, 1), most = least;
	char from[QUANTITY_TEXT_MAX], to[QUANTITY_TEXT_MAX];

	for (int number = 2; number <= count; number++) {
		double value = job_tension(job, strings, number).value;
		least.value = fmin(least.value, value);
		most.value = fmax(most.value, value);
	}
	bool alike = quantity_same(least, most);
	column_fact(column, what, "%s%s%s %s", alike ? "" : number_text(least.value, from),
		    alike ? "" : " to ", quantity_text(most, to), name ? name : "");
}

void label_draw(struct canvas *canvas, const struct job *job, const struct pattern *pattern,
		const struct label *label)
{
	const double margin_mm = 2, title_share = 1.3, rows = 5;
	double width = label->width_mm - 2 * margin_mm, height = label->height_mm - 2 * margin_mm;
	double size = height / (LINE_SHARE * (title_share + rows));
	struct column column =
		column_at(canvas, margin_mm, margin_mm, width, fmin(size, 0.06 * width));

	column.cut = true;
	column_title(&column, job->name, title_share * column.size_mm);
	set_string(&column, "Mains", job, STRING_MAIN, pattern_half(pattern));
	set_string(&column, "Crosses", job, STRING_CROSS, pattern->crosses);
	column_fact(&column, "Pattern", "%s", pattern->name);
	if (job->stringer)
		column_fact(&column, "Stringer", "%s", job->stringer);
	if (label->number)
		column_fact(&column, "Strung", "%s, job %d", label->date, label->number);
	else
		column_fact(&column, "Strung", "%s", label->date);
}
