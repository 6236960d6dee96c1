/* Backing up, merging, anonymising. */
#include "journal/journal.h"
#include "journal/sample.h"

#include <sys/stat.h>

static struct journal *opened_to_read(const char *path)
{
	struct journal *journal = NULL;
	char *error = NULL;

	if (journal_open(path, JOURNAL_READ, &journal, &error) != JOURNAL_OK)
		fail_msg("%s", error);
	return journal;
}

static void add_job(struct journal *journal, const char *name, const char *stringer, int events)
{
	struct script script = sample_script();

	script.job = name;
	script.stringer = stringer;
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	for (int i = 0; i < events; i++)
		sample_append(journal, JOURNAL_NEXT, i % 20 + 1, true, i);
}

static void backup_is_one_whole_file(void **state)
{
	const char *path = sample_path(state, "journal.db"), *copy = sample_path(state, "copy.db");
	struct journal *writer = sample_begin(path), *reader = opened_to_read(path);
	struct stat found;

	for (int i = 0; i < 10; i++)
		sample_append(writer, JOURNAL_NEXT, i + 1, true, i);
	assert_int_equal(journal_backup(reader, copy), JOURNAL_OK);
	assert_int_equal(stat(copy, &found), 0);
	assert_int_equal(found.st_mode & 0777, 0600);
	assert_int_equal(access(sample_path(state, "copy.db-wal"), F_OK), -1);

	/* Alone in another folder it is all there; and it can be written to again. */
	assert_int_equal(mkdir(sample_path(state, "safe"), 0700), 0);
	const char *safe = sample_path(state, "safe/journal.db");
	assert_int_equal(rename(copy, safe), 0);
	struct journal *restored = opened_to_read(safe);
	assert_int_equal(sample_ask(restored, "SELECT count(*) FROM event"), 10);
	assert_int_equal(sample_ask(restored, "SELECT count(*) FROM call"), SAMPLE_CALLS);
	journal_close(restored);
	restored = sample_open(safe);
	assert_int_equal(journal_resume(restored, 1), JOURNAL_OK);
	sample_append(restored, JOURNAL_STARTED, 10, true, 0);
	journal_close(restored);

	/* A later backup takes the place of the earlier one. */
	sample_append(writer, JOURNAL_NEXT, 11, true, 11);
	assert_int_equal(journal_backup(writer, safe), JOURNAL_OK);
	restored = opened_to_read(safe);
	assert_int_equal(sample_ask(restored, "SELECT count(*) FROM event"), 11);
	journal_close(restored);
	journal_close(reader);
	journal_close(writer);
}

static void backup_replaces_nothing_else(void **state)
{
	const char *path = sample_path(state, "journal.db");
	const char *other = sample_path(state, "letter.txt");
	struct journal *journal = sample_begin(path);
	FILE *file = fopen(other, "w");
	char line[32] = "";

	fputs("dear reader\n", file);
	fclose(file);
	assert_int_equal(journal_backup(journal, other), JOURNAL_NOT_OURS);
	file = fopen(other, "r");
	assert_non_null(fgets(line, sizeof line, file));
	fclose(file);
	assert_string_equal(line, "dear reader\n");
	assert_int_equal(journal_backup(journal, path), JOURNAL_NOT_OURS);
	assert_int_equal(journal_backup(journal, sample_path(state, "no/folder.db")), JOURNAL_IO);
	assert_non_null(strstr(journal_message(journal), "/no/folder.db: No such file"));
	const char *newer = sample_path(state, "newer.db");
	struct journal *later = sample_open(newer);
	sqlite3_exec(journal_database(later), "PRAGMA user_version = 99", NULL, NULL, NULL);
	journal_close(later);
	assert_int_equal(journal_backup(journal, newer), JOURNAL_NOT_OURS);
	assert_non_null(strstr(journal_message(journal), "newer.db is there and was written by a "
							 "newer pullcall: it is not replaced"));
	journal_close(journal);
}

