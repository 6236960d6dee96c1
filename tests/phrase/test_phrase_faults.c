/* Faults of a phrasebook: what is said of each, and where it points. And damage of all kinds: a
 * phrasebook that is read says nothing but words, whatever was done to it. */
#include "base/base.h"
#include "phrase/bundled.h"

#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static char *english;

static int read_english(void **state)
{
	(void)state;
	english = bundled_file(SOURCE_DIR "/voice/en.yaml");
	return 0;
}

static int free_english(void **state)
{
	(void)state;
	free(english);
	return 0;
}

/* English with the one place where `find` stands replaced; the caller frees it. */
static char *replaced(const char *find, const char *replacement)
{
	struct text text = {0};
	const char *at = strstr(english, find);

	if (!at || strstr(at + 1, find)) {
		fail_msg("not just once in the phrasebook: %s", find);
		return NULL;
	}
	text_add_part(&text, english, (size_t)(at - english));
	text_add(&text, replacement);
	text_add(&text, at + strlen(find));
	return text_take(&text);
}

/* Takes the mark ^ out of text and returns its place; columns count characters. */
static struct position take_mark(char *text)
{
	struct position position = {1, 1};
	char *at = text;

	for (; *at && *at != '^'; at++) {
		if (*at == '\n')
			position = (struct position){position.line + 1, 1};
		else if (((unsigned char)*at & 0xc0) != 0x80)
			position.column++;
	}
	if (!*at)
		fail_msg("no mark");
	memmove(at, at + 1, strlen(at));
	return position;
}

static char *printed(struct faults *faults)
{
	char *text = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&text, &length);

	faults_print(faults, out);
	fclose(out);
	return text;
}

static void expect_fault(const char *find, const char *replacement, const char *message)
{
	struct faults faults = {0};
	char *text = replaced(find, replacement);
	struct position position = take_mark(text);
	char *expected = memory_format("en.yaml:%d:%d: error: %s\n", position.line, position.column,
				       message);

	struct phrasebook *book = phrasebook_read(yaml_read_text("en.yaml", text, &faults));
	char *got = printed(&faults);
	if (book || !strstr(got, expected))
		fail_msg("%s\n  expected: %s  got:      %s", replacement, expected, got);
	free(got);
	free(expected);
	free(text);
	faults_free(&faults);
}

#define MAIN  "bench: Main {number} {side}, [skip {skip} to ]{holes}[, pull {new_pull}]."
#define QUICK "quick: Main {number} {side}[, {odd_hole}]."

