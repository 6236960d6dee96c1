/* Prints what the rooms know, for the manual to be compared with: a line each, GROUP WORD.
 *
 * The keys of a file are those that its reader asks for while it reads one: the linker puts the
 * functions below in the way (--wrap). */
#include "bench/bench.h"
#include "daemon/daemon.h"
#include "daemon/internal.h"
#include "job/job.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"
#include "session/session.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NAMES(group, word, count)                                                                  \
	for (int i = 0; i < (int)(count); i++)                                                     \
	say(group, word)

static const char *reading; /* the group of the keys that are asked for */

static void say(const char *group, const char *word)
{
	if (group && word)
		printf("%s %s\n", group, word);
}

static void say_all(const char *const *words)
{
	for (; *words; words++)
		say(reading, *words);
}

static void say_row(const struct yaml_row *row)
{
	say(reading, row->key);
	if (row->names)
		say_all(row->names);
	for (const struct yaml_row *inner = row->map; inner && inner->key; inner++)
		say_row(inner);
}

/* NOLINTBEGIN: the linker's names */
bool __real_yaml_read_map(const struct yaml_node *node, const struct yaml_row *rows);
bool __wrap_yaml_read_map(const struct yaml_node *node, const struct yaml_row *rows);
bool __real_yaml_read_value(const struct yaml_node *node, const struct yaml_row *row);
bool __wrap_yaml_read_value(const struct yaml_node *node, const struct yaml_row *row);
bool __real_yaml_is_map(const struct yaml_node *node, const char *const *keys);
bool __wrap_yaml_is_map(const struct yaml_node *node, const char *const *keys);
bool __real_yaml_choice(const struct yaml_node *node, const char *const *names, int *out);
bool __wrap_yaml_choice(const struct yaml_node *node, const char *const *names, int *out);
struct yaml_node *__real_yaml_get(const struct yaml_node *map, const char *key);
struct yaml_node *__wrap_yaml_get(const struct yaml_node *map, const char *key);
struct yaml_node *__real_yaml_need(const struct yaml_node *map, const char *key);
struct yaml_node *__wrap_yaml_need(const struct yaml_node *map, const char *key);

bool __wrap_yaml_read_map(const struct yaml_node *node, const struct yaml_row *rows)
{
	const struct yaml_row row = {.map = rows};

	say_row(&row);
	return __real_yaml_read_map(node, rows);
}

bool __wrap_yaml_read_value(const struct yaml_node *node, const struct yaml_row *row)
{
	say_row(row);
	return __real_yaml_read_value(node, row);
}

bool __wrap_yaml_is_map(const struct yaml_node *node, const char *const *keys)
{
	say_all(keys);
	return __real_yaml_is_map(node, keys);
}

bool __wrap_yaml_choice(const struct yaml_node *node, const char *const *names, int *out)
{
	say_all(names);
	return __real_yaml_choice(node, names, out);
}

struct yaml_node *__wrap_yaml_get(const struct yaml_node *map, const char *key)
{
	say(reading, key);
	return __real_yaml_get(map, key);
}

struct yaml_node *__wrap_yaml_need(const struct yaml_node *map, const char *key)
{
	say(reading, key);
	return __real_yaml_need(map, key);
}
/* NOLINTEND */

