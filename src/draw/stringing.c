/* The strung bed, read from the moves of a sequence, from the first up to a call, and its strings
 * as they are drawn. Strings pass over and under each other: the lower one has a gap where the
 * upper one runs. */
#include "draw/internal.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

/* ---- Moves whose effect a later move has undone ---- */

/* What a move undoes; DO_FEED stands for weaving, too, and DO_KNOT for tying off. */
static const enum action undone_by[ACTIONS] = {
	[DO_UNCLAMP] = DO_CLAMP, [DO_PULL] = DO_PULL, /* the string is pulled again */
	[DO_LET_DOWN] = DO_PULL, [DO_TAKE_OUT] = DO_FEED, [DO_UNTIE] = DO_KNOT,
};

static bool undoes(const struct move *move, const struct move *before)
{
	enum action action = before->action == DO_WEAVE     ? DO_FEED
			     : before->action == DO_TIE_OFF ? DO_KNOT
							    : before->action;
	bool knot = action == DO_KNOT, at_hole = knot || action == DO_CLAMP;

	return action == undone_by[move->action] && move->string == before->string &&
	       move->start == before->start && (knot || move->number == before->number) &&
	       (move->side == before->side || (move->string == STRING_CROSS && !at_hole)) &&
	       (!at_hole || hole_same(move->hole, before->hole));
}

static void undo_before(const struct sequence *sequence, int index, bool *undone)
{
	for (int i = 0; undone_by[sequence->moves[index].action] && i < index; i++)
		undone[i] |= undoes(&sequence->moves[index], &sequence->moves[i]);
}

/* Which moves of the first so many calls are undone. A string may also lose its tension by a move
 * of another string. */
static void mark_undone(const struct sequence *sequence, int calls, bool *undone)
{
	struct bed_strings *beds = sequence_bed_strings(sequence);
	const struct strings *tensioned = &beds[calls].tensioned;

	for (int c = 0; c < calls; c++) {
		const struct call *call = &sequence->calls[c];
		for (int i = call->first; i <= call->last; i++) {
			undone[i] = call->abandoned;
			if (!call->abandoned)
				undo_before(sequence, i, undone);
		}
		for (int i = 0; call->lost && i <= call->last; i++)
			undone[i] |=
				call->lost == LOSS_BED || sequence->moves[i].phase == PHASE_CROSSES;
	}
	for (int i = 0; calls && i <= sequence->calls[calls - 1].last; i++) {
		const struct move *move = &sequence->moves[i];
		uint64_t strings = move->string == STRING_CROSS ? tensioned->crosses
								: tensioned->mains[move->side];
		undone[i] |= move->action == DO_PULL && !(strings >> move->number & 1);
	}
	free(beds);
}

/* ---- What is there ---- */

/* The string comes from where it was last, round the outside of the frame. The crosses begin at
 * their knot; without one the long side of the mains goes on to them. */
static void read_string(struct stringing *out, const struct move *move, bool next)
{
	enum side far = move->string == STRING_MAIN ? move->side : other_side(move->side);
	bool late = move->phase == PHASE_CROSSES;
	struct sided_hole *tip = late ? &out->cross_tip : &out->main_tip[move->side];

	assert(out->strand_count < STRANDS_MAX);
	if (late && !tip->hole.number)
		*tip = out->main_tip[out->sequence->job->weave_side];
	struct strand *strand = &out->strands[out->strand_count++];
	*strand = (struct strand){
		.move = move,
		.before = *tip,
		.from = {move->from, move->side},
		.to = {move->to, far},
		.next = next,
	};
	*tip = strand->to;
	/* The first centre main: the other end of its string goes over to the second. */
	if (!late && !strand->before.hole.number)
		out->main_tip[other_side(move->side)] = strand->from;
}

int pull_first(const struct move *move)
{
	bool several = move->action == DO_PULL && move->string == STRING_CROSS;

	return several ? move->pulls_first : move->number;
}

/* Whether the strand is one of those that the move is about. */
static bool is_about(const struct move *move, const struct strand *strand)
{
	return strand->move->string == move->string && strand->move->number >= pull_first(move) &&
	       strand->move->number <= move->number &&
	       (strand->move->string == STRING_CROSS || strand->move->side == move->side);
}

