/* The pages: of one job, of many jobs, of a trainee. */
#include "report/internal.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

/* ---- HTML that is well-formed XML too; text is escaped ---- */

static void html_element(struct text *out, const char *tag, const char *text)
{
	text_format(out, "<%s>", tag);
	xml_add(out, text);
	text_format(out, "</%s>\n", tag);
}

/* Everything before the content, and everything after it. */
static void html_open(struct text *out, const char *title)
{
	text_add(out, head_html);
	text_add(out, "<meta name=\"generator\" content=\"pullcall " PULLCALL_VERSION "\"/>\n");
	html_element(out, "title", title);
	text_format(out, "<style>\n%s</style>\n</head>\n<body>\n<main>\n", page_css);
}

static void html_close(struct text *out, int64_t made_us)
{
	char date[DATE_TEXT_MAX];

	text_format(out,
		    "</main>\n<footer><p>Made by pullcall " PULLCALL_VERSION
		    " from its journal, %s, local time. Times are of work; pauses, and the time "
		    "the program was closed, are not in them.</p></footer>\n</body>\n</html>\n",
		    date_text(made_us, date));
}

/* A person's words, isolated so that right-to-left script cannot reorder the page. */
static void html_name(struct text *out, const char *tag, const char *name)
{
	text_format(out, "<%s><bdi>", tag);
	xml_add(out, name);
	text_format(out, "</bdi></%s>\n", tag);
}

static void add_cell(struct text *out, const struct table *table, size_t i, double most)
{
	const struct table_column *column = &table->columns[i % table->column_count];
	const struct table_cell *cell = &table->cells[i];
	bool spoken = column->kind == COLUMN_SPOKEN && table->language;
	const char *language = spoken ? table->language : "";
	const char *tag = i % table->column_count ? "td" : "th scope=\"row\"";
	bool isolated = column->kind == COLUMN_NAME || column->kind == COLUMN_SPOKEN;

	text_format(out, "<%s%s>", tag, column_is_right(column) ? " class=\"n\"" : "");
	if (isolated) {
		text_add(out, "<bdi lang=\"");
		xml_add(out, language);
		text_add(out, "\">");
	}
	xml_add(out, cell->text);
	if (isolated)
		text_add(out, "</bdi>");
	if (cell->remark)
		html_element(out, "small", cell->remark);
	if (most > 0 && cell->value >= 0)
		text_format(out, "<span class=\"bar\" style=\"width:%ld%%\"></span>",
			    lround(100 * cell->value / most));
	text_format(out, "</%.2s>", tag);
}

/* The largest value in a column of bars, the sum left out; else 0. */
static double largest(const struct table *table, size_t column)
{
	double most = 0;

	for (size_t i = column; table->columns[column].kind == COLUMN_BAR && i < table->cell_count;
	     i += table->column_count)
		if (i / table->column_count + 1 != table->total)
			most = fmax(most, table->cells[i].value);
	return most;
}

static void add_rows(struct text *out, const struct table *table)
{
	assert(table->column_count > 0);
	for (size_t i = 0; i < table->cell_count; i++) {
		size_t column = i % table->column_count, row = i / table->column_count + 1;
		bool total = row == table->total;
		if (column == 0)
			text_add(out, total ? "<tr class=\"total\">" : "<tr>");
		add_cell(out, table, i, total ? 0 : largest(table, column));
		if (column + 1 == table->column_count)
			text_add(out, "</tr>\n");
	}
}

/* Frees the table, as the next two do. Without cells it adds nothing. */
static void html_table(struct text *out, struct table *table)
{
	if (table->cell_count) {
		text_add(out, "<table>\n");
		html_element(out, "caption", table->caption);
		text_add(out, "<thead><tr>");
		for (size_t i = 0; i < table->column_count; i++) {
			text_format(out, "<th scope=\"col\"%s>",
				    column_is_right(&table->columns[i]) ? " class=\"n\"" : "");
			xml_add(out, table->columns[i].heading);
			text_add(out, "</th>");
		}
		text_add(out, "</tr></thead>\n<tbody>\n");
		add_rows(out, table);
		text_add(out, "</tbody>\n</table>\n");
	}
	table_free(table);
}

