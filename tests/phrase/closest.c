/* closest PHRASEBOOK [VOICE]: which calls are easiest to take for one another?
 *
 * Calls of one kind differ in their fields, so what is compared is the words for every two values
 * that can stand in a field: their phonemes, by espeak-ng. The distance is the edit distance, where
 * a vowel for a vowel or a consonant for a consonant costs half of any other change. Prints the
 * closest pairs, as they are said in a quiet shop, and the same pairs as they are said in a loud
 * one. */
#include "base/base.h"
#include "phrase/internal.h"

#include <espeak-ng/speak_lib.h>
#include <stdlib.h>
#include <string.h>

enum { PHONEMES_MAX = 120, VALUES_MAX = 120, PAIRS_SHOWN = 12 };

/* Parts of a word that espeak-ng separates. */
struct phonemes {
	char names[PHONEMES_MAX][16];
	int count;
};

struct value {
	const char *field;
	char *quiet;
	char *loud;
};

struct pair {
	const struct value *a, *b;
	double quiet, loud;
};

static void add_phonemes(const char *words, struct phonemes *out)
{
	static const int separated = '_' << 8;

	for (const void *at = words; at;) {
		char *names = memory_copy(espeak_TextToPhonemes(&at, espeakCHARS_UTF8, separated));
		char *rest = names;
		for (char *name; (name = strsep(&rest, "_ \n"));) {
			name += strspn(name, "',%=|");
			if (*name && *name != ':' && out->count < PHONEMES_MAX)
				snprintf(out->names[out->count++], sizeof out->names[0], "%s",
					 name);
		}
		free(names);
	}
}

static bool is_vowel(const char *phoneme)
{
	return strchr("aeiouyAEIOUVQ03@&", phoneme[0]);
}

static double change(const char *a, const char *b)
{
	if (strcmp(a, b) == 0)
		return 0;
	return is_vowel(a) == is_vowel(b) ? 0.5 : 1;
}

static double least(double a, double b)
{
	return a < b ? a : b;
}

static double distance(const char *a, const char *b)
{
	struct phonemes of_a = {.count = 0}, of_b = {.count = 0};
	double rows[2][PHONEMES_MAX + 1];

	add_phonemes(a, &of_a);
	add_phonemes(b, &of_b);
	for (int j = 0; j <= of_b.count; j++)
		rows[0][j] = j;
	for (int i = 1; i <= of_a.count; i++) {
		const double *last = rows[(i - 1) % 2];
		double *row = rows[i % 2];
		row[0] = i;
		for (int j = 1; j <= of_b.count; j++)
			row[j] = least(last[j - 1] + change(of_a.names[i - 1], of_b.names[j - 1]),
				       least(last[j], row[j - 1]) + 1);
	}
	return rows[of_a.count % 2][of_b.count];
}

static char *number_words(const struct phrasebook *book, int number, bool clear)
{
	const struct manner manner = {book, &(struct phrase_options){.clear = clear}};

	return say_number(&manner, number);
}

static int add_words(struct value *values, int count, const struct phrasebook *book,
		     const char *map, const char *const keys[2])
{
	for (int i = 0; i < 2; i++) {
		const char *words = saying_find(book, map, keys[i])->text;
		values[count++] = (struct value){map, memory_copy(words), memory_copy(words)};
	}
	return count;
}

/* Strings and holes are up to 24, tensions of any racket in pounds or kilos are from 8 to 80. */
static int collect(const struct phrasebook *book, struct value *values)
{
	static const struct {
		const char *field;
		int from, to;
	} numbers[] = {{"string or hole", 1, 24}, {"tension", 8, 80}};
	static const char *const weaves[] = {"over", "under"};
	int count = 0;

	for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
		for (int number = numbers[i].from; number <= numbers[i].to; number++)
			values[count++] =
				(struct value){numbers[i].field, number_words(book, number, false),
					       number_words(book, number, true)};
	count = add_words(values, count, book, "sides", side_names);
	count = add_words(values, count, book, "ends", end_names);
	return add_words(values, count, book, "weave", weaves);
}

static int by_distance(const void *a, const void *b)
{
	const struct pair *left = a, *right = b;

	return (left->quiet > right->quiet) - (left->quiet < right->quiet);
}

static void print_closest(const struct value *values, int count)
{
	struct pair *pairs = memory_new((size_t)count * (size_t)count, sizeof *pairs);
	size_t pair_count = 0;

	for (int i = 0; i < count; i++)
		for (int j = i + 1; j < count; j++)
			if (strcmp(values[i].field, values[j].field) == 0)
				pairs[pair_count++] =
					(struct pair){&values[i], &values[j],
						      distance(values[i].quiet, values[j].quiet),
						      distance(values[i].loud, values[j].loud)};
	qsort(pairs, pair_count, sizeof *pairs, by_distance);
	const char *field = "";
	for (int group = 0; group < count; group++) {
		if (strcmp(values[group].field, field) == 0)
			continue;
		field = values[group].field;
		printf("%s\n", field);
		int shown = 0;
		for (size_t i = 0; i < pair_count && shown < PAIRS_SHOWN; i++) {
			if (strcmp(pairs[i].a->field, field) != 0)
				continue;
			printf("  %4.1f  %s / %s;  loud %4.1f  %s / %s\n", pairs[i].quiet,
			       pairs[i].a->quiet, pairs[i].b->quiet, pairs[i].loud,
			       pairs[i].a->loud, pairs[i].b->loud);
			shown++;
		}
	}
	free(pairs);
}

int main(int argc, char **argv)
{
	struct value values[VALUES_MAX] = {0};
	struct faults faults = {0};
	struct phrasebook *book = argc > 1 ? phrasebook_read(yaml_read(argv[1], &faults)) : NULL;
	const char *voice = argc > 2 ? argv[2] : book ? phrasebook_voice(book) : NULL;

	faults_print(&faults, stderr);
	if (!voice || espeak_Initialize(AUDIO_OUTPUT_SYNCHRONOUS, 0, NULL, 0) < 0 ||
	    espeak_SetVoiceByName(voice) != EE_OK) {
		fprintf(stderr, "closest: wants PHRASEBOOK [VOICE]\n");
		return 1;
	}
	int count = collect(book, values);
	print_closest(values, count);
	for (int i = 0; i < count; i++) {
		free(values[i].quiet);
		free(values[i].loud);
	}
	phrasebook_free(book);
	faults_free(&faults);
	return 0;
}
