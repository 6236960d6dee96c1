/* From the edges of a contact to presses and releases that can be trusted, and from those to
 * gestures. */
#include "pedal/internal.h"

#include <assert.h>

/* ---- contacts ---- */

/* Cases of a contact. Time runs to the right; the upper line is the raw contact, the lower one what
 * is reported. D is the debounce time, which starts again at every raw edge.
 *
 *  1  clean press            __/‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾\________
 *                              |P               |<-D->|R     R is dated at its edge
 *  2  bounce at the press    __/‾\_/‾‾‾‾‾‾‾‾‾‾‾‾\________
 *                              |P               |<-D->|R
 *  3  bounce at the release  __/‾‾‾‾‾‾‾‾‾‾‾‾\_/‾\________    dated at the last edge
 *                              |P               |<-D->|R
 *  4  a gap in a long press  __/‾‾‾‾‾\_/‾‾‾‾‾‾‾‾\________    shorter than D: not seen
 *                              |P               |<-D->|R
 *  5  a press shorter than D __/‾\________
 *                              |P|<-D->|R
 *  6  stuck                  __/‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾ ... ‾‾\________
 *                              |P<- stuck time ->|S       |<-D->|RF
 *  7  chatter                __/\/\/\/\/\/\/\/\/\____________
 *                              |P          |C      |<- rest ->|F
 *  8  found down             ‾‾‾‾‾‾‾‾‾‾\________
 *                                      |<-D->|R              no press was seen, none is reported
 *
 * A press goes out at once because the person waits for the answer; only a release may wait,
 * because nothing that a release does is heard.
 */

enum contact_state {
	CONTACT_UP,         /* up and quiet: the next edge is a press, at once */
	CONTACT_DOWN,       /* down and quiet */
	CONTACT_SETTLING,   /* counts as down; an edge is less than the debounce time old */
	CONTACT_CHATTERING, /* ignored until it has been quiet for a while */
};

/* More than this within a second is chatter, not a foot. */
enum { CONTACT_EDGES_MAX = 40, CONTACT_PRESSES_MAX = 10 };

struct second {
	int64_t began_us;
	int count; /* of what happened in it so far */
};

struct contact {
	enum contact_state state;
	bool closed; /* as the last raw edge left it */
	bool stuck;  /* has been reported */
	int64_t down_since_us;
	int64_t edge_us;    /* the last raw edge */
	int64_t timeout_us; /* INT64_MAX: none */
	struct second edges;
	struct second presses;
};

/* Chatter is over when there was no edge for so long. */
static const int64_t rest_us = SECOND_US;

static const struct contact quiet_contact = {.state = CONTACT_UP, .timeout_us = INT64_MAX};

/* Counts what happens at time_us. True when that is more than max since the second began. */
static bool too_many(struct second *second, int max, int64_t time_us)
{
	if (time_us - second->began_us >= SECOND_US)
		*second = (struct second){.began_us = time_us};
	return ++second->count > max;
}

/* ---- gestures ---- */

/* See pedal.h for what a pedal gives when. Besides:
 *
 *  1  double, tap-and-hold   __/‾‾\__/‾‾\__/‾‾\__/‾‾‾‾‾‾‾‾‾‾‾‾
 *                              N     UA    N     UB<-  H  ->|P
 *  2  another pedal between  __/‾‾\_____/‾‾\_____________
 *     (or a command)           N     x   N                what is not the last is not taken back
 *  3  a hold let go in time  __/‾‾‾‾‾‾‾‾\________________
 *                              N<-  H  ->|                up at its last edge before H: a tap
 *
 * H is the hold time. N is next, UA undo-again, UB undo-back, P pause.
 */

enum step_state {
	STEP_IDLE,
	STEP_GAP,   /* up after FIRST: a press now makes a double tap */
	STEP_CHAIN, /* up after SECOND: the next double tap goes further back */
	/* From here on it is down. */
	STEP_SPENT,  /* nothing more comes of this press */
	STEP_FIRST,  /* its NEXT may still be taken back */
	STEP_SECOND, /* the double tap was given */
	STEP_AGAIN,  /* AGAIN was given: held, it opens the choices */
	STEP_HELD,   /* the hold was given: held on, HELD is given every so often */
};

