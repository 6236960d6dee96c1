/* The page of one job. */
#include "report/report.h"

#include "base/base.h"
#include "draw/draw.h"
#include "journal/journal.h"
#include "report/internal.h"
#include "review/review.h"
#include "sequence/sequence.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct job_page {
	struct text *out;
	struct review review;
	struct trace trace;
	struct plan plan; /* its sequence is NULL if the plan of then cannot be done now */
};

static const char *language_of(const struct job_page *page)
{
	return page->review.job.language;
}

static double share(int64_t part_us, int64_t whole_us)
{
	return whole_us > 0 ? (double)part_us / (double)whole_us : 0;
}

/* ---- the head ---- */

static void add_state(const struct job_page *page)
{
	const struct journal_place *job = &page->review.job;
	char begun[WORDS_DATE_MAX], last[WORDS_DATE_MAX];

	text_add(page->out, "<p class=\"second\">");
	html_name(page->out, job->pattern);
	text_format(page->out, ", ");
	html_name(page->out, job->method);
	text_add(page->out, ", strung by ");
	html_name(page->out, job->stringer);
	text_format(page->out, ". Begun %s, %s %s.</p>\n", words_date(job->created_us, begun),
		    job->open ? "open, last heard of" : journal_kind_name(job->last),
		    words_date(job->last_wall_us, last));
}

static bool was_away(const struct review *review)
{
	for (size_t i = 0; i < review->break_count; i++) {
		if (review->breaks[i].away)
			return true;
	}
	return false;
}

static void add_times(const struct job_page *page)
{
	const struct review *review = &page->review;
	char time[WORDS_TIME_MAX];

	text_add(page->out, "<dl class=\"lead\">\n");
	html_fact(page->out, "Work", "%s", words_time(review->work_us, time));
	html_fact(page->out, "Calls done", "%d of %d", review->job.call - 1, review->job.calls);
	html_fact(page->out, "Paused", "%s", words_time(review->pause_us, time));
	if (was_away(review))
		html_fact(page->out, "Away between runs", "%s", words_time(review->away_us, time));
	html_fact(page->out, "Asked for again", "%d", review->repeats);
	html_fact(page->out, "Steps back", "%d", review->backs);
	text_add(page->out, "</dl>\n");
}

static void add_tension(const struct job_page *page, enum string_kind strings, const char *word)
{
	const struct job *job = page->plan.job;
	char text[QUANTITY_TEXT_MAX];
	const char *name =
		job->method == METHOD_ONE_PIECE ? job->whole.name : job->length[strings].name;

	html_fact(page->out, word, "%s%s%s", quantity_text(job->tension[strings], text),
		  name ? ", " : "", name ? name : "");
}

static void add_plan(const struct job_page *page)
{
	const struct review *review = &page->review;
	struct text order = {0};

	text_add(page->out, "<dl>\n");
	if (page->plan.sequence) {
		add_tension(page, STRING_MAIN, "Mains");
		add_tension(page, STRING_CROSS, "Crosses");
		facts_order(&order, page->plan.sequence);
	}
	if (review->response_count)
		html_fact(page->out, "First sound after the pedal",
			  "median %.0f\xC2\xA0ms, 95\xC2\xA0%% within %.0f\xC2\xA0ms",
			  review->response_median_us / 1000, review->response_p95_us / 1000);
	if (review->undos)
		html_fact(page->out, "Steps taken back", "%d", review->undos);
	if (review->faults)
		html_fact(page->out, "Faults of voice or pedal", "%d", review->faults);
	text_add(page->out, "</dl>\n");
	if (order.length)
		html_element(page->out, "p", text_string(&order));
	text_free(&order);
}

static void add_head(const struct job_page *page)
{
	text_add(page->out, "<header>\n<p class=\"kind\">Review of a job</p>\n<h1>");
	html_name(page->out, page->review.job.name);
	text_add(page->out, "</h1>\n");
	add_state(page);
	add_times(page);
	add_plan(page);
	text_add(page->out, "</header>\n");
}

/* ---- where the minutes went ---- */

static void add_phases(const struct job_page *page)
{
	static const struct html_column columns[] = {{"Phase", false}, {"Calls", true},
						     {"Time", true},   {"Share", true},
						     {"Again", true},  {"Back", true}};
	const struct review *review = &page->review;
	struct html_table table;
	int64_t most_us = 0;
	int calls = 0;

	for (size_t i = 0; i < review->phase_count; i++)
		most_us = review->phases[i].work.work_us > most_us ? review->phases[i].work.work_us
								   : most_us;
	html_table_open(&table, page->out, "Work by phase", columns, 6);
	for (size_t i = 0; i < review->phase_count; i++) {
		const struct review_work *work = &review->phases[i].work;
		html_row(&table);
		html_cell(&table, "%s", review->phases[i].name);
		html_cell(&table, "%d", work->calls);
		html_cell_time(&table, work->work_us, share(work->work_us, most_us));
		html_cell(&table, "%.0f\xC2\xA0%%", 100 * share(work->work_us, review->work_us));
		html_cell_count(&table, work->repeats);
		html_cell_count(&table, work->backs);
		calls += work->calls;
	}
	html_row_total(&table);
	html_cell(&table, "work");
	html_cell(&table, "%d", calls);
	html_cell_time(&table, review->work_us, -1);
	html_cell(&table, "%s", "");
	html_cell_count(&table, review->repeats);
	html_cell_count(&table, review->backs);
	html_table_close(&table);
}

