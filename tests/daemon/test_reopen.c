/* A job that is gone on with after the program, the bench file or the phrasebook changed: its
 * remaining lines are the very ones it began with.
 *
 * Link with -Wl,--wrap=plan_read: a "later program" gives other calls. */
#include "bench/bench.h"
#include "daemon/daemon.h"
#include "job/job.h"
#include "journal/sample.h"
#include "phrase/phrase.h"
#include "script/script.h"
#include "sequence/sequence.h"

static const char plan_path[] = SOURCE_DIR "/demo/ridge-court.yaml";

static bool is_later_program;
static int compiled;

/* NOLINTBEGIN(bugprone-reserved-identifier) */
bool __real_plan_read(struct plan *out, const char *file, const char *text,
		      const char *pattern_text, const struct machine *machine,
		      struct faults *faults);
bool __wrap_plan_read(struct plan *out, const char *file, const char *text,
		      const char *pattern_text, const struct machine *machine,
		      struct faults *faults);

/* A later program leaves out a call of the preparation and turns the order of the last two. */
static void compile_later(struct sequence *sequence)
{
	compiled++;
	if (!sequence || !is_later_program)
		return;
	int last = sequence->call_count - 1;
	struct call swapped = sequence->calls[last];
	sequence->calls[last] = sequence->calls[last - 1];
	sequence->calls[last - 1] = swapped;
	memmove(&sequence->calls[2], &sequence->calls[3], (size_t)(last - 2) * sizeof(struct call));
	sequence->call_count--;
}

bool __wrap_plan_read(struct plan *out, const char *file, const char *text,
		      const char *pattern_text, const struct machine *machine,
		      struct faults *faults)
{
	bool good = __real_plan_read(out, file, text, pattern_text, machine, faults);

	compile_later(out->sequence);
	return good;
}
/* NOLINTEND(bugprone-reserved-identifier) */

struct shop {
	struct bench *bench;
	struct phrasebook *book;
	struct journal *journal;
};

static void open_shop(struct shop *shop, void **state)
{
	struct faults faults = {0};

	is_later_program = false;
	compiled = 0;
	setenv("PULLCALL_PATTERNS", SOURCE_DIR "/patterns", 1);
	shop->bench = bench_new();
	shop->book = phrasebook_read(yaml_read(SOURCE_DIR "/voice/en.yaml", &faults));
	shop->journal = sample_open(sample_path(state, "journal.db"));
	assert_non_null(shop->book);
	faults_free(&faults);
}

static void close_shop(struct shop *shop)
{
	journal_close(shop->journal);
	phrasebook_free(shop->book);
	bench_free(shop->bench);
}

/* What a job would still say, and where. */
static struct text lines_of(const struct work *work)
{
	struct text packed = {0};

	script_pack(work->script, &packed);
	return packed;
}

/* Begins the demonstration's job and leaves it at call 20; its lines. */
static struct text begin_and_leave(const struct shop *shop)
{
	struct faults faults = {0};
	struct work *work = work_new(script_read(plan_path, NULL, shop->bench, shop->book, &faults),
				     shop->book, shop->bench, 1);

	assert_non_null(work);
	assert_int_equal(journal_begin(shop->journal, work->script, sample_wall_us), JOURNAL_OK);
	sample_append(shop->journal, JOURNAL_STARTED, 1, false, 0);
	sample_append(shop->journal, JOURNAL_NEXT, 20, true, 1000);
	struct text lines = lines_of(work);
	work_free(work);
	faults_free(&faults);
	return lines;
}

static void expect_goes_on(const struct shop *shop, const struct text *lines, int call)
{
	struct journal_job job;
	struct work *work = NULL;
	char *why = NULL;

	assert_int_equal(journal_find(shop->journal, NULL, &job), JOURNAL_OK);
	if (work_reopen(shop->journal, &job, shop->book, shop->bench, &work, &why) != EXIT_DONE)
		fail_msg("%s", why);
	struct text now = lines_of(work);
	assert_int_equal(work->session.call, call);
	assert_int_equal(now.length, lines->length);
	assert_memory_equal(now.bytes, lines->bytes, lines->length);
	text_free(&now);
	work_free(work);
	journal_job_free(&job);
}

static void a_later_program_changes_nothing(void **state)
{
	struct shop shop;

	open_shop(&shop, state);
	struct text lines = begin_and_leave(&shop);
	is_later_program = true;
	expect_goes_on(&shop, &lines, 20);
	assert_int_equal(compiled, 1); /* only when it was begun */
	/* The test would see it: a new job of the same plan has other lines. */
	struct text others = begin_and_leave(&shop);
	assert_true(others.length != lines.length);
	text_free(&others);
	text_free(&lines);
	close_shop(&shop);
}