static void html_facts(struct text *out, struct table *facts)
{
	text_add(out, "<dl>\n");
	for (size_t i = 0; i + 1 < facts->cell_count; i += 2) {
		text_add(out, "<div>");
		html_element(out, "dt", facts->cells[i].text);
		html_element(out, "dd", facts->cells[i + 1].text);
		text_add(out, "</div>\n");
	}
	text_add(out, "</dl>\n");
	table_free(facts);
}

/* Folded until the reader opens it, but always printed on paper. */
static void html_fold_table(struct text *out, const char *summary, struct table *table)
{
	text_add(out, "<details>\n");
	html_element(out, "summary", summary);
	html_table(out, table);
	text_add(out, "</details>\n");
}

/* ---- One job ---- */

struct job_page {
	struct text *out;
	struct review review;
	struct plan plan; /* its sequence is NULL if this version cannot read the plan */
};

static void add_tension(struct table *facts, const struct job *job, enum string_kind strings,
			const char *word)
{
	char text[QUANTITY_TEXT_MAX];
	const char *name =
		job->method == METHOD_ONE_PIECE ? job->whole.name : job->length[strings].name;

	table_fact(facts, word, "%s%s%s",
		   quantity_text(job_setting(NULL, job->tension[strings]), text), name ? ", " : "",
		   name ? name : "");
}

static void add_order(struct table *facts, const struct sequence *sequence)
{
	enum frame_end from = sequence->cross_hole[1].end;

	table_fact(facts, "Mains run", "%s first, %s to %s", side_names[sequence->job->first_side],
		   end_names[sequence->mains_start], end_names[sequence->mains_end]);
	table_fact(facts, "Crosses run", "%s to %s", end_names[from], end_names[other_end(from)]);
}

static void add_job_head(struct job_page *page)
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
	if (page->review.of_racket)
		text_format(page->out, "<p>Other jobs of this racket: %s.</p>\n",
			    page->review.of_racket);
	if (page->plan.sequence) {
		add_tension(&page->review.facts, page->plan.job, STRING_MAIN, "Mains");
		add_tension(&page->review.facts, page->plan.job, STRING_CROSS, "Crosses");
		add_order(&page->review.facts, page->plan.sequence);
	}
	html_facts(page->out, &page->review.facts);
	text_add(page->out, "</header>\n");
	text_free(&words);
}

static void add_minutes(struct job_page *page)
{
	text_add(page->out, "<section class=\"pair\">\n<h2>Where the minutes went</h2>\n<div>\n");
	html_table(page->out, &page->review.parts[REVIEW_BY_PHASE]);
	text_add(page->out, "</div>\n<div>\n");
	html_table(page->out, &page->review.parts[REVIEW_SLOWEST_CALLS]);
	text_add(page->out, "</div>\n</section>\n");
}

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

	table_begin(&table, "Calls in the order in which they were worked on", columns);
	table.language = review->job.language;
	for (size_t i = 0; i < review->visit_count; i++) {
		const struct review_visit *visit = &review->visits[i];
		const struct review_call *call = &visit->call;
		struct text remarks = {0};
		describe_visit(&remarks, visit);
		table_value(&table, (double)visit->begin_us);
		table_value(&table, call->place);
		table_cell(&table, "%s", call->label);
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
	text_add(
		page->out,
		"<figcaption>Each block is a call, as wide as the work on it was long: "
		"mains solid, crosses outlined, the rest pale. What stands in a block is its string. A "
		"number in a disc below is a pause, or a time when "
		"the program was closed; it takes no room here and stands in the table. A is a "
		"call that was asked again, B a step back, U a step that was taken back.</figcaption>\n</figure>\n<div>\n");
	html_table(page->out, &page->review.parts[REVIEW_BREAKS]);
	html_table(page->out, &page->review.parts[REVIEW_UNSURE_CALLS]);
	add_visits(page);
	text_add(page->out, "</div>\n</section>\n");
}

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

