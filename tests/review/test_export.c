/* Exports read back by programs that know nothing of this one: the sqlite3 shell reads the CSV,
 * SQLite's JSON functions the JSON Lines, xmllint the XES. */
#include "journal/journal.h"
#include "journal/sample.h"
#include "review/internal.h"
#include "review/review.h"

#include <time.h>

static const char hard_name[] =
	"a \"b\", c\r\nd;\te <f> & 'g' \xf0\x9f\x8e\xbe \x1b[2J \xef\xbf\xbe \xff\xc3";

/* An ordinary job, then one with an interruption, doubts and a name to stumble over. */
static void write_jobs(struct journal *journal)
{
	struct script script = sample_script();
	struct journal_event event;

	script.count = 4;
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 1, true, 0);
	for (int call = 2; call <= 4; call++)
		sample_append(journal, JOURNAL_NEXT, call, true, call * 1000000);
	sample_append(journal, JOURNAL_FINISHED, 5, false, 9000000);

	script.job = hard_name;
	script.stringer = "";
	script.racket = "R-118";
	script.customer = "counter 12";
	script.due = "2026-12-01";
	script.notes = "a chip";
	assert_int_equal(journal_begin(journal, &script, sample_wall_us + 1), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 1, true, 0);
	sample_append(journal, JOURNAL_ANNOUNCED, 1, true, 100000);
	sample_append(journal, JOURNAL_NEXT, 2, true, 1000000);
	sample_append(journal, JOURNAL_AGAIN, 2, true, 2000000);
	event = sample_event(JOURNAL_NOTE, 2, true, 2500000);
	event.detail = "grommet 4H is worn";
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	sample_append(journal, JOURNAL_PAUSE, 2, false, 3000000);
	sample_append(journal, JOURNAL_RESUME, 2, true, 4000000);
	sample_append(journal, JOURNAL_BACK, 1, true, 5000000);
	sample_append(journal, JOURNAL_STOPPED, 1, false, 6000000);
	assert_int_equal(journal_resume(journal, 2), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 1, true, 7000000);
	event = sample_event(JOURNAL_ABANDONED, 1, false, 8000000);
	event.detail = "string broke, \"twice\"";
	event.response_us = 21000;
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
}

