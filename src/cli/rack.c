/* pullcall rack and reel: the jobs that wait their turn, and what is left on the reels. */
#include "cli/cli.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

enum { CSV_BYTES_MAX = 1024 * 1024 };

/* ---- tables ---- */

/* Comma-separated values (RFC 4180) in memory, with or without a byte-order mark. */
struct csv {
	const char *file; /* for faults */
	const char *at;
	struct position here;
	bool row_ended; /* the field that was read was the last of its row */
	struct faults *faults;
};

static void step(struct csv *csv)
{
	bool line_ends = *csv->at == '\n';

	csv->here = line_ends ? (struct position){csv->here.line + 1, 1}
			      : (struct position){csv->here.line, csv->here.column + 1};
	csv->at++;
}

static void fault(struct csv *csv, const char *text)
{
	fault_add(csv->faults, FAULT_ERROR, csv->file, csv->here, "csv-quote", "%s", text);
	while (*csv->at && *csv->at != '\n')
		step(csv);
}

/* A field in quotes, up to the quote that ends it; two of them stand for one. */
static void take_quoted(struct csv *csv, struct text *out)
{
	const struct position start = csv->here;

	for (step(csv); *csv->at; step(csv)) {
		if (*csv->at == '"' && csv->at[1] != '"')
			break;
		if (*csv->at == '"')
			step(csv);
		text_add_char(out, *csv->at);
	}
	if (*csv->at) {
		step(csv);
	} else {
		csv->here = start;
		fault(csv, "this quote has no end");
	}
	if (*csv->at && !strchr(",\r\n", *csv->at))
		fault(csv, "expected a comma or the end of the line after a field in quotes");
}

/* The next field, for the caller to free, and where it stands; false at the end, and after a wrong
 * quote, which ends its row. */
static bool csv_field(struct csv *csv, char **field, struct position *position)
{
	size_t errors = csv->faults->errors;
	struct text out = {0};

	if (csv->row_ended && !*csv->at)
		return false;
	csv->row_ended = false;
	*position = csv->here;
	if (*csv->at == '"')
		take_quoted(csv, &out);
	for (; *csv->at && !strchr(",\n", *csv->at); step(csv)) {
		if (*csv->at == '"')
			fault(csv, "a field with a quote in it must be in quotes itself");
		else if (*csv->at != '\r' || csv->at[1] != '\n')
			text_add_char(&out, *csv->at);
		if (!*csv->at || *csv->at == '\n')
			break;
	}
	csv->row_ended = *csv->at != ',';
	if (*csv->at)
		step(csv);
	*field = NULL;
	if (csv->faults->errors == errors)
		*field = text_take(&out);
	text_free(&out);
	return *field;
}

/* What a file is called in faults. */
static const char *name_of(const char *path)
{
	return strcmp(path, "-") == 0 ? "<standard input>" : path;
}

/* ---- plans ---- */

struct wish {
	bool table;
	struct query query;
	int code; /* of a failure that is not the journal's */
};

/* Plans that are read, to be added all together. */
/* Where a plan comes from. */
struct origin {
	const char *file;         /* as it was named */
	struct position position; /* of its row; line 0: the plan has a file of its own */
};

struct batch {
	struct bench *bench;
	struct phrasebook *book;
	struct script **plans;
	struct origin *origins;
	int count;
	struct faults faults; /* not told yet */
	bool refused;
};

/* A table may have more faults than a list keeps: those of each row are told at once. */
static void tell_faults(struct batch *batch)
{
	batch->refused |= faults_report(&batch->faults) != EXIT_DONE;
}

/* Takes the script; NULL is fine. */
static void batch_add(struct batch *batch, struct script *plan, struct origin origin)
{
	if (!plan)
		return;
	batch->origins = memory_resize(batch->origins, (size_t)batch->count + 1, sizeof(origin));
	batch->origins[batch->count] = origin;
	batch->plans =
		memory_resize(batch->plans, (size_t)batch->count + 1, sizeof(struct script *));
	batch->plans[batch->count++] = plan;
}

