/* Shared by the files of this room. Each calls only files further on in this row: pages, legend,
 * figure, facts, stringing, layout, column, output, canvas. */
#ifndef DRAW_INTERNAL_H
#define DRAW_INTERNAL_H

#include "draw/draw.h"

/* ---- Symbols and letters: canvas.c ---- */

extern const char symbols_svg[]; /* embedded at build time */

/* A symbol by its name, enlarged, and turned clockwise. */
void canvas_symbol(struct canvas *canvas, const char *name, struct spot spot, double scale,
		   double degrees, const char *attributes);

/* How many bytes of the text, in whole characters, are no wider than that. */
size_t lettering_fit(const char *text, double size_mm, bool bold, double width_mm);

/* ---- Where things go: layout.c ----
 * A place along the rim is in real millimetres, clockwise from the middle of the head. */

/* A spot on the rim, or that far outside it; the unit vector across the rim. */
struct spot layout_spot(const struct layout *layout, double at, double out_mm);
struct spot layout_outward(const struct layout *layout, double at);

double layout_at(const struct layout *layout, struct sided_hole place);

/* The hole, in the middle of the frame's thickness. */
struct spot layout_hole(const struct layout *layout, struct sided_hole place);

/* The middle of an arm of the throat, so far below where it leaves the hoop; its thickness. */
struct spot layout_arm(const struct layout *layout, enum side side, double down_mm);
double layout_arm_mm(const struct layout *layout);

/* ---- The strung bed: stringing.c ---- */

/* One string across the bed. */
struct strand {
	const struct move *move;  /* that threads it: its kind, number, side, weave */
	struct sided_hole before; /* where the string comes from, outside; hole 0: nowhere */
	struct sided_hole from;
	struct sided_hole to;
	int pull;    /* the pull that tensions it, from 1; 0: none so far */
	bool pulled; /* that pull is done; one that the call makes is not */
	bool next;   /* the call is about it */
	bool out;    /* the call takes it out */
};

/* What a move leaves on the bed. */
struct mark {
	const struct move *move;
	bool next; /* the call makes it */
};

enum { STRANDS_MAX = MAINS_MAX + CROSSES_MAX, MARKS_MAX = STRANDS_MAX + 24 };

struct stringing {
	const struct sequence *sequence;
	const struct draw_options *options;
	struct strand strands[STRANDS_MAX]; /* in the order of work */
	int strand_count;
	struct mark marks[MARKS_MAX]; /* pulls, knots, tie-offs, and clamps that hold */
	int mark_count;
	int pull_count;

	/* Under way: where the string was last fed through; hole 0: nowhere yet. */
	struct sided_hole main_tip[2]; /* by side */
	struct sided_hole cross_tip;
};

/* As options->at_call has it. */
void stringing_read(const struct sequence *sequence, const struct draw_options *options,
		    struct stringing *out);

void draw_strings(struct canvas *canvas, const struct layout *layout,
		  const struct stringing *stringing);

/* Where a pull, a knot or a clamp is. */
static inline struct sided_hole place_of(const struct move *move)
{
	return (struct sided_hole){move->hole, move->side};
}

/* The first of the strings that a move is about; its number is the last. */
int pull_first(const struct move *move);

/* The phrasebook's word for a key, and for a side unless the user has words of their own. */
const char *shown(const struct stringing *stringing, const char *key);
const char *shown_side(const struct stringing *stringing, enum side side);

/* ---- The figure: figure.c ---- */

struct box {
	double x_mm; /* left */
	double y_mm; /* top */
	double width_mm;
	double height_mm;
};

/* As large as the box allows, with the largest letters up to that size for which there is room.
 * Returns where it ends: it may need less than the box. */
double figure_draw(struct canvas *canvas, const struct stringing *stringing, const struct box *box,
		   double size_mm);

/* The symbol of a hole, which is also the phrasebook's key of its meaning. */
const char *hole_symbol(const struct pattern *pattern, struct hole hole);

/* The number of a call in a square, or of a pull in the order of work in a disc; `next`: with a
 * ring round it, in colour. */
void draw_pull(struct canvas *canvas, struct spot centre, double radius_mm, double size_mm,
	       const char *number, bool is_call, bool next, const char *attributes);

/* ---- The legend: legend.c ---- */

/* Draws what the symbols of the figure mean, in so many columns, and returns its height. Without a
 * canvas it only measures. */
double legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		   double width_mm, int columns, double size_mm);

/* ---- Lines of text: column.c ---- */

/* All words but names, holes ("7H") and units are the phrasebook's, by their keys. */
struct column {
	struct text *words; /* gets the lines as sentences; NULL: they are set on the canvas */
	const struct phrasebook *book;
	struct canvas *canvas; /* NULL: they are only measured */
	struct spot next;      /* the top left corner of the next line */
	double width_mm;
	double size_mm;   /* of the letters of headings and facts */
	double indent_mm; /* of the values of facts, all in one column */
	double names_mm;  /* the widest name of a fact up to now, and the gap behind it */
	bool cut;         /* a long text is cut, else it goes on in the next line */
};

/* From line to line, as a share of the size of the letters. */
#define COLUMN_LINE_SHARE 1.38

struct column column_at(struct canvas *canvas, const struct phrasebook *book, double x_mm,
			double y_mm, double width_mm, double size_mm);

const char *column_word(const struct column *column, const char *key);

/* A line of that size and colour, or as many as the text needs. A title is one line, cut where it
 * would be too long. A heading has a rule above it. */
void column_text(struct column *column, const char *text, double size_mm, int colour, bool bold);
void column_title(struct column *column, const char *text, double size_mm);
void column_heading(struct column *column, const char *key);

/* A name, and beside it a value of one or several lines; below it, if the name reaches too far. The
 * name by its key and the value as by printf, or both as they are. */
void column_fact(struct column *column, const char *key, const char *format, ...)
	__attribute__((format(printf, 3, 4)));
void column_fact_named(struct column *column, const char *name, const char *value);

/* ---- What is known of a job: facts.c ---- */

/* "Call 3 of 75". */
void add_call_number(struct text *out, const struct stringing *stringing);

/* The title, and the whole picture in words: what it shows, the holes that are special, every pull
 * in order. */
void picture_describe(const struct stringing *stringing, struct text *title, struct text *out);

void facts_of_mains(struct column *column, const struct stringing *stringing);
void facts_of_crosses(struct column *column, const struct stringing *stringing);

/* All: frame, mains, crosses, machine, tensions, string. */
void facts_of_job(struct column *column, const struct stringing *stringing);

/* "54 lb co-polyester 1.25"; "50–54 lb" where not all are pulled alike. */
void fact_pulled(struct column *column, const char *key, const struct job *job,
		 const struct pattern *pattern, enum string_kind strings, int count);

/* ---- Files: output.c ---- */

/* Frees the canvas. */
enum exit_code picture_save(struct canvas *canvas, const char *path, struct faults *faults);

#endif
