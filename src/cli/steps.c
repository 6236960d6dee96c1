/* pullcall steps: a job, and the routes of a one-piece job, as a table for people and as the JSON
 * of pullcall-steps(5). */
#include "cli/cli.h"
#include "draw/draw.h"
#include "sequence/sequence.h"

#include <stdlib.h>
#include <string.h>

/* ======== as a table ======== */

enum { COLUMNS = 78, INDENT = 6, ROW = 10 };

/* ---- routes ---- */

/* Its strings in the order they are woven; crosses that follow each other as "crosses 1 to 8". */
static void add_route(struct text *out, const struct phrasebook *book, const struct job *job,
		      const struct pattern *pattern, const struct route *route)
{
	char from[HOLE_TEXT_MAX], to[HOLE_TEXT_MAX];
	enum frame_end end = route->main_from;
	int half = pattern_half(pattern);

	for (int at = 0, next; at < route->count; at = next) {
		int first = route->steps[at];
		for (next = at + 1; first && next < route->count; next++)
			if (route->steps[next] != first + next - at)
				break;
		int last = first + next - at - 1;
		text_add(out, at ? ", " : "");
		if (first == 0)
			text_format(
				out, "%s %d %s %s %s %s %s", phrasebook_move(book, "main"), half,
				phrasebook_move(book, side_names[job->weave_side]),
				phrasebook_move(book, "from"),
				hole_text(pattern_main_hole(pattern, end, half), from),
				phrasebook_move(book, "to"),
				hole_text(pattern_main_hole(pattern, other_end(end), half), to));
		else if (first == last)
			text_format(out, "%s %d", phrasebook_move(book, "cross"), first);
		else
			text_format(out, "%s %d–%d", phrasebook_move(book, "crosses"), first, last);
	}
}

static void routes_table(const struct job *job, const struct pattern *pattern,
			 const struct routes *routes, struct text *out)
{
	text_format(out, "%s (%s) in one piece, long side %s\n\n", job->name, pattern->name,
		    side_names[job->weave_side]);
	text_add(out, "route  breaks  outside  way of the long side after its mains\n");
	for (int i = 0; i < routes->count; i++) {
		const struct route *route = &routes->items[i];
		text_format(out, "%5d  %6d  %7d  ", i + 1, route->breaks, route->outside);
		add_route(out, NULL, job, pattern, route);
		text_format(out, "%s\n", i + 1 == routes->taken ? " (this plan's)" : "");
	}
	text_add(out, "\nbreaks: crosses not woven right after the one numbered one less. outside: "
		      "holes run\nalong outside the frame. To take another route, write "
		      "\"order: { route: NUMBER }\".\n");
	if (routes->more)
		text_add(out, "There are others with as few breaks.\n");
	if (!routes->taken)
		text_add(out, "This plan takes none of them: it must name one.\n");
}

/* ---- holes ---- */

/* A row of holes, or of their numbers where `holes` is NULL. */
static void add_row(struct text *out, const char *title, const struct hole *holes, int first,
		    int last)
{
	enum { TITLE_COLUMNS = 12 };
	char label[HOLE_TEXT_MAX];
	int used = text_columns(title, strlen(title));

	text_format(out, "  %s%*s", title, used < TITLE_COLUMNS ? TITLE_COLUMNS - used : 1, "");
	for (int n = first; n <= last; n++)
		if (holes)
			text_format(out, "%5s", hole_text(holes[n], label));
		else
			text_format(out, "%5d", n);
	text_add_char(out, '\n');
}

static void add_hole_map(struct text *out, const struct sequence *sequence,
			 const struct phrasebook *book)
{
	const struct pattern *pattern = sequence->pattern;
	int half = pattern_half(pattern), crosses = pattern->crosses;

	text_format(out, "\n%s\n", phrasebook_move(book, "holes"));
	add_row(out, phrasebook_move(book, "main"), NULL, 1, half);
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		struct hole holes[MAINS_MAX / 2 + 1];
		for (int main = 1; main <= half; main++)
			holes[main] = pattern_main_hole(pattern, end, main);
		add_row(out, phrasebook_move(book, end_names[end]), holes, 1, half);
	}
	text_add_char(out, '\n');
	/* Rows of ten, so that the line fits and the tens can be counted. */
	for (int first = 1; first <= crosses; first += ROW) {
		int last = first + ROW - 1 < crosses ? first + ROW - 1 : crosses;
		add_row(out, phrasebook_move(book, "cross"), NULL, first, last);
		add_row(out, phrasebook_move(book, "hole"), sequence->cross_hole, first, last);
	}
}