/* Where the plan names this reel, or for NULL its job: of a row all stands in one place. */
static struct position position_of(const struct batch *batch, int i, const char *reel)
{
	struct faults faults = {0};
	struct position position = batch->origins[i].position;

	if (position.line)
		return position;
	struct yaml_document *document =
		yaml_read_text(batch->origins[i].file, batch->plans[i]->plan_text, &faults);
	const struct yaml_node *root = document ? document->root : NULL;
	const struct yaml_node *found = yaml_get(root, "job");
	const struct yaml_node *strings = reel ? yaml_get(root, "string") : NULL;
	for (const struct yaml_node *length = strings ? strings->first : NULL; length;
	     length = length->next) {
		const struct yaml_node *named = yaml_get(length, "reel");
		if (named && named->text && strcmp(named->text, reel) == 0)
			found = named;
	}
	if (found)
		position = found->position;
	yaml_free(document);
	faults_free(&faults);
	return position;
}

/* ---- a table of plans ---- */

/* The columns of a table: which question of the form each answers. */
struct columns {
	int question[QUESTIONS_MAX];
	int count;
};

/* The key that is meant: spelt nearly like it, or a part of it. NULL if there is none. */
static const char *near_key(const char *name, const char *const *keys)
{
	const char *near = fault_did_you_mean(name, keys);
	size_t length = strlen(name);

	for (; !near && *keys && length > 0; keys++) {
		const char *part = strstr(*keys, name);
		if (part && strchr("/", part[length]) && (part == *keys || part[-1] == '/'))
			near = *keys;
	}
	return near;
}

static void fault_column(struct csv *csv, struct position at, const char *name,
			 const char *const *keys)
{
	const char *near = near_key(name, keys);

	fault_add(csv->faults, FAULT_ERROR, csv->file, at, "key-unknown",
		  near ? "unknown column \"%s\": did you mean \"%s\"?"
		       : "unknown column \"%s\": expected a key of a job plan, such as \"%s\"; "
			 "\"pullcall help rack\" tells more",
		  name, near ? near : "tension/mains");
}

/* False with faults. */
static bool read_header(struct csv *csv, struct columns *columns)
{
	struct form form;
	const char *keys[QUESTIONS_MAX + 1] = {0};
	bool given[QUESTIONS_MAX] = {0};
	struct position at;
	size_t errors = csv->faults->errors;
	char *name;

	if (!*csv->at) {
		fault_add(csv->faults, FAULT_ERROR, csv->file, (struct position){0}, "file-empty",
			  "nothing is in it: expected a line that names the columns");
		return false;
	}
	plan_form(&form);
	for (int n = 0; form.questions[n].key; n++)
		keys[n] = form.questions[n].key;
	do {
		if (!csv_field(csv, &name, &at))
			break;
		if (strchr(name, ';')) {
			fault_add(csv->faults, FAULT_ERROR, csv->file, at, "csv-comma",
				  "expected commas between the columns, not semicolons");
			free(name);
			return false;
		}
		int question = form_question(&form, name);
		if (question < 0) {
			fault_column(csv, at, name, keys);
		} else if (given[question]) {
			fault_add(csv->faults, FAULT_ERROR, csv->file, at, "key-duplicate",
				  "duplicate column \"%s\"", name);
		} else {
			columns->question[columns->count++] = question;
			given[question] = true;
		}
		free(name);
	} while (!csv->row_ended);
	for (int n = 0; form.questions[n].key && csv->faults->errors == errors; n++)
		if ((n == 0 || form.questions[n].needed) && !given[n])
			fault_add(csv->faults, FAULT_ERROR, csv->file, (struct position){1, 1},
				  "key-missing", "column \"%s\" is missing", keys[n]);
	return csv->faults->errors == errors;
}

/* Reads a row into the form. False if it is blank or has more or fewer fields than columns. */
static bool read_row(struct csv *csv, const struct columns *columns, struct form *form,
		     struct position places[static QUESTIONS_MAX])
{
	struct position start = {0}, at = {0};
	size_t errors = csv->faults->errors, length = 0;
	int count = 0;
	char *value;

