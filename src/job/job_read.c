/* The job plan: read strictly, defaults filled in. */
#include "job/job.h"

#include <stdlib.h>
#include <string.h>

static const char *const method_names[] = {"two-piece", "one-piece", NULL};
static const char *const teaching_names[] = {"no", "yes", "trainer", NULL};
static const char *const detail_names[] = {"learner", "bench", "quick", NULL};
static const char *const side_names[] = {"left", "right", NULL};

static const char *const material_names[] = {NULL,     "gut", "multifilament", "nylon", "polyester",
					     "aramid", NULL};

enum { NAME_BYTES_MAX = 80 };

/* Plausible, from memory. */
static const double on_hand_min_mm = 500, on_hand_max_mm = 300000;
static const double prestretch_max = 0.3, tie_off_extra_max = 0.2;

const char *clamps_name(enum clamps clamps)
{
	static const char *const names[] = {"fixed", "glide-bar", "flying"};

	return names[clamps];
}

const char *tension_head_name(enum tension_head head)
{
	static const char *const names[] = {"lock-out", "constant", "drop-weight"};

	return names[head];
}

const char *method_name(enum method method)
{
	return method_names[method];
}

const char *detail_name(enum detail detail)
{
	return detail_names[detail];
}

const char *teaching_name(enum teaching teaching)
{
	return teaching_names[teaching];
}

static char *copy_text(const struct yaml_node *node)
{
	const char *text;

	return yaml_text(node, NAME_BYTES_MAX, &text) ? memory_copy(text) : NULL;
}

/* Names become parts of file names and of spoken sentences: a pattern's is checked where it is
 * read. */
static void read_names(const struct yaml_node *root, struct job *job)
{
	const struct yaml_node *pattern = yaml_need(root, "pattern");
	int choice = 0;

	job->name = copy_text(yaml_need(root, "job"));
	job->pattern = copy_text(pattern);
	job->stringer = copy_text(yaml_need(root, "stringer"));
	if (job->pattern && strchr(job->pattern, '/'))
		yaml_fault(pattern, "pattern-name",
			   "expected the name of a pattern, not a path: \"%s\"", job->pattern);
	if (pattern)
		job->pattern_position = pattern->position;
	const struct yaml_node *method = yaml_need(root, "method");
	yaml_choice(method, method_names, &choice);
	job->method = (enum method)choice;
	if (method)
		job->method_position = method->position;
	choice = DETAIL_BENCH;
	yaml_choice(yaml_get(root, "detail"), detail_names, &choice);
	job->detail = (enum detail)choice;
	choice = TEACHING_NONE;
	yaml_choice(yaml_get(root, "teach"), teaching_names, &choice);
	job->teaching = (enum teaching)choice;
	if (job->teaching)
		job->detail = DETAIL_BENCH; /* what is said of each call is up to the teaching */
}

static void read_tension(const struct yaml_node *node, struct job *job, enum string_kind strings)
{
	if (tension_read(node, &job->tension[strings]))
		job->tension_position[strings] = node->position;
}

static void read_tensions(const struct yaml_node *root, struct job *job)
{
	static const char *const keys[] = {"mains", "crosses", NULL};
	static const char *const wanted[] = {"wanted", NULL};
	const struct yaml_node *map = yaml_need(root, "tension");
	int choice;

	if (map && map->kind == YAML_SCALAR) {
		yaml_fault(
			map, "value-kind",
			"write both with their unit: \"tension: { mains: 54 lb, crosses: 52 lb }\"");
	} else if (yaml_is_map(map, keys)) {
		read_tension(yaml_need(map, "mains"), job, STRING_MAIN);
		read_tension(yaml_need(map, "crosses"), job, STRING_CROSS);
	}
	job->beyond_range = yaml_choice(yaml_get(root, "beyond_makers_range"), wanted, &choice);
}

/* A number of one or two digits at *at, which moves behind it; 0 if there is none, or one with a
 * leading zero. */
static int take_number(const char **at)
{
	size_t digits = strspn(*at, "0123456789");

	if (digits == 0 || digits > 2 || **at == '0')
		return 0;
	int number = (int)strtol(*at, NULL, 10);
	*at += digits;
	return number;
}

/* "mains 7", "mains 7-8", "crosses 1-2" */
static bool parse_strings(const char *text, struct adjustment *out)
{
	static const char *const words[] = {"mains ", "crosses "};

	for (int i = 0; i < 2; i++) {
		size_t length = strlen(words[i]);
		if (strncmp(text, words[i], length) != 0)
			continue;
		const char *at = text + length;
		out->strings = i == 0 ? STRING_MAIN : STRING_CROSS;
		out->first = take_number(&at);
		out->last = out->first;
		if (*at == '-') {
			at++;
			out->last = take_number(&at);
		}
		return *at == '\0' && out->first >= 1 && out->last >= out->first;
	}
	return false;
}

