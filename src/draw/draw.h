/* Pictures of a string bed, to look at, to print and to pin up.
 *
 * They are made from a compiled sequence and from nothing else, so that what is seen is what is
 * called out: SVG with real text, one page of PDF, or PNG, by the suffix of the file. A file is
 * there whole or not at all. Faults go to the list with the path as their file.
 */
#ifndef DRAW_DRAW_H
#define DRAW_DRAW_H

#include "base/base.h"
#include "frame/frame.h"
#include "sequence/sequence.h"

#include <stdbool.h>
#include <stddef.h>

/* A page to draw on, whatever becomes of it: one small interface over an SVG writer and Cairo.
 *
 * Lengths are millimetres on the page, from its top left corner, y down. Attributes are SVG
 * attributes as they are written in a tag ("class=\"hole\" data-hole=\"7H\""), or NULL; they say
 * what a mark means to those who read the picture with a program, and other formats leave them out.
 */

struct spot {
	double x_mm;
	double y_mm;
};

/* Lines through corners, in one or several pieces. A zeroed struct is empty. */
struct path {
	struct corner {
		struct spot spot;
		bool begins; /* a new piece */
	} * corners;
	int count;
	int capacity;
	bool closed; /* every piece is */
};

/* 0xRRGGBB, or none. */
enum { COLOUR_NONE = -1 };

struct pen {
	int stroke;
	double width_mm;
	double dash_mm; /* dash and gap; 0: an unbroken line */
	bool round;     /* ends; corners are sharp where a path is closed, else round */
	int fill;       /* what two pieces enclose twice is not filled */
};

enum anchor { ANCHOR_START, ANCHOR_MIDDLE, ANCHOR_END };

struct lettering {
	double size_mm;
	int colour;
	bool bold;
	enum anchor anchor;
	int halo; /* a colour behind the letters, or COLOUR_NONE */
};

struct page {
	double width_mm;
	double height_mm;
	const char *title;
	const char *description;
	/* NULL: a file of its own. Else an SVG element within an HTML page, whose size, paper and
	 * font are the page's to say; the ids of title and description begin with this word. */
	const char *inside;
};

enum canvas_format { CANVAS_SVG, CANVAS_PDF, CANVAS_PNG };

struct canvas;

struct canvas *canvas_new(enum canvas_format format, const struct page *page);

/* What is drawn between group and end belongs together; title is its name for a reader, or NULL. */
void canvas_group(struct canvas *canvas, const char *attributes, const char *title);
void canvas_end(struct canvas *canvas);
void canvas_path(struct canvas *canvas, const struct path *path, const struct pen *pen,
		 const char *attributes);
void canvas_circle(struct canvas *canvas, struct spot centre, double radius_mm,
		   const struct pen *pen, const char *attributes);

/* The spot is on the base line of the letters. */
void canvas_text(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 const char *text, const char *attributes);

/* The finished file, added to bytes. False with *why (static storage) if it could not be made. The
 * canvas is gone in either case. */
bool canvas_finish(struct canvas *canvas, struct text *bytes, const char **why);

void path_begin(struct path *path, struct spot spot);
void path_to(struct path *path, struct spot spot);
void path_clear(struct path *path);
void path_free(struct path *path);

/* Two corners; a box round a centre, turned so that its height points along a direction. */
void path_line(struct path *path, struct spot from, struct spot to);
void path_box(struct path *path, struct spot centre, double half_width_mm, double half_height_mm,
	      struct spot direction);

enum draw_result {
	DRAW_DONE,
	DRAW_USAGE,   /* no such format, no such call */
	DRAW_INPUT,   /* the pattern cannot be strung */
	DRAW_OUTSIDE, /* the file could not be written */
};

struct draw_options {
	int at_call; /* the bed as it stands when this call is made, from 1; 0: the whole */
	const char *call_words;    /* what is said at that call, or NULL */
	const char *side_words[2]; /* by side, the user's own; NULL: left, right */
};

/* Draws to path: .svg, .pdf or .png; "-" is SVG on standard output. options may be NULL. */
enum draw_result draw_bed(const struct sequence *sequence, const struct draw_options *options,
			  const char *path, struct faults *faults);

/* The same for a frame with no job yet: in two pieces, as the pattern and usual practice have it.
 */
enum draw_result draw_pattern(const struct pattern *pattern, const struct draw_options *options,
			      const char *path, struct faults *faults);

/* The bench card: one A4 page with the picture and all that a stringer pins up. at_call is not
 * used. */
enum draw_result draw_card(const struct sequence *sequence, const struct draw_options *options,
			   const char *path, struct faults *faults);

/* The string bed as a job leaves it: read from the moves of its sequence, from the first up to a
 * call. The pattern is not asked again, so what is seen in a picture is what is called out. */

/* One hole of the frame. */
struct place {
	struct hole hole;
	enum side side;
};

