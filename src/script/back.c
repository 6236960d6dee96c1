/* Going back with work undone: a way back and the rest of the job in place of the lines that
 * follow. */
#include "script/script.h"

#include "bench/bench.h"
#include "sequence/sequence.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool script_parse_string(const char *text, struct script_mishap *out, char **why)
{
	char string[8] = "", digits[5] = "", side[8] = "", rest;
	int words = sscanf(text, "%7s %4[0-9] %7s %c", string, digits, side, &rest);
	int number = (int)strtol(digits, NULL, 10);
	bool cross = strcmp(string, string_names[STRING_CROSS]) == 0 && words == 2;
	bool left = strcmp(side, side_names[SIDE_LEFT]) == 0;
	bool right = strcmp(side, side_names[SIDE_RIGHT]) == 0;
	bool main = strcmp(string, string_names[STRING_MAIN]) == 0 && words == 3 && (left || right);

	*out = (struct script_mishap){
		.string = string_names[cross ? STRING_CROSS : STRING_MAIN],
		.side = !main ? NULL : side_names[left ? SIDE_LEFT : SIDE_RIGHT],
		.number = number,
	};
	if ((cross || main) && number > 0)
		return true;
	*why = memory_format("unknown string \"%s\": expected \"cross 9\" or \"main 4 left\"",
			     text);
	return false;
}

static void refuse(struct faults *faults, const struct script *script, const char *code,
		   const char *text)
{
	fault_add(faults, FAULT_ERROR, script->plan_file, (struct position){0}, code, "%s", text);
}

static bool is_same(const char *one, const char *other)
{
	return one && other ? strcmp(one, other) == 0 : one == other;
}

static bool is_same_string(const struct script_line *line, const char *string, int number,
			   const char *side)
{
	bool cross = is_same(string, string_names[STRING_CROSS]);

	return line->string && is_same(line->string, string) && line->number == number &&
	       (cross || is_same(line->side, side));
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

/* Their words may differ: they may be those of another phrasebook. */
static bool is_said_by(const struct script_line *line, const struct sequence *sequence, int index)
{
	const struct call *call = &sequence->calls[index];
	const struct move *subject = &sequence->moves[call->subject];

	return is_same(line->kind, call_kind_name(call->kind)) &&
	       is_same(line->string, subject->has_string ? string_names[subject->string] : NULL) &&
	       is_same(line->side, subject->has_side ? side_names[subject->side] : NULL) &&
	       line->number == (subject->has_string ? subject->number : 0);
}

bool script_plan(const struct script *script, int line, const struct bench *bench, struct plan *out,
		 struct faults *faults)
{
	struct faults ours = {0}; /* the plan's own are known since the job began */
	bool good = plan_read_texts(out, script->plan_file, script->plan_text, script->pattern,
				    script->pattern_text, bench->machine, &ours);

	for (int i = 0; good && i < script->mishap_count; i++)
		good = apply(out, &script->mishaps[i], &ours);
	good = good && out->sequence->call_count >= line;
	for (int i = 1; good && i <= line; i++)
		good = is_said_by(script_line(script, i), out->sequence, i - 1);
	if (!good)
		refuse(faults, script, "back-other",
		       "this version of pullcall, or this bench, makes other calls of what is done "
		       "already: take the strings out by hand, and step back to their call");
	faults_free(&ours);
	return good;
}

static bool is_in_frame(const struct script *script, const struct script_mishap *mishap,
			struct faults *faults)
{
	if (!mishap->string)
		return true;
	bool cross = is_same(mishap->string, string_names[STRING_CROSS]);
	int most = cross ? script->whole.crosses : script->whole.mains / 2;
	if (mishap->number <= most)
		return true;
	fault_add(faults, FAULT_ERROR, script->plan_file, (struct position){0}, "back-string",
		  "there is no %s %d: this frame has %d%s", mishap->string, mishap->number, most,
		  cross ? " crosses" : " mains a side");
	return false;
}

/* The call that the string of a mishap was last worked on in. */
static int made_in(const struct script *script, const struct script_mishap *mishap)
{
	int lines[SCRIPT_STRINGS_MAX];

	for (int i = mishap->line; mishap->string && i >= 1; i--)
		if (is_same_string(script_line(script, i), mishap->string, mishap->number,
				   mishap->side))
			return script_call(script, i);
	return !mishap->string && script_strings(script, mishap->line, lines)
		       ? script_call(script, lines[0])
		       : 0;
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

/* The script with the first so many of its mishaps, and another one if `more` is not NULL. */
static struct script *rewrite(const struct script *script, int mishaps,
			      const struct script_mishap *more, int line, const struct plan *plan,
			      const struct bench *bench, const struct phrasebook *book)
{
	struct script *made = script_make(plan, bench, book);
	struct script *joined = script_new(script);

	for (int i = 0; i < mishaps; i++)
		script_add_mishap(joined, &script->mishaps[i]);
	if (more)
		script_add_mishap(joined, more);
	join(joined, script, made, line);
	script_free(made);
	return joined;
}

struct script *script_go_back(const struct script *script, int line,
			      const struct script_mishap *mishap, const struct bench *bench,
			      const struct phrasebook *book, struct faults *faults)
{
	struct script_mishap found = *mishap;
	struct script *joined = NULL;
	struct plan plan = {0};

	found.line = line;
	found.made = made_in(script, &found);
	if (is_in_frame(script, mishap, faults) &&
	    script_plan(script, line, bench, &plan, faults) && apply(&plan, &found, faults)) {
		found.undone = plan.sequence->undone[0] + plan.sequence->undone[1];
		if (plan.sequence->call_count <= SCRIPT_LINES_MAX &&
		    script->mishap_count < SCRIPT_MISHAPS_MAX)
			joined = rewrite(script, script->mishap_count, &found, line, &plan, bench,
					 book);
		else
			refuse(faults, script, "back-many",
			       "this job went back too often: cut the bed out and begin it anew");
	}
	plan_free(&plan);
	return joined;
}

struct script *script_call_off(const struct script *script, const struct bench *bench,
			       const struct phrasebook *book, struct faults *faults)
{
	struct script before = *script;
	struct script *joined = NULL;
	struct plan plan = {0};

	assert(script->mishap_count > 0);
	int line = script->mishaps[--before.mishap_count].line;
	if (script_plan(&before, line, bench, &plan, faults))
		joined = rewrite(script, before.mishap_count, NULL, line, &plan, bench, book);
	plan_free(&plan);
	return joined;
}
