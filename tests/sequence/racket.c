#include "sequence/racket.h"

#include <string.h>

enum { HALF_MIN = 2, HALF_MAX = 14, CROSSES_MIN = 4 };

/* What a hole is for. */
enum use { USE_MAIN, USE_BOTH, USE_CROSS, USE_NOTHING };

/* One end of the frame: h mains among holes that are also crosses' or nobody's. */
static void make_end(struct racket *racket, struct random *random, enum frame_end end,
		     enum use uses[HOLES_MAX + 1], int shared_percent)
{
	int number = 0, main = 0;
	int others_percent = random_between(random, 0, 40);
	int further = random_between(random, 0, 12);

	while (main < racket->half) {
		number++;
		if (main > 0 && random_chance(random, others_percent) &&
		    number + racket->half - main < HOLES_MAX) {
			uses[number] = random_chance(random, 80) ? USE_CROSS : USE_NOTHING;
			continue;
		}
		uses[number] = random_chance(random, shared_percent) ? USE_BOTH : USE_MAIN;
		racket->main_hole[end][++main] = number;
	}
	while (further-- > 0 && number < HOLES_MAX)
		uses[++number] = random_chance(random, 92) ? USE_CROSS : USE_NOTHING;
	racket->holes[end] = number;
}

static bool takes_cross(enum use use)
{
	return use == USE_BOTH || use == USE_CROSS;
}

static void collect_crosses(struct racket *racket, enum use uses[2][HOLES_MAX + 1])
{
	int count = 0;

	for (int n = 1; n <= racket->holes[END_HEAD]; n++)
		if (takes_cross(uses[END_HEAD][n]) && ++count <= CROSSES_MAX)
			racket->cross_hole[count] = (struct hole){END_HEAD, n};
	for (int n = racket->holes[END_THROAT]; n >= 1; n--)
		if (takes_cross(uses[END_THROAT][n]) && ++count <= CROSSES_MAX)
			racket->cross_hole[count] = (struct hole){END_THROAT, n};
	racket->crosses = count;
}

static void make_holes(struct racket *racket, struct random *random,
		       enum use uses[2][HOLES_MAX + 1])
{
	do {
		int shared_percent = random_chance(random, 40) ? random_between(random, 5, 60) : 0;
		racket->half = random_between(random, HALF_MIN, HALF_MAX);
		for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
			make_end(racket, random, end, uses[end], shared_percent);
		collect_crosses(racket, uses);
	} while (racket->crosses < CROSSES_MIN || racket->crosses > CROSSES_MAX);
	racket->bridge = 0;
	if (random_chance(random, 70))
		racket->bridge = 2 * random_between(random, 0, racket->holes[END_THROAT]);
	racket->crosses_start = random_chance(random, 50) ? END_HEAD : END_THROAT;
}

static bool tie_off_free(const struct racket *racket, struct hole hole, enum side side)
{
	for (int t = 0; t < TIE_OFFS; t++)
		if (hole_same(racket->tie_off[t][side], hole))
			return false;
	return true;
}

/* Beside a main that has no cross in its hole; a knot is never tied on its own string, so the
 * outermost main is left out. */
static struct hole some_anchor(const struct racket *racket, struct random *random,
			       enum use uses[2][HOLES_MAX + 1], enum side side)
{
	for (int tries = 0; tries < 10; tries++) {
		enum frame_end end = random_chance(random, 50) ? END_HEAD : END_THROAT;
		int main = random_between(random, 1, racket->half - 1);
		struct hole hole = {end, racket->main_hole[end][main]};
		if (uses[end][hole.number] == USE_MAIN && tie_off_free(racket, hole, side))
			return hole;
	}
	return (struct hole){0};
}

static void make_tie_offs(struct racket *racket, struct random *random,
			  enum use uses[2][HOLES_MAX + 1])
{
	for (int t = 0; t < TIE_OFFS; t++)
		for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
			if (random_chance(random, 40))
				racket->tie_off[t][side] = some_anchor(racket, random, uses, side);
}

static void write_list(struct text *out, const char *key, const struct racket *racket,
		       enum use uses[2][HOLES_MAX + 1], enum use wanted)
{
	const char *comma = "";

