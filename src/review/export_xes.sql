-- A row for each event of the job ?1: what it means for the activity, which is a call, and its XML.
-- Whether it ends the job, how the activity ends that it leaves, and whether it is told as
-- "unknown"; the trace for the first event, the activity for the first of a call. The name of an
-- activity is without the number of the string ("weave cross"), so that the same work on every
-- string is one activity.
SELECT e.call, e.working, e.kind IN ('finished', 'abandoned'),
  CASE WHEN e.kind = 'abandoned' THEN 'pi_abort' -- the whole job ends
    WHEN e.kind IN ('next', 'right', 'finished') THEN 'complete'
    ELSE 'ate_abort' END, -- only this activity ends
  e.kind IN ('again', 'fault', 'mended', 'answered', 'wrong', 'station', 'passed', 'found'),
  iif(before.seq IS NULL, xes('string', 'concept:name', j.name) || xes('id', 'identity:id', j.uuid)
    || xes('string', 'stringer', j.stringer) || xes('string', 'pattern', j.pattern)
    || xes('string', 'method', j.method) || xes('int', 'calls', j.calls), NULL),
  iif(c.n NOT NULL AND e.call IS NOT before.call,
    xes('string', 'concept:name', c.kind || coalesce(' ' || c.string, ''))
    || xes('string', 'concept:instance', c.n) || xes('string', 'org:resource', j.stringer)
    || xes('string', 'phase', c.phase) || xes('int', 'number', c.number)
    || xes('string', 'side', c.side) || xes('string', 'words', c.text), NULL),
  strftime('<date key="time:timestamp" value="%Y-%m-%dT%H:%M:%f+00:00"/>', e.wall_us / 1000000.0,
    'unixepoch'),
  format('<string key="journal" value="%s"/><int key="seq" value="%d"/>', e.kind, e.seq)
  || xes('string', 'detail', e.detail)
FROM job AS j JOIN event AS e ON e.job = j.id
LEFT JOIN event AS before ON before.job = e.job AND before.seq = e.seq - 1
LEFT JOIN call AS c ON c.job = e.job AND c.n = e.call
WHERE j.id = ?1 AND e.job = ?1 ORDER BY e.seq;
