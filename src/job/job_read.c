/* The job plan: read strictly, defaults filled in. */
#include "job/job.h"

#include <regex.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

const char *const method_names[] = {"two-piece", "one-piece", NULL};
const char *const teaching_names[] = {"no", "yes", "trainer", "test", NULL};
const char *const detail_names[] = {"learner", "bench", "quick", NULL};
const char *const clamps_names[] = {"fixed", "glide-bar", "flying", NULL};
const char *const tension_head_names[] = {"lock-out", "constant", "drop-weight", NULL};
const char *const material_names[] = {"gut", "multifilament", "nylon", "polyester", "aramid", NULL};

enum { NAME_BYTES_MAX = 80, NOTES_BYTES_MAX = 300, LEARNER_CHECKS_EVERY = 5 };

/* Plausible, from memory. */
static const double on_hand_min_mm = 500, on_hand_max_mm = 300000;
static const double prestretch_max = 0.3, tie_off_extra_max = 0.2;

static void read_method(const struct yaml_node *node, void *out)
{
	struct job *job = out;
	const struct yaml_row row = {.choice = &job->method, .names = method_names};

	if (node->kind == YAML_SCALAR && strcasecmp(node->text, "hybrid") == 0)
		yaml_fault(
			node, "value-choice",
			"a hybrid is strung in two pieces: write \"method: two-piece\", and both "
			"strings: \"string: { mains: { name: NAME }, crosses: { name: NAME } }\"");
	else if (yaml_read_value(node, &row))
		return;
	job->method_position = (struct position){0}; /* it is not known */
}

static void read_tensions(const struct yaml_node *node, void *out)
{
	struct job *job = out;
	const struct yaml_row rows[] = {
		{"mains", true, .quantity = &job->tension[STRING_MAIN], TENSION_RANGE,
		 .position = &job->tension_position[STRING_MAIN]},
		{"crosses", true, .quantity = &job->tension[STRING_CROSS], TENSION_RANGE,
		 .position = &job->tension_position[STRING_CROSS]},
		{0},
	};

	if (node->kind == YAML_SCALAR)
		yaml_fault(
			node, "value-kind",
			"write both with their unit: \"tension: { mains: 54 lb, crosses: 52 lb }\"");
	else
		yaml_read_map(node, rows);
}

/* "mains 7", "mains 7-8", "crosses 1-2" */
static bool parse_strings(const char *text, struct adjustment *out)
{
	static const char form[] = "^(mains|crosses) ([1-9][0-9]?)(-([1-9][0-9]?))?$";
	regmatch_t at[5];
	regex_t regex;

	if (regcomp(&regex, form, REG_EXTENDED) != 0)
		memory_fail();
	bool good = regexec(&regex, text, 5, at, 0) == 0;
	regfree(&regex);
	if (!good)
		return false;
	out->strings = *text == 'm' ? STRING_MAIN : STRING_CROSS;
	out->first = (int)strtol(text + at[2].rm_so, NULL, 10);
	out->last = at[4].rm_so < 0 ? out->first : (int)strtol(text + at[4].rm_so, NULL, 10);
	return out->last >= out->first;
}

static void read_adjustment(const struct yaml_node *node, void *out)
{
	struct job *job = out;
	char *strings = NULL;
	bool by = false;
	struct adjustment adjustment = {.position = node->position};
	const struct yaml_row rows[] = {
		{"strings", true, .text = &strings, .most = NAME_BYTES_MAX,
		 .position = &adjustment.position},
		{"by", true, .quantity = &adjustment.by, .dimension = DIMENSION_TENSION,
		 .given = &by},
		{0},
	};

	yaml_read_map(node, rows);
	bool good = strings && parse_strings(strings, &adjustment);
	if (strings && !good)
		yaml_fault(yaml_get(node, "strings"), "adjust-strings",
			   "expected strings such as \"mains 7-8\" or \"crosses 1\", not \"%s\"",
			   strings);
	if (good && by && job->adjustment_count == ADJUSTMENTS_MAX)
		yaml_fault(node, "adjust-count", "more than %d adjustments", ADJUSTMENTS_MAX);
	else if (good && by)
		job->adjustments[job->adjustment_count++] = adjustment;
	free(strings);
}