static void add_job_page(struct job_page *page, int64_t made_us)
{
	const struct journal_job *job = &page->review.job;
	char *title = page->review.namesakes ? memory_format("%s (job %lld), review", job->name,
							     (long long)job->number)
					     : memory_format("%s, review", job->name);

	html_open(page->out, title);
	free(title);
	add_job_head(page);
	add_minutes(page);
	add_timeline(page);
	add_strings(page);
	html_close(page->out, made_us);
}

enum journal_status report_job(struct journal *journal, const char *which, int64_t made_us,
			       struct text *out)
{
	struct job_page page = {.out = out};
	const struct journal_job *job = &page.review.job;
	struct faults faults = {0};
	enum journal_status status = review_job(journal, which, &page.review);

	if (status == JOURNAL_OK) {
		/* With reach 0, string is never too short: the job is done already. */
		plan_read(&page.plan, job->plan_file, job->plan_text, job->pattern_text,
			  &(struct machine){0}, &faults);
		add_job_page(&page, made_us);
	}
	faults_free(&faults);
	plan_free(&page.plan);
	review_free(&page.review);
	return status;
}

/* ---- Many jobs: what to quote first, then the statistics ---- */

static void add_jobs_table(struct text *out, const struct review_group *group)
{
	static const struct table_column columns[] = {{"n-th", COLUMN_NUMBER},
						      {"job", COLUMN_NUMBER},
						      {"begun", COLUMN_TEXT},
						      {"work", COLUMN_TIME},
						      {"paused", COLUMN_TIME},
						      {"limits", COLUMN_TEXT},
						      {0}};
	struct table table;
	char day[DATE_TEXT_MAX];

	table_begin(&table, "Work on each job", columns);
	for (size_t i = series_first(group); i < group->count; i++) {
		const struct review_time *job = &group->jobs[i];
		table_value(&table, (double)i + 1);
		table_value(&table, (double)job->job);
		table_cell(&table, "%s", day_text(job->created_us, day));
		table_value(&table, job->work_us);
		table_value(&table, job->pause_us);
		table_cell(&table, "%s", review_is_outside(group, i) ? "outside" : "");
	}
	char *summary = memory_format("The newest %zu of %zu jobs as a table",
				      group->count - series_first(group), group->count);
	html_fold_table(out, series_first(group) ? summary : "These jobs as a table", &table);
	free(summary);
}

static void add_group(struct text *out, struct review_overview *overview, size_t i)
{
	struct review_group *group = &overview->groups[i];
	char *id = memory_format("jobs-%zu-", i + 1);

	text_add(out, "<div>\n");
	html_name(out, "h3", group->name);
	html_facts(out, &group->facts);
	if (group->has_learning) {
		text_add(out, "<figure>\n");
		series_picture(out, id, group);
		text_format(out, "<figcaption>%s</figcaption>\n</figure>\n",
			    group->has_limits ? "Drawn across: the mean. Dashed: the limits within "
						"which the jobs of a steady hand stay. Ringed: "
						"jobs outside."
					      : "Red: the law of learning that fits these jobs "
						"better. Dashed: the other law.");
		add_jobs_table(out, group);
	}
	text_add(out, "</div>\n");
	free(id);
}

static void add_quotes(struct text *out, struct review_overview *overview)
{
	size_t count = overview->group_count;

	text_add(out, "<section>\n<h2>What to quote</h2>\n<div class=\"charts\">\n");
	for (size_t i = 0; i < count && i < REVIEW_GROUPS; i++)
		add_group(out, overview, i);
	text_add(out, "</div>\n");
	if (count > REVIEW_GROUPS)
		text_format(out, "<p>And %zu more, left out here.</p>\n", count - REVIEW_GROUPS);
	text_add(out, "</section>\n");
}

static void add_statistics(struct text *out, struct review_overview *overview)
{
	text_add(out, "<section>\n<h2>Statistics</h2>\n");
	text_add(out, "<details>\n<summary>Medians, quartiles, phases, strings, laws of learning, "
		      "limits</summary>\n<div class=\"charts\">\n");
	for (int i = 0; i < REVIEW_STATISTICS; i++)
		html_table(out, &overview->statistics[i]);
	text_add(out, "</div>\n</details>\n</section>\n");
}

