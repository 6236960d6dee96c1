-- Many jobs; what precedes this (overview.c) says which are wanted, how many strings came out for
-- each mishap, how many groups are shown, and how much work on a string is little. A row of part 0
-- is a finished job: those of one stringer and kind of job together, the most jobs first. Part 1
-- says in words which jobs these are, and what the commonest kind is. Every other part is a table,
-- row by row as it is printed.
job_of AS MATERIALIZED (
  SELECT j.id, j.created_us, date(j.created_us / 1000000, 'unixepoch', 'localtime') AS day,
    s.state, j.sport, j.stringer, j.pattern || ', ' || j.method || ', ' || j.detail AS kind
  FROM wanted AS w CROSS JOIN job AS j ON j.id = w.id CROSS JOIN job_state AS s ON s.job = j.id),
counted AS (
  SELECT *, count(*) OVER (PARTITION BY kind, sport) AS of_kind,
    count(*) OVER (PARTITION BY kind, sport, stringer) AS of_stringer
  FROM job_of WHERE state = 'finished'),
finished AS MATERIALIZED (
  SELECT *, stringer || ': ' || kind AS name,
    dense_rank() OVER (ORDER BY of_kind DESC, kind, sport) AS kind_place,
    dense_rank() OVER (ORDER BY of_stringer DESC, kind, sport, stringer) AS place,
    (SELECT work(run, working, steady_us) FROM
      (SELECT * FROM event AS e WHERE e.job = counted.id ORDER BY seq)) AS work_us,
    (SELECT total(pause_us) FROM pause_time AS p WHERE p.job = counted.id) AS pause_us,
    iif(id IN (SELECT job FROM mishap), (SELECT total(s.span_us) FROM call AS c
      JOIN span AS s ON s.job = c.job AND s.call = c.n
      WHERE c.job = counted.id AND c.mishap NOT NULL AND s.working), 0) AS lost_us
  FROM counted),
-- Of the commonest kind of job.
done AS (
  SELECT s.job, s.call, sum(span_us * working) AS us, sum(until = 'again') AS again,
    sum(until = 'back') AS back
  FROM finished AS f CROSS JOIN span AS s ON s.job = f.id WHERE f.kind_place = 1 GROUP BY 1, 2),
work AS MATERIALIZED (
  SELECT c.job, c.n, c.phase, c.mishap NOT NULL AS lost, c.string, c.number,
    iif(c.string = 'main', c.side, NULL) AS side, us, again, back
  FROM done AS d CROSS JOIN call AS c ON c.job = d.job AND c.n = d.call),
job_string AS MATERIALIZED (
  SELECT job, string, number, side, sum(us) AS us, sum(again) AS again, sum(back) AS back,
    percent_rank() OVER (PARTITION BY job, string ORDER BY min(n)) AS part
  FROM work WHERE string NOT NULL GROUP BY job, string, number, side),
string_sum AS (
  SELECT string || ' ' || number || coalesce(' ' || side, '') AS name, string, number, side,
    count(*) FILTER (WHERE us > 0) AS jobs, total(us) AS us, sum(again) AS again, sum(back) AS back
  FROM job_string GROUP BY string, number, side),
-- Halves by the order of stringing; the middle one of an odd number is left out.
half AS (
  SELECT string, count(*) / 2 AS strings, total(us) FILTER (WHERE part < 0.5) AS first_us,
    total(us) FILTER (WHERE part > 0.5) AS second_us
  FROM job_string GROUP BY job, string HAVING count(*) > 1),
figure(part, place, name, value) AS (
  SELECT 2, place, name, work_us FROM finished JOIN bound ON place <= groups
  UNION ALL SELECT 3, kind_place, kind, work_us FROM finished JOIN bound ON kind_place <= groups
  UNION ALL SELECT 4, instr('prepare mains crosses finish', phase), phase, total(us * NOT lost)
    FROM work GROUP BY job, phase
  UNION ALL SELECT 4, 100, 'lost to mistakes', lost_us FROM finished WHERE kind_place = 1
  UNION ALL SELECT 4, 101, 'paused, not in the above', pause_us FROM finished WHERE kind_place = 1
  UNION ALL SELECT 5, string <> 'main', string || iif(string = 'main', 's', 'es'),
    second_us / first_us - 1 FROM half JOIN bound ON first_us >= strings * least_us),
sorted AS (
  SELECT *, row_number() OVER (PARTITION BY part, place ORDER BY value) - 1 AS i,
    count(*) OVER (PARTITION BY part, place) - 1 AS last FROM figure)
SELECT 0, place, name, id, created_us, work_us, pause_us, lost_us,
  (SELECT count(*) FROM mishap AS m WHERE m.job = f.id),
  (SELECT total(strings) FROM undone AS u WHERE u.job = f.id)
FROM finished AS f
UNION ALL SELECT 1, 0, coalesce(begun || '; ' || left_out, begun, left_out, ''),
  (SELECT kind FROM finished WHERE kind_place = 1), NULL, NULL, NULL, NULL, NULL, NULL
FROM (
  SELECT 'begun ' || min(day) FILTER (WHERE state = 'finished')
      || coalesce(' to ' || nullif(max(day) FILTER (WHERE state = 'finished'),
        min(day) FILTER (WHERE state = 'finished')), '') AS begun,
    'left out: ' || nullif(trim(iif(sum(state = 'open'), sum(state = 'open') || ' open, ', '')
      || iif(sum(state = 'abandoned'), sum(state = 'abandoned') || ' abandoned', ''), ', '), '')
      AS left_out
  FROM job_of)
-- Quantiles are Hyndman and Fan's type 7: between two values, each counts the more the nearer it is.
UNION ALL SELECT part, place, name, last + 1, sum(value * max(0, 1 - abs(i - last * 0.5))),
  sum(value * max(0, 1 - abs(i - last * 0.25))), sum(value * max(0, 1 - abs(i - last * 0.75))),
  NULL, NULL, NULL
FROM sorted GROUP BY part, place
UNION ALL SELECT * FROM (
  SELECT 6, row_number() OVER (ORDER BY us / jobs DESC, string DESC, number, side) AS n, name,
    jobs, us / jobs, again, back, NULL, NULL, NULL
  FROM string_sum WHERE us > 0) WHERE n <= 5
UNION ALL SELECT * FROM (
  SELECT 7, row_number() OVER (ORDER BY again + back DESC, string DESC, number, side) AS n, name,
    jobs, us / jobs, again, back, NULL, NULL, NULL
  FROM string_sum WHERE again + back > 0) WHERE n <= 5
ORDER BY 1, 2, 5, 4;