/* ---- facts ---- */

/* Those of the bench card, and the route. */
static void add_facts(struct text *out, const struct sequence *sequence,
		      const struct phrasebook *book, const struct phrase_options *manner)
{
	const struct draw_options options = {.book = book, .manner = manner};
	struct text facts = {0};

	card_words(sequence, &options, &facts);
	text_add_wrapped(out, text_string(&facts), 0, COLUMNS);
	text_clear(&facts);
	if (sequence->route) {
		text_format(&facts, "\n%s: ", phrasebook_move(book, "route"));
		add_route(&facts, book, sequence->job, sequence->pattern, sequence->route);
		text_add_wrapped(out, text_string(&facts), 0, COLUMNS);
	}
	text_free(&facts);
}

/* ---- moves ---- */

static void put_move(struct json *json, const struct move *move, int number);

/* The word for a part of a move, the user's own for a side. */
static const char *move_word(const struct phrasebook *book, const struct phrase_options *manner,
			     const char *key)
{
	for (int side = 0; side < 2; side++)
		if (strcmp(key, side_names[side]) == 0 && manner->side_words[side])
			return manner->side_words[side];
	return phrasebook_move(book, key);
}

/* The JSON of a move in one line: "15 pull main 1 left at 1H tension 54 lb". */
static void add_members(struct text *out, const struct yaml_node *map,
			const struct phrasebook *book, const struct phrase_options *manner)
{
	static const char bare[] =
		" n do what subject string number side value unit length_mm weave travel ";
	static const char left_out[] = " phase newton ";

	for (const struct yaml_node *node = map->first; node; node = node->next) {
		const char *name = node->key ? node->key : "n"; /* a number in a list */
		char *key = memory_format(" %s ", name);
		const char *value = node->kind == YAML_SCALAR ? node->text : NULL;
		bool shown = !strstr(left_out, key) && !(value && strcmp(value, "fixed") == 0);
		if (shown && !strstr(bare, key))
			text_format(out, " %s",
				    phrasebook_move(book, strcmp(name, "hole") == 0 ? "at" : name));
		if (shown && !value)
			add_members(out, node, book, manner);
		else if (shown && strcmp(value, "true") != 0)
			text_format(out, " %s%s", move_word(book, manner, value),
				    strstr(name, "_mm") ? " mm" : "");
		free(key);
	}
}

/* In one document, as libfyaml takes longer to begin one than to read it. */
static void add_moves(struct text *out, const struct sequence *sequence, const struct call *call,
		      const struct phrasebook *book, const struct phrase_options *manner)
{
	struct text line = {0};
	struct json json = {.out = &line};
	struct faults faults = {0};

	json_open(&json, NULL, '{');
	json_open(&json, "moves", '[');
	for (int i = call->first; i <= call->last; i++)
		put_move(&json, &sequence->moves[i], i + 1);
	json_close(&json, ']');
	json_close(&json, '}');
	struct yaml_document *document = yaml_read_json("moves", line.bytes, line.length, &faults);
	const struct yaml_node *first = document ? document->root->first->first : NULL;
	for (const struct yaml_node *move = first; move; move = move->next) {
		text_add(out, move == first ? "" : ";");
		add_members(out, move, book, manner);
	}
	yaml_free(document);
	faults_free(&faults);
	text_free(&line);
}

static void add_call(struct text *out, const struct sequence *sequence,
		     const struct phrasebook *book, const struct phrase_options *manner, int index)
{
	char *words = phrase_call(book, sequence, index, manner);
	struct text moves = {0};

	add_moves(&moves, sequence, &sequence->calls[index], book, manner);
	text_format(out, "%4d  ", index + 1);
	text_add_wrapped(out, words, INDENT, COLUMNS);
	text_format(out, "%*s", INDENT + 2, "");
	text_add_wrapped(out, text_string(&moves) + 1, INDENT + 2, COLUMNS);
	text_free(&moves);
	free(words);
}

static void steps_table(const struct sequence *sequence, const struct phrasebook *book,
			const struct phrase_options *manner, struct text *out)
{
	add_facts(out, sequence, book, manner);
	add_hole_map(out, sequence, book);
	for (int call = 0; call < sequence->call_count; call++) {
		enum phase phase = call_phase(sequence, call);
		if (call == 0 || phase != call_phase(sequence, call - 1))
			text_format(out, "\n%s\n", phrasebook_shown(book, phase_names[phase]));
		add_call(out, sequence, book, manner, call);
	}
}

