/* Pictures: of a string bed, to look at, to print and to pin up; and what they are drawn with.
 *
 *   1. Files               a bed, a bench card, a label: SVG, PDF or PNG by the suffix
 *   2. Canvas              an SVG: paths and letters on a page
 *   3. Style               colours, weights, the width of letters
 *   4. The frame           and where things go on the page
 *
 * A picture is made from a compiled sequence and nothing else, so what is seen is what is called.
 */
#ifndef DRAW_DRAW_H
#define DRAW_DRAW_H

#include "base/base.h"
#include "frame/frame.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

/* ---- Files ----
 *
 * A file is there whole or not at all. Faults name the path as their file. Codes: EXIT_DONE;
 * EXIT_USAGE no such format, no such call; EXIT_NO the pattern cannot be strung; EXIT_IO the file
 * could not be written; EXIT_UNAVAILABLE, EXIT_SYSTEM rsvg-convert, which makes PDF and PNG of the
 * SVG, is not there or failed. */

struct draw_options {
	const struct phrasebook *book; /* whose words are shown */
	bool card;   /* the bench card of the whole job: all that a stringer pins up */
	int at_call; /* the bed as it stands when this call is made, from 1; 0: the whole */
	const struct phrase_options *manner; /* how the call and the sides are said, or NULL */
};

/* Draws to path: .svg, .pdf or .png; "-" is SVG on standard output. A bed and a card are one A4
 * page. */
enum exit_code draw_bed(const struct sequence *sequence, const struct draw_options *options,
			const char *path, struct faults *faults);

/* The same for a frame with no job yet: two-piece, by usual practice; no card. */
enum exit_code draw_pattern(const struct pattern *pattern, const struct draw_options *options,
			    const char *path, struct faults *faults);

/* All that a card says of a job but for its picture, in lines of words. */
void card_words(const struct sequence *sequence, const struct draw_options *options,
		struct text *out);

/* The label for a strung racket: its mark, strings, tensions, date. */
struct label {
	const struct phrasebook *book;
	double width_mm;
	double height_mm;
	const char *date; /* of the stringing, as it is printed */
	int number;       /* of the job in the journal; 0: none */
};

enum exit_code draw_label(const struct job *job, const struct pattern *pattern,
			  const struct label *label, const char *path, struct faults *faults);

/* Writes to a temporary name in the same folder and renames that over the path, so that a full disk
 * leaves what was there before. "-" is standard output; that, a device and a pipe are written
 * straight. False with *why (as of strerror) if it could not be done. */
bool output_write(const char *path, const char *bytes, size_t length, const char **why);

/* ---- Canvas ----
 *
 * Lengths are millimetres on the page, from its top left corner, y down. Attributes are SVG
 * attributes as they are written in a tag ("class=\"hole\" data-hole=\"7H\""), or NULL: they tell
 * a program that reads the picture what a mark means. */

struct spot {
	double x_mm;
	double y_mm;
};

static inline struct spot spot_beside(struct spot spot, double right_mm, double down_mm)
{
	return (struct spot){spot.x_mm + right_mm, spot.y_mm + down_mm};
}

/* A colour is 0xRRGGBB, or none. */
enum { COLOUR_NONE = -1 };

struct pen {
	int stroke; /* a colour, as is fill */
	double width_mm;
	int fill;       /* a piece inside another is a hole */
	double dash_mm; /* dash and gap; 0: an unbroken line */
	bool round;     /* ends; corners are sharp where a path is closed, else round */
};

enum anchor { ANCHOR_START, ANCHOR_MIDDLE, ANCHOR_END };

struct lettering {
	double size_mm;
	int colour;
	enum anchor anchor;
	bool bold;
	bool halo; /* paper round the letters, over lines that cross them */
};

struct canvas;

/* inside NULL: a file of its own. Else an SVG element within an HTML page, whose size, paper and
 * font are the page's to say; the ids of title and description begin with this word. */
struct canvas *canvas_new(double width_mm, double height_mm, const char *title,
			  const char *description, const char *inside);

/* Adds the finished SVG to bytes and frees the canvas. */
void canvas_finish(struct canvas *canvas, struct text *bytes);

