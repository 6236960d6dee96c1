/* Every text of every bundled pattern, in every detail and language, for plans and options of all
 * kinds: what reaches the synthesiser is words, and a call says at most three things (DESIGN: one
 * message of four items is read back worse than two of two; Morrow & Rodvold, NASA). */
#include "phrase/bundled.h"
#include "phrase/internal.h"

#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include <cmocka.h>

enum { THINGS_MAX = 3, BYTES_MAX = 400, NOTICE_BYTES_MAX = 500, OPTIONS = 8 };

/* Written without the room's own tables: the bytes of ASCII, and for the letters of Latin-1 the
 * lead byte of their UTF-8, and that of "oe" in one. */
static bool is_word_byte(unsigned char byte)
{
	return isalpha(byte) || strchr(" ',.?-", byte) || byte == 0xc2 || byte == 0xc3 ||
	       byte == 0xc5 || (byte >= 0x80 && byte <= 0xbf);
}

static bool has_vowel(const char *word, size_t length)
{
	for (size_t i = 0; i < length; i++)
		if (strchr("aeiouyAEIOUY", word[i]) || (unsigned char)word[i] >= 0x80)
			return true;
	return false;
}

/* An abbreviation has no vowel, or is one capital letter. "x" and the like come from the names that
 * people give to jobs. */
static void expect_no_abbreviation(const char *text)
{
	for (const char *at = text; *at;) {
		size_t length = strcspn(at, " ,.?-");
		if (length > 1 && !has_vowel(at, length))
			fail_msg("\"%.*s\" in: %s", (int)length, at, text);
		at += length + (at[length] != '\0');
	}
}

static bool is_number_word(const char *word, size_t length)
{
	static const char *const words[] = {
		"one",     "two",     "three",     "four",     "five",     "six",      "seven",
		"eight",   "nine",    "ten",       "eleven",   "twelve",   "thirteen", "fourteen",
		"fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty",   "thirty",
		"forty",   "fifty",   "sixty",     "seventy",  "eighty",   "ninety",   "hundred",
	};

	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
		if (strlen(words[i]) == length && strncasecmp(words[i], word, length) == 0)
			return true;
	return false;
}

/* What a listener hears is counted here by its pauses; a learner, who does one thing at a time,
 * hears full sentences, and they are counted. The pause in a number that is said again, "fifty two,
 * five two", does not count; otherwise two numbers must not have only a pause between them: a
 * recogniser took "pull cross nineteen, fifty two" for "ninety three". */
static int count_things(const char *text, enum detail detail, int *number_pairs)
{
	bool number = false;
	int things = 0;

	*number_pairs = 0;
	for (const char *at = text; *at;) {
		size_t length = strcspn(at, " ,.?-");
		bool is_number = is_number_word(at, length);
		*number_pairs += number && is_number;
		at += length;
		bool pause = *at == ',' || *at == '.';
		things += detail == DETAIL_LEARNER ? *at == '.' : pause;
		number = is_number && pause;
		at += strspn(at, " ,.?-");
	}
	return detail == DETAIL_LEARNER ? things : things - *number_pairs;
}

struct said {
	const struct sequence *sequence;
	bool again;
	bool asks;
	bool english; /* whose number words are known here */
};

static void expect_words(const char *text, int call, void *context)
{
	const struct said *said = context;
	size_t length = strlen(text);

	assert_in_range(length, 1, call < 0 ? NOTICE_BYTES_MAX : BYTES_MAX);
	for (const char *at = text; *at; at++)
		if (!is_word_byte((unsigned char)*at))
			fail_msg("'%c' in: %s", *at, text);
	expect_no_abbreviation(text);
	if (strstr(text, "  ") || strstr(text, " ,") || strstr(text, " .") || strstr(text, ",.") ||
	    strstr(text, ".."))
		fail_msg("a gap in: %s", text);
	if (call < 0)
		return;
	if (text[length - 1] != (said->asks ? '?' : '.'))
		fail_msg("no full stop or question mark: %s", text);
	if (said->asks)
		return;
	int number_pairs;
	if (count_things(text, said->sequence->job->detail, &number_pairs) > THINGS_MAX &&
	    (said->english || !said->again))
		fail_msg("more than three things: %s", text);
	/* A call to cut names a string in its maker's words. */
	if (number_pairs > 0 && !said->again && said->sequence->calls[call].kind != CALL_CUT)
		fail_msg("two numbers and only a pause between: %s", text);
}

struct tally {
	bool kinds[CALL_KINDS][DETAILS];
	bool english;
	int step; /* calls between those at which something goes wrong */
};

