-- Each time during which one call was current, in order, with the call. What is work, a pause and
-- time away follows each event: waiting for the first press of a run is no pause.
WITH e AS (
  SELECT e.seq, e.kind, e.call, coalesce(s.span_us * e.working, 0) AS work_us,
    coalesce(s.span_us * (NOT e.working
      AND max(e.working) OVER (PARTITION BY e.run ORDER BY e.seq)), 0) AS pause_us,
    iif(s.seq IS NULL, max(0, lead(e.wall_us) OVER (ORDER BY e.seq) - e.wall_us), 0) AS away_us,
    e.call IS NOT lag(e.call) OVER (ORDER BY e.seq) AS begins
  FROM event AS e LEFT JOIN (SELECT seq, span_us FROM span WHERE job = :job) AS s
    ON s.seq = e.seq
  WHERE e.job = :job),
numbered AS (SELECT *, sum(begins) OVER (ORDER BY seq) AS visit FROM e),
visits AS (
  -- With min(seq), kind is that of the first event.
  SELECT visit, call, kind, min(seq), sum(work_us) AS work_us, sum(pause_us) AS pause_us,
    sum(away_us) AS away_us, sum(kind = 'again') AS repeats
  FROM numbered GROUP BY visit),
course AS (
  SELECT *, sum(work_us) OVER (ORDER BY visit) - work_us AS begin_us,
    lead(kind) OVER (ORDER BY visit) AS left_by FROM visits)
SELECT v.call, v.begin_us, v.work_us, v.repeats, v.pause_us, v.away_us, v.left_by,
  c.phase, c.string, c.text, coalesce(c.place, c.n),
  coalesce(iif(c.string = 'main', c.number || upper(substr(c.side, 1, 1)), c.number), '')
FROM course AS v JOIN call AS c ON c.job = :job AND c.n = v.call ORDER BY v.visit;