static void add_calls(const struct job_page *page, const char *caption,
		      const struct review_call *calls, size_t count)
{
	static const struct html_column columns[] = {
		{"Call", true}, {"Words", false}, {"Time", true}, {"Again", true}, {"Back", true}};
	struct html_table table;
	int64_t most_us = 0;

	for (size_t i = 0; i < count; i++)
		most_us = calls[i].work.work_us > most_us ? calls[i].work.work_us : most_us;
	html_table_open(&table, page->out, caption, columns, 5);
	for (size_t i = 0; i < count; i++) {
		html_row(&table);
		html_cell(&table, "%d", calls[i].n);
		html_cell_words(&table, calls[i].text, language_of(page), "");
		html_cell_time(&table, calls[i].work.work_us,
			       share(calls[i].work.work_us, most_us));
		html_cell_count(&table, calls[i].work.repeats);
		html_cell_count(&table, calls[i].work.backs);
	}
	html_table_close(&table);
}

static void add_minutes(const struct job_page *page)
{
	const struct review *review = &page->review;

	text_add(page->out, "<section class=\"pair\">\n<h2>Where the minutes went</h2>\n<div>\n");
	add_phases(page);
	text_add(page->out, "</div>\n<div>\n");
	if (review->slowest_count)
		add_calls(page, "Slowest calls", review->slowest, review->slowest_count);
	text_add(page->out, "</div>\n</section>\n");
}

/* ---- the timeline ---- */

static void add_breaks(const struct job_page *page)
{
	static const struct html_column columns[] = {{"Mark", true},
						     {"Began", false},
						     {"What", false},
						     {"Call", true},
						     {"Length", true}};
	const struct trace *trace = &page->trace;
	struct html_table table;
	char date[WORDS_DATE_MAX];

	html_table_open(&table, page->out, "Pauses and times away", columns, 5);
	for (size_t i = 0; i < trace->mark_count; i++) {
		const struct trace_mark *mark = &trace->marks[i];
		if (!mark->number)
			continue;
		html_row(&table);
		html_cell(&table, "%d", mark->number);
		html_cell(&table, "%s", words_date(mark->wall_us, date));
		html_cell(&table, "%s", mark->kind == TRACE_AWAY ? "away" : "paused");
		html_cell(&table, "%d", mark->call);
		html_cell_time(&table, mark->length_us, -1);
	}
	html_table_close(&table);
}

/* ", again 2 times, then a step back, paused 1:40". */
static void describe_visit(struct text *out, const struct trace_visit *visit)
{
	char time[WORDS_TIME_MAX];

	if (visit->repeats == 1)
		text_add(out, ", again");
	else if (visit->repeats)
		text_format(out, ", again %d times", visit->repeats);
	if (visit->left == JOURNAL_BACK)
		text_add(out, ", then a step back");
	if (visit->left == JOURNAL_UNDO)
		text_add(out, ", then taken back");
	if (visit->pause_us)
		text_format(out, ", paused %s", words_time(visit->pause_us, time));
	if (visit->away_us)
		text_format(out, ", away %s", words_time(visit->away_us, time));
}

static void add_visits(const struct job_page *page)
{
	static const struct html_column columns[] = {{"From", true},
						     {"Call", true},
						     {"String", false},
						     {"Words, remarks", false},
						     {"Time", true}};
	const struct trace *trace = &page->trace;
	struct html_table table;
	char time[WORDS_TIME_MAX], label[TRACE_LABEL_MAX];

	html_table_open(&table, page->out, "Calls in the order in which they were worked on",
			columns, 5);
	for (size_t i = 0; i < trace->visit_count; i++) {
		const struct trace_visit *visit = &trace->visits[i];
		const struct trace_call *call = &trace->calls[visit->call];
		struct text remarks = {0};
		describe_visit(&remarks, visit);
		html_row(&table);
		html_cell(&table, "%s", words_time(visit->begin_us, time));
		html_cell(&table, "%d", visit->call);
		html_cell(&table, "%s", trace_label(call, label));
		html_cell_words(&table, call->text, language_of(page),
				remarks.length ? text_string(&remarks) + 2 : "");
		html_cell_time(&table, visit->work_us, -1);
		text_free(&remarks);
	}
	html_table_close(&table);
}

