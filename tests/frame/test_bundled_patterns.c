/* The patterns that come with the program: each one reads without fault or warning, and together
 * they span what a stringer meets. */
#include "frame/frame.h"
#include "frame/near.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { BUNDLED_MAX = 100, BUNDLED_MIN = 12 };

static struct pattern *patterns[BUNDLED_MAX];
static int pattern_count;

static int is_yaml(const struct dirent *entry)
{
	size_t length = strlen(entry->d_name);

	return length > 5 && strcmp(entry->d_name + length - 5, ".yaml") == 0;
}

static int read_all(void **state)
{
	(void)state;
	struct dirent **entries;
	int count = scandir(SOURCE_DIR "/patterns", &entries, is_yaml, alphasort);

	if (count < BUNDLED_MIN || count > BUNDLED_MAX) {
		print_error("%d patterns in " SOURCE_DIR "/patterns\n", count);
		return -1;
	}
	for (int i = 0; i < count; i++) {
		char path[1024];
		struct faults faults = {0};
		snprintf(path, sizeof(path), SOURCE_DIR "/patterns/%s", entries[i]->d_name);
		patterns[i] = pattern_read(yaml_read(path, &faults));
		faults_print(&faults, stderr);
		if (!patterns[i] || faults.count > 0)
			return -1;
		faults_free(&faults);
		free(entries[i]);
	}
	free(entries);
	pattern_count = count;
	return 0;
}

static int free_all(void **state)
{
	(void)state;
	for (int i = 0; i < pattern_count; i++)
		pattern_free(patterns[i]);
	return 0;
}

static bool sides_differ(const struct pattern *pattern)
{
	for (int i = 0; i < TIE_OFFS; i++)
		if (!hole_same(pattern->tie_off[i][SIDE_LEFT], pattern->tie_off[i][SIDE_RIGHT]))
			return true;
	return false;
}

static bool any_in(const struct hole_set *set)
{
	return set->bits[END_HEAD] || set->bits[END_THROAT];
}

static void the_variety_is_there(void **state)
{
	(void)state;
	int sports[4] = {0}, bridges[3] = {0};
	int shared = 0, unused = 0, uneven = 0, from_throat = 0, ends[2] = {0};

	for (int i = 0; i < pattern_count; i++) {
		const struct pattern *pattern = patterns[i];
		enum frame_end start = pattern_mains_start(pattern);
		sports[pattern->sport]++;
		bridges[0] += pattern->bridge == 0;
		bridges[1] += pattern->bridge == 6;
		bridges[2] += pattern->bridge == 8;
		shared += any_in(&pattern->shared);
		unused += any_in(&pattern->unused);
		uneven += sides_differ(pattern);
		from_throat += pattern->crosses_start == END_THROAT;
		ends[pattern_main_end(start, pattern_half(pattern))]++;
	}
	for (int i = 0; i < 4; i++)
		assert_true(sports[i] > 0);
	for (int i = 0; i < 3; i++)
		assert_true(bridges[i] > 0);
	assert_true(shared > 0);
	assert_true(unused > 0);
	assert_true(uneven > 0);
	assert_true(from_throat > 0);
	assert_true(ends[END_HEAD] > 0);
	assert_true(ends[END_THROAT] > 0);
}

/* Everything a job may want of a pattern is in the bundled ones. */
static void each_is_complete(void **state)
{
	(void)state;
	for (int i = 0; i < pattern_count; i++) {
		const struct pattern *pattern = patterns[i];
		assert_true(pattern->has_range);
		assert_true(pattern->head.area_mm2 > 0);
		assert_string_not_equal(pattern->title, pattern->name);
		for (int t = 0; t < TIE_OFFS; t++)
			for (int side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
				assert_true(pattern->tie_off[t][side].number > 0);
	}
}

/* A tennis set of 12.2 m strings one racket, badminton takes about 10 m (common practice); here
 * with a margin of 0.3 m each for mains and crosses. */
static void each_takes_a_usual_length_of_string(void **state)
{
	(void)state;
	struct length_allowance allowance = LENGTH_ALLOWANCE(350, 300);

	for (int i = 0; i < pattern_count; i++) {
		struct bed bed;
		assert_true(bed_of_pattern(patterns[i], &bed));
		double both_mm = length_of_mains_mm(&bed, &allowance) +
				 length_of_crosses_mm(&bed, &allowance);
		if (patterns[i]->sport == SPORT_TENNIS)
			assert_near(both_mm, 11900, 900);
		else if (patterns[i]->sport == SPORT_BADMINTON)
			assert_near(both_mm, 11100, 1000);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_variety_is_there),
		cmocka_unit_test(each_is_complete),
		cmocka_unit_test(each_takes_a_usual_length_of_string),
	};
	return cmocka_run_group_tests(tests, read_all, free_all);
}
