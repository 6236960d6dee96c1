/* A job, and the routes of a one-piece job, as the JSON of pullcall-steps(5). */
#include "cli/cli.h"
#include "sequence/sequence.h"

#include "base/base.h"

#include <stdlib.h>

/* ---- what is there only where it applies ---- */

static void add_hole(struct json *json, const char *key, struct hole hole)
{
	char label[HOLE_TEXT_MAX];

	if (hole.number)
		json_string(json, key, hole_text(hole, label));
}

static void add_true(struct json *json, const char *key, bool value)
{
	if (value)
		json_bool(json, key, true);
}

static void add_mm(struct json *json, const char *key, double mm)
{
	if (mm > 0)
		json_number(json, key, mm, 0);
}

/* Bit n is cross n. */
static void add_crosses(struct json *json, const char *key, uint64_t crosses)
{
	if (!crosses)
		return;
	json_open(json, key, '[');
	for (int cross = 1; cross <= CROSSES_MAX; cross++)
		if (crosses >> cross & 1)
			json_int(json, NULL, cross);
	json_close(json, ']');
}

/* ---- moves ---- */

static void add_weave(struct json *json, const struct weave *weave)
{
	json_open(json, "weave", '{');
	json_string(json, "travel", travel_names[weave->travel]);
	json_string(json, "first", weave->first_over ? "over" : "under");
	json_string(json, "last", weave->last_over ? "over" : "under");
	json_close(json, '}');
}

static void add_tension(struct json *json, const struct move *move)
{
	json_open(json, "tension", '{');
	json_number(json, "value", move->tension.value, 2);
	json_string(json, "unit", unit_name(move->tension.unit));
	json_number(json, "newton", quantity_base(move->tension), 3);
	json_close(json, '}');
	if (move->action == DO_SET_TENSION && move->prestretch > 0)
		json_number(json, "prestretch", move->prestretch, 4);
}

/* The strings that a change of tension is for. */
static void add_change(struct json *json, const struct move *move)
{
	bool crosses = move->subject == SUBJECT_CROSSES;

	json_string(json, "string", string_names[crosses ? STRING_CROSS : STRING_MAIN]);
	json_int(json, "number", move->number);
	json_int(json, "through", move->through);
	if (!crosses && !move->both_sides)
		json_string(json, "side", side_names[move->side]);
	add_true(json, "back", move->back);
}

static void add_move(struct json *json, const struct move *move, int number)
{
	bool look = move->action == DO_CHECK || move->action == DO_INSPECT;

	json_line(json, 2);
	json_open(json, NULL, '{');
	json_int(json, "n", number);
	json_string(json, "phase", phase_names[move->phase]);
	json_string(json, "do", action_names[move->action]);
	if (subject_names[move->subject])
		json_string(json, look ? "what" : "subject", subject_names[move->subject]);
	if (move->has_string) {
		json_string(json, "string", string_names[move->string]);
		json_int(json, "number", move->number);
	}
	if (move->has_side)
		json_string(json, "side", side_names[move->side]);
	add_hole(json, "from", move->from);
	add_hole(json, "to", move->to);
	add_hole(json, "hole", move->hole);
	if (move->action == DO_WEAVE)
		add_weave(json, &move->weave);
	if (move->action == DO_PULL || move->action == DO_SET_TENSION)
		add_tension(json, move);
	if (move->through)
		add_change(json, move);
	add_true(json, "as_set", move->as_set);
	add_crosses(json, "missing", move->missing);
	if (move->pulls_last)
		add_crosses(json, "pulls",
			    (UINT64_C(2) << move->pulls_last) - (UINT64_C(1) << move->pulls_first));
	add_mm(json, "length_mm", move->length_mm);
	if (move->action == DO_CLAMP || move->action == DO_UNCLAMP) {
		json_string(json, "with", clamp_kind_names[move->with]);
		if (move->across)
			json_int(json, "across", move->across);
		add_true(json, "outside", move->outside);
	}
	add_true(json, "start", move->start);
	add_true(json, "loop", move->loop);
	add_true(json, "suggested", move->suggested);
	json_close(json, '}');
}

