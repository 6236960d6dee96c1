/* From moves and calls to lines. */
#include "script/script.h"

#include "bench/bench.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <stdlib.h>
#include <string.h>

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
static void set_cut(const struct job *job, const struct move *move, struct script_line *line)
{
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

static void add_line(struct script *script, const struct sequence *sequence, int index,
		     const struct bed_strings *after, const struct phrasebook *book,
		     struct phrase_options *options)
{
	const struct call *call = &sequence->calls[index];
	const struct move *subject = &sequence->moves[call->subject];
	bool taught = sequence->job->teaching != TEACHING_NONE;
	char *place = phrase_place(book, sequence, index, options);
	char *words[WORDING_ASK + 1] = {0};

	for (options->wording = WORDING_FULL;
	     options->wording <= (taught ? WORDING_ASK : WORDING_AGAIN); options->wording++)
		words[options->wording] = phrase_call(book, sequence, index, options);

	struct script_line line = {
		.kind = call_kind_name(call->kind),
		.phase = phase_names[call_phase(sequence, index)],
		.skill = skill_names[call_skill(sequence, index)],
		.string = subject->has_string ? string_names[subject->string] : NULL,
		.side = subject->has_side ? side_names[subject->side] : NULL,
		.full_words = words[WORDING_FULL],
		.short_words = words[WORDING_SHORT],
		.again_words = words[WORDING_AGAIN],
		.why = words[WORDING_WHY],
		.name = words[WORDING_NAME],
		.question = words[WORDING_ASK],
		.place = place,
		.number = subject->has_string ? subject->number : 0,
		.weight_s = call_kind_seconds(call->kind),
		.left = left_after(&script->whole, &after->tensioned),
		.bed = bed_of(&after->in),
		.redo = bed_of(&after->redo),
	};

	set_cut(sequence->job, subject, &line);
	script_add(script, &line);
	for (enum wording wording = 0; wording <= WORDING_ASK; wording++)
		free(words[wording]);
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
	struct script *script = script_new(&facts);
	struct phrase_options options = bench->phrases;
	struct bed_strings *beds = sequence_bed_strings(plan->sequence);

	for (int i = 0; i < plan->sequence->call_count; i++)
		add_line(script, plan->sequence, i, &beds[i + 1], book, &options);
	free(beds);
	free(file);
	return script;
}

/* Makes the script of a plan that was read, if it can be done, and frees the plan. */
static struct script *finish(struct plan *plan, bool good, const struct bench *bench,
			     const struct phrasebook *book)
{
	struct script *script = good ? script_make(plan, bench, book) : NULL;

	plan_free(plan);
	return script;
}

/* A plan with another `teach:`. */
static char *with_teaching(const char *text, const char *teach)
{
	static const char key[] = "teach:";
	struct text plan = {0};

	for (const char *line = text, *end; *line; line = end) {
		end = strchrnul(line, '\n');
		end += *end != '\0';
		if (strncmp(line, key, strlen(key)) != 0)
			text_add_part(&plan, line, (size_t)(end - line));
	}
	text_format(&plan, "\n%s %s\n", key, teach);
	return text_take(&plan);
}

struct script *script_read_text(const char *file, const char *text, const char *teach,
				const struct bench *bench, const struct phrasebook *book,
				struct faults *faults)
{
	struct plan plan;
	char *taught = teach ? with_teaching(text, teach) : memory_copy(text);
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

/* ---- a script of questions alone, to be answered without a racket ---- */

static bool is_wanted(const struct script_line *line, const char *const *skills)
{
	while (*skills && strcmp(*skills, line->skill) != 0)
		skills++;
	return line->question && *skills;
}

/* splitmix64 (Steele, Lea & Flood 2014): the same seed gives the same order everywhere. */
static uint64_t next_random(uint64_t *state)
{
	uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

	z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
	return z ^ z >> 31;
}

struct script *script_drill(const struct script *taught, const char *const *skills, uint64_t seed)
{
	struct script facts = *taught;

	facts.teaching = "drill";
	struct script *drill = script_new(&facts);
	for (int i = 1; i <= taught->count; i++) {
		struct script_line line = *script_line(taught, i);
		line.call = 0;
		if (is_wanted(&line, skills))
			script_add(drill, &line);
	}
	for (int i = drill->count - 1; i > 0; i--) {
		int other = (int)(next_random(&seed) % (uint64_t)(i + 1));
		struct script_line line = drill->lines[i];
		drill->lines[i] = drill->lines[other];
		drill->lines[other] = line;
	}
	for (int i = 0; i < drill->count; i++)
		drill->lines[i].call = i + 1;
	return drill;
}
