-- A row for each call of the job ?1. One that was not worked on has no work, but may be replaced.
SELECT j.uuid, j.name, j.stringer, j.pattern, j.method, c.n, c.phase, c.kind, c.string, c.number,
  c.side, c.text, t.work_us, round(t.work_us / 60e6, 2) AS work_min, t.repeats, t.backs,
  coalesce(t.stands, NOT EXISTS (SELECT 1 FROM call AS later
    WHERE later.job = c.job AND later.n > c.n AND later.place <= c.place)) AS stands
FROM job AS j JOIN call AS c ON c.job = j.id
LEFT JOIN (SELECT * FROM call_time WHERE job = ?1) AS t ON t.n = c.n
WHERE j.id = ?1 AND c.job = ?1 ORDER BY c.n;
