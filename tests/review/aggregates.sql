-- What an overview is made of, as a person would ask the sqlite3 shell for it.
SELECT j.stringer, j.pattern, j.method, count(*), avg(t.work_us), min(t.work_us), max(t.work_us),
       avg(t.pause_us)
FROM job_time AS t JOIN job AS j ON j.id = t.job JOIN job_state AS s ON s.job = t.job
WHERE s.state = 'finished' GROUP BY 1, 2, 3;
SELECT phase, avg(work_us) FROM phase_time GROUP BY phase;
SELECT string, number, count(DISTINCT job), sum(work_us), sum(repeats), sum(backs)
FROM string_time GROUP BY string, number;
