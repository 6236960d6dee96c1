-- Many jobs. What precedes this (overview.c) says which are wanted, how many strings came out for
-- each mishap, how many groups are shown, and how much work on a string is little. A row of part 0
-- is a finished job: those of one stringer and kind of job together, the most jobs first. Part 1
-- says in words which jobs these are, and what the commonest kind is. Every other part is a table,
-- row by row as it is printed. What several parts need is a table, which takes little memory.
DROP TABLE IF EXISTS temp.job_of;
DROP TABLE IF EXISTS temp.finished;
DROP TABLE IF EXISTS temp.done;
DROP TABLE IF EXISTS temp.job_string;
DROP TABLE IF EXISTS temp.string_sum;

CREATE TEMP TABLE job_of AS
SELECT j.id, j.created_us, date(j.created_us / 1000000, 'unixepoch', 'localtime') AS day,
  s.state, j.sport, j.stringer, j.pattern || ', ' || j.method || ', ' || j.detail AS kind
FROM wanted AS w CROSS JOIN job AS j ON j.id = w.id CROSS JOIN job_state AS s ON s.job = j.id;

CREATE TEMP TABLE finished AS
WITH counted AS MATERIALIZED (
  SELECT *, dense_rank() OVER (ORDER BY of_kind DESC, kind, sport) AS kind_place
  FROM (
    SELECT sport, stringer, kind, sum(count(*)) OVER (PARTITION BY kind, sport) AS of_kind,
      row_number() OVER (ORDER BY count(*) DESC, kind, sport, stringer) AS place
    FROM job_of WHERE state = 'finished' GROUP BY sport, stringer, kind))
SELECT j.id, j.created_us, kind, stringer || ': ' || kind AS name, kind_place, place,
  (SELECT work(run, working, steady_us) FROM
    (SELECT * FROM event AS e WHERE e.job = j.id ORDER BY seq)) AS work_us,
  (SELECT total(pause_us) FROM pause_time AS p WHERE p.job = j.id) AS pause_us,
  iif(j.id IN (SELECT job FROM mishap), (SELECT total(s.span_us) FROM call AS c
    JOIN span AS s ON s.job = c.job AND s.call = c.n
    WHERE c.job = j.id AND c.mishap NOT NULL AND s.working), 0) AS lost_us
FROM job_of AS j JOIN counted USING (sport, stringer, kind) WHERE j.state = 'finished';

-- The calls of the commonest kind of job.
CREATE TEMP TABLE done AS
SELECT c.job, c.n, c.phase, c.mishap NOT NULL AS lost, c.string, c.number,
  iif(c.string = 'main', c.side, NULL) AS side, us, again, back
FROM (
  SELECT s.job, s.call, sum(span_us * working) AS us, sum(until = 'again') AS again,
    sum(until = 'back') AS back
  FROM finished AS f CROSS JOIN span AS s ON s.job = f.id WHERE kind_place = 1 GROUP BY 1, 2)
  AS s CROSS JOIN call AS c ON c.job = s.job AND c.n = s.call;

-- half: 0 for the first half of the mains, or of the crosses, by the order of stringing, 1 for the
-- second; the one in the middle of an odd number is at 0.5.
CREATE TEMP TABLE job_string AS
SELECT job, string, number, side, sum(us) AS us, sum(again) AS again, sum(back) AS back,
  percent_rank() OVER (PARTITION BY job, string ORDER BY min(n)) AS half
FROM done WHERE string NOT NULL GROUP BY job, string, number, side;

CREATE TEMP TABLE string_sum AS
SELECT string || ' ' || number || coalesce(' ' || side, '') AS name, string, number, side,
  count(*) FILTER (WHERE us > 0) AS jobs, total(us) AS us, sum(again) AS again, sum(back) AS back
FROM job_string GROUP BY string, number, side;

SELECT 0, place, name, id, created_us, work_us, pause_us, lost_us,
  (SELECT count(*) FROM mishap AS m WHERE m.job = f.id),
  (SELECT total(strings) FROM undone AS u WHERE u.job = f.id)
FROM finished AS f ORDER BY place, created_us, id;

SELECT 1, 0, coalesce(begun || '; ' || left_out, begun, left_out, ''),
  (SELECT kind FROM finished WHERE kind_place = 1)
FROM (
  SELECT 'begun ' || min(day) FILTER (WHERE state = 'finished')
      || coalesce(' to ' || nullif(max(day) FILTER (WHERE state = 'finished'),
        min(day) FILTER (WHERE state = 'finished')), '') AS begun,
    'left out: ' || nullif(trim(iif(sum(state = 'open'), sum(state = 'open') || ' open, ', '')
      || iif(sum(state = 'abandoned'), sum(state = 'abandoned') || ' abandoned', ''), ', '), '')
      AS left_out
  FROM job_of);

WITH changed AS (
  SELECT string, count(*) / 2 AS strings, total(us) FILTER (WHERE half < 0.5) AS first_us,
    total(us) FILTER (WHERE half > 0.5) AS second_us
  FROM job_string GROUP BY job, string HAVING count(*) > 1),
figure(part, place, name, value) AS (
  SELECT 2, place, name, work_us FROM finished JOIN bound ON place <= groups
  UNION ALL SELECT 3, kind_place, kind, work_us FROM finished JOIN bound ON kind_place <= groups
  UNION ALL SELECT 4, instr('prepare mains crosses finish', phase), phase, total(us * NOT lost)
    FROM done GROUP BY job, phase
  UNION ALL SELECT 4, 100, 'lost to mistakes', lost_us FROM finished WHERE kind_place = 1
  UNION ALL SELECT 4, 101, 'paused, not in the above', pause_us FROM finished WHERE kind_place = 1
  UNION ALL SELECT 5, string <> 'main', string || iif(string = 'main', 's', 'es'),
    second_us / first_us - 1 FROM changed JOIN bound ON first_us >= strings * least_us)
SELECT part, place, name, count(*), quantile(value, 0.5), quantile(value, 0.25),
  quantile(value, 0.75)
FROM figure GROUP BY part, place;

SELECT 6, 0, name, jobs, us / jobs, again, back FROM string_sum WHERE us > 0
ORDER BY us / jobs DESC, string DESC, number, side LIMIT 5;

SELECT 7, 0, name, jobs, us / jobs, again, back FROM string_sum WHERE again + back > 0
ORDER BY again + back DESC, string DESC, number, side LIMIT 5;