	do {
		if (!csv_field(csv, &value, &at))
			return false;
		start = count ? start : at;
		length += strlen(value);
		if (count < columns->count) {
			int question = columns->question[count];
			snprintf(form->answer[question], ANSWER_MAX, "%s", value);
			places[question] = at;
			if (strpbrk(value, "\r\n\t"))
				fault_add(csv->faults, FAULT_ERROR, csv->file, at, "value-control",
					  "expected a text of one line without tabs");
			if (strlen(value) >= ANSWER_MAX)
				fault_add(csv->faults, FAULT_ERROR, csv->file, at, "value-length",
					  "longer than %d bytes", ANSWER_MAX - 1);
		}
		count++;
		free(value);
	} while (!csv->row_ended);
	if (count == 1 && length == 0)
		return false;
	if (count != columns->count)
		fault_add(csv->faults, FAULT_ERROR, csv->file, start, "csv-fields",
			  "expected %d fields, not %d", columns->count, count);
	return csv->faults->errors == errors;
}

/* The field that wrote a line of the plan that was made of a row; for what is missing, the job's
 * name. */
static struct position place_of(const struct form *form, const struct position *places, int line)
{
	int lines = 0, n = -1;

	while (lines < line && form->questions[n + 1].key) {
		char *file = form_file(form, ++n);
		lines = 0;
		for (const char *at = file; (at = strchr(at, '\n')); at++)
			lines++;
		free(file);
	}
	return places[n >= 0 && places[n].line ? n : 0];
}

static void read_table(struct batch *batch, const char *path, const char *bytes)
{
	static const char byte_order_mark[] = "\xef\xbb\xbf";
	bool marked = strncmp(bytes, byte_order_mark, 3) == 0;
	const char *name = name_of(path);
	struct csv csv = {name, bytes + (marked ? 3 : 0), {1, 1}, .faults = &batch->faults};
	struct columns columns = {0};
	bool good = read_header(&csv, &columns);

	for (; good && *csv.at; tell_faults(batch)) {
		struct position places[QUESTIONS_MAX] = {0};
		struct faults faults = {0};
		struct form form;
		plan_form(&form);
		form.all = true;
		if (!read_row(&csv, &columns, &form, places))
			continue;
		for (int n = 0; form.questions[n].key; n++)
			if (!form.answer[n][0] && form.questions[n].standard)
				snprintf(form.answer[n], ANSWER_MAX, "%s",
					 form.questions[n].standard);
		char *plan = form_file(&form, QUESTIONS_MAX);
		batch_add(batch,
			  script_read_text(name, plan, NULL, NULL, batch->bench, batch->book,
					   &faults),
			  (struct origin){name, places[0]});
		for (size_t i = 0; i < faults.count; i++)
			fault_add(csv.faults, faults.items[i].severity, name,
				  place_of(&form, places, faults.items[i].position.line),
				  faults.items[i].code, "%s", faults.items[i].text);
		faults_free(&faults);
		free(plan);
	}
}

/* A file of at most CSV_BYTES_MAX without NULs; NULL with a fault. */
static char *read_file(const char *path, struct faults *faults)
{
	FILE *in = strcmp(path, "-") == 0 ? stdin : fopen(path, "rb");
	char *bytes = memory_new(CSV_BYTES_MAX + 1, 1);
	size_t length = in ? fread(bytes, 1, CSV_BYTES_MAX + 1, in) : 0;
	const char *why = !in || ferror(in)             ? strerror(errno)
			  : length > CSV_BYTES_MAX      ? "longer than 1 MiB"
			  : memchr(bytes, '\0', length) ? "not a text"
							: NULL;

	if (in && in != stdin)
		fclose(in);
	if (!why)
		return bytes;
	fault_add(faults, FAULT_ERROR, name_of(path), (struct position){0}, "file-open", "%s", why);
	free(bytes);
	return NULL;
}

/* ---- adding ---- */

static bool is_same_racket(const struct script *a, const struct script *b)
{
	return strcmp(a->job, b->job) == 0 && strcmp(a->pattern, b->pattern) == 0 &&
	       strcmp(a->method, b->method) == 0 && strcmp(a->stringer, b->stringer) == 0 &&
	       strcmp(a->racket, b->racket) == 0 && strcmp(a->customer, b->customer) == 0;
}

