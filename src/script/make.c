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
};

static char *words_of(struct maker *maker, int call, enum wording wording)
{
	maker->options.wording = wording;
	return phrase_call(maker->book, maker->sequence, call, &maker->options);
}

static int count(uint64_t strings)
{
	return __builtin_popcountll(strings);
}

static struct script_left left_after(const struct script_left *whole, const struct strings *pulled)
{
	return (struct script_left){
		whole->mains - count(pulled->mains[SIDE_LEFT]) - count(pulled->mains[SIDE_RIGHT]),
		whole->crosses - count(pulled->crosses),
	};
}

/* What a call cuts off a reel. */
static void set_cut(const struct maker *maker, const struct move *move, struct script_line *line)
{
	const struct job *job = maker->sequence->job;
	const struct string_length *lengths[] = {
		[SUBJECT_MAINS] = &job->length[STRING_MAIN],
		[SUBJECT_CROSSES] = &job->length[STRING_CROSS],
		[SUBJECT_WHOLE] = &job->whole,
	};

	if (move->action != DO_CUT)
		return;
	line->reel = lengths[move->subject]->reel;
	line->cut_mm = (int)move->length_mm;
}

static struct script_bed bed_of(const struct strings *strings)
{
	return (struct script_bed){strings->mains[SIDE_LEFT], strings->mains[SIDE_RIGHT],
				   strings->crosses};
}

static void add_line(struct maker *maker, int index, const struct bed_strings *after)
{
	const struct sequence *sequence = maker->sequence;
	const struct call *call = &sequence->calls[index];
	const struct move *subject = &sequence->moves[call->subject];
	char *full = words_of(maker, index, WORDING_FULL);
	char *brief = words_of(maker, index, WORDING_SHORT);
	char *again = words_of(maker, index, WORDING_AGAIN);
	char *why = words_of(maker, index, WORDING_WHY);
	bool taught = sequence->job->teaching != TEACHING_NONE;
	char *name = taught ? words_of(maker, index, WORDING_NAME) : NULL;
	char *question = taught ? words_of(maker, index, WORDING_ASK) : NULL;
	char *place = phrase_place(maker->book, sequence, index, &maker->options);

	struct script_line line = {
		.kind = call_kind_name(call->kind),
		.phase = phase_names[call_phase(sequence, index)],
		.skill = skill_names[call_skill(sequence, index)],
		.string = subject->has_string ? string_names[subject->string] : NULL,
		.side = subject->has_side ? side_names[subject->side] : NULL,
		.full_words = full,
		.short_words = brief,
		.again_words = again,
		.why = why,
		.name = name,
		.question = question,
		.place = place,
		.number = subject->has_string ? subject->number : 0,
		.weight_s = call_kind_seconds(call->kind),
		.left = left_after(&maker->script->whole, &after->tensioned),
		.bed = bed_of(&after->in),
		.redo = bed_of(&after->redo),
	};

	set_cut(maker, subject, &line);
	script_add(maker->script, &line);
	free(full);
	free(brief);
	free(again);
	free(why);
	free(name);
	free(question);
	free(place);
}

static const char *given(const char *text)
{
	return text ? text : "";
}

struct script *script_make(const struct plan *plan, const struct bench *bench,
			   const struct phrasebook *book)
{
	const struct job *job = plan->job;
	const struct pattern *pattern = plan->pattern;
	char *file = realpath(job->file, NULL);
	char tension[2][QUANTITY_TEXT_MAX];
	const struct script facts = {
		.job = job->name,
		.title = pattern->title,
		.stringer = job->stringer,
		.pattern = pattern->name,
		.sport = sport_names[pattern->sport],
		.method = method_names[job->method],
		.crosses_start = end_names[pattern->crosses_start],
		.detail = detail_names[job->detail],
		.teaching = teaching_names[job->teaching],
		.language = bench->language,
		.program = "pullcall " PULLCALL_VERSION,
		.plan_file = file ? file : job->file,
		.plan_text = job->text,
		.pattern_text = pattern->text,
		.racket = given(job->racket),
		.customer = given(job->customer),
		.due = given(job->due),
		.notes = given(job->notes),
		.tension = {quantity_text(job->tension[STRING_MAIN], tension[STRING_MAIN]),
			    quantity_text(job->tension[STRING_CROSS], tension[STRING_CROSS])},
		.string = {given(job_length(job, STRING_MAIN)->name),
			   given(job_length(job, STRING_CROSS)->name)},
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
	struct bed_strings *beds = sequence_bed_strings(plan->sequence);
	for (int i = 0; i < plan->sequence->call_count; i++)
		add_line(&maker, i, &beds[i + 1]);
	free(beds);
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

struct script *script_read_text(const char *file, const char *text, const char *teach,
				const struct bench *bench, const struct phrasebook *book,
				struct faults *faults)
{
	struct plan plan;
	char *taught = teach ? memory_format("%s\nteach: %s\n", text, teach) : memory_copy(text);
	bool good = plan_read_text(&plan, file, taught, bench->machine, faults);

	free(taught);
	return finish(&plan, good, bench, book);
}

struct script *script_read(const char *path, const char *teach, const struct bench *bench,
			   const struct phrasebook *book, struct faults *faults)
{
	struct plan plan;

	if (!teach) {
		bool good = plan_read(&plan, path, bench->machine, faults);
		return finish(&plan, good, bench, book);
	}
	struct job *job = job_read(path, faults);
	struct script *script =
		job ? script_read_text(job->file, job->text, teach, bench, book, faults) : NULL;
	job_free(job);
	return script;
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
