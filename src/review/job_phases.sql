-- The calls of a way back are lost work, whatever their phase. Calls that a way back replaced are
-- not counted, so that the sum is the place in the job.
SELECT iif(mishap IS NULL, phase, 'lost to mistakes') AS part, sum(stands), sum(work_us),
  sum(work_us) / nullif(:work + 0.0, 0), sum(repeats), sum(backs)
FROM call_time WHERE job = :job GROUP BY part ORDER BY max(mishap) NOT NULL, min(n);
