/* The recogniser against random feet: against a second way of saying what taps and holds mean, and
 * against what must hold whatever a contact does. The seed of a failing run is printed. */
#include "base/base.h"
#include "pedal/internal.h"

#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <setjmp.h>

#include <cmocka.h>

enum { RUNS = 4000, PRESSES_MAX = 12, OUT_MAX = 2000, EDGES_MAX = 400 };

/* A small generator of our own: the same numbers everywhere (xorshift, Marsaglia 2003). */
static uint64_t seed_state;

static unsigned pick(unsigned below)
{
	seed_state ^= seed_state << 13;
	seed_state ^= seed_state >> 7;
	seed_state ^= seed_state << 17;
	return (unsigned)(seed_state >> 32) % below;
}

static void start_run(int run)
{
	seed_state = 0x9e3779b97f4a7c15u ^ (uint64_t)(run + 1) * 0xbf58476d1ce4e5b9u;
}

struct out {
	struct pedal_event gestures[OUT_MAX];
	int count;
};

static void keep(void *owner, const struct pedal_event *gesture)
{
	struct out *out = owner;

	assert_true(out->count < OUT_MAX);
	out->gestures[out->count++] = *gesture;
}

/* ---- what a foot does, and what it means, said a second time ---- */

struct foot {
	int down_ms[PRESSES_MAX];
	int up_ms[PRESSES_MAX]; /* after the press */
	int presses;
};

/* Times near the limits are more likely than others. */
static int pick_ms(void)
{
	static const int limits[] = {300, 500, 1000};

	if (pick(3) == 0)
		return limits[pick(3)] - 2 + (int)pick(5);
	return 30 + (int)pick(1300);
}

static struct foot pick_foot(void)
{
	struct foot foot = {.presses = 1 + (int)pick(PRESSES_MAX)};

	for (int i = 0; i < foot.presses; i++) {
		foot.down_ms[i] = pick(2) ? 30 + (int)pick(200) : pick_ms();
		foot.up_ms[i] = pick(2) ? 30 + (int)pick(300) : pick_ms();
	}
	return foot;
}

static void mean(enum pedal_event_kind *kinds, int *count, enum pedal_event_kind kind)
{
	kinds[(*count)++] = kind;
}

/* The sentences of gesture.h about one pedal, press by press. */
static int meaning(const struct foot *foot, enum pedal_event_kind kinds[static 2 * PRESSES_MAX])
{
	int count = 0;
	bool right_after_double = false;

	for (int i = 0; i < foot->presses; i++) {
		mean(kinds, &count, GESTURE_NEXT);
		if (foot->down_ms[i] >= 500) {
			mean(kinds, &count, GESTURE_UNDO_PAUSE);
			right_after_double = false;
			continue;
		}
		if (foot->up_ms[i] >= 300 || i + 1 == foot->presses) {
			right_after_double = false;
			continue;
		}
		i++;
		mean(kinds, &count, right_after_double ? GESTURE_UNDO_BACK : GESTURE_UNDO_AGAIN);
		if (foot->down_ms[i] >= 500)
			mean(kinds, &count, GESTURE_PAUSE);
		right_after_double = foot->down_ms[i] < 500 && foot->up_ms[i] < 1000;
	}
	return count;
}

/* An edge, with bounce of up to 20 ms after it; returns how long the bounce took, in microseconds.
 */
static int64_t edge_with_bounce(struct gestures *gestures, enum gesture_edge edge, int64_t time_us,
				bool bouncing)
{
	enum gesture_edge other = edge == GESTURE_EDGE_DOWN ? GESTURE_EDGE_UP : GESTURE_EDGE_DOWN;
	int64_t passed_us = 0;

	gestures_edge(gestures, 0, edge, time_us);
	for (unsigned pairs = bouncing ? pick(3) : 0; pairs > 0; pairs--) {
		passed_us += 500 + pick(4000);
		gestures_edge(gestures, 0, other, time_us + passed_us);
		passed_us += 500 + pick(4000);
		gestures_edge(gestures, 0, edge, time_us + passed_us);
	}
	return passed_us;
}

