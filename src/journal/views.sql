-- Times are never stored: they are these views over the events.
--
-- Ask for a job by a constant (WHERE job = 7): that is looked up, not searched for. string_time is
-- not built upon call_time, because SQLite hands the number of the one job that is asked for down
-- through one grouping, not through two.

CREATE VIEW job_state AS
  -- Where each job stands: the last event says. Places count the calls as they are after every
  -- way back; calls + 1 and places + 1 are past the last.
SELECT j.id AS job, e.kind AS last, coalesce(e.call, 1) AS call,
       coalesce(e.working, 0) AS working, coalesce(e.run, 0) AS runs,
       coalesce(e.wall_us, j.created_us) AS last_wall_us,
       CASE WHEN e.kind IN ('finished', 'abandoned') THEN e.kind ELSE 'open' END AS state,
       coalesce((SELECT p.kind = 'pause' FROM event AS p WHERE p.job = j.id
                 AND p.kind IN ('pause', 'resume') ORDER BY p.seq DESC LIMIT 1), 0) AS paused,
       coalesce(e.kind = 'stopped' AND e.detail IS NULL, 0) AS put_away, -- by a person
       coalesce((SELECT coalesce(c.place, c.n) FROM call AS c
                 WHERE c.job = j.id AND c.n = coalesce(e.call, 1)),
                (SELECT coalesce(c.place, c.n) + 1 FROM call AS c
                 WHERE c.job = j.id AND c.n = j.calls), e.call, 1) AS place,
       coalesce((SELECT c.place FROM call AS c WHERE c.job = j.id AND c.n = j.calls),
                j.calls) AS places
FROM job AS j LEFT JOIN event AS e
  ON e.job = j.id AND e.seq = (SELECT max(seq) FROM event WHERE job = j.id);

CREATE VIEW span AS
  -- From each event to the next one of the same run, with the call that was current
  -- meanwhile. What was cut off by a crash has no end and so no length. Time that the
  -- computer slept is not work, but part of a pause.
SELECT e.job, e.seq, e.run, e.call, e.working, e.wall_us, e.kind AS since,
       n.kind AS until, CASE WHEN e.working THEN n.steady_us - e.steady_us
       ELSE coalesce(n.boot_us, n.steady_us) - coalesce(e.boot_us, e.steady_us)
       END AS span_us
FROM event AS e JOIN event AS n
  ON n.job = e.job AND n.seq = e.seq + 1 AND n.run = e.run;

CREATE VIEW call_time AS
  -- The work each call took, how often it was asked for again and left by a step back. A call
  -- stands unless a way back has replaced it.
SELECT s.job, s.call AS n, c.phase, c.kind, c.string, c.number, c.side, c.text,
       sum(s.span_us * s.working) AS work_us,
       sum(s.until = 'again') AS repeats, sum(s.until = 'back') AS backs,
       coalesce(c.place, c.n) AS place, c.mishap, NOT EXISTS (SELECT 1 FROM call AS later
         WHERE later.job = c.job AND later.n > c.n AND later.place <= c.place) AS stands
FROM span AS s JOIN call AS c ON c.job = s.job AND c.n = s.call
GROUP BY s.job, s.call;

CREATE VIEW string_time AS
  -- The work of each string, over all its calls. Mains have a side, crosses have both.
SELECT s.job, c.phase, c.string, c.number, CASE c.string WHEN 'main' THEN c.side END AS side,
       sum(s.span_us * s.working) AS work_us,
       sum(s.until = 'again') AS repeats, sum(s.until = 'back') AS backs,
       count(DISTINCT s.call) AS calls, min(s.call) AS first_call
FROM span AS s JOIN call AS c ON c.job = s.job AND c.n = s.call
WHERE c.string IS NOT NULL
GROUP BY s.job, c.string, c.number, CASE c.string WHEN 'main' THEN c.side END;

CREATE VIEW phase_time AS
SELECT s.job, c.phase, sum(s.span_us * s.working) AS work_us,
       sum(s.until = 'again') AS repeats, sum(s.until = 'back') AS backs,
       count(DISTINCT s.call) AS calls, min(s.call) AS first_call
FROM span AS s JOIN call AS c ON c.job = s.job AND c.n = s.call
GROUP BY s.job, c.phase;

CREATE VIEW pause_time AS
  -- Each stretch within a run in which the clock of work stood still, whatever else
  -- happened in it: up to the next event with work after it, or the last of the run.
  -- Waiting for the first press, or past the last call, is no pause.
SELECT p.job, p.seq, p.call, p.wall_us,
       coalesce(e.boot_us, e.steady_us) - coalesce(p.boot_us, p.steady_us) AS pause_us
