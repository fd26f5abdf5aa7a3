-- What the step 0016 adds on PostgreSQL. A paragraph is run at once; none has an empty line within.
--
-- Who wrote what, and when: each row that is made, changed or removed leaves a signature with the login, whatever is
-- said. Nobody but the trigger writes one.

CREATE FUNCTION loudspeaker_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written loudspeaker%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'loudspeaker', written.id, CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN
      'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('name_key', written.name_key, 'revision',
      written.revision, 'retired', written.retired)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER loudspeaker_signs AFTER INSERT OR DELETE OR UPDATE ON loudspeaker
  FOR EACH ROW EXECUTE FUNCTION loudspeaker_signs();

CREATE FUNCTION room_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written room%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'room', written.id, CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN 'UPDATE'
      THEN 'changed' ELSE 'removed' END, json_build_object('name_key', written.name_key)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER room_signs AFTER INSERT OR DELETE OR UPDATE ON room
  FOR EACH ROW EXECUTE FUNCTION room_signs();

CREATE FUNCTION equipment_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written equipment%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'equipment', written.id, CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN
      'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('name_key', written.name_key, 'price',
      written.price, 'currency', written.currency)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER equipment_signs AFTER INSERT OR DELETE OR UPDATE ON equipment
  FOR EACH ROW EXECUTE FUNCTION equipment_signs();

CREATE FUNCTION price_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written price%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'price', written.loudspeaker_id, CASE TG_OP WHEN 'INSERT' THEN 'made'
      WHEN 'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('amount', written.amount, 'currency',
      written.currency, 'per', written.per, 'tax', written.tax, 'valid_from', written.valid_from, 'valid_to',
      written.valid_to)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER price_signs AFTER INSERT OR DELETE OR UPDATE ON price
  FOR EACH ROW EXECUTE FUNCTION price_signs();

CREATE FUNCTION supplier_price_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written supplier_price%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'supplier_price', written.loudspeaker_id, CASE TG_OP WHEN 'INSERT' THEN
      'made' WHEN 'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('supplier_id',
      written.supplier_id, 'cost', written.cost, 'retail', written.retail, 'currency', written.currency,
      'valid_from', written.valid_from, 'valid_to', written.valid_to)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER supplier_price_signs AFTER INSERT OR DELETE OR UPDATE ON supplier_price
  FOR EACH ROW EXECUTE FUNCTION supplier_price_signs();

CREATE FUNCTION supply_order_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written supply_order%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'supply_order', written.id, CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN
      'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('loudspeaker_id', written.loudspeaker_id,
      'supplier_id', written.supplier_id, 'quantity', written.quantity, 'expected', written.expected,
      'cancelled_at', written.cancelled_at)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER supply_order_signs AFTER INSERT OR UPDATE ON supply_order
  FOR EACH ROW EXECUTE FUNCTION supply_order_signs();

CREATE FUNCTION quote_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written quote%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'quote', written.id, CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN 'UPDATE'
      THEN 'changed' ELSE 'removed' END, json_build_object('state', written.state)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER quote_signs AFTER INSERT OR UPDATE ON quote
  FOR EACH ROW EXECUTE FUNCTION quote_signs();

CREATE FUNCTION job_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written job%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'job', written.id, CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN 'UPDATE'
      THEN 'changed' ELSE 'removed' END, json_build_object('name', written.name, 'merged_into_id',
      written.merged_into_id)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER job_signs AFTER INSERT OR DELETE OR UPDATE ON job
  FOR EACH ROW EXECUTE FUNCTION job_signs();

CREATE FUNCTION location_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written location%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'location', written.id, CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN
      'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('name', written.name, 'zone',
      written.zone)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER location_signs AFTER INSERT OR DELETE OR UPDATE ON location
  FOR EACH ROW EXECUTE FUNCTION location_signs();

CREATE FUNCTION supplier_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written supplier%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'supplier', written.id, CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN
      'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('name', written.name, 'lead_time',
      written.lead_time)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER supplier_signs AFTER INSERT OR DELETE OR UPDATE ON supplier
  FOR EACH ROW EXECUTE FUNCTION supplier_signs();

CREATE FUNCTION article_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written article%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'article', written.loudspeaker_id, CASE TG_OP WHEN 'INSERT' THEN 'made'
      WHEN 'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('supplier_id', written.supplier_id,
      'finish', written.finish, 'number', written.number)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER article_signs AFTER INSERT OR DELETE OR UPDATE ON article
  FOR EACH ROW EXECUTE FUNCTION article_signs();

