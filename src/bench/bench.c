#include "bench/bench.h"

#include "base/base.h"
#include "job/job.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { TEXT_BYTES_MAX = 120, RATE_MIN_WPM = 80, RATE_MAX_WPM = 450, VOLUME_MAX_PERCENT = 200 };

/* From memory: what no tension head exceeds. */
static const double spare_max_mm = 1500;

struct bench *bench_new(void)
{
	struct bench *bench = memory_new(1, sizeof(*bench));

	bench->times = gesture_default_times;
	bench->language = memory_copy("en");
	bench->rate_wpm = 165;
	bench->volume_percent = 100;
	bench->sound = memory_copy("auto");
	bench->unit_as_written = true;
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
	free(bench->sound);
	free(bench->machine);
	free(bench->side_words[SIDE_LEFT]);
	free(bench->side_words[SIDE_RIGHT]);
	free(bench);
}

struct phrase_options bench_phrase_options(const struct bench *bench)
{
	return (struct phrase_options){
		.side_words = {bench->side_words[SIDE_LEFT], bench->side_words[SIDE_RIGHT]},
		.clear = bench->loud,
		.unit_chosen = !bench->unit_as_written,
		.unit = bench->unit,
	};
}

static char *copy_text(const struct yaml_node *node)
{
	const char *text;

	return yaml_text(node, TEXT_BYTES_MAX, &text) ? memory_copy(text) : NULL;
}

