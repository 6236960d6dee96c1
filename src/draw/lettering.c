#include "draw/internal.h"

#include <string.h>

/* DejaVu Sans and DejaVu Sans Bold, from the space on, rounded up. */
static const short advance[2][95] = {
	{
		318,  401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337,
		637,  637, 637, 637, 637, 637, 637, 637, 637, 637, 337, 337, 838, 838, 838, 531,
		1000, 685, 687, 699, 771, 632, 576, 775, 752, 295, 295, 656, 558, 863, 749, 788,
		604,  788, 695, 635, 611, 732, 685, 989, 686, 611, 686, 391, 337, 391, 838, 500,
		500,  613, 635, 550, 635, 616, 353, 635, 634, 278, 278, 580, 278, 975, 634, 612,
		635,  635, 412, 521, 393, 634, 592, 818, 592, 592, 525, 637, 337, 637, 838,
	},
	{
		349,  457, 521, 838, 696, 1002, 873, 307,  458, 458, 523, 838, 380, 416,  380, 366,
		696,  696, 696, 696, 696, 696,  696, 696,  696, 696, 400, 400, 838, 838,  838, 581,
		1000, 774, 763, 734, 831, 684,  684, 821,  837, 373, 373, 775, 638, 996,  837, 851,
		733,  851, 771, 721, 683, 813,  774, 1104, 771, 725, 726, 458, 366, 458,  838, 500,
		500,  675, 716, 593, 716, 679,  436, 716,  712, 343, 343, 666, 343, 1042, 712, 688,
		716,  716, 494, 596, 479, 712,  652, 924,  646, 652, 583, 712, 366, 712,  838,
	},
};

static bool goes_on(unsigned char byte)
{
	return (byte & 0xC0) == 0x80;
}

/* Of the character that begins here, in ems; of the further bytes of one, nothing. */
static double width_of(const char *at, bool bold)
{
	unsigned char byte = (unsigned char)*at;

	if (goes_on(byte))
		return 0;
	if (strncmp(at, "–", 3) == 0)
		return 0.5;
	return byte >= ' ' && byte < 0x7F ? advance[bold][byte - ' '] / 1000.0 : 1;
}

double lettering_width_mm(const char *text, double size_mm, bool bold)
{
	double width = 0;

	for (const char *at = text; *at; at++)
		width += width_of(at, bold);
	return width * size_mm;
}

size_t lettering_fit(const char *text, double size_mm, bool bold, double width_mm)
{
	size_t length = 0;

	for (double width = 0; text[length]; length++) {
		width += width_of(text + length, bold) * size_mm;
		if (width > width_mm)
			break;
	}
	return length;
}
