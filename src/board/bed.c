/* The string bed as an SVG element within the page; board.css gives it its colours. */
#include "board/board.h"

#include <math.h>

/* The hoop in SVG units, and the share of it that the strings spread over. */
static const double centre_x = 100, centre_y = 134, radius_x = 88, radius_y = 114, spread = 0.88;

/* How far the hoop reaches along one axis, `offset` from its centre along the other. */
static double reach(double radius, double other_radius, double offset)
{
	return radius * sqrt(1 - offset * offset / (other_radius * other_radius));
}

/* The string of the call shows its number. */
static void add_main(struct text *out, const struct bed_picture *bed, int side, int number,
		     const char *look)
{
	double offset = radius_x * spread * (number - 0.5) / (bed->mains - 0.5);
	double x = side == 0 ? centre_x - offset : centre_x + offset;
	double half = reach(radius_y, radius_x, offset);

	text_format(out, "<path class=\"%s\" d=\"M%.1f %.1fV%.1f\"/>", look, x, centre_y - half,
		    centre_y + half);
	if (bed->calls_main && bed->side == side && bed->number == number)
		text_format(out, "<text x=\"%.1f\" y=\"%.1f\">%d</text>", x, centre_y - half - 7,
			    number);
}

static void add_cross(struct text *out, const struct bed_picture *bed, int number, const char *look)
{
	double step = bed->crosses > 1 ? 2 * radius_y * spread / (bed->crosses - 1) : 0;
	double down = (number - 1) * step - radius_y * spread;
	double y = bed->crosses_from_throat ? centre_y - down : centre_y + down;
	double half = reach(radius_x, radius_y, down);

	text_format(out, "<path class=\"%s\" d=\"M%.1f %.1fH%.1f\"/>", look, centre_x - half, y,
		    centre_x + half);
	if (bed->calls_cross && bed->number == number)
		text_format(out, "<text x=\"%.1f\" y=\"%.1f\">%d</text>",
			    centre_x + (bed->side == 0 ? -half - 11 : half + 11), y + 4, number);
}

static const char *look_of(uint64_t in, int number)
{
	return in >> number & 1 ? "in" : "to-do";
}

void bed_add(struct text *out, const struct bed_picture *bed)
{
	text_add(out,
		 "<svg viewBox=\"0 0 200 290\" role=\"img\" aria-labelledby=\"bed-title\">"
		 "<title id=\"bed-title\">The string bed at this call, head at the top</title>");
	for (int side = 0; side < 2; side++)
		for (int i = 1; i <= bed->mains; i++)
			add_main(out, bed, side, i, look_of(bed->mains_in[side], i));
	for (int i = 1; i <= bed->crosses; i++)
		add_cross(out, bed, i, look_of(bed->crosses_in, i));
	/* The hoop, and the shaft below its throat. */
	text_format(out,
		    "<ellipse class=\"hoop\" cx=\"%g\" cy=\"%g\" rx=\"%g\" ry=\"%g\"/>"
		    "<path class=\"hoop\" d=\"M58 235L84 272V290M142 235L116 272V290\"/>",
		    centre_x, centre_y, radius_x, radius_y);
	/* Once more, over all others. */
	if (bed->calls_main && bed->number <= bed->mains)
		add_main(out, bed, bed->side, bed->number, "call");
	if (bed->calls_cross && bed->number <= bed->crosses)
		add_cross(out, bed, bed->number, "call");
	text_add(out, "</svg>");
}
