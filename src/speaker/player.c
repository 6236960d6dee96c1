/* Says texts: prompts are made, kept and handed to the mixer. */
#include "speaker/speaker.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

static bool is_free(const struct cue *cue)
{
	return atomic_load_explicit(&cue->ended, memory_order_acquire);
}

static bool in_use(const struct player *player, const struct kept *kept)
{
	for (int i = 0; i < PLAYER_CUES; i++)
		if (!is_free(&player->cues[i]) &&
		    player->cues[i].prompt.samples == kept->prompt.samples)
			return true;
	return false;
}

static struct kept *oldest_unused(struct player *player)
{
	struct kept *oldest = NULL;

	for (int i = 0; i < PLAYER_KEPT; i++) {
		struct kept *kept = &player->kept[i];
		if (kept->words && in_use(player, kept))
			continue;
		if (!oldest || kept->used < oldest->used)
			oldest = kept;
	}
	return oldest;
}

static void drop(struct kept *kept)
{
	free(kept->words);
	free(kept->prompt.samples);
	*kept = (struct kept){0};
}

/* The checkpoint of a prompt: asks the owner, but gives up only what nobody waits for. */
static bool keep_going(void *context)
{
	struct player *player = context;

	player->gave_up = !checkpoint_passed(&player->checkpoint) && player->may_give_up;
	return !player->gave_up;
}

static struct kept *find(struct player *player, const char *words)
{
	for (int i = 0; i < PLAYER_KEPT; i++) {
		struct kept *kept = &player->kept[i];
		if (kept->words && kept->style.loud == player->style.loud &&
		    kept->style.volume_percent == player->style.volume_percent &&
		    strcmp(kept->words, words) == 0)
			return kept;
	}
	return NULL;
}

static struct kept *make(struct player *player, const char *words)
{
	struct kept *kept = oldest_unused(player);

	if (!kept)
		return NULL;
	drop(kept);
	bool said = player->recordings ? recordings_speak(player->recordings, words, &player->pcm)
				       : synth_speak(words, &player->pcm);
	if (!said || !prompt_make(&player->pcm, &player->style, &kept->prompt))
		return NULL;
	kept->words = memory_copy(words);
	kept->style = player->style;
	return kept;
}

/* The prompt for text, made now if it is not there. NULL: nothing can be said, or gave_up. */
static const struct prompt *prompt_for(struct player *player, const char *text)
{
	char words[SPOKEN_MAX];

	if (!spoken_text(text, words))
		return NULL;
	struct kept *kept = find(player, words);
	if (!kept)
		kept = make(player, words);
	if (!kept)
		return NULL;
	kept->used = ++player->uses;
	return &kept->prompt;
}

static struct cue *free_cue(struct player *player)
{
	for (int i = 0; i < PLAYER_CUES; i++)
		if (is_free(&player->cues[i]))
			return &player->cues[i];
	return NULL;
}

static void play(struct player *player, struct prompt prompt, uint64_t generation)
{
	struct cue *cue = free_cue(player);

	assert(cue);
	cue->prompt = prompt;
	cue->generation = generation;
	atomic_store_explicit(&cue->started_us, 0, memory_order_relaxed);
	atomic_store_explicit(&cue->ended, false, memory_order_relaxed);
	struct cue *untaken = mixer_play(&player->mixer, cue);
	if (untaken)
		atomic_store_explicit(&untaken->ended, true, memory_order_relaxed);
	player->said = cue;
	player->told_start = false;
}

void player_forget_prepared(struct player *player)
{
	while (player->ahead_count > 0)
		free(player->ahead[--player->ahead_count]);
}

bool player_say(struct player *player, const char *text, uint64_t generation)
{
	player->may_give_up = false;
	const struct prompt *prompt = prompt_for(player, text);
	player_forget_prepared(player);
	play(player, prompt ? *prompt : (struct prompt){0}, generation);
	return prompt;
}

void player_prepare(struct player *player, const char *text)
{
	if (player->ahead_count < SPEECH_PREPARED_MAX)
		player->ahead[player->ahead_count++] = memory_copy(text);
}

void player_make_ready(struct player *player)
{
	if (player->ahead_count == 0)
		return;
	player->may_give_up = true;
	player->gave_up = false;
	prompt_for(player, player->ahead[0]);
	if (player->gave_up)
		return;
	free(player->ahead[0]);
	player->ahead_count--;
	memmove(player->ahead, player->ahead + 1, player->ahead_count * sizeof *player->ahead);
}

void player_hush(struct player *player)
{
	play(player, (struct prompt){0}, 0);
	player->told_start = true;
}

bool player_started(struct player *player, int64_t *at_us)
{
	if (!player->said || player->told_start)
		return false;
	*at_us = atomic_load_explicit(&player->said->started_us, memory_order_acquire);
	player->told_start = *at_us != 0;
	return player->told_start;
}

bool player_finished(struct player *player)
{
	if (!player->said || !player->told_start || !is_free(player->said))
		return false;
	player->said = NULL;
	return true;
}

enum sink_result player_open(const struct player_options *options, struct player **opened,
			     char **why)
{
	struct recording *recordings = NULL;

	if (!synth_open(options->voice, options->rate_wpm, why))
		return SINK_REFUSED;
	if (options->recorded)
		recordings = recordings_open(options->recorded, why);
	if (options->recorded && !recordings)
		return SINK_REFUSED;
	struct player *player = memory_new(1, sizeof *player);
	enum sink_result result =
		sink_open(options->sound, options->began_us, &player->mixer, &player->sink, why);
	if (result != SINK_OPEN) {
		recordings_free(recordings);
		free(player);
		return result;
	}
	player->recordings = recordings;
	player->style = options->style;
	player->style.rate_hz = player->sink->rate_hz;
	player->checkpoint = options->checkpoint;
	player->pcm.checkpoint = (struct checkpoint){.keep_going = keep_going, .owner = player};
	for (int i = 0; i < PLAYER_CUES; i++)
		atomic_store(&player->cues[i].ended, true);
	*opened = player;
	return SINK_OPEN;
}

bool player_start(struct player *player, char **why)
{
	mixer_open(&player->mixer, player->sink->rate_hz, player->sink->hold_ms);
	return player->sink->start(player->sink, why);
}

void player_stop(struct player *player)
{
	player->sink->stop(player->sink);
	mixer_reset(&player->mixer);
}

void player_close(struct player *player)
{
	player_stop(player);
	player->sink->close(player->sink);
	player_forget_prepared(player);
	for (int i = 0; i < PLAYER_KEPT; i++)
		drop(&player->kept[i]);
	free(player->pcm.samples);
	recordings_free(player->recordings);
	free(player);
}
