#include "teach/teach.h"

#include "sequence/sequence.h"

_Static_assert(TEACH_SKILLS == (int)SKILLS, "the skills of a sequence");

static const int64_t rest_us = TEACH_REST_DAYS * 24 * 3600 * SECOND_US;

/* Where a racket is kept, or -1. */
static int racket_slot(const struct trainee *trainee, int64_t racket)
{
	for (int i = 0; i < TEACH_OPEN_RACKETS; i++)
		if (trainee->rackets[i].touched != 0 && trainee->rackets[i].racket == racket)
			return i;
	return -1;
}

static struct teach_racket *open_racket(struct trainee *trainee, int64_t racket)
{
	struct teach_racket *rackets = trainee->rackets;
	int slot = racket_slot(trainee, racket);

	if (slot >= 0)
		return &rackets[slot];
	slot = 0;
	for (int i = 1; i < TEACH_OPEN_RACKETS; i++)
		if (rackets[i].touched < rackets[slot].touched)
			slot = i;
	rackets[slot] = (struct teach_racket){.racket = racket};
	return &rackets[slot];
}

static void move_level(struct teach_skill *skill, int by, enum teach_why why, int64_t wall_us)
{
	skill->level = (enum level)((int)skill->level + by);
	skill->why = why;
	skill->since_us = wall_us;
	skill->run = 0;
}

/* At most one level a racket, and none in a racket that brought the level up. */
static void lower(struct teach_skill *skill, struct teach_tally *tally, enum teach_why why,
		  int64_t wall_us)
{
	if (tally->lowered || tally->raised || skill->level == LEVEL_NAMED)
		return;
	tally->lowered = true;
	move_level(skill, -1, why, wall_us);
}

static void count_rest(struct teach_skill *skill, int64_t now_us)
{
	if (skill->rest_from_us == 0 || now_us <= skill->rest_from_us)
		return;
	/* Unsigned: the times of a journal may be anything. */
	uint64_t periods = ((uint64_t)now_us - (uint64_t)skill->rest_from_us) / (uint64_t)rest_us;
	for (; periods > 0 && skill->level < LEVEL_REASON; periods--) {
		skill->rest_from_us += rest_us;
		skill->rights = 0;
		move_level(skill, 1, TEACH_WHY_REST, skill->rest_from_us);
	}
	skill->rest_from_us =
		(int64_t)((uint64_t)skill->rest_from_us + periods * (uint64_t)rest_us);
}

static void leave_call(struct trainee *trainee, struct teach_racket *racket, int call, int skill)
{
	racket->furthest = call;
	racket->skills[skill].reasons += trainee->skills[skill].level == LEVEL_REASON;
}

/* Raises the level at most once a racket, even if this racket lowered it before. */
static void count_fault(struct trainee *trainee, struct teach_racket *racket,
			const struct teach_event *event, int which)
{
	struct teach_skill *skill = &trainee->skills[which];
	struct teach_tally *tally = &racket->skills[which];
	bool named = skill->level == LEVEL_NAMED;
	int enough = named ? TEACH_FAULTS_NAMED : TEACH_FAULTS;

	skill->rest_from_us = event->wall_us;
	skill->run = 0;
	skill->rights = 0;
	skill->misses++;
	skill->last_fault = *event;
	tally->faults++;
	if (tally->raised || skill->level == LEVEL_REASON ||
	    (tally->faults < enough && skill->misses < TEACH_FAULTS))
		return;
	tally->raised = true;
	move_level(skill, 1, named ? TEACH_WHY_NAMED : TEACH_WHY_FAULTS, event->wall_us);
}

/* Counts the call that was left without a fault, now that it cannot be taken back any more. */
static void count_passed(struct trainee *trainee, struct teach_racket *racket, int64_t wall_us)
{
	struct teach_skill *skill = &trainee->skills[racket->passed_skill];
	struct teach_tally *tally = &racket->skills[racket->passed_skill];

	leave_call(trainee, racket, racket->passed, racket->passed_skill);
	racket->passed = 0;
	tally->done++;
	skill->run++;
	skill->rights += racket->passed_right;
	skill->misses = 0;
	if (skill->run >= TEACH_RUN)
		lower(skill, tally, TEACH_WHY_RUN, wall_us);
}