static void merging_is_idempotent(void **state)
{
	const char *one = sample_path(state, "one.db"), *two = sample_path(state, "two.db");
	struct journal *journal = sample_open(one), *other = sample_open(two);
	struct journal_merged merged;
	struct journal_job found;

	add_job(journal, "ours", "mira", 3);
	add_job(other, "theirs-1", "noah", 4);
	add_job(other, "theirs-2", "noah", 5);
	for (int round = 0; round < 3; round++) {
		if (journal_merge(journal, two, &merged) != JOURNAL_OK)
			fail_msg("%s", journal_message(journal));
		assert_int_equal(merged.added, round == 0 ? 2 : 0);
		assert_int_equal(merged.known, round == 0 ? 0 : 2);
		assert_int_equal(merged.lengthened, 0);
		assert_int_equal(sample_ask(journal, "SELECT count(*) FROM job"), 3);
		assert_int_equal(sample_ask(journal, "SELECT count(*) FROM event"), 12);
		assert_int_equal(sample_ask(journal, "SELECT count(*) FROM call"),
				 3 * SAMPLE_CALLS);
		assert_int_equal(sample_ask(journal, "SELECT count(*) FROM script"), 3);
	}

	/* Theirs went on; ours did not, and is not offered to be gone on with. */
	sample_append(other, JOURNAL_NEXT, 6, true, 6);
	assert_int_equal(journal_merge(journal, two, &merged), JOURNAL_OK);
	assert_int_equal(merged.lengthened, 1);
	assert_int_equal(merged.known, 1);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM event"), 13);
	assert_int_equal(journal_find(journal, NULL, &found), JOURNAL_OK);
	assert_string_equal(found.name, "ours");
	journal_job_free(&found);

	/* The other way round nothing of theirs is shortened. */
	assert_int_equal(journal_merge(other, one, &merged), JOURNAL_OK);
	assert_int_equal(merged.added, 1);
	assert_int_equal(merged.known, 2);

	/* Every row but the numbers is the same on both sides. */
	assert_int_equal(sample_ask(journal, "SELECT sum(steady_us + call + seq) FROM event"),
			 sample_ask(other, "SELECT sum(steady_us + call + seq) FROM event"));
	assert_int_equal(sample_ask(journal, "SELECT sum(length(text) + n) FROM call"),
			 sample_ask(other, "SELECT sum(length(text) + n) FROM call"));
	journal_close(other);
	journal_close(journal);
}

static void merging_what_is_not_a_journal(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	const char *text = sample_path(state, "letter.txt");
	struct journal_merged merged;
	FILE *file = fopen(text, "w");

	fputs("a letter that is long enough not to be taken for anything else at all", file);
	fclose(file);
	assert_int_equal(journal_merge(journal, text, &merged), JOURNAL_NONE);
	assert_non_null(strstr(journal_message(journal), "letter.txt"));
	assert_int_equal(journal_merge(journal, sample_path(state, "none"), &merged), JOURNAL_NONE);
	sample_append(journal, JOURNAL_NEXT, 2, true, 0);
	journal_close(journal);
}

/* A journal that another hand wrote, with an event no journal may hold, is refused as a whole. */
static void merging_what_a_journal_may_not_hold(void **state)
{
	const char *two = sample_path(state, "two.db");
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct journal *other = sample_open(two);
	struct journal_merged merged;
	sqlite3 *database = NULL;

	add_job(other, "good", "noah", 2);
	add_job(other, "bad", "noah", 2);
	journal_close(other);
	assert_int_equal(sqlite3_open(two, &database), SQLITE_OK);
	assert_int_equal(sqlite3_exec(database,
				      "PRAGMA ignore_check_constraints = ON;"
				      "UPDATE event SET working = 5 WHERE job = 2",
				      NULL, NULL, NULL),
			 SQLITE_OK);
	sqlite3_close(database);
	assert_int_equal(journal_merge(journal, two, &merged), JOURNAL_NONE);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM job"), 1);
	journal_close(journal);
}

