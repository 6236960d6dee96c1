/* The page of one job. */
#include "report/internal.h"

#include <stdlib.h>

struct job_page {
	struct text *out;
	struct review review;
	struct plan plan; /* its sequence is NULL if this version cannot read the plan */
};

/* ---- the head ---- */

static void add_tension(struct table *facts, const struct job *job, enum string_kind strings,
			const char *word)
{
	char text[QUANTITY_TEXT_MAX];
	const char *name =
		job->method == METHOD_ONE_PIECE ? job->whole.name : job->length[strings].name;

	table_fact(facts, word, "%s%s%s", quantity_text(job->tension[strings], text),
		   name ? ", " : "", name ? name : "");
}

static void add_order(struct table *facts, const struct sequence *sequence)
{
	enum frame_end from = sequence->cross_hole[1].end;

	table_fact(facts, "Mains run", "%s first, %s to %s", side_names[sequence->job->first_side],
		   end_names[sequence->mains_start], end_names[sequence->mains_end]);
	table_fact(facts, "Crosses run", "%s to %s", end_names[from], end_names[other_end(from)]);
}

static void add_head(struct job_page *page)
{
	const struct journal_job *job = &page->review.job;
	struct text words = {0};
	char begun[DATE_TEXT_MAX], last[DATE_TEXT_MAX];

	text_format(&words, "%s, %s, %s, strung by %s. Begun %s, %s %s.", job->pattern, job->method,
		    job->detail, job->stringer, date_text(job->created_us, begun),
		    job->open ? "open, last event" : journal_kind_names[job->last],
		    date_text(job->last_wall_us, last));
	text_add(page->out, "<header>\n<p class=\"kind\">Review of a job</p>\n");
	html_name(page->out, "h1", job->name);
	html_name(page->out, "p", text_string(&words));
	if (page->review.namesakes)
		text_format(page->out, "<p>This is job %lld. Other jobs of this name: %s.</p>\n",
			    (long long)job->number, page->review.namesakes);
	if (page->plan.sequence) {
		add_tension(&page->review.facts, page->plan.job, STRING_MAIN, "Mains");
		add_tension(&page->review.facts, page->plan.job, STRING_CROSS, "Crosses");
		add_order(&page->review.facts, page->plan.sequence);
	}
	html_facts(page->out, &page->review.facts);
	text_add(page->out, "</header>\n");
	text_free(&words);
}

/* ---- where the minutes went ---- */

static void add_minutes(struct job_page *page)
{
	text_add(page->out, "<section class=\"pair\">\n<h2>Where the minutes went</h2>\n<div>\n");
	html_table(page->out, &page->review.parts[REVIEW_BY_PHASE]);
	text_add(page->out, "</div>\n<div>\n");
	html_table(page->out, &page->review.parts[REVIEW_SLOWEST_CALLS]);
	text_add(page->out, "</div>\n</section>\n");
}

/* ---- the timeline ---- */

/* "again 2 times, then a step back, paused 1:40". */
static void describe_visit(struct text *out, const struct review_visit *visit)
{
	char time[DURATION_TEXT_MAX];

	if (visit->repeats == 1)
		text_add(out, ", again");
	else if (visit->repeats)
		text_format(out, ", again %d times", visit->repeats);
	if (visit->left == JOURNAL_BACK)
		text_add(out, ", then a step back");
	if (visit->left == JOURNAL_UNDO)
		text_add(out, ", then taken back");
	if (visit->pause_us)
		text_format(out, ", paused %s", duration_text((double)visit->pause_us, time));
	if (visit->away_us)
		text_format(out, ", closed %s", duration_text((double)visit->away_us, time));
}

