/* Every call of every bundled pattern, in every detail, as it is spoken: all at one loudness. */
#include "base/base.h"
#include "speaker/speaker.h"

#include <glob.h>
#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
enum { STRIDE = 16 }; /* slow there, and no louder */
#else
enum { STRIDE = 1 };
#endif

enum { RATE_HZ = 48000, LINE_BYTES = 1000, CALLS_MAX = 5000, CALLS_MIN = 300 };

static char *calls[CALLS_MAX]; /* each once */
static size_t count;

static void add_call(const char *text)
{
	for (size_t i = 0; i < count; i++)
		if (strcmp(calls[i], text) == 0)
			return;
	assert_true(count < CALLS_MAX);
	calls[count++] = strdup(text);
}

/* One call a line: {"n": 1, ... "text": "Words."} */
static void add_calls(FILE *json)
{
	static const char key[] = "\"text\": \"";
	char line[LINE_BYTES];

	while (fgets(line, sizeof line, json)) {
		char *text = strstr(line, key);
		char *end = text ? strrchr(text, '"') : NULL;
		if (!end)
			continue;
		*end = '\0';
		assert_null(strchr(text, '\\')); /* nothing that would have to be unescaped */
		add_call(text + strlen(key));
	}
}

static void add_pattern(const char *path, const char *detail)
{
	const char *stem = strrchr(path, '/') + 1;
	struct text command = {0};

	text_format(&command,
		    "printf '%%s\\n' 'job: all' 'pattern: %.*s' 'stringer: anyone' "
		    "'method: two-piece' 'tension: { mains: 24.5 kg, crosses: 52 lb }' "
		    "'beyond_makers_range: wanted' 'adjust: [ { strings: mains 5-6, by: -1 kg } ]' "
		    "'string: { mains: { name: a }, crosses: { name: b } }' 'detail: %s' "
		    "| " BINARY_DIR "/bin/pullcall steps - --json 2>/dev/null",
		    (int)(strlen(stem) - strlen(".yaml")), stem, detail);
	FILE *json = popen(text_string(&command), "r");
	add_calls(json);
	assert_int_equal(pclose(json), 0);
	text_free(&command);
}

static int collect(void **state)
{
	static const char *const details[] = {"learner", "bench", "quick"};
	glob_t patterns;
	char *why = NULL;

	(void)state;
	setenv("PULLCALL_PATTERNS", SOURCE_DIR "/patterns", 1);
	setenv("PULLCALL_VOICE", SOURCE_DIR "/voice", 1);
	if (glob(SOURCE_DIR "/patterns/*.yaml", 0, NULL, &patterns) != 0)
		return -1;
	for (size_t i = 0; i < patterns.gl_pathc; i++)
		for (int detail = 0; detail < 3; detail++)
			add_pattern(patterns.gl_pathv[i], details[detail]);
	globfree(&patterns);
	return synth_open(SYNTH_VOICE, SYNTH_RATE_WPM, &why) ? 0 : -1;
}

static int discard(void **state)
{
	(void)state;
	while (count > 0)
		free(calls[--count]);
	return 0;
}

static struct loudness spoken_level(const char *call, struct speech_pcm *pcm)
{
	const struct prompt_style style = {.rate_hz = RATE_HZ, .volume_percent = 100};
	struct prompt prompt;
	struct loudness level;
	char words[SPOKEN_MAX];

	assert_true(spoken_text(call, words));
	assert_string_equal(words, call); /* nothing in it is lost on the way */
	assert_true(synth_speak(words, pcm));
	assert_true(prompt_make(pcm, &style, &prompt));
	float *samples = calloc(prompt.count, sizeof *samples);
	for (size_t i = 0; i < prompt.count; i++)
		samples[i] = prompt.samples[i] / 32768.0F;
	assert_true(loudness_measure(samples, prompt.count, RATE_HZ, &level));
	free(samples);
	free(prompt.samples);
	return level;
}

static void all_calls_are_as_loud(void **state)
{
	struct speech_pcm pcm = {0};
	double softest = 0, loudest = -100, peak = -100;

	(void)state;
	assert_true(count >= CALLS_MIN);
	for (size_t i = 0; i < count; i += STRIDE) {
		struct loudness level = spoken_level(calls[i], &pcm);
		softest = fmin(softest, level.lufs);
		loudest = fmax(loudest, level.lufs);
		peak = fmax(peak, level.peak_dbtp);
		if (fabs(level.lufs - PROMPT_LUFS) > 1 || level.peak_dbtp >= -1)
			fail_msg("%.2f LUFS, %.2f dBTP: %s", level.lufs, level.peak_dbtp, calls[i]);
	}
	print_message("one in %d of %zu calls: %.2f to %.2f LUFS, true peak up to %.2f dBTP\n",
		      STRIDE, count, softest, loudest, peak);
	free(pcm.samples);
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(all_calls_are_as_loud)};

	return cmocka_run_group_tests(tests, collect, discard);
}
