/* pullcall export: the journal for other programs. */
#include "cli/cli.h"
#include "review/review.h"

#include <stdio.h>

static const char help[] =
	"Usage: pullcall export --format csv|json|xes [--table jobs|calls|events] [OPTION...]\n"
	"\n"
	"Writes the journal to standard output for other programs.\n"
	"\n"
	"  --format FORMAT   csv (RFC 4180), json (JSON Lines), xes (IEEE 1849: process mining)\n"
	"  --table TABLE     what a line is: jobs, calls (default) or events; xes has them all\n" QUERY_FILTER_HELP
		QUERY_JOURNAL_HELP "\n"
	"Exit: 0 done, 1 there is no journal yet, 2 wrong usage, 74 it cannot be read.\n";

enum { OPTION_FORMAT = QUERY_END, OPTION_ROWS };

struct wish {
	struct query query;
	enum review_format format;
	enum review_table table;
	bool has_format;
};

static bool take(struct wish *wish, int option, const char *value, const char **why)
{
	switch (option) {
	case OPTION_FORMAT:
		*why = "--format takes csv, json or xes";
		wish->has_format = review_format_parse(value, &wish->format);
		return wish->has_format;
	case OPTION_ROWS:
		*why = "--table takes jobs, calls or events";
		return review_table_parse(value, &wish->table);
	default:
		return query_option(&wish->query, option, value, why);
	}
}

int command_export(int argc, char **argv)
{
	static const struct option table[] = {
		{"format", required_argument, NULL, OPTION_FORMAT},
		{"table", required_argument, NULL, OPTION_ROWS},
		QUERY_FILTER_OPTIONS,
		QUERY_JOURNAL_OPTION,
		OPTION_TABLE_END,
	};
	struct wish wish = {.table = REVIEW_CALLS};
	const char *why = NULL;
	int option, code = 0;

	while ((option = command_option(argc, argv, table, help, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code;
		if (!take(&wish, option, optarg, &why))
			return command_usage("export", "%s", why);
	}
	if (optind != argc)
		return command_usage("export", "unexpected \"%s\"", argv[optind]);
	if (!wish.has_format)
		return command_usage("export", "--format csv, json or xes is missing");
	struct journal *journal = query_open(&wish.query, JOURNAL_READ, &code);
	if (!journal)
		return code;
	return query_close(journal, review_export(journal, &wish.query.filter, wish.table,
						  wish.format, stdout));
}
