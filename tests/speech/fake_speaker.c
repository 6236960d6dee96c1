/* A speaker for tests: speaks the wire, makes no sound, and misbehaves as its --sound says.
 *
 *   good           beats every 20 ms; STARTED at once, FINISHED 50 ms later
 *   die            as good, and aborts before the first words of each life
 *   die-once:FILE  aborts in the middle of words, but only while FILE does not exist (it makes it)
 *   flood-once:FILE, nonsense-once:FILE, mute-once:FILE, deaf-once:FILE,
 *   hang-up-once:FILE  instead of dying: standard error without end;
 *                  messages that are none; not a word; not reading; closing the wire and living on
 *   no-device      says so and exits
 *   refuse         says so and exits
 *   absent:FILE    no-device until FILE exists
 *   echo           TROUBLE with each order it gets
 */
#include "base/base.h"
#include "speech/speech.h"

#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sysexits.h>
#include <unistd.h>

enum { BEAT_MS = 20, WORDS_US = 50000 };

static int wire = 3;
static const char *sound = "good";

static void report(enum wire_kind kind, uint64_t generation, const char *text)
{
	struct wire_message message = {
		.kind = (uint16_t)kind, .generation = generation, .at_us = clock_steady_us()};

	wire_set_text(&message, text);
	wire_send(wire, &message);
}

static const char *file_of_sound(void)
{
	const char *colon = strchr(sound, ':');

	return colon ? colon + 1 : "";
}

/* True for the first life in which it is asked. */
static bool first_life(void)
{
	int fd = open(file_of_sound(), O_CREAT | O_EXCL | O_WRONLY, 0600);

	if (fd >= 0)
		close(fd);
	return fd >= 0;
}

static bool is(const char *name)
{
	return strncmp(sound, name, strlen(name)) == 0;
}

static void flood(void)
{
	char line[4096];

	memset(line, 'x', sizeof line);
	line[sizeof line - 1] = '\n';
	for (;;)
		if (write(STDERR_FILENO, line, sizeof line) < 0)
			_exit(EX_IOERR);
}

static void misbehave(void)
{
	if (is("die")) {
		fputs("fake: well\nfake: about\x1b to die\n\n", stderr);
		abort();
	}
	if (is("mute"))
		for (;;)
			pause();
	if (is("flood"))
		flood();
	if (is("nonsense")) {
		const char bytes[] = "this is no message";
		if (write(wire, bytes, sizeof bytes) < 0)
			_exit(EX_IOERR);
	}
	if (is("deaf"))
		for (;;) {
			usleep(BEAT_MS * 1000);
			report(WIRE_BEAT, 0, "");
		}
	if (is("hang-up")) {
		close(wire);
		pause();
	}
}

static void echo(const struct wire_message *order)
{
	static const char *const names[] = {[WIRE_SAY] = "say",
					    [WIRE_PREPARE] = "prepare",
					    [WIRE_HUSH] = "hush",
					    [WIRE_REST] = "rest",
					    [WIRE_WAKE] = "wake"};
	char text[WIRE_TEXT_MAX + 20];

	if (!is("echo"))
		return;
	snprintf(text, sizeof text, "%s%s%s", names[order->kind], order->text[0] ? " " : "",
		 order->text);
	report(WIRE_TROUBLE, 0, text);
}

int main(int count, char **arguments)
{
	uint64_t said = 0;
	int64_t finish_us = INT64_MAX;
	bool resting = false;
	struct wire_message order;

	for (int i = 1; i + 1 < count; i++)
		if (strcmp(arguments[i], "--sound") == 0)
			sound = arguments[i + 1];
	if (is("refuse")) {
		report(WIRE_REFUSED, 0, "no voice \"x\"; there are: y, z");
		return EX_CONFIG;
	}
	if (is("no-device") || (is("absent") && access(file_of_sound(), F_OK) != 0)) {
		report(WIRE_NO_DEVICE, 0, "there is no sound device");
		return EX_UNAVAILABLE;
	}
	report(WIRE_READY, 0, "fake, 48000 Hz");
	for (;;) {
		struct pollfd in = {.fd = wire, .events = POLLIN};
		poll(&in, 1, BEAT_MS);
		if (!resting)
			report(WIRE_BEAT, 0, "");
		if (clock_steady_us() >= finish_us) {
			report(WIRE_FINISHED, said, "");
			finish_us = INT64_MAX;
		}
		switch (wire_receive(wire, &order)) {
		case WIRE_CLOSED:
			return 0;
		case WIRE_DONE:
			break;
		default:
			continue;
		}
		echo(&order);
		resting = order.kind == WIRE_REST || (resting && order.kind != WIRE_SAY);
		if (order.kind != WIRE_SAY)
			continue;
		said = order.generation;
		/* Before the report: the test may kill this life as soon as it hears it. */
		bool behaves = strstr(sound, "-once:") && !first_life();
		if (strcmp(sound, "die") != 0)
			report(WIRE_STARTED, said, "");
		finish_us = clock_steady_us() + WORDS_US;
		if (!behaves)
			misbehave();
	}
}
