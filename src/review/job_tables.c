/* What is said about one job. */
#include "review/internal.h"

#include "base/base.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SLOWEST = 5 };

static double share(int64_t part_us, int64_t whole_us)
{
	return whole_us > 0 ? (double)part_us / (double)whole_us : 0;
}

/* ---- facts ---- */

static void add_usual(struct table *table, const struct review *review)
{
	char usual[DURATION_TEXT_MAX], low[DURATION_TEXT_MAX], high[DURATION_TEXT_MAX];
	double change = 100 * ((double)review->work_us / review->usual_us - 1);

	if (!review->usual_count)
		return;
	table_cell(table, "Usual for this stringer");
	table_cell(table, "%s; four of five jobs take %s to %s",
		   duration_text(review->usual_us, usual), duration_text(review->usual_low_us, low),
		   duration_text(review->usual_high_us, high));
	if (review->job.last != JOURNAL_FINISHED)
		return;
	table_cell(table, "This one");
	if (fabs(change) < 0.5)
		table_cell(table, "as usual");
	else
		table_cell(table, "%.0f %% %s than usual", fabs(change),
			   change > 0 ? "longer" : "shorter");
}

static void add_breaks(struct table *table, const struct review *review, enum review_mark_kind kind,
		       const char *word, int64_t length_us)
{
	char time[DURATION_TEXT_MAX];
	int count = 0;

	for (size_t i = 0; i < review->mark_count; i++)
		count += review->marks[i].kind == kind;
	if (count == 0)
		return;
	table_cell(table, "%s", word);
	table_cell(table, "%s, %d %s; not in the work", duration_text((double)length_us, time),
		   count, count == 1 ? "time" : "times");
}

static void add_number(struct table *table, const char *word, int number)
{
	if (number) {
		table_cell(table, "%s", word);
		table_cell(table, "%d", number);
	}
}

void review_facts(const struct review *review, struct table *out)
{
	static const struct table_column columns[] = {{"", false}, {"", false}};
	char time[DURATION_TEXT_MAX];

	table_begin(out, NULL, columns, 2);
	table_cell(out, "Work");
	table_cell(out, "%s", duration_text((double)review->work_us, time));
	add_usual(out, review);
	table_cell(out, "Calls done");
	table_cell(out, "%d of %d", review->job.call - 1, review->job.calls);
	review_add_lost(out, &review->lost, 1);
	add_breaks(out, review, REVIEW_PAUSE, "Paused", review->pause_us);
	add_breaks(out, review, REVIEW_AWAY, "Program closed", review->away_us);
	add_number(out, "Asked again", review->repeats);
	add_number(out, "Stepped back", review->backs);
	add_number(out, "Steps taken back", review->undos);
	add_number(out, "Faults of voice or pedal", review->faults);
	if (review->response_count) {
		table_cell(out, "First sound after a press");
		table_cell(out, "median %.0f ms, 95 %% within %.0f ms",
			   review_response_us(review, 0.5) / 1000,
			   review_response_us(review, 0.95) / 1000);
	}
}

/* ---- where the minutes went ---- */

static void add_work(struct table *table, const struct review_work *work)
{
	table_count(table, work->repeats);
	table_count(table, work->backs);
}

void review_table_phases(const struct review *review, struct table *out)
{
	static const struct table_column columns[] = {{"phase", false}, {"calls", true},
						      {"time", true},   {"share", true},
						      {"again", true},  {"back", true}};
	struct review_work all = {
		.work_us = review->work_us, .repeats = review->repeats, .backs = review->backs};
	int64_t most_us = 0;

	for (size_t i = 0; i < review->phase_count; i++)
		most_us = review->phases[i].work.work_us > most_us ? review->phases[i].work.work_us
								   : most_us;
	table_begin(out, "Work by phase", columns, 6);
	for (size_t i = 0; i < review->phase_count; i++) {
		const struct review_work *work = &review->phases[i].work;
		table_words(out, review->phases[i].name, NULL, NULL);
		table_count(out, work->calls);
		table_time(out, (double)work->work_us);
		table_bar(out, share(work->work_us, most_us));
		table_cell(out, "%.0f %%", 100 * share(work->work_us, review->work_us));
		add_work(out, work);
		all.calls += work->calls;
	}
	table_cell(out, "all");
	table_count(out, all.calls);
	table_time(out, (double)all.work_us);
	table_cell(out, "%s", "");
	add_work(out, &all);
	table_total(out);
}

void review_table_breaks(const struct review *review, struct table *out)
{
	static const struct table_column columns[] = {{"mark", true},
						      {"began", false},
						      {"what", false},
						      {"call", true},
						      {"length", true}};
	char date[DATE_TEXT_MAX];

	table_begin(out, "Pauses, and times the program was closed", columns, 5);
	for (size_t i = 0; i < review->mark_count; i++) {
		const struct review_mark *mark = &review->marks[i];
		if (!mark->number)
			continue;
		table_cell(out, "%d", mark->number);
		table_cell(out, "%s", date_text(mark->wall_us, date));
		table_cell(out, "%s", mark->kind == REVIEW_AWAY ? "program closed" : "paused");
		table_cell(out, "%d", mark->call);
		table_time(out, (double)mark->length_us);
	}
}

