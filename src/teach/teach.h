/* How much a trainee is told, and why: from what happened at the bench to the level of each skill,
 * and from there to the way in which each line is said.
 *
 *     struct trainee trainee;
 *     teach_begin(&trainee);
 *     for each event of this trainee, in order:  teach_event(&trainee, &event);
 *     teach_rest(&trainee, now_us);
 *     manner = teach_manner(&trainee, racket, skill, teach_fading(kind, skill));
 *
 * A level is never stored: it comes from the events, so journals can be merged and a trainer can
 * see why a level is what it is. Memory does not grow, and all but teach_history is pure.
 *
 * Help that always comes first is leaned on; help that fades and comes late is remembered longer
 * (guidance hypothesis: Salmoni, Schmidt & Walter 1984; Winstein, Pohl & Lewthwaite 1994, Res. Q.
 * Exerc. Sport 65(4):316). The wait between question and answer follows progressive time delay
 * (Neitzel & Wolery 2009, "Steps for implementation: time delay"). No source gives the numbers.
 */
#ifndef TEACH_TEACH_H
#define TEACH_TEACH_H

#include "base/base.h"
#include "journal/journal.h"
#include "script/script.h"

/* ---- The rules: every number is our choice ---- */

enum {
	TEACH_RUN = 8,          /* calls of a skill in a row without a fault: one level down */
	TEACH_FAULTS = 2,       /* of a skill in one racket, or in a row: one level up */
	TEACH_FAULTS_NAMED = 1, /* at the lowest level, where only the name is said */
	TEACH_REST_DAYS = 14,   /* every so many days without practice: one level up */
	TEACH_REASONS = 3,      /* reasons said of a skill in one racket */
	TEACH_DELAY_S = 3,      /* from a question to its answer */
	TEACH_DELAY_STEP_S = 2, /* so much later after each TEACH_DELAY_RIGHT right ones in a row */
	TEACH_DELAY_RIGHT = 2,
	TEACH_DELAY_MAX_S = 10,
	TEACH_OPEN_RACKETS = 4, /* unfinished rackets kept apart; the oldest goes first */
};

/* ---- Skills and levels ---- */

enum { TEACH_SKILLS = 12 }; /* those of sequence/sequence.h, by number from 0 */

int teach_skill(const char *name); /* "weave"; -1: no skill */
const char *teach_skill_name(int skill);

/* How much is said of a call, from least to most. */
enum level {
	LEVEL_NAMED,  /* only what is next */
	LEVEL_ASKED,  /* a question, then the answer */
	LEVEL_SHORT,  /* the short sentence */
	LEVEL_TOLD,   /* the full sentence */
	LEVEL_REASON, /* the full sentence and why; a trainee without history begins here */
	LEVELS,
};

extern const char *const level_names[]; /* "named", "asked" ... */

/* ---- Stations: where a trainer, or the trainee, looks at the work itself ---- */

enum station {
	STATION_MOUNTED,
	STATION_CENTRE_MAINS,
	STATION_MAINS_DONE,
	STATION_THIRD_CROSS,
	STATION_HALF_WAY,
	STATION_BEFORE_LAST_KNOT,
	STATION_FINISHED,
	STATIONS,
};

/* What can be found wrong with the work there. */
enum work_fault {
	WORK_MISWEAVE,
	WORK_WRONG_HOLE,
	WORK_CROSSED_LOOP,
	WORK_CLAMP_SLIP,
	WORK_NOTCH,
	WORK_CROOKED,
	WORK_KNOT,
	WORK_TAIL,
	WORK_AWL,
	WORK_UNEVEN,
	WORK_FRAME,
	WORK_FAULTS,
};

extern const char *const station_names[]; /* "mounted", "centre-mains" ... */
const char *work_fault_name(enum work_fault fault);

/* Reads the first word of a text. */
bool work_fault_parse(const char *text, enum work_fault *out);

/* ---- What happened ---- */

/* Events come in the order of their wall time; at the same time, in the order of their job's UUID;
 * within a job, as they happened. Where the clock was set back within a job, the latest time so far
 * in that job counts. So the order does not depend on which journal was merged into which. */
