/* Ten thousand jobs: time, memory, and the sqlite3 shell asked for the same in the same run. */
#include "review/review.h"
#include "review/shop.h"

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
enum { MEASURABLE = false };
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
enum { MEASURABLE = false };
#else
enum { MEASURABLE = true };
#endif
#else
enum { MEASURABLE = true };
#endif

struct cost {
	double cpu_s;
	long memory_kib;
};

static double seconds(struct timeval time)
{
	return (double)time.tv_sec + (double)time.tv_usec / 1e6;
}

static void review_all(const char *path)
{
	struct journal *journal = NULL;
	struct review_overview overview;
	char *error = NULL;
	FILE *out = fopen("/dev/null", "w");

	if (!out || journal_open(path, JOURNAL_READ, &journal, &error) != JOURNAL_OK ||
	    review_overview(journal, &(struct review_filter){0}, NULL, &overview) != JOURNAL_OK)
		_exit(1);
	review_print_overview(&overview, out);
	_exit(overview.finished > 0 ? 0 : 1);
}

/* What a person types between two rackets. */
static void look_at_one(const char *path)
{
	struct journal *journal = NULL;
	struct review review;
	char *error = NULL;
	FILE *out = fopen("/dev/null", "w");
	const struct review_filter newest = {.newest = 20};

	if (!out || journal_open(path, JOURNAL_READ, &journal, &error) != JOURNAL_OK ||
	    review_job(journal, "rack-500", &review) != JOURNAL_OK ||
	    review_print_jobs(journal, &newest, 0, out) != JOURNAL_OK)
		_exit(1);
	review_print(&review, out);
	_exit(review.work_us > 0 ? 0 : 1);
}

static void export_all(const char *path)
{
	struct journal *journal = NULL;
	char *error = NULL;
	FILE *out = fopen("/dev/null", "w");

	if (!out || journal_open(path, JOURNAL_READ, &journal, &error) != JOURNAL_OK ||
	    review_export(journal, &(struct review_filter){0}, REVIEW_CALLS, REVIEW_CSV, out) !=
		    JOURNAL_OK)
		_exit(1);
	_exit(0);
}

static void ask_the_shell(const char *path)
{
	int queries = open(SOURCE_DIR "/tests/review/aggregates.sql", O_RDONLY);
	int nothing = open("/dev/null", O_WRONLY);

	dup2(queries, STDIN_FILENO);
	dup2(nothing, STDOUT_FILENO);
	execlp("sqlite3", "sqlite3", "-readonly", "-bail", path, (char *)NULL);
	_exit(127);
}

/* What a child process spent on it. Processor time, so that a busy machine does not matter much. */
static struct cost cost_of(void (*work)(const char *path), const char *path)
{
	struct rusage used;
	int status;
	pid_t child = fork();

	assert_true(child >= 0);
	if (child == 0) {
		work(path);
		_exit(1);
	}
	assert_int_equal(wait4(child, &status, 0, &used), child);
	if (WIFEXITED(status) && WEXITSTATUS(status) == 127)
		fail_msg("the sqlite3 shell is not installed");
	assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
	return (struct cost){
		.cpu_s = seconds(used.ru_utime) + seconds(used.ru_stime),
		.memory_kib = used.ru_maxrss,
	};
}

/* The best of three: what else runs on the machine only ever adds. */
static struct cost best_of(void (*work)(const char *path), const char *path)
{
	struct cost best = cost_of(work, path);

	for (int i = 0; i < 2; i++) {
		struct cost again = cost_of(work, path);
		if (again.cpu_s < best.cpu_s)
			best = again;
	}
	return best;
}

static void ten_thousand_jobs(void **state)
{
	const char *small = sample_path(state, "small.db"), *large = sample_path(state, "large.db");

	shop_write(small, 1000);
	shop_write(large, 10000);
	struct cost few = best_of(review_all, small), many = best_of(review_all, large);
	struct cost shell = cost_of(ask_the_shell, large);
	struct cost one = best_of(look_at_one, large), export = cost_of(export_all, small);
	print_message(
		"one job and the newest 20 of 10,000: %.3f s; the calls of 1,000 jobs as CSV: "
		"%.2f s\n",
		one.cpu_s, export.cpu_s);
	print_message("1,000 jobs: %.2f s, %ld KiB; 10,000 jobs, 700,000 events: %.2f s, %ld KiB; "
		      "the sqlite3 shell: %.2f s, %ld KiB\n",
		      few.cpu_s, few.memory_kib, many.cpu_s, many.memory_kib, shell.cpu_s,
		      shell.memory_kib);
	if (!MEASURABLE) {
		print_message("built with a sanitizer: these figures are not compared\n");
		return;
	}
	assert_true(many.cpu_s <= 1.5 * shell.cpu_s);
	assert_true(many.memory_kib <= 24L * 1024);
	/* Ten times the jobs take about ten times as long; one job does not wait for the others. */
	assert_true(many.cpu_s <= 20 * few.cpu_s);
	assert_true(one.cpu_s <= many.cpu_s / 4);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(ten_thousand_jobs, sample_setup, sample_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
