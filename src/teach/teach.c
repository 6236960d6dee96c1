/* From events to levels, from levels to the way a line is said; stations. */
#include "teach/teach.h"

#include "sequence/sequence.h"

#include <string.h>

_Static_assert(TEACH_SKILLS == (int)SKILLS, "the skills of a sequence");

/* ---- names ---- */

const char *const level_names[] = {
	[LEVEL_NAMED] = "named", [LEVEL_ASKED] = "asked",   [LEVEL_SHORT] = "short",
	[LEVEL_TOLD] = "told",   [LEVEL_REASON] = "reason", [LEVELS] = NULL,
};

const char *const station_names[] = {
	[STATION_MOUNTED] = "mounted",       [STATION_CENTRE_MAINS] = "centre-mains",
	[STATION_MAINS_DONE] = "mains-done", [STATION_THIRD_CROSS] = "third-cross",
	[STATION_HALF_WAY] = "half-way",     [STATION_BEFORE_LAST_KNOT] = "before-last-knot",
	[STATION_FINISHED] = "finished",     [STATIONS] = NULL,
};

static const struct {
	const char *name;
	enum skill skill;
} work_faults[WORK_FAULTS] = {
	[WORK_MISWEAVE] = {"misweave", SKILL_WEAVE},
	[WORK_WRONG_HOLE] = {"wrong-hole", SKILL_SKIP},
	[WORK_CROSSED_LOOP] = {"crossed-loop", SKILL_FEED},
	[WORK_CLAMP_SLIP] = {"clamp-slip", SKILL_CLAMP},
	[WORK_NOTCH] = {"notch", SKILL_WEAVE}, /* a cross that was not kept moving */
	[WORK_CROOKED] = {"crooked", SKILL_WEAVE},
	[WORK_KNOT] = {"knot", SKILL_KNOT},
	[WORK_TAIL] = {"tail", SKILL_FINISH},
	[WORK_AWL] = {"awl", SKILL_TIE_OFF},
	[WORK_UNEVEN] = {"uneven", SKILL_FINISH},
	[WORK_FRAME] = {"frame", SKILL_MOUNT},
};

const char *work_fault_name(enum work_fault fault)
{
	return work_faults[fault].name;
}

int teach_skill(const char *name)
{
	for (enum skill skill = 0; skill < SKILLS; skill++)
		if (strcmp(skill_names[skill], name) == 0)
			return (int)skill;
	return -1;
}

const char *teach_skill_name(int skill)
{
	return skill_names[(enum skill)skill];
}

bool work_fault_parse(const char *text, enum work_fault *out)
{
	size_t length = strcspn(text, " ");

	for (enum work_fault fault = 0; fault < WORK_FAULTS; fault++)
		if (strlen(work_faults[fault].name) == length &&
		    strncmp(work_faults[fault].name, text, length) == 0) {
			*out = fault;
			return true;
		}
	return false;
}

/* ---- the fold ---- */

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
	racket->passed_right = event->kind == JOURNAL_RIGHT;
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
	enum journal_kind kind = event->kind;
	const char *detail = event->detail ? event->detail : "";
	enum work_fault fault = WORK_MISWEAVE;
	bool found = kind == JOURNAL_FOUND && work_fault_parse(detail, &fault);
	bool finished = kind == JOURNAL_FINISHED;
	bool passed = kind == JOURNAL_NEXT || kind == JOURNAL_RIGHT;
	bool missed = kind == JOURNAL_WRONG || kind == JOURNAL_AGAIN || kind == JOURNAL_BACK ||
		      (kind == JOURNAL_ANSWERED && strcmp(detail, TEACH_ANSWER_LATE) == 0);

	if (!found && !finished && (event->skill < 0 || !(passed || missed)))
		return;
	struct teach_racket *racket = open_racket(trainee, event->racket);
	racket->touched = ++trainee->events;
	teach_rest(trainee, event->wall_us);
	if (racket->passed != 0 && racket->passed != event->call)
		count_passed(trainee, racket, event->wall_us);
	if (passed)
		pass(trainee, racket, event);
	else if (missed)
		miss(trainee, racket, event);
	else if (found)
		count_fault(trainee, racket, event, (int)work_faults[fault].skill);
	else
		finish(trainee, racket, event->wall_us);
}

void teach_explain(const struct teach_skill *skill, struct text *out)
{
	static const struct {
		int number; /* 0: none is said */
		const char *text;
	} whys[] = {
		[TEACH_WHY_NEW] = {0, "no history"},
		[TEACH_WHY_RUN] = {TEACH_RUN, "calls in a row without a fault"},
		[TEACH_WHY_CLEAN] = {1, "racket without a fault"},
		[TEACH_WHY_FAULTS] = {TEACH_FAULTS, "faults in one racket or in a row"},
		[TEACH_WHY_NAMED] = {TEACH_FAULTS_NAMED, "fault when only the name was said"},
		[TEACH_WHY_REST] = {TEACH_REST_DAYS, "days without practice"},
	};

	if (whys[skill->why].number > 0)
		text_format(out, "%d ", whys[skill->why].number);
	text_add(out, whys[skill->why].text);
	if (skill->run > 0)
		text_format(out, "; %d without a fault since", skill->run);
}

/* ---- the journal ---- */

