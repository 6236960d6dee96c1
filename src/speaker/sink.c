/* Where the sound goes: a sound device through PortAudio, or a WAV file. */
#include "speaker/speaker.h"

#include <errno.h>
#include <fcntl.h>
#include <portaudio.h>
#include <pthread.h>
#include <sched.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
	RATE_HZ = 48000, /* what nearly all hardware and every sound server runs at */
	HOLD_MS = 250,   /* an amplifier or a suspended device swallows that much */

	/* Real-time threads. The kernel ends the process if one runs for so long without a pause,
	 * so a callback that spins on a lost device does not keep a processor. */
	PRIORITY = 10, /* below a sound server's threads */
	SPIN_MAX_US = 200000,
};

/* Threads started between the two are real-time, where the kernel grants it: to root and to users
 * with RLIMIT_RTPRIO. Measured with two processors and eight busy processes: callbacks at most
 * 430 ms apart without it, 35 ms with it. */
static void realtime_begin(void)
{
	const struct rlimit limit = {.rlim_cur = SPIN_MAX_US, .rlim_max = SPIN_MAX_US};
	const struct sched_param wanted = {.sched_priority = PRIORITY};

	/* A thread inherits the scheduling of the one that starts it. */
	if (setrlimit(RLIMIT_RTTIME, &limit) == 0)
		pthread_setschedparam(pthread_self(), SCHED_FIFO, &wanted);
}

static void realtime_end(void)
{
	const struct sched_param ordinary = {0};

	pthread_setschedparam(pthread_self(), SCHED_OTHER, &ordinary);
}

/* ---- A sound device ---- */

struct device {
	struct sink sink;
	PaDeviceIndex index;
	PaStream *stream;
	int channels;
};

/* The libraries below PortAudio print a page about missing devices: to /dev/null, until unquiet. */
static int quiet(void)
{
	int saved = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 0);
	int null = open("/dev/null", O_WRONLY | O_CLOEXEC);

	if (null >= 0) {
		dup2(null, STDERR_FILENO);
		close(null);
	}
	return saved;
}

static void unquiet(int saved)
{
	if (saved < 0)
		return;
	dup2(saved, STDERR_FILENO);
	close(saved);
}

static PaError initialize(void)
{
	/* Looking for a JACK server must not start one. */
	setenv("JACK_NO_START_SERVER", "1", 0);
	int saved = quiet();
	PaError error = Pa_Initialize();
	unquiet(saved);
	return error;
}

static bool plays(PaDeviceIndex index)
{
	const PaDeviceInfo *info = Pa_GetDeviceInfo(index);

	return info && info->maxOutputChannels > 0;
}

static const char *name_of(PaDeviceIndex index)
{
	return Pa_GetDeviceInfo(index)->name;
}

static PaDeviceIndex find(const char *name, char **why)
{
	PaDeviceIndex part = paNoDevice;
	struct text names = {0};
	int parts = 0;

	for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount(); i++) {
		if (!plays(i))
			continue;
		if (strcmp(name_of(i), name) == 0) {
			text_free(&names);
			return i;
		}
		if (strcasestr(name_of(i), name)) {
			part = i;
			parts++;
		}
		text_format(&names, "%s\"%s\"", names.length ? ", " : "", name_of(i));
	}
	if (parts != 1) {
		*why = memory_format("%s sound device is called \"%s\"; there %s: %s",
				     parts ? "more than one" : "no", name,
				     names.length ? "are" : "is",
				     names.length ? names.bytes : "none");
		part = paNoDevice;
	}
	text_free(&names);
	return part;
}

static int callback(const void *input, void *output, unsigned long count,
		    const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags,
		    void *context)
{
	struct device *device = context;

	(void)input;
	(void)time;
	(void)flags;
	/* Reading the clock is no system call on Linux: the kernel maps it into the process. */
	mixer_render(device->sink.mixer, output, count, device->channels, clock_steady_us());
	return paContinue;
}

static PaStreamParameters parameters(const struct device *device, double latency_s)
{
	return (PaStreamParameters){.device = device->index,
				    .channelCount = device->channels,
				    .sampleFormat = paInt16,
				    .suggestedLatency = latency_s};
}