static void play(const struct foot *foot, struct out *out)
{
	struct gestures *gestures = gestures_new(&gesture_default_times, keep, out);
	int64_t time_us = 1000 * SECOND_US;

	gestures_add_key(gestures, 0, GESTURE_ROLE_STEP);
	for (int i = 0; i < foot->presses; i++) {
		edge_with_bounce(gestures, GESTURE_EDGE_DOWN, time_us, true);
		time_us += foot->down_ms[i] * MS_US;
		/* A release counts from its last edge: let the bounce come out of the time before.
		 */
		edge_with_bounce(gestures, GESTURE_EDGE_UP, time_us, false);
		time_us += foot->up_ms[i] * MS_US;
	}
	gestures_tick(gestures, time_us + 30 * SECOND_US);
	free(gestures);
}

static void taps_and_holds_mean_what_the_header_says(void **state)
{
	(void)state;
	for (int run = 0; run < RUNS; run++) {
		enum pedal_event_kind kinds[2 * PRESSES_MAX];
		static struct out out;

		start_run(run);
		struct foot foot = pick_foot();
		int count = meaning(&foot, kinds);
		out.count = 0;
		play(&foot, &out);
		bool same = out.count == count;
		for (int i = 0; same && i < count; i++)
			same = out.gestures[i].kind == kinds[i];
		if (!same)
			fail_msg("run %d: %d gestures, %d expected", run, out.count, count);
	}
}

/* ---- what must hold whatever happens ---- */

struct edge {
	int key;
	enum gesture_edge edge;
	int64_t time_us;
	bool forget; /* a command comes before it */
};

static int pick_edges(struct edge edges[static EDGES_MAX], int keys)
{
	int count = 1 + (int)pick(EDGES_MAX);
	int64_t time_us = 1000 * SECOND_US;

	for (int i = 0; i < count; i++) {
		static const unsigned scale[] = {3, 30, 300, 2000, 12000};

		time_us += (int64_t)pick(scale[pick(5)] * 1000);
		edges[i] = (struct edge){
			.key = (int)pick((unsigned)keys),
			.edge = (enum gesture_edge)pick(GESTURE_EDGE_FOUND_DOWN + 1),
			/* Once in a while a time that is before the last one. */
			.time_us = pick(40) ? time_us : time_us - (int64_t)pick(2000000),
			.forget = pick(25) == 0,
		};
	}
	return count;
}

static struct gestures *random_pedal(struct out *out, int keys, bool all_step)
{
	struct gestures *gestures = gestures_new(&gesture_default_times, keep, out);

	for (int i = 0; i < keys; i++)
		gestures_add_key(gestures, (unsigned)i,
				 all_step ? GESTURE_ROLE_STEP : (enum gesture_role)(i % 5));
	return gestures;
}

/* Plays the edges; with ticks between them when `ticking`. Counts real presses. */
static int play_edges(struct gestures *gestures, const struct edge *edges, int count, bool ticking)
{
	bool down[GESTURE_KEYS_MAX] = {false};
	int presses = 0;
	int64_t now_us = 0;

	for (int i = 0; i < count; i++) {
		const struct edge *edge = &edges[i];

		while (ticking && gestures_deadline_us(gestures) <= edge->time_us)
			gestures_tick(gestures, gestures_deadline_us(gestures));
		if (edge->forget) {
			gestures_tick(gestures, edge->time_us);
			gestures_forget(gestures);
		}
		presses += edge->edge == GESTURE_EDGE_DOWN && !down[edge->key];
		if (edge->edge != GESTURE_EDGE_REPEAT)
			down[edge->key] = edge->edge != GESTURE_EDGE_UP;
		gestures_edge(gestures, (unsigned)edge->key, edge->edge, edge->time_us);
		now_us = edge->time_us > now_us ? edge->time_us : now_us;
	}
	gestures_tick(gestures, now_us + 60 * SECOND_US);
	return presses;
}

static bool is_undo(enum pedal_event_kind kind)
{
	return kind == GESTURE_UNDO_AGAIN || kind == GESTURE_UNDO_BACK ||
	       kind == GESTURE_UNDO_PAUSE;
}

static bool is_trouble(enum pedal_event_kind kind)
{
	return kind == PEDAL_STUCK || kind == PEDAL_FREED || kind == PEDAL_CHATTER;
}

