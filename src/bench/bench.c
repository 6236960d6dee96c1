/* Reads the bench file, with a default for every key. */
#include "bench/bench.h"

#include "job/job.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { TEXT_BYTES_MAX = 120, RATE_MIN_WPM = 80, RATE_MAX_WPM = 450, VOLUME_MAX_PERCENT = 200 };
enum { SPARE_MAX_MM = 1500 }; /* from memory: what no tension head exceeds */

struct bench *bench_new(void)
{
	struct bench *bench = memory_new(1, sizeof(*bench));

	bench->times = gesture_default_times;
	bench->language = memory_copy("en");
	bench->rate_wpm = 165;
	bench->volume_percent = 100;
	bench->sound = memory_copy("auto");
	bench->machine = memory_new(1, sizeof(*bench->machine));
	*bench->machine = MACHINE_DEFAULT;
	return bench;
}

void bench_free(struct bench *bench)
{
	if (!bench)
		return;
	for (int i = 0; i < BENCH_PEDALS_MAX; i++)
		for (int text = 0; text < BENCH_PEDAL_TEXTS; text++)
			free(bench->pedal_texts[i][text]);
	free(bench->language);
	free(bench->voice);
	free(bench->recorded);
	free(bench->sound);
	free(bench->machine);
	free(bench->side_words[SIDE_LEFT]);
	free(bench->side_words[SIDE_RIGHT]);
	free(bench);
}

/* "05f3:00ff" */
static bool parse_ids(const char *text, int *vendor, int *product)
{
	static const char digits[] = "0123456789abcdefABCDEF";

	if (strspn(text, digits) != 4 || text[4] != ':' || strspn(text + 5, digits) != 4 ||
	    text[9] != '\0')
		return false;
	*vendor = (int)strtol(text, NULL, 16);
	*product = (int)strtol(text + 5, NULL, 16);
	return true;
}

/* Of the pedal that is being read. */
static void read_pedal_keys(const struct yaml_node *map, void *out)
{
	struct bench *bench = out;
	struct pedal_entry *entry = &bench->pedals[bench->pedal_count];
	struct pedal_key *keys = bench->keys[bench->pedal_count];

	if (map->kind != YAML_MAP) {
		yaml_fault(map, "value-kind", "expected keys and what they do: { F14: next }");
		return;
	}
	for (const struct yaml_node *node = map->first; node; node = node->next) {
		int code = pedal_key_code(node->key);
		int role = GESTURE_ROLE_STEP;
		if (code < 0)
			yaml_fault_key(node, "pedal-key",
				       "there is no key \"%s\": `pullcall pedals learn` names them",
				       node->key);
		if (!yaml_choice(node, gesture_role_names, &role) || code < 0)
			continue;
		if (entry->key_count == BENCH_KEYS_MAX) {
			yaml_fault_key(node, "pedal-keys", "more than %d keys", BENCH_KEYS_MAX);
			return;
		}
		keys[entry->key_count++] =
			(struct pedal_key){(unsigned)code, (enum gesture_role)role};
	}
	entry->keys = keys;
}

static void read_pedal(const struct yaml_node *node, void *out)
{
	struct bench *bench = out;
	static const char *const grabs[] = {
		[PEDAL_GRAB_SAFE] = "safe", [PEDAL_GRAB_YES] = "yes", [PEDAL_GRAB_NO] = "no", NULL};
	char *ids = NULL;

	if (bench->pedal_count == BENCH_PEDALS_MAX) {
		yaml_fault(node, "pedal-count", "more than %d pedals", BENCH_PEDALS_MAX);
		return;
	}
	struct pedal_entry *entry = &bench->pedals[bench->pedal_count];
	char **texts = bench->pedal_texts[bench->pedal_count];
	const struct yaml_row rows[] = {
		{"device", .text = &ids, .most = TEXT_BYTES_MAX},
		{"name", .text = &texts[0], .most = TEXT_BYTES_MAX},
		{"serial", .text = &texts[1], .most = TEXT_BYTES_MAX},
		{"port", .text = &texts[2], .most = TEXT_BYTES_MAX},
		{"keys", .read = read_pedal_keys, .out = bench},
		{"grab", .choice = &entry->grab, .names = grabs},
		{0},
	};
	*entry = (struct pedal_entry){
		.vendor = PEDAL_ANY, .product = PEDAL_ANY, .grab = PEDAL_GRAB_SAFE};
	if (yaml_read_map(node, rows) && !yaml_get(node, "device") && !texts[0])
		yaml_fault(node, "pedal-device",
			   "expected a device or a name to know the pedal by");
	if (ids && !parse_ids(ids, &entry->vendor, &entry->product))
		yaml_fault(
			yaml_get(node, "device"), "pedal-device",
			"expected vendor and product such as \"05f3:00ff\", not \"%s\": quote it",
			ids);
	free(ids);
	entry->name = texts[0];
	entry->serial = texts[1];
	entry->port = texts[2];
	bench->pedal_count++;
}