struct strand {
	enum string_kind kind;
	int number;
	enum side side; /* main: its side; cross: where it goes in */
	int column;     /* main: counted from the left, from 1 */
	struct place from;
	struct place to;
	struct weave weave;     /* cross */
	struct mains_met mains; /* cross: the columns that it was woven through */
	int pull;               /* the pull that tensions it, from 1; 0: none so far */
	bool next;              /* what the call is about */
};

/* String that runs outside the frame from one hole to another. */
enum run_kind { RUN_LOOP, RUN_KNOT };

struct run {
	enum run_kind kind;
	enum string_kind string;
	struct place from;
	struct place to;
	bool next;
};

struct knot {
	struct place place;
	enum string_kind string;
	bool start;     /* a starting knot, else a tie-off */
	bool suggested; /* the pattern names no hole for it */
	bool next;
};

struct pull {
	enum string_kind string;
	struct place place; /* where the string leaves the frame for the tension head */
	int first;          /* the strings tensioned by it */
	int last;
	bool next;
};

struct clamp {
	enum string_kind string;
	int number;
	enum side side;
	bool start;
	struct place place;
};

enum {
	STRANDS_MAX = MAINS_MAX + CROSSES_MAX,
	RUNS_MAX = STRANDS_MAX + 8,
	KNOTS_MAX = 8,
	CLAMPS_MAX = 8,
};

struct stringing {
	const struct sequence *sequence;
	int call; /* the bed stands as it does when this call is made, from 1; 0: the job is done */
	struct strand strands[STRANDS_MAX];
	int strand_count;
	struct run runs[RUNS_MAX];
	int run_count;
	struct knot knots[KNOTS_MAX];
	int knot_count;
	struct pull pulls[STRANDS_MAX]; /* pull n is pulls[n - 1] */
	int pull_count;
	struct clamp clamps[CLAMPS_MAX]; /* those that hold; none once the job is done */
	int clamp_count;

	/* Under way: where the string was last fed through, of the mains by side and of the
	 * crosses. */
	struct place tip[3];
	bool tip_known[3];
};

void stringing_read(const struct sequence *sequence, int call, struct stringing *out);

/* Whether a strand is under tension; one that the call will pull is not yet. */
bool strand_is_pulled(const struct stringing *stringing, const struct strand *strand);

/* Whether a cross passes over the main of that column. */
bool strand_is_over(const struct strand *cross, const struct strand *main);

/* A job in words, for the lines beside a picture and for those who have the picture read to them.
 */

/* "7H 9H 7T 9T", or "none". */
void facts_holes(struct text *out, const struct hole_set *set);

/* "8T left and right", "7T left, 9T right": where knots of this kind are. */
void facts_knots(struct text *out, const struct stringing *stringing, enum string_kind string,
		 bool start);

/* "16 mains, 19 crosses, 6 bridge holes". */
void facts_counts(struct text *out, const struct pattern *pattern);

/* "Mains start at the throat, left first, and finish at the head. Crosses run from the head to the
 * throat." */
void facts_order(struct text *out, const struct sequence *sequence);

/* "Call 12 of 61". */
void facts_call(struct text *out, const struct stringing *stringing);

/* The whole picture: what it shows, the holes that are special, every pull in order. */
void facts_describe(struct text *out, const struct stringing *stringing);

/* Where everything of a frame goes on the page.
 *
 * Mains stand where the pattern or the estimate puts them (frame/frame.h) and run straight; that
 * fixes their holes. A cross runs straight too, from a hole to the same hole on the other side, and
 * so has to leave the hoop between the mains whose holes its own lies between: within that, crosses
 * are spread as evenly as can be. A drawing made so shows every string in its hole and every
 * crossing that is really there, and no other: the outermost mains end below the first cross.
 */

/* Steps along the inner edge of the hoop, clockwise from the middle of the head. */
enum { RIM_HALF = 512, RIM_WHOLE = 2 * RIM_HALF };

struct layout {
	const struct pattern *pattern;
	struct spot centre;
	double scale;     /* page over frame */
	bool assumed;     /* the pattern gives no head size: a usual one of its sport */
	struct hoop hoop; /* its inner edge, on the page */
	double band_mm;   /* the thickness of the frame, on the page */
	struct spot rim[RIM_WHOLE];
	struct spot outward[RIM_WHOLE]; /* unit vectors across the rim */
	double at[2][2][HOLES_MAX + 1]; /* by side, end and number: steps along the rim */
	double bridge_end[2]; /* by side: where the bridge meets the hoop; 0 without one */
};

/* The head that is drawn, in real millimetres: the pattern's, or a usual one of its sport. True if
 * it is the pattern's. */
bool layout_head(const struct pattern *pattern, struct head *out);

void layout_make(const struct pattern *pattern, struct spot centre, double scale,
		 struct layout *out);

/* A spot on the rim, or that far outside it; steps may go below 0 and beyond the whole. */
struct spot layout_spot(const struct layout *layout, double at, double out_mm);
struct spot layout_outward(const struct layout *layout, double at);

double layout_at(const struct layout *layout, struct place place);

/* The hole, in the middle of the frame's thickness. */
struct spot layout_hole(const struct layout *layout, struct place place);

