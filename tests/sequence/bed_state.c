#include "sequence/bed_state.h"

#include "base/base.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

void wrong(struct strung_bed *bed, const char *format, ...)
{
	va_list values;
	char *text = NULL;

	if (bed->fault)
		return;
	va_start(values, format);
	if (vasprintf(&text, format, values) < 0)
		text = NULL;
	va_end(values);
	const struct move *move = &bed->sequence->moves[bed->at];
	bed->fault =
		memory_format("move %d (%s %s %d): %s", bed->at + 1, action_names[move->action],
			      string_names[move->string], move->number, text);
	free(text);
}

const struct move *this_move(const struct strung_bed *bed)
{
	return &bed->sequence->moves[bed->at];
}

/* The cross (from the head) whose hole this is, or 0. */
int cross_place(const struct strung_bed *bed, struct hole hole)
{
	for (int c = 1; c <= bed->racket->crosses; c++)
		if (hole_same(bed->racket->cross_hole[c], hole))
			return c;
	return 0;
}

/* Which cross (from the head) a number in weaving order means. */
int cross_of_number(const struct strung_bed *bed, int number)
{
	return bed->racket->crosses_start == END_HEAD ? number : bed->racket->crosses + 1 - number;
}

int hole_place(const struct strung_bed *bed, struct hole hole)
{
	const int *holes = bed->racket->holes;

	return hole.end == END_HEAD ? hole.number
				    : holes[END_HEAD] + holes[END_THROAT] + 1 - hole.number;
}

int main_from_left(const struct strung_bed *bed, enum side side, int main)
{
	return side == SIDE_LEFT ? bed->racket->half + 1 - main : bed->racket->half + main;
}

/* In one-piece work the long side goes on to the crosses. */
enum working_end end_of_crosses(const struct strung_bed *bed)
{
	if (!bed->racket->one_piece)
		return END_OF_CROSSES;
	return bed->racket->weave_side == SIDE_LEFT ? END_OF_LEFT : END_OF_RIGHT;
}

enum working_end end_of(const struct strung_bed *bed, const struct move *move)
{
	if (!move->has_string)
		return NOWHERE;
	if (move->string == STRING_CROSS)
		return end_of_crosses(bed);
	return move->side == SIDE_LEFT ? END_OF_LEFT : END_OF_RIGHT;
}

int find_pass(const struct strand *strand, enum string_kind kind, int number)
{
	for (int i = 0; i < strand->count; i++)
		if (strand->passes[i].kind == kind && strand->passes[i].number == number)
			return i;
	return -1;
}

/* The pass that a move is about; a fault if it is not there. */
struct pass *pass_of(struct strung_bed *bed, enum working_end *on, int *index)
{
	const struct move *move = this_move(bed);

	*on = end_of(bed, move);
	if (*on == NOWHERE) {
		wrong(bed, "says no string or no side");
		return NULL;
	}
	*index = find_pass(&bed->strands[*on], move->string, move->number);
	if (*index < 0) {
		wrong(bed, "that string is not there");
		return NULL;
	}
	return &bed->strands[*on].passes[*index];
}

bool grips(const struct grip *grip, enum working_end on, int pass)
{
	return grip->on == on && grip->pass == pass;
}

bool is_clamped(const struct strung_bed *bed, enum working_end on, int pass)
{
	for (int i = 0; i < CLAMPS; i++)
		if (grips(&bed->clamps[i], on, pass) && !bed->clamps[i].first_hold)
			return true;
	return false;
}
