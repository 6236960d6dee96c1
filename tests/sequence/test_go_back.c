/* Made-up rackets in which things go wrong, again and again: each way back leads to a bed in which
 * every crossing alternates and every string holds its tension, and lets no string go on the way.
 */
#include "base/base.h"
#include "sequence/bed.h"
#include "sequence/work.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { RACKETS = 3000, MISHAPS_MAX = 4 };

static const uint64_t seed = 20261126;

/* What is in the bed before a call, by counting the moves of the calls that were done. */
struct count {
	int mains[2];
	uint64_t crosses; /* bit n: cross n */
	bool late_main;
	bool knotted; /* the crosses' last knot is tied */
	bool start_knot;
	int clamps;
	bool cutting; /* what broke is not cut out yet */
	bool head;    /* the tension head holds a string */
};

static void count_move(struct count *count, const struct move *move)
{
	uint64_t bit = UINT64_C(1) << (move->number & 63);
	bool cross = move->string == STRING_CROSS;

	switch (move->action) {
	case DO_FEED:
	case DO_WEAVE:
		if (cross)
			count->crosses |= bit;
		else if (move->phase == PHASE_MAINS)
			count->mains[move->side] = move->number;
		else
			count->late_main = true;
		break;
	case DO_TAKE_OUT:
		if (cross)
			count->crosses &= ~bit;
		else if (move->phase == PHASE_MAINS)
			count->mains[move->side] = move->number - 1;
		else
			count->late_main = false;
		break;
	case DO_KNOT:
		count->start_knot |= move->start;
		count->knotted |= !move->start && move->phase == PHASE_CROSSES;
		break;
	case DO_UNTIE:
		count->start_knot &= !move->start;
		break;
	case DO_PULL:
	case DO_RELEASE:
	case DO_LET_DOWN:
		count->head = move->action == DO_PULL;
		break;
	case DO_CLAMP:
		count->clamps++;
		break;
	case DO_UNCLAMP:
		count->clamps--;
		break;
	case DO_CUT_OUT:
		count->cutting = false;
		count->crosses = 0;
		count->knotted = count->start_knot = false;
		if (move->subject != SUBJECT_CROSSES) {
			count->mains[0] = count->mains[1] = 0;
			count->late_main = false;
		}
		break;
	default:
		break;
	}
}

static struct count count_before(const struct sequence *sequence, int call)
{
	struct count count = {0};

	for (int i = 0; i < call; i++) {
		count.cutting |= sequence->calls[i].lost != LOSS_NONE;
		for (int at = sequence->calls[i].first;
		     at <= sequence->calls[i].last && !sequence->calls[i].abandoned; at++)
			count_move(&count, &sequence->moves[at]);
	}
	return count;
}

/* What cannot be done, and nothing else, is refused. */
static const char *code_of_refusal(const struct racket *racket, const struct count *count,
				   const struct mishap *mishap)
{
	bool late = count->late_main && mishap->side == racket->weave_side &&
		    mishap->number == racket->half;

	if (count->cutting)
		return "broke-cut";
	if (mishap->kind == MISHAP_SLIPPED)
		return count->clamps == 0 && !count->head ? "slipped-none" : NULL;
	if (mishap->kind == MISHAP_BROKE)
		return count->mains[0] ? NULL : "broke-string";
	if (mishap->string == STRING_CROSS) {
		if (!(count->crosses >> mishap->number & 1))
			return "redo-string";
		return count->knotted ? "redo-knot" : NULL;
	}
	if (count->crosses)
		return "redo-main";
	return !late && mishap->number > count->mains[mishap->side] ? "redo-string" : NULL;
}

/* Mostly a string that is in. */
static void name_string(struct random *random, const struct racket *racket,
			const struct count *count, struct mishap *mishap)
{
	bool in = random_chance(random, 75);
	int highest = 0;

	for (int c = 1; c <= racket->crosses; c++)
		highest = count->crosses >> c & 1 ? c : highest;
	mishap->side = random_chance(random, 50) ? SIDE_LEFT : SIDE_RIGHT;
	mishap->string = in == (highest > 0) ? STRING_CROSS : STRING_MAIN;
	int most = mishap->string == STRING_CROSS ? racket->crosses : racket->half;
	int known = mishap->string == STRING_CROSS ? highest : count->mains[mishap->side];
	mishap->number = random_between(random, 1, in && known > 0 ? known : most);
}

static struct mishap some_mishap(struct random *random, const struct racket *racket,
				 const struct count *count)
{
	struct mishap mishap = {0};
	int chance = random_between(random, 0, 9);

	mishap.kind = chance < 7 ? MISHAP_REDO : chance < 9 ? MISHAP_SLIPPED : MISHAP_BROKE;
	if (mishap.kind == MISHAP_REDO)
		name_string(random, racket, count, &mishap);
	return mishap;
}

/* Calls up to the one that is given up stay as they were. */
static bool is_continued(const struct sequence *before, const struct sequence *after, int call)
{
	int moves = before->calls[call].last + 1;

	for (int i = 0; i <= call; i++)
		if (before->calls[i].kind != after->calls[i].kind ||
		    before->calls[i].first != after->calls[i].first ||
		    before->calls[i].last != after->calls[i].last ||
		    before->calls[i].subject != after->calls[i].subject ||
		    after->calls[i].abandoned != (before->calls[i].abandoned || i == call))
			return false;
	return after->call_count > call + 1 &&
	       memcmp(before->moves, after->moves, (size_t)moves * sizeof(struct move)) == 0;
}

