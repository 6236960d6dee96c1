#include "speech/speech.h"

#include "base/base.h"
#include "speech/internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <unistd.h>

enum {
	EVENTS_MAX = 64,
	REPLAYS_MAX = 3, /* of words that each speaker died before it began */
};

#define SPEAKER "pullcall-speaker"

struct utterance {
	uint64_t generation; /* 0: none */
	char *text;
	bool finished;
	int replays;
};

struct speech {
	struct keeper *keeper; /* NULL: the sound is "none" */
	int silence;           /* then: something to poll */

	uint64_t last_generation;
	struct utterance current;
	struct utterance waiting[SPEECH_QUEUE_MAX];
	size_t waiting_count;
	char *prepared[SPEECH_PREPARED_MAX];
	size_t prepared_count;
	bool rest_due; /* when what is being said has ended */

	struct speech_event events[EVENTS_MAX];
	size_t first_event;
	size_t event_count;
};

/* --- Events for the owner --- */

static void tell(struct speech *speech, enum speech_kind kind, uint64_t generation, int64_t at_us,
		 const char *text)
{
	if (speech->event_count == EVENTS_MAX)
		return; /* the owner does not read them */
	size_t at = (speech->first_event + speech->event_count++) % EVENTS_MAX;
	struct speech_event *event = &speech->events[at];

	*event = (struct speech_event){.kind = kind, .generation = generation, .at_us = at_us};
	snprintf(event->text, sizeof event->text, "%s", text);
}

bool speech_next(struct speech *speech, struct speech_event *event)
{
	if (speech->event_count == 0)
		return false;
	*event = speech->events[speech->first_event];
	speech->first_event = (speech->first_event + 1) % EVENTS_MAX;
	speech->event_count--;
	return true;
}

/* --- What is said, and what waits --- */

static void send(struct speech *speech, enum wire_kind kind, uint64_t generation, const char *text,
		 int64_t now_us)
{
	if (speech->keeper)
		keeper_send(speech->keeper, kind, generation, text, now_us);
}

static void send_prepared(struct speech *speech, int64_t now_us)
{
	for (size_t i = 0; i < speech->prepared_count; i++)
		send(speech, WIRE_PREPARE, i, speech->prepared[i], now_us);
}

static void forget_prepared(struct speech *speech)
{
	while (speech->prepared_count > 0)
		free(speech->prepared[--speech->prepared_count]);
}

static void finished(struct speech *speech, struct utterance *utterance, int64_t now_us)
{
	if (utterance->generation && !utterance->finished)
		tell(speech, SPEECH_FINISHED, utterance->generation, now_us, "");
	utterance->finished = true;
}

static void forget(struct speech *speech, struct utterance *utterance, int64_t now_us)
{
	finished(speech, utterance, now_us);
	free(utterance->text);
	*utterance = (struct utterance){0};
}

static void begin(struct speech *speech, struct utterance utterance, int64_t now_us)
{
	forget(speech, &speech->current, now_us);
	speech->current = utterance;
	if (!speech->keeper) {
		tell(speech, SPEECH_STARTED, utterance.generation, now_us, "");
		finished(speech, &speech->current, now_us);
		return;
	}
	send(speech, WIRE_SAY, utterance.generation, utterance.text, now_us);
}

static struct utterance shift_waiting(struct speech *speech)
{
	struct utterance first = speech->waiting[0];

	speech->waiting_count--;
	memmove(speech->waiting, speech->waiting + 1,
		speech->waiting_count * sizeof *speech->waiting);
	return first;
}

static void begin_next(struct speech *speech, int64_t now_us)
{
	if (speech->waiting_count == 0)
		return;
	begin(speech, shift_waiting(speech), now_us);
	send_prepared(speech, now_us);
}

static void forget_waiting(struct speech *speech, int64_t now_us)
{
	while (speech->waiting_count > 0) {
		struct utterance utterance = shift_waiting(speech);
		forget(speech, &utterance, now_us);
	}
}

static void rest_if_due(struct speech *speech, int64_t now_us)
{
	bool talks = speech->current.generation && !speech->current.finished;

	if (!speech->rest_due || talks || !speech->keeper)
		return;
	speech->rest_due = false;
	keeper_rest(speech->keeper, now_us);
	send(speech, WIRE_REST, 0, "", now_us);
}

/* --- Called back by the keeper --- */

static void on_told(void *owner, enum speech_kind kind, int64_t now_us, const char *text)
{
	tell(owner, kind, 0, now_us, text);
}

static void on_report(void *owner, const struct wire_message *message, int64_t now_us)
{
	struct speech *speech = owner;
	struct utterance *current = &speech->current;

	if (current->generation == 0 || message->generation != current->generation)
		return; /* late */
	if (message->kind == WIRE_STARTED) {
		current->replays = 0;
		tell(speech, SPEECH_STARTED, current->generation, message->at_us, "");
		return;
	}
	finished(speech, current, now_us);
	begin_next(speech, now_us);
	rest_if_due(speech, now_us);
}

/* The current call is said again even if it had been said to the end, because its end may have been
 * lost on the way to the ear. Not in a pause, and not for ever: the words themselves may be what
 * kills the speaker. */
