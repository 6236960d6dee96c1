/* A job plan: what is to be done with one racket, as its file says it.
 *
 *   1. What a plan speaks of   methods, string, the machine
 *   2. The plan
 *   3. Reading it              alone, then against the pattern and the machine
 *   4. What follows from it    for each string
 */
#ifndef JOB_JOB_H
#define JOB_JOB_H

#include "base/base.h"
#include "frame/frame.h"

/* ---- 1. What a plan speaks of ---- */

enum method { METHOD_TWO_PIECE, METHOD_ONE_PIECE };

/* How much is said at once: one move for a learner, one string for a practised hand. */
enum detail { DETAIL_LEARNER, DETAIL_BENCH, DETAIL_QUICK, DETAILS };

enum weave_start { WEAVE_OVER, WEAVE_UNDER };

/* What a string is made of: how it wants to be handled. */
enum material {
	MATERIAL_UNKNOWN,
	MATERIAL_GUT,
	MATERIAL_MULTIFILAMENT,
	MATERIAL_NYLON,
	MATERIAL_POLYESTER,
	MATERIAL_ARAMID,
};

/* One length of string. */
struct string_length {
	char *name; /* NULL: not given */
	enum material material;
	double on_hand_mm; /* 0: not given */
	char *reel;        /* that it is cut from, in place of on_hand; NULL: not given */
	double prestretch; /* a share, 0.1 is 10 % */
	struct position on_hand_position;
	struct position reel_position;
};

/* "mains 7-8: -2 lb". Mains are numbered from the centre, crosses in weaving order. */
struct adjustment {
	enum string_kind strings;
	int first;
	int last;
	struct quantity by;
	struct position position;
};

/* How the machine's tension head holds what it has pulled. */
enum tension_head { HEAD_LOCK_OUT, HEAD_CONSTANT, HEAD_DROP_WEIGHT };

/* Fixed clamps stand on the machine. Those on glide bars are turned or moved between mains and
 * crosses. Flying clamps grip two neighbouring strings, and hold one by the other. */
enum clamps { CLAMPS_FIXED, CLAMPS_GLIDE_BAR, CLAMPS_FLYING };

enum { MOUNTS_FEW = 2, MOUNTS_MANY = 6 };

/* The machine, from the bench file: lengths, moves and what is called depend on it. */
struct machine {
	double reach_mm;  /* string that it needs beyond the frame to grip */
	double margin_mm; /* added to each length to cut, to be on the safe side */
	enum tension_head head;
	enum clamps clamps;  /* two of them */
	bool starting_clamp; /* a small hand clamp that is used outside the frame */
	int mounts;          /* supports of the frame: MOUNTS_FEW or MOUNTS_MANY */
};

/* For a job whose bench is not known. From memory, plausible. */
enum { REACH_DEFAULT_MM = 350, MARGIN_DEFAULT_MM = 300 };
#define MACHINE_DEFAULT                                                                            \
	((struct machine){                                                                         \
		.reach_mm = REACH_DEFAULT_MM,                                                      \
		.margin_mm = MARGIN_DEFAULT_MM,                                                    \
		.mounts = MOUNTS_FEW,                                                              \
	})

/* Whether a trainee strings, who is told less the more it is known (teach/teach.h). */
enum teaching {
	TEACHING_NONE,
	TEACHING_ALONE,   /* the trainee looks at the work at the stations */
	TEACHING_TRAINER, /* a trainer does: the job waits there */
	TEACHING_TEST,    /* likewise, and only the names of calls are said */
};

/* ---- 2. The plan ---- */

enum { ADJUSTMENTS_MAX = 40, OUTSIDE_DEFAULT = 3, OUTSIDE_MAX = 4, ROUTE_NUMBER_MAX = 40 };

