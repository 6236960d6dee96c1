/* Looking after a journal: backing up, merging, and taking a person's name out. */
#include "journal/internal.h"

#include "base/base.h"
#include "script/script.h"

#include <ctype.h>
#include <errno.h>
#include <locale.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>
#include <wctype.h>

/* ---- backing up ---- */

static bool same_file(const char *one, const char *other)
{
	struct stat a, b;

	return stat(one, &a) == 0 && stat(other, &b) == 0 && a.st_dev == b.st_dev &&
	       a.st_ino == b.st_ino;
}

/* A backup may replace a journal or an empty file, nothing else. */
static enum journal_status may_replace(struct journal *journal, const char *file)
{
	struct journal *old = NULL;
	char *error = NULL;

	if (same_file(journal->path, file))
		return journal_fail(journal, JOURNAL_NOT_OURS, "it cannot be its own backup");
	enum journal_status status = journal_open(file, JOURNAL_READ, &old, &error);
	journal_close(old);
	free(error);
	if (status == JOURNAL_OK || status == JOURNAL_NONE)
		return JOURNAL_OK;
	return journal_fail(journal, JOURNAL_NOT_OURS, "%s is there and %s: it is not replaced",
			    file,
			    status == JOURNAL_NEWER      ? "was written by a newer pullcall"
			    : status == JOURNAL_CORRUPT  ? "is damaged"
			    : status == JOURNAL_NOT_OURS ? "is not a journal"
							 : "cannot be read");
}

enum journal_status journal_backup(struct journal *journal, const char *file)
{
	enum journal_status status = may_replace(journal, file);

	if (status != JOURNAL_OK)
		return status;
	char *doing = memory_format("write the backup %s", file);
	char *path = memory_format("%s.XXXXXX", file);
	int descriptor = mkstemp(path); /* readable by the owner alone */
	if (descriptor < 0) {
		status = journal_fail_errno(journal, doing, errno);
	} else {
		journal->doing = doing;
		status = journal_do(journal, "VACUUM INTO :path", FIELDS(field_text("path", path)));
		journal->doing = NULL;
		if (status == JOURNAL_OK && (fsync(descriptor) != 0 || rename(path, file) != 0))
			status = journal_fail_errno(journal, doing, errno);
		if (status == JOURNAL_OK)
			status = journal_sync_folder(journal, file);
		close(descriptor);
		if (status != JOURNAL_OK)
			unlink(path);
	}
	free(doing);
	free(path);
	return status;
}

/* ---- merging ---- */

static void copy_jobs(struct journal *journal, struct journal_merged *out)
{
	static const char count[] =
		"SELECT count(*) - count(here), total(longer), count(here) - total(longer) "
		"FROM theirs";

	journal_do_made(journal, merge_sql);
	journal_ask(journal, count, NULL,
		    TARGETS(INTO(out->added), INTO(out->lengthened), INTO(out->known)));
	/* The checks of the tables keep out what a journal may not hold. */
	if (journal->failed != JOURNAL_OK &&
	    (sqlite3_errcode(journal->database) & 0xff) == SQLITE_CONSTRAINT)
		journal_fail(journal, JOURNAL_NONE, "cannot %s: %s", journal->doing,
			     sqlite3_errmsg(journal->database));
	journal_do(journal, "DROP VIEW copied; DROP TABLE theirs; DROP TABLE shared", NULL);
}

/* Checks that the other file is an undamaged journal; *uri is what to attach. */
static enum journal_status examine(struct journal *journal, const char *file, const char *doing,
				   char **uri)
{
	struct journal *other = NULL;
	char *error = NULL;
	enum journal_status status = journal_open(file, JOURNAL_READ, &other, &error);

	if (status == JOURNAL_OK) {
		status = journal_check(other);
		if (status != JOURNAL_OK)
			error = memory_copy(journal_message(other));
		*uri = memory_copy(other->uri);
	}
	if (error)
		status = journal_fail(journal, JOURNAL_NONE, "cannot %s: %s", doing, error);
	free(error);
	journal_close(other);
	return status;
}

enum journal_status journal_merge(struct journal *journal, const char *file,
				  struct journal_merged *out)
{
	static const char doing[] = "merge";
	char *uri = NULL;
	enum journal_status status = examine(journal, file, doing, &uri);

	*out = (struct journal_merged){0};
	journal->doing = doing;
	if (status == JOURNAL_OK)
		status =
			journal_do(journal, "ATTACH :uri AS other", FIELDS(field_text("uri", uri)));
	free(uri);
	if (status == JOURNAL_OK) {
		journal_begin_transaction(journal, doing);
		copy_jobs(journal, out);
		status = journal_end_transaction(journal);
		sqlite3_exec(journal->database, "DETACH other", NULL, NULL, NULL);
	}
	journal->doing = NULL;
	return status;
}

