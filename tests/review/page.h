/* A printed page against the file that says how it should look. */
#ifndef TESTS_REVIEW_PAGE_H
#define TESTS_REVIEW_PAGE_H

#include "journal/sample.h"

/* Where two texts part, as a line number; 0 if they do not. */
static inline int page_parts(const char *got, const char *want)
{
	int line = 1;

	while (*got && *got == *want) {
		line += *got == '\n';
		got++;
		want++;
	}
	return *got == *want ? 0 : line;
}

/* Compares with tests/review/NAME. A page that differs is left in the build folder to be looked at.
 */
static inline void page_compare(const char *text, const char *name)
{
	static char want[20000];
	char path[SAMPLE_PATH_MAX];

	snprintf(path, sizeof path, "%s/tests/review/%s", SOURCE_DIR, name);
	FILE *file = fopen(path, "r");
	assert_non_null(file);
	size_t length = fread(want, 1, sizeof want - 1, file);
	fclose(file);
	want[length] = '\0';
	int line = page_parts(text, want);
	if (line) {
		snprintf(path, sizeof path, "%s/%s", BINARY_DIR, name);
		file = fopen(path, "w");
		fputs(text, file);
		fclose(file);
		fail_msg("differs from %s in line %d: see %s", name, line, path);
	}
}

#endif