static void add_filter(struct text *out, const struct review_filter *filter)
{
	char since[DATE_TEXT_MAX], until[DATE_TEXT_MAX];
	const struct {
		const char *word, *value; /* NULL: not filtered by it */
	} rows[] = {
		{"Only of", filter->stringer},
		{"Only of pattern", filter->pattern},
		{"Only of method", filter->method},
		{"Only of racket", filter->racket},
		{"Only for customer", filter->customer},
		{"Only due by", filter->due},
		{"Only since", filter->since_us ? day_text(filter->since_us, since) : NULL},
		{"Only before", filter->until_us ? day_text(filter->until_us, until) : NULL},
	};
	struct table facts;

	facts_begin(&facts);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		if (rows[i].value)
			table_fact(&facts, rows[i].word, "%s", rows[i].value);
	}
	html_facts(out, &facts);
}

static void add_overview_head(struct text *out, const struct review_overview *overview,
			      const struct review_filter *filter)
{
	size_t count = overview->finished;

	text_add(out, "<header>\n<p class=\"kind\">Review of jobs</p>\n");
	text_format(out, "<h1>%zu finished %s</h1>\n", count, count == 1 ? "job" : "jobs");
	html_element(out, "p", overview->span);
	add_filter(out, filter);
	text_add(out, "</header>\n");
}

enum journal_status report_overview(struct journal *journal, const struct review_filter *filter,
				    const struct review_standard *standard, int64_t made_us,
				    struct text *out)
{
	struct review_overview overview;
	enum journal_status status = review_overview(journal, filter, standard, &overview);

	if (status != JOURNAL_OK)
		return status;
	html_open(out, "Review of jobs");
	add_overview_head(out, &overview, filter);
	if (overview.finished) {
		add_quotes(out, &overview);
		if (standard) {
			text_add(out, "<section>\n<h2>Standard time</h2>\n");
			html_table(out, &overview.standards);
			text_add(out, "</section>\n");
		}
		add_statistics(out, &overview);
	}
	html_close(out, made_us);
	review_overview_free(&overview);
	return status;
}

/* ---- A trainee: what to practise, and how each skill's level came to be ---- */

static void add_skill(struct text *out, const struct review_teaching *teaching, int skill)
{
	static const struct table_column columns[] = {
		{"racket", COLUMN_NUMBER}, {"job", COLUMN_NUMBER}, {"level", COLUMN_TEXT}, {0}};
	struct table table;

	text_add(out, "<div>\n");
	html_element(out, "h3", teach_skill_name(skill));
	text_add(out, "<figure>\n");
	skill_picture(out, teaching, skill);
	text_add(out, "</figure>\n");
	table_begin(&table, teach_skill_name(skill), columns);
	for (size_t i = 0; i < teaching->racket_count; i++) {
		table_value(&table, (double)i + 1);
		table_value(&table, (double)teaching->rackets[i].job);
		table_cell(&table, "%s", level_names[teaching->rackets[i].levels[skill]]);
	}
	html_fold_table(out, "These levels as a table", &table);
	text_add(out, "</div>\n");
}

enum journal_status report_teaching(struct journal *journal, const char *stringer, int64_t made_us,
				    struct text *out)
{
	struct review_teaching teaching;
	enum journal_status status = review_teaching(journal, stringer, made_us, &teaching);

	if (status != JOURNAL_OK)
		return status;
	html_open(out, "Teaching");
	text_add(out, "<header>\n<p class=\"kind\">Teaching</p>\n");
	html_name(out, "h1", stringer);
	html_element(out, "p", teaching.advice);
	text_add(out, "</header>\n<section>\n");
	html_table(out, &teaching.skills);
	html_table(out, &teaching.by_racket);
	html_table(out, &teaching.found);
	text_add(out, "</section>\n<section>\n<h2>Level by racket</h2>\n<div class=\"charts\">\n");
	for (int skill = 0; teaching.racket_count && skill < TEACH_SKILLS; skill++)
		add_skill(out, &teaching, skill);
	text_add(out, "</div>\n</section>\n");
	html_close(out, made_us);
	review_teaching_free(&teaching);
	return status;
}