/* What is drawn between group and end belongs together; title is its name for a reader, or NULL. */
void canvas_group(struct canvas *canvas, const char *attributes, const char *title);
void canvas_end(struct canvas *canvas);

/* A path has one or several pieces: canvas_begin starts one, canvas_to adds a corner (the first of
 * a path starts its first piece), canvas_close closes every piece; canvas_box is a closed piece.
 * canvas_draw draws the path, and may do so again with another pen: the next corner after it is the
 * first of a new path. */
void canvas_begin(struct canvas *canvas, struct spot spot);
void canvas_to(struct canvas *canvas, struct spot spot);
void canvas_close(struct canvas *canvas);
void canvas_box(struct canvas *canvas, struct spot centre, double half_width_mm,
		double half_height_mm);
void canvas_draw(struct canvas *canvas, struct pen pen, const char *attributes);

void canvas_line(struct canvas *canvas, struct spot from, struct spot to, struct pen pen,
		 const char *attributes);
void canvas_circle(struct canvas *canvas, struct spot centre, double radius_mm, struct pen pen,
		   const char *attributes);

/* Text whose base line the spot is on, or whose capitals are centred vertically on it. */
void canvas_text(struct canvas *canvas, struct spot spot, struct lettering lettering,
		 const char *text, const char *attributes);
void canvas_label(struct canvas *canvas, struct spot centre, struct lettering lettering,
		  const char *text, const char *attributes);

/* Attributes made as by printf; they are good until the next call. */
const char *canvas_attributes(struct canvas *canvas, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

/* ---- Style ----
 *
 * Three greys and one colour, and nothing is told by them alone: every difference is one of shape
 * or weight too, so that a black and white print loses nothing. */

enum {
	INK = 0x000000,   /* pure, so that a printer does not screen it */
	GREY = 0x4A4F54,  /* second voice: names, notes */
	FAINT = 0xA9AEB2, /* guide lines */
	CORE = 0xC4CACF,  /* between the two edges of a cross */
	PALE = 0xECEDEE,  /* the frame */
	PAPER = 0xFFFFFF,
	ACCENT = 0xC2330F, /* what is to be done next: a middle grey in black and white */
};

/* Line weights, each 1.4 to 2 times the one below, as in technical drawing. */
#define HAIR_MM   0.13
#define THIN_MM   0.25
#define MEDIUM_MM 0.4

static inline struct pen pen_edge(int colour, double width_mm, int fill)
{
	return (struct pen){.stroke = colour, .width_mm = width_mm, .fill = fill};
}

static inline struct pen pen_line(int colour, double width_mm)
{
	return pen_edge(colour, width_mm, COLOUR_NONE);
}

static inline struct pen pen_fill(int colour)
{
	return pen_edge(COLOUR_NONE, 0, colour);
}

/* The height of capitals and figures as a share of the size; usual fonts differ by 3 %. */
#define CAPITAL_SHARE 0.73

/* How wide text is, to a few hundredths, in DejaVu Sans, the widest of the usual sans serifs: an
 * SVG may be shown in any of them. */
double lettering_width_mm(const char *text, double size_mm, bool bold);

/* ---- Where things go on the page ---- */

/* One hole of the frame. */
struct sided_hole {
	struct hole hole;
	enum side side;
};

/* The geometry of the frame (frame/frame.h) at a scale, with the handle below. */
struct layout {
	const struct pattern *pattern;
	struct spot centre;
	double scale;         /* page over frame */
	bool assumed;         /* the pattern gives no head size: a usual one of its sport */
	struct bed bed;       /* in real millimetres */
	double band_mm;       /* the thickness of the frame, on the page */
	double bridge_end[2]; /* by side: where the bridge meets the hoop, along the rim; 0 without
				 one */
};

/* As large as the frame may be in that width and height, its top in the middle below that spot. */
void layout_fit(const struct pattern *pattern, struct spot top, double width_mm, double height_mm,
		struct layout *out);

/* Where the string of a hole enters the hoop: from one to the next it runs straight. */
struct spot layout_inner(const struct layout *layout, struct sided_hole place);

/* Draws the hoop and its bridge, and the arms of the throat down to bottom_mm. */
void draw_frame(struct canvas *canvas, const struct layout *layout, double bottom_mm);

#endif
