-- Answers of PostgreSQL, with the zone data it was built for, to the cases of
-- main.go: psql -f clocks.sql < cases.csv > answers.csv
\set QUIET on
\pset format unaligned
\pset tuples_only on
create temp table cases (id int, kind text, zone text, at bigint, volume numeric, rate numeric);
\copy cases from pstdin with (format csv)
-- The offset of a zone at a Unix second.
create function pg_temp.zone_offset(zone text, at bigint) returns bigint language sql as
  $$ select extract(epoch from timezone(zone, to_timestamp(at)) - timezone('UTC', to_timestamp(at)))::bigint $$;
select id || ',' || elapsed || ',' || to_char(timezone(zone, to_timestamp(ends)), 'YYYY-MM-DD"T"HH24:MI:SS') || ',' || pg_temp.zone_offset(zone, ends)
from (select id, zone, div(volume * 3600000000000, rate) as elapsed, at + div(volume * 3600, rate)::bigint as ends from cases where kind = 'end') c;
select id || ',' || before || ',' || coalesce((select string_agg(t::text, ' ' order by t)
    from (select distinct t from unnest(array[before, after]) t) u where t + pg_temp.zone_offset(zone, t) = at), '')
from (select id, zone, at, at - pg_temp.zone_offset(zone, at - 108000) as before, at - pg_temp.zone_offset(zone, at + 108000) as after from cases where kind = 'wall') c;