static void faults_point_into_the_sentence(void **state)
{
	(void)state;
	static const struct {
		const char *find;
		const char *replacement;
		const char *message;
	} cases[] = {
		{MAIN, "bench: Main {number} ^{sdie}, pull {pull}.",
		 "unknown field {sdie}: did you mean {side}? [phrase-field]"},
		{MAIN, "bench: \"Main {number} ^{sdie}, pull {pull}.\"",
		 "unknown field {sdie}: did you mean {side}? [phrase-field]"},
		{MAIN, "bench: 'Main''s {number} ^{sdie}, pull {pull}.'",
		 "unknown field {sdie}: did you mean {side}? [phrase-field]"},
		{MAIN, "bench: Main {number}\n      and ^{sdie}, pull {pull}.",
		 "unknown field {sdie}: did you mean {side}? [phrase-field]"},
		{MAIN, "bench: \xc3\x85\xc3\xa9 {number} ^{sdie}, pull {pull}.",
		 "unknown field {sdie}: did you mean {side}? [phrase-field]"},
		{MAIN, "bench: Main {number} {side}, ^{}.",
		 "unknown field {}: a call of \"main\" knows {number}, {side}, {other_side}, "
		 "{hole}, {holes}, {odd_hole}, {from}, {to}, {from_end}, {to_end}, {skip}, {tension}, {pull}, {new_pull}, {early}, {end} [phrase-field]"},
		{"bench: Take the frame off.", "bench: Take the ^{side} off.",
		 "{side} has no value in a call of \"dismount\", which knows no field "
		 "[phrase-field]"},
		{MAIN, "bench: ^Main {number}, pull {pull}.",
		 "a call of \"main\" must say {side} [phrase-missing]"},
		{QUICK, "quick: Main {number} {side}, ^{odd_hole}.",
		 "{odd_hole} has nothing to say at times: put it and the words that belong to it "
		 "in [ ] [phrase-optional]"},
		{"mains: Cut the mains[, about {length}].",
		 "mains: Cut the mains[, about {length}|, ^{string_name}].",
		 "{string_name} has nothing to say at times: put it and the words that belong to it "
		 "in [ ] [phrase-optional]"},
		{QUICK, "quick: Main {number} {side}[ at^[, {odd_hole}]].",
		 "\"[\" inside \"[\" [phrase-bracket]"},
		{"cross: Tie off cross {number} at {hole} {side}[, {suggested}].\n    quick:",
		 "cross: ^Tie off cross {number} at {hole} {side}.\n    quick:",
		 "a call of \"tie-off\" must say {suggested} [phrase-missing]"},
		{"quick: Starting knot at {hole} {side}[, {suggested}].",
		 "quick: ^Starting knot at {hole} {side}.",
		 "a call of \"start-knot\" must say {suggested} [phrase-missing]"},
		{QUICK, "quick: Main {number} {side}^[, pull {pull}].",
		 "this part would always be said: [ ] are for a field with nothing to say at times "
		 "[phrase-bracket]"},
		{QUICK, "quick: Main {number} {side}^[, {odd_hole}.",
		 "\"[\" is not closed [phrase-bracket]"},
		{QUICK, "quick: Main {number} {side}, {hole}^].",
		 "\"]\" without \"[\" [phrase-bracket]"},
		{QUICK, "quick: Main {number} {side} ^| {hole}.",
		 "\"|\" stands once in [ ]: what is said else is behind it [phrase-bracket]"},
		{MAIN, "bench: Main {number} {side}, ^{holes, pull.",
		 "\"{\" is not closed: a field is written {name} [phrase-brace]"},
		{MAIN, "bench: Main {number} {side}, holes^}, pull.",
		 "\"}\" without \"{\" [phrase-brace]"},
		{MAIN, "bench: Main {number} {side}, hole ^8.",
		 "\"8\" is not for speaking: write letters, spaces, commas, full stops, question "
		 "marks, hyphens and apostrophes [phrase-character]"},
		{MAIN, "bench: Main {number} {side} ^\xe2\x86\x92.",
		 "\"\xe2\x86\x92\" is not for speaking: write letters, spaces, commas, full "
		 "stops, question marks, hyphens and apostrophes [phrase-character]"},
		{"bench: Take the frame off.", "bench: ^'. -'",
		 "a call of \"dismount\" says nothing [phrase-empty]"},
		{"bench: Take the frame off.", "bench: ^[a, b]",
		 "expected a sentence: one that begins with a brace or a bracket stands in quotes "
		 "[value-kind]"},
		{"quick: Frame off.", "^qick: Frame off.\n    quick: Off.",
		 "unknown key \"qick\": did you mean \"quick\"? [key-unknown]"},
		{"  dismount:\n", "  ^dismont:\n    bench: Off.\n  dismount:\n",
		 "unknown key \"dismont\": did you mean \"dismount\"? [key-unknown]"},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		expect_fault(cases[i].find, cases[i].replacement, cases[i].message);
}

static void what_is_missing_is_named(void **state)
{
	(void)state;
	expect_fault("  dismount:\n    learner: Unlock the frame. Lift it off the machine.\n",
		     "  ^dismount:\n", "key \"learner\" is missing in dismount [key-missing]");
	expect_fault("\n    quick:\n      mains: Cut the mains[, about {length}].",
		     "\n    ^quick:\n", "key \"mains\" is missing in quick [key-missing]");
	expect_fault("  dismount:\n    learner: Unlock the frame. Lift it off the machine.\n"
		     "    bench: Take the frame off.\n    quick: Frame off.\n"
		     "    why: A frame that is forced out of its mounts can crack.\n",
		     "  ^dismount:\n    learner: Unlock the frame. Lift it off the machine.\n"
		     "    bench: Take the frame off.\n    quick: Frame off.\n",
		     "key \"why\" is missing in dismount [key-missing]");
	expect_fault("notices:\n  greeting: '[Job {job}. ]{mains} and {crosses}.[ {last_time}.][ "
		     "{notes}.] Press to begin.'",
		     "^notices:", "key \"greeting\" is missing in notices [key-missing]");
	expect_fault("notices:\n  greeting", "^notises:\n  greeting",
		     "unknown key \"notises\": did you mean \"notices\"? [key-unknown]");
}

/* One sentence for all variants of a kind knows what all of them know, and says what any of them
 * must. */
static void variants_may_share_a_sentence(void **state)
{
	(void)state;
	static const char pull[] =
		"    learner:\n"
		"      main: Pull main {number} {side} at the {end}, {tension}[{early}. {head}. Stand clear of the line of the string].\n"
		"      cross: Pull cross {number} on the {side}, where it comes out of {hole}, {tension}[{early}. Keep your fingers out of the tension head].\n"
		"      crosses: Pull crosses {first} and {last} together on the {side}, where the string comes out of {hole}, {tension}.\n";
	static const char clamp[] =
		"    learner:\n"
		"      main: Clamp main {number} {side} at the {end}[, across {across}][{early}, as near to the frame as you can].\n"
		"      cross: Clamp cross {number} on the {side}[, across {across}][{early}, as near to the frame as you can].\n";
	struct faults faults = {0};

	expect_fault(
		pull, "    learner: Pull ^{first} and {last}.\n",
		"{first} has no value in a call of \"pull\", which knows {number}, {side}, "
		"{other_side}, {hole}, {tension}, {pull}, {new_pull}, {head}, {early}, {end} [phrase-field]");
	expect_fault(clamp, "    learner: ^Clamp {number}.\n",
		     "a call of \"clamp\" must say {side}, {across} [phrase-missing]");
	char *text = replaced(clamp, "    learner: Clamp {number} {side}[ across {across}].\n");
	struct phrasebook *book = phrasebook_read(yaml_read_text("en.yaml", text, &faults));
	assert_non_null(book);
	phrasebook_free(book);
	free(text);
	faults_free(&faults);
}

/* A fault of all rules together stands at their map, which the replaced line is not. */
static void expect_number_fault(const char *find, const char *replacement, const char *message)
{
	struct faults faults = {0};
	char *text = replaced(find, replacement);
	struct phrasebook *book = phrasebook_read(yaml_read_text("en.yaml", text, &faults));
	char *got = printed(&faults);

	if (book || !strstr(got, message))
		fail_msg("%s\n  expected: %s\n  got: %s", replacement, message, got);
	free(got);
	free(text);
	faults_free(&faults);
}

static void numbers_are_checked(void **state)
{
	(void)state;
	expect_fault("numbers:\n  0: zero\n", "^numbers:\n",
		     "there is no word for 0 [phrase-number]");
	expect_fault("numbers:\n  0: zero\n  1: one\n  2: two\n  3: three\n",
		     "^numbers:\n  0: zero\n  1: one\n  2: two\n",
		     "there is no word for 3 [phrase-number]");
	expect_fault("numbers:\n  0: zero\n", "numbers:\n  0: zero\n  ^01: one\n",
		     "expected a number from 0 to 1000000, or two such as 40/20, not \"01\" "
		     "[phrase-number]");
	expect_fault("numbers:\n  0: zero\n", "numbers:\n  0: zero\n  ^40/: two score\n",
		     "expected a number from 0 to 1000000, or two such as 40/20, not \"40/\" "
		     "[phrase-number]");
	expect_fault("  9: nine\n", "  9: ^n{count}\n",
		     "9 cannot be a rule with {count} [phrase-number]");
	expect_fault("  9: nine\n", "  9/10: ^n[{rest}]\n",
		     "9/10 cannot be a rule with {rest} [phrase-number]");
	expect_number_fault("  30: thirty[ {rest}]\n", "  30: thirty\n", "there is no word for 31");
	expect_number_fault("100: \"{count} hundred[ {rest}]\"", "100: \"{count} hundred\"",
			    "101 would be said as 100: the rule for 100 does not say {rest}");
	expect_number_fault("  20: twenty[ {rest}]\n  30: thirty[ {rest}]\n", "",
			    "there is no word for 20");
	expect_fault("100: \"{count} hundred[ {rest}]\"", "100/1: ^\"{count} hundred[ {rest}]\"",
		     "100/1 cannot be a rule with {count} [phrase-number]");
	expect_fault("100: \"{count} hundred[ {rest}]\"", "100: \"{count} hundred ^{rest}\"",
		     "{rest} has nothing to say at times: put it and the words that belong to it "
		     "in [ ] [phrase-optional]");
	expect_fault("one: one main, other: \"{count} mains\"", "one: one main, other: ^some mains",
		     "other must say {count} [phrase-missing]");
	expect_fault("one: one main, other:", "one: one main, ^few:",
		     "unknown key \"few\": expected one or other [key-unknown]");
	expect_fault("plural:\n  one: { exactly: [1] }",
		     "plural:\n  one: { exactly: [1] }\n  few: { last_digit: [2, ^10] }",
		     "expected a whole number from 0 to 9, not \"10\" [value-number]");
	expect_fault("repeat: \"{words}, {digits}\"", "repeat: ^digits",
		     "expected {words}, {digits} or both [phrase-missing]");
	expect_fault("number: \"{digits}\"", "number: ^clearly",
		     "expected {words}, {digits} or both [phrase-missing]");
	expect_fault("number: \"{digits}\"", "number: \"{digits}\"\n  digits: { ^ten: one }",
		     "unknown key \"ten\": expected 0, 1, 2, 3, 4, 5, 6, 7, 8 or 9 [key-unknown]");
}

/* xorshift64: the same damage in every run, from a seed that is printed. */
static uint64_t next_random(uint64_t *state)
{
	*state ^= *state << 13;
	*state ^= *state >> 7;
	*state ^= *state << 17;
	return *state;
}

static const char *any_piece(uint64_t *state)
{
	static const char *const pieces[] = {
		"{",      "}",       "[",       "]",      "|",      "'",       "\"",       ":",
		"\n",     " ",       "  ",      "7",      "{rest}", "{count}", "{number}", "{side}",
		"{hole}", "{place}", "0: ",     "2: ",    "100: ",  "40/20: ", "\xc3\xa9", "\xff",
		"\t",     "- ",      "[{rest}", "main: ", "#",      ">",       "other",    ",",
	};

	return pieces[next_random(state) % (sizeof(pieces) / sizeof(pieces[0]))];
}

/* Cuts up to 30 bytes at a random place, or a piece of them to another place, or puts something in.
 */
static char *damaged(const char *text, uint64_t *state)
{
	struct text out = {0};
	size_t length = strlen(text);
	size_t at = next_random(state) % length;
	size_t cut = next_random(state) % 30;

	if (at + cut > length)
		cut = length - at;
	text_add_part(&out, text, at);
	switch (next_random(state) % 4) {
	case 0: /* cut */
		break;
	case 1: /* something else in its place */
		text_add(&out, any_piece(state));
		break;
	case 2: /* something put in */
		text_add(&out, any_piece(state));
		cut = 0;
		break;
	default: /* a piece from elsewhere put in */
		text_add_part(&out, text + next_random(state) % (length - 30), 30);
		cut = 0;
		break;
	}
	text_add(&out, text + at + cut);
	return text_take(&out);
}

static void expect_sayable(const char *text, int call, void *context)
{
	(void)call;
	size_t length = strlen(text);

	assert_in_range(length, 0, PHRASE_BYTES_MAX);
	for (size_t i = 0; i < length; i++)
		if ((unsigned char)text[i] < 0x80 && !isalpha(text[i]) &&
		    !strchr(" ',.?-", text[i]))
			fail_msg("'%c' in: %s\nof: %s", text[i], text, (const char *)context);
}

static void damage_is_a_fault_or_harmless(void **state)
{
	(void)state;
	enum { TIMES = 3000 };
	static const uint64_t seed = 20261101;
	struct bundled bundled = {0};
	uint64_t random = seed;
	int good = 0;

	bundled_read(&bundled);
	struct job *job = bundled_job(0);
	struct faults none = {0};
	print_message("seed %llu\n", (unsigned long long)seed);
	for (int i = 0; i < TIMES; i++) {
		struct faults faults = {0};
		char *text = damaged(english, &random);
		while (next_random(&random) % 2) {
			char *more = damaged(text, &random);
			free(text);
			text = more;
		}
		struct phrasebook *book = phrasebook_read(yaml_read_text("d.yaml", text, &faults));
		assert_true(book || faults.errors > 0);
		assert_false(book && faults.errors > 0);
		if (book) {
			good++;
			job->detail = (enum detail)(i % DETAILS);
			struct sequence *sequence =
				sequence_compile(job, bundled.patterns[i % bundled.count], &none);
			bundled_say_all(book, sequence, NULL, expect_sayable, text);
			sequence_free(sequence);
		}
		phrasebook_free(book);
		faults_free(&faults);
		free(text);
	}
	print_message("%d of %d were still phrasebooks\n", good, TIMES);
	assert_in_range(good, TIMES / 20, TIMES - TIMES / 20);
	faults_free(&none);
	job_free(job);
	bundled_free(&bundled);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(faults_point_into_the_sentence),
		cmocka_unit_test(what_is_missing_is_named),
		cmocka_unit_test(variants_may_share_a_sentence),
		cmocka_unit_test(numbers_are_checked),
		cmocka_unit_test(damage_is_a_fault_or_harmless),
	};

	return cmocka_run_group_tests(tests, read_english, free_english);
}