static void say_sequence(const struct bundled *bundled, const struct sequence *sequence,
			 const struct phrase_options *options, struct tally *tally)
{
	struct said said = {sequence, options->wording == WORDING_AGAIN,
			    options->wording == WORDING_ASK, tally->english};

	bundled_say_all(bundled->book, sequence, options, expect_words, &said);
	for (int call = 0; call < sequence->call_count; call++)
		tally->kinds[sequence->calls[call].kind][sequence->job->detail] = true;
}

/* Everything that can go wrong, at some calls. */
static void say_ways_back(const struct bundled *bundled, const struct sequence *sequence,
			  const struct phrase_options *options, struct tally *tally)
{
	static const struct mishap mishaps[] = {
		{MISHAP_REDO, STRING_MAIN, 2, SIDE_LEFT},
		{MISHAP_REDO, STRING_CROSS, 3, SIDE_LEFT},
		{.kind = MISHAP_SLIPPED},
		{.kind = MISHAP_BROKE},
		{MISHAP_REDO, STRING_MAIN, 1, SIDE_RIGHT},
		{MISHAP_REDO, STRING_CROSS, 1, SIDE_LEFT},
	};
	enum { MISHAPS = sizeof(mishaps) / sizeof(mishaps[0]) };

	for (int i = 0; i < MISHAPS; i++) {
		for (int call = i; call < sequence->call_count; call += tally->step) {
			struct faults faults = {0};
			struct sequence *after =
				sequence_go_back(sequence, call, &mishaps[i], &faults);
			if (after)
				say_sequence(bundled, after, options, tally);
			sequence_free(after);
			faults_free(&faults);
		}
	}
}

static void say_job(const struct bundled *bundled, const struct pattern *pattern, struct job *job,
		    const struct phrase_options *options, struct tally *tally)
{
	struct faults faults = {0};
	struct sequence *sequence = sequence_compile(job, pattern, &faults);

	if (faults.errors)
		faults_print(&faults, stderr);
	assert_non_null(sequence);
	say_sequence(bundled, sequence, options, tally);
	if (pattern == bundled->patterns[0] && options->wording == WORDING_PLANNED)
		say_ways_back(bundled, sequence, options, tally);
	sequence_free(sequence);
	faults_free(&faults);
}

static void expect_nothing_but_words(const char *language, int option_count, int step)
{
	static const struct phrase_options options[OPTIONS] = {
		{0},
		{.wording = WORDING_AGAIN},
		{.wording = WORDING_WHY},
		{.wording = WORDING_NAME},
		{.wording = WORDING_ASK},
		{.unit_chosen = true, .unit = UNIT_KG, .side_words = {"tape side", "plain side"}},
		{.unit_chosen = true,
		 .unit = UNIT_N,
		 .side_words = {"the 1 side", "#2: 50/50 side"}},
		{.unit_chosen = true,
		 .unit = UNIT_LB,
		 .wording = WORDING_AGAIN,
		 .side_words = {"", "%&/"}},
	};
	struct bundled bundled = {0};
	struct tally tally = {.english = strcmp(language, "en") == 0, .step = step};

	bundled_read(&bundled);
	phrasebook_free(bundled.book);
	bundled.book = bundled_phrasebook(language);
	print_message("%s\n", language);
	for (int which = 0; which < JOBS; which++) {
		struct job *job = bundled_job(which);
		for (int p = 0; p < bundled.count; p++) {
			job->detail = (enum detail)((p + which) % DETAILS);
			for (int o = 0; o < option_count; o++)
				say_job(&bundled, bundled.patterns[p], job, &options[o], &tally);
		}
		for (job->detail = 0; job->detail < DETAILS; job->detail++)
			say_job(&bundled, bundled.patterns[0], job, &options[0], &tally);
		job_free(job);
	}
	/* The grammar of kinds agrees with what the sequence makes. */
	for (enum call_kind kind = 0; kind < CALL_KINDS && tally.english; kind++)
		for (enum detail detail = 0; detail < DETAILS; detail++)
			if (tally.kinds[kind][detail] != kind_is_called(kind, detail))
				fail_msg("%s in %s: %s", call_kind_name(kind), detail_names[detail],
					 tally.kinds[kind][detail] ? "called" : "not called");
	bundled_free(&bundled);
}

static void english_says_nothing_but_words(void **state)
{
	(void)state;
	expect_nothing_but_words("en", OPTIONS, 7);
}

/* What is chosen at the bench is the same in all languages. */
static void other_languages_say_nothing_but_words(void **state)
{
	(void)state;
	static const char *const languages[] = {"de", "fr", "es", "it"};

	for (int i = 0; i < 4; i++)
		expect_nothing_but_words(languages[i], 5, 17);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(english_says_nothing_but_words),
		cmocka_unit_test(other_languages_say_nothing_but_words),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