static void a_later_program_does_not_go_back_over_other_calls(void **state)
{
	struct shop shop;
	struct faults faults = {0};
	const struct script_mishap mishap = {
		.kind = "redo", .string = "main", .number = 1, .side = "left"};

	open_shop(&shop, state);
	struct work *work = work_new(script_read(plan_path, NULL, shop.bench, shop.book, &faults),
				     shop.book, shop.bench, 1);
	is_later_program = true;
	assert_null(script_go_back(work->script, 20, &mishap, shop.bench, shop.book, &faults));
	assert_int_equal(faults.errors, 1);
	assert_non_null(strstr(faults.items[0].text, "makes other calls of what is done already"));
	faults_free(&faults);
	work_free(work);
	close_shop(&shop);
}

static void a_changed_bench_changes_nothing(void **state)
{
	struct shop shop;
	struct faults faults = {0};

	open_shop(&shop, state);
	struct text lines = begin_and_leave(&shop);
	bench_free(shop.bench);
	shop.bench = bench_read(yaml_read_text(
		"bench.yaml", "reach: 900 mm\nspeak: { unit: kg, left: far side }\n", &faults));
	assert_non_null(shop.bench);
	assert_null(work_new(script_read(plan_path, NULL, shop.bench, shop.book, &faults),
			     shop.book, shop.bench, 1)); /* string too short */
	expect_goes_on(&shop, &lines, 20);
	text_free(&lines);
	faults_free(&faults);
	close_shop(&shop);
}

static void a_changed_phrasebook_changes_nothing(void **state)
{
	struct shop shop;
	struct faults faults = {0};

	open_shop(&shop, state);
	struct text lines = begin_and_leave(&shop);
	phrasebook_free(shop.book);
	shop.book = phrasebook_read(yaml_read(SOURCE_DIR "/tests/phrase/invented.yaml", &faults));
	assert_non_null(shop.book);
	expect_goes_on(&shop, &lines, 20);
	text_free(&lines);
	faults_free(&faults);
	close_shop(&shop);
}

static void spoil_script(const struct shop *shop)
{
	sqlite3_stmt *damage = NULL;
	bool row = false;

	assert_int_equal(
		journal_query(shop->journal, "UPDATE script SET packed = x'0102'", NULL, &damage),
		JOURNAL_OK);
	assert_int_equal(journal_step(shop->journal, damage, &row), JOURNAL_OK);
	sqlite3_finalize(damage);
}

static void expect_says_what_to_do(const struct shop *shop, const char *what)
{
	struct journal_job job;
	struct work *work = NULL;
	char *why = NULL;

	assert_int_equal(journal_find(shop->journal, NULL, &job), JOURNAL_OK);
	assert_int_equal(work_reopen(shop->journal, &job, shop->book, shop->bench, &work, &why),
			 EXIT_NO);
	assert_null(work);
	assert_non_null(strstr(why, what));
	assert_non_null(strstr(why, "--new"));
	free(why);
	journal_job_free(&job);
}

static void a_script_that_cannot_be_read_is_worked_out_again(void **state)
{
	struct shop shop;

	open_shop(&shop, state);
	struct text lines = begin_and_leave(&shop);
	spoil_script(&shop);
	expect_goes_on(&shop, &lines, 20);
	is_later_program = true;
	expect_goes_on(&shop, &lines, 20); /* it was kept */
	spoil_script(&shop);
	expect_says_what_to_do(&shop, "\"pullcall abandon 1 REASON\"");
	text_free(&lines);
	close_shop(&shop);
}

/* Of version 1 of the journal, which kept no scripts: it has 58 calls, one today has more. */
static void a_job_of_other_calls_says_what_to_do(void **state)
{
	struct shop shop;
	char command[2 * SAMPLE_PATH_MAX];

	snprintf(command, sizeof command, "cp '%s/tests/journal/version-1.db' '%s'", SOURCE_DIR,
		 sample_path(state, "journal.db"));
	assert_int_equal(system(command), 0); /* NOLINT(cert-env33-c): paths of our own */
	open_shop(&shop, state);
	expect_says_what_to_do(&shop, "\"pullcall abandon 3 REASON\"");
	close_shop(&shop);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(a_later_program_changes_nothing),
		TEST(a_later_program_does_not_go_back_over_other_calls),
		TEST(a_changed_bench_changes_nothing),
		TEST(a_changed_phrasebook_changes_nothing),
		TEST(a_job_of_other_calls_says_what_to_do),
		TEST(a_script_that_cannot_be_read_is_worked_out_again),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
