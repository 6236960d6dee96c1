/* One event node, open: key edges in, with the best time there is for each. */
#ifndef PEDAL_NODE_H
#define PEDAL_NODE_H

#include "pedal/gesture.h"

#include <libevdev/libevdev.h>

struct node {
	char *path;
	struct libevdev *evdev;
	int fd;
	bool kernel_time; /* events are stamped with CLOCK_MONOTONIC */
	bool grabbed;
};

/* NULL when it cannot be opened; *error is the errno. */
struct node *node_open(const char *path, int *error);
void node_close(struct node *node);

typedef void node_sink(void *owner, unsigned code, enum gesture_edge edge, int64_t time_us);

enum node_state {
	NODE_DRAINED,
	NODE_MORE, /* a bound was reached; there may be more to read */
	NODE_GONE,
};

/* Gives all key events that are waiting. *dropped is set when the kernel had to drop some; what
 * changed meanwhile is then given from the state of the keys. */
enum node_state node_read(struct node *node, node_sink *give, void *owner, int64_t now_us,
			  bool *dropped);

/* Gives the keys that are down, as far as was read, as found down. */
void node_found_down(const struct node *node, node_sink *give, void *owner, int64_t now_us);

bool node_has_key_down(const struct node *node);

/* 0, EAGAIN when a key is down just now, EBUSY when somebody else has it, or another errno. */
int node_grab(struct node *node);
void node_let_go(struct node *node);

#endif
