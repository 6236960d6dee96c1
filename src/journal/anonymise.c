/* Takes a person's name out of a journal. SQL finds the rows and calls the functions here, which
 * find and replace the name in a text. */
#include "journal/internal.h"

#include "base/base.h"
#include "script/script.h"

#include <ctype.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <wctype.h>

/* What the SQL functions look for and put in its place. */
struct swap {
	const char *name;
	const char *alias;
	locale_t letters; /* for capitals beyond ASCII */
};

/* How a text names the person. */
enum mention {
	NOWHERE,
	AS_A_WORD,  /* as in "kim lee", who may be somebody else */
	AS_A_PERSON /* the whole text, or one of several people: "ada & kim" */
};

/* ---- finding the name ---- */

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
static const char *match(const char *text, const struct swap *swap)
{
	const char *name = swap->name;

	while (*name) {
		if (!*text || towlower_l(utf8_next(&text), swap->letters) !=
				      towlower_l(utf8_next(&name), swap->letters))
			return NULL;
	}
	return text;
}

/* The first place at or after `from` where the name is a whole word, and where it ends; or NULL. */
static const char *find_name(const char *text, const char *from, const struct swap *swap,
			     const char **end)
{
	for (const char *at = from; *at; at++) {
		*end = match(at, swap);
		if (*end && (at == text || is_edge(at[-1], at[0])) && is_edge((*end)[-1], **end) &&
		    !is_key(*end))
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

/* ---- replacing it ---- */

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
 * written anew. */
static char *swap_plan(const char *plan, const char *stringer, const struct swap *swap)
{
	static const char key[] = "stringer:";
	char *text = swap_name(plan, swap), *line = text;

	while (line && strncmp(line, key, sizeof key - 1) != 0) {
		line = strchr(line, '\n');
		line = line ? line + 1 : NULL;
	}
	if (!line || mention(stringer, swap) != AS_A_PERSON)
		return text;
	char *alias = swap_name(stringer, swap);
	char *swapped = memory_format("%.*s%s %s%s", (int)(line - text), text, key, alias,
				      line + strcspn(line, "\n"));
	free(alias);
	free(text);
	return swapped;
}

/* ---- SQL functions ---- */

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

/* swapped(text), swapped(plan, stringer) */
static void sql_swapped(sqlite3_context *context, int count, sqlite3_value **values)
{
	const struct swap *swap = sqlite3_user_data(context);
	const char *text = text_of(values[0]);

	if (text)
		sqlite3_result_text(context,
				    count == 2 ? swap_plan(text, text_of(values[1]), swap)
					       : swap_name(text, swap),
				    -1, free);
}

/* swapped_script(packed): replaces the name in the texts of the job, not in the words of its calls.
 * Null if the script cannot be read. */
static void sql_swapped_script(sqlite3_context *context, int count, sqlite3_value **values)
{
	const struct swap *swap = sqlite3_user_data(context);
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

	for (int i = 0; mention(script->stringer, swap) != AS_A_WORD && i < TEXTS; i++)
		*texts[i] = swapped[i] = i == TEXTS - 1
						 ? swap_plan(*texts[i], script->stringer, swap)
						 : swap_name(*texts[i], swap);
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
		{"swapped", 1, sql_swapped},
		{"swapped", 2, sql_swapped},
		{"swapped_script", 1, sql_swapped_script},
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		sqlite3_create_function(journal->database, rows[i].name, rows[i].count,
					SQLITE_UTF8 | SQLITE_DIRECTONLY, swap,
					swap ? rows[i].run : NULL, NULL, NULL);
}

/* ---- the journal ---- */

/* Every text that a person may have written. Jobs of a stringer whose name only contains this one
 * ("kim lee") are left alone: that may be somebody else. */
static const char jobs_sql[] =
	"SELECT format('UPDATE %s SET plan_text = swapped(plan_text, stringer), %s WHERE "
	"mention(stringer) = 2 OR mention(stringer) = 0 AND (mention(plan_text) OR %s)', t.name, "
	"group_concat(format('%s = swapped(%s)', c.name, c.name)), "
	"group_concat(format('mention(%s)', c.name), ' OR ')) FROM sqlite_schema AS t "
	"JOIN pragma_table_info(t.name) AS c WHERE t.name IN ('job', 'rack') "
	"AND c.type = 'TEXT' AND c.name NOT IN ('uuid', 'sport', 'method', 'detail', 'language', 'program', "
	"'plan_text') GROUP BY t.name";

static enum journal_status replace(struct journal *journal, const char *doing,
				   struct journal_anonymised *out)
{
	int before = sqlite3_total_changes(journal->database);
	enum journal_status status = journal_run_made(journal, doing, jobs_sql);

	if (status == JOURNAL_OK)
		status = journal_run(
			journal, doing,
			"UPDATE event SET detail = swapped(detail) WHERE mention(detail)");
	out->texts = sqlite3_total_changes(journal->database) - before;
	/* A damaged script is of no use, and may contain the name. */
	if (status == JOURNAL_OK)
		status = journal_run(journal, doing,
				     "DELETE FROM script WHERE swapped_script(packed) IS NULL;"
				     "UPDATE script SET packed = swapped_script(packed)");
	return status;
}

/* The alias and the jobs are counted before the replacement, the names that stay after it. */
static enum journal_status replace_and_count(struct journal *journal, const char *doing,
					     struct journal_anonymised *out)
{
	int64_t number = 0, jobs = 0;
	enum journal_status status = journal_ask_int(
		journal,
		"SELECT coalesce(max(CAST(substr(name, 11) AS INTEGER)), 0) + 1 FROM "
		"(SELECT stringer AS name FROM job UNION SELECT customer FROM job) "
		"WHERE name GLOB 'forgotten-[0-9]*'",
		&number);

	snprintf(out->alias, sizeof out->alias, "forgotten-%lld", (long long)number);
	if (status == JOURNAL_OK)
		status = journal_ask_int(journal,
					 "SELECT count(*) FROM job WHERE mention(stringer) = 2 OR "
					 "mention(customer) = 2",
					 &jobs);
	out->jobs = (int)jobs;
	if (status == JOURNAL_OK)
		status = replace(journal, doing, out);
	return status == JOURNAL_OK
		       ? journal_ask_text(journal,
					  "SELECT group_concat(stringer, char(10)) FROM (SELECT "
					  "DISTINCT stringer FROM job WHERE mention(stringer))",
					  NULL, &out->others)
		       : status;
}

/* SQLite overwrites pages as it frees them (secure_delete); rewriting the file leaves no free page,
 * and the log is emptied. */
static enum journal_status scrub(struct journal *journal)
{
	int64_t busy = 0;
	enum journal_status status = journal_run(journal, "rewrite the file", "VACUUM");

	if (status == JOURNAL_OK)
		status = journal_ask_int(journal, "PRAGMA wal_checkpoint(TRUNCATE)", &busy);
	if (status == JOURNAL_OK && busy)
		status = journal_fail(journal, JOURNAL_BUSY,
				      "another program is reading it, and the name may still be in "
				      "the raw file: try again when that has ended");
	return status;
}

enum journal_status journal_anonymise(struct journal *journal, const char *name,
				      struct journal_anonymised *out)
{
	static const char doing[] = "replace the name";

	*out = (struct journal_anonymised){0};
	if (!*name)
		return journal_fail(journal, JOURNAL_NONE, "no name was given");
	struct swap swap = {name, out->alias, newlocale(LC_CTYPE_MASK, "C.UTF-8", (locale_t)0)};
	/* SQLite's temporary files must not hold the name. */
	enum journal_status status = journal_run(journal, doing, "PRAGMA temp_store = MEMORY");
	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, doing);
	if (status == JOURNAL_OK) {
		define_functions(journal, &swap);
		status = journal_end_transaction(journal, replace_and_count(journal, doing, out),
						 doing);
		define_functions(journal, NULL);
	}
	freelocale(swap.letters);
	if (status == JOURNAL_OK)
		status = scrub(journal);
	out->set_aside = journal_count_set_aside(journal);
	if (status == JOURNAL_OK && out->jobs == 0 && out->texts == 0)
		status = journal_fail(journal, JOURNAL_NONE, "the name \"%s\" is nowhere in it",
				      name);
	return status;
}
