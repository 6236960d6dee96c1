-- Makes room for the tables of a new journal. The rows of these statements are statements to run.
SELECT format('DROP %s "%w"', type, name) FROM sqlite_schema
WHERE type <> 'table' AND sql NOT NULL;

SELECT format('ALTER TABLE %s RENAME TO old_%s', name, name) FROM sqlite_schema
WHERE name IN ('job', 'call', 'event');
