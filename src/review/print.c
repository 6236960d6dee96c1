/* The review of one job as text: at most 80 columns, no colour. */
#include "review/review.h"

#include "base/base.h"

#include <math.h>
#include <string.h>

enum { COLUMNS = 80, TIME_COLUMNS = 8 };

static void print_head(const struct review *review, FILE *out)
{
	const struct journal_place *job = &review->job;
	char begun[WORDS_DATE_MAX], last[WORDS_DATE_MAX];

	words_print(out, job->name, 40, false);
	fprintf(out, "  (job %lld)\n", (long long)job->job);
	words_print(out, job->pattern, 24, false);
	fprintf(out, ", %s, strung by ", job->method);
	words_print(out, job->stringer, 30, false);
	fprintf(out, "\nbegun %s, %s %s", words_date(job->created_us, begun),
		job->open ? "open, last heard of" : journal_kind_name(job->last),
		words_date(job->last_wall_us, last));
	fprintf(out, ", %d of %d calls done\n\n", job->call - 1, job->calls);
}

static void print_counts(const struct review_work *work, FILE *out)
{
	if (work->repeats)
		fprintf(out, " %6d", work->repeats);
	else
		fprintf(out, " %6s", "-");
	if (work->backs)
		fprintf(out, " %6d\n", work->backs);
	else
		fprintf(out, " %6s\n", "-");
}

static void print_phases(const struct review *review, FILE *out)
{
	struct review_work all = {
		.work_us = review->work_us, .repeats = review->repeats, .backs = review->backs};
	char time[WORDS_TIME_MAX];

	fprintf(out, "%-12s %6s %8s %7s %6s %6s\n", "phase", "calls", "time", "share", "again",
		"back");
	for (size_t i = 0; i < review->phase_count; i++) {
		const struct review_work *work = &review->phases[i].work;
		double share = review->work_us
				       ? 100.0 * (double)work->work_us / (double)review->work_us
				       : 0;
		words_print(out, review->phases[i].name, 12, true);
		fprintf(out, " %6d %8s %5.0f %%", work->calls, words_time(work->work_us, time),
			share);
		print_counts(work, out);
		all.calls += work->calls;
	}
	fprintf(out, "%-12s %6d %8s %7s", "work", all.calls, words_time(all.work_us, time), "");
	print_counts(&all, out);
}

static void print_breaks(const struct review *review, FILE *out)
{
	char time[WORDS_TIME_MAX], date[WORDS_DATE_MAX];
	int pauses = 0, times_away = 0;

	for (size_t i = 0; i < review->break_count; i++) {
		pauses += !review->breaks[i].away;
		times_away += review->breaks[i].away;
	}
	if (pauses)
		fprintf(out, "%-12s %6d %8s  not in the work above\n", "paused", pauses,
			words_time(review->pause_us, time));
	if (times_away)
		fprintf(out, "%-12s %6d %8s  between runs of the program\n", "away", times_away,
			words_time(review->away_us, time));
	for (size_t i = 0; i < review->break_count; i++) {
		const struct review_break *found = &review->breaks[i];
		fprintf(out, "  %s %8s  %s at call %d\n", words_date(found->wall_us, date),
			words_time(found->length_us, time), found->away ? "away" : "paused",
			found->call);
	}
	if (review->undos)
		fprintf(out, "%-12s %6d  steps\n", "taken back", review->undos);
	if (review->faults)
		fprintf(out, "%-12s %6d  of voice or pedal\n", "faults", review->faults);
}

/* The work of one string right-aligned, or blanks where there is no such string. */
static void print_string_time(const struct review *review, bool is_main, int number, char side,
			      FILE *out)
{
	char time[WORDS_TIME_MAX];

	for (size_t i = 0; i < review->string_count; i++) {
		const struct review_string *string = &review->strings[i];
		if (string->is_main == is_main && string->number == number &&
		    string->side == side) {
			fprintf(out, "%*s", TIME_COLUMNS, words_time(string->work.work_us, time));
			return;
		}
	}
	fprintf(out, "%*s", TIME_COLUMNS, "");
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

static void print_cross(const struct review *review, int number, int crosses, FILE *out)
{
	if (number > crosses)
		return;
	fprintf(out, "   %6d ", number);
	print_string_time(review, false, number, '\0', out);
}

/* Mains to the left, a row a number; crosses beside them in two columns. */
static void print_strings(const struct review *review, FILE *out)
{
	int mains = highest(review, true), crosses = highest(review, false);
	int half = (crosses + 1) / 2, rows = mains > half ? mains : half;

	if (rows == 0)
		return;
	fprintf(out, "\n%-6s%*s%*s", "main", TIME_COLUMNS, "left", TIME_COLUMNS, "right");
	fprintf(out, crosses ? "      cross\n" : "\n");
	for (int row = 1; row <= rows; row++) {
		if (row <= mains) {
			fprintf(out, "%4d  ", row);
			print_string_time(review, true, row, 'l', out);
			print_string_time(review, true, row, 'r', out);
		} else {
			fprintf(out, "%*s", 6 + 2 * TIME_COLUMNS, "");
		}
		if (row <= half)
			print_cross(review, row, crosses, out);
		if (row <= half)
			print_cross(review, row + half, crosses, out);
		fputc('\n', out);
	}
}

static void print_halves(const char *strings, const struct review_halves *halves, FILE *out)
{
	if (isnan(halves->first_us))
		return;
	fprintf(out, "%s: first half %.1f s a string, second half %.1f s", strings,
		halves->first_us / SECOND_US, halves->second_us / SECOND_US);
	if (halves->first_us > 0)
		fprintf(out, " (%+.0f %%)", 100 * (halves->second_us / halves->first_us - 1));
	fputc('\n', out);
}

static void print_calls(const char *title, const struct review_call *calls, size_t count, FILE *out)
{
	char time[WORDS_TIME_MAX];

	if (count == 0)
		return;
	fprintf(out, "\n%-18s %8s  again back\n", title, "time");
	for (size_t i = 0; i < count; i++) {
		const struct review_call *call = &calls[i];
		fprintf(out, "call %-13d %8s %6d %4d  ", call->n,
			words_time(call->work.work_us, time), call->work.repeats, call->work.backs);
		words_print(out, call->text, COLUMNS - 41, false);
		fputc('\n', out);
	}
}

void review_print(const struct review *review, FILE *out)
{
	print_head(review, out);
	print_phases(review, out);
	print_breaks(review, out);
	print_strings(review, out);
	if (!isnan(review->mains.first_us) || !isnan(review->crosses.first_us))
		fputc('\n', out);
	print_halves("mains", &review->mains, out);
	print_halves("crosses", &review->crosses, out);
	print_calls("slowest", review->slowest, review->slowest_count, out);
	print_calls("again or back", review->unsure, review->unsure_count, out);
	if (review->response_count)
		fprintf(out,
			"\nfirst sound after the pedal: median %.0f ms, 95 %% within %.0f ms (%zu "
			"presses)\n",
			review->response_median_us / 1000, review->response_p95_us / 1000,
			review->response_count);
}
