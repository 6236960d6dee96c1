#include "report/internal.h"

void sketch_box(struct canvas *canvas, struct spot corner, double wide, double high,
		const struct pen *pen, const char *attributes)
{
	struct path path = {0};

	path_box(&path, (struct spot){corner.x_mm + wide / 2, corner.y_mm + high / 2}, wide / 2,
		 high / 2, (struct spot){0, 1});
	canvas_path(canvas, &path, pen, attributes);
	path_free(&path);
}

void sketch_line(struct canvas *canvas, struct spot from, struct spot to, const struct pen *pen,
		 const char *attributes)
{
	struct path path = {0};

	path_line(&path, from, to);
	canvas_path(canvas, &path, pen, attributes);
	path_free(&path);
}

void sketch_text(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 const char *text, const char *attributes)
{
	spot.y_mm += CAPITAL_SHARE * lettering->size_mm / 2;
	canvas_text(canvas, spot, lettering, text, attributes);
}

void sketch_time(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 double us, const char *attributes)
{
	char time[DURATION_TEXT_MAX];

	sketch_text(canvas, spot, lettering, duration_text(us, time), attributes);
}