/* ---- taking a name out ----
 *
 * SQL finds the rows and calls the functions here, which find and replace the name in a text. */

/* What the SQL functions look for and put in its place. */
struct swap {
	const char *name;
	const char *alias;
	locale_t letters;      /* for capitals beyond ASCII */
	const char *others[2]; /* NULL, or a name that contains this one and stays: "kim lee" */
};

/* How a text names the person. */
enum mention {
	NOWHERE,
	AS_A_WORD,  /* as in "kim lee", who may be somebody else */
	AS_A_PERSON /* the whole text, or one of several people: "ada & kim" */
};

/* Letters beyond ASCII are several bytes of UTF-8, all of them at 0x80 or above. */
static bool is_letter(char byte)
{
	return isalnum((unsigned char)byte) || byte == '_' || (unsigned char)byte >= 0x80;
}

/* A word begins or ends here: of two neighbours at least one is no letter. */
static bool is_edge(char before, char after)
{
	return !is_letter(before) || !is_letter(after);
}

/* A plan's key that is spelt like the name is not the name. */
static bool is_key(const char *behind)
{
	behind += strspn(behind, " ");
	return *behind == ':';
}

/* Where the name ends, if the text starts with it, in capitals or not; else NULL. */
static const char *match(const char *text, const char *name, locale_t letters)
{
	while (*name) {
		if (!*text ||
		    towlower_l(utf8_next(&text), letters) != towlower_l(utf8_next(&name), letters))
			return NULL;
	}
	return text;
}

/* Whether what is found there belongs to a name that stays. */
static bool is_in_other(const char *text, const char *from, const char *to, const struct swap *swap)
{
	for (int i = 0; i < 2; i++) {
		for (const char *at = text; swap->others[i] && at <= from; at++) {
			const char *end = match(at, swap->others[i], swap->letters);
			if (end && end >= to)
				return true;
		}
	}
	return false;
}

/* The first place at or after `from` where the name is a whole word, and where it ends; or NULL. */
static const char *find_name(const char *text, const char *from, const struct swap *swap,
			     const char **end)
{
	for (const char *at = from; *at; at++) {
		*end = match(at, swap->name, swap->letters);
		if (*end && (at == text || is_edge(at[-1], at[0])) && is_edge((*end)[-1], **end) &&
		    !is_key(*end) && !is_in_other(text, at, *end, swap))
			return at;
	}
	return NULL;
}

/* The name between the two stands alone, or between separators: "ada & kim". */
static bool is_person(const char *text, const char *from, const char *to)
{
	static const char separators[] = "&+,;/";

	while (from > text && from[-1] == ' ')
		from--;
	to += strspn(to, " ");
	return (from == text || strchr(separators, from[-1])) && strchr(separators, *to);
}

static enum mention mention(const char *text, const struct swap *swap)
{
	enum mention found = NOWHERE;
	const char *from = text, *end = NULL;

	for (const char *at; (at = find_name(text, from, swap, &end)); from = end) {
		if (is_person(text, at, end))
			return AS_A_PERSON;
		found = AS_A_WORD;
	}
	return found;
}

static char *swap_name(const char *text, const struct swap *swap)
{
	struct text swapped = {0};
	const char *from = text, *end = NULL;

	for (const char *at; (at = find_name(text, from, swap, &end)); from = end) {
		text_add_part(&swapped, from, (size_t)(at - from));
		text_add(&swapped, swap->alias);
	}
	text_add(&swapped, from);
	return text_take(&swapped);
}

/* In the person's own plan the name may be escaped ("k\x69m"), so the line `stringer: NAME` is
 * written anew, or the same of a customer. Takes text. */
static char *swap_line(char *text, const char *key, const char *person, const struct swap *swap)
{
	size_t length = strlen(key);
	char *line = text;

	while (line && strncmp(line, key, length) != 0) {
		line = strchr(line, '\n');
		line = line ? line + 1 : NULL;
	}
	if (!line || !person || mention(person, swap) != AS_A_PERSON)
		return text;
	char *alias = swap_name(person, swap);
	char *swapped = memory_format("%.*s%s %s%s", (int)(line - text), text, key, alias,
				      line + strcspn(line, "\n"));
	free(alias);
	free(text);
	return swapped;
}

