-- What is told of the whole of a job, a word and a fact each. :usual_us, :low_us and :high_us are of
-- the stringer's earlier jobs of this kind, 0 if they are too few to compare. A query begins with
-- WITH and the mishaps' strings that came out (job.c).
job_sum AS (
  SELECT j.*, t.*, s.last, s.place, s.places, coalesce(t.work_us, 0) AS us,
    coalesce(t.work_us, 0) - nullif(:usual_us, 0) AS change_us
  FROM job AS j JOIN job_state AS s ON s.job = j.id
  LEFT JOIN (SELECT * FROM job_time WHERE job = :job) AS t WHERE j.id = :job AND s.job = :job),
note AS (
  SELECT notes AS note FROM job_sum
  UNION ALL SELECT
    iif(n, format('call %d (%s): ', coalesce(c.place, n), c.text), 'after the last call: ') || e.detail
  FROM event AS e LEFT JOIN call AS c ON c.job = e.job AND c.n = e.call
  WHERE e.job = :job AND e.kind = 'note'),
lost AS (
  SELECT count(*) AS times, total(strings) AS strings,
    (SELECT total(work_us) FROM call_time WHERE job = :job AND mishap NOT NULL) AS us
  FROM undone WHERE job = :job),
break(word, times, us) AS ( -- no time away is told where the computer's clock was set back
  SELECT 'Paused', count(*), total(pause_us) FROM pause_time WHERE job = :job
  UNION ALL SELECT 'Program closed', count(*), total(max(0, away_us)) FROM away_time WHERE job = :job),
response AS (
  SELECT response_us / 1e3 AS ms, row_number() OVER (ORDER BY response_us) AS i,
    count(*) OVER () AS most
  FROM event WHERE job = :job AND response_us NOT NULL),
fact AS (
  SELECT 'Racket' AS word, racket AS fact FROM job_sum
  UNION ALL SELECT 'Customer', customer FROM job_sum
  UNION ALL SELECT 'Due', due FROM job_sum
  UNION ALL SELECT 'Notes', (SELECT group_concat(note, '; ') FROM note)
  UNION ALL SELECT 'Work', duration(us) FROM job_sum
  UNION ALL SELECT 'Usual for this stringer', duration(nullif(:usual_us, 0)) || '; four of five jobs take '
    || duration(:low_us) || ' to ' || duration(:high_us)
  UNION ALL SELECT 'This one', CASE
    WHEN abs(change_us) < 0.005 * :usual_us THEN 'as usual'
    ELSE iif(:usual_us >= :least, format('%.0f %%', 100.0 * abs(change_us) / :usual_us),
        duration(abs(change_us)))
      || iif(change_us > 0, ' longer', ' shorter') || ' than usual' END
    FROM job_sum WHERE change_us NOT NULL AND last = 'finished'
  UNION ALL SELECT 'Calls done', format('%d of %d', place - 1, places) FROM job_sum
  UNION ALL SELECT 'Lost to mistakes', format('%s, %d %s; strings done again: %d', duration(us),
    times, iif(times = 1, 'time', 'times'), strings) FROM lost WHERE times
  UNION ALL SELECT word, format('%s, %d %s; not in the work', duration(us), times,
    iif(times = 1, 'time', 'times')) FROM break WHERE times
  UNION ALL SELECT 'Asked again', nullif(repeats, 0) FROM job_sum
  UNION ALL SELECT 'Stepped back', nullif(backs, 0) FROM job_sum
  UNION ALL SELECT 'Presses taken back', nullif(undos, 0) FROM job_sum
  UNION ALL SELECT 'Faults of voice or pedal', nullif(count(*), 0)
    FROM event WHERE job = :job AND kind = 'fault'
  UNION ALL SELECT 'First sound after a press', format('median %.0f ms, 95 %% within %.0f ms',
    avg(ms) FILTER (WHERE i IN ((most + 1) / 2, (most + 2) / 2)), min(ms) FILTER (WHERE 20 * i >= 19 * most))
    FROM response HAVING count(*))
SELECT word, fact FROM fact WHERE fact NOT NULL;
