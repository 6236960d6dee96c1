#include "cli/cli.h"
#include "sequence/sequence.h"

#include "base/base.h"

#include <stdlib.h>

static void add_hole(struct json *json, const char *key, struct hole hole)
{
	char label[HOLE_TEXT_MAX];

	if (hole.number)
		json_string(json, key, hole_text(hole, label));
}

static void add_weave(struct json *json, const struct weave *weave)
{
	json_open(json, "weave", '{');
	json_string(json, "travel", travel_name(weave->travel));
	json_string(json, "first", weave->first_over ? "over" : "under");
	json_string(json, "last", weave->last_over ? "over" : "under");
	json_close(json, '}');
}

static void add_tension(struct json *json, struct quantity tension)
{
	json_open(json, "tension", '{');
	json_number(json, "value", tension.value, 2);
	json_string(json, "unit", unit_name(tension.unit));
	json_number(json, "newton", quantity_base(tension), 3);
	json_close(json, '}');
}

static void add_pulls(struct json *json, const struct move *move)
{
	json_open(json, "pulls", '[');
	for (int cross = move->pulls_first; cross <= move->pulls_last; cross++)
		json_int(json, NULL, cross);
	json_close(json, ']');
}

static void add_missing(struct json *json, const struct move *move)
{
	json_open(json, "missing", '[');
	for (int cross = 1; cross <= CROSSES_MAX; cross++)
		if (move->missing >> cross & 1)
			json_int(json, NULL, cross);
	json_close(json, ']');
}

static void add_string(struct json *json, const struct move *move)
{
	if (move->has_string) {
		json_string(json, "string", string_name(move->string));
		json_int(json, "number", move->number);
	}
	if (move->has_side)
		json_string(json, "side", side_name(move->side));
	add_hole(json, "from", move->from);
	add_hole(json, "to", move->to);
	add_hole(json, "hole", move->hole);
}

/* The strings that a change of tension is for. */
static void add_change(struct json *json, const struct move *move)
{
	bool crosses = move->subject == SUBJECT_CROSSES;

	json_string(json, "string", string_name(crosses ? STRING_CROSS : STRING_MAIN));
	json_int(json, "number", move->number);
	json_int(json, "through", move->through);
	if (!crosses && !move->both_sides)
		json_string(json, "side", side_name(move->side));
	if (move->back)
		json_bool(json, "back", true);
}

static void add_clamp(struct json *json, const struct move *move)
{
	json_string(json, "with", clamp_kind_name(move->with));
	if (move->across)
		json_int(json, "across", move->across);
	if (move->outside)
		json_bool(json, "outside", true);
}

static void add_move(struct json *json, const struct move *move, int number)
{
	json_line(json, 2);
	json_open(json, NULL, '{');
	json_int(json, "n", number);
	json_string(json, "phase", phase_name(move->phase));
	json_string(json, "do", action_name(move->action));
	bool look = move->action == DO_CHECK || move->action == DO_INSPECT;
	if (subject_name(move->subject))
		json_string(json, look ? "what" : "subject", subject_name(move->subject));
	add_string(json, move);
	if (move->action == DO_WEAVE)
		add_weave(json, &move->weave);
	if (move->action == DO_PULL || move->action == DO_SET_TENSION)
		add_tension(json, move->tension);
	if (move->action == DO_SET_TENSION && move->prestretch > 0)
		json_number(json, "prestretch", move->prestretch, 4);
	if (move->through)
		add_change(json, move);
	if (move->as_set)
		json_bool(json, "as_set", true);
	if (move->missing)
		add_missing(json, move);
	if (move->pulls_last)
		add_pulls(json, move);
	if (move->length_mm > 0)
		json_number(json, "length_mm", move->length_mm, 0);
	if (move->action == DO_CLAMP || move->action == DO_UNCLAMP)
		add_clamp(json, move);
	if (move->start)
		json_bool(json, "start", true);
	if (move->loop)
		json_bool(json, "loop", true);
	if (move->suggested)
		json_bool(json, "suggested", true);
	json_close(json, '}');
}

