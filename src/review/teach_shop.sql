-- The median work per string of the shop's finished jobs.
SELECT 'the shop', 'median', 0, 0, 0, 0, 0, avg(time)
FROM (
  SELECT time, row_number() OVER (ORDER BY time) AS i, count(*) OVER () AS n
  FROM (
    SELECT sum(s.work_us) / count(*) AS time
    FROM string_time AS s JOIN job_state AS j ON j.job = s.job
    WHERE j.state = 'finished' GROUP BY s.job))
WHERE i IN ((n + 1) / 2, (n + 2) / 2);
