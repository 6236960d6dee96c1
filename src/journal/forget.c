/* Forgetting a person's name. */
#include "journal/internal.h"
#include "journal/journal.h"

#include "base/base.h"
#include "script/script.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* What the SQL functions below look for and put in its place. */
struct swap {
	const char *name;
	const char *alias;
};

/* Letters beyond ASCII are several bytes of UTF-8, all of them at 0x80 or above. */
static bool is_letter(char byte)
{
	return isalnum((unsigned char)byte) || byte == '_' || (unsigned char)byte >= 0x80;
}

/* That a word begins or ends here: of two neighbours at least one is no letter. */
static bool is_edge(char before, char after)
{
	return !is_letter(before) || !is_letter(after);
}

/* A key of a plan that happens to be spelt like the name is not the name. */
static bool is_key(const char *behind)
{
	behind += strspn(behind, " ");
	return *behind == ':';
}

/* The name as a word in text, or NULL. */
static const char *find_name(const char *text, const char *from, const char *name)
{
	size_t length = strlen(name);

	for (const char *at = from; *at; at++) {
		if (strncasecmp(at, name, length) == 0 && (at == text || is_edge(at[-1], at[0])) &&
		    is_edge(at[length - 1], at[length]) && !is_key(at + length))
			return at;
	}
	return NULL;
}

static char *swap_words(const char *text, const struct swap *swap)
{
	struct text swapped = {0};
	const char *from = text;

	for (const char *at; (at = find_name(text, from, swap->name));
	     from = at + strlen(swap->name)) {
		text_add_part(&swapped, from, (size_t)(at - from));
		text_add(&swapped, swap->alias);
	}
	text_add(&swapped, from);
	return text_take(&swapped);
}

/* The value of a line `stringer: VALUE`, which may be quoted or escaped out of recognition. */
static char *swap_stringer_line(char *text, const char *alias)
{
	static const char key[] = "stringer:";
	char *line = text;

	while (line && strncmp(line, key, sizeof key - 1) != 0) {
		line = strchr(line, '\n');
		line = line ? line + 1 : NULL;
	}
	if (!line)
		return text;
	char *swapped = memory_format("%.*s%s %s%s", (int)(line - text), text, key, alias,
				      line + strcspn(line, "\n"));
	free(text);
	return swapped;
}

/* mentions(text): that the name stands in it. */
static void sql_mentions(sqlite3_context *context, int count, sqlite3_value **values)
{
	const struct swap *swap = sqlite3_user_data(context);
	const char *text = (const char *)sqlite3_value_text(values[0]);

	(void)count;
	sqlite3_result_int(context, text && find_name(text, text, swap->name));
}

/* without_name(text, own): the name replaced; and, if own, whoever the line `stringer:` names. */
static void sql_without_name(sqlite3_context *context, int count, sqlite3_value **values)
{
	const struct swap *swap = sqlite3_user_data(context);
	const char *text = (const char *)sqlite3_value_text(values[0]);

	(void)count;
	if (!text)
		return;
	char *swapped = swap_words(text, swap);
	if (sqlite3_value_int(values[1]))
		swapped = swap_stringer_line(swapped, swap->alias);
	sqlite3_result_text(context, swapped, -1, SQLITE_TRANSIENT);
	free(swapped);
}

/* script_without_name(packed): the name replaced in the texts of the job, not in the words of its
 * calls. NULL if it is no script. */
static void sql_script_without_name(sqlite3_context *context, int count, sqlite3_value **values)
{
	const struct swap *swap = sqlite3_user_data(context);
	struct script *script = script_unpack(sqlite3_value_blob(values[0]),
					      (size_t)sqlite3_value_bytes(values[0]));

	(void)count;
	if (!script)
		return;
	struct script changed = *script;
	const char **const texts[] = {&changed.plan_text, &changed.job, &changed.title,
				      &changed.plan_file, &changed.pattern_text};
	enum { TEXTS = sizeof texts / sizeof texts[0] };
	char *swapped[TEXTS] = {0};
	struct text packed = {0};
	bool own = strcmp(script->stringer, swap->name) == 0;
	bool mine = own || !find_name(script->stringer, script->stringer, swap->name);

	for (int i = 0; mine && i < TEXTS; i++)
		swapped[i] = swap_words(*texts[i], swap);
	if (own)
		swapped[0] = swap_stringer_line(swapped[0], swap->alias);
	for (int i = 0; mine && i < TEXTS; i++)
		*texts[i] = swapped[i];
	if (own)
		changed.stringer = swap->alias;
	script_pack(&changed, &packed);
	sqlite3_result_blob64(context, packed.bytes, packed.length, SQLITE_TRANSIENT);
	text_free(&packed);
	for (int i = 0; i < TEXTS; i++)
		free(swapped[i]);
	script_free(script);
}