static void read_files(void)
{
	struct faults faults = {0};

	reading = "pullcall-pattern.5";
	struct pattern *pattern =
		pattern_read(yaml_read(SOURCE_DIR "/patterns/uneven-18x19.yaml", &faults));
	reading = "pullcall-job.5";
	struct job *job = job_read(yaml_read_text(
		"job",
		"job: x\npattern: x\nstringer: x\nmethod: two-piece\n"
		"tension: { mains: 54 lb, crosses: 52 lb }\nbeyond_makers_range: wanted\n"
		"adjust: [ { strings: mains 1, by: 1 lb } ]\n"
		"string: { mains: { kind: gut } }\norder: { start: auto, first: left }\n"
		"weave: { from: head, side: left, start: over }\ndetail: bench\n"
		"checks: { crosses: 1 }\naccept_short: no\nteach: yes\n",
		&faults));
	reading = "pullcall-bench.5";
	struct bench *bench = bench_read(yaml_read_text(
		"bench",
		"pedals: [ { name: x, grab: safe, keys: { F14: step } } ]\nspeak: { unit: kg }\n"
		"machine: { tension: constant, clamps: fixed }\ngestures: { hold: 600 ms }\n"
		"voice: { shop: quiet }\n",
		&faults));
	reading = "pullcall-phrasebook.5";
	struct phrasebook *book = phrasebook_read(yaml_read(SOURCE_DIR "/voice/en.yaml", &faults));
	reading = "request";
	static const char *const requests[] = {"{\"do\": \"load\", \"file\": \"/\"}",
					       "{\"do\": \"abandon\", \"reason\": \"x\"}"};
	struct text reply = {0};
	for (int i = 0; i < 2; i++) {
		struct request request;
		request_read(requests[i], strlen(requests[i]), &request, &reply);
		free(request.text);
	}
	reading = NULL;
	faults_print(&faults, stderr);
	if (faults.count > 0 || reply.length > 0)
		exit(1);
	pattern_free(pattern);
	job_free(job);
	bench_free(bench);
	phrasebook_free(book);
}

/* A note of each kind, with everything that one can have. */
static void print_notes(void)
{
	for (enum note_kind kind = 0; kind < NOTES; kind++) {
		struct text line = {0};
		struct note note = {.kind = kind,
				    .name = "x",
				    .text = "x",
				    .number = 1,
				    .call = 1,
				    .calls = 1,
				    .phase = "x",
				    .state = "x",
				    .response_us = 1};
		note_json(&note, &line);
		say("note", text_string(&line));
		text_free(&line);
	}
}

static void print_defaults(void)
{
	struct bench *bench = bench_new();
	const struct {
		const char *key;
		int64_t us;
	} times[] = {
		{"debounce", bench->times.debounce_us}, {"double_tap", bench->times.double_tap_us},
		{"hold", bench->times.hold_us},         {"chain", bench->times.chain_us},
		{"stuck", bench->times.stuck_us},
	};

	for (size_t i = 0; i < sizeof(times) / sizeof(times[0]); i++)
		if (times[i].us < SECOND_US)
			printf("default %s %lld ms\n", times[i].key,
			       (long long)(times[i].us / MS_US));
		else
			printf("default %s %lld s\n", times[i].key,
			       (long long)(times[i].us / SECOND_US));
	printf("default rate %d\n", bench->rate_wpm);
	printf("default volume %d %%\n", bench->volume_percent);
	printf("default reach %g mm\n", bench->machine->reach_mm);
	printf("default margin %g mm\n", bench->machine->margin_mm);
	bench_free(bench);
}

int main(void)
{
	NAMES("skill", skill_names[i], SKILLS);
	NAMES("level", level_names[i], LEVELS);
	for (const struct control_word *word = control_words; word->name; word++)
		say("verb", word->name);
	NAMES("notice", notice_name(i), NOTICES);
	NAMES("call", call_kind_name(i), CALL_KINDS);
	NAMES("detail", detail_names[i], DETAILS);
	NAMES("state", session_state_name(i), SESSION_STATES);
	NAMES("phase", phase_names[i], PHASES);
	NAMES("with", clamp_kind_names[i], CLAMP_KINDS);
	NAMES("do", action_names[i], DO_LET_DOWN); /* those of a way back are not printed */
	NAMES("subject", subject_names[i], SUBJECTS);
	NAMES("travel", travel_names[i], TRAVEL_THROAT_TO_HEAD + 1);
	NAMES("end", end_names[i], END_THROAT + 1);
	NAMES("side", side_names[i], SIDE_RIGHT + 1);
	NAMES("unit", unit_name(i), UNIT_COUNT);
	NAMES("record", journal_kind_names[i], JOURNAL_KINDS);
	printf("limit %d bytes\nlimit %d clients\n", CONTROL_LINE_MAX, CONTROL_CLIENTS_MAX);
	print_defaults();
	print_notes();
	read_files();
	return 0;
}
