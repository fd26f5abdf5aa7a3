-- What the step 0026 says anew on PostgreSQL. A paragraph is run at once; none has an empty line within.
--
-- As they were, but that nothing is planned anew for each call, which took longer than all the rest of a movement, and
-- that an instant is taken once: one that is asked for row by row finds nothing by an index, and what lapsed stays in
-- it. Plans that are made once hold for any value, as each of these statements goes by an index.
--
-- A sale at no price for a job to which something came back is left to the long way, which says its price: what came
-- back is looked for where alone it can have come, in quarantine, and not in all of the ledger.

CREATE FUNCTION stock_move(asked_kind text, model_key text, place_key text, asked_units integer, asked_grade text,
  asked_finish text, single boolean, job_key text, hold timestamptz, said text, price bigint, price_currency text,
  goal_key text)
RETURNS TABLE (units integer, lines integer[], there integer, promised integer, name text, place_zone text, apart json)
LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
DECLARE
  found record;
  goal integer;
  kept record;
  missing integer;
  part integer;
  number integer;
  serials integer;
  moment timestamptz;
  doubtful boolean;
  arrives boolean := asked_kind = 'transfer_out';
  ends boolean := asked_kind = 'release' OR (asked_kind = 'sell' AND job_key IS NOT NULL);
BEGIN
  PERFORM set_config('plan_cache_mode', 'force_generic_plan', true);
  IF asked_kind = 'send' THEN
    asked_kind := 'transfer_out';
  END IF;
  SELECT l.id, l.status, m.name || ' ' || COALESCE(s.name || ' ', '') || l.model AS called, p.zone, j.id AS job,
      h.id AS holding, h.pack, l.sold_as INTO found
    FROM loudspeaker l
    JOIN maker m ON m.id = l.maker_id
    LEFT JOIN series s ON s.id = l.series_id
    JOIN location p ON p.name_key = place_key
    JOIN holding h ON h.loudspeaker_id = l.id AND h.location_id = p.id AND h.grade = asked_grade
      AND h.pack = CASE WHEN NOT single AND l.sold_as = 'pair' THEN 2 ELSE 1 END AND h.finish_key = asked_finish
    LEFT JOIN job j ON j.name_key = job_key AND j.merged_into_id IS NULL
      AND NOT EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = j.id)
    WHERE l.name_key = model_key;
  units := COALESCE(asked_units, found.pack);
  missing := units;
  IF found.holding IS NULL OR found.status IN ('last_of_line', 'discontinued')
      OR (job_key IS NOT NULL AND found.job IS NULL) OR units NOT BETWEEN 1 AND 1000000 OR units % found.pack <> 0
      OR (asked_kind = 'split_pair' AND found.pack <> 2) OR hold <= clock_timestamp() THEN
    RETURN NEXT;
    RETURN;
  END IF;
  IF asked_kind = 'sell' AND job_key IS NOT NULL AND price IS NULL AND EXISTS (SELECT 1
      FROM holding q JOIN movement b ON b.holding_id = q.id
      WHERE q.loudspeaker_id = found.id AND q.grade = 'quarantine' AND b.kind = 'return' AND b.job_id = found.job) THEN
    RETURN NEXT;
    RETURN;
  END IF;
  IF goal_key IS NOT NULL THEN
    SELECT h.id INTO goal FROM holding h JOIN location p ON p.id = h.location_id AND p.name_key = goal_key
      WHERE h.loudspeaker_id = found.id AND h.grade = asked_grade
        AND h.pack = CASE asked_kind WHEN 'split_pair' THEN 1 ELSE found.pack END AND h.finish_key = asked_finish;
    IF goal IS NULL OR goal = found.holding THEN
      RETURN NEXT;
      RETURN;
    END IF;
    PERFORM pg_advisory_xact_lock(1953655152, LEAST(found.holding, goal));
    PERFORM pg_advisory_xact_lock(1953655152, GREATEST(found.holding, goal));
  ELSIF asked_kind <> 'receive' THEN
    PERFORM pg_advisory_xact_lock(1953655152, found.holding);
  END IF;
  -- what is read after the lock is what there is, so that nobody is told of an error where others were faster
  SELECT n.on_hand, n.tracked INTO there, serials FROM movement n WHERE n.holding_id = found.holding
    ORDER BY n.sequence DESC LIMIT 1;
  IF there IS NULL OR (asked_kind IN ('sell', 'transfer_out', 'split_pair') AND units <= there
      AND serials > there - units) THEN
    there := NULL;
    RETURN NEXT;
    RETURN;
  END IF;
  moment := clock_timestamp();
  part := 0;
  IF ends THEN
    SELECT COALESCE(SUM(r.rest), 0), LEAST(units, COALESCE(SUM(r.rest) FILTER (WHERE m.job_id = found.job), 0)),
        COALESCE(bool_or(job_key IS NULL OR (r.serial IS NOT NULL AND m.job_id = found.job)), false)
      INTO promised, part, doubtful
      FROM reservation r JOIN movement m ON m.id = r.movement_id
      WHERE r.holding_id = found.holding AND r.rest > 0 AND r.until > moment;
    -- which of several jobs is meant, and which serial, is asked the long way
    IF doubtful THEN
      RETURN NEXT;
      RETURN;
    END IF;
  ELSE
    promised := COALESCE((SELECT SUM(r.rest) FROM reservation r
      WHERE r.holding_id = found.holding AND r.rest > 0 AND r.until > moment), 0);
  END IF;
  IF asked_kind = 'count' THEN
    missing := units - there;
    IF there = 0 OR units < serials OR TRIM(COALESCE(said, '')) = '' THEN
      RETURN NEXT;
      RETURN;
    END IF;
  END IF;
  -- a program forgets what it has prepared where it is told of an error, so that most refusals are none
  IF (asked_kind IN ('reserve', 'transfer_out', 'split_pair', 'sell') AND units - part > there - promised)
      OR (asked_kind = 'release' AND part < units) OR (asked_kind = 'count' AND units < promised) THEN
    -- what is sold in part out of what is kept for its job is told the long way
    IF asked_kind <> 'sell' OR part = 0 THEN
      name := found.called;
      place_zone := found.zone;
      apart := json_build_array(found.id, found.pack, part, stock_instead(found.id, found.holding, found.job));
    END IF;
    RETURN NEXT;
    RETURN;
  END IF;
  lines := '{}';
  IF ends THEN
    FOR kept IN SELECT r.movement_id, r.rest FROM reservation r JOIN movement m ON m.id = r.movement_id
        WHERE r.holding_id = found.holding AND r.rest > 0 AND r.until > moment AND m.job_id = found.job
        ORDER BY r.movement_id LOOP
      EXIT WHEN missing = 0;
      part := LEAST(kept.rest, missing);
      INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, job_id, reservation_id, amount,
          currency, note)
        VALUES (found.id, found.holding, asked_kind, part, CASE WHEN asked_kind = 'sell' THEN -part ELSE 0 END,
          found.job, kept.movement_id, price, price_currency, said)
        RETURNING id, on_hand INTO number, there;
      lines := lines || number;
      missing := missing - part;
      promised := promised - part;
    END LOOP;
    IF missing > 0 AND asked_kind = 'release' THEN
      RAISE EXCEPTION 'fewer are reserved' USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  IF missing <> 0 THEN
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, job_id, until, to_holding_id, amount,
        currency, note)
      VALUES (found.id, found.holding, asked_kind, missing, CASE WHEN asked_kind IN ('receive', 'count') THEN missing
        WHEN asked_kind = 'reserve' THEN 0 ELSE -missing END, found.job, hold, goal, price, price_currency, said)
      RETURNING id, on_hand INTO number, there;
    lines := lines || number;
  END IF;
  IF asked_kind = 'split_pair' THEN
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, from_id, serial, note)
      VALUES (found.id, goal, 'split_in', 1, 1, number, 'pair ' || number || ' A', said)
      RETURNING lines || id INTO lines;
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, from_id, serial, note)
      VALUES (found.id, goal, 'split_in', 1, 1, number, 'pair ' || number || ' B', said)
      RETURNING lines || id, on_hand INTO lines, there;
    promised := COALESCE((SELECT SUM(r.rest) FROM reservation r
      WHERE r.holding_id = goal AND r.rest > 0 AND r.until > moment), 0);
  ELSIF arrives THEN
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, from_id, note)
      VALUES (found.id, goal, 'transfer_in', units, units, number, said)
      RETURNING id INTO number;
    lines := lines || number;
  END IF;
  IF asked_kind = 'reserve' THEN
    promised := promised + missing;
  END IF;
  IF asked_kind = 'sell' AND job_key IS NOT NULL THEN
    apart := (SELECT json_agg(json_build_array(r.rest, p.name, o.finish,
        o.pack < CASE WHEN found.sold_as = 'pair' THEN 2 ELSE 1 END, o.grade) ORDER BY r.movement_id)
      FROM holding o JOIN reservation r ON r.holding_id = o.id JOIN movement m ON m.id = r.movement_id
        JOIN location p ON p.id = o.location_id
      WHERE o.loudspeaker_id = found.id AND o.id <> found.holding AND r.rest > 0 AND r.until > moment
        AND m.job_id = found.job);
  END IF;
  name := found.called;
  place_zone := found.zone;
  RETURN NEXT;
