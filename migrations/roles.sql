-- Two roles for a firm on PostgreSQL 15 or newer: a keeper, who makes and upgrades the tables, and a seller, who reads
-- everything, promises and sells, and changes no table. What the ledger says cannot be changed by either.
--
-- As a superuser, or whoever owns the database and may make roles, or was given these two WITH ADMIN OPTION; it may be
-- run any number of times, and is run again after each upgrade:
--
--     createdb catalogue
--     psql -v ON_ERROR_STOP=1 -d catalogue -f roles.sql
--     psql -d catalogue -c 'GRANT triptych_keeper TO ben' -c 'ALTER ROLE ben SET role TO triptych_keeper'
--     psql -d catalogue -c 'GRANT triptych_seller TO anna'
--     triptych speaker list --db postgresql://ben@host/catalogue      (makes the tables; after an update, upgrades them)
--     psql -v ON_ERROR_STOP=1 -d catalogue -f roles.sql

DO $body$
DECLARE
  one text;
BEGIN
  FOREACH one IN ARRAY ARRAY['triptych_keeper', 'triptych_seller'] LOOP
    IF NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = one) THEN
      IF NOT (SELECT rolsuper OR rolcreaterole FROM pg_roles WHERE rolname = current_user) THEN
        RAISE EXCEPTION 'there is no role % yet, and you may not make one: let whoever keeps the server run:'
          ' CREATE ROLE triptych_keeper NOLOGIN; CREATE ROLE triptych_seller NOLOGIN;'
          ' GRANT triptych_keeper, triptych_seller TO % WITH ADMIN OPTION', one, quote_ident(current_user);
      END IF;
      EXECUTE format('CREATE ROLE %I NOLOGIN', one);
    END IF;
  END LOOP;
  -- what the keeper's tables allow is said by who may act as the keeper
  IF NOT pg_has_role(current_user, 'triptych_keeper', 'USAGE') THEN
    EXECUTE format('GRANT triptych_keeper TO %I', current_user);
  END IF;
  -- a temporary table goes before the ledger's of that name, also in its guards, which act with the owner's rights
  EXECUTE format('REVOKE TEMPORARY ON DATABASE %I FROM PUBLIC', current_database());
END
$body$;

REVOKE CREATE ON SCHEMA public FROM PUBLIC;
GRANT USAGE, CREATE ON SCHEMA public TO triptych_keeper;
GRANT USAGE ON SCHEMA public TO triptych_seller;
ALTER DEFAULT PRIVILEGES FOR ROLE triptych_keeper IN SCHEMA public GRANT SELECT ON TABLES TO triptych_seller;
ALTER DEFAULT PRIVILEGES FOR ROLE triptych_keeper IN SCHEMA public GRANT USAGE ON SEQUENCES TO triptych_seller;
GRANT SELECT ON ALL TABLES IN SCHEMA public TO triptych_seller;
GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO triptych_seller;

DO $body$
DECLARE
  one text;
BEGIN
  IF to_regclass('public.movement') IS NULL THEN
    RAISE NOTICE 'no tables yet: run this again when the keeper has made them';
    RETURN;
  END IF;
  -- The ledger and what begins in it. Reservations follow by triggers, with the rights of the tables' owner.
  FOREACH one IN ARRAY ARRAY['movement', 'holding', 'location', 'job', 'quote', 'quote_line', 'supply_order',
                             'acoustic_profile'] LOOP
    EXECUTE format('GRANT INSERT ON %I TO triptych_seller', one);
  END LOOP;
  GRANT UPDATE (state) ON quote TO triptych_seller;
  GRANT UPDATE (expected, cancelled_at) ON supply_order TO triptych_seller;
  GRANT UPDATE (zone) ON location TO triptych_seller;
  GRANT UPDATE (name, name_key, merged_into_id) ON job TO triptych_seller;
  -- How files name columns, and below how many of a model are ordered anew.
  GRANT INSERT, UPDATE, DELETE ON file_column, reorder_point TO triptych_seller;
  -- What the physics computed of a loudspeaker is kept for the next match.
  GRANT UPDATE ON acoustic_profile TO triptych_seller;
END
$body$;