FROM event AS p JOIN event AS e ON e.job = p.job AND e.seq = coalesce(
  (SELECT seq FROM event AS w WHERE w.job = p.job AND w.run = p.run AND w.seq > p.seq
   AND w.working ORDER BY seq LIMIT 1),
  (SELECT seq FROM event AS w WHERE w.job = p.job AND w.run = p.run
   ORDER BY seq DESC LIMIT 1))
JOIN job AS j ON j.id = p.job
WHERE NOT p.working AND p.kind <> 'started' AND p.call <= j.calls
AND e.seq > p.seq AND NOT EXISTS (SELECT 1 FROM event AS b
  WHERE b.job = p.job AND b.run = p.run AND b.seq = p.seq - 1 AND NOT b.working);

CREATE VIEW away_time AS
  -- Between two runs of a job: by wall time, as no steady clock ran.
SELECT e.job, e.seq, e.call, e.wall_us, n.wall_us - e.wall_us AS away_us
FROM event AS e JOIN event AS n
  ON n.job = e.job AND n.seq = e.seq + 1 AND n.run <> e.run;

CREATE VIEW job_time AS
  -- The whole of each job. pause_us: all of pause_time; between runs is in away_time.
SELECT job, sum(span_us * working) AS work_us,
       coalesce((SELECT sum(pause_us) FROM pause_time AS p WHERE p.job = span.job), 0)
       AS pause_us,
       sum(until = 'again') AS repeats, sum(until = 'back') AS backs,
       sum(until = 'undo') AS undos, sum(until = 'pause') AS pauses
FROM span GROUP BY job;

CREATE VIEW mishap_time AS
  -- The work lost to each mishap: on the way back, and on what was done again.
SELECT m.job, m.n, m.kind, m.string, m.number, m.side, m.made, m.found, m.undone,
       m.wall_us, coalesce((SELECT sum(s.span_us * s.working)
         FROM call AS c JOIN span AS s ON s.job = c.job AND s.call = c.n
         WHERE c.job = m.job AND c.mishap = m.n), 0) AS work_us
FROM mishap AS m;

CREATE VIEW rack_state AS
  -- The rack in its order. usual_us: the median of the work that this stringer did on the last ten
  -- finished jobs of that pattern and method, from three on. left_us: what of that is still to be
  -- done. short_reel: a reel that has too little for what is cut off it up to this job.
WITH kind AS (SELECT DISTINCT stringer, pattern, method FROM rack),
recent AS (
  SELECT k.*, (SELECT sum(span_us) FROM span WHERE job = j.id AND working) AS us
  FROM kind AS k JOIN job AS j ON j.id IN (
    SELECT o.id FROM job AS o JOIN job_state AS s ON s.job = o.id
    WHERE o.stringer = k.stringer AND o.pattern = k.pattern AND o.method = k.method
    AND s.state = 'finished' ORDER BY o.created_us DESC LIMIT 10)),
ranked AS (
  SELECT *, row_number() OVER (PARTITION BY stringer, pattern, method ORDER BY us) AS n,
    count(*) OVER (PARTITION BY stringer, pattern, method) AS jobs FROM recent),
usual AS (
  SELECT stringer, pattern, method, avg(us) AS us FROM ranked
  WHERE jobs >= 3 AND n IN ((jobs + 1) / 2, (jobs + 2) / 2) GROUP BY stringer, pattern, method),
need AS (
  SELECT r.id, r.place, c.reel, c.length_mm FROM rack AS r JOIN rack_cut AS c ON c.rack = r.id
  UNION ALL
  SELECT r.id, r.place, c.reel, c.length_mm FROM rack AS r JOIN cut AS c ON c.job = r.began
  WHERE NOT c.done),
sums AS (
  SELECT id, reel, sum(length_mm) OVER (PARTITION BY reel ORDER BY place, id) AS mm FROM need)
SELECT r.id, row_number() OVER (ORDER BY r.place, r.id) AS n, r.name, r.stringer, r.pattern,
  r.method, r.racket, r.customer, r.due, r.mains_tension, r.crosses_tension, r.began,
  u.us AS usual_us,
  max(0, u.us - coalesce((SELECT sum(span_us) FROM span WHERE job = r.began AND working), 0))
  AS left_us,
  (SELECT reel FROM sums LEFT JOIN reel ON reel.name = reel
   WHERE sums.id = r.id AND mm > coalesce(left_mm, 0) LIMIT 1) AS short_reel
FROM rack AS r LEFT JOIN usual AS u
  ON u.stringer = r.stringer AND u.pattern = r.pattern AND u.method = r.method;
