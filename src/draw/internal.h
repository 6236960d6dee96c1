/* How a picture is put together: page > sheet or card > figure > frame, strands, holes, tags. */
#ifndef DRAW_INTERNAL_H
#define DRAW_INTERNAL_H

#include "draw/draw.h"

/* ---- The strung bed: stringing.c ----
 * Read from the moves of a sequence, from the first up to a call; what a way back has undone by
 * then is not there. */

/* String that runs outside the frame from one hole to another. */
struct run {
	const char *kind; /* "loop" or "tie-off" */
	enum string_kind string;
	struct sided_hole from;
	struct sided_hole to;
	bool next;
};

struct knot {
	const struct move *move;
	bool next;
};

struct pull {
	const struct move *move;
	int call; /* that makes it, from 1 */
	bool next;
};

enum { RUNS_MAX = STRANDS_MAX + 8, KNOTS_MAX = 8, CLAMPS_MAX = 8 };

struct stringing {
	const struct sequence *sequence;
	int call; /* the bed stands as it does when this call is made, from 1; 0: the job is done */
	bool by_call; /* pulls are numbered by their calls, not one after the other */
	struct strand strands[STRANDS_MAX];
	int strand_count;
	struct run runs[RUNS_MAX];
	int run_count;
	struct knot knots[KNOTS_MAX];
	int knot_count;
	struct pull pulls[STRANDS_MAX]; /* pull n is pulls[n - 1] */
	int pull_count;
	const struct move *clamps[CLAMPS_MAX]; /* those that hold */
	int clamp_count;

	/* Under way: where the string was last fed through, of the mains by side and of the
	 * crosses; hole 0: nowhere yet. */
	struct sided_hole tip[3];
};

void stringing_read(const struct sequence *sequence, int call, struct stringing *out);

/* Where a pull, a knot or a clamp is. */
static inline struct sided_hole place_of(const struct move *move)
{
	return (struct sided_hole){move->hole, move->side};
}

/* The first of the strings that a move is about; its number is the last. */
int pull_first(const struct move *move);

/* Whether a strand is under tension; one that the call will pull is not yet. */
bool strand_is_pulled(const struct stringing *stringing, const struct strand *strand);

/* Whether a cross passes over the main of that column. */
bool strand_is_over(const struct strand *cross, const struct strand *main);

/* ---- Where things go: layout.c ----
 * A place along the rim is in real millimetres, clockwise from the middle of the head. */

/* A spot on the rim, or that far outside it. */
struct spot layout_spot(const struct layout *layout, double at, double out_mm);

/* The unit vector across the rim. */
struct spot layout_outward(const struct layout *layout, double at);

double layout_at(const struct layout *layout, struct sided_hole place);

/* The hole, in the middle of the frame's thickness. */
struct spot layout_hole(const struct layout *layout, struct sided_hole place);

/* The middle of an arm of the throat, so far below where it leaves the hoop, and how wide it is. */
struct spot layout_arm(const struct layout *layout, enum side side, double down_mm);
double layout_arm_mm(const struct layout *layout);

/* ---- Tags: tags.c ----
 * The words round the frame: a ring of hole labels, and outside that a ring with the order of the
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
struct spot tags_room(double size_mm);

/* Lays the tags out for that size. False if they cannot be kept apart near their holes. */
bool tags_make(const struct layout *layout, const struct stringing *stringing, double size_mm,
	       struct tags *out);

/* The size of the letters in a tag, where hole labels have that size. */
double tag_size_mm(enum tag_kind kind, double size_mm);

/* ---- The figure: figure.c, strands.c, marks.c ---- */

struct box {
	double x_mm; /* left */
	double y_mm; /* top */
	double width_mm;
	double height_mm;
};

struct figure {
	const struct stringing *stringing;
	const struct draw_options *options;
	struct box box;
	double bottom_mm; /* where the picture ends: it may need less than the box */
	struct layout layout;
	struct tags tags;
};

/* As large as the box allows, with the largest letters up to that size for which there is room. */
void figure_fit(const struct stringing *stringing, const struct draw_options *options,
		const struct box *box, double size_mm, struct figure *out);

