/* From moves and calls to lines; and back, for a way back and the rest of the job after it. */
#include "script/script.h"

#include "bench/bench.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

static struct script_left left_after(const struct script_left *whole, const struct strings *pulled)
{
	return (struct script_left){
		whole->mains - __builtin_popcountll(pulled->mains[SIDE_LEFT]) -
			__builtin_popcountll(pulled->mains[SIDE_RIGHT]),
		whole->crosses - __builtin_popcountll(pulled->crosses),
	};
}

static struct script_bed bed_of(const struct strings *strings)
{
	return (struct script_bed){strings->mains[SIDE_LEFT], strings->mains[SIDE_RIGHT],
				   strings->crosses};
}

/* What a call is about, whatever its words: the same call made again has the same. */
static struct script_line line_of(const struct sequence *sequence, int index)
{
	const struct call *call = &sequence->calls[index];
	const struct move *subject = &sequence->moves[call->subject];

	return (struct script_line){
		.kind = call_kind_name(call->kind),
		.string = subject->has_string ? string_names[subject->string] : NULL,
		.side = subject->has_string ? side_names[subject->side] : NULL,
		.number = subject->has_string ? subject->number : 0,
	};
}

static void add_line(struct script *script, const struct sequence *sequence, int index,
		     const struct bed_strings *after, const struct phrasebook *book,
		     struct phrase_options *options)
{
	const struct call *call = &sequence->calls[index];
	const struct move *subject = &sequence->moves[call->subject];
	struct script_line line = line_of(sequence, index);
	bool taught = sequence->job->teaching != TEACHING_NONE;
	char *place = phrase_place(book, sequence, index, options);
	char *words[WORDING_ASK + 1] = {0};

	for (options->wording = WORDING_FULL;
	     options->wording <= (taught ? WORDING_ASK : WORDING_AGAIN); options->wording++)
		words[options->wording] = phrase_call(book, sequence, index, options);

	line.phase = phase_names[call_phase(sequence, index)];
	line.skill = skill_names[call_skill(sequence, index)];
	line.full_words = words[WORDING_FULL];
	line.short_words = words[WORDING_SHORT];
	line.again_words = words[WORDING_AGAIN];
	line.why = words[WORDING_WHY];
	line.name = words[WORDING_NAME];
	line.question = words[WORDING_ASK];
	line.place = place;
	line.weight_s = call_kind_seconds(call->kind);
	line.left = left_after(&script->whole, &after->tensioned);
	line.bed = bed_of(&after->in);
	line.redo = bed_of(&after->redo);
	if (subject->action == DO_CUT) {
		line.reel = move_length(sequence->job, subject)->reel;
		line.cut_mm = (int)subject->length_mm;
	}
	script_add(script, &line);
	for (enum wording wording = 0; wording <= WORDING_ASK; wording++)
		free(words[wording]);
	free(place);
}