struct teach_event {
	int64_t wall_us;
	int64_t racket; /* the job: any number that no other job has */
	/* NEXT: on, after a call that was told or named; RIGHT: likewise after a question, "I had
	 * it"; WRONG: "I had not"; ANSWERED: the answer came by itself; AGAIN; BACK: to this call;
	 * FOUND: a fault at a station; FINISHED: the racket. No other kind counts. */
	enum journal_kind kind;
	int call;              /* the one that was left for the next; else the current one */
	int skill;             /* of that call; -1: none */
	const char *call_kind; /* of that call; only teach_history fills it in */
	const char *detail;    /* of FOUND: the fault; of ANSWERED: see below; may be NULL */
};

/* Details of events in the journal: STARTED, of a job that is taught; ANSWERED, of an answer that
 * came by itself, which is a fault, and of one that the trainee asked for. */
#define TEACH_STARTED        "teaching"
#define TEACH_ANSWER_LATE    "late"
#define TEACH_ANSWER_PRESSED "pressed"

/* ---- From events to levels ---- */

enum teach_why {
	TEACH_WHY_NEW, /* teach_explain gives the words for these */
	TEACH_WHY_RUN,
	TEACH_WHY_CLEAN,
	TEACH_WHY_FAULTS,
	TEACH_WHY_NAMED,
	TEACH_WHY_REST,
};

struct teach_skill {
	enum level level;
	enum teach_why why;   /* the reason for this level ... */
	int64_t since_us;     /* ... and when it was reached; 0: never moved */
	int run;              /* calls in a row without a fault since then */
	int rights;           /* right answers in a row */
	int misses;           /* faults in a row */
	int64_t rest_from_us; /* last practice, or the last level lost by rest; 0: never */
};

/* One racket, as far as it matters: no call counts twice, however often it is gone back to. */
struct teach_racket {
	int64_t racket;
	int64_t touched; /* count of events at its last one; 0: free */
	int furthest;    /* calls up to this one have counted */
	int missed;      /* the last call with a fault: more faults there do not count */
	int passed;      /* left without a fault; counts at the next event of another call */
	int passed_skill;
	bool passed_right;
	struct teach_tally {
		int done;             /* calls without a fault */
		int faults;           /* calls with one */
		int reasons;          /* said */
		bool lowered, raised; /* the level, in this racket */
	} skills[TEACH_SKILLS];
};

struct trainee {
	struct teach_skill skills[TEACH_SKILLS];
	struct teach_racket rackets[TEACH_OPEN_RACKETS];
	int64_t events;
};

void teach_begin(struct trainee *trainee); /* at LEVEL_REASON in all skills */
void teach_event(struct trainee *trainee, const struct teach_event *event);

/* Counts the time without practice up to now. Asking more often makes no difference. */
void teach_rest(struct trainee *trainee, int64_t now_us);

/* Adds why: "8 calls in a row without a fault; 3 without a fault since". */
void teach_explain(const struct teach_skill *skill, struct text *out);

/* ---- The journal ---- */

/* SQL: the last 200 rackets that :stringer was taught with. What lies further back no longer says
 * what somebody can do; the number is our choice. */
#define TEACH_JOBS                                                                                 \
	"(SELECT id FROM job WHERE stringer = :stringer AND EXISTS (SELECT 1 FROM event WHERE "    \
	"event.job = job.id AND kind = 'started' AND detail = '" TEACH_STARTED "') "               \
	"ORDER BY created_us DESC LIMIT 200)"

/* What the events of a trainee's last rackets (TEACH_JOBS) come to; `each`, or NULL, gets each. */
enum journal_status teach_history(struct journal *journal, const char *stringer,
				  struct trainee *trainee,
				  void (*each)(void *owner, const struct teach_event *event),
				  void *owner);

/* ---- How a line is said ---- */

/* Whether a line is said with fewer words as its skill is learned. */
enum fading {
	FADES,
	FADES_WITH_CLAMP, /* clamp before release: not until `clamp` is at LEVEL_SHORT or below */
	FADES_NEVER,      /* a caution, a tension to set, a hole after a skip, the last check */
};

/* Of a line of that kind and skill. */
enum fading teach_fading(const char *kind, int skill);

/* The station that comes after the line of that place, or -1. */
int teach_station(const struct script *script, int place);

struct teach_manner {
	enum level said;  /* ASKED: question, then answer; the others are one sentence each */
	int64_t delay_us; /* ASKED: from question to answer; 0: at once, and never late */
};

struct teach_manner teach_manner(const struct trainee *trainee, int64_t racket, int skill,
				 enum fading fading);

#endif