END $$;

CREATE FUNCTION stock_arrival(asked integer)
RETURNS TABLE (units integer, line integer, there integer, promised integer, name text, place_zone text, place text,
  grade text, finish text)
LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
DECLARE
  sent record;
  moment timestamptz;
BEGIN
  PERFORM set_config('plan_cache_mode', 'force_generic_plan', true);
  SELECT o.id, o.loudspeaker_id, o.quantity, h.id AS goal, h.grade, h.finish, p.name AS place, p.zone,
      m.name || ' ' || COALESCE(s.name || ' ', '') || l.model AS called INTO sent
    FROM movement o JOIN holding h ON h.id = o.to_holding_id JOIN location p ON p.id = h.location_id
      JOIN loudspeaker l ON l.id = o.loudspeaker_id JOIN maker m ON m.id = l.maker_id
      LEFT JOIN series s ON s.id = l.series_id
    WHERE o.id = asked AND o.kind = 'transfer_out' AND o.serial IS NULL;
  IF sent.id IS NULL THEN
    RETURN NEXT;
    RETURN;
  END IF;
  PERFORM pg_advisory_xact_lock(1953655152, sent.goal);
  moment := clock_timestamp();
  units := sent.quantity - COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.from_id = asked), 0);
  IF units < 1 THEN
    RETURN NEXT;
    RETURN;
  END IF;
  INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, from_id)
    VALUES (sent.loudspeaker_id, sent.goal, 'transfer_in', units, units, asked)
    RETURNING id, on_hand INTO line, there;
  promised := COALESCE((SELECT SUM(r.rest) FROM reservation r
    WHERE r.holding_id = sent.goal AND r.rest > 0 AND r.until > moment), 0);
  name := sent.called;
  place_zone := sent.zone;
  place := sent.place;
  grade := sent.grade;
  finish := sent.finish;
  RETURN NEXT;