static void read_times(const struct yaml_node *node, void *out)
{
	struct gesture_times *times = out;
	const struct yaml_row rows[] = {
		{"debounce", .us = &times->debounce_us},
		{"double_tap", .us = &times->double_tap_us},
		{"hold", .us = &times->hold_us},
		{"chain", .us = &times->chain_us},
		{"stuck", .us = &times->stuck_us},
		{0},
	};

	if (!yaml_read_map(node, rows))
		return;
	const char *fault = gesture_times_fault(times);
	if (fault)
		yaml_fault(node, "gesture-times", "%s", fault);
}

static void report_language(const struct yaml_node *node, const char *looked)
{
	char **names = path_names(PATH_VOICE, NULL);
	char *list = text_choice((const char *const *)names);

	yaml_fault(node, "voice-language",
		   "there is no phrasebook \"%s\": expected %s; looked in %s", node->text, list,
		   looked);
	for (char **name = names; *name; name++)
		free(*name);
	free(names);
	free(list);
}

static void read_language(const struct yaml_node *node, void *language)
{
	const struct yaml_row row = {.text = language, .most = TEXT_BYTES_MAX};
	char *looked = NULL;

	if (!yaml_read_value(node, &row))
		return;
	bool is_path = strchr(node->text, '/');
	char *path = is_path ? NULL : path_find(PATH_VOICE, node->text, NULL, &looked);
	if (is_path)
		yaml_fault(node, "voice-language",
			   "expected a language such as \"en\", not a path");
	else if (looked)
		report_language(node, looked);
	free(looked);
	free(path);
}

/* The daemon is started from anywhere. */
static void read_recorded(const struct yaml_node *node, void *folder)
{
	const struct yaml_row row = {.text = folder, .most = TEXT_BYTES_MAX};

	if (yaml_read_value(node, &row) && *node->text != '/')
		yaml_fault(node, "voice-recorded",
			   "expected the whole path of a folder, from /, not \"%s\"", node->text);
}

static void read_voice(const struct yaml_node *node, void *out)
{
	static const char *const shops[] = {"quiet", "loud", NULL};
	struct bench *bench = out;
	double volume = bench->volume_percent / 100.0;
	unsigned shop = 0;
	const struct yaml_row rows[] = {
		{"language", .read = read_language, .out = &bench->language},
		{"name", .text = &bench->voice, .most = TEXT_BYTES_MAX},
		{"recorded", .read = read_recorded, .out = &bench->recorded},
		{"rate", .number = &bench->rate_wpm, .least = RATE_MIN_WPM, .most = RATE_MAX_WPM},
		{"volume", .base = &volume, .dimension = DIMENSION_RATIO, .least = 0.01,
		 .most = VOLUME_MAX_PERCENT / 100.0},
		{"tone", .yes = &bench->tone},
		{"shop", .choice = &shop, .names = shops},
		{0},
	};

	yaml_read_map(node, rows);
	bench->phrases.clear = shop == 1;
	bench->volume_percent = (int)lround(volume * 100);
}

bool bench_is_sound(const char *text)
{
	return strcmp(text, "auto") == 0 || strcmp(text, "device") == 0 ||
	       strcmp(text, "none") == 0 || (strncmp(text, "device:", 7) == 0 && text[7]) ||
	       (strncmp(text, "wav:", 4) == 0 && text[4]);
}

