#include "teach/simulated.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* Mean words of the forms of a call, counted in English sentences; those of the reason come on top
 * of `told`, those of a caution are in all. */
struct words {
	int told;
	int reason;
	int brief;
	int question;
	int answer;
	int named;
};

static const struct words words_by_string[TEACH_SKILLS] = {
	[SKILL_PREPARE] = {13, 10, 6, 11, 7, 5},    [SKILL_MOUNT] = {22, 10, 10, 12, 11, 8},
	[SKILL_TENSION] = {18, 11, 15, 8, 12, 14},  [SKILL_FEED] = {12, 13, 4, 6, 8, 3},
	[SKILL_SKIP] = {16, 13, 4, 8, 8, 3},        [SKILL_CLAMP] = {13, 9, 4, 11, 8, 3},
	[SKILL_TIE_OFF] = {21, 11, 13, 11, 12, 9},  [SKILL_KNOT] = {18, 10, 6, 7, 6, 2},
	[SKILL_WEAVE_START] = {21, 11, 4, 7, 9, 2}, [SKILL_WEAVE] = {18, 10, 3, 9, 7, 4},
	[SKILL_BEHIND] = {22, 12, 5, 12, 8, 3},     [SKILL_FINISH] = {13, 11, 4, 9, 6, 5},
};

static const struct words words_by_move[TEACH_SKILLS] = {
	[SKILL_PREPARE] = {13, 10, 6, 11, 7, 5},      [SKILL_MOUNT] = {22, 10, 10, 12, 11, 8},
	[SKILL_TENSION] = {18, 11, 15, 8, 12, 14},    [SKILL_FEED] = {13, 13, 12, 11, 9, 4},
	[SKILL_SKIP] = {14, 13, 10, 10, 9, 3},        [SKILL_CLAMP] = {9, 12, 9, 10, 7, 3},
	[SKILL_TIE_OFF] = {21, 11, 13, 11, 12, 9},    [SKILL_KNOT] = {14, 11, 11, 12, 11, 3},
	[SKILL_WEAVE_START] = {15, 11, 15, 7, 11, 2}, [SKILL_WEAVE] = {17, 11, 4, 10, 7, 4},
	[SKILL_FINISH] = {13, 11, 4, 9, 6, 5},
};

/* What a script would say of each call. */
struct simulated_job simulated_job_new(const char *detail)
{
	struct simulated_job job = {0};
	struct plan plan;
	struct faults faults = {0};
	char *text = memory_format("job: practice\npattern: open-16x19\nstringer: trainee\n"
				   "method: two-piece\ntension: { mains: 54 lb, crosses: 52 lb }\n"
				   "string: { mains: { name: a }, crosses: { name: b } }\n"
				   "detail: %s\n",
				   detail);

	setenv("PULLCALL_PATTERNS", SOURCE_DIR "/patterns", 1);
	if (!plan_read(&plan, "practice", text, NULL, &MACHINE_DEFAULT, &faults)) {
		faults_print(&faults, stderr);
		abort();
	}
	bool moves = plan.job->detail == DETAIL_LEARNER;
	job.words = moves ? words_by_move : words_by_string;
	job.count = plan.sequence->call_count;
	job.lines = memory_new((size_t)job.count, sizeof(job.lines[0]));
	for (int i = 0; i < job.count; i++) {
		int skill = call_skill(plan.sequence, i);
		job.lines[i].skill = skill;
		job.lines[i].fading =
			teach_fading(call_kind_name(plan.sequence->calls[i].kind), skill);
	}
	plan_free(&plan);
	faults_free(&faults);
	free(text);
	return job;
}

void simulated_job_free(struct simulated_job *job)
{
	free(job->lines);
	*job = (struct simulated_job){0};
}

static const int64_t day_us = 24 * 3600 * SECOND_US;
static const int64_t call_us = 15 * SECOND_US;
static const double words_a_second = 160.0 / 60; /* ordinary speech: 150 to 175 a minute */

/* Power law of practice, T(n) = T1 n^-alpha (Newell & Rosenbloom 1981); alpha of an 80 % curve,
 * log2(1 / 0.8). T1 and the share of errors at n = 1 are our choice. */
static const double power_alpha = 0.3219;
static const double power_first_s = 12;
static const double power_first_error_percent = 10;

struct simulated simulated_new(const struct simulated_job *job, enum simulated_kind kind,
			       int error_percent, uint64_t seed)
{
	struct simulated simulated = {
		.job = job,
		.kind = kind,
		.error_percent = error_percent,
		.random = {.state = seed},
		.now_us = 1700000000 * SECOND_US,
		.racket = 1,
	};

	teach_begin(&simulated.trainee);
	return simulated;
}

int simulated_days_before(enum simulated_kind kind, int racket)
{
	if (racket == 1)
		return 0;
	if (kind == SIMULATED_RARELY)
		return 20;
	if (kind == SIMULATED_FORGETS && racket == 16)
		return 21;
	if (kind == SIMULATED_POWER_LAW && racket == 21)
		return 28;
	return 1;
}

