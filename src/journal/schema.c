/* The schema, version 2. Other programs may read it: change it only by adding, and when a table
 * changes, count up JOURNAL_VERSION and add what turns the version before into the new one. The
 * comments inside the statements stay in the file and are shown by `.schema` of the sqlite3 shell.
 *
 * All times end in _us: microseconds. Wall time counts from 1970-01-01 UTC. Steady and boot time
 * are the machine's clocks, which never jump and mean something only within one run; the steady
 * clock stands while the computer sleeps. */
#include "journal/internal.h"

static const char job_table[] =
	"CREATE TABLE job (\n"
	"  -- One racket. The texts are as they were on the day.\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  uuid TEXT NOT NULL UNIQUE,       -- random, the same in every copy of the journal\n"
	"  name TEXT NOT NULL,\n"
	"  stringer TEXT NOT NULL,\n"
	"  pattern TEXT NOT NULL,\n"
	"  sport TEXT NOT NULL,\n"
	"  method TEXT NOT NULL,            -- two-piece, one-piece\n"
	"  calls INTEGER NOT NULL CHECK (calls > 0),\n"
	"  created_us INTEGER NOT NULL,     -- wall time\n"
	"  merged INTEGER NOT NULL DEFAULT 0 CHECK (merged IN (0, 1)), -- from another journal\n"
	"  language TEXT NOT NULL,          -- of the words\n"
	"  program TEXT NOT NULL,           -- name and version that began it\n"
	"  plan_file TEXT NOT NULL,\n"
	"  plan_text TEXT NOT NULL,         -- the long texts last: what is before them is read fast\n"
	"  pattern_text TEXT NOT NULL\n"
	") STRICT";

static const char call_table[] =
	"CREATE TABLE call (\n"
	"  -- What was to be said and done, in order.\n"
	"  job INTEGER NOT NULL REFERENCES job(id),\n"
	"  n INTEGER NOT NULL CHECK (n > 0),\n"
	"  phase TEXT NOT NULL,             -- prepare, mains, crosses, finish\n"
	"  kind TEXT NOT NULL,              -- of the call's chief move: pull, weave, ...\n"
	"  string TEXT CHECK (string IN ('main', 'cross')),\n"
	"  number INTEGER,                  -- of the string\n"
	"  side TEXT,\n"
	"  text TEXT NOT NULL,\n"
	"  place INTEGER,                   -- when it was made; NULL: n. A way back replaces the\n"
	"                                   -- calls after it, and its own get new numbers\n"
	"  mishap INTEGER,                  -- the one that it makes good, if any\n"
	"  PRIMARY KEY (job, n)\n"
	") STRICT, WITHOUT ROWID";

static const char event_table[] =
	"CREATE TABLE event (\n"
	"  -- What happened; only ever added to. seq has no gaps.\n"
	"  job INTEGER NOT NULL REFERENCES job(id),\n"
	"  seq INTEGER NOT NULL CHECK (seq > 0),\n"
	"  run INTEGER NOT NULL CHECK (run > 0), -- how often the job had been begun or resumed\n"
	"  kind TEXT NOT NULL CHECK (kind IN ('started', 'announced', 'next', 'again', 'back',\n"
	"    'undo', 'pause', 'resume', 'mishap', 'why', 'fault', 'mended', 'stopped', 'finished',\n"
	"    'abandoned')),\n"
	"  call INTEGER NOT NULL CHECK (call > 0), -- current after it; calls + 1: past the last\n"
	"  working INTEGER NOT NULL CHECK (working IN (0, 1)), -- the clock of work runs after it\n"
	"  steady_us INTEGER NOT NULL,\n"
	"  wall_us INTEGER NOT NULL,\n"
	"  response_us INTEGER CHECK (response_us >= 0), -- pedal to first sound, where measured\n"
	"  detail TEXT,\n"
	"  boot_us INTEGER,                  -- NULL: written by version 1\n"
	"  PRIMARY KEY (job, seq)\n"
	") STRICT, WITHOUT ROWID";

