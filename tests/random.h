/* Random numbers that are the same on every machine: SplitMix64 (Steele, Lea & Flood 2014), so that
 * a seed printed by a failing test finds the case again. */
#ifndef TESTS_RANDOM_H
#define TESTS_RANDOM_H

#include <stdbool.h>
#include <stdint.h>

struct random {
	uint64_t state;
};

static inline uint64_t random_bits(struct random *random)
{
	uint64_t z = random->state += UINT64_C(0x9e3779b97f4a7c15);

	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return z ^ (z >> 31);
}

/* Evenly enough from min to max, both included. */
static inline int random_between(struct random *random, int min, int max)
{
	return min + (int)(random_bits(random) % (uint64_t)(max - min + 1));
}

static inline bool random_chance(struct random *random, int percent)
{
	return random_between(random, 1, 100) <= percent;
}

#endif
