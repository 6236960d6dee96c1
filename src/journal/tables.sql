-- The tables of a journal. Other programs may read them: change them only by adding. The comments
-- inside the statements stay in the file and are shown by `.schema` of the sqlite3 shell.
--
-- What a new column needs: its line here and, to be written, its line in job.c. Merging and
-- bringing a journal up to date copy the columns that both sides have, so a new column of a table
-- that has rows elsewhere needs a default. A new table that belongs to jobs has a column `job`.
--
-- All times end in _us: microseconds. Wall time counts from 1970-01-01 UTC. Steady and boot time
-- are the machine's clocks, which never jump and mean something only within one run; the steady
-- clock stands while the computer sleeps.

PRAGMA application_id = 0x70756c63; -- "pulc"
PRAGMA user_version = 2;

CREATE TABLE job (
  -- One racket. The texts are as they were on the day.
  id INTEGER PRIMARY KEY,
  -- Random (RFC 9562, section 5.4: version 4), the same in every copy of the journal.
  uuid TEXT NOT NULL UNIQUE DEFAULT (lower(format('%s-%s-4%s-%s%s-%s', hex(randomblob(4)),
    hex(randomblob(2)), substr(hex(randomblob(2)), 2), substr('89AB', 1 + (random() & 3), 1),
    substr(hex(randomblob(2)), 2), hex(randomblob(6))))),
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
  racket TEXT,                     -- its mark; this and what follows: null where it is not known
  customer TEXT,
  due TEXT,                        -- day: 2026-12-01
  notes TEXT,
  mains_tension TEXT,              -- as in the plan: 54 lb
  crosses_tension TEXT,
  plan_file TEXT NOT NULL,
  plan_text TEXT NOT NULL,         -- the long texts last: what is before them is read fast
  pattern_text TEXT NOT NULL
) STRICT;

CREATE INDEX job_name ON job (name);
CREATE INDEX job_kind ON job (stringer, pattern, created_us);
CREATE INDEX job_racket ON job (racket, created_us) WHERE racket NOT NULL;
CREATE INDEX job_customer ON job (customer, created_us) WHERE customer NOT NULL;
CREATE INDEX job_due ON job (due) WHERE due NOT NULL;

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
    'abandoned', 'answered', 'right', 'wrong', 'station', 'passed', 'found', 'note')),
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

CREATE TABLE reel (
  -- Of string.
  name TEXT PRIMARY KEY,
  left_mm INTEGER NOT NULL
) STRICT;

CREATE TABLE cut (
  -- What the calls of a job cut off reels.
  job INTEGER NOT NULL REFERENCES job(id),
  n INTEGER NOT NULL,              -- the call
  reel TEXT NOT NULL,
  length_mm INTEGER NOT NULL,
  done INTEGER NOT NULL DEFAULT 0 CHECK (done IN (0, 1)),
  PRIMARY KEY (job, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE rack (
  -- Jobs that wait their turn, and the one under way, which is the first.
  id INTEGER PRIMARY KEY,
  place INTEGER NOT NULL,          -- the least is next
  began INTEGER UNIQUE REFERENCES job(id), -- null: a plan that was not begun yet
  name TEXT NOT NULL,
  stringer TEXT NOT NULL,
  pattern TEXT NOT NULL,
  method TEXT NOT NULL,
  racket TEXT,
  customer TEXT,
  due TEXT,
  mains_tension TEXT,
  crosses_tension TEXT,
  plan_file TEXT NOT NULL,
  plan_text TEXT NOT NULL
) STRICT;

-- What makes a racket the same.
CREATE UNIQUE INDEX rack_plan ON rack (name, pattern, method, stringer, coalesce(racket, ''),
  coalesce(customer, '')) WHERE began IS NULL;
CREATE INDEX rack_place ON rack (place);

CREATE TABLE rack_cut (
  -- What a plan on the rack will cut off reels.
  rack INTEGER NOT NULL REFERENCES rack(id) ON DELETE CASCADE,
  reel TEXT NOT NULL,
  length_mm INTEGER NOT NULL
) STRICT;

CREATE INDEX rack_cut_rack ON rack_cut (rack);

-- What follows from a new job and from its events. Those of other benches change nothing here.

CREATE TRIGGER plan_begun AFTER INSERT ON job WHEN NOT NEW.merged BEGIN
  UPDATE rack SET began = NEW.id WHERE began IS NULL AND name = NEW.name
  AND pattern = NEW.pattern AND method = NEW.method AND stringer = NEW.stringer
  AND racket IS NEW.racket AND customer IS NEW.customer;
  DELETE FROM rack_cut WHERE rack IN (SELECT id FROM rack WHERE began = NEW.id);
END;

CREATE TRIGGER job_taken_up AFTER INSERT ON event
WHEN NEW.kind = 'started' AND NOT (SELECT merged FROM job WHERE id = NEW.job) BEGIN
  INSERT OR IGNORE INTO rack (place, began, name, stringer, pattern, method, racket, customer, due,
    mains_tension, crosses_tension, plan_file, plan_text)
  SELECT 0, id, name, stringer, pattern, method, racket, customer, due, mains_tension,
    crosses_tension, plan_file, plan_text FROM job WHERE id = NEW.job;
  UPDATE rack SET place = (SELECT min(place) FROM rack) - 1 WHERE began = NEW.job;
END;

CREATE TRIGGER job_put_away AFTER INSERT ON event
WHEN NEW.kind = 'stopped' AND NEW.detail IS NULL BEGIN
  UPDATE rack SET place = (SELECT max(place) FROM rack) + 1 WHERE began = NEW.job;
END;

CREATE TRIGGER job_over AFTER INSERT ON event WHEN NEW.kind IN ('finished', 'abandoned') BEGIN
  DELETE FROM rack WHERE began = NEW.job;
END;

CREATE TRIGGER cut_followed AFTER INSERT ON event BEGIN
  UPDATE cut SET done = NEW.call > n WHERE job = NEW.job AND done <> (NEW.call > n);
END;

CREATE TRIGGER cut_changed AFTER UPDATE OF done ON cut BEGIN
  UPDATE reel SET left_mm = left_mm - (NEW.done - OLD.done) * NEW.length_mm
  WHERE name = NEW.reel;
END;