CREATE FUNCTION reorder_point_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written reorder_point%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'reorder_point', written.loudspeaker_id, CASE TG_OP WHEN 'INSERT' THEN
      'made' WHEN 'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('finish', written.finish, 'least',
      written.least, 'up_to', written.up_to)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER reorder_point_signs AFTER INSERT OR DELETE OR UPDATE ON reorder_point
  FOR EACH ROW EXECUTE FUNCTION reorder_point_signs();

CREATE FUNCTION signature_follows() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'a signature is of what was written, and stays' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER signature_follows BEFORE INSERT OR DELETE OR UPDATE ON signature
  FOR EACH ROW WHEN (pg_trigger_depth() = 0)
  EXECUTE FUNCTION signature_follows();

CREATE TRIGGER signature_never_truncate BEFORE TRUNCATE ON signature
  FOR EACH STATEMENT EXECUTE FUNCTION signature_follows();

-- What a line takes back or carries on is of the same loudspeaker, and was before it.
CREATE FUNCTION movement_rules() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.undoes_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM movement m WHERE m.id = NEW.undoes_id
      AND m.loudspeaker_id = NEW.loudspeaker_id) THEN
    RAISE EXCEPTION 'a line takes back one of the same loudspeaker' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.carries_id IS NOT NULL AND (NEW.kind <> 'reserve' OR NOT EXISTS (SELECT 1 FROM movement m
      JOIN movement e ON e.reservation_id = m.id WHERE m.id = NEW.carries_id AND m.kind = 'reserve'
      AND m.loudspeaker_id = NEW.loudspeaker_id
      AND NEW.job_id IN (m.job_id, (SELECT j.merged_into_id FROM job j WHERE j.id = m.job_id))
      AND m.quote_id IS NOT DISTINCT FROM NEW.quote_id)) THEN
    RAISE EXCEPTION 'a promise carries on one for the same job, which ended' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER movement_rules BEFORE INSERT ON movement
  FOR EACH ROW WHEN (NEW.undoes_id IS NOT NULL OR NEW.carries_id IS NOT NULL)
  EXECUTE FUNCTION movement_rules();

CREATE FUNCTION supply_order_finish_kept() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.finish IS DISTINCT FROM OLD.finish THEN
    RAISE EXCEPTION 'of an order only the date can change, or that it is cancelled' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER supply_order_finish_kept BEFORE UPDATE ON supply_order
  FOR EACH ROW EXECUTE FUNCTION supply_order_finish_kept();

CREATE FUNCTION quote_zone_kept() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.zone IS DISTINCT FROM OLD.zone THEN
    RAISE EXCEPTION 'of a quote only the state changes' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_zone_kept BEFORE UPDATE ON quote FOR EACH ROW EXECUTE FUNCTION quote_zone_kept();

-- A job that was made another's stays so, and one that is another's has none of its own.
CREATE FUNCTION job_merged() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.merged_into_id IS NULL OR NEW.merged_into_id = NEW.id
      OR EXISTS (SELECT 1 FROM job o WHERE o.id = NEW.merged_into_id AND o.merged_into_id IS NOT NULL)
      OR EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = NEW.id) THEN
    RAISE EXCEPTION 'a job stays merged, into one that is not' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER job_merged BEFORE UPDATE ON job
  FOR EACH ROW WHEN (NEW.merged_into_id IS DISTINCT FROM OLD.merged_into_id)
  EXECUTE FUNCTION job_merged();

-- What a line takes back or carries on is among what its digest is of, where there is any.
CREATE FUNCTION movement_sealed() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
  held record;
  said text;