/* ======== as JSON: what is there only where it applies ======== */

static void put_hole(struct json *json, const char *key, struct hole hole)
{
	char label[HOLE_TEXT_MAX];

	if (hole.number)
		json_string(json, key, hole_text(hole, label));
}

static void put_true(struct json *json, const char *key, bool value)
{
	if (value)
		json_bool(json, key, true);
}

static void put_mm(struct json *json, const char *key, double mm)
{
	if (mm > 0)
		json_number(json, key, mm, 0);
}

/* Bit n is cross n. */
static void put_crosses(struct json *json, const char *key, uint64_t crosses)
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

static void put_weave(struct json *json, const struct weave *weave)
{
	json_open(json, "weave", '{');
	json_string(json, "travel", travel_names[weave->travel]);
	json_string(json, "first", weave->first_over ? "over" : "under");
	json_string(json, "last", weave->last_over ? "over" : "under");
	json_close(json, '}');
}

static void put_tension(struct json *json, const struct move *move)
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
static void put_change(struct json *json, const struct move *move)
{
	bool crosses = move->subject == SUBJECT_CROSSES;

	json_string(json, "string", string_names[crosses ? STRING_CROSS : STRING_MAIN]);
	json_int(json, "number", move->number);
	json_int(json, "through", move->through);
	if (!crosses && !move->both_sides)
		json_string(json, "side", side_names[move->side]);
	put_true(json, "back", move->back);
}

static void put_move(struct json *json, const struct move *move, int number)
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
		json_string(json, "side", side_names[move->side]);
	}
	put_hole(json, "from", move->from);
	put_hole(json, "to", move->to);
	put_hole(json, "hole", move->hole);
	if (move->action == DO_WEAVE)
		put_weave(json, &move->weave);
	if (move->action == DO_PULL || move->action == DO_SET_TENSION)
		put_tension(json, move);
	if (move->through)
		put_change(json, move);
	put_true(json, "as_set", move->as_set);
	put_crosses(json, "missing", move->missing);
	if (move->pulls_last)
		put_crosses(json, "pulls",
			    (UINT64_C(2) << move->pulls_last) - (UINT64_C(1) << move->pulls_first));
	put_mm(json, "length_mm", move->length_mm);
	if (move->action == DO_CLAMP || move->action == DO_UNCLAMP) {
		json_string(json, "with", clamp_kind_names[move->with]);
		if (move->across)
			json_int(json, "across", move->across);
		put_true(json, "outside", move->outside);
	}
	put_true(json, "start", move->start);
	put_true(json, "loop", move->loop);
	put_true(json, "suggested", move->suggested);
	json_close(json, '}');
}

/* ---- the parts of a job ---- */

/* Where mains or crosses start, and the hole or holes of each. */
static void put_strings(struct json *json, const struct sequence *sequence, bool mains)
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
			put_hole(json, end_names[end], pattern_main_hole(pattern, end, n));
		if (!mains)
			put_hole(json, "hole", sequence->cross_hole[n]);
		json_close(json, '}');
	}
	json_close(json, ']');
	json_close(json, '}');
}

