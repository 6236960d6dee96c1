/* The rack and the reels. */
#include "journal/internal.h"

#include "base/base.h"
#include "script/script.h"

#include <stdlib.h>

static const char doing[] = "change the rack";

enum journal_status journal_rack_next(struct journal *journal, int64_t after, int64_t but,
				      struct rack_entry *out)
{
	static const char sql[] =
		"SELECT id, began, name, plan_file, plan_text, "
		"(SELECT count(*) FROM rack WHERE began IS NOT :but) FROM rack WHERE began IS NOT :but "
		"ORDER BY place <= (SELECT place FROM rack WHERE id = :after), place, id LIMIT 1";

	return journal_ask(journal, sql,
			   FIELDS(field_number("after", after), field_number("but", but)),
			   TARGETS(INTO(out->id), INTO(out->began), INTO(out->name),
				   INTO(out->plan_file), INTO(out->plan_text), INTO(out->count)));
}

void rack_entry_free(struct rack_entry *entry)
{
	free(entry->began);
	free(entry->name);
	free(entry->plan_file);
	free(entry->plan_text);
	*entry = (struct rack_entry){0};
}

/* Unless it is an open job's: the cuts of that are its own. */
static void add_cuts(struct journal *journal, const struct script *plan, int64_t rack)
{
	bool begun = false;

	journal_ask(journal, "SELECT began NOT NULL FROM rack WHERE id = :id",
		    FIELDS(field_number("id", rack)), TARGETS(INTO(begun)));
	for (int i = 1; i <= plan->count && !begun; i++) {
		const struct script_line *line = script_line(plan, i);
		const struct journal_field fields[] = {
			field_number("rack", rack),
			field_text("reel", line->reel),
			field_number("length_mm", line->cut_mm),
			{0},
		};
		if (line->reel && *line->reel)
			journal_insert(journal, "rack_cut", fields);
	}
}

/* SQL: a job, or an entry of the rack, is of a plan's racket. The tables say the same where a job
 * begins (plan_begun) and where a plan comes twice (rack_plan). */
#define SAME_RACKET                                                                                \
	"name = :name AND pattern = :pattern AND method = :method AND stringer = :stringer "       \
	"AND coalesce(racket, '') = :racket AND coalesce(customer, '') = :customer"
#define RACKET_FIELDS(plan)                                                                        \
	field_text("name", (plan)->job), field_text("pattern", (plan)->pattern),                   \
		field_text("method", (plan)->method), field_text("stringer", (plan)->stringer),    \
		field_text("racket", (plan)->racket), field_text("customer", (plan)->customer)

enum journal_status journal_rack_find(struct journal *journal, const struct script *plan,
				      char **began)
{
	static const char sql[] =
		"SELECT coalesce(began, '') FROM rack WHERE " SAME_RACKET " ORDER BY began LIMIT 1";

	return journal_ask(journal, sql, FIELDS(RACKET_FIELDS(plan)), TARGETS(INTO(*began)));
}

static void add_plan(struct journal *journal, const struct script *plan)
{
	static const char sql[] =
		"INSERT INTO rack (place, began, name, stringer, pattern, method, racket, customer, "
		"due, mains_tension, crosses_tension, plan_file, plan_text) "
		"SELECT coalesce(max(place), 0) + 1, (SELECT max(id) FROM job JOIN job_state ON job = id "
		"WHERE state = 'open' AND NOT merged AND " SAME_RACKET
		" AND id NOT IN (SELECT began FROM rack WHERE began NOT NULL)), :name, :stringer, :pattern, :method, "
		"nullif(:racket, ''), nullif(:customer, ''), nullif(:due, ''), :mains, :crosses, "
		":file, :text FROM rack";
	const struct journal_field fields[] = {
		RACKET_FIELDS(plan),
		field_text("due", plan->due),
		field_text("mains", plan->tension[0]),
		field_text("crosses", plan->tension[1]),
		field_text("file", plan->plan_file),
		field_text("text", plan->plan_text),
		{0},
	};

	if (journal_do(journal, sql, fields) == JOURNAL_OK)
		add_cuts(journal, plan, sqlite3_last_insert_rowid(journal->database));
	else if ((sqlite3_errcode(journal->database) & 0xff) == SQLITE_CONSTRAINT)
		journal_fail(journal, JOURNAL_NOT_OURS, "job %s is on the rack already", plan->job);
}

enum journal_status journal_rack_add(struct journal *journal, struct script *const *plans,
				     int count)
{
	journal_begin_transaction(journal, doing);
	for (int i = 0; i < count && journal->failed == JOURNAL_OK; i++)
		add_plan(journal, plans[i]);
	return journal_end_transaction(journal);
}

/* The entry that `which` names, for people, or why there is not one alone. */
struct found {
	int count; /* that fit */
	int64_t id;
	char *said; /* a line for each */
	int waiting;
};