static const char mishap_table[] =
	"CREATE TABLE mishap (\n"
	"  -- What went wrong, so that work was done again.\n"
	"  job INTEGER NOT NULL REFERENCES job(id),\n"
	"  n INTEGER NOT NULL CHECK (n > 0), -- in the order in which they were found\n"
	"  kind TEXT NOT NULL CHECK (kind IN ('redo', 'slipped', 'broke')),\n"
	"  string TEXT CHECK (string IN ('main', 'cross')), -- of a redo\n"
	"  number INTEGER,\n"
	"  side TEXT,\n"
	"  made INTEGER,                    -- the call in which its string was worked on last\n"
	"  found INTEGER NOT NULL,          -- the call under work\n"
	"  first INTEGER NOT NULL,          -- the first call of the way back\n"
	"  undone INTEGER NOT NULL,         -- strings that come out\n"
	"  wall_us INTEGER NOT NULL,\n"
	"  PRIMARY KEY (job, n)\n"
	") STRICT, WITHOUT ROWID";

static const char script_table[] = "CREATE TABLE script (\n"
				   "  -- What an open job goes on with; gone when it is over.\n"
				   "  job INTEGER PRIMARY KEY REFERENCES job(id),\n"
				   "  packed BLOB NOT NULL\n"
				   ") STRICT";

static const char job_state_view[] =
	"CREATE VIEW job_state AS\n"
	"  -- Where each job stands: the last event says.\n"
	"SELECT j.id AS job, e.kind AS last, coalesce(e.call, 1) AS call,\n"
	"       coalesce(e.working, 0) AS working, coalesce(e.run, 0) AS runs,\n"
	"       coalesce(e.wall_us, j.created_us) AS last_wall_us,\n"
	"       CASE WHEN e.kind IN ('finished', 'abandoned') THEN e.kind ELSE 'open' END AS state\n"
	"FROM job AS j LEFT JOIN event AS e\n"
	"  ON e.job = j.id AND e.seq = (SELECT max(seq) FROM event WHERE job = j.id)";

static const char span_view[] =
	"CREATE VIEW span AS\n"
	"  -- From each event to the next one of the same run, with the call that was current\n"
	"  -- meanwhile. What was cut off by a crash has no end and so no length. Time that the\n"
	"  -- computer slept is not work, but part of a pause.\n"
	"SELECT e.job, e.seq, e.run, e.call, e.working, e.wall_us, e.kind AS since,\n"
	"       n.kind AS until, CASE WHEN e.working THEN n.steady_us - e.steady_us\n"
	"       ELSE coalesce(n.boot_us, n.steady_us) - coalesce(e.boot_us, e.steady_us)\n"
	"       END AS span_us\n"
	"FROM event AS e JOIN event AS n\n"
	"  ON n.job = e.job AND n.seq = e.seq + 1 AND n.run = e.run";

static const char call_time_view[] =
	"CREATE VIEW call_time AS\n"
	"  -- The work each call took, how often it was asked for again and left by a step back.\n"
	"  -- Ask for a job by a constant (WHERE job = 7): that is looked up, not searched for.\n"
	"SELECT s.job, s.call AS n, c.phase, c.kind, c.string, c.number, c.side, c.text,\n"
	"       sum(s.span_us * s.working) AS work_us,\n"
	"       sum(s.until = 'again') AS repeats, sum(s.until = 'back') AS backs\n"
	"FROM span AS s JOIN call AS c ON c.job = s.job AND c.n = s.call\n"
	"GROUP BY s.job, s.call";

/* Not built upon call_time: SQLite hands the number of the one job that is asked for down through
 * one grouping, not through two. */
static const char string_time_view[] =
	"CREATE VIEW string_time AS\n"
	"  -- The work of each string, over all its calls. Mains have a side, crosses have both.\n"
	"SELECT s.job, c.phase, c.string, c.number, CASE c.string WHEN 'main' THEN c.side END AS side,\n"
	"       sum(s.span_us * s.working) AS work_us,\n"
	"       sum(s.until = 'again') AS repeats, sum(s.until = 'back') AS backs,\n"
	"       count(DISTINCT s.call) AS calls, min(s.call) AS first_call\n"
	"FROM span AS s JOIN call AS c ON c.job = s.job AND c.n = s.call\n"
	"WHERE c.string IS NOT NULL\n"
	"GROUP BY s.job, c.string, c.number, CASE c.string WHEN 'main' THEN c.side END";