/* How often the bytes of the word stand in the file, in any case. */
static int occurrences(const char *path, const char *word)
{
	FILE *file = fopen(path, "rb");
	int count = 0, byte;
	size_t matched = 0;

	if (!file)
		return 0;
	while ((byte = fgetc(file)) != EOF) {
		int lower = byte >= 'A' && byte <= 'Z' ? byte + 32 : byte;
		matched = lower == word[matched] ? matched + 1 : lower == word[0];
		if (!word[matched]) {
			count++;
			matched = 0;
		}
	}
	fclose(file);
	return count;
}

static int occurrences_anywhere(void **state, const char *word)
{
	return occurrences(sample_path(state, "journal.db"), word) +
	       occurrences(sample_path(state, "journal.db-wal"), word);
}

static void add_job_of_persephone(struct journal *journal)
{
	struct script script = sample_script();
	struct journal_event event = sample_event(JOURNAL_ABANDONED, 1, false, 0);

	script.job = "for-persephone-2";
	script.stringer = "persephone";
	script.plan_file = "/home/persephone/jobs/0042.yaml";
	script.plan_text =
		"job: for-persephone-2\nstringer: \"perse\\x70hone\"\n# Persephone's own\n";
	script.pattern_text = "# drawn by PERSEPHONE\npersephone: 3\n";
	event.detail = "Persephone was called away";
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
}

static void anonymising_leaves_no_byte(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct journal_anonymised done;
	struct journal_job found;

	for (int i = 0; i < 30; i++) {
		add_job_of_persephone(journal);
		add_job(journal, "other", "mira", 3);
	}
	assert_true(occurrences_anywhere(state, "persephone") > 100);

	if (journal_anonymise(journal, "persephone", &done) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	assert_int_equal(done.jobs, 30);
	assert_string_equal(done.alias, "forgotten-1");
	/* Left: the key of a map, once in each of the 30 patterns, which is not a name. */
	assert_int_equal(occurrences_anywhere(state, "persephone"), 30);
	assert_int_equal(occurrences_anywhere(state, "perse\\x70hone"), 0);

	assert_int_equal(journal_find(journal, "1", &found), JOURNAL_OK);
	assert_string_equal(found.stringer, "forgotten-1");
	assert_string_equal(found.name, "for-forgotten-1-2");
	assert_string_equal(found.plan_file, "/home/forgotten-1/jobs/0042.yaml");
	assert_string_equal(found.plan_text, "job: for-forgotten-1-2\nstringer: forgotten-1\n"
					     "# forgotten-1's own\n");
	assert_string_equal(found.pattern_text, "# drawn by forgotten-1\npersephone: 3\n");
	journal_job_free(&found);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM event WHERE detail = "
					     "'forgotten-1 was called away'"),
			 30);

	assert_int_equal(journal_anonymise(journal, "persephone", &done), JOURNAL_NONE);
	assert_int_equal(journal_anonymise(journal, "", &done), JOURNAL_NONE);
	assert_int_equal(journal_anonymise(journal, "mira", &done), JOURNAL_OK);
	assert_string_equal(done.alias, "forgotten-2");
	assert_int_equal(done.jobs, 30);
	assert_int_equal(occurrences_anywhere(state, "mira"), 0);
	assert_int_equal(sample_ask(journal, "SELECT count(*) FROM event"), 30 * 4);
	journal_close(journal);
}

static void an_open_job_is_anonymised_too(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct script script = sample_script();
	struct journal_anonymised done;
	struct script *kept = NULL;

	script.job = "for-persephone-2";
	script.title = "Persephone's own";
	script.stringer = "persephone";
	script.plan_text = "stringer: \"perse\\x70hone\"\n";
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	assert_int_equal(journal_anonymise(journal, "persephone", &done), JOURNAL_OK);
	assert_int_equal(journal_script(journal, 1, &kept), JOURNAL_OK);
	assert_string_equal(kept->job, "for-forgotten-1-2");
	assert_string_equal(kept->title, "forgotten-1's own");
	assert_string_equal(kept->stringer, "forgotten-1");
	assert_string_equal(kept->plan_text, "stringer: forgotten-1\n");
	assert_string_equal(kept->pattern_text, script.pattern_text);
	assert_int_equal(kept->count, SAMPLE_CALLS);
	assert_string_equal(script_words(kept, 3), script_words(&script, 3));
	script_free(kept);
	journal_close(journal);
}

