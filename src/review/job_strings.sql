-- A row for each number: mains on the left, crosses in two columns beside them.
WITH RECURSIVE s AS MATERIALIZED (SELECT * FROM string_time WHERE job = :job),
size AS (
  SELECT mains, (crosses + 1) / 2 AS half, crosses FROM (
    SELECT coalesce(max(number) FILTER (WHERE string = 'main'), 0) AS mains,
      coalesce(max(number) FILTER (WHERE string = 'cross'), 0) AS crosses FROM s)),
r(i) AS (
  SELECT 1 FROM size WHERE max(mains, half) > 0
  UNION ALL SELECT i + 1 FROM r, size WHERE i < max(mains, half))
SELECT iif(i <= mains, i, NULL),
  (SELECT work_us FROM s WHERE string = 'main' AND number = i AND side = 'left'),
  (SELECT work_us FROM s WHERE string = 'main' AND number = i AND side = 'right'),
  iif(i <= half, i, NULL),
  (SELECT work_us FROM s WHERE string = 'cross' AND number = i AND i <= half),
  iif(i + half <= crosses, i + half, NULL),
  (SELECT work_us FROM s WHERE string = 'cross' AND number = i + half AND i <= half)
FROM r, size;
