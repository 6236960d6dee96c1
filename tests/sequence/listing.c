#include "sequence/listing.h"

#include "base/base.h"

#include <stdio.h>
#include <string.h>

enum { STRING_TEXT_MAX = 16 };

static const char *string_of(const struct move *move, char buffer[static STRING_TEXT_MAX])
{
	char letter = move->string == STRING_CROSS ? 'C' : move->side == SIDE_LEFT ? 'L' : 'R';

	buffer[0] = '\0';
	if (move->has_string)
		snprintf(buffer, STRING_TEXT_MAX, "%c%d", letter, move->number);
	return buffer;
}

static void list_holes(struct text *out, const struct move *move)
{
	char from[HOLE_TEXT_MAX], to[HOLE_TEXT_MAX], hole[HOLE_TEXT_MAX];

	if (move->string == STRING_CROSS && move->action != DO_RELEASE)
		text_format(out, " %s", side_names[move->side]);
	if (move->from.number && move->to.number)
		text_format(out, " %s-%s", hole_text(move->from, from), hole_text(move->to, to));
	else if (move->from.number)
		text_format(out, " from %s", hole_text(move->from, from));
	if (move->hole.number)
		text_format(out, " %s", hole_text(move->hole, hole));
}

static void list_weave(struct text *out, const struct move *move)
{
	if (move->action == DO_WEAVE)
		text_format(out, " %s %s to %s%s", travel_names[move->weave.travel],
			    move->weave.first_over ? "over" : "under",
			    move->weave.last_over ? "over" : "under",
			    move->loop ? ", leave a loop" : "");
	for (int cross = 1; cross <= CROSSES_MAX; cross++)
		if (move->missing >> cross & 1)
			text_format(out, ", C%d missing", cross);
}

static void list_values(struct text *out, const struct move *move)
{
	char value[QUANTITY_TEXT_MAX];

	if (move->action == DO_PULL || move->action == DO_SET_TENSION)
		text_format(out, " %s", quantity_text(move->tension, value));
	if (move->action == DO_PULL && move->pulls_first < move->pulls_last)
		text_format(out, " pulls %d to %d", move->pulls_first, move->pulls_last);
	text_add(out, move->start ? " (start)" : "");
	text_add(out, move->suggested ? " (suggested)" : "");
}

static void list_move(struct text *out, const struct move *move, char last[static STRING_TEXT_MAX])
{
	char string[STRING_TEXT_MAX];

	text_format(out, " %s", action_names[move->action]);
	if (subject_names[move->subject])
		text_format(out, " %s", subject_names[move->subject]);
	if (strcmp(string_of(move, string), last) != 0 && string[0])
		text_format(out, " %s", string);
	if (string[0])
		strcpy(last, string);
	list_holes(out, move);
	list_weave(out, move);
	list_values(out, move);
}

char *listing_of(const struct sequence *sequence)
{
	struct text out = {0};

	for (int i = 0; i < sequence->call_count; i++) {
		const struct call *call = &sequence->calls[i];
		char last[STRING_TEXT_MAX];
		string_of(&sequence->moves[call->subject], last);
		text_format(&out, "%d %s%s%s:", i + 1, call_kind_name(call->kind),
			    last[0] ? " " : "", last);
		for (int m = call->first; m <= call->last; m++) {
			text_add(&out, m > call->first ? "," : "");
			list_move(&out, &sequence->moves[m], last);
		}
		text_add(&out, "\n");
	}
	return text_take(&out);
}