struct key {
	unsigned code;
	enum gesture_role role;
	struct contact contact;
	enum step_state state;
	bool chained;       /* in FIRST and GAP: a double tap came right before */
	int64_t timeout_us; /* INT64_MAX: none */
};

struct gestures {
	struct gesture_times times;
	pedal_sink *emit;
	void *owner;
	int64_t now_us; /* the latest time seen */
	int key_count;
	struct key keys[GESTURE_KEYS_MAX];
};

const struct gesture_times gesture_default_times = {
	.debounce_us = 25 * MS_US,
	.double_tap_us = 300 * MS_US,
	.hold_us = 500 * MS_US,
	.chain_us = 1000 * MS_US,
	.stuck_us = 10 * SECOND_US,
};

/* Time to hear what a HELD has led to, and to let go. Our choice. */
static const int64_t held_us = 1500 * MS_US;

static bool in_range(int64_t time_us)
{
	return time_us > 0 && time_us <= 60 * SECOND_US;
}

const char *gesture_times_fault(const struct gesture_times *times)
{
	if (!in_range(times->debounce_us) || !in_range(times->double_tap_us) ||
	    !in_range(times->hold_us) || !in_range(times->chain_us) || !in_range(times->stuck_us))
		return "gesture times are longer than 0 and at most 60 s";
	if (times->debounce_us >= times->double_tap_us)
		return "the debounce time must be shorter than the double-tap time";
	if (times->debounce_us >= times->hold_us)
		return "the debounce time must be shorter than the hold time";
	if (times->hold_us >= times->stuck_us)
		return "the hold time must be shorter than the time after which a contact is stuck";
	return NULL;
}

struct gestures *gestures_new(const struct gesture_times *times, pedal_sink *emit, void *owner)
{
	struct gestures *gestures = memory_new(1, sizeof *gestures);

	gestures->times = *times;
	gestures->emit = emit;
	gestures->owner = owner;
	gestures->now_us = INT64_MIN;
	return gestures;
}

static struct key *find_key(struct gestures *gestures, unsigned code)
{
	for (int i = 0; i < gestures->key_count; i++)
		if (gestures->keys[i].code == code)
			return &gestures->keys[i];
	return NULL;
}

void gestures_add_key(struct gestures *gestures, unsigned code, enum gesture_role role)
{
	if (gestures->key_count == GESTURE_KEYS_MAX || find_key(gestures, code))
		return;
	struct key *key = &gestures->keys[gestures->key_count++];
	*key = (struct key){
		.code = code, .role = role, .contact = quiet_contact, .timeout_us = INT64_MAX};
}

static void give(const struct gestures *gestures, const struct key *key, enum pedal_event_kind kind)
{
	bool after_another = kind == GESTURE_UNDO_AGAIN || kind == GESTURE_UNDO_BACK ||
			     kind == GESTURE_UNDO_PAUSE || kind == GESTURE_CHOICES;
	struct pedal_event event = {
		.kind = kind,
		.steps = after_another ? 1 : 0,
		.key = (int)key->code,
		.time_us = gestures->now_us,
	};

	gestures->emit(gestures->owner, &event);
}

static void enter(struct key *key, enum step_state state, int64_t timeout_us)
{
	key->state = state;
	key->timeout_us = timeout_us;
}

/* Nothing more comes of what was given: something else moved the job, or a time ran out. */
static void spend(struct key *key)
{
	enter(key, key->state >= STEP_SPENT ? STEP_SPENT : STEP_IDLE, INT64_MAX);
}

static void spend_all_but(struct gestures *gestures, const struct key *but)
{
	for (int i = 0; i < gestures->key_count; i++)
		if (&gestures->keys[i] != but)
			spend(&gestures->keys[i]);
}

