/* A computer that is suspended in the midst of a job: time asleep is a pause, or nothing at all,
 * but never work, and the job goes on with the lines it has.
 *
 * Link with -Wl,--wrap=clock_boot_us: the computer sleeps as long as the test wants. */
#include "base/base.h"
#include "daemon/daemon.h"
#include "journal/sample.h"

#include <signal.h>
#include <sqlite3.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>

enum { HOUR_S = 3600 };

static int64_t *slept_us; /* shared with the daemon */

/* NOLINTBEGIN(bugprone-reserved-identifier) */
int64_t __real_clock_boot_us(void);
int64_t __wrap_clock_boot_us(void);

int64_t __wrap_clock_boot_us(void)
{
	return __real_clock_boot_us() + *slept_us;
}
/* NOLINTEND(bugprone-reserved-identifier) */

/* A process whose daemon strings the demonstration's job, steered by requests alone. */
static void run_daemon(void)
{
	const struct daemon_options options = {
		.pedals = DAEMON_PEDALS_NONE, .sound = "none", .once = true};
	struct faults faults = {0};
	char *told = NULL;
	int code = 0;

	prctl(PR_SET_PDEATHSIG, SIGKILL); /* with a test that fails */
	struct daemon *daemon = daemon_open(&options, &code);

	if (daemon && daemon_load(daemon, SOURCE_DIR "/demo/ridge-court.yaml", true, &told,
				  &faults) == EXIT_DONE)
		code = daemon_run(daemon);
	daemon_close(daemon);
	free(told);
	faults_free(&faults);
	_exit(code);
}

/* What comes back. */
static FILE *ask(const char *line)
{
	const struct timeval patience = {.tv_sec = 20};
	int fd = -1;

	for (int tries = 0; tries < 2000 && (fd = control_request(line)) < 0; tries++)
		nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
	assert_true(fd >= 0);
	assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience), 0);
	return fdopen(fd, "r");
}

/* Reads lines up to one with all these words. */
static void hear(FILE *answers, const char *one, const char *other)
{
	char *line = NULL;
	size_t room = 0;

	do {
		if (getline(&line, &room, answers) < 0)
			fail_msg("%s %s does not come", one, other);
	} while (!strstr(line, one) || !strstr(line, other));
	free(line);
}

static void tell(const char *line)
{
	FILE *answer = ask(line);

	hear(answer, "\"ok\": true", "");
	fclose(answer);
}

/* What a query gives, for the caller to free. */
static char *asked(const char *path, const char *sql)
{
	sqlite3 *database = NULL;
	sqlite3_stmt *row = NULL;

	assert_int_equal(sqlite3_open_v2(path, &database, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(database, sql, -1, &row, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(row), SQLITE_ROW);
	char *value = memory_copy((const char *)sqlite3_column_text(row, 0));
	sqlite3_finalize(row);
	sqlite3_close(database);
	return value;
}

static void expect_seconds(const char *path, const char *sql, long least, long most)
{
	char *us = asked(path, sql);
	long seconds = strtol(us, NULL, 10) / SECOND_US;

	if (seconds < least || seconds >= most)
		fail_msg("%s: %ld s", sql, seconds);
	free(us);
}

static void a_job_goes_on_after_it(void **state)
{
	const char *path = sample_path(state, "journal.db");
	int status = 0;

	setenv("XDG_RUNTIME_DIR", *state, 1);
	setenv("HOME", *state, 1);
	setenv("PULLCALL_JOURNAL", path, 1);
	setenv("PULLCALL_PATTERNS", SOURCE_DIR "/patterns", 1);
	setenv("PULLCALL_VOICE", SOURCE_DIR "/voice", 1);
	slept_us = mmap(NULL, sizeof *slept_us, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS,
			-1, 0);
	assert_ptr_not_equal(slept_us, MAP_FAILED);
	pid_t daemon = fork();
	if (daemon == 0)
		run_daemon();

	FILE *news = ask("{\"do\": \"watch\"}\n");
	hear(news, "\"ok\": true", "");
	tell("{\"do\": \"next\"}\n");
	tell("{\"do\": \"next\"}\n");
	char *lines = asked(path, "SELECT hex(packed) FROM script");
	*slept_us += HOUR_S * SECOND_US; /* at work */
	tell("{\"do\": \"next\"}\n");
	tell("{\"do\": \"pause\"}\n");
	*slept_us += 3 * HOUR_S * SECOND_US;
	tell("{\"do\": \"next\"}\n");
	hear(news, "\"said\"", "\"place\"");
	tell("{\"do\": \"next\"}\n");
	hear(news, "\"record\"", "\"next\"");
	char *lines_after = asked(path, "SELECT hex(packed) FROM script");
	assert_string_equal(lines_after, lines);
	tell("{\"do\": \"stop\"}\n");
	assert_int_equal(waitpid(daemon, &status, 0), daemon);
	assert_true(WIFEXITED(status));
	assert_int_equal(WEXITSTATUS(status), 0);
	expect_seconds(path, "SELECT pause_us FROM job_time", 3 * HOUR_S, 4 * HOUR_S);
	expect_seconds(path, "SELECT work_us FROM job_time", 0, HOUR_S);
	fclose(news);
	free(lines);
	free(lines_after);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(a_job_goes_on_after_it, sample_setup,
						sample_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
