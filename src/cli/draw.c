/* pullcall draw and label: the string bed as a picture, the bench card, and a label. */
#include "draw/draw.h"

#include "cli/cli.h"
#include "sequence/sequence.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct wish {
	const char *input; /* a file or a pattern's name, or NULL */
	const char *job;   /* an open job of the journal, or NULL */
	struct query query;
	const char *output;
	const char *bench_file;
	const struct bench *bench;
	struct draw_options options;
};

/* With its ways back, at the call where it stands unless the wish names another. Returns the exit
 * code. */
static int draw_open_job(struct wish *wish, struct faults *faults)
{
	struct journal *journal = query_open(&wish->query, JOURNAL_READ);
	struct journal_job job = {0};
	struct script *script = NULL;
	struct plan plan = {0};

	query_open_job(journal, wish->job, &job);
	int code = query_close(journal, journal_script(journal, job.number, &script));
	if (!wish->options.card && !wish->options.at_call && job.place <= job.places)
		wish->options.at_call = job.place;
	if (!code)
		code = script && script_plan(script, script->count, wish->bench, &plan, faults)
			       ? draw_bed(plan.sequence, &wish->options, wish->output, faults)
			       : EXIT_NO;
	plan_free(&plan);
	script_free(script);
	journal_job_free(&job);
	return code;
}

static enum exit_code draw_document(const struct yaml_document *document, const struct wish *wish,
				    struct faults *faults)
{
	enum exit_code code = EXIT_NO;
	struct plan plan = {0};
	enum file_kind kind;

	if (!file_kind_find(document, &kind))
		return code;
	if (kind == FILE_JOB) {
		if (plan_read(&plan, document->file, document->bytes, NULL, wish->bench->machine,
			      faults))
			code = draw_bed(plan.sequence, &wish->options, wish->output, faults);
		plan_free(&plan);
		return code;
	}
	if (wish->options.card) {
		fault_add(faults, FAULT_ERROR, document->file, (struct position){1, 1}, "draw-card",
			  "a bench card needs a job plan: tensions are not in a pattern");
		return code;
	}
	struct pattern *pattern =
		pattern_read(yaml_read_text(document->file, document->bytes, faults));
	if (pattern)
		code = draw_pattern(pattern, &wish->options, wish->output, faults);
	pattern_free(pattern);
	return code;
}

/* A file, or the name of a pattern. */
static enum exit_code draw_file(const struct wish *wish, struct faults *faults)
{
	const char *input = wish->input;
	bool named = access(input, F_OK) != 0 && !strchr(input, '/') && strcmp(input, "-") != 0;
	char *path = named ? path_find(PATH_PATTERNS, input, "./", NULL) : NULL;
	struct yaml_document *document = yaml_read(path ? path : input, faults);
	enum exit_code code = document ? draw_document(document, wish, faults) : EXIT_NO;

	yaml_free(document);
	free(path);
	return code;
}

static void read_command_line(int argc, char **argv, struct wish *wish)
{
	const struct option_row options[] = {
		{"output", 'o', .text = &wish->output},
		{"at", .number = &wish->options.at_call, .min = 1, .max = SCRIPT_LINES_MAX},
		{"job", .text = &wish->job},
		QUERY_JOURNAL_ROW(&wish->query),
		{"card", .flag = &wish->options.card},
		{"bench", .text = &wish->bench_file},
		{0},
	};

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (!wish->output)
		command_line_wrong(line, "-o FILE is missing");
	if (wish->options.card && wish->options.at_call)
		command_line_wrong(line, "--card shows the whole job: it takes no --at");
	wish->input = argv[optind];
	if (!wish->input == !wish->job)
		command_line_wrong(line, wish->job ? "--job goes without a file"
						   : "missing a job plan or pattern file");
}