static void add_mark(struct stringing *out, const struct move *move, bool next)
{
	assert(out->mark_count < MARKS_MAX);
	out->marks[out->mark_count++] = (struct mark){move, next};
}

static void read_pull(struct stringing *out, const struct move *move, bool next)
{
	add_mark(out, move, next);
	out->pull_count++;
	for (int i = 0; i < out->strand_count; i++) {
		if (!is_about(move, &out->strands[i]))
			continue;
		out->strands[i].pull = out->pull_count;
		out->strands[i].pulled = !next;
	}
}

static void read_move(struct stringing *out, const struct move *move, bool next)
{
	switch (move->action) {
	case DO_FEED:
	case DO_WEAVE:
		read_string(out, move, next);
		break;
	case DO_PULL:
		read_pull(out, move, next);
		break;
	case DO_KNOT:
		add_mark(out, move, next);
		if (move->start)
			out->cross_tip = place_of(move);
		break;
	case DO_TIE_OFF:
		add_mark(out, move, next);
		break;
	case DO_CLAMP: /* when all is done none holds */
		if (!next && out->options->at_call)
			add_mark(out, move, next);
		break;
	default: /* nothing that is seen on the bed */
		break;
	}
}

/* ---- The call ---- */

/* The first call, from this one on, that has to do with a string. */
static const struct call *call_with_string(const struct sequence *sequence, int index)
{
	for (; index < sequence->call_count; index++) {
		const struct call *call = &sequence->calls[index];
		for (int i = call->first; i <= call->last; i++)
			if (sequence->moves[i].has_string)
				return call;
	}
	return NULL;
}

/* A call that threads nothing new is about strings that are there: those it pulls, clamps, draws
 * through, ties off or takes out. */
static void mark_strings(struct stringing *out, const struct call *call)
{
	const struct sequence *sequence = out->sequence;

	for (int i = call->first; i <= call->last; i++)
		if (sequence->moves[i].action == DO_FEED || sequence->moves[i].action == DO_WEAVE)
			return;
	const struct move *subject = &sequence->moves[call->subject];
	for (int i = 0; i < out->strand_count; i++) {
		if (!is_about(subject, &out->strands[i]))
			continue;
		out->strands[i].next = true;
		out->strands[i].out = subject->action == DO_TAKE_OUT;
	}
}

void stringing_read(const struct sequence *sequence, const struct draw_options *options,
		    struct stringing *out)
{
	int call = options->at_call;
	int done = call ? sequence->calls[call - 1].first : sequence->move_count;
	const struct call *next = call ? call_with_string(sequence, call - 1) : NULL;
	bool *undone = memory_new((size_t)sequence->move_count + 1, sizeof(*undone));

	*out = (struct stringing){.sequence = sequence, .options = options};
	mark_undone(sequence, call ? call - 1 : sequence->call_count, undone);
	for (int i = next ? next->first : 0; next && i <= next->last; i++)
		if (sequence->moves[i].action == DO_PULL)
			undo_before(sequence, i, undone);
	for (int i = 0; i < done; i++)
		if (!undone[i])
			read_move(out, &sequence->moves[i], false);
	free(undone);
	if (!next)
		return;
	for (int i = next->first; i <= next->last; i++)
		read_move(out, &sequence->moves[i], true);
	mark_strings(out, next);
}

/* ---- Words ---- */

const char *shown(const struct stringing *stringing, const char *key)
{
	return phrasebook_shown(stringing->options->book, key);
}

const char *shown_side(const struct stringing *stringing, enum side side)
{
	const struct phrase_options *manner = stringing->options->manner;
	const char *own = manner ? manner->side_words[side] : NULL;

	return own ? own : shown(stringing, side_names[side]);
}

/* ---- Strings as they are drawn ---- */

static const double gap_share = 0.45; /* of its width: white on each side of the upper string */
static const double loop_out_mm = 1.0, knot_out_mm = 2.0; /* of runs outside the frame */

struct look {
	const char *class;
	int colour;
	double width_mm;
};

static struct look look_of(const struct layout *layout, const struct strand *strand)
{
	double spacing_mm = 2 * layout->scale * layout->bed.main_x_mm[1];
	double width_mm = fmin(1.1, 0.18 * spacing_mm);

