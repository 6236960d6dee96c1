#include "report/shop.h"

#include "base/base.h"
#include "bench/bench.h"
#include "phrase/phrase.h"
#include "random.h"
#include "script/script.h"
#include "sequence/sequence.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const int64_t shop_opened_us = 1790078400 * SECOND_US; /* 2026-09-22 12:00 UTC */

static _Noreturn void give_up(const char *what, const struct faults *faults)
{
	fprintf(stderr, "%s\n", what);
	if (faults)
		faults_print(faults, stderr);
	exit(1);
}

static char *slurp(const char *path)
{
	FILE *in = fopen(path, "r");
	char *bytes = NULL;
	size_t room = 0;

	if (!in || getdelim(&bytes, &room, EOF, in) < 0)
		give_up(path, NULL);
	fclose(in);
	return bytes;
}

static void read_plan(const struct shop_job *job, struct plan *plan)
{
	char *pattern_file = memory_format(SOURCE_DIR "/patterns/%s.yaml", job->pattern);
	char *pattern = slurp(pattern_file);
	const char *tension = strncmp(job->pattern, "badminton", 9) == 0 ? "10.5"
			      : strncmp(job->pattern, "squash", 6) == 0  ? "12"
									 : "24";
	char *file = memory_copy("/home/bench/invented.yaml");
	char *text = memory_format("job: invented\npattern: %s\nstringer: %s\nmethod: two-piece\n"
				   "tension: { mains: %s kg, crosses: %s kg }\n"
				   "string:\n  mains: { name: co-polyester 1.25 }\n"
				   "  crosses: { name: multifilament 1.30 }\ndetail: %s\n",
				   job->pattern, job->stringer, tension, tension, job->detail);
	struct faults faults = {0};

	if (!plan_read(plan, file, text, pattern, &MACHINE_DEFAULT, &faults))
		give_up(job->name, &faults);
	faults_free(&faults);
	free(pattern_file);
	free(pattern);
	free(file);
	free(text);
}

static void begin(struct journal *journal, const struct shop_job *job, const struct plan *plan)
{
	struct faults faults = {0};
	struct phrasebook *book = phrasebook_read(yaml_read(SOURCE_DIR "/voice/en.yaml", &faults));
	struct bench *bench = bench_new();

	if (!book)
		give_up("voice/en.yaml", &faults);
	struct script *script = script_make(plan, bench, book);
	script->job = job->name;
	script->program = "pullcall test";
	if (journal_begin(journal, script, shop_opened_us + job->day * 86400 * SECOND_US) !=
	    JOURNAL_OK)
		give_up(journal_message(journal), NULL);
	script_free(script);
	bench_free(bench);
	phrasebook_free(book);
	faults_free(&faults);
}

/* The work under way; times since the job was begun. */
struct bench_work {
	struct journal *journal;
	const struct shop_job *job;
	struct random random;
	int64_t steady_us; /* of the boot clock too: this machine never sleeps */
	int64_t wall_us;
};

static void append(struct bench_work *work, enum journal_kind kind, int call, bool working)
{
	bool pressed = kind == JOURNAL_NEXT || kind == JOURNAL_AGAIN || kind == JOURNAL_BACK;
	struct journal_event event = {
		.kind = kind,
		.call = call,
		.working = working,
		.steady_us = work->steady_us,
		.boot_us = work->steady_us,
		.wall_us = work->wall_us,
		.response_us =
			pressed ? random_between(&work->random, 18000, 32000) : JOURNAL_NO_RESPONSE,
	};

	if (journal_append(work->journal, &event) != JOURNAL_OK)
		give_up(journal_message(work->journal), NULL);
}

static void pass(struct bench_work *work, double seconds)
{
	int64_t us = (int64_t)(seconds * SECOND_US);

	work->steady_us += us;
	work->wall_us += us;
}

static double chance(struct bench_work *work)
{
	return random_between(&work->random, 0, 999999) / 1e6;
}

/* Seconds for a call: most near the usual, a few far above it. */
static double seconds_for(struct bench_work *work, const struct plan *plan, int call)
{
	enum phase phase = call_phase(plan->sequence, call - 1);
	int moves = plan->sequence->calls[call - 1].last - plan->sequence->calls[call - 1].first;
	double usual = phase == PHASE_CROSSES ? 22 + 6 * moves
		       : phase == PHASE_MAINS ? 8 + 4 * moves
					      : 25;
	double stray = 0.7 + 0.6 * chance(work) + (chance(work) < 0.06 ? 1.2 : 0);

	return usual * stray * work->job->pace;
}