END $$;

CREATE FUNCTION stock_facts(asked_keys text[], asked_job text, day date, known json) RETURNS text LANGUAGE plpgsql
  SET search_path FROM CURRENT AS $$
DECLARE
  asked integer[] := ARRAY(SELECT l.id FROM loudspeaker l WHERE l.name_key = ANY (asked_keys));
  job_number integer := (SELECT COALESCE(j.merged_into_id, j.id) FROM job j WHERE j.name_key = asked_job);
  moment timestamptz := clock_timestamp();
BEGIN
  -- planned once a connection, not anew for each of the first five
  PERFORM set_config('plan_cache_mode', 'force_generic_plan', true);
  RETURN json_build_array((extract(epoch FROM moment) * 1000000)::bigint,
    (SELECT COALESCE(json_agg(json_build_array(z.zone)), '[]') FROM (SELECT DISTINCT p.zone FROM location p LIMIT 2) z),
    (SELECT COALESCE(json_agg(json_build_array(j.id, j.name)), '[]') FROM job j WHERE j.id = job_number),
    (SELECT COALESCE(json_agg(json_build_array(l.id, CASE WHEN l.sold_as = 'pair' THEN 2 ELSE 1 END, l.status,
        m.name || ' ' || COALESCE(s.name || ' ', '') || l.model, l.name_key)), '[]')
      FROM loudspeaker l JOIN maker m ON m.id = l.maker_id LEFT JOIN series s ON s.id = l.series_id
      WHERE l.id = ANY (asked)),
    (SELECT COALESCE(json_agg(json_build_array(h.loudspeaker_id, h.pack, h.grade, h.finish, h.finish_key, p.name,
        e.on_hand - COALESCE((SELECT SUM(r.rest) FROM reservation r
          WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > moment), 0)) ORDER BY h.id), '[]')
      FROM holding h JOIN location p ON p.id = h.location_id
        CROSS JOIN LATERAL (SELECT n.on_hand FROM movement n WHERE n.holding_id = h.id
          ORDER BY n.sequence DESC LIMIT 1) AS e
      WHERE h.loudspeaker_id = ANY (asked) AND h.grade <> 'quarantine' AND p.loan_job_id IS NULL),
    (SELECT COALESCE(json_agg(json_build_array(x.loudspeaker_id, x.expected, x.quantity - x.come, x.finish)
        ORDER BY x.id), '[]')
      FROM (SELECT o.*, COALESCE((SELECT SUM(m.quantity) FROM movement m WHERE m.order_id = o.id
          AND NOT EXISTS (SELECT 1 FROM movement u WHERE u.undoes_id = m.id)), 0) AS come
        FROM supply_order o
        WHERE o.loudspeaker_id = ANY (asked) AND o.cancelled_at IS NULL AND o.job_id IS NULL) x
      WHERE x.quantity > x.come),
    (SELECT COALESCE(json_agg(json_build_array(h.loudspeaker_id, (extract(epoch FROM r.until) * 1000000)::bigint,
        r.rest, h.pack, h.grade, h.finish, h.finish_key) ORDER BY r.movement_id), '[]')
      FROM holding h JOIN reservation r ON r.holding_id = h.id JOIN location p ON p.id = h.location_id
      WHERE h.loudspeaker_id = ANY (asked) AND r.rest > 0 AND r.until > moment AND p.loan_job_id IS NULL),
    (SELECT COALESCE(json_agg(json_build_array(x.speaker, x.lead)), '[]')
      FROM (SELECT c.loudspeaker_id AS speaker, MIN(s.lead_time) AS lead
        FROM supplier_price c JOIN supplier s ON s.id = c.supplier_id
        WHERE c.loudspeaker_id = ANY (asked) AND (c.valid_to IS NULL OR c.valid_to > day) GROUP BY c.loudspeaker_id) x),
    (SELECT COALESCE(json_agg(json_build_array(c.loudspeaker_id, c.amount, c.currency, c.per, c.tax, c.tax_rate)), '[]')
      FROM price c WHERE c.loudspeaker_id = ANY (asked) AND c.valid_from <= day
        AND (c.valid_to IS NULL OR c.valid_to > day)),
    (SELECT COALESCE(json_agg(json_build_array(g.loudspeaker_id, g.grade, g.amount, g.currency, g.per)), '[]')
      FROM grade_price g WHERE g.loudspeaker_id = ANY (asked)),
    (SELECT COALESCE(json_agg(json_build_array(x.speaker, x.currency, x.cost)), '[]')
      FROM (SELECT c.loudspeaker_id AS speaker, c.currency, MIN(c.cost) AS cost FROM supplier_price c
        WHERE c.loudspeaker_id = ANY (asked) AND c.cost IS NOT NULL AND c.valid_from <= day
          AND (c.valid_to IS NULL OR c.valid_to > day) GROUP BY c.loudspeaker_id, c.currency) x),
    (SELECT COALESCE(json_agg(json_build_array(h.loudspeaker_id, h.finish, h.finish_key) ORDER BY h.id), '[]')
      FROM holding h WHERE h.loudspeaker_id = ANY (asked)),
    (SELECT COALESCE(json_agg(json_build_array(h.loudspeaker_id, h.grade, h.finish_key, h.pack, r.rest)), '[]')
      FROM holding h JOIN reservation r ON r.holding_id = h.id JOIN movement n ON n.id = r.movement_id
        JOIN job j ON j.id = n.job_id
      WHERE h.loudspeaker_id = ANY (asked) AND r.rest > 0 AND r.until > moment AND n.quote_id IS NULL
        AND COALESCE(j.merged_into_id, j.id) = job_number),
    json_build_array(json_build_array((SELECT COUNT(*) FROM job j WHERE j.merged_into_id IS NOT NULL))),
    (SELECT json_build_array(json_agg(h.id), json_agg(m.sequence), json_agg(m.digest), json_agg(h.loudspeaker_id),
        json_agg(m.id), json_agg(m.kind), json_agg(m.quantity), json_agg(m.amount), json_agg(m.currency),
        json_agg(m.serial), json_agg(m.from_id), json_agg(m.undoes_id), json_agg(h.finish_key), json_agg(h.grade),
        json_agg(COALESCE(j.merged_into_id, j.id)))
      FROM holding h
        LEFT JOIN (SELECT (k.value ->> 0)::integer AS holding, (k.value ->> 1)::integer AS sequence
          FROM json_array_elements(known) AS k) k ON k.holding = h.id
        CROSS JOIN LATERAL (SELECT * FROM movement n WHERE n.holding_id = h.id
          AND n.sequence >= COALESCE(k.sequence, 1) OFFSET 0) AS m
        LEFT JOIN job j ON j.id = m.job_id
      WHERE h.loudspeaker_id = ANY (asked) AND m.kind IN ('receive', 'return', 'count', 'sell', 'write_off',
        'regrade_out', 'regrade_in', 'split_pair', 'split_in')))::text;
