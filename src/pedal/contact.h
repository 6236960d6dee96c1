/* One contact of a pedal: from raw edges to presses and releases that can be trusted. Pure; used by
 * gesture.c, which says what presses mean. The table of cases is at the top of contact.c. */
#ifndef PEDAL_CONTACT_H
#define PEDAL_CONTACT_H

#include "pedal/gesture.h"

enum contact_state {
	CONTACT_UP,         /* up and quiet: the next edge is a press, at once */
	CONTACT_DOWN,       /* down and quiet */
	CONTACT_SETTLING,   /* counts as down; an edge is less than the debounce time old */
	CONTACT_CHATTERING, /* not listened to until it has been quiet for a while */
};

/* What a step of the contact brought about: none, one or several. */
enum contact_news {
	CONTACT_PRESSED = 1,
	CONTACT_RELEASED = 2,
	CONTACT_BECAME_STUCK = 4,
	CONTACT_BECAME_FREE = 8,
	CONTACT_BECAME_CHATTERING = 16,
};

/* More than this within a second is chatter, not a foot. */
enum { CONTACT_EDGES_MAX = 40, CONTACT_PRESSES_MAX = 10 };

struct contact {
	enum contact_state state;
	bool closed; /* as the last raw edge left it */
	bool stuck;  /* has been reported */
	int64_t down_since_us;
	int64_t edge_us;                     /* the last raw edge */
	int64_t timeout_us;                  /* INT64_MAX: none */
	int64_t edges_us[CONTACT_EDGES_MAX]; /* the last ones, in a ring */
	int64_t presses_us[CONTACT_PRESSES_MAX];
	int edge_next;
	int press_next;
};

void contact_init(struct contact *contact);

/* Both return a set of enum contact_news. contact_timeout is for a contact whose timeout_us has
 * come. */
unsigned contact_edge(struct contact *contact, const struct gesture_times *times,
		      enum gesture_edge edge, int64_t time_us);
unsigned contact_timeout(struct contact *contact, const struct gesture_times *times);

#endif
