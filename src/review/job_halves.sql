-- Halves by the order of stringing; the middle one of an odd number is left out.
-- The change of little time is told as time, not as a percentage.
SELECT string || iif(string = 'main', 's', 'es'), first, second,
  CASE WHEN first >= :least THEN format('%+.0f %%', 100 * (second / first - 1))
    WHEN abs(second - first) < 60e6 THEN format('%+d s', round((second - first) / 1e6))
    ELSE format('%+.1f min', (second - first) / 60e6) END
FROM (
  SELECT string, avg(work_us) FILTER (WHERE part < 0.5) AS first,
    avg(work_us) FILTER (WHERE part > 0.5) AS second
  FROM (
    SELECT string, work_us,
      percent_rank() OVER (PARTITION BY string ORDER BY first_call) AS part
    FROM string_time WHERE job = :job)
  GROUP BY string HAVING count(*) > 1)
ORDER BY string DESC;
