/* Scripts of jobs that were begun before the journal kept scripts: the calls are there, with their
 * words, so the job goes on with the very lines it began with. What a row of `call` does not say is
 * filled in: the place is told by the words of the call, and there is no reason. */
#include "script/internal.h"

#include "bench/bench.h"
#include "sequence/sequence.h"

#include <stdlib.h>
#include <string.h>

static bool is_one_of(const char *kind, const char *const *kinds)
{
	while (*kinds && strcmp(kind, *kinds) != 0)
		kinds++;
	return *kinds != NULL;
}

/* The work is counted as the calls of that time say it. */
static void count_call(const struct script_line *call, struct script_left whole,
		       struct script_line *line)
{
	static const char *const weaves[] = {"weave",        "weave-loop", "cross",
					     "cross-behind", "cross-pull", NULL};
	static const char *const pulls[] = {"pull", "pull-cross", "pull-crosses", "cross-pull",
					    NULL};
	static const char *const main_pulls[] = {"pull", "centre-main", "main", "late-main", NULL};
	uint64_t bit = UINT64_C(1) << (call->number & 63);

	if (call->string && strcmp(call->string, "main") == 0) {
		if (!is_one_of(call->kind, main_pulls))
			return;
		line->left.mains--;
		*(call->side && strcmp(call->side, "left") == 0 ? &line->bed.left
								: &line->bed.right) |= bit;
	} else if (call->string) {
		bool behind = strcmp(call->kind, "cross-behind") == 0;
		int left = whole.crosses - call->number + behind;
		if (is_one_of(call->kind, weaves))
			line->bed.crosses |= bit;
		if ((behind || is_one_of(call->kind, pulls)) && left < line->left.crosses)
			line->left.crosses = left;
	}
}

static int usual_seconds(const char *name)
{
	static const int unknown_s = 10;

	for (enum call_kind kind = 0; kind < CALL_KINDS; kind++)
		if (strcmp(call_kind_name(kind), name) == 0)
			return call_kind_seconds(kind);
	return unknown_s;
}

/* The words of a call as they stand within a sentence: without the full stop. */
static char *place_of(const char *words)
{
	size_t length = strlen(words);

	return memory_copy_part(words, length - (length > 0 && words[length - 1] == '.'));
}

static struct script *add_calls(struct script *script, const struct script *calls)
{
	struct script_line line = {.left = script->whole};

	for (int i = 0; i < calls->count; i++) {
		const struct script_line *call = &calls->lines[i];
		char *place = place_of(call->full_words);
		count_call(call, script->whole, &line);
		line = (struct script_line){
			.kind = call->kind,
			.phase = call->phase,
			.skill = skill_names[SKILL_PREPARE],
			.string = call->string,
			.side = call->side,
			.full_words = call->full_words,
			.short_words = call->full_words,
			.again_words = call->full_words,
			.why = call->full_words,
			.place = place,
			.number = call->number,
			.weight_s = usual_seconds(call->kind),
			.left = line.left,
			.bed = line.bed,
			.redo = line.bed,
		};
		if (line.bed.crosses)
			line.redo.left = line.redo.right = 0;
		script_add(script, &line);
		free(place);
	}
	return script;
}

struct script *script_of_old_calls(const struct script *calls, struct faults *faults)
{
	struct job *job = job_read_text(calls->plan_file, calls->plan_text, faults);
	struct pattern *pattern = pattern_read_text(calls->pattern, calls->pattern_text, faults);
	struct script *script = NULL;

	if (job && pattern) {
		struct script facts = *calls;
		facts.title = pattern->title;
		facts.crosses_start = end_names[pattern->crosses_start];
		facts.detail = detail_names[job->detail];
		facts.whole = (struct script_left){pattern->mains, pattern->crosses};
		script = add_calls(script_new(&facts), calls);
	}
	job_free(job);
	pattern_free(pattern);
	return script;
}
