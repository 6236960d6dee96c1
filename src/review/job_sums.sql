-- What is told of the whole of a job, from the events' sums to the median of its response times and
-- their 95th percentile, the notes, and the other jobs of that name.
WITH r AS (
  SELECT response_us, row_number() OVER (ORDER BY response_us) AS i, count(*) OVER () AS most
  FROM event WHERE job = :job AND response_us NOT NULL)
SELECT t.work_us, t.pause_us, (SELECT total(away_us) FROM away_time WHERE job = :job),
  t.repeats, t.backs, t.undos,
  (SELECT count(*) FROM event WHERE job = :job AND kind = 'fault'),
  (SELECT count(*) FROM pause_time WHERE job = :job),
  (SELECT count(*) FROM away_time WHERE job = :job),
  (SELECT total(work_us) FROM call_time WHERE job = :job AND mishap NOT NULL),
  (SELECT min(response_us) FROM r WHERE 2 * i >= most),
  (SELECT min(response_us) FROM r WHERE 20 * i >= 19 * most),
  (SELECT group_concat(note, '; ') FROM (
    SELECT notes AS note FROM job WHERE id = :job
    UNION ALL SELECT iif(n, format('call %d (%s): ', coalesce(place, n), text), 'after the last call: ')
      || e.detail FROM event AS e LEFT JOIN call AS c ON c.job = e.job AND c.n = e.call
    WHERE e.job = :job AND e.kind = 'note')),
  (SELECT group_concat(id, ', ')
    FROM (SELECT id FROM job WHERE name = :name AND id <> :job ORDER BY id))
FROM (SELECT 1) LEFT JOIN (SELECT * FROM job_time WHERE job = :job) AS t;