/* A racket is on the rack once. The plan of one whose job is open is there by itself, and taken out
 * of the batch. */
static void check_rackets(struct batch *batch, struct journal *journal)
{
	int kept = 0;

	for (int i = 0; i < batch->count; i++) {
		struct script *plan = batch->plans[i];
		char *there;
		int same = 0;
		journal_rack_find(journal, plan, &there);
		bool open = there && *there;
		while (same < kept && !is_same_racket(batch->plans[same], plan))
			same++;
		if (open)
			fault_add(&batch->faults, FAULT_WARNING, batch->origins[i].file,
				  position_of(batch, i, NULL), "rack-open",
				  "job %s is open and already on the rack", there);
		else if (there || same < kept)
			fault_add(&batch->faults, FAULT_ERROR, batch->origins[i].file,
				  position_of(batch, i, NULL), "rack-twice",
				  "job %s is %s%s%s%s%s: leave it out, or give the other racket "
				  "its own mark",
				  plan->job, there ? "on the rack already" : "there twice",
				  *plan->racket ? ", racket " : "", plan->racket,
				  *plan->customer ? ", customer " : "", plan->customer);
		tell_faults(batch);
		batch->origins[kept] = batch->origins[i];
		if (open)
			script_free(plan);
		else
			batch->plans[kept++] = plan;
		free(there);
	}
	batch->count = kept;
}

static void check_reels(struct batch *batch, struct journal *journal)
{
	for (int i = 0; i < batch->count; i++) {
		const struct script *plan = batch->plans[i];
		for (int place = 1; place <= plan->count; place++) {
			const char *reel = script_line(plan, place)->reel;
			struct reel_use use = {.reel = reel, .file = batch->origins[i].file};
			if (reel)
				use.position = position_of(batch, i, reel);
			for (int n = 1; n <= plan->count && use.reel; n++) {
				const struct script_line *line = script_line(plan, n);
				if (line->reel && strcmp(line->reel, use.reel) == 0)
					use.cut_mm += line->cut_mm;
			}
			reel_check(journal, &use, &batch->faults);
		}
		tell_faults(batch);
	}
}

static void read_plans(struct batch *batch, bool table, int count, char **files)
{
	for (int i = 0; i < count; i++) {
		char *bytes = table ? read_file(files[i], &batch->faults) : NULL;
		const char *ending = strrchr(files[i], '.');
		if (!table && ending && strcasecmp(ending, ".csv") == 0)
			fault_add(&batch->faults, FAULT_ERROR, files[i], (struct position){0},
				  "rack-csv", "a table is added with --csv: rack add --csv %s",
				  files[i]);
		else if (bytes)
			read_table(batch, files[i], bytes);
		else if (!table)
			batch_add(batch,
				  script_read(files[i], NULL, batch->bench, batch->book,
					      &batch->faults),
				  (struct origin){name_of(files[i]), {0}});
		free(bytes);
	}
}

/* All of them, or none. */
static enum journal_status add(struct journal *journal, const struct task_call *call)
{
	struct wish *wish = call->context;
	struct batch batch = {0};
	enum journal_status status = JOURNAL_OK;

	batch.bench = bench_find(NULL, &batch.faults);
	if (batch.bench)
		batch.book = phrasebook_find(batch.bench->language, &batch.faults);
	if (batch.book)
		read_plans(&batch, wish->table, call->count, call->operands);
	tell_faults(&batch);
	check_rackets(&batch, journal);
	check_reels(&batch, journal);
	if (!batch.refused)
		status = journal_rack_add(journal, batch.plans, batch.count);
	if (!batch.refused && status == JOURNAL_OK)
		printf("%d added\n", batch.count);
	wish->code = batch.refused ? EXIT_NO : EXIT_DONE;
	if (batch.refused)
		fputs("pullcall: none was added: mend what is at fault, then add them all again\n",
		      stderr);
	for (int i = 0; i < batch.count; i++)
		script_free(batch.plans[i]);
	free(batch.plans);
	free(batch.origins);
	phrasebook_free(batch.book);
	bench_free(batch.bench);
	return status;
}