static const char *set_text(const struct pattern *pattern, struct quantity tension,
			    char text[static QUANTITY_TEXT_MAX])
{
	return quantity_text(job_setting(pattern, tension), text);
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
		.racket = job->racket,
		.customer = job->customer,
		.due = job->due,
		.notes = job->notes,
		.tension = {set_text(pattern, job->tension[STRING_MAIN], tension[STRING_MAIN]),
			    set_text(pattern, job->tension[STRING_CROSS], tension[STRING_CROSS])},
		.string = {job_length(job, STRING_MAIN)->name, job_length(job, STRING_CROSS)->name},
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

/* A plan with another `teach:`; a trainer stays where teaching is wanted. */
static char *with_teaching(const char *text, const char *teach)
{
	static const char key[] = "teach:", with_trainer[] = "teach: trainer";
	struct text plan = {0};

	for (const char *line = text, *end; *line; line = end) {
		end = strchrnul(line, '\n');
		end += *end != '\0';
		if (strncmp(line, key, strlen(key)) != 0)
			text_add_part(&plan, line, (size_t)(end - line));
		else if (strcmp(teach, "yes") == 0 &&
			 strncmp(line, with_trainer, strlen(with_trainer)) == 0)
			teach = "trainer";
	}
	text_format(&plan, "\n%s %s\n", key, teach);
	return text_take(&plan);
}

struct script *script_read_text(const char *file, const char *text, const char *pattern_text,
				const char *teach, const struct bench *bench,
				const struct phrasebook *book, struct faults *faults)
{
	struct plan plan;
	char *taught = teach ? with_teaching(text, teach) : memory_copy(text);
	bool good = plan_read(&plan, file, taught, pattern_text, bench->machine, faults);
	struct script *script = good ? script_make(&plan, bench, book) : NULL;

	plan_free(&plan);
	free(taught);
	return script;
}

struct script *script_read(const char *path, const char *teach, const struct bench *bench,
			   const struct phrasebook *book, struct faults *faults)
{
	struct yaml_document *document = yaml_read(path, faults);
	struct script *script = NULL;

	if (document)
		script = script_read_text(document->file, document->bytes, NULL, teach, bench, book,
					  faults);
	yaml_free(document);
	return script;
}

/* ---- a script of questions alone, to be answered without a racket ---- */

static bool is_wanted(const struct script_line *line, const char *const *skills)
{
	while (*skills && strcmp(*skills, line->skill) != 0)
		skills++;
	return line->question && *skills;
}

struct script *script_drill(const struct script *taught, const char *const *skills, uint64_t seed)
{
	struct script facts = *taught;
	unsigned short random[] = {(unsigned short)seed, (unsigned short)(seed >> 16),
				   (unsigned short)(seed >> 32)};

	facts.teaching = "drill";
	struct script *drill = script_new(&facts);
	for (int i = 1; i <= taught->count; i++) {
		struct script_line line = *script_line(taught, i);
		line.call = 0;
		if (is_wanted(&line, skills))
			script_add(drill, &line);
	}
	/* POSIX fixes the numbers of nrand48: a seed gives the same order everywhere. */
	for (int i = drill->count - 1; i > 0; i--) {
		int other = (int)(nrand48(random) % (i + 1));
		struct script_line line = drill->lines[i];
		drill->lines[i] = drill->lines[other];
		drill->lines[other] = line;
	}
	for (int i = 0; i < drill->count; i++)
		drill->lines[i].call = i + 1;
	return drill;
}

/* ---- when something goes wrong ---- */

static void refuse(struct faults *faults, const struct script *script, const char *code,
		   const char *text)
{
	fault_add(faults, FAULT_ERROR, script->plan_file, (struct position){0}, code, "%s", text);
}

static bool is_same(const char *one, const char *other)
{
	return one && other ? strcmp(one, other) == 0 : one == other;
}

static bool is_same_call(const struct script_line *one, const struct script_line *other)
{
	return is_same(one->kind, other->kind) && is_same(one->string, other->string) &&
	       is_same(one->side, other->side) && one->number == other->number;
}

static struct mishap read_mishap(const struct script_mishap *mishap)
{
	bool cross = is_same(mishap->string, string_names[STRING_CROSS]);
	bool right = is_same(mishap->side, side_names[SIDE_RIGHT]);

	return (struct mishap){
		.kind = is_same(mishap->kind, "redo")      ? MISHAP_REDO
			: is_same(mishap->kind, "slipped") ? MISHAP_SLIPPED
							   : MISHAP_BROKE,
		.string = cross ? STRING_CROSS : STRING_MAIN,
		.number = mishap->number,
		.side = right ? SIDE_RIGHT : SIDE_LEFT,
	};
}

/* Puts the sequence with a way back in place of the plan's. */
static bool apply(struct plan *plan, const struct script_mishap *mishap, struct faults *faults)
{
	struct mishap what = read_mishap(mishap);
	struct sequence *sequence = NULL;

	if (mishap->line <= plan->sequence->call_count)
		sequence = sequence_go_back(plan->sequence, mishap->line - 1, &what, faults);
	if (!sequence)
		return false;
	sequence_free(plan->sequence);
	plan->sequence = sequence;
	return true;
}

bool script_plan(const struct script *script, int line, const struct bench *bench, struct plan *out,
		 struct faults *faults)
{
	struct faults ours = {0}; /* the plan's own are known since the job began */
	bool good = plan_read(out, script->plan_file, script->plan_text, script->pattern_text,
			      bench->machine, &ours);

	for (int i = 0; good && i < script->mishap_count; i++)
		good = apply(out, &script->mishaps[i], &ours);
	good = good && out->sequence->call_count >= line;
	for (int i = 1; good && i <= line; i++) {
		struct script_line now = line_of(out->sequence, i - 1);
		good = is_same_call(script_line(script, i), &now);
	}
	if (!good)
		refuse(faults, script, "back-other",
		       "this version of pullcall, or this bench, makes other calls of what is done "
		       "already: take the strings out by hand, and step back to their call");
	faults_free(&ours);
	return good;
}

/* The call that the string of a mishap was last worked on in; 0: none. */
static int made_in(const struct script *script, const struct script_mishap *mishap)
{
	int lines[SCRIPT_STRINGS_MAX];

	if (!mishap->string)
		return script_strings(script, mishap->line, lines) ? script_call(script, lines[0])
								   : 0;
	for (int i = mishap->line; i >= 1; i--) {
		const struct script_line *line = script_line(script, i);
		if (is_same(line->string, mishap->string) && line->number == mishap->number &&
		    (!mishap->side || is_same(line->side, mishap->side)))
			return script_call(script, i);
	}
	return 0;
}

/* The old lines up to `line`, then those that are made now. Of these, the last ones are the old
 * rest of the job, and keep the mishap that they made good; the others make this one good. */
static void join(struct script *joined, const struct script *old, const struct script *made,
		 int line)
{
	int kept = made->count + 1, last = old->count; /* the rest begins at kept */
	int call = script_call(old, old->count + 1);

	while (kept - 1 > line && last > line &&
	       is_same_call(script_line(made, kept - 1), script_line(old, last))) {
		kept--;
		last--;
	}
	for (int i = 1; i <= made->count; i++) {
		const struct script_line *now = script_line(made, i);
		struct script_line added = i <= line ? *script_line(old, i) : *now;
		added.left = now->left;
		added.bed = now->bed;
		if (i > line) {
			added.call = ++call; /* one past the old ones stays free: see script_call */
			added.mishap = i < kept ? joined->mishap_count
						: script_line(old, last + 1 + i - kept)->mishap;
		}
		script_add(joined, &added);
	}
}

/* A new script: the lines up to `line`, then those of the plan with all mishaps, and with another
 * one if `more` is not NULL. NULL with a fault if that cannot be. */
static struct script *rewrite(const struct script *script, int line, struct script_mishap *more,
			      const struct bench *bench, const struct phrasebook *book,
			      struct faults *faults)
{
	struct script *joined = NULL;
	struct plan plan = {0};
	bool good = script_plan(script, line, bench, &plan, faults) &&
		    (!more || apply(&plan, more, faults));

	if (good && more &&
	    (plan.sequence->call_count > SCRIPT_LINES_MAX ||
	     script->mishap_count == SCRIPT_MISHAPS_MAX)) {
		refuse(faults, script, "back-many",
		       "this job went back too often: cut the bed out and begin it anew");
	} else if (good) {
		struct script *made = script_make(&plan, bench, book);
		joined = script_new(script);
		for (int i = 0; i < script->mishap_count; i++)
			script_add_mishap(joined, &script->mishaps[i]);
		if (more) {
			more->undone = plan.sequence->undone;
			script_add_mishap(joined, more);
		}
		join(joined, script, made, line);
		script_free(made);
	}
	plan_free(&plan);
	return joined;
}

struct script *script_go_back(const struct script *script, int line,
			      const struct script_mishap *mishap, const struct bench *bench,
			      const struct phrasebook *book, struct faults *faults)
{
	struct script_mishap found = *mishap;

	found.line = line;
	found.made = made_in(script, &found);
	return rewrite(script, line, &found, bench, book, faults);
}

struct script *script_call_off(const struct script *script, const struct bench *bench,
			       const struct phrasebook *book, struct faults *faults)
{
	struct script before = *script;

	assert(script->mishap_count > 0);
	before.mishap_count--;
	return rewrite(&before, script->mishaps[before.mishap_count].line, NULL, bench, book,
		       faults);
}
