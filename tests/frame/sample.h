/* A pattern file to damage: lines that a test replaces one at a time. */
#ifndef TESTS_FRAME_SAMPLE_H
#define TESTS_FRAME_SAMPLE_H

#include "base/base.h"

#include <stdio.h>
#include <stdlib.h>

/* The frame of the trade's worked example. */
static const char *const sample_lines[] = {
	"pattern: test",
	"title: Test",
	"sport: tennis",
	"mains: 16",
	"crosses: 19",
	"holes: { head: 18, throat: 17 }",
	"bridge: 6",
	"mains_skip: [7H, 9H, 7T, 9T]",
	"shared: []",
	"unused: []",
	"tie_off: { mains: 8T, cross_start: 8H, cross_end: 6T }",
	"crosses_start: head",
	"head: { length: 330 mm, width: 247 mm, area: 640 cm2, beam: 12 mm }",
	"spacing: { mains: 13 mm }",
	"tension: { min: 22 kg, max: 28 kg }",
};

enum { SAMPLE_LINES = sizeof(sample_lines) / sizeof(sample_lines[0]) };

/* The file with line `number` (from 1; 0: none) written as `line`; the caller frees it. */
static inline char *sample_with(int number, const char *line)
{
	struct text text = {0};

	for (int i = 0; i < SAMPLE_LINES; i++) {
		text_add(&text, i + 1 == number ? line : sample_lines[i]);
		text_add_char(&text, '\n');
	}
	return text_take(&text);
}

/* What a person would see; the caller frees it. */
static inline char *sample_printed(const struct faults *faults)
{
	char *text = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&text, &length);

	faults_print(faults, out);
	fclose(out);
	return text;
}

#endif