END $$;

CREATE FUNCTION quote_written(asked json, of_quote integer, was text, becomes text) RETURNS json LANGUAGE plpgsql
  SET search_path FROM CURRENT AS $$
DECLARE
  one record;
  number integer;
  there integer;
  serials integer;
  told json[] := '{}';
  held integer[];
  moment timestamptz;
BEGIN
  PERFORM set_config('plan_cache_mode', 'force_generic_plan', true);
  PERFORM 1 FROM quote WHERE id = of_quote AND state = was FOR UPDATE;
  IF NOT FOUND THEN
    RETURN NULL;
  END IF;
  held := ARRAY(SELECT DISTINCT (x ->> 'holding_id')::integer FROM json_array_elements(asked) AS x);
  PERFORM lock_holdings(held);
  moment := clock_timestamp();
  FOR one IN SELECT * FROM json_to_recordset(asked) AS x(loudspeaker_id integer, holding_id integer, kind text,
      quantity integer, effect integer, job_id integer, until timestamptz, reservation_id integer, quote_id integer,
      amount bigint, currency text) LOOP
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, job_id, until, reservation_id, quote_id,
        amount, currency)
      VALUES (one.loudspeaker_id, one.holding_id, one.kind, one.quantity, one.effect, one.job_id, one.until,
        one.reservation_id, one.quote_id, one.amount, one.currency)
      RETURNING id, on_hand, tracked INTO number, there, serials;
    -- which serial is promised is told the long way
    IF one.kind = 'reserve' AND serials > 0 AND serials > there - (SELECT SUM(r.rest) FROM reservation r
        WHERE r.holding_id = one.holding_id AND r.rest > 0 AND r.until > moment) THEN
      RAISE EXCEPTION 'a serial would be promised' USING ERRCODE = 'check_violation';
    END IF;
    told := told || json_build_array(number, there);
  END LOOP;
  UPDATE quote SET state = becomes WHERE id = of_quote;
  RETURN json_build_array(array_to_json(told), (SELECT COALESCE(json_agg(json_build_array(h.id,
      COALESCE((SELECT SUM(r.rest) FROM reservation r
        WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > moment), 0))), '[]')
    FROM unnest(held) AS h(id)));