static void on_replay(void *owner, int64_t now_us)
{
	struct speech *speech = owner;
	struct utterance *current = &speech->current;
	bool resting = keeper_rests(speech->keeper);

	if (current->generation && !(resting && current->finished)) {
		if (current->replays++ <= REPLAYS_MAX)
			send(speech, WIRE_SAY, current->generation, current->text, now_us);
		else {
			finished(speech, current, now_us);
			begin_next(speech, now_us);
		}
	}
	send_prepared(speech, now_us);
	if (resting)
		send(speech, WIRE_REST, 0, "", now_us);
	rest_if_due(speech, now_us);
}

/* --- The public functions --- */

/* Beside this program, so that a build tree and an installed tree each use their own; else the bare
 * name, for PATH. */
static char *find_program(void)
{
	char *path = path_beside_program(SPEAKER);

	if (path && access(path, X_OK) == 0)
		return path;
	free(path);
	return memory_copy(SPEAKER);
}

static void open_keeper(struct speech *speech, const struct speech_options *given, int64_t now_us)
{
	const struct keeper_owner owner = {
		.tell = on_told, .report = on_report, .replay = on_replay, .owner = speech};
	struct speech_options options = *given;
	char *program = given->program ? memory_copy(given->program) : find_program();

	options.program = program;
	if (!given->sound)
		options.sound = "auto";
	speech->keeper = memory_new(1, sizeof *speech->keeper);
	keeper_open(speech->keeper, &options, owner, now_us);
	free(program);
}

struct speech *speech_open(const struct speech_options *options, int64_t now_us)
{
	struct speech *speech = memory_new(1, sizeof *speech);

	speech->silence = -1;
	if (options->sound && strcmp(options->sound, "none") == 0) {
		speech->silence = epoll_create1(EPOLL_CLOEXEC);
		tell(speech, SPEECH_READY, 0, now_us, "sound off");
	} else
		open_keeper(speech, options, now_us);
	return speech;
}

bool speech_is_silent(const struct speech *speech)
{
	return !speech->keeper;
}

void speech_close(struct speech *speech)
{
	if (!speech)
		return;
	if (speech->keeper)
		keeper_close(speech->keeper);
	else
		close(speech->silence);
	free(speech->keeper);
	free(speech->current.text);
	for (size_t i = 0; i < speech->waiting_count; i++)
		free(speech->waiting[i].text);
	forget_prepared(speech);
	free(speech);
}

int speech_fd(const struct speech *speech)
{
	return speech->keeper ? speech->keeper->epoll : speech->silence;
}

int64_t speech_deadline_us(const struct speech *speech)
{
	if (speech->event_count > 0)
		return 0;
	return speech->keeper ? keeper_deadline_us(speech->keeper) : SPEECH_NEVER;
}

void speech_dispatch(struct speech *speech, int64_t now_us)
{
	if (speech->keeper)
		keeper_dispatch(speech->keeper, now_us);
}

uint64_t speech_say(struct speech *speech, const char *text, enum speech_urgency urgency,
		    int64_t now_us)
{
	struct utterance utterance = {.generation = ++speech->last_generation,
				      .text = memory_copy(text)};

	speech->rest_due = false;
	if (speech->keeper)
		keeper_wake(speech->keeper, now_us);
	if (urgency == SPEECH_NOW) {
		forget_waiting(speech, now_us);
		forget_prepared(speech);
	}
	if (urgency == SPEECH_NOW || speech->current.generation == 0 || speech->current.finished) {
		begin(speech, utterance, now_us);
		send_prepared(speech, now_us);
		return utterance.generation;
	}
	if (speech->waiting_count == SPEECH_QUEUE_MAX) {
		struct utterance oldest = shift_waiting(speech);
		forget(speech, &oldest, now_us);
	}
	speech->waiting[speech->waiting_count++] = utterance;
	return utterance.generation;
}

void speech_prepare(struct speech *speech, const char *const texts[], size_t count)
{
	forget_prepared(speech);
	while (speech->prepared_count < count && speech->prepared_count < SPEECH_PREPARED_MAX) {
		speech->prepared[speech->prepared_count] =
			memory_copy(texts[speech->prepared_count]);
		speech->prepared_count++;
	}
	send_prepared(speech, clock_steady_us());
}

void speech_set_loud(struct speech *speech, bool loud, int64_t now_us)
{
	if (!speech->keeper)
		return;
	keeper_set_loud(speech->keeper, loud, now_us);
	send_prepared(speech, now_us);
}

void speech_set_volume(struct speech *speech, int percent, int64_t now_us)
{
	if (!speech->keeper)
		return;
	keeper_set_volume(speech->keeper, percent, now_us);
	send_prepared(speech, now_us);
}

void speech_hush(struct speech *speech, int64_t now_us)
{
	forget_waiting(speech, now_us);
	forget(speech, &speech->current, now_us);
	send(speech, WIRE_HUSH, 0, "", now_us);
	rest_if_due(speech, now_us);
}

void speech_rest(struct speech *speech, int64_t now_us)
{
	speech->rest_due = true;
	rest_if_due(speech, now_us);
}

void speech_wake(struct speech *speech, int64_t now_us)
{
	if (!speech->keeper)
		return;
	speech->rest_due = false;
	keeper_wake(speech->keeper, now_us);
	send(speech, WIRE_WAKE, 0, "", now_us);
}