/* The middle of an arm of the throat, so far below where it leaves the hoop, and how wide it is. */
struct spot layout_arm(const struct layout *layout, enum side side, double down_mm);
double layout_arm_mm(const struct layout *layout);

/* A string inside the hoop: a straight line. */
void layout_strand(const struct layout *layout, const struct strand *strand,
		   struct spot line[static 2]);

/* How far along a line, from 0 to 1, another one meets it; less than 0: nowhere. */
double layout_meeting(const struct spot line[static 2], const struct spot other[static 2]);

/* The words round the frame: a ring of hole labels, and outside that a ring with the order of the
 * pulls and the names of the strings. Tags that would overlap make room along the rim. */

enum tag_kind {
	TAG_HOLE,   /* "7H" */
	TAG_PULL,   /* "12", in a disc: where the string leaves for the tension head */
	TAG_STRING, /* "M4", "C9": where the string goes in */
	TAG_ARM,    /* no word: an arm of the throat, which the others make room for */
};

enum { TAG_TEXT_MAX = 16, TAGS_MAX = 4 * HOLES_MAX + 2 * STRANDS_MAX + 4 };

struct tag {
	enum tag_kind kind;
	char text[TAG_TEXT_MAX];
	struct place place;
	int ring; /* 0: next to the frame, 1: outside that */
	bool next;
	double home; /* steps along the rim: its hole, and where there was room */
	double at;
	double half_width_mm;
	double half_height_mm;
	struct spot centre;
};

struct tags {
	double size_mm; /* of the hole labels */
	struct tag items[TAGS_MAX];
	int count;
};

/* The room that the rings take outside the frame, on each side and at each end. */
void tags_room(double size_mm, struct spot *out);

/* Lays the tags out for that size. False if they cannot be kept apart near their holes. */
bool tags_make(const struct layout *layout, const struct stringing *stringing, double size_mm,
	       struct tags *out);

/* The size of the letters in a tag. */
double tag_size_mm(const struct tags *tags, enum tag_kind kind);

/* The picture of a bed: the frame with its holes, the strings in it, the words round it. */

struct box {
	double x_mm; /* left */
	double y_mm; /* top */
	double width_mm;
	double height_mm;
};

struct figure {
	const struct stringing *stringing;
	const char *const *side_words; /* by side */
	struct box box;
	double bottom_mm; /* where the picture ends: it may need less than the box */
	struct layout layout;
	struct tags tags;
};

/* As large as the box allows, with the largest letters up to that size for which there is room. */
void figure_fit(const struct stringing *stringing, const char *const side_words[2],
		const struct box *box, double size_mm, struct figure *out);

void figure_draw(struct canvas *canvas, const struct figure *figure);

/* The marks of a picture, for the figure and for its legend. */
void draw_hole(struct canvas *canvas, const struct pattern *pattern, struct hole hole,
	       struct spot spot, double radius_mm, const char *attributes);
void draw_knot(struct canvas *canvas, const struct knot *knot, struct spot spot, double radius_mm,
	       const char *attributes);
void draw_clamp(struct canvas *canvas, struct spot spot, struct spot along, double radius_mm,
		const char *attributes);
void draw_pull(struct canvas *canvas, struct spot centre, double radius_mm, double size_mm,
	       const char *number, bool next, const char *attributes);

/* The parts of the figure. */
void draw_frame(struct canvas *canvas, const struct figure *figure);
void draw_strands(struct canvas *canvas, const struct figure *figure);

/* A strand in several pieces: a main is a solid line, a cross an outline. */
enum strand_look { LOOK_PULLED, LOOK_THREADED, LOOK_NEXT };

void draw_pieces(struct canvas *canvas, const struct path *pieces, enum string_kind kind,
		 enum strand_look look, double width_mm);

/* How thick strings are drawn in this figure. */
double strand_width_mm(const struct figure *figure);

/* How wide text comes out, without a font at hand.
 *
 * Whose font an SVG is shown in nobody knows, and asking Cairo for one takes longer than drawing
 * the picture. So the layout leaves the room that DejaVu Sans takes, the widest of the usual sans
 * serifs; measured at a thousand units to the em, characters beyond ASCII, but for the en dash,
 * taken as a whole em.
 */

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

/* A finished picture put on the disk whole or not at all. */

/* Writes to a temporary name in the same folder and renames that over the path, so that a full disk
 * leaves what was there before. "-" is standard output; that, a device and a pipe are written
 * straight. False with *why for the caller to free. */
bool output_write(const char *path, const char *bytes, size_t length, char **why);

/* One hand for the whole picture. Three greys and one colour, and nothing is told by them alone:
 * every difference is one of shape or weight too, so that a black and white print loses nothing. */

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
#define THICK_MM  0.6

static inline struct pen pen_line(int colour, double width_mm)
{
	return (struct pen){.stroke = colour, .width_mm = width_mm, .fill = COLOUR_NONE};
}

static inline struct pen pen_fill(int colour)
{
	return (struct pen){.stroke = COLOUR_NONE, .fill = colour};
}

#endif
