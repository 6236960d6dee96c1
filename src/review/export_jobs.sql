-- A row for the job ?1.
SELECT j.id AS job, j.uuid, j.name, j.stringer, j.pattern, j.sport, j.method, j.detail,
  plan_value(j.plan_text, 'tension/mains', 'tension') AS tension_mains,
  plan_value(j.plan_text, 'tension/crosses', 'tension') AS tension_crosses,
  plan_value(j.plan_text, 'string/mains/name', 'string/mains',
    'string/whole/name', 'string/name', 'string') AS string_mains,
  plan_value(j.plan_text, 'string/crosses/name', 'string/crosses',
    'string/whole/name', 'string/name', 'string') AS string_crosses,
  j.racket, j.customer, j.due, j.notes, j.language, j.program, s.places AS calls,
  s.place - 1 AS done, s.state, s.runs, j.created_us,
  strftime('%Y-%m-%dT%H:%M:%fZ', j.created_us / 1e6, 'unixepoch') AS created,
  strftime('%Y-%m-%dT%H:%M:%S', j.created_us / 1e6, 'unixepoch', 'localtime') AS created_local,
  s.last_wall_us, t.work_us, round(t.work_us / 60e6, 2) AS work_min, t.pause_us,
  round(t.pause_us / 60e6, 2) AS pause_min, t.repeats, t.backs, t.undos, t.pauses
FROM job AS j JOIN job_state AS s ON s.job = j.id
LEFT JOIN (SELECT * FROM job_time WHERE job = ?1) AS t WHERE j.id = ?1;