/* Whether the program lists it among those that a redo takes. */
static bool is_listed(const struct sequence *sequence, int call, const struct mishap *redo)
{
	struct bed_strings *beds = sequence_bed_strings(sequence);
	const struct strings *listed = &beds[call].redo;
	uint64_t strings =
		redo->string == STRING_CROSS ? listed->crosses : listed->mains[redo->side];

	free(beds);
	return strings >> redo->number & 1;
}

/* Whether the string of a redo comes out, or is cut out, after the call at which it was asked for:
 * whatever else goes wrong on the way. */
static bool comes_out(const struct sequence *sequence, int call, const struct mishap *redo)
{
	for (int i = call + 1; i < sequence->call_count; i++) {
		const struct call *later = &sequence->calls[i];
		for (int at = later->first; at <= later->last && !later->abandoned; at++) {
			const struct move *move = &sequence->moves[at];
			if (move->action == DO_CUT_OUT)
				return true;
			if (move->action == DO_TAKE_OUT && move->string == redo->string &&
			    move->number == redo->number &&
			    (redo->string == STRING_CROSS || move->side == redo->side))
				return true;
		}
	}
	return false;
}

struct tally {
	int ways;
	int kinds[3];
	int refused;
	int nested;
	int undone;
};

/* Goes wrong a few times, also on the way back itself. */
static char *judge(struct work *work, const struct racket *racket, struct random *random,
		   void *context)
{
	if (!work->sequence)
		return NULL;
	struct tally *tally = context;
	int least = 0;
	int mishaps = random_between(random, 1, MISHAPS_MAX);
	char *fault = NULL;
	struct mishap redos[MISHAPS_MAX] = {0};
	int at[MISHAPS_MAX];

	for (int i = 0; i < mishaps && !fault; i++) {
		int most = work->sequence->call_count - 1;
		bool soon = i > 0 && random_chance(random, 40) && least + 8 < most;
		int call = random_between(random, least, soon ? least + 8 : most);
		struct count count = count_before(work->sequence, call);
		struct mishap mishap = some_mishap(random, racket, &count);
		const char *refusal = code_of_refusal(racket, &count, &mishap);
		struct faults faults = {0};
		struct sequence *after = sequence_go_back(work->sequence, call, &mishap, &faults);
		const char *code = faults.count ? faults.items[0].code : NULL;
		if (mishap.kind == MISHAP_SLIPPED && code && !refusal)
			refusal = "slipped-none"; /* the knot's end is led through its hole */
		if ((refusal || !after) && (!refusal || !code || strcmp(refusal, code) != 0))
			fault = memory_format(
				"mishap %d at call %d, %s %s %d: refused as %s, expected %s",
				mishap.kind, call + 1, string_names[mishap.string],
				side_names[mishap.side], mishap.number, code ? code : "nothing",
				refusal ? refusal : "nothing");
		if (!fault && mishap.kind == MISHAP_REDO &&
		    is_listed(work->sequence, call, &mishap) != (after != NULL))
			fault = memory_copy("the strings that a redo takes are others than listed");
		if (after && !fault && !is_continued(work->sequence, after, call))
			fault = memory_copy("the calls before are not as they were");
		faults_free(&faults);
		tally->refused += !after;
		if (!after)
			continue;
		tally->ways++;
		tally->kinds[mishap.kind]++;
		tally->nested += i > 0;
		tally->undone += after->undone;
		least = call + 1;
		sequence_free(work->sequence);
		work->sequence = after;
		redos[i] = mishap.kind == MISHAP_REDO ? mishap : (struct mishap){0};
		at[i] = call;
		for (int j = 0; j <= i && !fault; j++)
			if (redos[j].number && !comes_out(after, at[j], &redos[j]))
				fault = memory_format("%s %s %d stays in",
						      string_names[redos[j].string],
						      side_names[redos[j].side], redos[j].number);
		if (!fault)
			fault = calls_fault(after);
		if (!fault)
			fault = bed_and_strings_fault(after, racket);
		if (fault) {
			char *more =
				memory_format("after mishap %d at call %d (%s %s %d): %s",
					      mishap.kind, call + 1, string_names[mishap.string],
					      side_names[mishap.side], mishap.number, fault);
			free(fault);
			fault = more;
		}
	}
	return fault;
}

static void every_way_back_ends_in_a_good_bed(void **state)
{
	(void)state;
	struct tally tally = {0};
	int wrong = work_judge_all(seed, RACKETS, 3, judge, &tally);

	print_message(
		"%d ways back (redo %d, slipped %d, broke %d), %d nested, %d refused; %d strings "
		"undone\n",
		tally.ways, tally.kinds[MISHAP_REDO], tally.kinds[MISHAP_SLIPPED],
		tally.kinds[MISHAP_BROKE], tally.nested, tally.refused, tally.undone);
	assert_int_equal(wrong, 0);
	assert_true(tally.ways > 3000);
	assert_true(tally.nested > 1000);
	assert_true(tally.undone > 2500);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_way_back_ends_in_a_good_bed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
