-- What the step 0021 adds on PostgreSQL. A paragraph is run at once; none has an empty line within.
--
-- All that a step of a quote has to know, in one look: the quote and what it may be taken from are locked first, always
-- in that order. Rows are arrays in the order in which `quote_steps.py` reads them; instants are microseconds.
CREATE FUNCTION stock_quote(asked integer) RETURNS text LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
DECLARE
  held integer[];
  moment timestamptz;
BEGIN
  PERFORM 1 FROM quote WHERE id = asked FOR UPDATE;
  held := ARRAY(SELECT DISTINCT h.id FROM quote_line l JOIN holding h ON h.loudspeaker_id = l.loudspeaker_id
    AND h.grade = l.grade WHERE l.quote_id = asked);
  PERFORM lock_holdings(held);
  moment := clock_timestamp();
  RETURN json_build_array(
    (SELECT json_build_array(q.id, q.state, q.currency, (extract(epoch FROM q.made_at) * 1000000)::bigint,
        (extract(epoch FROM q.until) * 1000000)::bigint, q.who, q.note, q.lines, q.zone, j.id, j.name,
        j.merged_into_id IS NOT NULL OR EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = j.id),
        EXISTS (SELECT 1 FROM movement m WHERE m.quote_id = q.id AND m.kind = 'sell'),
        (extract(epoch FROM moment) * 1000000)::bigint)
      FROM quote q JOIN job j ON j.id = q.job_id WHERE q.id = asked),
    (SELECT json_agg(json_build_array(l.loudspeaker_id, l.grade, l.finish, l.quantity, l.amount, l.per, l.tax,
        l.tax_rate, l.cost, l.discount, l.full_amount, m.name || ' ' || COALESCE(s.name || ' ', '') || k.model,
        CASE WHEN k.sold_as = 'pair' THEN 2 ELSE 1 END, k.status) ORDER BY l.ordinal)
      FROM quote_line l JOIN loudspeaker k ON k.id = l.loudspeaker_id JOIN maker m ON m.id = k.maker_id
        LEFT JOIN series s ON s.id = k.series_id WHERE l.quote_id = asked),
    (SELECT json_agg(json_build_array(p.zone, h.id, p.id, h.grade, h.pack, h.finish_key, e.sequence, e.on_hand,
        e.tracked, NULL, NULL, COALESCE((SELECT SUM(r.rest) FROM reservation r
          WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > moment), 0),
        h.loudspeaker_id, h.finish, p.name, p.name_key, p.loan_job_id))
      FROM holding h JOIN location p ON p.id = h.location_id
        CROSS JOIN LATERAL (SELECT * FROM movement n WHERE n.holding_id = h.id ORDER BY n.sequence DESC LIMIT 1) AS e
      WHERE h.id = ANY (held)),
    (SELECT json_agg(json_build_array(r.movement_id, r.holding_id, r.rest, r.serial, n.quote_id) ORDER BY r.movement_id)
      FROM reservation r JOIN movement n ON n.id = r.movement_id JOIN quote q ON q.id = asked
      WHERE r.holding_id = ANY (held) AND r.rest > 0 AND r.until > moment
        AND (n.quote_id = asked OR (n.quote_id IS NULL AND n.job_id = q.job_id))))::text;
END $$;

-- Lines of the ledger in their order, and what becomes of their quote, in one call; with the rights of who calls it, and
-- through the triggers.
CREATE FUNCTION stock_lines(asked json, of_quote integer, becomes text) RETURNS integer[] LANGUAGE plpgsql
  SET search_path FROM CURRENT AS $$
DECLARE
  one record;
  number integer;
  numbers integer[] := '{}';
BEGIN
  FOR one IN SELECT * FROM json_to_recordset(asked) AS x(loudspeaker_id integer, holding_id integer, kind text,
      quantity integer, effect integer, job_id integer, until timestamptz, reservation_id integer, quote_id integer,
      amount bigint, currency text) LOOP
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, job_id, until, reservation_id, quote_id,
        amount, currency)
      VALUES (one.loudspeaker_id, one.holding_id, one.kind, one.quantity, one.effect, one.job_id, one.until,
        one.reservation_id, one.quote_id, one.amount, one.currency)
      RETURNING id INTO number;
    numbers := numbers || number;
  END LOOP;
  UPDATE quote SET state = becomes WHERE id = of_quote;
  RETURN numbers;
END $$;

-- A movement of the usual kinds in one call: found by names, written, and told, with what is there then. Where anything
-- is unusual, such as a name that is not known, a serial or too few units, nothing is written and `lines` is NULL: who
-- asked goes the long way, which says what is wrong. It runs with the rights of who calls it, and through the triggers.
-- `apart` is what stays reserved for the job of a sale elsewhere, or of another sort.
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
  arrives boolean := asked_kind = 'transfer_out';
  ends boolean := asked_kind = 'release' OR (asked_kind = 'sell' AND job_key IS NOT NULL);
