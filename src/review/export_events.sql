-- A row for each event of the job ?1.
SELECT j.uuid, j.name, j.stringer, j.pattern, j.method, e.seq, e.run, e.kind, e.call, e.working,
  e.steady_us, e.wall_us, strftime('%Y-%m-%dT%H:%M:%fZ', e.wall_us / 1e6, 'unixepoch') AS wall,
  strftime('%Y-%m-%dT%H:%M:%S', e.wall_us / 1e6, 'unixepoch', 'localtime') AS wall_local,
  e.response_us, e.detail, c.phase, c.kind AS call_kind, c.string, c.number, c.side, c.text
FROM job AS j JOIN event AS e ON e.job = j.id
LEFT JOIN call AS c ON c.job = e.job AND c.n = e.call
WHERE j.id = ?1 AND e.job = ?1 ORDER BY e.seq;