static void read_length(const struct yaml_node *node, void *out)
{
	struct string_length *length = out;
	unsigned material = 0;
	bool known = false;
	const struct yaml_row rows[] = {
		{"name", .text = &length->name, .most = NAME_BYTES_MAX},
		{"kind", .choice = &material, .names = material_names, .given = &known},
		{"on_hand", .base = &length->on_hand_mm, .dimension = DIMENSION_LENGTH,
		 .least = on_hand_min_mm, .most = on_hand_max_mm,
		 .position = &length->on_hand_position},
		{"reel", .text = &length->reel, .most = NAME_BYTES_MAX,
		 .position = &length->reel_position},
		{"prestretch", .base = &length->prestretch, .dimension = DIMENSION_RATIO,
		 .most = prestretch_max},
		{0},
	};

	const char *quote = strpbrk(node->text ? node->text : "", ",:#[]{}") ? "\"" : "";

	if (node->kind == YAML_SCALAR)
		yaml_fault(node, "value-kind", "write %s: { name: %s%s%s }", node->key, quote,
			   node->text, quote);
	else
		yaml_read_map(node, rows);
	if (length->reel && length->on_hand_mm > 0)
		yaml_fault_key(yaml_get(node, "reel"), "reel-on-hand",
			       "expected \"on_hand\" or \"reel\", not both");
	if (known)
		length->material = (enum material)(MATERIAL_GUT + material);
}

/* "string: poly", or a length that the other method has. */
static void report_method(const struct yaml_node *node, const struct job *job, const char *name)
{
	char *lengths =
		job->method == METHOD_ONE_PIECE
			? memory_format("whole: { name: %s }", name)
			: memory_format("mains: { name: %s }, crosses: { name: %s }", name, name);

	yaml_fault_key(node, "string-method", "with \"method: %s\" write \"string: { %s }\"",
		       method_names[job->method], lengths);
	free(lengths);
}

static void read_strings(const struct yaml_node *node, void *out)
{
	struct job *job = out;
	const struct yaml_row rows[] = {
		{"mains", .read = read_length, .out = &job->length[STRING_MAIN]},
		{"crosses", .read = read_length, .out = &job->length[STRING_CROSS]},
		{"whole", .read = read_length, .out = &job->whole},
		{0},
	};
	bool one = job->method == METHOD_ONE_PIECE;

	if (node->kind == YAML_SCALAR) {
		report_method(node, job, node->text);
		return;
	}
	if (!yaml_read_map(node, rows) || !job->method_position.line)
		return;
	const struct yaml_node *wrong = yaml_get(node, one ? "mains" : "whole");
	if (!wrong && one)
		wrong = yaml_get(node, "crosses");
	const struct yaml_node *name = yaml_get(wrong, "name");
	if (wrong)
		report_method(wrong, job, name && name->text ? name->text : "NAME");
}

/* In the file the two are numbered together: auto stands last. */
enum { START_AUTO = 2 };

static void read_order(const struct yaml_node *node, void *out)
{
	static const char *const starts[] = {"head", "throat", "auto", NULL};
	struct job *job = out;
	unsigned start = START_AUTO;
	const struct yaml_row rows[] = {
		{"start", .choice = &start, .names = starts, .position = &job->start_position},
		{"first", .choice = &job->first_side, .names = side_names},
		{"lead", .number = &job->lead, .least = 1, .most = 3,
		 .position = &job->lead_position},
		{"outside", .number = &job->outside, .least = 1, .most = OUTSIDE_MAX},
		{"route", .number = &job->route, .least = 1, .most = ROUTE_NUMBER_MAX,
		 .position = &job->route_position},
		{0},
	};

	if (!yaml_read_map(node, rows))
		return;
	job->start_forced = start != START_AUTO;
	job->mains_start = job->start_forced ? (enum frame_end)start : END_HEAD;
	if (job->method == METHOD_ONE_PIECE || !job->method_position.line)
		return;
	for (const struct yaml_row *row = &rows[3]; row->key; row++)
		if (yaml_get(node, row->key))
			yaml_fault_key(yaml_get(node, row->key), "order-one-piece",
				       "\"%s\" is for one-piece work", row->key);
}

static void read_day(const struct yaml_node *node, void *out)
{
	const struct yaml_row row = {.text = out, .most = NAME_BYTES_MAX};
	struct tm day;

	if (yaml_read_value(node, &row) && !clock_read_day(node->text, &day))
		yaml_fault(node, "value-day", "expected a day such as 2026-12-01, not \"%s\"",
			   node->text);
}

/* What a learner is told more. */
static void fill_checks(const struct yaml_node *root, struct job *job)
{
	const struct yaml_node *crosses = yaml_get(yaml_get(root, "checks"), "crosses");

	if (job->detail != DETAIL_LEARNER)
		return;
	if (!crosses)
		job->check_every = LEARNER_CHECKS_EVERY;
	else if (job->check_every == 0)
		yaml_fault(crosses, "checks-learner",
			   "a learner looks for misweaves on the way: expected 1 to %d",
			   CROSSES_MAX);
}

