-- The lines of the trace of the job ?1. Its activities are the calls, and each event becomes the
-- transitions of the standard lifecycle that it stands for: it may end the activity under way and
-- start the next one, suspend or resume it, or tell something of it. The name of an activity is
-- without the number of the string ("weave cross"), so that the same work on every string is one
-- activity.
WITH marked AS (
  SELECT e.*, e.kind IN ('finished', 'abandoned') AS ends, c.n NOT NULL AS is_call
  FROM event AS e LEFT JOIN call AS c ON c.job = e.job AND c.n = e.call WHERE e.job = ?1),
e AS MATERIALIZED (
  SELECT *, is_call AND NOT ends AS goes_on, call IS NOT lag(call) OVER by_seq AS begins,
    lag(call) OVER by_seq AS left, lag(is_call AND NOT ends) OVER by_seq AS was_going_on,
    lag(working) OVER by_seq AS was_working
  FROM marked WINDOW by_seq AS (ORDER BY seq)),
transition AS (
  SELECT *, 1 AS step, left AS its_call, CASE
    WHEN kind = 'abandoned' THEN 'pi_abort' -- the whole job ends
    WHEN kind IN ('next', 'right', 'finished') THEN 'complete'
    ELSE 'ate_abort' END AS transition -- only this activity ends
  FROM e WHERE was_going_on AND (begins OR ends)
  UNION ALL SELECT *, 2, call, 'start' FROM e WHERE goes_on AND begins
  UNION ALL SELECT *, 3, call, iif(working, 'resume', 'suspend')
  FROM e WHERE goes_on AND working IS NOT iif(begins, 1, was_working)
  UNION ALL SELECT *, 4, call, 'unknown' FROM e WHERE goes_on AND kind IN
    ('again', 'fault', 'mended', 'answered', 'wrong', 'station', 'passed', 'found'))
SELECT line FROM (
  SELECT 0 AS seq, 0 AS step, '<trace>' || xes('string', 'concept:name', j.name)
    || xes('id', 'identity:id', j.uuid) || xes('string', 'stringer', j.stringer)
    || xes('string', 'pattern', j.pattern) || xes('string', 'method', j.method)
    || xes('int', 'calls', (SELECT places FROM job_state WHERE job = j.id)) AS line
  FROM job AS j JOIN event AS e ON e.job = j.id AND e.seq = 1 WHERE j.id = ?1
  UNION ALL SELECT t.seq, t.step, '<event>'
    || strftime('<date key="time:timestamp" value="%Y-%m-%dT%H:%M:%f+00:00"/>',
      t.wall_us / 1000000.0, 'unixepoch')
    || xes('string', 'lifecycle:transition', t.transition)
    || xes('string', 'concept:name', c.kind || coalesce(' ' || c.string, ''))
    || xes('string', 'concept:instance', c.n) || xes('string', 'org:resource', j.stringer)
    || xes('string', 'phase', c.phase) || xes('int', 'number', c.number)
    || xes('string', 'side', c.side) || xes('string', 'words', c.text)
    || xes('string', 'journal', t.kind) || xes('int', 'seq', t.seq)
    || xes('string', 'detail', t.detail) || '</event>'
  FROM transition AS t JOIN job AS j ON j.id = ?1
  JOIN call AS c ON c.job = ?1 AND c.n = t.its_call
  UNION ALL SELECT max(seq) + 1, 0, '</trace>' FROM event WHERE job = ?1 GROUP BY job)
ORDER BY seq, step;
