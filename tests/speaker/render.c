/* render VOICE WPM FOLDER [loud]: says each line of standard input into FOLDER/000.wav, 001.wav
 * ...: what the speaker would play, but at 16 kHz, with 0.3 s of silence around it, for a
 * recogniser. */
#include "speaker/speaker.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RATE_HZ = 16000, PAD_FRAMES = RATE_HZ * 3 / 10, LINE_MAX_BYTES = 1000 };

static void number(FILE *file, uint32_t value, int bytes)
{
	while (bytes-- > 0) {
		fputc((int)(value & 0xFF), file);
		value >>= 8;
	}
}

static void silence(FILE *file)
{
	for (int i = 0; i < PAD_FRAMES; i++)
		number(file, 0, 2);
}

static bool write_wav(const char *path, const struct prompt *prompt)
{
	FILE *file = fopen(path, "wb");
	uint32_t data = (uint32_t)(2 * (prompt->count + 2 * PAD_FRAMES));

	if (!file)
		return false;
	fputs("RIFF", file);
	number(file, data + 36, 4);
	fputs("WAVEfmt ", file);
	number(file, 16, 4);
	number(file, 1, 2);
	number(file, 1, 2);
	number(file, RATE_HZ, 4);
	number(file, 2 * RATE_HZ, 4);
	number(file, 2, 2);
	number(file, 16, 2);
	fputs("data", file);
	number(file, data, 4);
	silence(file);
	for (size_t i = 0; i < prompt->count; i++)
		number(file, (uint16_t)prompt->samples[i], 2);
	silence(file);
	return fclose(file) == 0;
}

static bool render(const char *line, const char *path, bool loud)
{
	const struct prompt_style style = {.rate_hz = RATE_HZ, .volume_percent = 100, .loud = loud};
	struct speech_pcm pcm = {0};
	struct prompt prompt = {0};
	char words[SPOKEN_MAX];
	bool good = spoken_text(line, words) && synth_speak(words, &pcm) &&
		    prompt_make(&pcm, &style, &prompt) && write_wav(path, &prompt);

	free(pcm.samples);
	free(prompt.samples);
	return good;
}

int main(int count, char **arguments)
{
	char line[LINE_MAX_BYTES], path[LINE_MAX_BYTES];
	char *why = NULL;

	if (count < 4 || !synth_open(arguments[1], atoi(arguments[2]), &why)) {
		fprintf(stderr, "render: %s\n", why ? why : "wants VOICE WPM FOLDER [loud]");
		return 1;
	}
	for (int i = 0; fgets(line, sizeof line, stdin); i++) {
		snprintf(path, sizeof path, "%s/%03d.wav", arguments[3], i);
		if (!render(line, path, count > 4)) {
			fprintf(stderr, "render: cannot say: %s", line);
			return 1;
		}
	}
	return 0;
}