/* Exports to a file in the test's folder and returns its path. */
static const char *exported(void **state, enum review_table table, enum review_format format,
			    const char *stringer)
{
	const struct review_filter filter = {.stringer = stringer};
	const char *path = sample_path(state, "export");
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	FILE *out = fopen(path, "w");

	write_jobs(journal);
	if (review_export(journal, &filter, table, format, out) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	assert_int_equal(ferror(out), 0);
	fclose(out);
	journal_close(journal);
	return path;
}

/* What a shell command prints. */
static const char *output_of(const char *format, ...) __attribute__((format(printf, 1, 2)));
static const char *output_of(const char *format, ...)
{
	static char text[4000];
	char command[1000];
	va_list values;

	va_start(values, format);
	vsnprintf(command, sizeof command, format, values);
	va_end(values);
	FILE *pipe = popen(command, "r"); /* NOLINT(cert-env33-c): the test's own words */
	assert_non_null(pipe);
	size_t length = fread(text, 1, sizeof text - 1, pipe);
	text[length] = '\0';
	if (pclose(pipe) != 0)
		fail_msg("%s\n%s", command, text);
	return text;
}

/* As every export writes it: bytes that are not UTF-8 become U+FFFD, and in XML so does what XML
 * does not allow. */
#define BAD "\xef\xbf\xbd"
static const char clean_name[] =
	"a \"b\", c\r\nd;\te <f> & 'g' \xf0\x9f\x8e\xbe \x1b[2J \xef\xbf\xbe " BAD BAD;
static const char xml_name[] =
	"a \"b\", c\r\nd;\te <f> & 'g' \xf0\x9f\x8e\xbe " BAD "[2J " BAD " " BAD BAD;

static void csv_is_read_by_sqlite(void **state)
{
	static const int rows[] = {2, 8, 16};

	for (int table = REVIEW_JOBS; table <= REVIEW_EVENTS; table++) {
		const char *path = exported(state, (enum review_table)table, REVIEW_CSV, NULL);
		const char *count = output_of("sqlite3 :memory: '.import --csv %s t' "
					      "'SELECT count(*) FROM t' 2>&1",
					      path);
		assert_int_equal(strtol(count, NULL, 10), rows[table]);
		const char *name = output_of("sqlite3 :memory: '.import --csv %s t' \"SELECT "
					     "hex(name) FROM t WHERE stringer = '' LIMIT 1\" 2>&1",
					     path);
		char want[400] = "";
		for (const char *at = clean_name; *at; at++)
			snprintf(want + strlen(want), 3, "%02X", (unsigned char)*at);
		assert_memory_equal(name, want, strlen(want));
		unlink(sample_path(state, "journal.db"));
	}
}

static void csv_by_the_letter(void **state)
{
	const char *path = exported(state, REVIEW_CALLS, REVIEW_CSV, "apprentice");
	char line[300];
	FILE *file = fopen(path, "rb");

	assert_non_null(fgets(line, sizeof line, file));
	assert_string_equal(line, "uuid,name,stringer,pattern,method,n,phase,kind,string,number,"
				  "side,text,work_us,work_min,repeats,backs,stands\r\n");
	assert_non_null(fgets(line, sizeof line, file));
	assert_string_equal(line + 36,
			    ",ridge-court-0042,apprentice,open-16x19,two-piece,1,prepare,"
			    "inspect,,,,inspect 0,2000000,0.03,0,0,1\r\n");
	assert_non_null(fgets(line, sizeof line, file));
	assert_non_null(fgets(line, sizeof line, file));
	assert_string_equal(line + 36,
			    ",ridge-court-0042,apprentice,open-16x19,two-piece,3,mains,"
			    "pull,main,1,left,\"main 1 left, pull\",1000000,0.02,0,0,1\r\n");
	fclose(file);
}

static double json_ask(sqlite3 *database, const char *line, const char *sql, char *text)
{
	sqlite3_stmt *statement = NULL;

	assert_int_equal(sqlite3_prepare_v2(database, sql, -1, &statement, NULL), SQLITE_OK);
	sqlite3_bind_text(statement, 1, line, -1, SQLITE_STATIC);
	if (sqlite3_step(statement) != SQLITE_ROW)
		fail_msg("%s: %s", sqlite3_errmsg(database), line);
	double answer = sqlite3_column_double(statement, 0);
	if (text)
		snprintf(text, 200, "%s", (const char *)sqlite3_column_text(statement, 0));
	sqlite3_finalize(statement);
	return answer;
}

static void json_lines_are_read_by_sqlite(void **state)
{
	static char line[4000];
	sqlite3 *database = NULL;
	char name[200];
	int lines = 0;
	FILE *file = fopen(exported(state, REVIEW_EVENTS, REVIEW_JSON_LINES, NULL), "r");

	assert_int_equal(sqlite3_open(":memory:", &database), SQLITE_OK);
	while (fgets(line, sizeof line, file)) {
		assert_true(json_ask(database, line, "SELECT json_valid(?1)", NULL) == 1);
		if (++lines > 5) {
			json_ask(database, line, "SELECT ?1 ->> '$.name'", name);
			assert_string_equal(name, clean_name);
		}
	}
	assert_int_equal(lines, 16);
	assert_true(json_ask(database, line, "SELECT ?1 ->> '$.response_us'", NULL) == 21000);
	json_ask(database, line, "SELECT ?1 ->> '$.detail'", name);
	assert_string_equal(name, "string broke, \"twice\"");
	json_ask(database, line, "SELECT ?1 ->> '$.wall'", name);
	assert_string_equal(name, "2026-11-18T11:06:48.000Z");
	assert_true(json_ask(database, line, "SELECT json_type(?1, '$.string') = 'null'", NULL) ==
		    1);
	sqlite3_close(database);
	fclose(file);
}

static void xes_is_as_the_standard_says(void **state)
{
	const char *path = exported(state, REVIEW_EVENTS, REVIEW_XES, NULL);

	output_of("xmllint --noout --relaxng %s/tests/review/xes.rng %s 2>&1", SOURCE_DIR, path);
	static const char *const transitions[][2] = {
		{"1", "start complete start complete start complete start complete"},
		/* start 1; next; again; a note; pause; resume; back; stopped; started anew;
		 * abandoned */
		{"2",
		 "start complete start unknown unknown suspend resume ate_abort start suspend resume "
		 "pi_abort"},
	};
	for (int i = 0; i < 2; i++) {
		const char *got = output_of(
			"xmllint --xpath '//*[local-name()=\"trace\"][%s]/*[local-name()=\"event\"]"
			"/*[@key=\"lifecycle:transition\"]/@value' %s | sed 's/.*\"\\(.*\\)\"/\\1/' |"
			" tr '\\n' ' ' | sed 's/ *$//'",
			transitions[i][0], path);
		assert_string_equal(got, transitions[i][1]);
	}
	const char *name = output_of("xmllint --xpath 'string(//*[local-name()=\"trace\"][2]/"
				     "*[@key=\"concept:name\"]/@value)' %s",
				     path);
	assert_memory_equal(name, xml_name, strlen(xml_name));
}

/* The one attribute of that key in a job's trace, or in its events. */
static void expect_attribute(const char *path, const char *where, const char *key,
			     const char *value)
{
	const char *got =
		output_of("xmllint --xpath 'string(//*[local-name()=\"%s\"]/*[@key=\"%s\" "
			  "and @value=\"%s\"]/@value)' %s",
			  where, key, value, path);

	assert_memory_equal(got, value, strlen(value));
}

static void what_is_known_of_a_racket_is_exported(void **state)
{
	static const char *const facts[][2] = {{"racket", "R-118"},
					       {"customer", "counter 12"},
					       {"due", "2026-12-01"},
					       {"notes", "a chip"}};
	const char *path = exported(state, REVIEW_EVENTS, REVIEW_XES, NULL);

	for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++)
		expect_attribute(path, "trace", facts[i][0], facts[i][1]);
	expect_attribute(path, "event", "detail", "grommet 4H is worn");
	unlink(sample_path(state, "journal.db"));
	for (enum review_format format = REVIEW_CSV; format <= REVIEW_JSON_LINES; format++) {
		path = exported(state, REVIEW_JOBS, format, NULL);
		output_of("grep -q 'R-118.*counter 12.*2026-12-01.*a chip' %s", path);
		unlink(sample_path(state, "journal.db"));
		path = exported(state, REVIEW_EVENTS, format, NULL);
		output_of("grep -q 'grommet 4H is worn' %s", path);
		unlink(sample_path(state, "journal.db"));
	}
}

static void an_export_of_nothing(void **state)
{
	const char *path = exported(state, REVIEW_JOBS, REVIEW_XES, "nobody");

	output_of("xmllint --noout --relaxng %s/tests/review/xes.rng %s 2>&1", SOURCE_DIR, path);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(csv_is_read_by_sqlite),
		TEST(csv_by_the_letter),
		TEST(json_lines_are_read_by_sqlite),
		TEST(xes_is_as_the_standard_says),
		TEST(what_is_known_of_a_racket_is_exported),
		TEST(an_export_of_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