static void finish(struct trainee *trainee, struct teach_racket *racket, int64_t wall_us)
{
	for (int i = 0; i < TEACH_SKILLS; i++)
		if (racket->skills[i].done > 0 && racket->skills[i].faults == 0)
			lower(&trainee->skills[i], &racket->skills[i], TEACH_WHY_CLEAN, wall_us);
	racket->touched = 0;
}

static void pass(struct trainee *trainee, struct teach_racket *racket,
		 const struct teach_event *event)
{
	trainee->skills[event->skill].rest_from_us = event->wall_us;
	if (event->call <= racket->furthest)
		return;
	racket->passed = event->call;
	racket->passed_skill = event->skill;
	racket->passed_right = event->kind == TEACH_RIGHT;
}

static void miss(struct trainee *trainee, struct teach_racket *racket,
		 const struct teach_event *event)
{
	if (event->call == racket->missed)
		return;
	racket->missed = event->call;
	if (event->call == racket->passed)
		racket->passed = 0;
	if (event->call > racket->furthest)
		leave_call(trainee, racket, event->call, event->skill);
	count_fault(trainee, racket, event, event->skill);
}

void teach_rest(struct trainee *trainee, int64_t now_us)
{
	for (int i = 0; i < TEACH_SKILLS; i++)
		count_rest(&trainee->skills[i], now_us);
}

void teach_begin(struct trainee *trainee)
{
	*trainee = (struct trainee){0};
	for (int i = 0; i < TEACH_SKILLS; i++)
		trainee->skills[i].level = LEVEL_REASON;
}

void teach_event(struct trainee *trainee, const struct teach_event *event)
{
	struct teach_racket *racket = open_racket(trainee, event->racket);

	racket->touched = ++trainee->events;
	teach_rest(trainee, event->wall_us);
	if (racket->passed != 0 && racket->passed != event->call)
		count_passed(trainee, racket, event->wall_us);
	switch (event->kind) {
	case TEACH_DONE:
	case TEACH_RIGHT:
		pass(trainee, racket, event);
		break;
	case TEACH_FOUND:
		count_fault(trainee, racket, event, work_fault_skill(event->fault));
		break;
	case TEACH_FINISHED:
		finish(trainee, racket, event->wall_us);
		break;
	default: /* a fault at a call */
		miss(trainee, racket, event);
		break;
	}
}

static bool never_fades(const struct trainee *trainee, unsigned holds)
{
	if ((holds & (LINE_CAUTION | LINE_TENSION | LINE_SKIP | LINE_LAST_CHECK)) != 0)
		return true;
	return (holds & LINE_CLAMP_ORDER) != 0 && trainee->skills[SKILL_CLAMP].level > LEVEL_SHORT;
}

static int64_t answer_delay_us(const struct teach_skill *skill)
{
	int seconds = TEACH_DELAY_S + skill->rights / TEACH_DELAY_RIGHT * TEACH_DELAY_STEP_S;

	if (skill->misses > 0)
		return 0;
	return (seconds < TEACH_DELAY_MAX_S ? seconds : TEACH_DELAY_MAX_S) * SECOND_US;
}

struct teach_manner teach_manner(const struct trainee *trainee, int64_t racket, int skill,
				 unsigned holds)
{
	int slot = racket_slot(trainee, racket);
	int reasons = slot < 0 ? 0 : trainee->rackets[slot].skills[skill].reasons;
	struct teach_manner manner = {.said = trainee->skills[skill].level};

	if (manner.said < LEVEL_TOLD && never_fades(trainee, holds))
		manner.said = LEVEL_TOLD;
	if (manner.said == LEVEL_REASON && reasons >= TEACH_REASONS)
		manner.said = LEVEL_TOLD;
	if (manner.said == LEVEL_ASKED)
		manner.delay_us = answer_delay_us(&trainee->skills[skill]);
	return manner;
}