	text_format(out, "%s: [", key);
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		for (int n = 1; n <= racket->holes[end]; n++) {
			char label[HOLE_TEXT_MAX];
			bool beyond = n > racket->main_hole[end][racket->half];
			if (uses[end][n] != wanted || (wanted == USE_CROSS && beyond))
				continue;
			text_format(out, "%s%s", comma, hole_text((struct hole){end, n}, label));
			comma = ", ";
		}
	}
	text_add(out, "]\n");
}

static void write_tie_offs(struct text *out, const struct racket *racket)
{
	static const char *const keys[] = {"mains", "cross_start", "cross_end"};
	static const char *const sides[] = {"left", "right"};
	char label[HOLE_TEXT_MAX];
	bool any = false;

	for (int t = 0; t < TIE_OFFS; t++) {
		const struct hole *holes = racket->tie_off[t];
		if (holes[0].number == 0 && holes[1].number == 0)
			continue;
		text_add(out, any ? "" : "tie_off:\n");
		any = true;
		if (hole_same(holes[0], holes[1])) {
			text_format(out, "  %s: %s\n", keys[t], hole_text(holes[0], label));
			continue;
		}
		text_format(out, "  %s: {", keys[t]);
		for (int side = 0; side < 2; side++)
			if (holes[side].number)
				text_format(out, "%s %s: %s", side && holes[0].number ? "," : "",
					    sides[side], hole_text(holes[side], label));
		text_add(out, " }\n");
	}
}

static void write_pattern(struct racket *racket, enum use uses[2][HOLES_MAX + 1])
{
	struct text *out = &racket->pattern;

	text_format(out, "pattern: made-up\nsport: tennis\nmains: %d\ncrosses: %d\n",
		    2 * racket->half, racket->crosses);
	text_format(out, "holes: { head: %d, throat: %d }\nbridge: %d\ncrosses_start: %s\n",
		    racket->holes[END_HEAD], racket->holes[END_THROAT], racket->bridge,
		    racket->crosses_start == END_HEAD ? "head" : "throat");
	write_list(out, "mains_skip", racket, uses, USE_CROSS);
	write_list(out, "shared", racket, uses, USE_BOTH);
	write_list(out, "unused", racket, uses, USE_NOTHING);
	write_tie_offs(out, racket);
}

static const struct {
	const char *name;
	double newton;
	int least, most; /* of a plausible tension */
} units[] = {{"lb", 4.4482216152605, 40, 62}, {"kg", 9.80665, 18, 28}, {"N", 1, 180, 280}};

static void write_tension(struct racket *racket, struct random *random, enum string_kind strings,
			  const char *key)
{
	int unit = random_between(random, 0, 2);
	int tenths = random_between(random, units[unit].least * 10, units[unit].most * 10);

	text_format(&racket->job, "  %s: %d.%d %s\n", key, tenths / 10, tenths % 10,
		    units[unit].name);
	for (int n = 1; n <= CROSSES_MAX; n++)
		racket->newton[strings][n] = tenths / 10.0 * units[unit].newton;
}

/* Crosses that are pulled at once cannot differ in tension. */
static bool splits_first_pull(const struct racket *racket, int first, int last)
{
	return racket->first_pull == 2 && ((first <= 1 && last < 2) || first == 2);
}

static void write_adjustments(struct racket *racket, struct random *random)
{
	static const char *const keys[] = {"mains", "crosses"};
	int count = random_chance(random, 60) ? 0 : random_between(random, 1, 4);
	bool any = false;

	for (int i = 0; i < count; i++) {
		enum string_kind strings = random_chance(random, 50) ? STRING_MAIN : STRING_CROSS;
		int most = strings == STRING_MAIN ? racket->half : racket->crosses;
		int first = random_between(random, 1, most);
		int last = random_between(random, first, most);
		int unit = random_between(random, 0, 1);
		int halves = random_between(random, -4, 4);
		if (strings == STRING_CROSS && splits_first_pull(racket, first, last))
			continue;
		text_add(&racket->job, any ? "" : "adjust:\n");
		any = true;
		text_format(&racket->job, "  - { strings: %s %d", keys[strings], first);
		if (last > first || random_chance(random, 20))
			text_format(&racket->job, "-%d", last);
		text_format(&racket->job, ", by: %.1f %s }\n", halves * 0.5, units[unit].name);
		for (int n = first; n <= last; n++)
			racket->newton[strings][n] += halves * 0.5 * units[unit].newton;
	}
}