static void add_mains(struct json *json, const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;

	json_line(json, 1);
	json_open(json, "mains", '{');
	json_int(json, "count", pattern->mains);
	json_string(json, "start", end_name(sequence->mains_start));
	json_string(json, "end", end_name(sequence->mains_end));
	json_open(json, "holes", '[');
	for (int main = 1; main <= pattern_half(pattern); main++) {
		json_line(json, 2);
		json_open(json, NULL, '{');
		json_int(json, "main", main);
		for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
			add_hole(json, end_name(end),
				 (struct hole){end, pattern->main_hole[end][main]});
		json_close(json, '}');
	}
	json_close(json, ']');
	json_close(json, '}');
}

static void add_crosses(struct json *json, const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;

	json_line(json, 1);
	json_open(json, "crosses", '{');
	json_int(json, "count", pattern->crosses);
	json_string(json, "start", end_name(sequence->crosses_start));
	json_open(json, "holes", '[');
	for (int cross = 1; cross <= pattern->crosses; cross++) {
		json_line(json, 2);
		json_open(json, NULL, '{');
		json_int(json, "cross", cross);
		add_hole(json, "hole", sequence->cross_hole[cross]);
		json_close(json, '}');
	}
	json_close(json, ']');
	json_close(json, '}');
}

static void add_call(struct json *json, const struct sequence *sequence,
		     const struct phrasebook *book, const struct phrase_options *options, int call)
{
	char *words = phrase_call(book, sequence, call, options);

	json_line(json, 2);
	json_open(json, NULL, '{');
	json_int(json, "n", call + 1);
	json_open(json, "moves", '[');
	json_int(json, NULL, sequence->calls[call].first + 1);
	json_int(json, NULL, sequence->calls[call].last + 1);
	json_close(json, ']');
	json_string(json, "kind", call_kind_name(sequence->calls[call].kind));
	json_string(json, "text", words);
	json_close(json, '}');
	free(words);
}

static void add_length(struct json *json, const char *key, double length_mm)
{
	if (length_mm > 0)
		json_number(json, key, length_mm, 0);
}

static void add_lengths(struct json *json, const struct lengths *lengths)
{
	json_open(json, "lengths", '{');
	add_length(json, "mains_mm", lengths->mains_mm);
	add_length(json, "crosses_mm", lengths->crosses_mm);
	add_length(json, "short_mm", lengths->short_mm);
	add_length(json, "long_mm", lengths->long_mm);
	add_length(json, "total_mm", lengths->total_mm);
	json_close(json, '}');
}

void steps_json(const struct sequence *sequence, const struct phrasebook *book,
		const struct phrase_options *options, struct text *out)
{
	struct json json = {.out = out};

	json_open(&json, NULL, '{');
	json_line(&json, 1);
	json_string(&json, "job", sequence->job->name);
	json_string(&json, "pattern", sequence->pattern->name);
	json_string(&json, "method", method_name(sequence->job->method));
	add_mains(&json, sequence);
	add_crosses(&json, sequence);
	json_line(&json, 1);
	add_lengths(&json, &sequence->lengths);
	if (sequence->route) {
		json_line(&json, 1);
		route_json(sequence->pattern, sequence->route, "route", &json);
	}
	json_line(&json, 1);
	json_open(&json, "moves", '[');
	for (int i = 0; i < sequence->move_count; i++)
		add_move(&json, &sequence->moves[i], i + 1);
	json_close(&json, ']');
	json_line(&json, 1);
	json_open(&json, "calls", '[');
	for (int call = 0; call < sequence->call_count; call++)
		add_call(&json, sequence, book, options, call);
	json_close(&json, ']');
	text_add_char(out, '\n');
	text_add(out, "}\n");
}
