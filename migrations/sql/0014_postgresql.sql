-- What the step 0014 adds on PostgreSQL. A paragraph is run at once; none has an empty line within.
--
-- Who wrote a line is who is logged in, whatever is said, so that nobody writes in another's name. A line's digest is
-- that of the line before it in its holding, of what the holding is and of all the line says, as one JSON array: what
-- was changed afterwards no longer fits. The end of each holding stands apart, so that a last line that is gone is
-- missed. Runs after `movement_line`, which fills the line in under the holding's lock: triggers go by their names.
CREATE FUNCTION movement_sealed() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
  held record;
BEGIN
  SELECT h.location_id, h.grade, h.pack, h.finish_key, e.digest INTO held
    FROM holding h LEFT JOIN ledger_end e ON e.holding_id = h.id WHERE h.id = NEW.holding_id;
  NEW.who := session_user;
  NEW.digest := encode(sha256(convert_to(json_build_array(
    held.digest, NEW.loudspeaker_id, NEW.holding_id, held.location_id, held.grade, held.pack, held.finish_key,
    NEW.sequence, NEW.kind, NEW.quantity, NEW.effect, NEW.on_hand, NEW.tracked, NEW.job_id,
    (extract(epoch FROM NEW.until) * 1000000)::bigint, NEW.reservation_id, NEW.from_id, NEW.to_holding_id,
    NEW.order_id, NEW.quote_id, NEW.serial, NEW.serial_sequence, NEW.amount, NEW.currency,
    (extract(epoch FROM NEW.at) * 1000000)::bigint, NEW.who, NEW.note)::text, 'UTF8')), 'hex');
  INSERT INTO ledger_end (holding_id, sequence, digest) VALUES (NEW.holding_id, NEW.sequence, NEW.digest)
    ON CONFLICT (holding_id) DO UPDATE SET sequence = EXCLUDED.sequence, digest = EXCLUDED.digest;
  RETURN NEW;
END $$;
CREATE TRIGGER movement_sealed BEFORE INSERT ON movement FOR EACH ROW EXECUTE FUNCTION movement_sealed();

CREATE FUNCTION ledger_end_follows() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'the end of a holding follows from its lines' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER ledger_end_follows BEFORE INSERT OR DELETE OR UPDATE ON ledger_end
  FOR EACH ROW WHEN (pg_trigger_depth() = 0)
  EXECUTE FUNCTION ledger_end_follows();

CREATE TRIGGER ledger_end_never_truncate BEFORE TRUNCATE ON ledger_end
  FOR EACH STATEMENT EXECUTE FUNCTION ledger_end_follows();

CREATE FUNCTION quote_signed() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  NEW.who := session_user;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_signed BEFORE INSERT ON quote FOR EACH ROW EXECUTE FUNCTION quote_signed();

CREATE FUNCTION quote_who_stays() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.who IS DISTINCT FROM OLD.who OR NEW.note IS DISTINCT FROM OLD.note THEN
    RAISE EXCEPTION 'of a quote only the state changes' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_who_stays BEFORE UPDATE ON quote FOR EACH ROW EXECUTE FUNCTION quote_who_stays();

-- A movement of the usual kinds in one call: found by names, written, and told, with what is there then. Where anything
-- is unusual, such as a name that is not known, a serial or too few units, nothing is written and `lines` is NULL: who
-- asked goes the long way, which says what is wrong. It runs with the rights of who calls it, and through the triggers.
CREATE FUNCTION stock_movement(asked_kind text, model_key text, place_key text, asked_units integer, asked_grade text,
  asked_finish text, single boolean, job_key text, hold timestamptz, said text, price bigint, price_currency text,
  goal_key text)
RETURNS TABLE (name text, place_zone text, units integer, lines integer[], there integer, promised integer)
LANGUAGE plpgsql AS $$
DECLARE
  found record;
  goal integer;
  kept record;
  missing integer;
  part integer;
  number integer;
BEGIN
  SELECT l.id, l.status, m.name || ' ' || COALESCE(s.name || ' ', '') || l.model AS called, p.zone, j.id AS job,
      h.id AS holding, h.pack, e.on_hand, e.tracked INTO found
    FROM loudspeaker l
    JOIN maker m ON m.id = l.maker_id
    LEFT JOIN series s ON s.id = l.series_id
    JOIN location p ON p.name_key = place_key
    JOIN holding h ON h.loudspeaker_id = l.id AND h.location_id = p.id AND h.grade = asked_grade
      AND h.pack = CASE WHEN NOT single AND l.sold_as = 'pair' THEN 2 ELSE 1 END AND h.finish_key = asked_finish
    LEFT JOIN job j ON j.name_key = job_key
    LEFT JOIN LATERAL (SELECT * FROM movement WHERE holding_id = h.id ORDER BY sequence DESC LIMIT 1) AS e ON true
    WHERE l.name_key = model_key;
  units := COALESCE(asked_units, found.pack);
  missing := units;
  IF found.holding IS NULL OR found.on_hand IS NULL OR found.status IN ('last_of_line', 'discontinued')
      OR (job_key IS NOT NULL AND found.job IS NULL) OR units NOT BETWEEN 1 AND 1000000 OR units % found.pack <> 0
      OR (asked_kind IN ('sell', 'transfer_out') AND found.tracked > found.on_hand - units) THEN
    RETURN NEXT;
    RETURN;
  END IF;
  IF asked_kind = 'transfer_out' THEN
    SELECT h.id INTO goal FROM holding h JOIN location p ON p.id = h.location_id AND p.name_key = goal_key
      WHERE h.loudspeaker_id = found.id AND h.grade = asked_grade AND h.pack = found.pack
        AND h.finish_key = asked_finish;
    IF goal IS NULL OR goal = found.holding THEN
      RETURN NEXT;
      RETURN;
    END IF;
    PERFORM lock_holdings(ARRAY[found.holding, goal]);
  ELSIF asked_kind = 'release' OR (asked_kind = 'sell' AND job_key IS NOT NULL) THEN
    PERFORM lock_holdings(ARRAY[found.holding]);
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
  IF asked_kind IN ('reserve', 'transfer_out') AND units > there - promised THEN
    RETURN NEXT;
    RETURN;
  END IF;
  lines := '{}';
  IF asked_kind = 'release' OR (asked_kind = 'sell' AND job_key IS NOT NULL) THEN
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
  IF missing > 0 THEN
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, job_id, until, to_holding_id, amount,
        currency, note)
      VALUES (found.id, found.holding, asked_kind, missing, CASE asked_kind WHEN 'receive' THEN missing
        WHEN 'reserve' THEN 0 ELSE -missing END, found.job, hold, goal, price, price_currency, said)
      RETURNING id, on_hand INTO number, there;
    lines := lines || number;
  END IF;
  IF goal IS NOT NULL THEN
    INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect, from_id, note)
      VALUES (found.id, goal, 'transfer_in', units, units, number, said)
      RETURNING id INTO number;
    lines := lines || number;
  END IF;
  IF asked_kind NOT IN ('receive', 'transfer_out') THEN
    promised := COALESCE((SELECT SUM(r.rest) FROM reservation r
      WHERE r.holding_id = found.holding AND r.rest > 0 AND r.until > clock_timestamp()), 0);
  END IF;
  name := found.called;
  place_zone := found.zone;
  RETURN NEXT;
END $$;