	if (strand->next)
		return (struct look){" next", ACCENT, 1.5 * width_mm};
	if (strand->pulled)
		return (struct look){"", INK, width_mm};
	return (struct look){" slack", GREY, 0.55 * width_mm};
}

/* The weave rule (sequence/sequence.h); columns of mains are counted from the left. */
static bool is_over(const struct sequence *sequence, const struct move *cross,
		    const struct move *main)
{
	int half = pattern_half(sequence->pattern);
	int column = main->side == SIDE_LEFT ? half + 1 - main->number : half + main->number;

	return (cross->number + column) % 2 == sequence->parity;
}

/* Where, from 0 to 1 along a strand, another one crosses it. */
struct meeting {
	double at;
	double half; /* how far a gap for the other one reaches to each side */
	bool under;  /* there is one */
};

static int compare_meetings(const void *a, const void *b)
{
	double x = ((const struct meeting *)a)->at, y = ((const struct meeting *)b)->at;

	return (x > y) - (x < y);
}

/* However near the next string is, a gap for one does not reach it. */
static void narrow_gaps(struct meeting *meetings, int count)
{
	for (int i = 1; i < count; i++) {
		double most = 0.4 * (meetings[i].at - meetings[i - 1].at);
		meetings[i].half = fmin(meetings[i].half, most);
		meetings[i - 1].half = fmin(meetings[i - 1].half, most);
	}
}

/* Mains stand upright, and crosses lie level. */
static int find_meetings(const struct layout *layout, const struct stringing *stringing,
			 const struct strand *strand, struct meeting *meetings)
{
	struct spot from = layout_inner(layout, strand->from);
	struct spot to = layout_inner(layout, strand->to);
	bool is_main = strand->move->string == STRING_MAIN;
	double x = to.x_mm - from.x_mm, y = to.y_mm - from.y_mm;
	int count = 0;

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *other = &stringing->strands[i];
		const struct move *cross = (is_main ? other : strand)->move;
		const struct move *main = (is_main ? strand : other)->move;
		struct spot at = layout_inner(layout, other->from);
		if (other->move->string == strand->move->string ||
		    !pattern_meets(layout->pattern, cross->from, main->number))
			continue;
		meetings[count++] = (struct meeting){
			.at = is_main ? (at.y_mm - from.y_mm) / y : (at.x_mm - from.x_mm) / x,
			.half = (0.5 + gap_share) * look_of(layout, other).width_mm / hypot(x, y),
			.under = is_over(stringing->sequence, cross, main) == is_main,
		};
	}
	qsort(meetings, (size_t)count, sizeof(meetings[0]), compare_meetings);
	narrow_gaps(meetings, count);
	return count;
}

static struct spot along(struct spot from, struct spot to, double share)
{
	return spot_beside(from, share * (to.x_mm - from.x_mm), share * (to.y_mm - from.y_mm));
}

/* From hole to hole through the hoop, in pieces. */
static void cut_pieces(struct canvas *canvas, const struct layout *layout,
		       const struct stringing *stringing, const struct strand *strand)
{
	struct spot from = layout_inner(layout, strand->from);
	struct spot to = layout_inner(layout, strand->to);
	struct meeting meetings[STRANDS_MAX] = {0};
	int count = find_meetings(layout, stringing, strand, meetings);

	canvas_begin(canvas, layout_hole(layout, strand->from));
	canvas_to(canvas, from);
	for (int i = 0; i < count; i++) {
		const struct meeting *meeting = &meetings[i];
		if (!meeting->under)
			continue;
		canvas_to(canvas, along(from, to, fmax(meeting->at - meeting->half, 0)));
		canvas_begin(canvas, along(from, to, fmin(meeting->at + meeting->half, 1)));
	}
	canvas_to(canvas, to);
	canvas_to(canvas, layout_hole(layout, strand->to));
}