static void add_timeline(const struct job_page *page)
{
	text_add(page->out, "<section class=\"pair\">\n<h2>Timeline</h2>\n<figure>\n");
	timeline_picture(page->out, &page->trace);
	text_add(page->out, "<figcaption>Each block is a call, as wide as the work on it was long: "
			    "mains solid, crosses outlined, the rest pale. Pauses take no room; "
			    "their numbers stand in the table.</figcaption>\n</figure>\n<div>\n");
	if (page->trace.break_count)
		add_breaks(page);
	if (page->review.unsure_count)
		add_calls(page, "Where the place was lost: asked for again, or left by a step back",
			  page->review.unsure, page->review.unsure_count);
	html_fold_open(page->out, "The timeline as a table");
	add_visits(page);
	html_fold_close(page->out);
	text_add(page->out, "</div>\n</section>\n");
}

/* ---- the strings ---- */

static void add_string_rows(const struct job_page *page, struct html_table *table, bool mains)
{
	const struct review *review = &page->review;

	for (size_t i = 0; i < review->string_count; i++) {
		const struct review_string *string = &review->strings[i];
		if (string->is_main != mains)
			continue;
		html_row(table);
		html_cell(table, "%s %d%s", mains ? "main" : "cross", string->number,
			  string->side == 'l'   ? " left"
			  : string->side == 'r' ? " right"
						: "");
		html_cell(table, "%d", string->work.calls);
		html_cell_time(table, string->work.work_us, -1);
		html_cell_count(table, string->work.repeats);
		html_cell_count(table, string->work.backs);
	}
}

static void add_strings_table(const struct job_page *page)
{
	static const struct html_column columns[] = {{"String", false},
						     {"Calls", true},
						     {"Time", true},
						     {"Again", true},
						     {"Back", true}};
	struct html_table table;

	html_table_open(&table, page->out, "Work by string, in the order of stringing", columns, 5);
	add_string_rows(page, &table, true);
	add_string_rows(page, &table, false);
	html_table_close(&table);
}

static void add_halves_row(struct html_table *table, const char *strings,
			   const struct review_halves *halves)
{
	if (isnan(halves->first_us))
		return;
	html_row(table);
	html_cell(table, "%s", strings);
	html_cell(table, "%.1f\xC2\xA0s", halves->first_us / SECOND_US);
	html_cell(table, "%.1f\xC2\xA0s", halves->second_us / SECOND_US);
	if (halves->first_us > 0)
		html_cell(table, "%+.0f\xC2\xA0%%",
			  100 * (halves->second_us / halves->first_us - 1));
	else
		html_cell(table, "%s", "");
}

static void add_halves(const struct job_page *page)
{
	static const struct html_column columns[] = {
		{"Strings", false}, {"First half", true}, {"Second half", true}, {"Change", true}};
	const struct review *review = &page->review;
	struct html_table table;

	if (isnan(review->mains.first_us) && isnan(review->crosses.first_us))
		return;
	html_table_open(&table, page->out, "Mean work on a string", columns, 4);
	add_halves_row(&table, "mains", &review->mains);
	add_halves_row(&table, "crosses", &review->crosses);
	html_table_close(&table);
}

static void add_strings(const struct job_page *page)
{
	if (page->review.string_count == 0)
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
			     "There is no picture of the bed: the plan and the pattern as they "
			     "were on the day cannot be worked out by this version.");
	}
	text_add(page->out, "<div>\n");
	add_halves(page);
	html_fold_open(page->out, "Every string as a table");
	add_strings_table(page);
	html_fold_close(page->out);
	text_add(page->out, "</div>\n</section>\n");
}

/* ---- all of it ---- */

/* What the plan asked for then is past asking: no string is too short any more, so the machine's
 * reach is none. */
static void read_plan(struct job_page *page)
{
	const struct journal_place *job = &page->review.job;
	struct faults faults = {0};

	plan_read_texts(&page->plan, job->plan_file, job->plan_text, job->pattern,
			job->pattern_text, 0, &faults);
	faults_free(&faults);
}

static void add_page(const struct job_page *page, int64_t made_us)
{
	struct text title = {0};

	text_format(&title, "%s, review", page->review.job.name);
	html_open(page->out, text_string(&title));
	text_free(&title);
	add_head(page);
	add_minutes(page);
	add_timeline(page);
	add_strings(page);
	html_close(page->out, made_us);
}

static enum journal_status read_job(struct journal *journal, const char *which,
				    struct job_page *page)
{
	enum journal_status status = review_job(journal, which, &page->review);

	if (status == JOURNAL_OK)
		status = trace_read(journal, page->review.job.job, &page->trace);
	return status;
}

enum journal_status report_job(struct journal *journal, const char *which, int64_t made_us,
			       struct text *out)
{
	struct job_page page = {.out = out};
	enum journal_status status = journal_hold(journal);

	if (status != JOURNAL_OK)
		return status;
	status = read_job(journal, which, &page);
	journal_let_go(journal);
	if (status == JOURNAL_OK) {
		read_plan(&page);
		add_page(&page, made_us);
	}
	plan_free(&page.plan);
	trace_free(&page.trace);
	review_free(&page.review);
	return status;
}
