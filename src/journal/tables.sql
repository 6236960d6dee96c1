-- The tables of a journal. Other programs may read them: change them only by adding. The comments
-- inside the statements stay in the file and are shown by `.schema` of the sqlite3 shell.
--
-- What a new column needs: its line here and, to be written, its line in write.c. Merging and
-- bringing a journal up to date copy the columns that both sides have, so a new column of a table
-- that has rows elsewhere needs a default. A new table that belongs to jobs has a column `job`.
--
-- All times end in _us: microseconds. Wall time counts from 1970-01-01 UTC. Steady and boot time
-- are the machine's clocks, which never jump and mean something only within one run; the steady
-- clock stands while the computer sleeps.

CREATE TABLE job (
  -- One racket. The texts are as they were on the day.
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,       -- random, the same in every copy of the journal
  name TEXT NOT NULL,
  stringer TEXT NOT NULL,
  pattern TEXT NOT NULL,
  sport TEXT NOT NULL,
  method TEXT NOT NULL,            -- two-piece, one-piece
  calls INTEGER NOT NULL CHECK (calls > 0), -- the highest number of a call
  created_us INTEGER NOT NULL,     -- wall time
  merged INTEGER NOT NULL DEFAULT 0 CHECK (merged IN (0, 1)), -- from another journal
  language TEXT NOT NULL,          -- of the words
  program TEXT NOT NULL,           -- name and version that began it
  detail TEXT NOT NULL DEFAULT 'bench', -- learner, bench, quick: how much the calls say
  plan_file TEXT NOT NULL,
  plan_text TEXT NOT NULL,         -- the long texts last: what is before them is read fast
  pattern_text TEXT NOT NULL
) STRICT;

CREATE INDEX job_name ON job (name);

CREATE TABLE call (
  -- What was to be said and done, in order.
  job INTEGER NOT NULL REFERENCES job(id),
  n INTEGER NOT NULL CHECK (n > 0),
  phase TEXT NOT NULL,             -- prepare, mains, crosses, finish
  kind TEXT NOT NULL,              -- of the call's chief move: pull, weave, ...
  string TEXT CHECK (string IN ('main', 'cross')),
  number INTEGER,                  -- of the string
  side TEXT,
  text TEXT NOT NULL,
  place INTEGER,                   -- when it was added; NULL: n. The calls of a way back replace
                                   -- those from the same place on and get new numbers
  mishap INTEGER,                  -- the one that this call makes good, if any
  skill TEXT,                      -- what it takes; NULL: written by version 1
  PRIMARY KEY (job, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE event (
  -- What happened; rows are only ever added. seq has no gaps.
  job INTEGER NOT NULL REFERENCES job(id),
  seq INTEGER NOT NULL CHECK (seq > 0),
  run INTEGER NOT NULL CHECK (run > 0), -- how often the job had been begun or resumed
  kind TEXT NOT NULL CHECK (kind IN ('started', 'announced', 'next', 'again', 'back',
    'undo', 'pause', 'resume', 'mishap', 'why', 'fault', 'mended', 'stopped', 'finished',
    'abandoned', 'answered', 'right', 'wrong', 'station', 'passed', 'found')),
  call INTEGER NOT NULL CHECK (call > 0), -- current after it; calls + 1: past the last
  working INTEGER NOT NULL CHECK (working IN (0, 1)), -- the clock of work runs after it
  steady_us INTEGER NOT NULL,
  wall_us INTEGER NOT NULL,
  response_us INTEGER CHECK (response_us >= 0), -- pedal to first sound, where measured
  detail TEXT,
  boot_us INTEGER,                 -- NULL: written by version 1
  PRIMARY KEY (job, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE mishap (
  -- What went wrong, so that work was done again.
  job INTEGER NOT NULL REFERENCES job(id),
  n INTEGER NOT NULL CHECK (n > 0), -- in the order in which they were found
  kind TEXT NOT NULL CHECK (kind IN ('redo', 'slipped', 'broke')),
  string TEXT CHECK (string IN ('main', 'cross')), -- of a redo
  number INTEGER,
  side TEXT,
  made INTEGER,                    -- the call in which its string was worked on last
  found INTEGER NOT NULL,          -- the call under work
  first INTEGER NOT NULL,          -- the first call of the way back
  undone INTEGER NOT NULL,         -- strings that come out
  wall_us INTEGER NOT NULL,
  PRIMARY KEY (job, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE script (
  -- What an open job goes on with; deleted when the job is over.
  job INTEGER PRIMARY KEY REFERENCES job(id),
  packed BLOB NOT NULL
) STRICT;