BEGIN
  SELECT h.location_id, h.grade, h.pack, h.finish_key, e.digest INTO held
    FROM holding h LEFT JOIN ledger_end e ON e.holding_id = h.id WHERE h.id = NEW.holding_id;
  NEW.who := session_user;
  said := json_build_array(
    held.digest, NEW.loudspeaker_id, NEW.holding_id, held.location_id, held.grade, held.pack, held.finish_key,
    NEW.sequence, NEW.kind, NEW.quantity, NEW.effect, NEW.on_hand, NEW.tracked, NEW.job_id,
    (extract(epoch FROM NEW.until) * 1000000)::bigint, NEW.reservation_id, NEW.from_id, NEW.to_holding_id,
    NEW.order_id, NEW.quote_id, NEW.serial, NEW.serial_sequence, NEW.amount, NEW.currency,
    (extract(epoch FROM NEW.at) * 1000000)::bigint, NEW.who, NEW.note)::text;
  IF NEW.undoes_id IS NOT NULL OR NEW.carries_id IS NOT NULL THEN
    said := rtrim(said, ']') || ', ' || ltrim(json_build_array(NEW.undoes_id, NEW.carries_id)::text, '[');
  END IF;
  NEW.digest := encode(sha256(convert_to(said, 'UTF8')), 'hex');
  INSERT INTO ledger_end (holding_id, sequence, digest) VALUES (NEW.holding_id, NEW.sequence, NEW.digest)
    ON CONFLICT (holding_id) DO UPDATE SET sequence = EXCLUDED.sequence, digest = EXCLUDED.digest;
  RETURN NEW;
END $$;

-- As it was, but that what came of an order and was undone is still to come.
CREATE FUNCTION movement_line() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
  held record;
  refused text;
