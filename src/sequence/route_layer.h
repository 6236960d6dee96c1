/* All states of a search for routes after one of the crosses: a set that numbers its members. */
#ifndef SEQUENCE_ROUTE_LAYER_H
#define SEQUENCE_ROUTE_LAYER_H

#include <stdint.h>

/* A zeroed struct is an empty layer. */
struct layer {
	int slots;      /* of its states */
	uint64_t *keys; /* packed states, in the order in which they were added */
	int *breaks;    /* the fewest on the way to each */
	int64_t *rest;  /* the least cost still to come, by state; NULL until it is known */
	int count;
	int *table; /* indexes into keys, scattered; -1: free */
	int table_size;
};

/* Adds a state, or finds a way to it with fewer breaks. */
void layer_add(struct layer *layer, uint64_t key, int breaks);

/* The index of a state, or -1. */
int layer_find(const struct layer *layer, uint64_t key);

void layer_free(struct layer *layer);

#endif