static void interrupt(struct bench_work *work, int call)
{
	append(work, JOURNAL_PAUSE, call, false);
	pass(work, 40 + 400 * chance(work));
	append(work, JOURNAL_RESUME, call, true);
}

static void doubt(struct bench_work *work, int call)
{
	append(work, JOURNAL_BACK, call - 1, true);
	pass(work, 6 + 10 * chance(work));
	append(work, JOURNAL_NEXT, call, true);
}

static void work_on(struct bench_work *work, const struct plan *plan, int call)
{
	double seconds = seconds_for(work, plan, call);

	pass(work, 0.4 * seconds);
	if (!work->job->smooth && chance(work) < 0.05)
		append(work, JOURNAL_AGAIN, call, true);
	if (!work->job->smooth && chance(work) < 0.04)
		interrupt(work, call);
	if (!work->job->smooth && call > 1 && chance(work) < 0.04)
		doubt(work, call);
	pass(work, 0.6 * seconds);
}

static void sleep_over(struct bench_work *work, int call)
{
	struct journal_job open = {0};

	append(work, JOURNAL_STOPPED, call, false);
	if (journal_find(work->journal, NULL, &open) != JOURNAL_OK ||
	    journal_resume(work->journal, open.number) != JOURNAL_OK)
		give_up(journal_message(work->journal), NULL);
	journal_job_free(&open);
	work->steady_us = 90 * SECOND_US; /* the machine was off */
	work->wall_us += 70000 * SECOND_US;
	append(work, JOURNAL_STARTED, call, true);
}

void shop_string(struct journal *journal, const struct shop_job *job)
{
	struct plan plan;
	struct bench_work work = {
		.journal = journal,
		.job = job,
		.random = {job->seed},
		.steady_us = 1000 * SECOND_US,
		.wall_us = shop_opened_us + job->day * 86400 * SECOND_US,
	};

	read_plan(job, &plan);
	begin(journal, job, &plan);
	append(&work, JOURNAL_STARTED, 1, true);
	int calls = plan.sequence->call_count;
	for (int call = 1; call <= calls; call++) {
		if (call * 3 == calls / 3 * 3 && job->two_runs)
			sleep_over(&work, call);
		if (job->left_open && call > calls * 2 / 3)
			break;
		work_on(&work, &plan, call);
		append(&work, call < calls ? JOURNAL_NEXT : JOURNAL_FINISHED, call + 1,
		       call < calls);
	}
	plan_free(&plan);
}

static void add_jobs(struct journal *journal, const char *stringer, const char *pattern, int jobs,
		     double pace, double learning)
{
	for (int n = 1; n <= jobs; n++) {
		char *name = memory_format("%s-%s-%02d", stringer, pattern, n);
		struct shop_job job = {
			.name = name,
			.stringer = stringer,
			.pattern = pattern,
			.detail = "bench",
			.day = 3 * n + (int)strlen(stringer),
			.pace = pace * pow(n, learning),
			.seed = (uint64_t)n * 7919 + strlen(name),
			.smooth = n % 4 == 0,
		};
		shop_string(journal, &job);
		free(name);
	}
}

const struct shop_job shop_usual = {
	.name = "ridge-court-0042",
	.stringer = "apprentice",
	.pattern = "open-16x19",
	.detail = "bench",
	.pace = 1.3,
	.seed = 42,
	.two_runs = true,
};

void shop_write_jobs(const char *path)
{
	struct journal *journal = NULL;
	char *error = NULL;
	const struct shop_job open = {
		.name = "still <open> & \"odd\"",
		.stringer = "jo",
		.pattern = "badminton-22x22",
		.detail = "learner",
		.day = 60,
		.pace = 1,
		.seed = 5,
		.left_open = true,
	};

	if (journal_open(path, JOURNAL_WRITE, &journal, &error) != JOURNAL_OK)
		give_up(error, NULL);
	shop_string(journal, &shop_usual);
	add_jobs(journal, "mira", "open-16x19", 12, 0.9, 0);
	add_jobs(journal, "apprentice", "open-16x19", 9, 1.6, -0.25);
	add_jobs(journal, "jo", "badminton-22x22", 4, 1.1, 0);
	add_jobs(journal, "mira", "dense-18x20", 2, 1, 0);
	shop_string(journal, &open);
	journal_close(journal);
}
