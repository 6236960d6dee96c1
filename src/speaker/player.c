#include "speaker/speaker.h"

#include "base/base.h"
#include "speech/speech.h"

#include <assert.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>

enum {
	KEPT = 8, /* prompts: the current one, those prepared, and those of the press before */
	CUES = 4, /* the callback holds two, one waits for it, one is being filled */
};

struct kept {
	char *words;
	bool loud;
	int volume_percent;
	struct prompt prompt;
	uint64_t used; /* when; 0: never */
};

struct player {
	struct prompt_style style;
	struct speech_pcm pcm;
	struct sink *sink;
	struct mixer mixer;
	struct kept kept[KEPT];
	uint64_t uses;
	char *ahead[SPEECH_PREPARED_MAX]; /* to be made ready, in this order */
	size_t ahead_count;
	struct checkpoint checkpoint;
	bool may_give_up;
	bool gave_up;
	struct cue cues[CUES];
	struct cue *said; /* the last one, until both its reports are made */
	bool told_start;
};

static bool is_free(const struct cue *cue)
{
	return atomic_load_explicit(&cue->ended, memory_order_acquire);
}

static bool in_use(const struct player *player, const struct kept *kept)
{
	for (int i = 0; i < CUES; i++)
		if (!is_free(&player->cues[i]) &&
		    player->cues[i].prompt.samples == kept->prompt.samples)
			return true;
	return false;
}

static struct kept *oldest_unused(struct player *player)
{
	struct kept *oldest = NULL;

	for (int i = 0; i < KEPT; i++) {
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
	prompt_free(&kept->prompt);
	*kept = (struct kept){0};
}

/* The checkpoint of a prompt: asks the owner, but gives up only what nobody waits for. */
static bool keep_going(void *context)
{
	struct player *player = context;

	player->gave_up = !checkpoint_passed(&player->checkpoint) && player->may_give_up;
	return !player->gave_up;
}

/* The prompt for text, made now if it is not there. NULL: nothing can be said, or gave_up. */
static const struct prompt *prompt_for(struct player *player, const char *text)
{
	char words[SPOKEN_MAX];

	if (!spoken_text(text, words))
		return NULL;
	for (int i = 0; i < KEPT; i++)
		if (player->kept[i].words && player->kept[i].loud == player->style.loud &&
		    player->kept[i].volume_percent == player->style.volume_percent &&
		    strcmp(player->kept[i].words, words) == 0) {
			player->kept[i].used = ++player->uses;
			return &player->kept[i].prompt;
		}
	struct kept *kept = oldest_unused(player);
	if (!kept)
		return NULL;
	drop(kept);
	if (!synth_speak(words, &player->pcm) ||
	    !prompt_make(&player->pcm, synth_rate_hz(), &player->style, &kept->prompt)) {
		prompt_free(&kept->prompt);
		return NULL;
	}
	kept->words = memory_copy(words);
	kept->loud = player->style.loud;
	kept->volume_percent = player->style.volume_percent;
	kept->used = ++player->uses;
	return &kept->prompt;
}

static struct cue *free_cue(struct player *player)
{
	for (int i = 0; i < CUES; i++)
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
	if (!prompt)
		return false;
	play(player, *prompt, generation);
	return true;
}

void player_prepare(struct player *player, const char *text)
{
	if (player->ahead_count < SPEECH_PREPARED_MAX)
		player->ahead[player->ahead_count++] = memory_copy(text);
}

bool player_has_work(const struct player *player)
{
	return player->ahead_count > 0;
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

void player_set_loud(struct player *player, bool loud)
{
	player->style.loud = loud;
}

void player_set_volume(struct player *player, int percent)
{
	player->style.volume_percent = percent;
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

bool player_is_busy(const struct player *player)
{
	return player->said;
}

bool player_is_started(const struct player *player)
{
	return player->told_start;
}

uint64_t player_generation(const struct player *player)
{
	return player->said ? player->said->generation : 0;
}

uint64_t player_beats(struct player *player)
{
	return atomic_load_explicit(&player->mixer.beats, memory_order_relaxed);
}

const struct sink *player_sink(const struct player *player)
{
	return player->sink;
}

/* The libraries start threads, and none of them may receive a signal. */
static sigset_t block_signals(void)
{
	sigset_t all, before;

	sigfillset(&all);
	pthread_sigmask(SIG_BLOCK, &all, &before);
	return before;
}

static void restore_signals(const sigset_t *before)
{
	pthread_sigmask(SIG_SETMASK, before, NULL);
}

static enum sink_result open_parts(const struct player_options *options, struct player **opened,
				   char **why)
{
	if (!synth_open(options->voice, options->rate_wpm, why))
		return SINK_REFUSED;
	struct player *player = memory_new(1, sizeof *player);
	enum sink_result result =
		sink_open(options->sound, options->began_us, &player->mixer, &player->sink, why);
	if (result != SINK_OPEN) {
		free(player);
		return result;
	}
	player->style = (struct prompt_style){
		.rate_hz = player->sink->rate_hz,
		.volume_percent = options->volume_percent,
		.tone = options->tone,
		.loud = options->loud,
	};
	player->checkpoint = options->checkpoint;
	player->pcm.checkpoint = (struct checkpoint){.keep_going = keep_going, .owner = player};
	for (int i = 0; i < CUES; i++)
		atomic_store(&player->cues[i].ended, true);
	*opened = player;
	return SINK_OPEN;
}

enum sink_result player_open(const struct player_options *options, struct player **player,
			     char **why)
{
	sigset_t signals = block_signals();
	enum sink_result result = open_parts(options, player, why);

	restore_signals(&signals);
	return result;
}

bool player_start(struct player *player, char **why)
{
	sigset_t signals = block_signals();

	mixer_open(&player->mixer, player->sink->rate_hz, player->sink->hold_ms);
	bool started = sink_start(player->sink, why);
	restore_signals(&signals);
	return started;
}

void player_stop(struct player *player)
{
	sink_stop(player->sink);
	mixer_reset(&player->mixer);
}

void player_close(struct player *player)
{
	player_stop(player);
	sink_close(player->sink);
	player_forget_prepared(player);
	for (int i = 0; i < KEPT; i++)
		drop(&player->kept[i]);
	speech_pcm_free(&player->pcm);
	free(player);
}