/* ---- the parts of a job ---- */

/* Where mains or crosses start, and the hole or holes of each. */
static void add_strings(struct json *json, const struct sequence *sequence, bool mains)
{
	const struct pattern *pattern = sequence->pattern;
	int rows = mains ? pattern_half(pattern) : pattern->crosses;

	json_line(json, 1);
	json_open(json, mains ? "mains" : "crosses", '{');
	json_int(json, "count", mains ? pattern->mains : pattern->crosses);
	json_string(json, "start",
		    end_names[mains ? sequence->mains_start : sequence->crosses_start]);
	if (mains)
		json_string(json, "end", end_names[sequence->mains_end]);
	json_open(json, "holes", '[');
	for (int n = 1; n <= rows; n++) {
		json_line(json, 2);
		json_open(json, NULL, '{');
		json_int(json, mains ? "main" : "cross", n);
		for (enum frame_end end = END_HEAD; mains && end <= END_THROAT; end++)
			add_hole(json, end_names[end], pattern_main_hole(pattern, end, n));
		if (!mains)
			add_hole(json, "hole", sequence->cross_hole[n]);
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

static void add_lengths(struct json *json, const struct lengths *lengths)
{
	json_line(json, 1);
	json_open(json, "lengths", '{');
	add_mm(json, "mains_mm", lengths->mains_mm);
	add_mm(json, "crosses_mm", lengths->crosses_mm);
	add_mm(json, "short_mm", lengths->short_mm);
	add_mm(json, "long_mm", lengths->long_mm);
	add_mm(json, "total_mm", lengths->total_mm);
	json_close(json, '}');
}

static void add_route(struct json *json, const char *key, const struct pattern *pattern,
		      const struct route *route)
{
	json_line(json, 1);
	json_open(json, key, '{');
	json_int(json, "breaks", route->breaks);
	json_int(json, "outside", route->outside);
	add_mm(json, "outside_mm", route->outside_mm);
	json_open(json, "steps", '[');
	for (int i = 0; i < route->count; i++) {
		int cross = route->steps[i], half = pattern_half(pattern);
		enum frame_end from = route->main_from;
		json_open(json, NULL, '{');
		json_string(json, "string", string_names[cross ? STRING_CROSS : STRING_MAIN]);
		json_int(json, "number", cross ? cross : half);
		if (cross == 0) {
			add_hole(json, "from", pattern_main_hole(pattern, from, half));
			add_hole(json, "to", pattern_main_hole(pattern, other_end(from), half));
		}
		json_close(json, '}');
	}
	json_close(json, ']');
	json_close(json, '}');
}

/* ---- the whole ---- */

void steps_json(const struct sequence *sequence, const struct phrasebook *book,
		const struct phrase_options *options, struct text *out)
{
	struct json json = {.out = out};

	json_open(&json, NULL, '{');
	json_line(&json, 1);
	json_string(&json, "job", sequence->job->name);
	json_string(&json, "pattern", sequence->pattern->name);
	json_string(&json, "method", method_names[sequence->job->method]);
	add_strings(&json, sequence, true);
	add_strings(&json, sequence, false);
	add_lengths(&json, &sequence->lengths);
	if (sequence->route)
		add_route(&json, "route", sequence->pattern, sequence->route);
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
	text_add(out, "\n}\n");
}

void routes_json(const struct job *job, const struct pattern *pattern, const struct routes *routes,
		 struct text *out)
{
	struct json json = {.out = out};

	json_open(&json, NULL, '{');
	json_string(&json, "job", job->name);
	json_string(&json, "pattern", pattern->name);
	json_int(&json, "route", job->route);
	json_bool(&json, "more", routes->more);
	json_open(&json, "routes", '[');
	for (int i = 0; i < routes->count; i++)
		add_route(&json, NULL, pattern, &routes->items[i]);
	json_close(&json, ']');
	json_close(&json, '}');
	text_add_char(out, '\n');
}