static char *swap_plan(const char *plan, const char *stringer, const char *customer,
		       const struct swap *swap)
{
	char *text = swap_line(swap_name(plan, swap), "stringer:", stringer, swap);

	return swap_line(text, "customer:", customer, swap);
}

/* For the texts of a job: the names of its people stay where this one is only a part of them. */
static struct swap swap_of_job(const struct swap *swap, const char *stringer, const char *customer)
{
	const char *const people[] = {stringer, customer};
	struct swap own = *swap;

	for (int i = 0; i < 2; i++)
		own.others[i] =
			people[i] && mention(people[i], swap) == AS_A_WORD ? people[i] : NULL;
	return own;
}

static const char *text_of(sqlite3_value *value)
{
	return (const char *)sqlite3_value_text(value);
}

/* mention(text) */
static void sql_mention(sqlite3_context *context, int count, sqlite3_value **values)
{
	const char *text = text_of(values[0]);

	(void)count;
	sqlite3_result_int(context, text ? (int)mention(text, sqlite3_user_data(context)) : 0);
}

/* swapped(text, stringer, customer) */
static void sql_swapped(sqlite3_context *context, int count, sqlite3_value **values)
{
	struct swap swap =
		swap_of_job(sqlite3_user_data(context), text_of(values[1]), text_of(values[2]));
	const char *text = text_of(values[0]);

	(void)count;
	if (text)
		sqlite3_result_text(context, swap_name(text, &swap), -1, free);
}

/* swapped_plan(plan, stringer, customer) */
static void sql_swapped_plan(sqlite3_context *context, int count, sqlite3_value **values)
{
	const char *plan = text_of(values[0]), *stringer = text_of(values[1]);
	const char *customer = text_of(values[2]);
	struct swap swap = swap_of_job(sqlite3_user_data(context), stringer, customer);

	(void)count;
	if (plan)
		sqlite3_result_text(context, swap_plan(plan, stringer, customer, &swap), -1, free);
}

/* Whether the texts of a job are to be changed: not if one of its people, but nobody else in it,
 * has a name that contains this one. */
static bool is_swapped(const char *stringer, const char *customer, const struct swap *swap)
{
	enum mention one = mention(stringer, swap);
	enum mention other = customer ? mention(customer, swap) : NOWHERE;

	return one == AS_A_PERSON || other == AS_A_PERSON || (one == NOWHERE && other == NOWHERE);
}

/* swapped_script(packed): replaces the name in the texts of the job, not in the words of its calls.
 * Null if the script cannot be read. */
static void sql_swapped_script(sqlite3_context *context, int count, sqlite3_value **values)
{
	const struct swap *all = sqlite3_user_data(context);
	struct script *script = script_unpack(sqlite3_value_blob(values[0]),
					      (size_t)sqlite3_value_bytes(values[0]));

	(void)count;
	if (!script)
		return;
	struct script changed = *script;
	const char **const texts[] = {&changed.job,       &changed.title,        &changed.pattern,
				      &changed.plan_file, &changed.pattern_text, &changed.racket,
				      &changed.customer,  &changed.notes,        &changed.stringer,
				      &changed.plan_text};
	enum { TEXTS = sizeof texts / sizeof texts[0] };
	char *swapped[TEXTS] = {0};
	struct text packed = {0};
	const struct swap swap = swap_of_job(all, script->stringer, script->customer);

	for (int i = 0; is_swapped(script->stringer, script->customer, all) && i < TEXTS; i++)
		*texts[i] = swapped[i] = i == TEXTS - 1 ? swap_plan(*texts[i], script->stringer,
								    script->customer, &swap)
							: swap_name(*texts[i], &swap);
	script_pack(&changed, &packed);
	sqlite3_result_blob64(context, packed.bytes, packed.length, SQLITE_TRANSIENT);
	text_free(&packed);
	for (int i = 0; i < TEXTS; i++)
		free(swapped[i]);
	script_free(script);
}