static void only_the_name_itself_is_replaced(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct script script = sample_script();
	struct journal_anonymised done;
	struct journal_job found;

	script.stringer = "al";
	script.plan_text = "stringer: al\nnote: also, al and Zo\xc3\xab"
			   "al, al\n";
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	script.stringer = "al-amin";
	script.plan_text = "stringer: al-amin\n";
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	assert_int_equal(journal_anonymise(journal, "al", &done), JOURNAL_OK);
	assert_int_equal(done.jobs, 1);
	assert_string_equal(done.others, "stringer al-amin");
	free(done.others);
	assert_int_equal(journal_find(journal, "1", &found), JOURNAL_OK);
	assert_string_equal(found.plan_text, "stringer: forgotten-1\nnote: also, forgotten-1 and "
					     "Zo\xc3\xab"
					     "al, forgotten-1\n");
	journal_job_free(&found);
	assert_int_equal(journal_find(journal, "2", &found), JOURNAL_OK);
	assert_string_equal(found.stringer, "al-amin");
	assert_string_equal(found.plan_text, "stringer: al-amin\n");
	journal_job_free(&found);
	journal_close(journal);
}

static void capitals_and_pairs_are_the_same_person(void **state)
{
	static const struct {
		const char *stringer, *left;
	} rows[] = {
		{"Zo\xc3\xab", "forgotten-1"},
		{"ZO\xc3\x8b", "forgotten-1"},
		{"zo\xc3\xab & ada", "forgotten-1 & ada"},
		{"ada+zo\xc3\xab", "ada+forgotten-1"},
		{"ada, Zo\xc3\xab , mira", "ada, forgotten-1 , mira"},
		{"Zo\xc3\xab Lee", "Zo\xc3\xab Lee"},
		{"Zo\xc3\xablle", "Zo\xc3\xablle"},
	};
	enum { ROWS = sizeof rows / sizeof rows[0] };
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct script script = sample_script();
	struct journal_anonymised done;
	struct journal_job found;
	char number[8];

	for (int i = 0; i < ROWS; i++) {
		script.stringer = rows[i].stringer;
		assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	}
	assert_int_equal(journal_anonymise(journal, "zo\xc3\xab", &done), JOURNAL_OK);
	assert_int_equal(done.jobs, 5);
	assert_string_equal(done.others, "stringer Zo\xc3\xab Lee");
	free(done.others);
	for (int i = 0; i < ROWS; i++) {
		snprintf(number, sizeof number, "%d", i + 1);
		assert_int_equal(journal_find(journal, number, &found), JOURNAL_OK);
		assert_string_equal(found.stringer, rows[i].left);
		journal_job_free(&found);
	}
	assert_int_equal(journal_anonymise(journal, "zo\xc3\xab", &done), JOURNAL_NONE);
	assert_string_equal(done.others, "stringer Zo\xc3\xab Lee");
	free(done.others);
	journal_close(journal);
}