static void read_adjustment(const struct yaml_node *node, struct job *job)
{
	static const char *const keys[] = {"strings", "by", NULL};
	struct adjustment adjustment = {.position = node->position};
	const char *text;

	if (!yaml_is_map(node, keys))
		return;
	const struct yaml_node *strings = yaml_need(node, "strings");
	bool good = yaml_text(strings, NAME_BYTES_MAX, &text);
	if (good && !parse_strings(text, &adjustment)) {
		yaml_fault(strings, "adjust-strings",
			   "expected strings such as \"mains 7-8\" or \"crosses 1\", not \"%s\"",
			   text);
		good = false;
	}
	if (!yaml_quantity(yaml_need(node, "by"), DIMENSION_TENSION, &adjustment.by) || !good)
		return;
	adjustment.position = strings->position;
	if (job->adjustment_count == ADJUSTMENTS_MAX)
		yaml_fault(node, "adjust-count", "more than %d adjustments", ADJUSTMENTS_MAX);
	else
		job->adjustments[job->adjustment_count++] = adjustment;
}

static void read_adjustments(const struct yaml_node *root, struct job *job)
{
	const struct yaml_node *list = yaml_get(root, "adjust");

	if (!yaml_is_list(list))
		return;
	for (const struct yaml_node *node = list->first; node; node = node->next)
		read_adjustment(node, job);
}

static bool read_share(const struct yaml_node *node, double max, double *out)
{
	struct quantity quantity;

	if (!yaml_quantity(node, DIMENSION_RATIO, &quantity))
		return false;
	*out = quantity_base(quantity);
	if (*out >= 0 && *out <= max)
		return true;
	yaml_fault(node, "value-range", "%s is not plausible: expected 0 to %g %%", node->text,
		   max * 100);
	return false;
}

static void read_length(const struct yaml_node *map, struct string_length *out)
{
	static const char *const keys[] = {"name", "kind", "on_hand", "prestretch", NULL};
	struct quantity quantity;
	int material;

	if (map && map->kind == YAML_SCALAR) {
		yaml_fault(map, "value-kind", "write \"%s: { name: %s }\"", map->key, map->text);
		return;
	}
	if (!yaml_is_map(map, keys))
		return;
	out->name = copy_text(yaml_get(map, "name"));
	if (yaml_choice(yaml_get(map, "kind"), material_names + 1, &material))
		out->material = (enum material)(material + 1);
	const struct yaml_node *on_hand = yaml_get(map, "on_hand");
	if (yaml_quantity(on_hand, DIMENSION_LENGTH, &quantity)) {
		out->on_hand_mm = quantity_base(quantity);
		out->on_hand_position = on_hand->position;
		if (out->on_hand_mm < on_hand_min_mm || out->on_hand_mm > on_hand_max_mm)
			yaml_fault(on_hand, "value-range",
				   "%s is not plausible: expected %g to %g m", on_hand->text,
				   on_hand_min_mm / 1000, on_hand_max_mm / 1000);
	}
	read_share(yaml_get(map, "prestretch"), prestretch_max, &out->prestretch);
}

/* "string: poly" */
static void report_string_name(const struct yaml_node *node, bool one)
{
	if (one)
		yaml_fault(node, "value-kind", "write \"string: { whole: { name: %s } }\"",
			   node->text);
	else
		yaml_fault(node, "value-kind",
			   "write \"string: { mains: { name: %s }, crosses: { name: %s } }\"",
			   node->text, node->text);
}

static void read_lengths(const struct yaml_node *root, struct job *job)
{
	static const char *const two_keys[] = {"mains", "crosses", NULL};
	static const char *const one_keys[] = {"whole", NULL};
	bool one = job->method == METHOD_ONE_PIECE;
	const struct yaml_node *map = yaml_get(root, "string");

	if (map && map->kind == YAML_SCALAR) {
		report_string_name(map, one);
	} else if (yaml_is_map(map, one ? one_keys : two_keys)) {
		read_length(yaml_get(map, "mains"), &job->length[STRING_MAIN]);
		read_length(yaml_get(map, "crosses"), &job->length[STRING_CROSS]);
		read_length(yaml_get(map, "whole"), &job->whole);
	}
	yaml_bool(yaml_get(root, "accept_short"), &job->accept_short);
}

static void read_route(const struct yaml_node *map, struct job *job)
{
	const struct yaml_node *outside = yaml_get(map, "outside");
	const struct yaml_node *route = yaml_get(map, "route");

	yaml_int(outside, 1, OUTSIDE_MAX, &job->outside);
	yaml_int(route, 1, ROUTE_NUMBER_MAX, &job->route);
	if (route)
		job->route_position = route->position;
	if (job->method == METHOD_ONE_PIECE)
		return;
	for (int i = 0; i < 2; i++) {
		const struct yaml_node *node = i == 0 ? outside : route;
		if (node)
			yaml_fault_key(node, "order-one-piece", "\"%s\" is for one-piece work",
				       node->key);
	}
}