static const char phase_time_view[] =
	"CREATE VIEW phase_time AS\n"
	"SELECT s.job, c.phase, sum(s.span_us * s.working) AS work_us,\n"
	"       sum(s.until = 'again') AS repeats, sum(s.until = 'back') AS backs,\n"
	"       count(DISTINCT s.call) AS calls, min(s.call) AS first_call\n"
	"FROM span AS s JOIN call AS c ON c.job = s.job AND c.n = s.call\n"
	"GROUP BY s.job, c.phase";

static const char pause_time_view[] =
	"CREATE VIEW pause_time AS\n"
	"  -- Each stretch within a run in which the clock of work stood still, whatever else\n"
	"  -- happened in it: up to the next event with work after it, or the last of the run.\n"
	"  -- Waiting for the first press, or past the last call, is no pause.\n"
	"SELECT p.job, p.seq, p.call, p.wall_us,\n"
	"       coalesce(e.boot_us, e.steady_us) - coalesce(p.boot_us, p.steady_us) AS pause_us\n"
	"FROM event AS p JOIN event AS e ON e.job = p.job AND e.seq = coalesce(\n"
	"  (SELECT seq FROM event AS w WHERE w.job = p.job AND w.run = p.run AND w.seq > p.seq\n"
	"   AND w.working ORDER BY seq LIMIT 1),\n"
	"  (SELECT seq FROM event AS w WHERE w.job = p.job AND w.run = p.run\n"
	"   ORDER BY seq DESC LIMIT 1))\n"
	"JOIN job AS j ON j.id = p.job\n"
	"WHERE NOT p.working AND p.kind <> 'started' AND p.call <= j.calls\n"
	"AND e.seq > p.seq AND NOT EXISTS (SELECT 1 FROM event AS b\n"
	"  WHERE b.job = p.job AND b.run = p.run AND b.seq = p.seq - 1 AND NOT b.working)";

static const char away_time_view[] =
	"CREATE VIEW away_time AS\n"
	"  -- Between two runs of a job: by wall time, as no steady clock ran.\n"
	"SELECT e.job, e.seq, e.call, e.wall_us, n.wall_us - e.wall_us AS away_us\n"
	"FROM event AS e JOIN event AS n\n"
	"  ON n.job = e.job AND n.seq = e.seq + 1 AND n.run <> e.run";

static const char job_time_view[] =
	"CREATE VIEW job_time AS\n"
	"  -- The whole of each job. pause_us: all of pause_time; between runs is in away_time.\n"
	"SELECT job, sum(span_us * working) AS work_us,\n"
	"       coalesce((SELECT sum(pause_us) FROM pause_time AS p WHERE p.job = span.job), 0)\n"
	"       AS pause_us,\n"
	"       sum(until = 'again') AS repeats, sum(until = 'back') AS backs,\n"
	"       sum(until = 'undo') AS undos, sum(until = 'pause') AS pauses\n"
	"FROM span GROUP BY job";

static const char mishap_time_view[] =
	"CREATE VIEW mishap_time AS\n"
	"  -- The work lost to each mishap: on the way back, and on what was done again.\n"
	"SELECT m.job, m.n, m.kind, m.string, m.number, m.side, m.made, m.found, m.undone,\n"
	"       m.wall_us, coalesce(sum(s.span_us * s.working), 0) AS work_us\n"
	"FROM mishap AS m LEFT JOIN call AS c ON c.job = m.job AND c.mishap = m.n\n"
	"LEFT JOIN span AS s ON s.job = c.job AND s.call = c.n\n"
	"GROUP BY m.job, m.n";

const char *const journal_tables[] = {
	job_table,    call_table,   event_table,
	mishap_table, script_table, "CREATE INDEX job_name ON job (name)",
	NULL,
};

const char *const journal_views[] = {
	job_state_view,  span_view,      call_time_view, string_time_view, phase_time_view,
	pause_time_view, away_time_view, job_time_view,  mishap_time_view, NULL,
};

const char *const journal_changes_1_to_2[] = {
	"DROP VIEW job_state; DROP VIEW span; DROP VIEW call_time; DROP VIEW string_time",
	"DROP VIEW phase_time; DROP VIEW pause_time; DROP VIEW away_time; DROP VIEW job_time",
	"ALTER TABLE event RENAME TO old_event",
	event_table,
	"INSERT INTO event SELECT *, NULL FROM old_event; DROP TABLE old_event",
	"ALTER TABLE call ADD COLUMN place INTEGER; ALTER TABLE call ADD COLUMN mishap INTEGER",
	mishap_table,
	script_table,
	NULL,
};