/* The same of customers as of stringers. */
static void a_name_that_only_contains_it_stays(void **state)
{
	static const struct {
		const char *stringer, *customer, *plan;
		const char *stringer_left, *customer_left, *plan_left;
	} rows[] = {
		{"mira", "Zo\xc3\xab Lee", "customer: Zo\xc3\xab Lee\n# Zo\xc3\xab's\n", "mira",
		 "Zo\xc3\xab Lee", "customer: Zo\xc3\xab Lee\n# Zo\xc3\xab's\n"},
		{"mira", "ZO\xc3\x8b", "stringer: mira\ncustomer: \"Z\\x6f\xc3\xab\"\n", "mira",
		 "forgotten-1", "stringer: mira\ncustomer: forgotten-1\n"},
		{"zo\xc3\xab", "Zo\xc3\xab Lee",
		 "stringer: zo\xc3\xab\ncustomer: Zo\xc3\xab Lee\nnotes: Zo\xc3\xab, for zo\xc3\xab lee\n",
		 "forgotten-1", "Zo\xc3\xab Lee",
		 "stringer: forgotten-1\ncustomer: Zo\xc3\xab Lee\n"
		 "notes: forgotten-1, for zo\xc3\xab lee\n"},
		{"Zo\xc3\xab Klein", "Zo\xc3\xab & ada",
		 "stringer: Zo\xc3\xab Klein\ncustomer: Zo\xc3\xab & ada\n", "Zo\xc3\xab Klein",
		 "forgotten-1 & ada", "stringer: Zo\xc3\xab Klein\ncustomer: forgotten-1 & ada\n"},
	};
	enum { ROWS = sizeof rows / sizeof rows[0] };
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct script script = sample_script();
	struct journal_anonymised done;
	struct journal_job found;
	struct script *kept = NULL;
	char number[8];

	for (int i = 0; i < ROWS; i++) {
		script.stringer = rows[i].stringer;
		script.customer = rows[i].customer;
		script.plan_text = rows[i].plan;
		assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	}
	assert_int_equal(journal_anonymise(journal, "zo\xc3\xab", &done), JOURNAL_OK);
	assert_int_equal(done.jobs, 1);
	assert_int_equal(done.customer, 2);
	assert_string_equal(done.others, "stringer Zo\xc3\xab Klein\ncustomer Zo\xc3\xab Lee");
	free(done.others);
	for (int i = 0; i < ROWS; i++) {
		snprintf(number, sizeof number, "%d", i + 1);
		assert_int_equal(journal_find(journal, number, &found), JOURNAL_OK);
		assert_string_equal(found.stringer, rows[i].stringer_left);
		assert_string_equal(found.customer, rows[i].customer_left);
		assert_string_equal(found.plan_text, rows[i].plan_left);
		journal_job_free(&found);
		assert_int_equal(journal_script(journal, i + 1, &kept), JOURNAL_OK);
		assert_string_equal(kept->stringer, rows[i].stringer_left);
		assert_string_equal(kept->customer, rows[i].customer_left);
		assert_string_equal(kept->plan_text, rows[i].plan_left);
		script_free(kept);
	}
	journal_close(journal);
}

/* While another program holds an old moment, its pages must stay; that is said, and mended by
 * asking again. */
static void a_reader_keeps_what_it_reads(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct journal *journal = sample_begin(path), *reader = opened_to_read(path);
	struct journal_anonymised done;

	journal_hold(reader);
	assert_int_equal(sample_ask(reader, "SELECT count(*) FROM job"), 1);
	assert_int_equal(journal_anonymise(journal, "apprentice", &done), JOURNAL_BUSY);
	assert_int_equal(
		sample_ask(journal, "SELECT count(*) FROM job WHERE stringer = 'apprentice'"), 0);
	journal_let_go(reader);
	assert_int_equal(journal_anonymise(journal, "apprentice", &done), JOURNAL_NONE);
	assert_int_equal(occurrences_anywhere(state, "apprentice"), 0);
	journal_close(reader);
	journal_close(journal);
}

static void what_was_set_aside_is_counted(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct journal_anonymised done;
	char *aside, *error;

	for (int i = 0; i < 2; i++) {
		journal_close(sample_begin(path));
		assert_int_equal(journal_set_aside(path, &aside, &error), JOURNAL_OK);
		free(aside);
	}
	struct journal *journal = sample_begin(path);
	assert_int_equal(journal_anonymise(journal, "apprentice", &done), JOURNAL_OK);
	assert_int_equal(done.set_aside, 2);
	journal_close(journal);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(backup_is_one_whole_file),
		TEST(backup_replaces_nothing_else),
		TEST(merging_is_idempotent),
		TEST(merging_what_is_not_a_journal),
		TEST(merging_what_a_journal_may_not_hold),
		TEST(anonymising_leaves_no_byte),
		TEST(an_open_job_is_anonymised_too),
		TEST(only_the_name_itself_is_replaced),
		TEST(capitals_and_pairs_are_the_same_person),
		TEST(a_name_that_only_contains_it_stays),
		TEST(a_reader_keeps_what_it_reads),
		TEST(what_was_set_aside_is_counted),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
