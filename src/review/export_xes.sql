-- The lines of the trace of the job ?1. Its activities are the calls, and each event becomes the
-- transitions of the standard lifecycle that it stands for: it may end the activity under way and
-- start the next one, suspend or resume it, or tell something of it. The name of an activity is
-- without the number of the string ("weave cross"), so that the same work on every string is one
-- activity.
WITH e AS (
  SELECT e.*, e.kind NOT IN ('finished', 'abandoned') AS goes_on, e.call IS NOT p.call AS begins,
    p.kind NOT IN ('finished', 'abandoned') AS was_going_on, p.call AS left,
    p.working AS was_working
  FROM event AS e LEFT JOIN event AS p ON p.job = e.job AND p.seq = e.seq - 1 WHERE e.job = ?1),
step(step) AS (VALUES (1), (2), (3), (4)),
transition AS (
  SELECT e.*, step, iif(step = 1, left, call) AS its_call, CASE
    WHEN step = 2 THEN 'start'
    WHEN step = 3 THEN iif(working, 'resume', 'suspend')
    WHEN step = 4 THEN 'unknown'
    WHEN kind = 'abandoned' THEN 'pi_abort' -- the whole job ends
    WHEN kind IN ('next', 'right', 'finished') THEN 'complete'
    ELSE 'ate_abort' END AS transition -- only this activity ends
  FROM e CROSS JOIN step WHERE CASE step
    WHEN 1 THEN was_going_on AND (begins OR NOT goes_on)
    WHEN 2 THEN goes_on AND begins
    WHEN 3 THEN goes_on AND working IS NOT iif(begins, 1, was_working)
    ELSE goes_on AND kind IN
      ('again', 'fault', 'mended', 'answered', 'wrong', 'station', 'passed', 'found', 'note') END)
SELECT line FROM (
  SELECT 0 AS seq, 0 AS step, '<trace>' || xes('string', 'concept:name', j.name,
    'id', 'identity:id', j.uuid, 'string', 'stringer', j.stringer, 'string', 'pattern', j.pattern,
    'string', 'method', j.method, 'string', 'detail', j.detail, 'string', 'racket', j.racket,
    'string', 'customer', j.customer, 'string', 'due', j.due, 'string', 'notes', j.notes,
    'int', 'calls', (SELECT places FROM job_state WHERE job = j.id)) AS line
  FROM job AS j JOIN event AS e ON e.job = j.id AND e.seq = 1 WHERE j.id = ?1
  UNION ALL SELECT t.seq, t.step, '<event>' || xes(
    'date', 'time:timestamp',
    strftime('%Y-%m-%dT%H:%M:%f+00:00', t.wall_us / 1000000.0, 'unixepoch'),
    'string', 'lifecycle:transition', t.transition,
    'string', 'concept:name', c.kind || coalesce(' ' || c.string, ''),
    'string', 'concept:instance', c.n, 'string', 'org:resource', j.stringer,
    'string', 'phase', c.phase, 'int', 'number', c.number, 'string', 'side', c.side,
    'string', 'words', c.text, 'string', 'journal', t.kind, 'int', 'seq', t.seq,
    'string', 'detail', t.detail) || '</event>'
  FROM transition AS t JOIN job AS j ON j.id = ?1
  JOIN call AS c ON c.job = ?1 AND c.n = t.its_call
  UNION ALL SELECT max(seq) + 1, 0, '</trace>' FROM event WHERE job = ?1 GROUP BY job)
ORDER BY seq, step;
