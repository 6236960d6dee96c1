/* A WAV file as a sound device: a thread takes one period each time one has passed.
 *
 * Silence is written as time passes, too, and time that nobody played (the stream slept, or the
 * speaker was being replaced) is silence in the file. The header is brought up to date several
 * times a second, so that the file of a killed speaker is a valid one. One channel, 16 bits.
 */
#include "speaker/sink.h"

#include "base/clock.h"
#include "base/memory.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum {
	RATE_HZ = 48000,
	HEADER_BYTES = 44,
	FRAME_BYTES = 2,
	LATE_FRAMES = RATE_HZ / 10, /* a device would have run dry by then */
	HEADER_PERIODS = 20,        /* a header about every 100 ms */
	STACK_BYTES = 64 * 1024,
};

/* What the sizes in the header can say: some twelve hours. */
#define FRAMES_MAX ((INT64_C(0xFFFFFFFF) - HEADER_BYTES) / FRAME_BYTES)

struct wav {
	struct sink sink;
	int fd;
	int64_t frames; /* in the file, holes included */
	bool running;
	atomic_bool stop;
	pthread_t thread;
};

static void put_number(unsigned char *at, uint32_t value, int bytes)
{
	for (int i = 0; i < bytes; i++)
		at[i] = (unsigned char)(value >> (8 * i));
}

static void write_at(struct wav *wav, const void *bytes, size_t length, off_t at)
{
	if (pwrite(wav->fd, bytes, length, at) != (ssize_t)length)
		atomic_store(&wav->sink.error, errno ? errno : EIO);
}

static void write_header(struct wav *wav)
{
	unsigned char header[HEADER_BYTES] = "RIFF    WAVEfmt                     data";
	uint32_t data = (uint32_t)(wav->frames * FRAME_BYTES);

	put_number(header + 4, data + HEADER_BYTES - 8, 4);
	put_number(header + 16, 16, 4); /* size of what follows, up to "data" */
	put_number(header + 20, 1, 2);  /* PCM */
	put_number(header + 22, 1, 2);  /* channels */
	put_number(header + 24, RATE_HZ, 4);
	put_number(header + 28, RATE_HZ * FRAME_BYTES, 4);
	put_number(header + 32, FRAME_BYTES, 2);
	put_number(header + 34, 8 * FRAME_BYTES, 2);
	put_number(header + 40, data, 4);
	write_at(wav, header, sizeof header, 0);
}

static int64_t frames_due(const struct wav *wav)
{
	return (clock_steady_us() - wav->sink.began_us) * RATE_HZ / SECOND_US;
}

/* A hole in the file reads as silence. */
static void skip_to(struct wav *wav, int64_t frames)
{
	if (frames <= wav->frames || frames > FRAMES_MAX)
		return;
	if (ftruncate(wav->fd, HEADER_BYTES + frames * FRAME_BYTES) != 0)
		atomic_store(&wav->sink.error, errno);
	wav->frames = frames;
}

static void sleep_until(int64_t at_us)
{
	struct timespec at = {.tv_sec = at_us / SECOND_US, .tv_nsec = at_us % SECOND_US * 1000};

	while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &at, NULL) == EINTR)
		;
}

static void write_period(struct wav *wav)
{
	int16_t frames[SINK_PERIOD_FRAMES];

	mixer_render(wav->sink.mixer, frames, SINK_PERIOD_FRAMES, 1, clock_steady_us());
	for (int i = 0; i < SINK_PERIOD_FRAMES; i++) /* the file's byte order, whatever ours is */
		put_number((unsigned char *)&frames[i], (uint16_t)frames[i], FRAME_BYTES);
	if (wav->frames + SINK_PERIOD_FRAMES > FRAMES_MAX) {
		atomic_store(&wav->sink.error, EFBIG);
		return;
	}
	write_at(wav, frames, sizeof frames, HEADER_BYTES + wav->frames * FRAME_BYTES);
	wav->frames += SINK_PERIOD_FRAMES;
}

static void *run(void *context)
{
	struct wav *wav = context;
	int64_t next = wav->frames; /* grows on even when the file is full */

	for (unsigned period = 1; !atomic_load(&wav->stop); period++) {
		next += SINK_PERIOD_FRAMES;
		sleep_until(wav->sink.began_us + next * SECOND_US / RATE_HZ);
		if (frames_due(wav) - next > LATE_FRAMES) {
			next = frames_due(wav);
			skip_to(wav, next - SINK_PERIOD_FRAMES);
		}
		write_period(wav);
		if (period % HEADER_PERIODS == 0)
			write_header(wav);
	}
	write_header(wav);
	return NULL;
}

static bool start(struct sink *sink, char **why)
{
	struct wav *wav = (struct wav *)sink;
	pthread_attr_t attributes;

	if (sink->began_us == 0)
		sink->began_us = clock_steady_us();
	skip_to(wav, frames_due(wav));
	write_header(wav);
	atomic_store(&wav->stop, false);
	pthread_attr_init(&attributes);
	pthread_attr_setstacksize(&attributes, STACK_BYTES);
	int error = pthread_create(&wav->thread, &attributes, run, wav);
	pthread_attr_destroy(&attributes);
	wav->running = error == 0;
	if (error)
		*why = memory_format("cannot start a thread: %s", strerror(error));
	return wav->running;
}

static void stop(struct sink *sink)
{
	struct wav *wav = (struct wav *)sink;

	if (!wav->running)
		return;
	atomic_store(&wav->stop, true);
	pthread_join(wav->thread, NULL);
	wav->running = false;
}

static void close_wav(struct sink *sink)
{
	struct wav *wav = (struct wav *)sink;

	stop(sink);
	close(wav->fd);
	free(wav);
}

static int open_file(const char *path, bool go_on)
{
	struct stat status;
	int fd =
		open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NONBLOCK | (go_on ? 0 : O_TRUNC), 0666);

	if (fd >= 0 && (fstat(fd, &status) != 0 || !S_ISREG(status.st_mode))) {
		close(fd);
		errno = ESPIPE;
		return -1;
	}
	return fd;
}

enum sink_result sink_open_wav(const char *path, int64_t began_us, struct mixer *mixer,
			       struct sink **sink, char **why)
{
	static const struct sink_kind kind = {.start = start, .stop = stop, .close = close_wav};
	int fd = open_file(path, began_us != 0);

	if (fd < 0) {
		*why = memory_format("cannot write the sound to %s: %s", path,
				     errno == ESPIPE ? "it is not a plain file" : strerror(errno));
		return SINK_REFUSED;
	}
	struct wav *wav = memory_new(1, sizeof *wav);
	*wav = (struct wav){
		.sink = {.kind = &kind, .rate_hz = RATE_HZ, .began_us = began_us, .mixer = mixer},
		.fd = fd,
	};
	snprintf(wav->sink.name, SINK_NAME_MAX, "file %s", path);
	*sink = &wav->sink;
	return SINK_OPEN;
}