/* Calls by number. */
static void call_table(const struct review *review, const char *caption, const int *numbers,
		       size_t count, struct table *out)
{
	static const struct table_column columns[] = {
		{"call", true}, {"words", false}, {"time", true}, {"again", true}, {"back", true}};
	int64_t most_us = 0;

	for (size_t i = 0; i < count; i++)
		most_us = review->calls[numbers[i]].work.work_us > most_us
				  ? review->calls[numbers[i]].work.work_us
				  : most_us;
	table_begin(out, caption, columns, 5);
	for (size_t i = 0; i < count; i++) {
		const struct review_call *call = &review->calls[numbers[i]];
		table_cell(out, "%d", numbers[i]);
		table_words(out, call->text, review->job.language, NULL);
		table_time(out, (double)call->work.work_us);
		table_bar(out, share(call->work.work_us, most_us));
		add_work(out, &call->work);
	}
}

void review_table_slowest_calls(const struct review *review, struct table *out)
{
	int slowest[SLOWEST] = {0};
	size_t count = 0;

	for (int n = 1; n <= review->call_count; n++) {
		int64_t work_us = review->calls[n].work.work_us;
		size_t at = count;
		while (at > 0 && review->calls[slowest[at - 1]].work.work_us < work_us)
			at--;
		if (work_us <= 0 || at == SLOWEST)
			continue;
		count += count < SLOWEST;
		memmove(&slowest[at + 1], &slowest[at], (count - at - 1) * sizeof slowest[0]);
		slowest[at] = n;
	}
	call_table(review, "Slowest calls", slowest, count, out);
}

void review_table_unsure_calls(const struct review *review, struct table *out)
{
	int *unsure = memory_new((size_t)review->call_count, sizeof *unsure);
	size_t count = 0;

	for (int n = 1; n <= review->call_count; n++) {
		if (review->calls[n].work.repeats + review->calls[n].work.backs)
			unsure[count++] = n;
	}
	call_table(review, "Asked again or stepped back from", unsure, count, out);
	free(unsure);
}

/* ---- strings ---- */

/* The work on a string; empty where there is no such string. */
static void add_string(struct table *table, const struct review *review, bool is_main, int number,
		       char side)
{
	for (size_t i = 0; i < review->string_count; i++) {
		const struct review_string *string = &review->strings[i];
		if (string->is_main == is_main && string->number == number &&
		    string->side == side) {
			table_time(table, (double)string->work.work_us);
			return;
		}
	}
	table_cell(table, "%s", "");
}

static int highest(const struct review *review, bool is_main)
{
	int number = 0;

	for (size_t i = 0; i < review->string_count; i++) {
		const struct review_string *string = &review->strings[i];
		if (string->is_main == is_main && string->number > number)
			number = string->number;
	}
	return number;
}

static void add_string_number(struct table *table, int number, int most)
{
	table_count(table, number <= most ? number : 0);
}

/* Mains to the left, a row a number; crosses beside them in two columns. */
void review_table_strings(const struct review *review, struct table *out)
{
	static const struct table_column columns[] = {
		{"main", true}, {"left", true},  {"right", true}, {"cross", true},
		{"time", true}, {"cross", true}, {"time", true}};
	int mains = highest(review, true), crosses = highest(review, false);
	int half = (crosses + 1) / 2, rows = mains > half ? mains : half;

	table_begin(out, "Work by string", columns, 7);
	for (int row = 1; row <= rows; row++) {
		add_string_number(out, row, mains);
		add_string(out, review, true, row, 'l');
		add_string(out, review, true, row, 'r');
		add_string_number(out, row, half);
		add_string(out, review, false, row <= half ? row : 0, '\0');
		add_string_number(out, row <= half ? row + half : crosses + 1, crosses);
		add_string(out, review, false, row <= half ? row + half : 0, '\0');
	}
}

static void add_halves(struct table *table, const char *strings, const struct review_halves *halves)
{
	if (isnan(halves->first_us))
		return;
	table_cell(table, "%s", strings);
	table_time(table, halves->first_us);
	table_time(table, halves->second_us);
	if (halves->first_us > 0)
		table_cell(table, "%+.0f %%", 100 * (halves->second_us / halves->first_us - 1));
	else
		table_cell(table, "%s", "");
}

void review_table_halves(const struct review *review, struct table *out)
{
	static const struct table_column columns[] = {
		{"a string", false}, {"first half", true}, {"second half", true}, {"change", true}};

	table_begin(out, "Mean work on a string", columns, 4);
	add_halves(out, "mains", &review->mains);
	add_halves(out, "crosses", &review->crosses);
}