static void write_order(struct racket *racket, struct random *random)
{
	bool flying = racket->machine.clamps == CLAMPS_FLYING;
	static const char *const sides[] = {"left", "right"};

	racket->start_forced = random_chance(random, 40);
	racket->mains_start = random_chance(random, 50) ? END_HEAD : END_THROAT;
	racket->first_side = random_chance(random, 50) ? SIDE_LEFT : SIDE_RIGHT;
	/* Flying clamps need two mains of one side before the other's first, and two crosses. */
	racket->lead = random_between(random, flying ? 2 : 1, 3);
	racket->weave_side = random_chance(random, 50) ? SIDE_LEFT : SIDE_RIGHT;
	racket->weave_over = random_chance(random, 50);
	racket->outside = random_chance(random, 60) ? 3 : random_between(random, 1, OUTSIDE_MAX);
	racket->route_named = racket->one_piece && random_chance(random, 70);
	text_format(&racket->job, "order: { start: %s, first: %s, lead: %d",
		    !racket->start_forced             ? "auto"
		    : racket->mains_start == END_HEAD ? "head"
						      : "throat",
		    sides[racket->first_side], racket->lead);
	if (racket->one_piece)
		text_format(&racket->job, ", outside: %d%s", racket->outside,
			    racket->route_named ? ", route: 1" : "");
	text_add(&racket->job, " }\n");
	text_add(&racket->job, "weave: { ");
	if (racket->turned)
		text_format(&racket->job, "from: %s, ",
			    racket->crosses_start == END_HEAD ? "head" : "throat");
	text_format(&racket->job, "side: %s, start: %s, behind: %d, first_pull: %d }\n",
		    sides[racket->weave_side], racket->weave_over ? "over" : "under",
		    racket->behind, racket->first_pull);
}

static void write_checks(struct racket *racket, struct random *random)
{
	racket->check_every = racket->detail == DETAIL_LEARNER ? 5 : 0;
	if (random_chance(random, 40)) {
		racket->check_every = random_between(random, racket->detail == DETAIL_LEARNER, 8);
		text_format(&racket->job, "checks: { crosses: %d }\n", racket->check_every);
	}
	if (random_chance(random, 30)) {
		racket->tie_off_extra = random_between(random, 1, 10) / 100.0;
		text_format(&racket->job, "tie_off_extra: %.0f %%\n", racket->tie_off_extra * 100);
	}
}

static void write_job(struct racket *racket, struct random *random)
{
	static const char *const details[] = {"learner", "bench", "quick"};

	racket->behind = random_between(random, 0, 1);
	racket->first_pull =
		random_between(random, racket->machine.clamps == CLAMPS_FLYING ? 2 : 1, 2);
	racket->detail = (enum detail)random_between(random, 0, 2);
	text_format(&racket->job,
		    "job: made-up\npattern: made-up\nstringer: nobody\nmethod: %s\ndetail: %s\n",
		    racket->one_piece ? "one-piece" : "two-piece", details[racket->detail]);
	text_add(&racket->job, "tension:\n");
	write_tension(racket, random, STRING_MAIN, "mains");
	write_tension(racket, random, STRING_CROSS, "crosses");
	write_adjustments(racket, random);
	racket->turned = !racket->one_piece && random_chance(random, 20);
	if (racket->turned)
		racket->crosses_start = racket->crosses_start == END_HEAD ? END_THROAT : END_HEAD;
	write_order(racket, random);
	write_checks(racket, random);
	if (!racket->one_piece && random_chance(random, 30)) {
		text_add(&racket->job, "string: { mains: { prestretch: 10 % } }\n");
		racket->prestretch[STRING_MAIN] = 0.1;
	}
}

void racket_make(struct racket *racket, struct random *random, bool one_piece)
{
	enum use uses[2][HOLES_MAX + 1] = {0};

	racket_free(racket);
	racket->one_piece = one_piece;
	racket->machine = MACHINE_DEFAULT;
	racket->machine.clamps = (enum clamps)random_between(random, 0, 2);
	racket->machine.head = (enum tension_head)random_between(random, 0, 2);
	racket->machine.starting_clamp = random_chance(random, 40);
	racket->machine.mounts = random_chance(random, 50) ? MOUNTS_FEW : MOUNTS_MANY;
	make_holes(racket, random, uses);
	make_tie_offs(racket, random, uses);
	write_pattern(racket, uses);
	write_job(racket, random);
}

void racket_free(struct racket *racket)
{
	text_free(&racket->pattern);
	text_free(&racket->job);
	memset(racket, 0, sizeof(*racket));
}
