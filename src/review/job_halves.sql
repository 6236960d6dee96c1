-- Halves by the order of stringing; the middle one of an odd number is left out.
SELECT string || iif(string = 'main', 's', 'es'), first, second, second / nullif(first, 0) - 1
FROM (
  SELECT string, avg(work_us) FILTER (WHERE i <= most / 2) AS first,
    avg(work_us) FILTER (WHERE i > most - most / 2) AS second
  FROM (
    SELECT string, work_us, row_number() OVER (PARTITION BY string ORDER BY first_call) AS i,
      count(*) OVER (PARTITION BY string) AS most
    FROM string_time WHERE job = :job)
  WHERE most > 1 GROUP BY string)
ORDER BY string DESC;