struct job {
	char *file; /* as it appears in messages */
	char *text; /* the plan as it was, for the journal */
	char *name;
	char *pattern;  /* the pattern's name */
	char *stringer; /* NULL, as the next four, if not given */
	char *racket;   /* its mark or serial number */
	char *customer; /* whose it is */
	char *due;      /* day: "2026-12-01" */
	char *notes;    /* said when the job begins */
	enum method method;
	struct quantity tension[2]; /* by string_kind */
	bool beyond_range; /* the plan says that a tension outside the maker's range is meant */
	struct adjustment adjustments[ADJUSTMENTS_MAX];
	int adjustment_count;
	struct string_length length[2]; /* two-piece, by string_kind */
	struct string_length whole;     /* one-piece */
	bool accept_short;              /* less on hand than the estimate is only a warning */
	bool start_forced;              /* order.start is not auto: then mains_start */
	enum frame_end mains_start;
	enum side first_side;  /* side pulled first */
	int lead;              /* 1 to 3; 0: not given, see job_lead */
	int outside;           /* one-piece: longest run outside the frame, in hole positions */
	int route;             /* one-piece: which of the routes found, from 1 */
	bool weave_from_given; /* weave.from: then weave_from, else the pattern's */
	enum frame_end weave_from;
	enum side weave_side; /* where the crosses are begun; in one-piece work the long side */
	enum weave_start weave_start; /* how cross 1 meets its first main */
	int behind;                   /* 0 or 1: pull this many crosses behind the weaving */
	int first_pull;               /* 1 or 2; 0: not given, see job_first_pull */
	enum detail detail;
	enum teaching teaching; /* not TEACHING_NONE: string by string, detail is bench */
	int check_every; /* so many crosses between looks for misweaves; 0: one before the knot */
	double tie_off_extra;   /* a share: so much higher is a string pulled before its tie-off */
	struct machine machine; /* not in the plan: the default, until the caller puts in its own */

	/* Where the values stand in the file, for faults found later. */
	struct position pattern_position;
	struct position tension_position[2];
	struct position start_position;
	struct position method_position;
	struct position route_position;
	struct position lead_position;
	struct position first_pull_position;
	struct position extra_position;
};

/* ---- 3. Reading it ---- */

/* Takes the document, as yaml_read returns it. NULL, with faults, if that is NULL or at fault. */
struct job *job_read(struct yaml_document *document);

/* What could be read of a plan that may have faults, to look for more of them: texts that could not
 * be read are NULL, tensions 0, everything else as if it were not given. *good: there was no fault.
 * NULL: it is no plan. */
struct job *job_read_partly(struct yaml_document *document, bool *good);
void job_free(struct job *job);

/* The pattern that a job names: looked for beside the job plan, then in the pattern folders
 * (base/base.h). NULL with a fault if it is nowhere or at fault itself. The caller frees it. */
struct pattern *job_find_pattern(const struct job *job, struct faults *faults);

/* Looks for the faults that only show with the pattern in hand (a tension outside the maker's
 * range, adjustments of strings that the frame does not have, a first pull of more crosses than it
 * has) or with the machine (what flying clamps cannot do). False if there was an error. */
bool job_fits(const struct job *job, const struct pattern *pattern, struct faults *faults);

/* ---- 4. What follows from it ---- */

/* How many mains one side may be ahead of the other, 1 to 3: the plan's number, else the least that
 * the machine's clamps allow. */
int job_lead(const struct job *job);

/* How many crosses the first pull tensions, 1 or 2: the plan's number, else what the method and the
 * clamps ask for. */
int job_first_pull(const struct job *job);

/* What a machine can be set to: the nearest tenth of a pound or of a kilogram, or newton, that is
 * not for rounding's sake outside the maker's range. The pattern may be NULL. */
struct quantity job_setting(const struct pattern *pattern, struct quantity tension);

/* What the machine must be set to for a string, adjustments added, in the unit the job is written
 * in. */
struct quantity job_tension(const struct job *job, const struct pattern *pattern,
			    enum string_kind strings, int number);

/* The same for a string that is tied off next. */
struct quantity job_tie_off_tension(const struct job *job, const struct pattern *pattern,
				    enum string_kind strings, int number);

/* The length that these strings are cut from. */
const struct string_length *job_length(const struct job *job, enum string_kind strings);

/* Names by their enums, ended by NULL. */
extern const char *const method_names[], *const detail_names[], *const teaching_names[];
extern const char *const clamps_names[], *const tension_head_names[];
extern const char *const material_names[]; /* from MATERIAL_GUT on */

#endif
