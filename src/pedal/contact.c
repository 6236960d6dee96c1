/* Cases. Time runs to the right; the upper line is the raw contact, the lower one what is reported.
 * D is the debounce time, which starts again at every raw edge.
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
#include "pedal/internal.h"

#include "base/base.h"

#include <assert.h>

/* Chatter is over when there was no edge for so long. */
static const int64_t rest_us = SECOND_US;

void contact_init(struct contact *contact)
{
	*contact = (struct contact){.state = CONTACT_UP, .timeout_us = INT64_MAX};
	for (int i = 0; i < CONTACT_EDGES_MAX; i++)
		contact->edges_us[i] = INT64_MIN / 2;
	for (int i = 0; i < CONTACT_PRESSES_MAX; i++)
		contact->presses_us[i] = INT64_MIN / 2;
}

/* Notes a time in a ring. True when the ring, now full of this second, says: too many. */
static bool too_many(int64_t *ring, int size, int *next, int64_t time_us)
{
	bool many = time_us - ring[*next] < SECOND_US;

	ring[*next] = time_us;
	*next = (*next + 1) % size;
	return many;
}

static unsigned start_chatter(struct contact *contact)
{
	contact->state = CONTACT_CHATTERING;
	contact->stuck = false;
	contact->timeout_us = contact->edge_us + rest_us;
	return CONTACT_BECAME_CHATTERING;
}

static void settle(struct contact *contact, const struct gesture_times *times)
{
	contact->state = CONTACT_SETTLING;
	contact->timeout_us = contact->edge_us + times->debounce_us;
}

static void rest_down(struct contact *contact, const struct gesture_times *times)
{
	contact->state = CONTACT_DOWN;
	contact->timeout_us = contact->stuck ? INT64_MAX : contact->down_since_us + times->stuck_us;
}

static void rest_up(struct contact *contact)
{
	contact->state = CONTACT_UP;
	contact->stuck = false;
	contact->timeout_us = INT64_MAX;
}

static unsigned press(struct contact *contact, const struct gesture_times *times)
{
	if (too_many(contact->presses_us, CONTACT_PRESSES_MAX, &contact->press_next,
		     contact->edge_us))
		return start_chatter(contact);
	contact->down_since_us = contact->edge_us;
	settle(contact, times);
	return CONTACT_PRESSED;
}

unsigned contact_edge(struct contact *contact, const struct gesture_times *times,
		      enum gesture_edge edge, int64_t time_us)
{
	bool closed = edge != GESTURE_EDGE_UP;

	if (edge == GESTURE_EDGE_REPEAT || closed == contact->closed)
		return 0;
	contact->closed = closed;
	contact->edge_us = time_us;
	if (edge == GESTURE_EDGE_FOUND_DOWN && contact->state == CONTACT_UP) {
		contact->down_since_us = time_us;
		rest_down(contact, times);
		return 0;
	}
	if (too_many(contact->edges_us, CONTACT_EDGES_MAX, &contact->edge_next, time_us) &&
	    contact->state != CONTACT_CHATTERING)
		return start_chatter(contact);
	switch (contact->state) {
	case CONTACT_UP:
		return press(contact, times);
	case CONTACT_DOWN:
	case CONTACT_SETTLING:
		settle(contact, times);
		return 0;
	case CONTACT_CHATTERING:
		contact->timeout_us = time_us + rest_us;
		return 0;
	}
	return 0;
}

static unsigned end_settling(struct contact *contact, const struct gesture_times *times)
{
	if (contact->closed) {
		rest_down(contact, times);
		return 0;
	}
	unsigned news = CONTACT_RELEASED | (contact->stuck ? CONTACT_BECAME_FREE : 0);
	rest_up(contact);
	return news;
}

static unsigned end_chatter(struct contact *contact, const struct gesture_times *times)
{
	if (contact->closed) {
		contact->down_since_us = contact->timeout_us;
		rest_down(contact, times);
	} else {
		rest_up(contact);
	}
	return CONTACT_BECAME_FREE;
}

unsigned contact_timeout(struct contact *contact, const struct gesture_times *times)
{
	switch (contact->state) {
	case CONTACT_UP:
		assert(false && "a contact that is up awaits nothing");
		return 0;
	case CONTACT_DOWN:
		contact->stuck = true;
		contact->timeout_us = INT64_MAX;
		return CONTACT_BECAME_STUCK;
	case CONTACT_SETTLING:
		return end_settling(contact, times);
	case CONTACT_CHATTERING:
		return end_chatter(contact, times);
	}
	return 0;
}
