/* A sound device through PortAudio. */
#include "speaker/speaker.h"

#include "base/base.h"

#include <fcntl.h>
#include <portaudio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum {
	RATE_HZ = 48000, /* what nearly all hardware and every sound server runs at */
	HOLD_MS = 250,   /* an amplifier or a suspended device swallows that much */
};

struct device {
	struct sink sink;
	PaDeviceIndex index;
	PaStream *stream;
	int channels;
};

/* The libraries below PortAudio print a page about devices that are not there: sends standard error
 * to /dev/null until unquiet. */
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

static PaError open_stream(struct device *device)
{
	const PaStreamParameters wanted =
		parameters(device, 2.0 * SINK_PERIOD_FRAMES / device->sink.rate_hz);

	return Pa_OpenStream(&device->stream, NULL, &wanted, device->sink.rate_hz,
			     SINK_PERIOD_FRAMES, paClipOff | paDitherOff, callback, device);
}

static bool start(struct sink *sink, char **why)
{
	struct device *device = (struct device *)sink;
	int saved = quiet();
	PaError error = open_stream(device);

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

static void stop(struct sink *sink)
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

static enum sink_result no_device(PaError error, char **why)
{
	if (error)
		*why = memory_format("no sound device: %s", Pa_GetErrorText(error));
	else
		*why = memory_copy("there is no sound device");
	return SINK_NO_DEVICE;
}

enum sink_result sink_open_device(const char *name, struct mixer *mixer, struct sink **sink,
				  char **why)
{
	PaError error = initialize();

	if (error)
		return no_device(error, why);
	PaDeviceIndex index = name ? find(name, why) : Pa_GetDefaultOutputDevice();
	if (index == paNoDevice) {
		Pa_Terminate();
		return name ? SINK_REFUSED : no_device(paNoError, why);
	}
	struct device *device = memory_new(1, sizeof *device);
	device->index = index;
	device->channels = Pa_GetDeviceInfo(index)->maxOutputChannels > 1 ? 2 : 1;
	device->sink = (struct sink){
		.start = start,
		.stop = stop,
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
