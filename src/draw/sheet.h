/* What is put on a page: the picture alone, or the bench card. */
#ifndef DRAW_SHEET_H
#define DRAW_SHEET_H

#include "draw/draw.h"
#include "draw/figure.h"

/* Upright A4 (ISO 216). */
#define SHEET_WIDTH_MM  210.0
#define SHEET_HEIGHT_MM 297.0

void sheet_title(struct text *out, const struct stringing *stringing);
void sheet_draw(struct canvas *canvas, const struct stringing *stringing,
		const struct draw_options *options);
void card_draw(struct canvas *canvas, const struct stringing *stringing,
	       const struct draw_options *options);

/* The words for the two sides. */
void sheet_sides(const struct draw_options *options, const char *words[static 2]);

#endif
