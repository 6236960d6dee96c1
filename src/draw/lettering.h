/* How wide text comes out, without a font at hand.
 *
 * Whose font an SVG is shown in nobody knows, and asking Cairo for one takes longer than drawing
 * the picture. So the layout leaves the room that DejaVu Sans takes, the widest of the usual sans
 * serifs; measured at a thousand units to the em, characters beyond ASCII, but for the en dash,
 * taken as a whole em.
 */
#ifndef DRAW_LETTERING_H
#define DRAW_LETTERING_H

#include <stdbool.h>

struct text;

/* The height of capitals and figures, as a share of the size: the fonts in question differ by 3 %.
 */
#define CAPITAL_SHARE 0.73

double lettering_width_mm(const char *text, double size_mm, bool bold);

/* Adds the text to out, cut with an ellipsis where it would be wider than that. */
void lettering_cut(struct text *out, const char *text, double size_mm, bool bold, double width_mm);

/* How many bytes of the text, up to a space, go into one line; all of them if they do. At least one
 * word is taken. */
int lettering_line(const char *text, double size_mm, bool bold, double width_mm);

#endif
