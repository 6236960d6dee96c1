-- Takes in the jobs of the journal that is attached as `other`. The rows of these statements are
-- statements to run.

CREATE TEMP TABLE theirs AS
SELECT t.id AS id, t.uuid, o.id AS here,
  o.id AND (SELECT count(*) FROM other.event WHERE job = t.id) >
    (SELECT count(*) FROM main.event WHERE job = o.id) AS longer
FROM other.job AS t LEFT JOIN main.job AS o ON o.uuid = t.uuid;

CREATE TEMP VIEW copied AS
SELECT t.id AS id, o.id AS ours FROM theirs AS t JOIN main.job AS o ON o.uuid = t.uuid
WHERE t.longer OR t.here IS NULL;

-- The tables of jobs, with the columns that both sides have; the rack and the reels are each
-- bench's own.
CREATE TEMP TABLE shared AS
SELECT t.name, group_concat(a.name) AS columns
FROM main.sqlite_schema AS t JOIN pragma_table_info(t.name, 'main') AS a
JOIN pragma_table_info(t.name, 'other') AS b ON b.name = a.name
WHERE t.type = 'table' AND a.name NOT IN ('id', 'merged', 'job')
AND (t.name = 'job' OR t.name IN (SELECT s.name FROM main.sqlite_schema AS s
  JOIN pragma_table_info(s.name) AS c ON c.name = 'job'))
GROUP BY t.rowid;

-- A job that has more events there gets all its rows from there, and its count of calls.
SELECT format('DELETE FROM main.%s WHERE job IN (SELECT here FROM theirs WHERE longer)', name)
FROM shared WHERE name <> 'job';

SELECT format('INSERT INTO main.job (merged, %s) SELECT 1, %s FROM other.job
  WHERE id IN (SELECT id FROM theirs WHERE longer OR here IS NULL) ORDER BY created_us, id
  ON CONFLICT (uuid) DO UPDATE SET calls = excluded.calls', columns, columns)
FROM shared WHERE name = 'job';

SELECT format('INSERT INTO main.%s (job, %s) SELECT copied.ours, %s FROM copied
  JOIN other.%s AS o ON o.job = copied.id', name, columns, columns, name)
FROM shared WHERE name <> 'job';
