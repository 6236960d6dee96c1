/* Marks that several pictures are made of. */
#ifndef REPORT_SKETCH_H
#define REPORT_SKETCH_H

#include "draw/canvas.h"

/* A box by its top left corner. */
void sketch_box(struct canvas *canvas, struct spot corner, double wide, double high,
		const struct pen *pen, const char *attributes);
void sketch_line(struct canvas *canvas, struct spot from, struct spot to, const struct pen *pen,
		 const char *attributes);

/* Text whose capitals and figures stand with their middle at the height of the spot. */
void sketch_text(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 const char *text, const char *attributes);

#endif
