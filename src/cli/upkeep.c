/* pullcall journal: looking after the journal. */
#include "cli/cli.h"
#include "journal/journal.h"

#include <stdio.h>
#include <string.h>

static const char help[] =
	"Usage: pullcall journal backup FILE [--journal FILE]\n"
	"       pullcall journal merge FILE... [--journal FILE]\n"
	"       pullcall journal forget NAME [--journal FILE]\n"
	"\n"
	"  backup   copies the journal, even while a job is running, into one file\n"
	"  merge    takes in the jobs of other benches' journals; twice changes nothing\n"
	"  forget   replaces a stringer's name everywhere; backups are not changed\n"
	"\n" QUERY_JOURNAL_HELP "\n"
	"merge and forget need the journal for themselves: no job may be running.\n"
	"\n"
	"Exit: 0 done, 1 there is no journal or no such name, 2 wrong usage, 74 a journal cannot\n"
	"be read or written.\n";

static int backup(const struct query *query, int count, char **files)
{
	int code;

	if (count != 1)
		return command_usage("journal", "backup takes one file");
	struct journal *journal = query_open(query, JOURNAL_READ, &code);
	if (!journal)
		return code;
	return query_close(journal, journal_backup(journal, files[0]));
}

static int merge(const struct query *query, int count, char **files)
{
	enum journal_status status = JOURNAL_OK;
	int code;

	if (count == 0)
		return command_usage("journal", "merge takes at least one file");
	struct journal *journal = query_open(query, JOURNAL_WRITE, &code);
	if (!journal)
		return code;
	for (int i = 0; i < count && status == JOURNAL_OK; i++) {
		struct journal_merged merged = {0};
		status = journal_merge(journal, files[i], &merged);
		if (status == JOURNAL_OK)
			printf("%s: jobs added %d, gone on %d, known already %d\n", files[i],
			       merged.added, merged.lengthened, merged.known);
	}
	return query_close(journal, status);
}

static int forget(const struct query *query, int count, char **names)
{
	struct journal_forgotten forgotten = {0};
	int code;

	if (count != 1)
		return command_usage("journal", "forget takes one name");
	struct journal *journal = query_open(query, JOURNAL_WRITE, &code);
	if (!journal)
		return code;
	enum journal_status status = journal_forget(journal, names[0], &forgotten);
	if (status == JOURNAL_OK)
		printf("the name is now \"%s\": stringer of jobs %d, in the texts of %d\n",
		       forgotten.alias, forgotten.jobs, forgotten.texts);
	if (forgotten.set_aside)
		fprintf(stderr,
			"pullcall: damaged journals that were set aside may still hold it: %d\n",
			forgotten.set_aside);
	return query_close(journal, status);
}

int command_journal(int argc, char **argv)
{
	static const struct {
		const char *name;
		int (*run)(const struct query *query, int count, char **rest);
	} tasks[] = {{"backup", backup}, {"merge", merge}, {"forget", forget}};
	static const struct option table[] = {QUERY_JOURNAL_OPTION, OPTION_TABLE_END};
	struct query query = {0};
	const char *why;
	int option, code = 0;

	while ((option = command_option(argc, argv, table, help, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code;
		query_option(&query, option, optarg, &why);
	}
	if (optind == argc)
		return command_usage("journal", "backup, merge or forget is missing");
	for (size_t i = 0; i < sizeof(tasks) / sizeof(tasks[0]); i++)
		if (strcmp(argv[optind], tasks[i].name) == 0)
			return tasks[i].run(&query, argc - optind - 1, argv + optind + 1);
	return command_usage("journal", "\"%s\" is nothing to do with a journal", argv[optind]);
}
