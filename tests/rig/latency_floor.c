/* The least that press-to-sound can take here: one PortAudio stream, and a click at each line read.
 *
 *     latency_floor FRAMES LATENCY_MS
 *
 * Plays silence on the default device. A line on standard input becomes a click of 20 ms in the
 * next buffer that the device asks for. No speech, no session, no journal: what a program that does
 * more is measured against.
 */
#include <portaudio.h>

#include <errno.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

enum { RATE_HZ = 48000, CLICK_FRAMES = RATE_HZ / 50, HALF_WAVE_FRAMES = 24 };

static atomic_bool wanted;

static int fill(const void *in, void *out, unsigned long frames,
		const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags, void *user)
{
	int *left = user;
	float *sample = out;
	(void)in;
	(void)time;
	(void)flags;
	if (atomic_exchange(&wanted, false))
		*left = CLICK_FRAMES;
	for (unsigned long i = 0; i < frames; i++) {
		sample[i] = 0;
		if (*left > 0)
			sample[i] = --*left / HALF_WAVE_FRAMES % 2 ? 0.5F : -0.5F;
	}
	return paContinue;
}

static void must(PaError error)
{
	if (error == paNoError)
		return;
	fprintf(stderr, "latency_floor: %s\n", Pa_GetErrorText(error));
	exit(1);
}

int main(int argc, char *argv[])
{
	unsigned long frames = argc == 3 ? strtoul(argv[1], NULL, 10) : 0;
	double latency_s = argc == 3 ? strtod(argv[2], NULL) / 1000 : 0;
	if (frames == 0 || !(latency_s > 0)) {
		fputs("usage: latency_floor FRAMES LATENCY_MS\n", stderr);
		return 2;
	}

	int left = 0;
	PaStream *stream = NULL;
	must(Pa_Initialize());
	PaStreamParameters out = {
		.device = Pa_GetDefaultOutputDevice(),
		.channelCount = 1,
		.sampleFormat = paFloat32,
		.suggestedLatency = latency_s,
	};
	must(Pa_OpenStream(&stream, NULL, &out, RATE_HZ, frames, paNoFlag, fill, &left));
	must(Pa_StartStream(stream));
	puts("ready");
	fflush(stdout);

	char line[64];
	ssize_t got;
	while ((got = read(STDIN_FILENO, line, sizeof(line))) > 0 || (got < 0 && errno == EINTR))
		if (got > 0)
			atomic_store(&wanted, true);
	Pa_AbortStream(stream);
	Pa_Terminate();
	return 0;
}