/* Defines the functions; with NULL, removes them. */
static void define_functions(struct journal *journal, struct swap *swap)
{
	static const struct {
		const char *name;
		int count;
		void (*run)(sqlite3_context *context, int count, sqlite3_value **values);
	} rows[] = {
		{"mention", 1, sql_mention},
		{"swapped", 3, sql_swapped},
		{"swapped_plan", 3, sql_swapped_plan},
		{"swapped_script", 1, sql_swapped_script},
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		sqlite3_create_function(journal->database, rows[i].name, rows[i].count,
					SQLITE_UTF8 | SQLITE_DIRECTONLY, swap,
					swap ? rows[i].run : NULL, NULL, NULL);
}

/* Every text that a person may have written. Jobs of a stringer or for a customer whose name only
 * contains this one ("kim lee") are left alone: that may be somebody else. */
static const char texts_sql[] =
	"SELECT format('UPDATE %s SET plan_text = swapped_plan(plan_text, stringer, customer), %s "
	"WHERE max(mention(stringer), mention(customer)) = 2 OR "
	"max(mention(stringer), mention(customer)) = 0 AND (mention(plan_text) OR %s)', t.name, "
	"group_concat(format('%s = swapped(%s, stringer, customer)', c.name, c.name)), "
	"group_concat(format('mention(%s)', c.name), ' OR ')) FROM sqlite_schema AS t "
	"JOIN pragma_table_info(t.name) AS c WHERE t.name IN ('job', 'rack') "
	"AND c.type = 'TEXT' AND c.name NOT IN ('uuid', 'sport', 'method', 'detail', 'language', 'program', "
	"'plan_text') GROUP BY t.name";

/* The alias and the jobs are counted before the replacement, the names that stay after it. */
static void replace(struct journal *journal, struct journal_anonymised *out)
{
	int number = 0;

	journal_ask(journal,
		    "SELECT total(mention(stringer) = 2), total(mention(customer) = 2), "
		    "(SELECT coalesce(max(CAST(substr(name, 11) AS INTEGER)), 0) + 1 FROM "
		    "(SELECT stringer AS name FROM job UNION SELECT customer FROM job) "
		    "WHERE name GLOB 'forgotten-[0-9]*') FROM job",
		    NULL, TARGETS(INTO(out->jobs), INTO(out->customer), INTO(number)));
	snprintf(out->alias, sizeof out->alias, "forgotten-%d", number);
	int before = sqlite3_total_changes(journal->database);
	journal_do_made(journal, texts_sql);
	journal_do(journal,
		   "UPDATE event SET detail = swapped(detail, NULL, NULL) WHERE mention(detail)",
		   NULL);
	out->texts = sqlite3_total_changes(journal->database) - before;
	/* A damaged script is of no use, and may contain the name. */
	journal_do(journal,
		   "DELETE FROM script WHERE swapped_script(packed) IS NULL;"
		   "UPDATE script SET packed = swapped_script(packed)",
		   NULL);
	journal_ask(journal,
		    "WITH people AS (SELECT stringer, customer FROM job "
		    "UNION SELECT stringer, customer FROM rack) "
		    "SELECT group_concat(other, char(10)) FROM ("
		    "SELECT 'stringer ' || stringer AS other FROM people WHERE mention(stringer) "
		    "UNION SELECT 'customer ' || customer FROM people WHERE mention(customer) "
		    "ORDER BY other DESC)",
		    NULL, TARGETS(INTO(out->others)));
}

/* SQLite overwrites pages as it frees them (secure_delete); rewriting the file leaves no free page,
 * and the log is emptied. */
static enum journal_status scrub(struct journal *journal)
{
	int busy = 0;

	journal->doing = "rewrite the file";
	enum journal_status status = journal_do(journal, "VACUUM", NULL);
	if (status == JOURNAL_OK)
		status = journal_ask(journal, "PRAGMA wal_checkpoint(TRUNCATE)", NULL,
				     TARGETS(INTO(busy)));
	journal->doing = NULL;
	return busy ? journal_fail(journal, JOURNAL_BUSY,
				   "another program is reading it, and the name may still be in "
				   "the raw file: try again when that has ended")
		    : status;
}

enum journal_status journal_anonymise(struct journal *journal, const char *name,
				      struct journal_anonymised *out)
{
	*out = (struct journal_anonymised){0};
	if (!*name)
		return journal_fail(journal, JOURNAL_NONE, "no name was given");
	struct swap swap = {name, out->alias, newlocale(LC_CTYPE_MASK, "C.UTF-8", (locale_t)0)};
	/* SQLite's temporary files must not hold the name. */
	journal_do(journal, "PRAGMA temp_store = MEMORY", NULL);
	define_functions(journal, &swap);
	journal_begin_transaction(journal, "replace the name");
	replace(journal, out);
	enum journal_status status = journal_end_transaction(journal);
	define_functions(journal, NULL);
	freelocale(swap.letters);
	if (status == JOURNAL_OK)
		status = scrub(journal);
	out->set_aside = journal_count_set_aside(journal);
	if (status == JOURNAL_OK && out->jobs == 0 && out->texts == 0)
		status = journal_fail(journal, JOURNAL_NONE,
				      out->others ? "nobody in it is called just \"%s\""
						  : "the name \"%s\" is nowhere in it",
				      name);
	return status;
}