static void open_strand(struct canvas *canvas, const struct stringing *stringing,
			const struct strand *strand, const char *look)
{
	char from[HOLE_TEXT_MAX], to[HOLE_TEXT_MAX];
	const struct move *move = strand->move;
	const char *kind = string_names[move->string], *side = side_names[move->side];
	bool main = move->string == STRING_MAIN;
	const char *first = move->weave.first_over ? "over_first" : "under_first";

	hole_text(strand->from.hole, from);
	hole_text(strand->to.hole, to);
	char *title = memory_format("%s %d %s: %s – %s%s%s", shown(stringing, kind), move->number,
				    shown_side(stringing, move->side), from, to, main ? "" : ", ",
				    main ? "" : shown(stringing, first));
	const char *attributes = canvas_attributes(
		canvas,
		"id=\"%s-%d%s%s\" class=\"strand %s%s\" data-string=\"%s\" data-number=\"%d\" "
		"data-side=\"%s\" data-from=\"%s\" data-to=\"%s\" data-pull=\"%d\"",
		kind, move->number, main ? "-" : "", main ? side : "", kind, look, kind,
		move->number, side, from, to, strand->pull);
	canvas_group(canvas, attributes, title);
	free(title);
}

/* Which way the string goes, at the end where it comes out. */
static void draw_way(struct canvas *canvas, const struct layout *layout,
		     const struct strand *strand)
{
	struct spot from = layout_inner(layout, strand->out ? strand->to : strand->from);
	struct spot to = layout_inner(layout, strand->out ? strand->from : strand->to);
	double angle = atan2(to.y_mm - from.y_mm, to.x_mm - from.x_mm);

	canvas_symbol(canvas, "way", to, 1, angle * 180 / M_PI, "class=\"way\"");
}

/* A main is a solid line, a cross an outline. */
static void draw_strand(struct canvas *canvas, const struct layout *layout,
			const struct stringing *stringing, const struct strand *strand)
{
	struct look look = look_of(layout, strand);

	open_strand(canvas, stringing, strand, look.class);
	cut_pieces(canvas, layout, stringing, strand);
	canvas_draw(canvas, pen_line(look.colour, look.width_mm), "class=\"string\"");
	if (strand->next)
		draw_way(canvas, layout, strand);
	else if (strand->move->string == STRING_CROSS)
		canvas_draw(canvas,
			    pen_line(CORE, look.width_mm - 2 * fmin(THIN_MM, 0.28 * look.width_mm)),
			    "class=\"core\"");
	canvas_end(canvas);
}

/* String that runs outside the frame from one hole to another, the shorter way round. */
static void draw_run(struct canvas *canvas, const struct layout *layout, struct sided_hole from,
		     struct sided_hole to, double out_mm, struct pen pen, const char *attributes)
{
	double at = layout_at(layout, from);
	double way_mm = remainder(layout_at(layout, to) - at, 2 * rim_half_mm(&layout->bed.rim));
	int corners = 2 + (int)(fabs(way_mm) / 3);

	pen.round = true;
	canvas_begin(canvas, layout_hole(layout, from));
	for (int i = 0; i <= corners; i++)
		canvas_to(canvas,
			  layout_spot(layout, at + way_mm * i / corners, layout->band_mm + out_mm));
	canvas_to(canvas, layout_hole(layout, to));
	canvas_draw(canvas, pen, attributes);
}

static struct pen run_pen(enum string_kind string, bool next)
{
	if (next)
		return pen_line(ACCENT, 2 * MEDIUM_MM);
	return pen_line(string == STRING_MAIN ? INK : GREY, MEDIUM_MM);
}

static void draw_runs(struct canvas *canvas, const struct layout *layout,
		      const struct stringing *stringing)
{
	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		if (strand->before.hole.number)
			draw_run(canvas, layout, strand->before, strand->from, loop_out_mm,
				 run_pen(strand->move->string, strand->next), "class=\"run loop\"");
	}
	for (int i = 0; i < stringing->mark_count; i++) {
		const struct move *move = stringing->marks[i].move;
		struct sided_hole from = {move->from, move->side};
		if (move->action == DO_TIE_OFF)
			draw_run(canvas, layout, from, place_of(move), knot_out_mm,
				 run_pen(move->string, stringing->marks[i].next),
				 "class=\"run tie-off\"");
	}
}

void draw_strings(struct canvas *canvas, const struct layout *layout,
		  const struct stringing *stringing)
{
	canvas_group(canvas, "class=\"runs\"", NULL);
	draw_runs(canvas, layout, stringing);
	canvas_end(canvas);
	canvas_group(canvas, "class=\"strands\"", NULL);
	for (int i = 0; i < stringing->strand_count; i++)
		draw_strand(canvas, layout, stringing, &stringing->strands[i]);
	canvas_end(canvas);
}
