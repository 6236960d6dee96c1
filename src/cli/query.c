#include "cli/cli.h"

#include "base/base.h"
#include "daemon/daemon.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

/* Midnight, local time, of the day given plus `days`. */
static bool read_day(const char *text, int days, int64_t *out_us)
{
	struct tm day = {.tm_isdst = -1};
	const char *end = strptime(text, "%Y-%m-%d", &day);

	if (!end || *end)
		return false;
	day.tm_mday += days;
	time_t seconds = mktime(&day);
	*out_us = (int64_t)seconds * SECOND_US;
	return seconds != (time_t)-1;
}

static bool read_method(const char *value, const char **out)
{
	*out = value;
	return strcmp(value, method_name(METHOD_TWO_PIECE)) == 0 ||
	       strcmp(value, method_name(METHOD_ONE_PIECE)) == 0;
}

bool query_option(struct query *query, int option, const char *value, const char **why)
{
	*why = "expected a day such as 2026-11-25";
	switch (option) {
	case QUERY_JOURNAL:
		query->journal = value;
		return true;
	case QUERY_STRINGER:
		query->filter.stringer = value;
		return true;
	case QUERY_PATTERN:
		query->filter.pattern = value;
		return true;
	case QUERY_METHOD:
		*why = "--method takes two-piece or one-piece";
		return read_method(value, &query->filter.method);
	case QUERY_SINCE:
		return read_day(value, 0, &query->filter.since_us);
	case QUERY_UNTIL:
		return read_day(value, 1, &query->filter.until_us);
	default:
		*why = "unknown option";
		return false;
	}
}

struct journal *query_open(const struct query *query, enum journal_mode mode, int *code)
{
	char *usual = query->journal ? NULL : journal_default_path();
	const char *path = query->journal ? query->journal : usual;
	enum journal_status status = JOURNAL_IO;
	struct journal *journal = NULL;
	char *error = NULL;

	if (!path)
		error = memory_copy("HOME is not set: name a journal with --journal FILE");
	else
		status = journal_open(path, mode, &journal, &error);
	if (status == JOURNAL_NONE)
		fprintf(stderr, "pullcall: no job has been strung yet: there is no journal %s\n",
			path);
	else if (error)
		fprintf(stderr, "pullcall: %s\n", error);
	*code = status == JOURNAL_NONE ? EXIT_NO : DAEMON_EXIT_JOURNAL;
	free(error);
	free(usual);
	return journal;
}

int query_close(struct journal *journal, enum journal_status status)
{
	int code = status == JOURNAL_OK     ? 0
		   : status == JOURNAL_NONE ? EXIT_NO
					    : DAEMON_EXIT_JOURNAL;

	if (code)
		fprintf(stderr, "pullcall: %s\n", journal_message(journal));
	journal_close(journal);
	return code;
}
