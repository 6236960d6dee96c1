/* How a picture is put together: draw.c > pages.c > figure.c, of what stringing.c reads and
 * layout.c places, on a canvas. */
#ifndef DRAW_INTERNAL_H
#define DRAW_INTERNAL_H

#include "draw/draw.h"

/* ---- The strung bed: stringing.c ---- */

/* What a move leaves on the bed. */
struct mark {
	const struct move *move;
	bool next; /* the call makes it */
};

enum { MARKS_MAX = STRANDS_MAX + 24 };

struct stringing {
	const struct sequence *sequence;
	const struct draw_options *options;
	struct strand strands[STRANDS_MAX];
	int strand_count;
	struct mark marks[MARKS_MAX]; /* pulls, knots, tie-offs, and clamps that hold */
	int mark_count;
	int pull_count;

	/* Under way: where the string was last fed through, of the mains by side and of the
	 * crosses; hole 0: nowhere yet. */
	struct sided_hole tip[3];
};

/* As options->at_call has it. */
void stringing_read(const struct sequence *sequence, const struct draw_options *options,
		    struct stringing *out);

/* Where a pull, a knot or a clamp is. */
static inline struct sided_hole place_of(const struct move *move)
{
	return (struct sided_hole){move->hole, move->side};
}

/* The first of the strings that a move is about; its number is the last. */
int pull_first(const struct move *move);

/* Whether a cross passes over the main of that column. */
bool strand_is_over(const struct strand *cross, const struct strand *main);

/* The phrasebook's word for a key, and for a side unless the user has words of their own. */
const char *shown(const struct stringing *stringing, const char *key);
const char *shown_side(const struct stringing *stringing, enum side side);

/* ---- Where things go: layout.c ----
 * A place along the rim is in real millimetres, clockwise from the middle of the head. */

/* A spot on the rim, or that far outside it. */
struct spot layout_spot(const struct layout *layout, double at, double out_mm);

double layout_at(const struct layout *layout, struct sided_hole place);

/* The hole, in the middle of the frame's thickness. */
struct spot layout_hole(const struct layout *layout, struct sided_hole place);

/* The words round the frame: a ring of hole labels, and outside that a ring with the order of the
 * pulls and the names of the strings. Tags that would overlap make room along the rim. */

enum tag_kind {
	TAG_HOLE,   /* "7H" */
	TAG_PULL,   /* "12", white on black: where the string leaves for the tension head */
	TAG_STRING, /* "M4", "C9": where the string goes in */
	TAG_ARM,    /* no word: an arm of the throat, which the others make room for */
};

enum { TAG_TEXT_MAX = 16, TAGS_MAX = 4 * HOLES_MAX + 2 * STRANDS_MAX + 4 };

struct tag {
	enum tag_kind kind;
	char text[TAG_TEXT_MAX];
	struct sided_hole place;
	int ring; /* 0: next to the frame, 1: outside that */
	bool next;
	double home; /* along the rim: its hole, and where there was room */
	double at;
	struct spot half; /* its width and height */
	struct spot centre;
};

struct tags {
	double size_mm; /* of the hole labels */
	struct tag items[TAGS_MAX];
	int count;
};

/* The room that the rings take outside the frame, on each side and at each end. */
struct spot tags_room(double size_mm);

/* Lays the tags out for that size. False if they cannot be kept apart near their holes. */
bool tags_make(const struct layout *layout, const struct stringing *stringing, double size_mm,
	       struct tags *out);

/* The size of the letters in a tag, where hole labels have that size. */
double tag_size_mm(enum tag_kind kind, double size_mm);

/* ---- The figure: figure.c ---- */

struct box {
	double x_mm; /* left */
	double y_mm; /* top */
	double width_mm;
	double height_mm;
};

struct figure {
	const struct stringing *stringing;
	struct box box;
	double bottom_mm; /* where the picture ends: it may need less than the box */
	struct layout layout;
	struct tags tags;
};

/* As large as the box allows, with the largest letters up to that size for which there is room. */
void figure_fit(const struct stringing *stringing, const struct box *box, double size_mm,
		struct figure *out);

void figure_draw(struct canvas *canvas, const struct figure *figure);

/* Draws what the marks of the figure mean, in so many columns, and returns its height. Without a
 * canvas it only measures. */
double legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		   double width_mm, int columns, double size_mm);

/* A bar of 100 real millimetres, or why there is none. */
void scale_draw(struct canvas *canvas, const struct figure *figure, struct spot bottom_right,
		double size_mm);

/* ---- Pages: pages.c ---- */

/* How many bytes of the text, in whole characters, are no wider than that (canvas.c). */
size_t lettering_fit(const char *text, double size_mm, bool bold, double width_mm);

/* Upright A4 (ISO 216). */
#define SHEET_WIDTH_MM  210.0
#define SHEET_HEIGHT_MM 297.0

/* The title, and the whole picture in words: what it shows, the holes that are special, every pull
 * in order. */
void picture_describe(const struct stringing *stringing, struct text *title, struct text *out);

void sheet_draw(struct canvas *canvas, const struct stringing *stringing);
void card_draw(struct canvas *canvas, const struct stringing *stringing);
void label_draw(struct canvas *canvas, const struct job *job, const struct pattern *pattern,
		const struct label *label);

#endif