static void define_functions(struct journal *journal, struct swap *swap)
{
	enum { FLAGS = SQLITE_UTF8 | SQLITE_DIRECTONLY };
	sqlite3 *database = journal->database;

	sqlite3_create_function(database, "mentions", 1, FLAGS, swap, sql_mentions, NULL, NULL);
	sqlite3_create_function(database, "without_name", 2, FLAGS, swap, sql_without_name, NULL,
				NULL);
	sqlite3_create_function(database, "script_without_name", 1, FLAGS, swap,
				sql_script_without_name, NULL, NULL);
}

static void undefine_functions(struct journal *journal)
{
	sqlite3 *database = journal->database;

	sqlite3_create_function(database, "mentions", 1, SQLITE_UTF8, NULL, NULL, NULL, NULL);
	sqlite3_create_function(database, "without_name", 2, SQLITE_UTF8, NULL, NULL, NULL, NULL);
	sqlite3_create_function(database, "script_without_name", 1, SQLITE_UTF8, NULL, NULL, NULL,
				NULL);
}

static enum journal_status choose_alias(struct journal *journal, struct journal_forgotten *out)
{
	int64_t number = 0;
	enum journal_status status = journal_ask_int(
		journal,
		"SELECT coalesce(max(CAST(substr(stringer, 11) AS INTEGER)), 0) + 1 FROM job "
		"WHERE stringer GLOB 'forgotten-[0-9]*'",
		&number);

	snprintf(out->alias, sizeof out->alias, "forgotten-%lld", (long long)number);
	return status;
}

/* Runs an update in which ?1 is the name and ?2 the alias; *changed counts the rows. */
static enum journal_status update(struct journal *journal, const struct swap *swap, const char *sql,
				  int *changed)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(journal, sql, &statement);

	if (status != JOURNAL_OK)
		return status;
	journal_bind_text(statement, 1, swap->name);
	journal_bind_text(statement, 2, swap->alias);
	int result = sqlite3_step(statement);
	if (result != SQLITE_DONE)
		status = journal_fail_sql(journal, "forget the name", result);
	*changed += sqlite3_changes(journal->database);
	sqlite3_finalize(statement);
	return status;
}

/* The texts first, while the stringer still says whose they are. Jobs of somebody whose own name
 * has this one in it keep their texts: that is another name. */
static enum journal_status replace_all(struct journal *journal, const struct swap *swap,
				       struct journal_forgotten *out)
{
	enum journal_status status =
		update(journal, swap,
		       "UPDATE job SET name = without_name(name, 0), "
		       "plan_file = without_name(plan_file, 0), "
		       "plan_text = without_name(plan_text, stringer = ?1), "
		       "pattern_text = without_name(pattern_text, 0) "
		       "WHERE stringer = ?1 OR (NOT mentions(stringer) AND (mentions(name) OR "
		       "mentions(plan_file) OR mentions(plan_text) OR mentions(pattern_text)))",
		       &out->texts);

	if (status == JOURNAL_OK)
		status = update(journal, swap,
				"UPDATE event SET detail = without_name(detail, 0) "
				"WHERE mentions(detail)",
				&out->texts);
	if (status == JOURNAL_OK)
		status = update(journal, swap, "UPDATE job SET stringer = ?2 WHERE stringer = ?1",
				&out->jobs);
	/* A script that cannot be read cannot be searched for the name, nor continued. */
	if (status == JOURNAL_OK)
		status = journal_run(journal, "forget the name",
				     "DELETE FROM script WHERE script_without_name(packed) IS NULL;"
				     "UPDATE script SET packed = script_without_name(packed)");
	return status;
}

/* Freed pages are overwritten as they are freed (secure_delete); rewriting the file leaves none,
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

enum journal_status journal_forget(struct journal *journal, const char *name,
				   struct journal_forgotten *out)
{
	*out = (struct journal_forgotten){0};
	if (!*name)
		return journal_fail(journal, JOURNAL_NONE, "no name was given");
	struct swap swap = {.name = name, .alias = out->alias};
	enum journal_status status = choose_alias(journal, out);
	if (status == JOURNAL_OK) /* what SQLite puts aside meanwhile must not reach a disk */
		status = journal_run(journal, "forget the name", "PRAGMA temp_store = MEMORY");
	if (status == JOURNAL_OK)
		status = journal_begin_transaction(journal, "forget the name");
	if (status != JOURNAL_OK)
		return status;
	define_functions(journal, &swap);
	status = journal_end_transaction(journal, replace_all(journal, &swap, out),
					 "forget the name");
	undefine_functions(journal);
	if (status == JOURNAL_OK)
		status = scrub(journal);
	out->set_aside = journal_count_set_aside(journal);
	if (status == JOURNAL_OK && out->jobs == 0 && out->texts == 0)
		status = journal_fail(journal, JOURNAL_NONE, "the name \"%s\" is nowhere in it",
				      name);
	return status;
}