static void read_order(const struct yaml_node *root, struct job *job)
{
	static const char *const keys[] = {"start", "first", "lead", "outside", "route", NULL};
	static const char *const starts[] = {"head", "throat", "auto", NULL};
	const struct yaml_node *map = yaml_get(root, "order");
	int start = 2, first = SIDE_LEFT;

	job->outside = OUTSIDE_DEFAULT;
	job->route = 1;
	if (!yaml_is_map(map, keys))
		return;
	const struct yaml_node *node = yaml_get(map, "start");
	yaml_choice(node, starts, &start);
	if (start != 2) {
		job->start_forced = true;
		job->mains_start = (enum frame_end)start;
		job->start_position = node->position;
	}
	yaml_choice(yaml_get(map, "first"), side_names, &first);
	job->first_side = (enum side)first;
	node = yaml_get(map, "lead");
	if (yaml_int(node, 1, 3, &job->lead))
		job->lead_position = node->position;
	read_route(map, job);
}

static void read_weave(const struct yaml_node *root, struct job *job)
{
	static const char *const keys[] = {"from", "side", "start", "behind", "first_pull", NULL};
	static const char *const ends[] = {"head", "throat", NULL};
	static const char *const starts[] = {"over", "under", NULL};
	const struct yaml_node *map = yaml_get(root, "weave");
	int from = END_HEAD, side = SIDE_LEFT, start = 0;

	job->behind = 1;
	if (yaml_is_map(map, keys)) {
		job->weave_from_given = yaml_choice(yaml_get(map, "from"), ends, &from);
		yaml_choice(yaml_get(map, "side"), side_names, &side);
		yaml_choice(yaml_get(map, "start"), starts, &start);
		yaml_int(yaml_get(map, "behind"), 0, 1, &job->behind);
		const struct yaml_node *first_pull = yaml_get(map, "first_pull");
		if (yaml_int(first_pull, 1, 2, &job->first_pull))
			job->first_pull_position = first_pull->position;
	}
	job->weave_from = (enum frame_end)from;
	job->weave_side = (enum side)side;
	job->weave_over = start == 0;
}

enum { LEARNER_CHECKS_EVERY = 5 };

static void read_checks(const struct yaml_node *root, struct job *job)
{
	static const char *const keys[] = {"crosses", NULL};
	const struct yaml_node *map = yaml_get(root, "checks");

	job->check_every = job->detail == DETAIL_LEARNER ? LEARNER_CHECKS_EVERY : 0;
	if (!yaml_is_map(map, keys))
		return;
	const struct yaml_node *crosses = yaml_get(map, "crosses");
	if (yaml_int(crosses, 0, CROSSES_MAX, &job->check_every) && job->check_every == 0 &&
	    job->detail == DETAIL_LEARNER)
		yaml_fault(crosses, "checks-learner",
			   "a learner looks for misweaves on the way: expected 1 to %d",
			   CROSSES_MAX);
}

static void read_extra(const struct yaml_node *root, struct job *job)
{
	const struct yaml_node *node = yaml_get(root, "tie_off_extra");

	if (read_share(node, tie_off_extra_max, &job->tie_off_extra))
		job->extra_position = node->position;
}

void job_free(struct job *job)
{
	if (!job)
		return;
	free(job->file);
	free(job->text);
	free(job->name);
	free(job->pattern);
	free(job->stringer);
	free(job->length[STRING_MAIN].name);
	free(job->length[STRING_CROSS].name);
	free(job->whole.name);
	free(job);
}

static struct job *read_job(struct yaml_document *document)
{
	static const char *const keys[] = {"job",    "pattern",       "stringer",
					   "method", "tension",       "beyond_makers_range",
					   "adjust", "string",        "accept_short",
					   "order",  "weave",         "detail",
					   "checks", "tie_off_extra", "teach",
					   NULL};
	const struct yaml_node *root = document->root;
	size_t errors = document->faults->errors;
	struct job *job = memory_new(1, sizeof(*job));

	job->file = memory_copy(document->file);
	job->text = memory_copy(document->bytes);
	job->machine = MACHINE_DEFAULT;
	yaml_is_map(root, keys);
	read_names(root, job);
	read_tensions(root, job);
	read_adjustments(root, job);
	read_lengths(root, job);
	read_order(root, job);
	read_weave(root, job);
	read_checks(root, job);
	read_extra(root, job);
	if (document->faults->errors == errors)
		return job;
	job_free(job);
	return NULL;
}

static bool is_pattern(const struct yaml_node *root)
{
	const struct yaml_node *name = yaml_get(root, "pattern");

	if (yaml_get(root, "job") || !yaml_get(root, "holes"))
		return false;
	yaml_fault(root, "file-kind", "this is a pattern; a job plan names it: \"pattern: %s\"",
		   name && name->text ? name->text : "NAME");
	return true;
}

static struct job *read_document(struct yaml_document *document)
{
	bool plan = document && !is_pattern(document->root);
	struct job *job = plan ? read_job(document) : NULL;

	yaml_free(document);
	return job;
}

struct job *job_read(const char *path, struct faults *faults)
{
	return read_document(yaml_read(path, faults));
}

struct job *job_read_text(const char *file, const char *text, struct faults *faults)
{
	return read_document(yaml_read_bytes(file, text, strlen(text), faults));
}