static void find_entry(struct journal *journal, const char *which, struct found *found)
{
	static const char sql[] =
		"WITH numbered AS (SELECT *, row_number() OVER (ORDER BY place, id) AS n FROM rack), "
		"fits AS (SELECT * FROM numbered WHERE "
		":which IN (racket, customer, CAST(began AS TEXT), '@' || n) "
		"OR (:which = name AND NOT :number) ORDER BY n) "
		"SELECT count(*), max(id), iif(count(*) = 1, "
		"name || coalesce(' (' || coalesce(racket, customer) || ')', ''), group_concat("
		"format('  @%d  ', n) || name || coalesce(', racket ' || racket, '') || coalesce(', for ' || customer, '') "
		"|| ': ' || stringer || ', ' || pattern || ', ' || mains_tension || '/' || "
		"crosses_tension || coalesce(', job ' || began, ''), char(10))), "
		"(SELECT count(*) FROM rack) FROM fits";

	journal_ask(journal, sql,
		    FIELDS(field_text("which", which),
			   field_number("number", journal_is_number(which))),
		    TARGETS(INTO(found->count), INTO(found->id), INTO(found->said),
			    INTO(found->waiting)));
	if (journal->failed == JOURNAL_OK && found->count == 0)
		journal_fail(journal, JOURNAL_NONE,
			     *which == '@' ? "the rack has no place %s: it has %d (@1 is the first)"
					   : "job \"%s\" is not on the rack, which has %d",
			     which, found->waiting);
	else if (found->count > 1)
		journal_fail(journal, JOURNAL_NONE,
			     "%d jobs on the rack fit \"%s\": name one by its mark, its customer, "
			     "the job's number or its place, such as @2\n%s",
			     found->count, which, found->said);
}

static enum journal_status change_place(struct journal *journal, const char *sql, const char *which,
					int *place, char **said)
{
	struct found found = {0};

	journal_begin_transaction(journal, doing);
	find_entry(journal, which, &found);
	*place = *place < found.waiting ? *place : found.waiting;
	journal_do(journal, sql,
		   FIELDS(field_number("id", found.id), field_number("place", *place)));
	*said = found.said;
	return journal_end_transaction(journal);
}

enum journal_status journal_rack_move(struct journal *journal, const char *which, int *place,
				      char **said)
{
	static const char sql[] =
		"WITH others AS "
		"(SELECT id, row_number() OVER (ORDER BY place, id) AS n FROM rack WHERE id <> :id) "
		"UPDATE rack SET place = coalesce("
		"(SELECT n + (n >= :place) FROM others WHERE others.id = rack.id), :place)";

	return change_place(journal, sql, which, place, said);
}

enum journal_status journal_rack_drop(struct journal *journal, const char *which, char **said)
{
	return change_place(journal, "DELETE FROM rack WHERE id = :id", which, &(int){0}, said);
}

enum journal_status journal_reel_put(struct journal *journal, const char *name, int length_mm,
				     bool is_new)
{
	journal_begin_transaction(journal, "change the reel");
	journal_do(journal,
		   is_new ? "INSERT OR IGNORE INTO reel VALUES (:name, :length)"
			  : "UPDATE reel SET left_mm = :length WHERE name = :name",
		   FIELDS(field_text("name", name), field_number("length", length_mm)));
	bool changed = sqlite3_changes(journal->database) > 0;
	if (journal->failed == JOURNAL_OK && !changed && is_new)
		journal_fail(journal, JOURNAL_NONE,
			     "reel %s exists: pullcall reel set %s LENGTH changes what is left on "
			     "it",
			     name, name);
	else if (journal->failed == JOURNAL_OK && !changed)
		journal_fail(journal, JOURNAL_NONE, "there is no reel \"%s\"", name);
	return journal_end_transaction(journal);
}

enum journal_status journal_reel_remove(struct journal *journal, const char *name)
{
	static const char users_sql[] =
		"SELECT group_concat(who, ', ') FROM ("
		"SELECT name AS who FROM rack JOIN rack_cut ON rack = rack.id WHERE reel = :name UNION "
		"SELECT format('%s (%d)', job.name, id) FROM cut JOIN job ON job = id "
		"JOIN job_state USING (job) WHERE reel = :name AND state = 'open' AND NOT merged)";
	const struct journal_field fields[] = {field_text("name", name), {0}};
	char *users = NULL;

	journal_begin_transaction(journal, "remove the reel");
	journal_ask(journal, users_sql, fields, TARGETS(INTO(users)));
	if (users)
		journal_fail(journal, JOURNAL_NONE,
			     "reel %s is to be cut by jobs that wait or are open: %s", name, users);
	journal_do(journal, "DELETE FROM reel WHERE name = :name", fields);
	if (journal->failed == JOURNAL_OK && sqlite3_changes(journal->database) == 0)
		journal_fail(journal, JOURNAL_NONE, "there is no reel \"%s\"", name);
	free(users);
	return journal_end_transaction(journal);
}

enum journal_status journal_last_time(struct journal *journal, const char *racket, char **tension,
				      int64_t *wall_us)
{
	static const char sql[] =
		"SELECT mains_tension, created_us FROM job JOIN job_state ON job = id "
		"WHERE racket = :racket AND state = 'finished' ORDER BY created_us DESC LIMIT 1";

	return journal_ask(journal, sql, FIELDS(field_text("racket", racket)),
			   TARGETS(INTO(*tension), INTO(*wall_us)));
}