static void step_press(const struct gestures *gestures, struct key *key)
{
	int64_t hold_us = gestures->now_us + gestures->times.hold_us;

	if (key->state == STEP_GAP) {
		give(gestures, key, key->chained ? GESTURE_UNDO_BACK : GESTURE_UNDO_AGAIN);
		enter(key, STEP_SECOND, hold_us);
		return;
	}
	assert(key->state == STEP_IDLE || key->state == STEP_CHAIN);
	give(gestures, key, GESTURE_NEXT);
	key->chained = key->state == STEP_CHAIN;
	enter(key, STEP_FIRST, hold_us);
}

static void press(struct gestures *gestures, struct key *key)
{
	static const enum pedal_event_kind kinds[] = {
		[GESTURE_ROLE_NEXT] = GESTURE_NEXT,
		[GESTURE_ROLE_AGAIN] = GESTURE_AGAIN,
		[GESTURE_ROLE_BACK] = GESTURE_BACK,
		[GESTURE_ROLE_PAUSE] = GESTURE_PAUSE,
	};

	spend_all_but(gestures, key);
	if (key->role == GESTURE_ROLE_STEP) {
		step_press(gestures, key);
		return;
	}
	give(gestures, key, kinds[key->role]);
	if (key->role == GESTURE_ROLE_AGAIN)
		enter(key, STEP_AGAIN, gestures->now_us + gestures->times.hold_us);
}

static void release(const struct gestures *gestures, struct key *key)
{
	int64_t time_us = key->contact.edge_us;

	if (key->state == STEP_FIRST)
		enter(key, STEP_GAP, time_us + gestures->times.double_tap_us);
	else if (key->state == STEP_SECOND)
		enter(key, STEP_CHAIN, time_us + gestures->times.chain_us);
	else
		enter(key, STEP_IDLE, INT64_MAX);
}

static void step_timeout(const struct gestures *gestures, struct key *key)
{
	static const enum pedal_event_kind kinds[] = {
		[STEP_FIRST] = GESTURE_UNDO_PAUSE,
		[STEP_SECOND] = GESTURE_PAUSE,
		[STEP_AGAIN] = GESTURE_CHOICES,
		[STEP_HELD] = GESTURE_HELD,
	};
	bool held = key->state > STEP_SPENT;

	if (held)
		give(gestures, key, kinds[key->state]);
	if (held && key->state != STEP_AGAIN)
		enter(key, STEP_HELD, gestures->now_us + held_us);
	else
		spend(key);
}

/* ---- from edges to presses and releases ---- */

static void start_chatter(const struct gestures *gestures, struct key *key)
{
	key->contact.state = CONTACT_CHATTERING;
	key->contact.stuck = false;
	key->contact.timeout_us = gestures->now_us + rest_us;
	enter(key, STEP_IDLE, INT64_MAX);
	give(gestures, key, PEDAL_CHATTER);
}

static void settle(const struct gestures *gestures, struct contact *contact)
{
	contact->state = CONTACT_SETTLING;
	contact->timeout_us = contact->edge_us + gestures->times.debounce_us;
}

/* Quiet, and as its last edge left it. */
static void rest(const struct gestures *gestures, struct contact *contact)
{
	contact->state = contact->closed ? CONTACT_DOWN : CONTACT_UP;
	contact->stuck &= contact->closed;
	contact->timeout_us = contact->closed && !contact->stuck
				      ? contact->down_since_us + gestures->times.stuck_us
				      : INT64_MAX;
}

static void contact_edge(struct gestures *gestures, struct key *key, enum gesture_edge edge)
{
	struct contact *contact = &key->contact;
	bool closed = edge != GESTURE_EDGE_UP;
	int64_t now_us = gestures->now_us;

	if (edge == GESTURE_EDGE_REPEAT || closed == contact->closed)
		return;
	contact->closed = closed;
	contact->edge_us = now_us;
	if (contact->state == CONTACT_UP)
		contact->down_since_us = now_us;
	if (contact->state == CONTACT_UP && edge == GESTURE_EDGE_FOUND_DOWN) {
		rest(gestures, contact);
		return;
	}
	bool chatters = too_many(&contact->edges, CONTACT_EDGES_MAX, now_us);
	if (contact->state == CONTACT_CHATTERING) {
		contact->timeout_us = now_us + rest_us;
		return;
	}
	bool pressed = !chatters && contact->state == CONTACT_UP;
	if (pressed)
		chatters = too_many(&contact->presses, CONTACT_PRESSES_MAX, now_us);
	if (chatters) {
		start_chatter(gestures, key);
		return;
	}
	settle(gestures, contact);
	if (pressed)
		press(gestures, key);
}

