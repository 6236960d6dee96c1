/* An invented shop: jobs in bulk, written straight into a journal's tables. */
#ifndef TESTS_REVIEW_SHOP_H
#define TESTS_REVIEW_SHOP_H

#include "journal/sample.h"

#include <sqlite3.h>

/* 50 calls and 70 events a job, of seven stringers and five patterns, with pauses, repeats and
 * steps back, and a second run in each; all from arithmetic, so that every run has the same. */
static const char shop_sql[] =
	"BEGIN;"
	"WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < %d) "
	"INSERT INTO job (id, uuid, name, stringer, pattern, sport, method, calls, created_us, "
	"language, program, plan_file, plan_text, pattern_text) "
	"SELECT i, printf('00000000-0000-4000-8000-%%012x', i), 'rack-' || i, 'stringer-' || (i %% 7),"
	" 'pattern-' || (i %% 5), 'tennis', 'two-piece', 50, 1700000000000000 + i * 3600000000, 'en', "
	"'pullcall', 'rack.yaml', printf('%%.900c', 'p'), printf('%%.1500c', 'q') FROM n;"
	"WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 50) "
	"INSERT INTO call (job, n, phase, kind, string, number, side, text) SELECT id, i, CASE WHEN i < 8 THEN 'prepare' WHEN i < 24 THEN 'mains' "
	"WHEN i < 43 THEN 'crosses' ELSE 'finish' END, 'pull', "
	"CASE WHEN i BETWEEN 8 AND 23 THEN 'main' WHEN i BETWEEN 24 AND 42 THEN 'cross' END, "
	"CASE WHEN i BETWEEN 8 AND 23 THEN (i - 6) / 2 WHEN i BETWEEN 24 AND 42 THEN i - 23 END, "
	"CASE WHEN i BETWEEN 8 AND 42 THEN CASE i %% 2 WHEN 0 THEN 'left' ELSE 'right' END END, "
	"'cross nine from the left, twelve head, over first' FROM job, n;"
	"WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 70) "
	"INSERT INTO event (job, seq, run, kind, call, working, steady_us, wall_us, response_us) "
	"SELECT id, i, 1 + (i > 40), CASE WHEN i = 1 OR i = 41 THEN 'started' "
	"WHEN i = 70 THEN 'finished' WHEN i = 20 THEN 'pause' WHEN i = 21 THEN 'resume' "
	"WHEN i %% 11 = 0 THEN 'again' WHEN (i + id) %% 17 = 0 THEN 'back' ELSE 'next' END, "
	"i * 50 / 70 + 1, i <> 20 AND i < 70, "
	"id * 5000000000 + i * 30000000 + (id * 7919 + i * 104729) %% 20000000, "
	"1700000000000000 + id * 3600000000 + i * 30000000, "
	"CASE WHEN i %% 3 = 0 THEN 20000 + i END FROM job, n;"
	"COMMIT;";

/* Writes a journal of so many jobs, all finished. */
static inline void shop_write(const char *path, int jobs)
{
	char sql[sizeof shop_sql + 16];
	sqlite3 *database = NULL;

	journal_close(sample_open(path));
	snprintf(sql, sizeof sql, shop_sql, jobs);
	assert_int_equal(sqlite3_open(path, &database), SQLITE_OK);
	if (sqlite3_exec(database, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s", sqlite3_errmsg(database));
	assert_int_equal(sqlite3_close(database), SQLITE_OK);
}

#endif