static void check_undos(const struct out *out, int run)
{
	const struct pedal_event *last = NULL;

	for (int i = 0; i < out->count; i++) {
		const struct pedal_event *gesture = &out->gestures[i];

		if (i > 0 && gesture->time_us < gesture[-1].time_us)
			fail_msg("run %d: gesture %d goes back in time", run, i);
		if (is_trouble(gesture->kind))
			continue;
		if (is_undo(gesture->kind) &&
		    (!last || last->kind != GESTURE_NEXT || last->key != gesture->key))
			fail_msg("run %d: gesture %d takes back what is no NEXT", run, i);
		bool choices = gesture->kind == GESTURE_CHOICES;
		if (choices && (!last || last->kind != GESTURE_AGAIN || last->key != gesture->key))
			fail_msg("run %d: gesture %d is no held AGAIN", run, i);
		if ((is_undo(gesture->kind) || choices) != (gesture->steps == 1))
			fail_msg("run %d: gesture %d has %d steps", run, i, gesture->steps);
		last = gesture;
	}
}

static void check_trouble(const struct out *out, int run)
{
	bool troubled[GESTURE_KEYS_MAX] = {false};

	for (int i = 0; i < out->count; i++) {
		const struct pedal_event *gesture = &out->gestures[i];

		if (gesture->kind == PEDAL_FREED && !troubled[gesture->key])
			fail_msg("run %d: gesture %d frees what was in no trouble", run, i);
		if (gesture->kind == PEDAL_STUCK && troubled[gesture->key])
			fail_msg("run %d: gesture %d reports trouble twice", run, i);
		if (is_trouble(gesture->kind))
			troubled[gesture->key] = gesture->kind != PEDAL_FREED;
	}
}

/* Gestures that each need a press of their own. */
static int gestures_from_presses(const struct out *out)
{
	int count = 0;

	for (int i = 0; i < out->count; i++) {
		enum pedal_event_kind kind = out->gestures[i].kind;

		count += kind == GESTURE_NEXT || kind == GESTURE_AGAIN || kind == GESTURE_BACK ||
			 kind == GESTURE_UNDO_AGAIN || kind == GESTURE_UNDO_BACK;
	}
	return count;
}

static void any_edges_keep_the_promises(void **state)
{
	(void)state;
	for (int run = 0; run < RUNS; run++) {
		static struct edge edges[EDGES_MAX];
		static struct out out;
		int keys;

		start_run(run);
		keys = 1 + (int)pick(4);
		bool all_step = pick(2);
		int count = pick_edges(edges, keys);
		out.count = 0;
		struct gestures *gestures = random_pedal(&out, keys, all_step);
		int presses = play_edges(gestures, edges, count, run % 2);
		check_undos(&out, run);
		check_trouble(&out, run);
		if (gestures_from_presses(&out) > presses)
			fail_msg("run %d: %d gestures out of %d presses", run,
				 gestures_from_presses(&out), presses);
		assert_true(gestures_settled(gestures));
		free(gestures);
	}
}

static bool same_gestures(const struct out *a, const struct out *b)
{
	if (a->count != b->count)
		return false;
	for (int i = 0; i < a->count; i++) {
		const struct pedal_event *x = &a->gestures[i];
		const struct pedal_event *y = &b->gestures[i];

		if (x->kind != y->kind || x->steps != y->steps || x->key != y->key ||
		    x->time_us != y->time_us)
			return false;
	}
	return true;
}

static void ticks_change_nothing(void **state)
{
	(void)state;
	for (int run = 0; run < RUNS; run++) {
		static struct edge edges[EDGES_MAX];
		static struct out out[2];
		int keys;

		start_run(run);
		keys = 1 + (int)pick(4);
		int count = pick_edges(edges, keys);
		for (int ticking = 0; ticking < 2; ticking++) {
			out[ticking].count = 0;
			struct gestures *gestures = random_pedal(&out[ticking], keys, true);
			play_edges(gestures, edges, count, ticking);
			free(gestures);
		}
		if (!same_gestures(&out[0], &out[1]))
			fail_msg("run %d: what comes out depends on the ticks", run);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(taps_and_holds_mean_what_the_header_says),
		cmocka_unit_test(any_edges_keep_the_promises),
		cmocka_unit_test(ticks_change_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