static void add_visits(const struct job_page *page)
{
	static const struct table_column columns[] = {
		{"from", COLUMN_TIME},   {"call", COLUMN_NUMBER},
		{"string", COLUMN_TEXT}, {"words, remarks", COLUMN_SPOKEN},
		{"time", COLUMN_TIME},   {0}};
	const struct review *review = &page->review;
	struct table table;
	char label[CALL_LABEL_MAX];

	table_begin(&table, "Calls in the order in which they were worked on", columns);
	table.language = review->job.language;
	for (size_t i = 0; i < review->visit_count; i++) {
		const struct review_visit *visit = &review->visits[i];
		const struct review_call *call = &visit->call;
		struct text remarks = {0};
		describe_visit(&remarks, visit);
		table_value(&table, (double)visit->begin_us);
		table_value(&table, call->place);
		table_cell(&table, "%s", call_label(call, label));
		table_cell(&table, "%s", call->text);
		if (remarks.length)
			table_remark(&table, text_string(&remarks) + 2);
		table_value(&table, (double)visit->work_us);
		text_free(&remarks);
	}
	html_fold_table(page->out, "The timeline as a table", &table);
}

static void add_timeline(struct job_page *page)
{
	text_add(page->out, "<section class=\"pair\">\n<h2>Timeline</h2>\n<figure>\n");
	timeline_picture(page->out, &page->review);
	text_add(page->out, "<figcaption>Each block is a call, as wide as the work on it was long: "
			    "mains solid, crosses outlined, the rest pale. Pauses take no room; "
			    "their numbers stand in the table.</figcaption>\n</figure>\n<div>\n");
	html_table(page->out, &page->review.parts[REVIEW_BREAKS]);
	html_table(page->out, &page->review.parts[REVIEW_UNSURE_CALLS]);
	add_visits(page);
	text_add(page->out, "</div>\n</section>\n");
}

/* ---- the strings ---- */

static void add_strings(struct job_page *page)
{
	if (page->review.parts[REVIEW_BY_STRING].cell_count == 0)
		return;
	text_add(page->out, "<section class=\"pair\">\n<h2>String by string</h2>\n");
	if (page->plan.sequence) {
		text_add(page->out, "<figure>\n");
		bed_picture(page->out, page->plan.sequence, &page->review);
		text_add(page->out,
			 "<figcaption>Thicker string, longer bar: more work. The slowest main and "
			 "the slowest cross are in colour and bold.</figcaption>\n</figure>\n");
	} else {
		html_element(page->out, "p",
			     "There is no picture of the bed: this version cannot read the plan "
			     "and the pattern as they were on the day.");
	}
	text_add(page->out, "<div>\n");
	html_table(page->out, &page->review.parts[REVIEW_HALVES]);
	html_fold_table(page->out, "Every string as a table",
			&page->review.parts[REVIEW_BY_STRING]);
	text_add(page->out, "</div>\n</section>\n");
}

/* ---- all of it ---- */

/* With reach 0, string is never too short: the job is done already. */
static void read_plan(struct job_page *page)
{
	const struct journal_job *job = &page->review.job;
	struct faults faults = {0};

	plan_read_texts(&page->plan, job->plan_file, job->plan_text, job->pattern,
			job->pattern_text, &(struct machine){0}, &faults);
	faults_free(&faults);
}

static void add_page(struct job_page *page, int64_t made_us)
{
	const struct journal_job *job = &page->review.job;
	char *title = page->review.namesakes ? memory_format("%s (job %lld), review", job->name,
							     (long long)job->number)
					     : memory_format("%s, review", job->name);

	html_open(page->out, title);
	free(title);
	add_head(page);
	add_minutes(page);
	add_timeline(page);
	add_strings(page);
	html_close(page->out, made_us);
}

enum journal_status report_job(struct journal *journal, const char *which, int64_t made_us,
			       struct text *out)
{
	struct job_page page = {.out = out};
	enum journal_status status = review_job(journal, which, &page.review);

	if (status == JOURNAL_OK) {
		read_plan(&page);
		add_page(&page, made_us);
	}
	plan_free(&page.plan);
	review_free(&page.review);
	return status;
}