static void put_call(struct json *json, const struct sequence *sequence,
		     const struct phrasebook *book, const struct phrase_options *manner, int call)
{
	char *words = phrase_call(book, sequence, call, manner);

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

static void put_lengths(struct json *json, const struct sequence *sequence)
{
	const double *length_mm = sequence->length_mm;

	json_line(json, 1);
	json_open(json, "lengths", '{');
	put_mm(json, sequence->route ? "short_mm" : "mains_mm", length_mm[0]);
	put_mm(json, sequence->route ? "long_mm" : "crosses_mm", length_mm[1]);
	put_mm(json, "total_mm", length_mm[0] + length_mm[1]);
	json_close(json, '}');
}

static void put_route(struct json *json, const char *key, const struct pattern *pattern,
		      const struct route *route)
{
	json_line(json, 1);
	json_open(json, key, '{');
	json_int(json, "breaks", route->breaks);
	json_int(json, "outside", route->outside);
	put_mm(json, "outside_mm", route->outside_mm);
	json_open(json, "steps", '[');
	for (int i = 0; i < route->count; i++) {
		int cross = route->steps[i], half = pattern_half(pattern);
		enum frame_end from = route->main_from;
		json_open(json, NULL, '{');
		json_string(json, "string", string_names[cross ? STRING_CROSS : STRING_MAIN]);
		json_int(json, "number", cross ? cross : half);
		if (cross == 0) {
			put_hole(json, "from", pattern_main_hole(pattern, from, half));
			put_hole(json, "to", pattern_main_hole(pattern, other_end(from), half));
		}
		json_close(json, '}');
	}
	json_close(json, ']');
	json_close(json, '}');
}

/* ---- the whole ---- */

static void steps_json(const struct sequence *sequence, const struct phrasebook *book,
		       const struct phrase_options *manner, struct text *out)
{
	struct json json = {.out = out};

	json_open(&json, NULL, '{');
	json_line(&json, 1);
	json_string(&json, "job", sequence->job->name);
	json_string(&json, "pattern", sequence->pattern->name);
	json_string(&json, "method", method_names[sequence->job->method]);
	put_strings(&json, sequence, true);
	put_strings(&json, sequence, false);
	put_lengths(&json, sequence);
	if (sequence->route)
		put_route(&json, "route", sequence->pattern, sequence->route);
	json_line(&json, 1);
	json_open(&json, "moves", '[');
	for (int i = 0; i < sequence->move_count; i++)
		put_move(&json, &sequence->moves[i], i + 1);
	json_close(&json, ']');
	json_line(&json, 1);
	json_open(&json, "calls", '[');
	for (int call = 0; call < sequence->call_count; call++)
		put_call(&json, sequence, book, manner, call);
	json_close(&json, ']');
	text_add(out, "\n}\n");
}

static void routes_json(const struct job *job, const struct pattern *pattern,
			const struct routes *routes, struct text *out)
{
	struct json json = {.out = out};

	json_open(&json, NULL, '{');
	json_string(&json, "job", job->name);
	json_string(&json, "pattern", pattern->name);
	if (routes->taken)
		json_int(&json, "route", routes->taken);
	json_bool(&json, "more", routes->more);
	json_open(&json, "routes", '[');
	for (int i = 0; i < routes->count; i++)
		put_route(&json, NULL, pattern, &routes->items[i]);
	json_close(&json, ']');
	json_close(&json, '}');
	text_add_char(out, '\n');
}

/* ======== the command ======== */

struct wish {
	bool json;
	bool routes;
	const char *bench_file;
};

static void steps_of(const char *path, const struct wish *wish, struct faults *faults,
		     struct text *out)
{
	struct bench *bench = bench_find(wish->bench_file, faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, faults) : NULL;
	const struct machine *machine = bench ? bench->machine : &MACHINE_DEFAULT;
	struct yaml_document *document = yaml_read(path, faults);
	struct plan plan = {0};

	if (document && plan_read(&plan, document->file, document->bytes, NULL, machine, faults) &&
	    book)
		(wish->json ? steps_json : steps_table)(plan.sequence, book, &bench->phrases, out);
	plan_free(&plan);
	yaml_free(document);
	phrasebook_free(book);
	bench_free(bench);
}

static void routes_of(const char *path, bool json, struct faults *faults, struct text *out)
{
	struct job *job = job_read(yaml_read(path, faults));
	struct pattern *pattern = job ? job_find_pattern(job, faults) : NULL;
	struct routes *routes = memory_new(1, sizeof(*routes));

	if (pattern && sequence_routes(job, pattern, routes, faults))
		(json ? routes_json : routes_table)(job, pattern, routes, out);
	free(routes);
	pattern_free(pattern);
	job_free(job);
}

int command_steps(int argc, char **argv)
{
	struct wish wish = {0};
	const struct option_row options[] = {
		{"json", .flag = &wish.json},
		{"routes", .flag = &wish.routes},
		{"bench", .text = &wish.bench_file},
		{0},
	};
	struct faults faults = {0};
	struct text out = {0};

	command_read(options, NULL, argc, argv);
	if (!plan_exists(argv[optind], NULL))
		return EXIT_NO;
	if (wish.routes)
		routes_of(argv[optind], wish.json, &faults, &out);
	else
		steps_of(argv[optind], &wish, &faults, &out);
	fputs(text_string(&out), stdout);
	text_free(&out);
	return faults_report(&faults);
}