BEGIN
  -- What is read after the lock is what the one before has written, which one fixed snapshot never shows.
  IF current_setting('transaction_isolation') = 'repeatable read' THEN
    RAISE EXCEPTION 'write to the ledger at READ COMMITTED or SERIALIZABLE' USING ERRCODE = 'check_violation';
  END IF;
  IF NOT pg_try_advisory_xact_lock(1953655152, NEW.holding_id) THEN
    PERFORM pg_advisory_xact_lock(1953655152, NEW.holding_id);
  END IF;
  IF NEW.from_id IS NOT NULL AND NOT pg_try_advisory_xact_lock(1953655152 + 1, NEW.from_id) THEN
    PERFORM pg_advisory_xact_lock(1953655152 + 1, NEW.from_id);
  END IF;
  IF NEW.order_id IS NOT NULL THEN
    PERFORM 1 FROM supply_order WHERE id = NEW.order_id FOR NO KEY UPDATE;
  END IF;
  SELECT h.pack, h.grade, m.sequence, m.on_hand, m.tracked, m.at INTO held
    FROM holding h LEFT JOIN LATERAL (
      SELECT * FROM movement WHERE holding_id = NEW.holding_id ORDER BY sequence DESC LIMIT 1
    ) AS m ON true WHERE h.id = NEW.holding_id;
  -- Running totals: each line follows the last of its holding, so that what is on hand is one look at the last line.
  -- Whoever leaves them out has them filled in; else they are held to what they must be.
  IF NEW.sequence IS NULL THEN
    NEW.at := GREATEST(COALESCE(NEW.at, clock_timestamp()), held.at);
    NEW.sequence := COALESCE(held.sequence, 0) + 1;
    NEW.on_hand := COALESCE(held.on_hand, 0) + NEW.effect;
    NEW.tracked := COALESCE(held.tracked, 0);
    IF NEW.serial IS NOT NULL THEN
      NEW.tracked := NEW.tracked + NEW.effect;
      NEW.serial_sequence := 1 + COALESCE((SELECT MAX(m.serial_sequence) FROM movement m
        WHERE m.loudspeaker_id = NEW.loudspeaker_id AND m.serial = NEW.serial), 0);
    END IF;
  ELSE
    refused := CASE
      WHEN NEW.sequence <> 1 + COALESCE(held.sequence, 0)
        THEN 'each line of a holding follows the last'
      WHEN NEW.on_hand <> NEW.effect + COALESCE(held.on_hand, 0)
        THEN 'on hand is the sum of the movements'
      WHEN NEW.tracked <> CASE WHEN NEW.serial IS NULL THEN 0 ELSE NEW.effect END + COALESCE(held.tracked, 0)
        THEN 'tracked is the sum of the movements with a serial'
      WHEN NEW.at < held.at
        THEN 'the time of a line is not before that of the last'
    END;
    IF refused IS NOT NULL THEN
      RAISE EXCEPTION '%', refused USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  refused := CASE
    -- What the CHECKs of the table say on SQLite, by their names.
    WHEN NOT (NEW.kind IN ('receive', 'return', 'transfer_in', 'count', 'regrade_in', 'split_in',
        'sell', 'transfer_out', 'regrade_out', 'split_pair', 'write_off', 'reserve', 'release'))
      THEN 'ck_movement_kind'
    WHEN NOT (NEW.effect = CASE
        WHEN NEW.kind IN ('receive', 'return', 'transfer_in', 'count', 'regrade_in', 'split_in') THEN NEW.quantity
        WHEN NEW.kind IN ('sell', 'transfer_out', 'regrade_out', 'split_pair', 'write_off') THEN -NEW.quantity
        ELSE 0 END)
      THEN 'ck_movement_effect_of_kind'
    WHEN NOT (NEW.kind <> 'release' OR NEW.reservation_id IS NOT NULL)
      THEN 'ck_movement_release_of_a_reservation'
    WHEN NOT (NEW.kind <> 'reserve' OR (NEW.job_id IS NOT NULL AND NEW.until IS NOT NULL))
      THEN 'ck_movement_reserve_for_a_job'
    WHEN NOT (NEW.quantity > 0 OR (NEW.kind = 'count' AND NEW.quantity <> 0))
      THEN 'ck_movement_quantity_counts'
    WHEN NOT (NEW.reservation_id IS NULL OR NEW.kind IN ('release', 'sell'))
      THEN 'ck_movement_reservation_ends'
    WHEN NOT (NEW.serial <> '')
      THEN 'ck_movement_serial_named'
    WHEN NOT (NEW.until IS NULL OR NEW.kind = 'reserve')
      THEN 'ck_movement_until_of_a_reservation'
    WHEN NOT ((NEW.serial IS NULL) = (NEW.serial_sequence IS NULL))
      THEN 'ck_movement_serial_whole'
    WHEN NOT (NEW.amount IS NULL OR (NEW.amount >= 0 AND NEW.currency IS NOT NULL))
      THEN 'ck_movement_amount_in_a_currency'
    WHEN NOT (NEW.on_hand >= 0)
      THEN 'ck_movement_on_hand_not_negative'
    WHEN NOT (NEW.sequence >= 1)
      THEN 'ck_movement_sequence_from_one'
    WHEN NOT (NEW.tracked >= 0 AND NEW.tracked <= NEW.on_hand)
      THEN 'ck_movement_tracked_on_hand'
    WHEN NEW.at < '0001-01-02 00:00:00+00' OR NEW.at >= '9999-12-31 00:00:00+00'
      THEN 'movement.at is no instant'
    WHEN NEW.until < '0001-01-02 00:00:00+00' OR NEW.until >= '9999-12-31 00:00:00+00'
      THEN 'movement.until is no instant'
    -- What each kind of movement needs. A clock may be a little ahead, hence the minute.
    WHEN NEW.at > clock_timestamp() + interval '1 minute'
      THEN 'a movement is not of the future'
    WHEN NEW.quantity % held.pack <> 0
      THEN 'pairs move in pairs'
    WHEN NEW.serial IS NOT NULL AND ABS(NEW.quantity) <> held.pack
      THEN 'a serial names one'
    WHEN NEW.kind IN ('reserve', 'sell') AND held.grade = 'quarantine'
      THEN 'what is in quarantine is neither sold nor promised'
    WHEN NEW.kind = 'split_pair' AND (held.pack <> 2 OR NEW.quantity <> 2)
      THEN 'only a pair can be split'
    WHEN NEW.kind = 'split_in' AND NEW.serial IS NULL
      THEN 'a single of a pair has a serial'
    WHEN NEW.kind = 'return' AND held.grade <> 'quarantine'
      THEN 'a return goes to quarantine first'
    WHEN NEW.kind IN ('count', 'write_off') AND TRIM(COALESCE(NEW.note, '')) = ''
      THEN 'a count or write-off has a reason'
    WHEN (NEW.kind IN ('transfer_out', 'regrade_out', 'split_pair')) <> (NEW.to_holding_id IS NOT NULL)
      THEN 'what leaves for elsewhere says where'
    WHEN NEW.from_id IS NOT NULL AND NEW.kind NOT IN ('transfer_in', 'regrade_in', 'split_in')
      THEN 'only what comes from elsewhere names what left'
    WHEN NEW.kind = 'reserve' AND NEW.until <= NEW.at
      THEN 'a reservation ends in the future'
  END;
  IF refused IS NOT NULL THEN
    RAISE EXCEPTION '%', refused USING ERRCODE = 'check_violation';
  END IF;
  -- Nothing is made on the way: what arrives has left.
  IF NEW.from_id IS NOT NULL THEN
    IF NEW.quantity + COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.from_id = NEW.from_id), 0)
        > (SELECT s.quantity FROM movement s WHERE s.id = NEW.from_id) THEN
      RAISE EXCEPTION 'no more arrives than left' USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  IF NEW.kind IN ('transfer_in', 'regrade_in', 'split_in') THEN
    IF NOT EXISTS (SELECT 1 FROM movement s WHERE s.id = NEW.from_id AND s.to_holding_id = NEW.holding_id
        AND s.kind = CASE NEW.kind
          WHEN 'transfer_in' THEN 'transfer_out' WHEN 'regrade_in' THEN 'regrade_out' ELSE 'split_pair' END
        AND (NEW.kind = 'split_in' OR COALESCE(s.serial, '') = COALESCE(NEW.serial, ''))) THEN
      RAISE EXCEPTION 'what comes from elsewhere names what left for here' USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  IF NEW.order_id IS NOT NULL THEN
    IF NOT EXISTS (SELECT 1 FROM supply_order o WHERE o.id = NEW.order_id
        AND NEW.kind = 'receive' AND o.loudspeaker_id = NEW.loudspeaker_id AND o.cancelled_at IS NULL
        AND o.quantity >= NEW.quantity
          + COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.order_id = NEW.order_id
            AND NOT EXISTS (SELECT 1 FROM movement u WHERE u.undoes_id = a.id)), 0)) THEN
      RAISE EXCEPTION 'an order brings what was ordered, and no more' USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  IF NEW.reservation_id IS NOT NULL THEN
    IF NOT EXISTS (SELECT 1 FROM reservation r WHERE r.movement_id = NEW.reservation_id
        AND r.holding_id = NEW.holding_id AND r.rest > 0 AND r.until > NEW.at
        AND r.rest >= NEW.quantity AND (r.serial IS NULL OR r.serial = NEW.serial)) THEN
      RAISE EXCEPTION 'a reservation that lapsed, ended or holds less cannot be used' USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  -- A serial is one box: its lines are a chain too, and it is in one place and promised to one.
  IF NEW.serial IS NOT NULL THEN
    IF NEW.serial_sequence <> 1 + COALESCE((SELECT MAX(serial_sequence) FROM movement
        WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial), 0) THEN
      RAISE EXCEPTION 'each line of a serial follows the last' USING ERRCODE = 'check_violation';
    END IF;
    IF NEW.effect > 0 AND (
        COALESCE((SELECT effect FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
          AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1), -1) > 0
        OR ((SELECT to_holding_id FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
            AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1) IS NOT NULL
          AND (SELECT id FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
            AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1) <> COALESCE(NEW.from_id, 0))) THEN
      RAISE EXCEPTION 'a serial is in one place: it is there already, or on its way' USING ERRCODE = 'check_violation';
    END IF;
    IF NEW.effect <= 0 AND NEW.kind <> 'release' AND (
        COALESCE((SELECT effect FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
          AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1), -1) < 0
        OR (SELECT holding_id FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
          AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1) <> NEW.holding_id) THEN
      RAISE EXCEPTION 'a serial is in one place: it is not here' USING ERRCODE = 'check_violation';
    END IF;
    IF (NEW.effect < 0 OR NEW.kind = 'reserve') AND EXISTS (SELECT 1 FROM reservation r
        WHERE r.holding_id = NEW.holding_id AND r.rest > 0 AND r.until > NEW.at
        AND r.serial = NEW.serial AND r.movement_id <> COALESCE(NEW.reservation_id, 0)) THEN
      RAISE EXCEPTION 'a serial is promised once' USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  IF NEW.to_holding_id IS NOT NULL THEN
    IF NEW.loudspeaker_id <> (SELECT loudspeaker_id FROM holding WHERE id = NEW.to_holding_id) THEN
      RAISE EXCEPTION 'it stays the same model' USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  RETURN NEW;
END $$;

-- As it was, but that what concerns jobs that were merged, or hold more than is sold, goes the long way.
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
    LEFT JOIN job j ON j.name_key = job_key AND j.merged_into_id IS NULL
      AND NOT EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = j.id)
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
    -- what stays reserved for the job elsewhere, or of another sort, is told the long way
    IF asked_kind = 'sell' AND EXISTS (SELECT 1 FROM holding o JOIN reservation r ON r.holding_id = o.id
        JOIN movement m ON m.id = r.movement_id WHERE o.loudspeaker_id = found.id AND o.id <> found.holding
        AND r.rest > 0 AND r.until > clock_timestamp() AND m.job_id = found.job) THEN
      RETURN NEXT;
      RETURN;
    END IF;
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
