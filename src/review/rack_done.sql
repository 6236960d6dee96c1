-- When all of the rack will be done.
SELECT iif(count(*) > count(left_us),
    'All but ' || (count(*) - count(left_us)) || ' whose time is not known', 'All')
  || ' will be done by ' || strftime('%Y-%m-%d %H:%M', :now / 1000000 + sum(left_us) / 1e6,
    'unixepoch', 'localtime') || ', without pauses'
FROM rack_state HAVING count(left_us) > 0;