static void free_length(struct string_length *length)
{
	free(length->name);
	free(length->reel);
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
	free(job->racket);
	free(job->customer);
	free(job->due);
	free(job->notes);
	free_length(&job->length[STRING_MAIN]);
	free_length(&job->length[STRING_CROSS]);
	free_length(&job->whole);
	free(job);
}

static void read_keys(const struct yaml_node *root, struct job *job)
{
	static const char *const wanted[] = {"wanted", NULL};
	static const char *const weave_starts[] = {"over", "under", NULL};
	unsigned ignored;
	const struct yaml_row checks[] = {
		{"crosses", .number = &job->check_every, .most = CROSSES_MAX},
		{0},
	};
	const struct yaml_row weave[] = {
		{"from", .choice = &job->weave_from, .names = end_names,
		 .given = &job->weave_from_given},
		{"side", .choice = &job->weave_side, .names = side_names},
		{"start", .choice = &job->weave_start, .names = weave_starts},
		{"behind", .number = &job->behind, .least = 0, .most = 1},
		{"first_pull", .number = &job->first_pull, .least = 1, .most = 2,
		 .position = &job->first_pull_position},
		{0},
	};
	const struct yaml_row rows[] = {
		{"job", true, .text = &job->name, .most = NAME_BYTES_MAX},
		{"pattern", true, .text = &job->pattern, .most = NAME_BYTES_MAX,
		 .position = &job->pattern_position},
		{"stringer", true, .text = &job->stringer, .most = NAME_BYTES_MAX},
		{"method", true, .read = read_method, .out = job,
		 .position = &job->method_position},
		{"tension", true, .read = read_tensions, .out = job},
		{"beyond_makers_range", .choice = &ignored, .names = wanted,
		 .given = &job->beyond_range},
		{"adjust", .each = read_adjustment, .out = job},
		{"string", .read = read_strings, .out = job},
		{"accept_short", .yes = &job->accept_short},
		{"order", .read = read_order, .out = job},
		{"weave", .map = weave},
		{"detail", .choice = &job->detail, .names = detail_names},
		{"checks", .map = checks},
		{"tie_off_extra", .base = &job->tie_off_extra, .dimension = DIMENSION_RATIO,
		 .most = tie_off_extra_max, .position = &job->extra_position},
		{"teach", .choice = &job->teaching, .names = teaching_names},
		{"racket", .text = &job->racket, .most = NAME_BYTES_MAX},
		{"customer", .text = &job->customer, .most = NAME_BYTES_MAX},
		{"due", .read = read_day, .out = &job->due},
		{"notes", .text = &job->notes, .most = NOTES_BYTES_MAX},
		{0},
	};

	yaml_read_map(root, rows);
	if (job->name && strspn(job->name, "0123456789") == strlen(job->name))
		yaml_warn(yaml_get(root, "job"), "job-number",
			  "\"review %s\" means the job with that number, not this one: put a "
			  "letter into the name",
			  job->name);
	if (job->teaching)
		job->detail = DETAIL_BENCH; /* what is said of each call is up to the teaching */
	fill_checks(root, job);
}

static struct job *read_job(struct yaml_document *document)
{
	struct job *job = memory_new(1, sizeof(*job));

	*job = (struct job){
		.file = memory_copy(document->file),
		.text = memory_copy(document->bytes),
		.detail = DETAIL_BENCH,
		.outside = OUTSIDE_DEFAULT,
		.route = 1,
		.behind = 1,
		.machine = MACHINE_DEFAULT,
	};
	read_keys(document->root, job);
	/* Names become parts of file names: a pattern's is checked further where it is read. */
	if (!job->pattern || !strchr(job->pattern, '/'))
		return job;
	yaml_fault(yaml_get(document->root, "pattern"), "pattern-name",
		   "expected the name of a pattern, not a path: \"%s\"", job->pattern);
	free(job->pattern);
	job->pattern = NULL;
	return job;
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

struct job *job_read_partly(struct yaml_document *document, bool *good)
{
	struct job *job = document && !is_pattern(document->root) ? read_job(document) : NULL;

	*good = document && yaml_is_good(document);
	yaml_free(document);
	return job;
}

struct job *job_read(struct yaml_document *document)
{
	bool good;
	struct job *job = job_read_partly(document, &good);

	if (good)
		return job;
	job_free(job);
	return NULL;
}
