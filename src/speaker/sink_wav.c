/* A WAV file as a sound device: one channel, 16 bits, one period for each that has passed.
 *
 * Silence is written too, and time without a stream (it slept, or the speaker was being replaced)
 * is silence in the file. The header is updated several times a second, so that a killed speaker
 * leaves a valid file.
 *
 * One thread takes the periods, another writes them, because a busy disk may block longer than a
 * sound device may stand still. The pipe between them holds some ten seconds.
 */
#include "speaker/speaker.h"

#include "base/base.h"

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
	LATE_FRAMES = RATE_HZ / 10, /* by then a device would have run out of samples */
	HEADER_PERIODS = 20,        /* a header about every 100 ms */
	PIPE_BYTES = 1 << 20,
};

/* The most that the header's sizes can hold: some twelve hours. */
#define FRAMES_MAX ((INT64_C(0xFFFFFFFF) - HEADER_BYTES) / FRAME_BYTES)

/* Less than PIPE_BUF, so that it goes through the pipe whole. */
struct period {
	int64_t first; /* frame in the file */
	int16_t frames[SINK_PERIOD_FRAMES];
};

struct wav {
	struct sink sink;
	int file;
	int in, out;    /* the pipe's ends, while running */
	int64_t frames; /* in the file; the writer's own */
	bool running;
	atomic_bool stop;
	pthread_t player, writer;
};

static void put_number(unsigned char *at, uint32_t value, int bytes)
{
	for (int i = 0; i < bytes; i++)
		at[i] = (unsigned char)(value >> (8 * i));
}

static void write_at(struct wav *wav, const void *bytes, size_t length, off_t at)
{
	if (pwrite(wav->file, bytes, length, at) != (ssize_t)length)
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

static void write_period(struct wav *wav, struct period *period)
{
	if (period->first + SINK_PERIOD_FRAMES > FRAMES_MAX) {
		atomic_store(&wav->sink.error, EFBIG);
		return;
	}
	for (int i = 0; i < SINK_PERIOD_FRAMES; i++) /* the file's byte order, whatever ours is */
		put_number((unsigned char *)&period->frames[i], (uint16_t)period->frames[i],
			   FRAME_BYTES);
	/* A hole before it, where time passed unplayed, reads as silence. */
	write_at(wav, period->frames, sizeof period->frames,
		 HEADER_BYTES + period->first * FRAME_BYTES);
	wav->frames = period->first + SINK_PERIOD_FRAMES;
}

static void *run_writer(void *context)
{
	struct wav *wav = context;
	struct period period;
	unsigned count = 0;

	while (read(wav->out, &period, sizeof period) == sizeof period) {
		write_period(wav, &period);
		if (++count % HEADER_PERIODS == 1)
			write_header(wav);
	}
	write_header(wav);
	return NULL;
}

static int64_t frames_due(const struct wav *wav)
{
	return (clock_steady_us() - wav->sink.began_us) * RATE_HZ / SECOND_US;
}

static void sleep_until(int64_t at_us)
{
	struct timespec at = {.tv_sec = at_us / SECOND_US, .tv_nsec = at_us % SECOND_US * 1000};

	while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &at, NULL) == EINTR)
		;
}

static void *run_player(void *context)
{
	struct wav *wav = context;
	struct period period = {.first = frames_due(wav)};

	for (; !atomic_load(&wav->stop); period.first += SINK_PERIOD_FRAMES) {
		int64_t end = period.first + SINK_PERIOD_FRAMES;
		sleep_until(wav->sink.began_us + end * SECOND_US / RATE_HZ);
		if (frames_due(wav) - end > LATE_FRAMES)
			period.first = frames_due(wav) - SINK_PERIOD_FRAMES;
		mixer_render(wav->sink.mixer, period.frames, SINK_PERIOD_FRAMES, 1,
			     clock_steady_us());
		if (write(wav->in, &period, sizeof period) < 0)
			atomic_store(&wav->sink.error, ENOBUFS);
	}
	return NULL;
}

/* The playing thread never waits for the writer: a full pipe loses periods. */
static bool open_pipe(struct wav *wav)
{
	int ends[2];

	if (pipe2(ends, O_CLOEXEC) != 0)
		return false;
	fcntl(ends[1], F_SETPIPE_SZ, PIPE_BYTES);
	fcntl(ends[1], F_SETFL, O_NONBLOCK);
	wav->out = ends[0];
	wav->in = ends[1];
	return true;
}

static bool start(struct sink *sink, char **why)
{
	struct wav *wav = (struct wav *)sink;
	int error = open_pipe(wav) ? 0 : errno;

	if (error) {
		*why = memory_format("cannot open a pipe: %s", strerror(error));
		return false;
	}
	if (sink->began_us == 0) {
		sink->began_us = clock_steady_us();
		write_header(wav);
	}
	atomic_store(&wav->stop, false);
	error = pthread_create(&wav->writer, NULL, run_writer, wav);
	if (!error) {
		realtime_begin();
		error = pthread_create(&wav->player, NULL, run_player, wav);
		realtime_end();
	}
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
	pthread_join(wav->player, NULL);
	close(wav->in);
	pthread_join(wav->writer, NULL);
	close(wav->out);
	wav->running = false;
}

static void close_wav(struct sink *sink)
{
	struct wav *wav = (struct wav *)sink;

	close(wav->file);
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
	int fd = open_file(path, began_us != 0);

	if (fd < 0) {
		*why = memory_format("cannot write the sound to %s: %s", path,
				     errno == ESPIPE ? "it is not a plain file" : strerror(errno));
		return SINK_REFUSED;
	}
	struct wav *wav = memory_new(1, sizeof *wav);
	*wav = (struct wav){
		.sink = {.start = start,
			 .stop = stop,
			 .close = close_wav,
			 .rate_hz = RATE_HZ,
			 .began_us = began_us,
			 .mixer = mixer},
		.file = fd,
	};
	snprintf(wav->sink.name, SINK_NAME_MAX, "file %s", path);
	*sink = &wav->sink;
	return SINK_OPEN;
}
