/* Comma-separated values (RFC 4180), with the place of every field. */
#include "base/base.h"
#include "cli/cli.h"

#include <stdlib.h>
#include <string.h>

static void step(struct csv *csv)
{
	bool line_ends = *csv->at == '\n';

	csv->here = line_ends ? (struct position){csv->here.line + 1, 1}
			      : (struct position){csv->here.line, csv->here.column + 1};
	csv->at++;
}

static void fault(struct csv *csv, const char *text)
{
	fault_add(csv->faults, FAULT_ERROR, csv->file, csv->here, "csv-quote", "%s", text);
	while (*csv->at && *csv->at != '\n')
		step(csv);
}

/* A field in quotes, up to the quote that ends it; two of them stand for one. */
static void take_quoted(struct csv *csv, struct text *out)
{
	const struct position start = csv->here;

	for (step(csv); *csv->at; step(csv)) {
		if (*csv->at == '"' && csv->at[1] != '"')
			break;
		if (*csv->at == '"')
			step(csv);
		text_add_char(out, *csv->at);
	}
	if (*csv->at) {
		step(csv);
	} else {
		csv->here = start;
		fault(csv, "this quote has no end");
	}
	if (*csv->at && !strchr(",\r\n", *csv->at))
		fault(csv, "expected a comma or the end of the line after a field in quotes");
}

struct csv csv_begin(const char *file, const char *bytes, struct faults *faults)
{
	static const char byte_order_mark[] = "\xef\xbb\xbf";
	bool marked = strncmp(bytes, byte_order_mark, 3) == 0;

	return (struct csv){
		.file = file, .at = bytes + (marked ? 3 : 0), .here = {1, 1}, .faults = faults};
}

bool csv_field(struct csv *csv, char **field, struct position *position)
{
	struct text out = {0};

	if (csv->row_ended && !*csv->at)
		return false;
	csv->row_ended = false;
	*position = csv->here;
	if (*csv->at == '"')
		take_quoted(csv, &out);
	for (; *csv->at && !strchr(",\n", *csv->at); step(csv)) {
		if (*csv->at == '"')
			fault(csv, "a field with a quote in it must be in quotes itself");
		else if (*csv->at != '\r' || csv->at[1] != '\n')
			text_add_char(&out, *csv->at);
		if (!*csv->at || *csv->at == '\n')
			break;
	}
	csv->row_ended = *csv->at != ',';
	if (*csv->at)
		step(csv);
	*field = out.length ? text_take(&out) : memory_copy("");
	return true;
}