static double error_percent(const struct simulated *simulated, int skill, enum level said)
{
	switch (simulated->kind) {
	case SIMULATED_NEVER_SKIP:
		return skill == SKILL_SKIP ? 75 : 0;
	case SIMULATED_FORGETS:
		return simulated->away ? 50 : 0;
	case SIMULATED_CONSTANT:
		return simulated->error_percent;
	case SIMULATED_POWER_LAW:
		return power_first_error_percent *
		       pow(simulated->practised[skill] + 1, -power_alpha);
	case SIMULATED_GUESSES:
		return said >= LEVEL_SHORT ? 2 : 50;
	case SIMULATED_PERFECT:
	case SIMULATED_RARELY:
	case SIMULATED_KINDS:
		break;
	}
	return 0;
}

static double thinks_s(const struct simulated *simulated, int skill)
{
	if (simulated->kind != SIMULATED_POWER_LAW)
		return 1;
	return power_first_s * pow(simulated->practised[skill] + 1, -power_alpha);
}

static void give(struct simulated *simulated, enum journal_kind kind, int call, int skill)
{
	struct teach_event event = {
		.wall_us = simulated->now_us,
		.racket = simulated->racket,
		.kind = kind,
		.call = call,
		.skill = skill,
		.detail = kind == JOURNAL_ANSWERED ? TEACH_ANSWER_LATE : NULL,
	};

	simulated->events++;
	teach_event(&simulated->trainee, &event);
	if (simulated->heard != NULL)
		simulated->heard(simulated->owner, &event);
}

static int words_of(const struct words *of, enum level said)
{

	switch (said) {
	case LEVEL_NAMED:
		return of->named;
	case LEVEL_ASKED:
		return of->question + of->answer;
	case LEVEL_SHORT:
		return of->brief;
	case LEVEL_REASON:
		return of->told + of->reason;
	case LEVEL_TOLD:
	case LEVELS:
		break;
	}
	return of->told;
}

/* A question. Returns whether the call was said in full afterwards. */
static bool answer(struct simulated *simulated, int skill, int call, struct teach_manner manner,
		   bool errs)
{
	double delay_s = (double)manner.delay_us / (double)SECOND_US;

	if (manner.delay_us > 0 && thinks_s(simulated, skill) > delay_s) {
		give(simulated, JOURNAL_ANSWERED, call, skill);
		give(simulated, JOURNAL_RIGHT, call, skill);
		return false;
	}
	/* "I had not" is a double tap, and its first press has been "I had it". */
	give(simulated, JOURNAL_RIGHT, call, skill);
	if (!errs)
		return false;
	give(simulated, JOURNAL_WRONG, call, skill);
	give(simulated, JOURNAL_NEXT, call, skill);
	return true;
}

/* Returns whether the call was said in full again. */
static bool do_told(struct simulated *simulated, int skill, int call, bool errs)
{
	if (errs)
		give(simulated, JOURNAL_AGAIN, call, skill);
	give(simulated, JOURNAL_NEXT, call, skill);
	return errs;
}

static void do_call(struct simulated *simulated, int call, struct simulated_racket *seen)
{
	const struct simulated_line *line = &simulated->job->lines[call - 1];
	struct teach_manner manner =
		teach_manner(&simulated->trainee, simulated->racket, line->skill, line->fading);
	double percent = error_percent(simulated, line->skill, manner.said);
	bool errs = random_between(&simulated->random, 0, 99999) < percent * 1000;
	bool full = manner.said >= LEVEL_TOLD;
	bool must =
		line->fading == FADES_NEVER || (line->fading == FADES_WITH_CLAMP &&
						simulated->trainee.skills[SKILL_CLAMP].level > 2);

	simulated->now_us += call_us;
	bool again = manner.said == LEVEL_ASKED ? answer(simulated, line->skill, call, manner, errs)
						: do_told(simulated, line->skill, call, errs);
	const struct words *words = &simulated->job->words[line->skill];
	int said = words_of(words, manner.said) + (again ? words->told : 0);
	seen->speech_s += said / words_a_second;
	seen->calls++;
	seen->named += manner.said == LEVEL_NAMED;
	seen->never_fade += must;
	seen->in_full += must && full;
	simulated->practised[line->skill]++;
}

/* Of what was practised a quarter is left after a long time away. */
static void be_away(struct simulated *simulated, int days)
{
	simulated->now_us += days * day_us;
	teach_rest(&simulated->trainee, simulated->now_us);
	simulated->away = days > 14;
	for (int i = 0; simulated->away && i < TEACH_SKILLS; i++)
		simulated->practised[i] /= 4;
}

struct simulated_racket simulated_string(struct simulated *simulated, int days_before)
{
	struct simulated_racket seen = {0};

	be_away(simulated, days_before);
	for (int i = 0; i < TEACH_SKILLS; i++)
		seen.begun[i] = simulated->trainee.skills[i].level;
	for (int call = 1; call <= simulated->job->count; call++)
		do_call(simulated, call, &seen);
	give(simulated, JOURNAL_FINISHED, 0, SKILL_FINISH);
	for (int i = 0; i < TEACH_SKILLS; i++)
		seen.levels[i] = simulated->trainee.skills[i].level;
	simulated->racket++;
	return seen;
}
