-- A row for each call of the job ?1.
SELECT j.uuid, j.name, j.stringer, j.pattern, j.method, c.n, c.phase, c.kind, c.string, c.number,
  c.side, c.text, t.work_us, round(t.work_us / 60e6, 2) AS work_min, t.repeats, t.backs
FROM job AS j JOIN call AS c ON c.job = j.id
LEFT JOIN (SELECT * FROM call_time WHERE job = ?1) AS t ON t.n = c.n
WHERE j.id = ?1 AND c.job = ?1 ORDER BY c.n;
