SELECT row_number() OVER (ORDER BY b.seq),
  strftime('%Y-%m-%d %H:%M', b.wall_us / 1000000, 'unixepoch', 'localtime'), what,
  coalesce(c.place, c.n, :places + 1), length_us
FROM (
  SELECT seq, call, wall_us, 'paused' AS what, pause_us AS length_us
  FROM pause_time WHERE job = :job
  UNION ALL SELECT seq, call, wall_us, 'program closed', max(0, away_us) FROM away_time WHERE job = :job)
  AS b LEFT JOIN call AS c ON c.job = :job AND c.n = b.call
ORDER BY b.seq;