static void read_sound(const struct yaml_node *node, void *sound)
{
	const struct yaml_row row = {.text = sound, .most = TEXT_BYTES_MAX};

	if (yaml_read_value(node, &row) && !bench_is_sound(node->text))
		yaml_fault(node, "bench-sound",
			   "expected auto, device, device:NAME, wav:FILE or none, not \"%s\"",
			   node->text);
}

static void read_speak(const struct yaml_node *node, void *out)
{
	static const char *const units[] = {"as-written", "lb", "kg", "N", NULL};
	static const enum unit values[] = {UNIT_LB, UNIT_LB, UNIT_KG, UNIT_N};
	struct bench *bench = out;
	char **words = bench->side_words;
	unsigned unit = 0;
	const struct yaml_row rows[] = {
		{"unit", .choice = &unit, .names = units},
		{"left", .text = &words[SIDE_LEFT], .most = TEXT_BYTES_MAX},
		{"right", .text = &words[SIDE_RIGHT], .most = TEXT_BYTES_MAX},
		{0},
	};

	yaml_read_map(node, rows);
	bench->phrases.unit_chosen = unit != 0;
	bench->phrases.unit = values[unit];
	bench->phrases.side_words[SIDE_LEFT] = words[SIDE_LEFT];
	bench->phrases.side_words[SIDE_RIGHT] = words[SIDE_RIGHT];
	if (words[SIDE_LEFT] && words[SIDE_RIGHT] &&
	    strcmp(words[SIDE_LEFT], words[SIDE_RIGHT]) == 0)
		yaml_fault(yaml_get(node, "right"), "speak-sides",
			   "both sides have the same words: nobody could tell them apart");
}

static void read_machine(const struct yaml_node *node, void *out)
{
	struct machine *machine = out;
	const struct yaml_row rows[] = {
		{"tension", .choice = &machine->head, .names = tension_head_names},
		{"clamps", .choice = &machine->clamps, .names = clamps_names},
		{"starting_clamp", .yes = &machine->starting_clamp},
		{"mounts", .number = &machine->mounts, .least = MOUNTS_FEW, .most = MOUNTS_MANY},
		{0},
	};

	yaml_read_map(node, rows);
	if (machine->mounts != MOUNTS_FEW && machine->mounts != MOUNTS_MANY)
		yaml_fault(yaml_get(node, "mounts"), "value-choice", "%d mounts: expected %d or %d",
			   machine->mounts, MOUNTS_FEW, MOUNTS_MANY);
}

struct bench *bench_read(struct yaml_document *document)
{
	if (!document)
		return NULL;
	struct bench *bench = bench_new();
	struct machine *machine = bench->machine;
	const struct yaml_row rows[] = {
		{"pedals", .each = read_pedal, .out = bench},
		{"gestures", .read = read_times, .out = &bench->times},
		{"voice", .read = read_voice, .out = bench},
		{"sound", .read = read_sound, .out = &bench->sound},
		{"speak", .read = read_speak, .out = bench},
		{"reach", .base = &machine->reach_mm, .most = SPARE_MAX_MM},
		{"margin", .base = &machine->margin_mm, .most = SPARE_MAX_MM},
		{"machine", .read = read_machine, .out = machine},
		{0},
	};

	if (yaml_get(document->root, "job"))
		yaml_fault(document->root, "file-kind", "this is a job plan, not a bench file");
	else
		yaml_read_map(document->root, rows);
	for (int i = 0; i < bench->pedal_count; i++)
		bench->pedals[i].times = bench->times;
	if (!yaml_is_good(document)) {
		bench_free(bench);
		bench = NULL;
	}
	yaml_free(document);
	return bench;
}

struct bench *bench_find(const char *path, struct faults *faults)
{
	char *usual = path_config("bench.yaml");
	bool none = !path && (!usual || access(usual, F_OK) != 0);
	struct bench *bench =
		none ? bench_new() : bench_read(yaml_read(path ? path : usual, faults));

	free(usual);
	return bench;
}
