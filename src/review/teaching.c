/* What a trainer wants to know of a trainee. */
#include "review/internal.h"

#include <stdlib.h>
#include <string.h>

static const struct table_column level_columns[] = {
	{"skill", COLUMN_TEXT},
	{"level", COLUMN_TEXT},
	{"right", COLUMN_COUNT},
	{"wrong, late", COLUMN_COUNT},
	{"again, back", COLUMN_COUNT},
	{"why", COLUMN_TEXT},
	{0},
};

static const struct table_column racket_columns[] = {
	{"racket", COLUMN_NAME},   {"begun", COLUMN_TEXT},     {"right", COLUMN_COUNT},
	{"had not", COLUMN_COUNT}, {"late", COLUMN_COUNT},     {"again, back", COLUMN_COUNT},
	{"found", COLUMN_COUNT},   {"per string", COLUMN_BAR}, {0},
};

static const struct table_column found_columns[] = {
	{"racket", COLUMN_NAME},    {"fault", COLUMN_TEXT},   {"found at", COLUMN_TEXT},
	{"made in", COLUMN_SPOKEN}, {"undone", COLUMN_COUNT}, {0},
};

/* A job whose name others have, too, is named with its number. */
#define TAUGHT                                                                                     \
	"WITH taught AS (SELECT id, name || iif((SELECT count(*) FROM job AS o "                   \
	"WHERE o.name = job.name) > 1, ' (job ' || id || ')', '') AS name, created_us FROM job "   \
	"WHERE id IN " TEACH_JOBS ") "

/* "I had it" does not count where "I had not" is what follows: its double tap begins with the same
 * press. */
static const char rackets_sql[] = TAUGHT
	"SELECT t.name, date(t.created_us / 1000000, 'unixepoch', 'localtime'), "
	"sum(e.kind = 'right' AND NOT coalesce((SELECT w.kind = 'wrong' AND w.call = e.call - 1 "
	"FROM event AS w WHERE w.job = e.job AND w.seq > e.seq "
	"AND w.kind IN ('right', 'wrong', 'next', 'back') ORDER BY w.seq LIMIT 1), 0)), "
	"sum(e.kind = 'wrong'), "
	"sum(e.kind = 'answered' AND e.detail = '" TEACH_ANSWER_LATE "'), "
	"sum(e.kind IN ('again', 'back')), sum(e.kind = 'found'), "
	"p.time FROM taught AS t JOIN event AS e ON e.job = t.id LEFT JOIN (SELECT job, "
	"sum(work_us) / count(*) AS time FROM string_time GROUP BY job) AS p ON p.job = t.id "
	"GROUP BY t.id ORDER BY t.created_us";

/* A fault was made in the call in which its string was worked on last. */
static const char found_sql[] = TAUGHT
	"SELECT t.name, e.detail, (SELECT s.detail FROM event AS s WHERE s.job = e.job "
	"AND s.kind = 'station' AND s.seq < e.seq ORDER BY s.seq DESC LIMIT 1), "
	"(SELECT c.text FROM call AS c WHERE c.job = e.job AND c.n < e.call "
	"AND e.detail || ' ' LIKE '% ' || c.string || ' ' || c.number || ' ' || "
	"iif(c.string = 'main', c.side || ' %', '%') ORDER BY c.n DESC LIMIT 1), "
	"(SELECT " REVIEW_UNDONE " FROM mishap AS m WHERE m.job = e.job AND m.found = e.call) "
	"FROM taught AS t JOIN event AS e ON e.job = t.id AND e.kind = 'found' "
	"ORDER BY e.wall_us";

struct counts {
	int right;
	int faults; /* wrong or late */
	int again;  /* or back */
	bool fades; /* it has calls that are not always told in full */
};

struct reader {
	struct review_teaching *out;
	struct trainee trainee;
	struct counts counts[TEACH_SKILLS];
	struct teach_event last; /* kind, racket and call */
};

static struct review_racket *racket_of(struct review_teaching *out, int64_t job)
{
	for (size_t i = out->racket_count; i > 0; i--)
		if (out->rackets[i - 1].job == job)
			return &out->rackets[i - 1];
	out->rackets = review_one_more(out->rackets, &out->racket_count, sizeof *out->rackets);
	struct review_racket *racket = &out->rackets[out->racket_count - 1];
	racket->job = job;
	return racket;
}

