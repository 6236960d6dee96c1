/* pullcall export: the journal for other programs. */
#include "cli/cli.h"
#include "review/review.h"

#include <stdio.h>

enum { FORMAT_NONE = -1 };

int command_export(int argc, char **argv)
{
	struct query query = {0};
	int format = FORMAT_NONE, table = REVIEW_CALLS;
	const struct option_row options[] = {
		{"format", 0, "FORMAT",
		 "csv (RFC 4180), json (JSON Lines), xes (IEEE 1849, for process mining)",
		 .number = &format, .names = review_format_names},
		{"table", 0, "TABLE",
		 "what a line is: jobs, calls (default) or events; xes has them all",
		 .number = &table, .names = review_table_names},
		QUERY_FILTER_ROWS(&query),
		QUERY_JOURNAL_ROW(&query),
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall export",
		.usage = "--format csv|json|xes [--table jobs|calls|events] [OPTION...]",
		.about = "Writes the journal to standard output for other programs.",
		.end = "Exit: 0 done, 1 there is no journal yet, 2 wrong usage, 74 it cannot be read.",
		.options = options,
	};

	command_line_read(&line, argc, argv);
	if (format == FORMAT_NONE)
		command_line_wrong(&line, "--format csv, json or xes is missing");
	struct journal *journal = query_open(&query, JOURNAL_READ);
	return query_close(journal, review_export(journal, &query.filter, (enum review_table)table,
						  (enum review_format)format, stdout));
}