END $$;

CREATE FUNCTION stock_counted(asked json, said text) RETURNS json LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
DECLARE
  before json;
  unusual boolean;
  moment timestamptz;
BEGIN
  PERFORM set_config('plan_cache_mode', 'force_generic_plan', true);
  PERFORM lock_holdings(ARRAY(SELECT (x ->> 0)::integer FROM json_array_elements(asked) AS x));
  moment := clock_timestamp();
  SELECT json_agg(e.on_hand ORDER BY x.place), bool_or((x.line ->> 1)::integer < GREATEST(e.tracked,
      COALESCE((SELECT SUM(r.rest) FROM reservation r
        WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > moment), 0))
      OR (e.on_hand = 0 AND (x.line ->> 1)::integer <> 0) OR h.loudspeaker_id <> (x.line ->> 2)::integer
      OR m.name || ' ' || COALESCE(s.name || ' ', '') || l.model <> x.line ->> 3)
    INTO before, unusual
    FROM json_array_elements(asked) WITH ORDINALITY AS x(line, place)
      JOIN holding h ON h.id = (x.line ->> 0)::integer JOIN loudspeaker l ON l.id = h.loudspeaker_id
      JOIN maker m ON m.id = l.maker_id LEFT JOIN series s ON s.id = l.series_id
      CROSS JOIN LATERAL (SELECT n.on_hand, n.tracked FROM movement n WHERE n.holding_id = h.id
        ORDER BY n.sequence DESC LIMIT 1) AS e;
  IF unusual OR json_array_length(before) IS DISTINCT FROM json_array_length(asked) THEN
    RETURN NULL;
  END IF;
  INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, note)
    SELECT (x.line ->> 2)::integer, (x.line ->> 0)::integer, 'count',
        (x.line ->> 1)::integer - (before ->> (x.place::integer - 1))::integer,
        (x.line ->> 1)::integer - (before ->> (x.place::integer - 1))::integer, said
      FROM json_array_elements(asked) WITH ORDINALITY AS x(line, place)
      WHERE (x.line ->> 1)::integer <> (before ->> (x.place::integer - 1))::integer ORDER BY x.place;
  RETURN before;
END $$;