static bool start_device(struct sink *sink, char **why)
{
	struct device *device = (struct device *)sink;
	const PaStreamParameters wanted =
		parameters(device, 2.0 * SINK_PERIOD_FRAMES / sink->rate_hz);
	int saved = quiet();
	PaError error =
		Pa_OpenStream(&device->stream, NULL, &wanted, sink->rate_hz, SINK_PERIOD_FRAMES,
			      paClipOff | paDitherOff, callback, device);

	if (!error) {
		realtime_begin();
		error = Pa_StartStream(device->stream);
		realtime_end();
		if (error)
			Pa_CloseStream(device->stream);
	}
	unquiet(saved);
	if (error) {
		device->stream = NULL;
		*why = memory_format("%s cannot be opened: %s", sink->name, Pa_GetErrorText(error));
		return false;
	}
	const PaStreamInfo *info = Pa_GetStreamInfo(device->stream);
	sink->latency_ms = info ? (int)(info->outputLatency * 1000) : 0;
	return true;
}

static void stop_device(struct sink *sink)
{
	struct device *device = (struct device *)sink;

	if (!device->stream)
		return;
	Pa_AbortStream(device->stream);
	Pa_CloseStream(device->stream);
	device->stream = NULL;
}

static void close_device(struct sink *sink)
{
	Pa_Terminate();
	free(sink);
}

/* A device's default rate is a guess by the host API, except where a server has only one rate. */
static uint32_t choose_rate(const struct device *device)
{
	const PaDeviceInfo *info = Pa_GetDeviceInfo(device->index);
	const PaStreamParameters wanted = parameters(device, info->defaultLowOutputLatency);
	int saved = quiet();
	PaError error = Pa_IsFormatSupported(NULL, &wanted, RATE_HZ);

	unquiet(saved);
	return error == paFormatIsSupported ? RATE_HZ : (uint32_t)info->defaultSampleRate;
}

static enum sink_result open_device(const char *name, struct mixer *mixer, struct sink **sink,
				    char **why)
{
	PaError error = initialize();

	if (error) {
		*why = memory_format("no sound device: %s", Pa_GetErrorText(error));
		return SINK_NO_DEVICE;
	}
	PaDeviceIndex index = name ? find(name, why) : Pa_GetDefaultOutputDevice();
	if (index == paNoDevice) {
		Pa_Terminate();
		if (!name)
			*why = memory_copy("there is no sound device");
		return name ? SINK_REFUSED : SINK_NO_DEVICE;
	}
	struct device *device = memory_new(1, sizeof *device);
	device->index = index;
	device->channels = Pa_GetDeviceInfo(index)->maxOutputChannels > 1 ? 2 : 1;
	device->sink = (struct sink){
		.start = start_device,
		.stop = stop_device,
		.close = close_device,
		.rate_hz = choose_rate(device),
		.hold_ms = HOLD_MS,
		.mixer = mixer,
	};
	snprintf(device->sink.name, SINK_NAME_MAX, "device \"%s\"", name_of(index));
	*sink = &device->sink;
	return SINK_OPEN;
}

int sink_list_devices(FILE *out)
{
	int count = 0;

	if (initialize() != paNoError)
		return 0;
	for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount(); i++)
		if (plays(i)) {
			fprintf(out, "%s%s\n", name_of(i),
				i == Pa_GetDefaultOutputDevice() ? " (the default)" : "");
			count++;
		}
	Pa_Terminate();
	return count;
}

/* ---- A WAV file as a sound device: one channel, 16 bits, one period for each that has passed ----
 *
 * Silence is written too, and time without a stream (it slept, or the speaker was being replaced)
 * is silence in the file. The header is written with each period, so that a killed speaker leaves a
 * valid file.
 *
 * One thread takes the periods, another writes them, because a busy disk may block longer than a
 * sound device may stand still. The pipe between them holds some ten seconds.
 */

enum {
	LATE_FRAMES = RATE_HZ / 10, /* by then a device would have run out of samples */
	PIPE_BYTES = 1 << 20,
};

/* The most that the header's sizes can hold: some twelve hours. */
#define FRAMES_MAX INT64_C(0x7FFFFFE0)

/* Less than PIPE_BUF, so that it goes through the pipe whole. */
struct period {
	int64_t first; /* frame in the file; what is skipped reads as silence */
	int16_t frames[SINK_PERIOD_FRAMES];
};

struct wav {
	struct sink sink;
	SNDFILE *file;
	int in, out; /* the pipe's ends, while running */
	bool running;
	atomic_bool stop;
	pthread_t player, writer;
};

static bool write_period(SNDFILE *file, const struct period *period)
{
	errno = EFBIG;
	return period->first + SINK_PERIOD_FRAMES <= FRAMES_MAX &&
	       sf_seek(file, period->first, SEEK_SET) == period->first &&
	       sf_writef_short(file, period->frames, SINK_PERIOD_FRAMES) == SINK_PERIOD_FRAMES;
}