enum journal_status teach_history(struct journal *journal, const char *stringer,
				  struct trainee *trainee,
				  void (*each)(void *owner, const struct teach_event *event),
				  void *owner)
{
	static const char sql[] =
		"SELECT r.job, r.time_us, r.kind, r.n, c.skill, r.detail, c.kind FROM (SELECT e.job, e.seq, "
		"e.kind, e.detail, e.call - (e.kind IN ('next', 'right')) AS n, j.uuid, "
		"max(e.wall_us) OVER (PARTITION BY e.job ORDER BY e.seq) AS time_us "
		"FROM job AS j JOIN event AS e ON e.job = j.id WHERE j.id IN " TEACH_JOBS
		" AND e.kind IN ('next', 'right', 'wrong', 'answered', 'again', 'back', 'found', "
		"'passed', 'finished')) AS r "
		"LEFT JOIN call AS c ON c.job = r.job AND c.n = r.n ORDER BY time_us, uuid, seq";
	const struct journal_field fields[] = {field_text("stringer", stringer), {0}};
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_query(journal, sql, fields, &row);

	teach_begin(trainee);
	while (status == JOURNAL_OK && (status = journal_step(journal, row, &more)) == JOURNAL_OK &&
	       more) {
		const char *skill = (const char *)sqlite3_column_text(row, 4);
		struct teach_event event = {
			.racket = sqlite3_column_int64(row, 0),
			.wall_us = sqlite3_column_int64(row, 1),
			.call = sqlite3_column_int(row, 3),
			.skill = skill ? teach_skill(skill) : -1,
			.detail = (const char *)sqlite3_column_text(row, 5),
			.call_kind = (const char *)sqlite3_column_text(row, 6),
		};
		if (!journal_kind_parse((const char *)sqlite3_column_text(row, 2), &event.kind))
			continue;
		teach_event(trainee, &event);
		if (each)
			each(owner, &event);
	}
	sqlite3_finalize(row);
	return status;
}

/* ---- how a line is said ---- */

/* Calls with a caution that only the full sentence holds, those that set the machine, and the check
 * before the last knot. */
static const enum call_kind never_fading[] = {
	CALL_CHECK_EYES, CALL_INSPECT_FRAME, CALL_LOCK,        CALL_TIE_OFF,
	CALL_TRIM,       CALL_SET_TENSION,   CALL_CHECK_WEAVE, CALL_KINDS,
};

/* Calls of a pull, whose full sentence says to clamp before the release. */
static const enum call_kind pulls[] = {
	CALL_CENTRE_MAIN, CALL_CENTRE_BEYOND, CALL_MAIN,      CALL_CROSS_BEHIND, CALL_CROSS_PULL,
	CALL_PULL_CROSS,  CALL_PULL_CROSSES,  CALL_LATE_MAIN, CALL_KINDS,
};

static bool is_among(const char *kind, const enum call_kind *kinds)
{
	while (*kinds != CALL_KINDS && strcmp(kind, call_kind_name(*kinds)) != 0)
		kinds++;
	return *kinds != CALL_KINDS;
}

enum fading teach_fading(const char *kind, int skill)
{
	if (skill == (int)SKILL_SKIP || is_among(kind, never_fading))
		return FADES_NEVER;
	return is_among(kind, pulls) ? FADES_WITH_CLAMP : FADES;
}

static bool is_kind(const struct script_line *line, enum call_kind kind)
{
	return strcmp(line->kind, call_kind_name(kind)) == 0;
}

int teach_station(const struct script *script, int place)
{
	if (place < 1)
		return -1;
	if (place >= script->count)
		return STATION_FINISHED;
	const struct script_line *line = script_line(script, place);
	const struct script_line *next = script_line(script, place + 1);
	int half = script->whole.crosses / 2;
	int woven = __builtin_popcountll(line->bed.crosses);
	bool weaves_next = __builtin_popcountll(next->bed.crosses) > woven;
	bool centre = is_kind(line, CALL_CENTRE_MAIN) || is_kind(line, CALL_CENTRE_BEYOND);
	bool more_centre = is_kind(next, CALL_CENTRE_MAIN) || is_kind(next, CALL_CENTRE_BEYOND);

	if (is_kind(line, CALL_LOCK))
		return STATION_MOUNTED;
	if (centre && !more_centre)
		return STATION_CENTRE_MAINS;
	if (strcmp(line->phase, phase_names[PHASE_MAINS]) == 0 &&
	    strcmp(next->phase, phase_names[PHASE_CROSSES]) == 0)
		return STATION_MAINS_DONE;
	if (is_kind(line, CALL_CHECK_WEAVE) && woven == script->whole.crosses)
		return STATION_BEFORE_LAST_KNOT;
	if (woven == 3 && weaves_next)
		return STATION_THIRD_CROSS;
	return woven == half && weaves_next ? STATION_HALF_WAY : -1;
}

static int64_t answer_delay_us(const struct teach_skill *skill)
{
	int seconds = TEACH_DELAY_S + skill->rights / TEACH_DELAY_RIGHT * TEACH_DELAY_STEP_S;

	if (skill->misses > 0)
		return 0;
	return (seconds < TEACH_DELAY_MAX_S ? seconds : TEACH_DELAY_MAX_S) * SECOND_US;
}

struct teach_manner teach_manner(const struct trainee *trainee, int64_t racket, int skill,
				 enum fading fading)
{
	int slot = racket_slot(trainee, racket);
	int reasons = slot < 0 ? 0 : trainee->rackets[slot].skills[skill].reasons;
	struct teach_manner manner = {.said = trainee->skills[skill].level};
	bool fades = fading == FADES || (fading == FADES_WITH_CLAMP &&
					 trainee->skills[SKILL_CLAMP].level <= LEVEL_SHORT);

	if (manner.said < LEVEL_TOLD && !fades)
		manner.said = LEVEL_TOLD;
	if (manner.said == LEVEL_REASON && reasons >= TEACH_REASONS)
		manner.said = LEVEL_TOLD;
	if (manner.said == LEVEL_ASKED)
		manner.delay_us = answer_delay_us(&trainee->skills[skill]);
	return manner;
}
