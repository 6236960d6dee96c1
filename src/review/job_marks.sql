-- Marks with the work done before each: again is A, back B, undo U; pauses and times away are
-- numbered together.
WITH t AS (
  SELECT e.seq, e.kind, coalesce(sum(s.span_us * s.working) OVER
    (ORDER BY e.seq ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING), 0) AS at_us
  FROM event AS e LEFT JOIN (SELECT seq, span_us, working FROM span WHERE job = :job) AS s
    ON s.seq = e.seq
  WHERE e.job = :job),
m AS (
  SELECT seq, kind, 0 AS is_break FROM t WHERE kind IN ('again', 'back', 'undo') AND seq > 1
  UNION ALL SELECT seq, NULL, 1 FROM pause_time WHERE job = :job
  UNION ALL SELECT seq, NULL, 1 FROM away_time WHERE job = :job)
SELECT iif(is_break, sum(is_break) OVER (ORDER BY m.seq, is_break), upper(substr(m.kind, 1, 1))),
  t.at_us
FROM m JOIN t ON t.seq = m.seq ORDER BY m.seq, is_break;