static void contact_timeout(struct gestures *gestures, struct key *key)
{
	struct contact *contact = &key->contact;
	bool chattered = contact->state == CONTACT_CHATTERING;
	bool was_stuck = contact->stuck;

	if (contact->state == CONTACT_DOWN) {
		contact->stuck = true;
		spend(key);
		give(gestures, key, PEDAL_STUCK);
	}
	if (chattered)
		contact->down_since_us = contact->timeout_us;
	rest(gestures, contact);
	if (!contact->closed && !chattered)
		release(gestures, key);
	if (chattered || (was_stuck && !contact->closed))
		give(gestures, key, PEDAL_FREED);
}

/* ---- time ---- */

/* When the key's gesture times out: a hold not before the contact has settled, as it may be a
 * release. */
static int64_t step_due_us(const struct key *key)
{
	if (key->timeout_us != INT64_MAX && key->contact.state == CONTACT_SETTLING &&
	    key->timeout_us < key->contact.timeout_us)
		return key->contact.timeout_us;
	return key->timeout_us;
}

static int64_t due_us(const struct key *key)
{
	int64_t step_us = step_due_us(key);

	return key->contact.timeout_us < step_us ? key->contact.timeout_us : step_us;
}

/* The number of the key whose timeout comes first; -1: there are no keys. */
static int first_due(const struct gestures *gestures)
{
	int first = -1;

	for (int i = 0; i < gestures->key_count; i++)
		if (first < 0 || due_us(&gestures->keys[i]) < due_us(&gestures->keys[first]))
			first = i;
	return first;
}

int64_t gestures_deadline_us(const struct gestures *gestures)
{
	int first = first_due(gestures);

	return first < 0 ? INT64_MAX : due_us(&gestures->keys[first]);
}

/* In the order of time. */
void gestures_tick(struct gestures *gestures, int64_t now_us)
{
	int64_t time_us;

	while ((time_us = gestures_deadline_us(gestures)) != INT64_MAX && time_us <= now_us) {
		struct key *key = &gestures->keys[first_due(gestures)];

		if (time_us > gestures->now_us)
			gestures->now_us = time_us;
		/* The contact first: a release that is believed now ends a hold that is due now. */
		if (key->contact.timeout_us <= step_due_us(key))
			contact_timeout(gestures, key);
		else
			step_timeout(gestures, key);
	}
	if (now_us > gestures->now_us)
		gestures->now_us = now_us;
}

void gestures_edge(struct gestures *gestures, unsigned code, enum gesture_edge edge,
		   int64_t time_us)
{
	struct key *key = find_key(gestures, code);

	if (!key)
		return;
	gestures_tick(gestures, time_us);
	if (edge == GESTURE_EDGE_FOUND_DOWN)
		spend(key);
	contact_edge(gestures, key, edge);
}

void gestures_release(struct gestures *gestures, int64_t now_us)
{
	gestures_tick(gestures, now_us);
	for (int i = 0; i < gestures->key_count; i++) {
		struct key *key = &gestures->keys[i];
		bool trouble = key->contact.stuck || key->contact.state == CONTACT_CHATTERING;

		key->contact = quiet_contact;
		enter(key, STEP_IDLE, INT64_MAX);
		if (trouble)
			give(gestures, key, PEDAL_FREED);
	}
}

void gestures_forget(struct gestures *gestures)
{
	spend_all_but(gestures, NULL);
}

bool gestures_settled(const struct gestures *gestures)
{
	for (int i = 0; i < gestures->key_count; i++)
		if (gestures->keys[i].state == STEP_FIRST || gestures->keys[i].state == STEP_GAP)
			return false;
	return true;
}

const char *const gesture_role_names[] = {"step", "next", "again", "back", "pause", NULL};