void figure_draw(struct canvas *canvas, const struct figure *figure);

/* The attributes of what is at a hole; they are good until the next ones are made. */
const char *place_attributes(struct canvas *canvas, const char *class, struct sided_hole place);

/* The marks of a picture, for the figure and for its legend. */
enum hole_look { HOLE_PLAIN, HOLE_SKIPPED, HOLE_SHARED, HOLE_UNUSED };

enum hole_look hole_look(const struct pattern *pattern, struct hole hole);
void draw_hole(struct canvas *canvas, enum hole_look look, struct spot spot, double radius_mm,
	       const char *attributes);
void draw_knot(struct canvas *canvas, const struct move *knot, bool next, struct spot spot,
	       const char *attributes);
void draw_clamp(struct canvas *canvas, struct spot spot, enum string_kind string,
		const char *attributes);
/* A flying clamp, on two strings. */
void draw_clamp_across(struct canvas *canvas, struct spot spot, struct spot other,
		       enum string_kind string);
void draw_pull(struct canvas *canvas, struct spot centre, double radius_mm, double size_mm,
	       const char *number, bool is_call, bool next, const char *attributes);

void draw_strands(struct canvas *canvas, const struct figure *figure);

/* Draws the path as a string: a main is a solid line, a cross an outline. */
enum strand_look { LOOK_PULLED, LOOK_THREADED, LOOK_NEXT };

void draw_string_path(struct canvas *canvas, enum string_kind kind, enum strand_look look,
		      double width_mm);

/* ---- Words: column.c, facts.c ---- */

/* How many bytes of the text, in whole characters, are no wider than that. */
size_t lettering_fit(const char *text, double size_mm, bool bold, double width_mm);

/* Lines of text set one below the other; or headings and facts as sentences, added to `words`. */
struct column {
	struct text *words; /* NULL: they are set */
	struct canvas *canvas;
	double x_mm;
	double y_mm; /* the next line's top; moves down as lines are set */
	double width_mm;
	double size_mm;
	bool cut; /* a long text is cut, else it goes on in the next line */
};

static inline struct column column_at(struct canvas *canvas, double x_mm, double y_mm,
				      double width_mm, double size_mm)
{
	return (struct column){NULL, canvas, x_mm, y_mm, width_mm, size_mm, false};
}

/* From line to line, as a share of the size of the letters. */
#define LINE_SHARE 1.38

/* A line of that size and colour, or as many as the text needs. */
void column_text(struct column *column, const char *text, double size_mm, int colour, bool bold);

/* One line, cut where it would be too long. */
void column_title(struct column *column, const char *text, double size_mm);

/* A heading with a rule above it. */
void column_heading(struct column *column, const char *text);

/* A name, and beside it a value of one or several lines, made as by printf. */
void column_fact(struct column *column, const char *name, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/* Frame, mains and crosses. */
void facts_of_bed(struct column *column, const struct stringing *stringing);

/* The whole picture: what it shows, the holes that are special, every pull in order. */
void facts_describe(struct text *out, const struct stringing *stringing);

/* ---- Pages: sheet.c, card.c, legend.c ---- */

/* Draws what the marks of the figure mean, in so many columns, and returns its height. Without a
 * canvas it only measures. */
double legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		   double width_mm, int columns, double size_mm);

/* A bar of 100 real millimetres, or why there is none. */
void scale_draw(struct canvas *canvas, const struct figure *figure, struct spot bottom_right,
		double size_mm);

/* Upright A4 (ISO 216). */
#define SHEET_WIDTH_MM  210.0
#define SHEET_HEIGHT_MM 297.0

void sheet_title(struct text *out, const struct stringing *stringing);
void sheet_draw(struct canvas *canvas, const struct stringing *stringing,
		const struct draw_options *options);
void card_draw(struct canvas *canvas, const struct stringing *stringing,
	       const struct draw_options *options);
void label_draw(struct canvas *canvas, const struct job *job, const struct pattern *pattern,
		const struct label *label);

#endif