int command_draw(int argc, char **argv)
{
	struct wish wish = {0};
	struct faults faults = {0};
	int code = EXIT_NO;

	read_command_line(argc, argv, &wish);
	struct bench *bench = bench_find(wish.bench_file, &faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, &faults) : NULL;
	if (book) {
		wish.bench = bench;
		wish.options.book = book;
		wish.options.manner = &bench->phrases;
		code = wish.job ? draw_open_job(&wish, &faults) : (int)draw_file(&wish, &faults);
	}
	phrasebook_free(book);
	bench_free(bench);
	faults_report(&faults);
	return code;
}

/* ---- what is stuck on a strung racket ---- */

static enum exit_code draw_found(const struct journal_job *found, const struct phrasebook *book,
				 const char *output, struct faults *faults)
{
	struct job *job = job_read(yaml_read_text(found->plan_file, found->plan_text, faults));
	struct pattern *pattern =
		pattern_read(yaml_read_text(found->pattern, found->pattern_text, faults));
	enum exit_code code = EXIT_NO;
	char day[DATE_TEXT_MAX];
	const struct label label = {
		.book = book,
		.width_mm = 62, /* the width of common label rolls */
		.height_mm = 29,
		.date = day_text(found->last_wall_us, day),
		.number = (int)found->number,
	};
	if (job && pattern)
		code = draw_label(job, pattern, &label, output, faults);
	job_free(job);
	pattern_free(pattern);
	return code;
}

/* The job of that number, or the last of that name that is strung to the end. */
static enum journal_status find_strung(struct journal *journal, const char *which,
				       struct journal_job *job)
{
	static const char sql[] = "SELECT id FROM job JOIN job_state ON job = id "
				  "WHERE name = :which AND state = 'finished' "
				  "ORDER BY id DESC LIMIT 1";
	char *last;
	enum journal_status status =
		journal_ask(journal, sql, FIELDS(field_text("which", which)), TARGETS(INTO(last)));

	if (status == JOURNAL_OK)
		status = journal_find(journal, last ? last : which, job);
	free(last);
	return status;
}

/* A name or a mark may be that of other strung rackets too. */
static enum journal_status tell_others(struct journal *journal, const char *which,
				       const struct journal_job *job)
{
	static const char sql[] = "SELECT group_concat(id, ', ') FROM job "
				  "JOIN job_state ON job = id WHERE state = 'finished' "
				  "AND id <> :job AND :which IN (name, racket)";
	char *others;
	enum journal_status status = journal_ask(
		journal, sql, FIELDS(field_number("job", job->number), field_text("which", which)),
		TARGETS(INTO(others)));

	if (status == JOURNAL_OK && others)
		fprintf(stderr,
			"pullcall: the label of job %lld (%s%s%s); other jobs of \"%s\": %s\n",
			(long long)job->number, job->name, job->customer ? ", for " : "",
			job->customer ? job->customer : "", which, others);
	free(others);
	return status;
}

int command_label(int argc, char **argv)
{
	const char *output = NULL, *bench_file = NULL;
	struct query query = {0};
	const struct option_row options[] = {
		{"output", 'o', .text = &output},
		QUERY_JOURNAL_ROW(&query),
		{"bench", .text = &bench_file},
		{0},
	};
	struct journal_job job = {0};
	struct faults faults = {0};

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (!output)
		command_line_wrong(line, "say where to: --output FILE");
	struct bench *bench = bench_find(bench_file, &faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, &faults) : NULL;
	int code = EXIT_NO;
	if (book) {
		struct journal *journal = query_open(&query, JOURNAL_READ);
		enum journal_status status = find_strung(journal, argv[optind], &job);
		if (status == JOURNAL_OK)
			status = tell_others(journal, argv[optind], &job);
		code = query_close(journal, status);
	}
	if (book && !code && job.last != JOURNAL_FINISHED) {
		fprintf(stderr,
			"pullcall: job %lld (%s) is not finished: a label is for a racket that is "
			"strung\n",
			(long long)job.number, job.name);
		code = EXIT_NO;
	} else if (book && !code)
		code = draw_found(&job, book, output, &faults);
	faults_report(&faults);
	journal_job_free(&job);
	phrasebook_free(book);
	bench_free(bench);
	return code;
}