static void add_event(void *owner, const struct teach_event *event)
{
	struct reader *reader = owner;
	struct review_racket *racket = racket_of(reader->out, event->racket);
	struct counts none = {0};
	struct counts *counts = event->skill < 0 ? &none : &reader->counts[event->skill];
	bool late = event->detail && strcmp(event->detail, TEACH_ANSWER_LATE) == 0;
	bool taken_back = event->kind == JOURNAL_WRONG && reader->last.kind == JOURNAL_RIGHT &&
			  reader->last.call == event->call && reader->last.racket == event->racket;

	counts->right += (event->kind == JOURNAL_RIGHT) - taken_back;
	counts->again += event->kind == JOURNAL_AGAIN || event->kind == JOURNAL_BACK;
	counts->faults += event->kind == JOURNAL_WRONG || late;
	if (event->skill >= 0 && teach_fading(event->call_kind, event->skill) != FADES_NEVER)
		counts->fades = true;
	reader->last = *event;
	for (int i = 0; i < TEACH_SKILLS; i++)
		racket->levels[i] = (int)reader->trainee.skills[i].level;
}

static void add_levels(const struct reader *reader, struct table *table)
{
	table_begin(table, "How much is said, by skill", level_columns);
	for (int i = 0; i < TEACH_SKILLS; i++) {
		const struct teach_skill *skill = &reader->trainee.skills[i];
		const struct counts *counts = &reader->counts[i];
		bool always_told = !counts->fades && skill->level < LEVEL_TOLD;
		struct text why = {0};
		teach_explain(skill, &why);
		table_cell(table, "%s", teach_skill_name(i));
		table_cell(table, "%s", level_names[always_told ? LEVEL_TOLD : skill->level]);
		table_value(table, counts->right);
		table_value(table, counts->faults);
		table_value(table, counts->again);
		table_cell(table, "%s",
			   always_told ? "always told in full; not asked" : text_string(&why));
		text_free(&why);
	}
}

/* The skill that is told most; of several, the one with the most faults. */
static char *make_advice(const struct reader *reader)
{
	int most = 0;

	for (int i = 1; i < TEACH_SKILLS; i++) {
		const struct counts *a = &reader->counts[i], *b = &reader->counts[most];
		enum level level = reader->trainee.skills[i].level;
		enum level highest = reader->trainee.skills[most].level;
		int faults = a->faults + a->again;
		if (level > highest || (level == highest && faults > b->faults + b->again))
			most = i;
	}
	if (reader->out->racket_count == 0)
		return memory_copy("No racket has been strung in teaching yet.");
	if (reader->trainee.skills[most].level == LEVEL_NAMED)
		return memory_copy("Nothing needs practice.");
	return memory_format("Practise next: %s (pullcall drill %s).", teach_skill_name(most),
			     teach_skill_name(most));
}

enum journal_status review_teaching(struct journal *journal, const char *stringer, int64_t now_us,
				    struct review_teaching *out)
{
	const struct journal_field fields[] = {field_text("stringer", stringer), {0}};
	struct reader reader = {.out = out};

	*out = (struct review_teaching){0};
	journal_hold(journal);
	enum journal_status status =
		teach_history(journal, stringer, &reader.trainee, add_event, &reader);
	teach_rest(&reader.trainee, now_us);
	add_levels(&reader, &out->skills);
	out->advice = make_advice(&reader);
	table_begin(&out->by_racket, "By racket", racket_columns);
	if (status == JOURNAL_OK)
		status = table_rows(&out->by_racket, journal, rackets_sql, fields);
	if (status == JOURNAL_OK && out->racket_count > 0)
		status = table_rows(&out->by_racket, journal, teach_shop_sql, NULL);
	out->by_racket.total = out->by_racket.cell_count / out->by_racket.column_count;
	table_begin(&out->found, "Found at the stations", found_columns);
	if (status == JOURNAL_OK)
		status = table_rows(&out->found, journal, found_sql, fields);
	journal_let_go(journal);
	if (status != JOURNAL_OK)
		review_teaching_free(out);
	return status;
}

void review_teaching_free(struct review_teaching *teaching)
{
	table_free(&teaching->skills);
	table_free(&teaching->by_racket);
	table_free(&teaching->found);
	free(teaching->advice);
	free(teaching->rackets);
	*teaching = (struct review_teaching){0};
}

void review_print_teaching(const struct review_teaching *teaching, FILE *out)
{
	fprintf(out, "%s\n", teaching->advice);
	review_print_table(&teaching->skills, out);
	review_print_table(&teaching->by_racket, out);
	review_print_table(&teaching->found, out);
}