static void *run_writer(void *context)
{
	struct wav *wav = context;
	struct period period;

	while (read(wav->out, &period, sizeof period) == sizeof period)
		if (!write_period(wav->file, &period))
			atomic_store(&wav->sink.error, errno);
	return NULL;
}

static int64_t frames_due(const struct wav *wav)
{
	return (clock_steady_us() - wav->sink.began_us) * RATE_HZ / SECOND_US;
}

static void *run_player(void *context)
{
	struct wav *wav = context;
	struct period period = {.first = frames_due(wav)};

	for (; !atomic_load(&wav->stop); period.first += SINK_PERIOD_FRAMES) {
		int64_t end = period.first + SINK_PERIOD_FRAMES;
		int64_t end_us = wav->sink.began_us + end * SECOND_US / RATE_HZ;
		struct timespec wake = {.tv_sec = end_us / SECOND_US,
					.tv_nsec = end_us % SECOND_US * 1000};
		clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &wake, NULL);
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

static bool start_wav(struct sink *sink, char **why)
{
	struct wav *wav = (struct wav *)sink;
	int error = open_pipe(wav) ? 0 : errno;

	if (error) {
		*why = memory_format("cannot open a pipe: %s", strerror(error));
		return false;
	}
	if (sink->began_us == 0) {
		sink->began_us = clock_steady_us();
		sf_command(wav->file, SFC_UPDATE_HEADER_NOW, NULL, 0);
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

static void stop_wav(struct sink *sink)
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
	sf_close(((struct wav *)sink)->file);
	free(sink);
}

/* Without a path the sound goes to memory. NULL with errno; ESPIPE: it is not a plain file. */
static SNDFILE *open_file(const char *path, bool go_on)
{
	SF_INFO info = {
		.samplerate = RATE_HZ, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_PCM_16};
	struct stat status;
	int flags = O_RDWR | O_CREAT | O_CLOEXEC | O_NONBLOCK | (go_on ? 0 : O_TRUNC);
	int fd = path ? open(path, flags, 0666) : memfd_create("none", MFD_CLOEXEC);

	if (fd >= 0 && (fstat(fd, &status) != 0 || !S_ISREG(status.st_mode))) {
		close(fd);
		errno = ESPIPE;
		return NULL;
	}
	SNDFILE *file = fd >= 0 ? sf_open_fd(fd, SFM_WRITE, &info, SF_TRUE) : NULL;
	if (file)
		sf_command(file, SFC_SET_UPDATE_HEADER_AUTO, NULL, SF_TRUE);
	return file;
}

static enum sink_result open_wav(const char *path, int64_t began_us, struct mixer *mixer,
				 struct sink **sink, char **why)
{
	SNDFILE *file = open_file(path, began_us != 0);

	if (!file) {
		*why = memory_format("cannot write the sound to %s: %s", path,
				     errno == ESPIPE ? "it is not a plain file" : strerror(errno));
		return SINK_REFUSED;
	}
	struct wav *wav = memory_new(1, sizeof *wav);
	*wav = (struct wav){
		.sink = {.start = start_wav,
			 .stop = stop_wav,
			 .close = close_wav,
			 .rate_hz = RATE_HZ,
			 .began_us = began_us,
			 .mixer = mixer},
		.file = file,
	};
	snprintf(wav->sink.name, SINK_NAME_MAX, "file %s", path ? path : "none");
	*sink = &wav->sink;
	return SINK_OPEN;
}

/* ---- Either ---- */

enum sink_result sink_open(const char *sound, int64_t began_us, struct mixer *mixer,
			   struct sink **sink, char **why)
{
	if (strcmp(sound, "auto") == 0 || strcmp(sound, "device") == 0)
		return open_device(NULL, mixer, sink, why);
	if (strncmp(sound, "device:", 7) == 0 && sound[7])
		return open_device(sound + 7, mixer, sink, why);
	if (strncmp(sound, "wav:", 4) == 0 && sound[4])
		return open_wav(sound + 4, began_us, mixer, sink, why);
	if (strcmp(sound, "none") == 0)
		return open_wav(NULL, began_us, mixer, sink, why);
	*why = memory_format(
		"\"%s\" is no sound; expected auto, device, device:NAME, wav:FILE or none", sound);
	return SINK_REFUSED;
}