static void replace_text(const struct yaml_node *node, char **text)
{
	char *copy = copy_text(node);

	if (!copy)
		return;
	free(*text);
	*text = copy;
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

static void read_keys(const struct yaml_node *map, struct bench *bench, struct pedal_entry *entry)
{
	struct pedal_key *keys = bench->keys[bench->pedal_count];

	if (!map)
		return;
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

static void read_pedal(const struct yaml_node *node, struct bench *bench)
{
	static const char *const fields[] = {"device", "name", "serial", "port",
					     "keys",   "grab", NULL};
	static const char *const grabs[] = {
		[PEDAL_GRAB_SAFE] = "safe", [PEDAL_GRAB_YES] = "yes", [PEDAL_GRAB_NO] = "no", NULL};
	struct pedal_entry entry = {.vendor = PEDAL_ANY, .product = PEDAL_ANY};
	const char *ids;
	int grab = PEDAL_GRAB_SAFE;

	if (!yaml_is_map(node, fields))
		return;
	if (bench->pedal_count == BENCH_PEDALS_MAX) {
		yaml_fault(node, "pedal-count", "more than %d pedals", BENCH_PEDALS_MAX);
		return;
	}
	const struct yaml_node *device = yaml_get(node, "device");
	if (yaml_text(device, TEXT_BYTES_MAX, &ids) &&
	    !parse_ids(ids, &entry.vendor, &entry.product))
		yaml_fault(
			device, "pedal-device",
			"expected vendor and product such as \"05f3:00ff\", not \"%s\": quote it",
			ids);
	if (!device && !yaml_get(node, "name"))
		yaml_fault(node, "pedal-device",
			   "expected a device or a name to know the pedal by");
	char **texts = bench->pedal_texts[bench->pedal_count];
	entry.name = texts[0] = copy_text(yaml_get(node, "name"));
	entry.serial = texts[1] = copy_text(yaml_get(node, "serial"));
	entry.port = texts[2] = copy_text(yaml_get(node, "port"));
	yaml_choice(yaml_get(node, "grab"), grabs, &grab);
	entry.grab = (enum pedal_grab)grab;
	read_keys(yaml_get(node, "keys"), bench, &entry);
	bench->pedals[bench->pedal_count++] = entry;
}

static void read_time(const struct yaml_node *map, const char *key, int64_t *out_us)
{
	struct quantity quantity;

	if (yaml_quantity(yaml_get(map, key), DIMENSION_TIME, &quantity))
		*out_us = (int64_t)(quantity_base(quantity) * (double)SECOND_US);
}

static void read_times(const struct yaml_node *root, struct bench *bench)
{
	static const char *const keys[] = {"debounce", "double_tap", "hold",
					   "chain",    "stuck",      NULL};
	const struct yaml_node *map = yaml_get(root, "gestures");

	if (yaml_is_map(map, keys)) {
		read_time(map, "debounce", &bench->times.debounce_us);
		read_time(map, "double_tap", &bench->times.double_tap_us);
		read_time(map, "hold", &bench->times.hold_us);
		read_time(map, "chain", &bench->times.chain_us);
		read_time(map, "stuck", &bench->times.stuck_us);
		const char *fault = gesture_times_fault(&bench->times);
		if (fault)
			yaml_fault(map, "gesture-times", "%s", fault);
	}
	for (int i = 0; i < bench->pedal_count; i++)
		bench->pedals[i].times = bench->times;
}

static void check_language(const struct yaml_node *node)
{
	char *looked = NULL;
	char *path = node ? path_find(PATH_VOICE, node->text, NULL, &looked) : NULL;

	if (looked)
		yaml_fault(node, "voice-language",
			   "there is no phrasebook \"%s\": looked for %s.yaml in %s", node->text,
			   node->text, looked);
	free(looked);
	free(path);
}

static void read_voice(const struct yaml_node *root, struct bench *bench)
{
	static const char *const keys[] = {"language", "name", "rate", "volume",
					   "tone",     "shop", NULL};
	static const char *const shops[] = {"quiet", "loud", NULL};
	int shop = 0;
	const struct yaml_node *map = yaml_get(root, "voice");
	const struct yaml_node *volume = yaml_get(map, "volume");
	struct quantity quantity;

	if (!yaml_is_map(map, keys))
		return;
	replace_text(yaml_get(map, "language"), &bench->language);
	if (strchr(bench->language, '/'))
		yaml_fault(yaml_get(map, "language"), "voice-language",
			   "expected a language such as \"en\", not a path");
	else
		check_language(yaml_get(map, "language"));
	replace_text(yaml_get(map, "name"), &bench->voice);
	yaml_int(yaml_get(map, "rate"), RATE_MIN_WPM, RATE_MAX_WPM, &bench->rate_wpm);
	yaml_bool(yaml_get(map, "tone"), &bench->tone);
	yaml_choice(yaml_get(map, "shop"), shops, &shop);
	bench->loud = shop == 1;
	if (!yaml_quantity(volume, DIMENSION_RATIO, &quantity))
		return;
	if (quantity.value < 1 || quantity.value > VOLUME_MAX_PERCENT)
		yaml_fault(volume, "value-range", "expected 1 to %d %%, not \"%s\"",
			   VOLUME_MAX_PERCENT, volume->text);
	else
		bench->volume_percent = (int)quantity.value;
}

bool bench_is_sound(const char *text)
{
	return strcmp(text, "auto") == 0 || strcmp(text, "device") == 0 ||
	       strcmp(text, "none") == 0 || (strncmp(text, "device:", 7) == 0 && text[7]) ||
	       (strncmp(text, "wav:", 4) == 0 && text[4]);
}

static void read_sound(const struct yaml_node *root, struct bench *bench)
{
	const struct yaml_node *node = yaml_get(root, "sound");

	replace_text(node, &bench->sound);
	if (node && node->kind == YAML_SCALAR && !bench_is_sound(bench->sound))
		yaml_fault(node, "bench-sound",
			   "expected auto, device, device:NAME, wav:FILE or none, not \"%s\"",
			   bench->sound);
}

static void read_speak(const struct yaml_node *root, struct bench *bench)
{
	static const char *const keys[] = {"unit", "left", "right", NULL};
	static const char *const units[] = {"as-written", "lb", "kg", "N", NULL};
	static const enum unit values[] = {UNIT_LB, UNIT_LB, UNIT_KG, UNIT_N};
	const struct yaml_node *map = yaml_get(root, "speak");
	int unit = 0;

	if (!yaml_is_map(map, keys))
		return;
	yaml_choice(yaml_get(map, "unit"), units, &unit);
	bench->unit_as_written = unit == 0;
	bench->unit = values[unit];
	replace_text(yaml_get(map, "left"), &bench->side_words[SIDE_LEFT]);
	replace_text(yaml_get(map, "right"), &bench->side_words[SIDE_RIGHT]);
	const char *left = bench->side_words[SIDE_LEFT];
	const char *right = bench->side_words[SIDE_RIGHT];
	if (left && right && strcmp(left, right) == 0)
		yaml_fault(yaml_get(map, "right"), "speak-sides",
			   "both sides have the same words: nobody could tell them apart");
}

static void read_spare(const struct yaml_node *node, double *out_mm)
{
	struct quantity quantity;

	if (!yaml_quantity(node, DIMENSION_LENGTH, &quantity))
		return;
	*out_mm = quantity_base(quantity);
	if (*out_mm < 0 || *out_mm > spare_max_mm)
		yaml_fault(node, "value-range", "%s is not plausible: expected 0 to %g mm",
			   node->text, spare_max_mm);
}

static void read_machine(const struct yaml_node *root, struct machine *machine)
{
	static const char *const keys[] = {"tension", "clamps", "starting_clamp", "mounts", NULL};
	static const char *const heads[] = {"lock-out", "constant", "drop-weight", NULL};
	static const char *const clamps[] = {"fixed", "glide-bar", "flying", NULL};
	const struct yaml_node *map = yaml_get(root, "machine");
	int head = HEAD_LOCK_OUT, kind = CLAMPS_FIXED;

	read_spare(yaml_get(root, "reach"), &machine->reach_mm);
	read_spare(yaml_get(root, "margin"), &machine->margin_mm);
	if (!yaml_is_map(map, keys))
		return;
	yaml_choice(yaml_get(map, "tension"), heads, &head);
	machine->head = (enum tension_head)head;
	yaml_choice(yaml_get(map, "clamps"), clamps, &kind);
	machine->clamps = (enum clamps)kind;
	yaml_bool(yaml_get(map, "starting_clamp"), &machine->starting_clamp);
	const struct yaml_node *mounts = yaml_get(map, "mounts");
	if (yaml_int(mounts, MOUNTS_FEW, MOUNTS_MANY, &machine->mounts) &&
	    machine->mounts != MOUNTS_FEW && machine->mounts != MOUNTS_MANY)
		yaml_fault(mounts, "value-choice", "%s mounts: expected %d or %d", mounts->text,
			   MOUNTS_FEW, MOUNTS_MANY);
}

static struct bench *read_document(struct yaml_document *document, struct faults *faults)
{
	static const char *const keys[] = {"pedals", "gestures", "voice",   "sound", "speak",
					   "reach",  "margin",   "machine", NULL};

	if (!document)
		return NULL;
	size_t errors = faults->errors;
	struct bench *bench = bench_new();
	const struct yaml_node *root = document->root;
	const struct yaml_node *pedals = yaml_get(root, "pedals");
	if (yaml_get(root, "job"))
		yaml_fault(root, "file-kind", "this is a job plan, not a bench file");
	else
		yaml_is_map(root, keys);
	if (yaml_is_list(pedals))
		for (const struct yaml_node *node = pedals->first; node; node = node->next)
			read_pedal(node, bench);
	read_times(root, bench);
	read_voice(root, bench);
	read_sound(root, bench);
	read_speak(root, bench);
	read_machine(root, bench->machine);
	yaml_free(document);
	if (faults->errors == errors)
		return bench;
	bench_free(bench);
	return NULL;
}

struct bench *bench_read(const char *path, struct faults *faults)
{
	return read_document(yaml_read(path, faults), faults);
}

struct bench *bench_read_text(const char *file, const char *text, struct faults *faults)
{
	return read_document(yaml_read_bytes(file, text, strlen(text), faults), faults);
}

struct bench *bench_find(const char *path, struct faults *faults)
{
	if (path)
		return bench_read(path, faults);
	char *usual = path_config("bench.yaml");
	bool there = usual && access(usual, F_OK) == 0;
	struct bench *bench = there ? bench_read(usual, faults) : bench_new();
	free(usual);
	return bench;
}