BEGIN
  IF asked_kind = 'send' THEN
    asked_kind := 'transfer_out';
  END IF;
  SELECT l.id, l.status, m.name || ' ' || COALESCE(s.name || ' ', '') || l.model AS called, p.zone, j.id AS job,
      p.id AS place, h.id AS holding, h.pack, l.sold_as, e.on_hand, e.tracked INTO found
    FROM loudspeaker l
    JOIN maker m ON m.id = l.maker_id
    LEFT JOIN series s ON s.id = l.series_id
    JOIN location p ON p.name_key = place_key
    JOIN holding h ON h.loudspeaker_id = l.id AND h.location_id = p.id AND h.grade = asked_grade
      AND h.pack = CASE WHEN NOT single AND l.sold_as = 'pair' THEN 2 ELSE 1 END AND h.finish_key = asked_finish
    LEFT JOIN job j ON j.name_key = job_key AND j.merged_into_id IS NULL
      AND NOT EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = j.id)
    CROSS JOIN LATERAL (SELECT n.on_hand, n.tracked FROM movement n WHERE n.holding_id = h.id
      ORDER BY n.sequence DESC LIMIT 1) AS e
    WHERE l.name_key = model_key;
  units := COALESCE(asked_units, found.pack);
  missing := units;
  IF found.holding IS NULL OR found.status IN ('last_of_line', 'discontinued')
      OR (job_key IS NOT NULL AND found.job IS NULL) OR units NOT BETWEEN 1 AND 1000000 OR units % found.pack <> 0
      OR (asked_kind IN ('sell', 'transfer_out', 'split_pair') AND found.tracked > found.on_hand - units)
      OR (asked_kind = 'split_pair' AND found.pack <> 2) THEN
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
    PERFORM lock_holdings(ARRAY[found.holding, goal]);
  ELSIF ends OR asked_kind = 'count' THEN
    PERFORM lock_holdings(ARRAY[found.holding]);
  END IF;
  IF ends THEN
    -- which of several jobs is meant, and which serial, is asked the long way
    IF EXISTS (SELECT 1 FROM reservation r JOIN movement m ON m.id = r.movement_id WHERE r.holding_id = found.holding
        AND r.rest > 0 AND r.until > clock_timestamp() AND (r.serial IS NOT NULL AND m.job_id = found.job
          OR job_key IS NULL)) THEN
      RETURN NEXT;
      RETURN;
    END IF;
  END IF;
  promised := COALESCE((SELECT SUM(r.rest) FROM reservation r
    WHERE r.holding_id = found.holding AND r.rest > 0 AND r.until > clock_timestamp()), 0);
  there := found.on_hand;
  IF asked_kind = 'count' THEN
    SELECT n.on_hand, n.tracked INTO there, part FROM movement n WHERE n.holding_id = found.holding
      ORDER BY n.sequence DESC LIMIT 1;
    missing := units - there;
    IF there = 0 OR units < GREATEST(promised, part) OR TRIM(COALESCE(said, '')) = '' THEN
      RETURN NEXT;
      RETURN;
    END IF;
  END IF;
  IF ends THEN
    part := LEAST(units, COALESCE((SELECT SUM(r.rest) FROM reservation r JOIN movement m ON m.id = r.movement_id
      WHERE r.holding_id = found.holding AND r.rest > 0 AND r.until > clock_timestamp() AND m.job_id = found.job), 0));
  ELSE
    part := 0;
  END IF;
  -- a program forgets what it has prepared where it is told of an error, so that most refusals are none
  IF (asked_kind IN ('reserve', 'transfer_out', 'split_pair', 'sell') AND units - part > there - promised)
      OR (asked_kind = 'release' AND part < units) THEN
    RETURN NEXT;
    RETURN;
  END IF;
  lines := '{}';
  IF ends THEN
    FOR kept IN SELECT r.movement_id, r.rest FROM reservation r JOIN movement m ON m.id = r.movement_id
        WHERE r.holding_id = found.holding AND r.rest > 0 AND r.until > clock_timestamp() AND m.job_id = found.job
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
    found.holding := goal;
  ELSIF arrives THEN
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, from_id, note)
      VALUES (found.id, goal, 'transfer_in', units, units, number, said)
      RETURNING id INTO number;
    lines := lines || number;
  END IF;
  IF asked_kind NOT IN ('receive', 'transfer_out', 'count') THEN
    promised := COALESCE((SELECT SUM(r.rest) FROM reservation r
      WHERE r.holding_id = found.holding AND r.rest > 0 AND r.until > clock_timestamp()), 0);
  END IF;
  IF asked_kind = 'sell' AND job_key IS NOT NULL THEN
    apart := (SELECT json_agg(json_build_array(r.rest, p.name, o.finish,
        o.pack < CASE WHEN found.sold_as = 'pair' THEN 2 ELSE 1 END, o.grade) ORDER BY r.movement_id)
      FROM holding o JOIN reservation r ON r.holding_id = o.id JOIN movement m ON m.id = r.movement_id
        JOIN location p ON p.id = o.location_id
      WHERE o.loudspeaker_id = found.id AND o.id <> found.holding AND r.rest > 0 AND r.until > clock_timestamp()
        AND m.job_id = found.job);
  END IF;
  name := found.called;
  place_zone := found.zone;
  RETURN NEXT;
END $$;

-- What was sent arrives whole, in one call; NULL in `line` where the long way has to say more.
CREATE FUNCTION stock_arrival(asked integer)
RETURNS TABLE (units integer, line integer, there integer, promised integer, name text, place_zone text, place text,
  grade text, finish text)
LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
DECLARE
  sent record;
BEGIN
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
  PERFORM lock_holdings(ARRAY[sent.goal]);
  units := sent.quantity - COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.from_id = asked), 0);
  IF units < 1 THEN
    RETURN NEXT;
    RETURN;
  END IF;
  INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, from_id)
    VALUES (sent.loudspeaker_id, sent.goal, 'transfer_in', units, units, asked)
    RETURNING id, on_hand INTO line, there;
  promised := COALESCE((SELECT SUM(r.rest) FROM reservation r
    WHERE r.holding_id = sent.goal AND r.rest > 0 AND r.until > clock_timestamp()), 0);
  name := sent.called;
  place_zone := sent.zone;
  place := sent.place;
  grade := sent.grade;
  finish := sent.finish;
  RETURN NEXT;
END $$;
