/* From moves and calls to lines. */
#include "script/internal.h"

#include "bench/bench.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <stdlib.h>

/* A script while its lines are made. */
struct maker {
	struct script *script;
	const struct sequence *sequence;
	const struct phrasebook *book;
	struct phrase_options options;
	struct script_bed bed;    /* after the calls so far */
	struct script_bed pulled; /* the strings that hold tension, after the calls so far */
};

static char *words_of(struct maker *maker, int call, enum wording wording)
{
	maker->options.wording = wording;
	return phrase_call(maker->book, maker->sequence, call, &maker->options);
}

static void set(uint64_t *bits, int number, bool on)
{
	uint64_t bit = UINT64_C(1) << number;

	*bits = on ? *bits | bit : *bits & ~bit;
}

/* The bits of the main's side, or of crosses. */
static uint64_t *bits_of(struct script_bed *bed, const struct move *move)
{
	if (move->string == STRING_CROSS)
		return &bed->crosses;
	return move->side == SIDE_LEFT ? &bed->left : &bed->right;
}

/* Which strings are in and which are tensioned after a move. */
static void follow(struct maker *maker, const struct move *move)
{
	bool is_cross = move->string == STRING_CROSS;
	uint64_t *pulled = bits_of(&maker->pulled, move);

	if (move->action == DO_WEAVE && is_cross)
		set(&maker->bed.crosses, move->number, true);
	if (move->action == DO_LET_DOWN || move->action == DO_TAKE_OUT)
		set(pulled, move->number, false);
	if (move->action == DO_TAKE_OUT)
		set(bits_of(&maker->bed, move), move->number, false);
	if (move->action != DO_PULL)
		return;
	if (!is_cross) {
		set(pulled, move->number, true);
		set(bits_of(&maker->bed, move), move->number, true);
	}
	for (int cross = move->pulls_first; is_cross && cross <= move->pulls_last; cross++)
		set(pulled, cross, true);
}

/* What a string that broke took with it. */
static void lose(struct maker *maker, enum loss lost)
{
	if (lost == LOSS_BED)
		maker->bed = maker->pulled = (struct script_bed){0};
	if (lost == LOSS_CROSSES)
		maker->bed.crosses = maker->pulled.crosses = 0;
}

static struct script_left left_of(const struct maker *maker)
{
	const struct script_left *whole = &maker->script->whole;

	return (struct script_left){
		whole->mains - __builtin_popcountll(maker->pulled.left) -
			__builtin_popcountll(maker->pulled.right),
		whole->crosses - __builtin_popcountll(maker->pulled.crosses),
	};
}

static void add_line(struct maker *maker, int index)
{
	const struct sequence *sequence = maker->sequence;
	const struct call *call = &sequence->calls[index];
	const struct move *subject = &sequence->moves[call->subject];
	char *full = words_of(maker, index, WORDING_FULL);
	char *brief = words_of(maker, index, WORDING_SHORT);
	char *again = words_of(maker, index, WORDING_AGAIN);
	char *why = words_of(maker, index, WORDING_WHY);
	char *place = phrase_place(maker->book, sequence, index, &maker->options);

	for (int i = call->first; i <= call->last && !call->abandoned; i++)
		follow(maker, &sequence->moves[i]);
	lose(maker, call->lost);
	script_add(maker->script,
		   &(struct script_line){
			   .kind = call_kind_name(call->kind),
			   .phase = phase_name(call_phase(sequence, index)),
			   .skill = skill_name(call_skill(sequence, index)),
			   .string = subject->has_string ? string_name(subject->string) : NULL,
			   .side = subject->has_side ? side_name(subject->side) : NULL,
			   .full_words = full,
			   .short_words = brief,
			   .again_words = again,
			   .why = why,
			   .place = place,
			   .number = subject->has_string ? subject->number : 0,
			   .weight_s = call_kind_seconds(call->kind),
			   .left = left_of(maker),
			   .bed = maker->bed,
		   });
	free(full);
	free(brief);
	free(again);
	free(why);
	free(place);
}

struct script *script_make(const struct plan *plan, const struct bench *bench,
			   const struct phrasebook *book)
{
	const struct job *job = plan->job;
	const struct pattern *pattern = plan->pattern;
	char *file = realpath(job->file, NULL);
	const struct script facts = {
		.job = job->name,
		.title = pattern->title,
		.stringer = job->stringer,
		.pattern = pattern->name,
		.sport = sport_name(pattern->sport),
		.method = method_name(job->method),
		.crosses_start = end_name(pattern->crosses_start),
		.detail = detail_name(job->detail),
		.language = bench->language,
		.program = "pullcall " PULLCALL_VERSION,
		.plan_file = file ? file : job->file,
		.plan_text = job->text,
		.pattern_text = pattern->text,
		.whole = {pattern->mains, pattern->crosses},
		.says_short = job->detail == DETAIL_QUICK,
	};
	struct maker maker = {
		.script = script_new(&facts),
		.sequence = plan->sequence,
		.book = book,
		.options = bench_phrase_options(bench),
	};

	free(file);
	for (int i = 0; i < plan->sequence->call_count; i++)
		add_line(&maker, i);
	return maker.script;
}

/* Makes the script of a plan that was read, if it can be done, and frees the plan. */
static struct script *finish(struct plan *plan, bool good, const struct bench *bench,
			     const struct phrasebook *book)
{
	struct script *script = good ? script_make(plan, bench, book) : NULL;

	plan_free(plan);
	return script;
}

struct script *script_read(const char *path, const struct bench *bench,
			   const struct phrasebook *book, struct faults *faults)
{
	struct plan plan;
	bool good = plan_read(&plan, path, bench->machine, faults);

	return finish(&plan, good, bench, book);
}

struct script *script_read_texts(const char *plan_file, const char *plan_text, const char *pattern,
				 const char *pattern_text, const struct bench *bench,
				 const struct phrasebook *book, struct faults *faults)
{
	struct plan plan;
	bool good = plan_read_texts(&plan, plan_file, plan_text, pattern, pattern_text,
				    bench->machine, faults);

	return finish(&plan, good, bench, book);
}

char *script_plan_text(const char *path, struct faults *faults)
{
	struct job *job = job_read(path, faults);
	char *text = job ? memory_copy(job->text) : NULL;

	job_free(job);
	return text;
}
