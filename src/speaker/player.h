/* Says words: synthesiser, prompts made ahead, mixer and sink put together. One thread uses it.
 *
 * Prompts are kept by their words, the last few of them, so that words that were prepared, or said
 * not long ago, start at once.
 */
#ifndef SPEAKER_PLAYER_H
#define SPEAKER_PLAYER_H

#include "speaker/sink.h"

#include <stdbool.h>
#include <stdint.h>

struct player_options {
	const char *sound;
	const char *voice;
	int rate_wpm;
	int volume_percent;
	bool tone;
	int64_t began_us;         /* as for sink_open */
	struct patience patience; /* asked while a prompt is made; what is being said is made in any
				     case */
};

struct player;

/* Not started yet. The threads of the libraries take no signals. Anything but SINK_OPEN comes with
 * *why; the caller frees it. */
enum sink_result player_open(const struct player_options *options, struct player **player,
			     char **why);
void player_close(struct player *player);

/* Opens the stream, or closes it. */
bool player_start(struct player *player, char **why);
void player_stop(struct player *player);

/* Cuts off what is being said, and forgets what is not yet ready. False: there is nothing in text
 * that can be said. */
bool player_say(struct player *player, const char *text, uint64_t generation);
void player_hush(struct player *player);

/* Text will probably be said; player_make_ready makes one of them ready, in their order. What it
 * gives up it begins anew the next time. */
void player_prepare(struct player *player, const char *text);
void player_forget_prepared(struct player *player);
bool player_has_work(const struct player *player);
void player_make_ready(struct player *player);

/* What became of the last that was said, and asked just once. */
bool player_started(struct player *player, int64_t *at_us);
bool player_finished(struct player *player);

bool player_is_busy(const struct player *player);    /* one of the two is to come */
bool player_is_started(const struct player *player); /* it was reported */

uint64_t player_generation(const struct player *player);
uint64_t player_beats(struct player *player);
const struct sink *player_sink(const struct player *player);

#endif