/* ---- the commands ---- */

static enum journal_status list(struct journal *journal, const struct task_call *call)
{
	(void)call;
	return review_print_rack(journal, clock_wall_us(), stdout);
}

static enum journal_status move(struct journal *journal, const struct task_call *call)
{
	struct wish *wish = call->context;
	const char *to = call->operands[1];
	char *end = NULL;
	long place = to[0] == '@' ? strtol(to + 1, &end, 10) : 0;

	if (place < 1 || place > 10000 || *end) {
		fprintf(stderr, "pullcall: expected a place such as @1, not \"%s\"\n", to);
		wish->code = EXIT_USAGE;
		return JOURNAL_OK;
	}
	char *said = NULL;
	int at = (int)place;
	enum journal_status status = journal_rack_move(journal, call->operands[0], &at, &said);
	if (status == JOURNAL_OK)
		printf("%s is @%d on the rack\n", said, at);
	free(said);
	return status;
}

static enum journal_status drop(struct journal *journal, const struct task_call *call)
{
	char *said = NULL;
	enum journal_status status = journal_rack_drop(journal, call->operands[0], &said);

	if (status == JOURNAL_OK)
		printf("%s is off the rack\n", said);
	free(said);
	return status;
}

static enum journal_status list_reels(struct journal *journal, const struct task_call *call)
{
	(void)call;
	return review_print_reels(journal, stdout);
}

/* "add" or "set". */
static enum journal_status put_reel(struct journal *journal, const struct task_call *call)
{
	struct wish *wish = call->context;
	struct quantity length;
	char *why = NULL;
	enum journal_status status = JOURNAL_OK;

	if (!quantity_parse(call->operands[1], DIMENSION_LENGTH, &length, &why) ||
	    quantity_base(length) < 0 || quantity_base(length) > 10e6) {
		fprintf(stderr, "pullcall: %s\n",
			why ? why : "expected a length of at most 10000 m");
		wish->code = EXIT_USAGE;
	} else {
		status = journal_reel_put(journal, call->operands[0], (int)quantity_base(length),
					  strcmp(call->task, "add") == 0);
	}
	free(why);
	return status;
}

static enum journal_status remove_reel(struct journal *journal, const struct task_call *call)
{
	return journal_reel_remove(journal, call->operands[0]);
}

int command_rack(int argc, char **argv)
{
	enum { FILES_MAX = 1000 };
	static const struct task tasks[] = {
		{"add", "job plans, or --csv and tables", 1, FILES_MAX, JOURNAL_SHARE, add,
		 .creates = true},
		{"list", "nothing", 0, 0, JOURNAL_READ, list, "nothing waits on the rack"},
		{"move", "a job and its new place", 2, 2, JOURNAL_SHARE, move},
		{"drop", "a job", 1, 1, JOURNAL_SHARE, drop},
		{0},
	};
	struct wish wish = {0};
	const struct option_row options[] = {
		{"csv", .flag = &wish.table}, QUERY_JOURNAL_ROW(&wish.query), {0}};

	int code = task_run(options, argc, argv, &wish.query, tasks, &wish);
	return wish.code ? wish.code : code;
}

int command_reel(int argc, char **argv)
{
	static const struct task tasks[] = {
		{"list", "nothing", 0, 0, JOURNAL_READ, list_reels, "no reels"},
		{"add", "a name and a length", 2, 2, JOURNAL_SHARE, put_reel, .creates = true},
		{"set", "a name and a length", 2, 2, JOURNAL_SHARE, put_reel},
		{"remove", "a name", 1, 1, JOURNAL_SHARE, remove_reel},
		{0},
	};
	struct wish wish = {0};
	const struct option_row options[] = {QUERY_JOURNAL_ROW(&wish.query), {0}};

	int code = task_run(options, argc, argv, &wish.query, tasks, &wish);
	return wish.code ? wish.code : code;
}
