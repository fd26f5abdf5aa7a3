-- What a PostgreSQL catalogue refuses, whoever writes it. A paragraph is run at once; none has an empty line within.
--
-- A trigger's function runs with the rights of whoever owns the tables, so that a seller may write the ledger, and
-- nothing that follows from it. `..._real_...`: dates and times have infinity and years that nothing else can read.
-- `..._never_...`: what was written stays, and TRUNCATE is a DELETE.

-- Prices of one owner never hold at one time, or what a loudspeaker costs would be two things. `valid_to` is the first
-- day on which a price no longer holds. Ranges of one number stand in for `=`, which gist lacks without an extension.
ALTER TABLE price ADD CONSTRAINT ex_price_time EXCLUDE USING gist (
  int4range(loudspeaker_id, loudspeaker_id, '[]') WITH &&, daterange(valid_from, valid_to) WITH &&);

CREATE FUNCTION price_real_insert() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.valid_from NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'price.valid_from is no day' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.valid_to NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'price.valid_to is no day' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER price_real_insert BEFORE INSERT ON price FOR EACH ROW EXECUTE FUNCTION price_real_insert();

CREATE FUNCTION price_real_update() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.valid_from NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'price.valid_from is no day' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.valid_to NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'price.valid_to is no day' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER price_real_update BEFORE UPDATE OF valid_from, valid_to ON price
  FOR EACH ROW EXECUTE FUNCTION price_real_update();

ALTER TABLE supplier_price ADD CONSTRAINT ex_supplier_price_time EXCLUDE USING gist (
  int4range(supplier_id, supplier_id, '[]') WITH &&, int4range(loudspeaker_id, loudspeaker_id, '[]') WITH &&,
  daterange(valid_from, valid_to) WITH &&);

CREATE FUNCTION supplier_price_real_insert() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.valid_from NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'supplier_price.valid_from is no day' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.valid_to NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'supplier_price.valid_to is no day' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER supplier_price_real_insert BEFORE INSERT ON supplier_price
  FOR EACH ROW EXECUTE FUNCTION supplier_price_real_insert();

CREATE FUNCTION supplier_price_real_update() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.valid_from NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'supplier_price.valid_from is no day' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.valid_to NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'supplier_price.valid_to is no day' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER supplier_price_real_update BEFORE UPDATE OF valid_from, valid_to ON supplier_price
  FOR EACH ROW EXECUTE FUNCTION supplier_price_real_update();

-- Orders from suppliers: nothing is ordered that is made no more, and an order stays as it was given.
CREATE FUNCTION supply_order_current() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  IF (SELECT status FROM loudspeaker WHERE id = NEW.loudspeaker_id) IN ('discontinued', 'last_of_line') THEN
    RAISE EXCEPTION 'a model that is discontinued or last of its line is never back-ordered'
      USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER supply_order_current BEFORE INSERT ON supply_order FOR EACH ROW EXECUTE FUNCTION supply_order_current();

CREATE FUNCTION supply_order_kept() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.id <> OLD.id OR NEW.loudspeaker_id <> OLD.loudspeaker_id OR NEW.supplier_id <> OLD.supplier_id
    OR NEW.quantity <> OLD.quantity OR OLD.cancelled_at IS NOT NULL THEN
    RAISE EXCEPTION 'of an order only the date can change, or that it is cancelled' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER supply_order_kept BEFORE UPDATE ON supply_order FOR EACH ROW EXECUTE FUNCTION supply_order_kept();

CREATE FUNCTION supply_order_never_delete() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'an order is cancelled, not deleted' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER supply_order_never_delete BEFORE DELETE ON supply_order
  FOR EACH ROW EXECUTE FUNCTION supply_order_never_delete();

CREATE FUNCTION supply_order_real_insert() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  IF NOT (NEW.cancelled_at >= '0001-01-02 00:00:00+00' AND NEW.cancelled_at < '9999-12-31 00:00:00+00') THEN
    RAISE EXCEPTION 'supply_order.cancelled_at is no instant' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.expected NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'supply_order.expected is no day' USING ERRCODE = 'check_violation';
  END IF;
  IF NOT (NEW.ordered_at >= '0001-01-02 00:00:00+00' AND NEW.ordered_at < '9999-12-31 00:00:00+00') THEN
    RAISE EXCEPTION 'supply_order.ordered_at is no instant' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER supply_order_real_insert BEFORE INSERT ON supply_order
  FOR EACH ROW EXECUTE FUNCTION supply_order_real_insert();

CREATE FUNCTION supply_order_real_update() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  IF NOT (NEW.cancelled_at >= '0001-01-02 00:00:00+00' AND NEW.cancelled_at < '9999-12-31 00:00:00+00') THEN
    RAISE EXCEPTION 'supply_order.cancelled_at is no instant' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.expected NOT BETWEEN '0001-01-01' AND '9999-12-31' THEN
    RAISE EXCEPTION 'supply_order.expected is no day' USING ERRCODE = 'check_violation';
  END IF;
  IF NOT (NEW.ordered_at >= '0001-01-02 00:00:00+00' AND NEW.ordered_at < '9999-12-31 00:00:00+00') THEN
    RAISE EXCEPTION 'supply_order.ordered_at is no instant' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER supply_order_real_update BEFORE UPDATE OF ordered_at, cancelled_at, expected ON supply_order
  FOR EACH ROW EXECUTE FUNCTION supply_order_real_update();

-- Quotes: a customer was told these prices, so a quote keeps its lines, and its state only goes forward.
CREATE FUNCTION quote_forward() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NOT (OLD.state = 'open' AND NEW.state IN ('accepted', 'lapsed')
    OR OLD.state = 'accepted' AND NEW.state IN ('sold', 'lapsed')) THEN
    RAISE EXCEPTION 'a quote goes from open to accepted to sold, or lapses' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.currency <> OLD.currency
    OR NEW.made_at <> OLD.made_at OR NEW.until <> OLD.until THEN
    RAISE EXCEPTION 'of a quote only the state changes' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_forward BEFORE UPDATE ON quote FOR EACH ROW EXECUTE FUNCTION quote_forward();

CREATE FUNCTION quote_never_delete() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'a quote is lapsed, not deleted' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER quote_never_delete BEFORE DELETE ON quote FOR EACH ROW EXECUTE FUNCTION quote_never_delete();

CREATE FUNCTION quote_begins() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.state <> 'open' THEN
    RAISE EXCEPTION 'a quote begins open' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_begins BEFORE INSERT ON quote FOR EACH ROW EXECUTE FUNCTION quote_begins();

-- `lines` is how many it was made with; unknown of the oldest, which take no more.
CREATE FUNCTION quote_whole() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.lines IS DISTINCT FROM OLD.lines THEN
    RAISE EXCEPTION 'of a quote only the state changes' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.state = 'accepted' AND NEW.lines <> (SELECT COUNT(*) FROM quote_line l WHERE l.quote_id = NEW.id) THEN
    RAISE EXCEPTION 'a quote is accepted with all its lines' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_whole BEFORE UPDATE ON quote FOR EACH ROW EXECUTE FUNCTION quote_whole();

CREATE FUNCTION quote_real_insert() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NOT (NEW.made_at >= '0001-01-02 00:00:00+00' AND NEW.made_at < '9999-12-31 00:00:00+00') THEN
    RAISE EXCEPTION 'quote.made_at is no instant' USING ERRCODE = 'check_violation';
  END IF;
  IF NOT (NEW.until >= '0001-01-02 00:00:00+00' AND NEW.until < '9999-12-31 00:00:00+00') THEN
    RAISE EXCEPTION 'quote.until is no instant' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_real_insert BEFORE INSERT ON quote FOR EACH ROW EXECUTE FUNCTION quote_real_insert();

CREATE FUNCTION quote_real_update() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NOT (NEW.made_at >= '0001-01-02 00:00:00+00' AND NEW.made_at < '9999-12-31 00:00:00+00') THEN
    RAISE EXCEPTION 'quote.made_at is no instant' USING ERRCODE = 'check_violation';
  END IF;
  IF NOT (NEW.until >= '0001-01-02 00:00:00+00' AND NEW.until < '9999-12-31 00:00:00+00') THEN
    RAISE EXCEPTION 'quote.until is no instant' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_real_update BEFORE UPDATE OF made_at, until ON quote
  FOR EACH ROW EXECUTE FUNCTION quote_real_update();

CREATE FUNCTION quote_line_never_update() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'a quote keeps its prices' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER quote_line_never_update BEFORE UPDATE ON quote_line
  FOR EACH ROW EXECUTE FUNCTION quote_line_never_update();

CREATE FUNCTION quote_line_never_delete() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'a quote keeps its prices' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER quote_line_never_delete BEFORE DELETE ON quote_line
  FOR EACH ROW EXECUTE FUNCTION quote_line_never_delete();

CREATE TRIGGER quote_line_never_truncate BEFORE TRUNCATE ON quote_line
  FOR EACH STATEMENT EXECUTE FUNCTION quote_line_never_delete();

-- Whoever waits for a lock must see what the other wrote meanwhile, which one fixed snapshot never shows.
CREATE FUNCTION quote_line_open() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF current_setting('transaction_isolation') = 'repeatable read' THEN
    RAISE EXCEPTION 'write to the ledger at READ COMMITTED or SERIALIZABLE' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.quote_id IS NOT NULL THEN
    PERFORM 1 FROM quote WHERE id = NEW.quote_id FOR NO KEY UPDATE;
  END IF;
  IF COALESCE((SELECT q.state FROM quote q WHERE q.id = NEW.quote_id), '') <> 'open' THEN
    RAISE EXCEPTION 'only an open quote takes lines' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.ordinal NOT BETWEEN 1 AND COALESCE((SELECT q.lines FROM quote q WHERE q.id = NEW.quote_id), 0)
    OR (SELECT COUNT(*) FROM quote_line l WHERE l.quote_id = NEW.quote_id)
      >= COALESCE((SELECT q.lines FROM quote q WHERE q.id = NEW.quote_id), 0) THEN
    RAISE EXCEPTION 'the quote has all its lines' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER quote_line_open BEFORE INSERT ON quote_line FOR EACH ROW EXECUTE FUNCTION quote_line_open();

-- Holdings: a line of the ledger means what its holding says, so a holding never becomes another.
CREATE FUNCTION holding_never_update() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'a holding never changes' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER holding_never_update BEFORE UPDATE ON holding FOR EACH ROW EXECUTE FUNCTION holding_never_update();

CREATE FUNCTION holding_never_delete() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'a holding never changes' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER holding_never_delete BEFORE DELETE ON holding FOR EACH ROW EXECUTE FUNCTION holding_never_delete();

CREATE TRIGGER holding_never_truncate BEFORE TRUNCATE ON holding
  FOR EACH STATEMENT EXECUTE FUNCTION holding_never_delete();

-- The ledger is only added to: what was is never written over, and a mistake is mended by another line.
CREATE FUNCTION movement_never_update() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'the ledger is only added to' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER movement_never_update BEFORE UPDATE ON movement FOR EACH ROW EXECUTE FUNCTION movement_never_update();

CREATE FUNCTION movement_never_delete() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'the ledger is only added to' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER movement_never_delete BEFORE DELETE ON movement FOR EACH ROW EXECUTE FUNCTION movement_never_delete();

CREATE TRIGGER movement_never_truncate BEFORE TRUNCATE ON movement
  FOR EACH STATEMENT EXECUTE FUNCTION movement_never_delete();

-- One line of the ledger, looked at in one go under one lock. A CHECK is parsed anew for each statement, and thirteen
-- took longer than writing the line: so a movement's are here, where they are parsed once a connection, and whatever
-- can be told without asking a table is one expression. A locked row would be written twice: so whoever writes a
-- holding holds a lock of the server's own on its number; the first key, the letters "trip", tells ours from others'.
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
          + COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.order_id = NEW.order_id), 0)) THEN
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
CREATE TRIGGER movement_line BEFORE INSERT ON movement FOR EACH ROW EXECUTE FUNCTION movement_line();

-- Reservations follow from the lines, and what is promised after a line is never more than what is there. A line that
-- neither takes, promises nor ends a promise cannot break that.
CREATE FUNCTION movement_follows() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.until IS NOT NULL THEN
    INSERT INTO reservation (movement_id, holding_id, until, rest, serial)
      VALUES (NEW.id, NEW.holding_id, NEW.until, NEW.quantity, NEW.serial);
  END IF;
  IF NEW.reservation_id IS NOT NULL THEN
    UPDATE reservation SET rest = rest - NEW.quantity WHERE movement_id = NEW.reservation_id;
  END IF;
  IF NEW.kind <> 'release' THEN
    IF NEW.on_hand < COALESCE((SELECT SUM(r.rest) FROM reservation r
        WHERE r.holding_id = NEW.holding_id AND r.rest > 0 AND r.until > NEW.at), 0) THEN
      RAISE EXCEPTION 'reserved never exceeds on hand' USING ERRCODE = 'check_violation';
    END IF;
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER movement_follows AFTER INSERT ON movement
  FOR EACH ROW WHEN (NEW.effect < 0 OR NEW.until IS NOT NULL OR NEW.reservation_id IS NOT NULL)
  EXECUTE FUNCTION movement_follows();

-- Whoever writes a reservation writes what the ledger says. Of what the trigger above writes that is known.
CREATE FUNCTION reservation_made() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NOT EXISTS (SELECT 1 FROM movement m WHERE m.id = NEW.movement_id AND m.kind = 'reserve'
      AND m.holding_id = NEW.holding_id AND m.until = NEW.until AND m.quantity = NEW.rest
      AND COALESCE(m.serial, '') = COALESCE(NEW.serial, '')) THEN
    RAISE EXCEPTION 'a reservation stands in the ledger first' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER reservation_made BEFORE INSERT ON reservation
  FOR EACH ROW WHEN (pg_trigger_depth() = 0)
  EXECUTE FUNCTION reservation_made();

CREATE FUNCTION reservation_left() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NEW.movement_id <> OLD.movement_id OR NEW.holding_id <> OLD.holding_id OR NEW.until <> OLD.until
    OR COALESCE(NEW.serial, '') <> COALESCE(OLD.serial, '')
    OR NEW.rest <> (SELECT m.quantity - COALESCE((SELECT SUM(e.quantity) FROM movement e
      WHERE e.reservation_id = m.id), 0) FROM movement m WHERE m.id = NEW.movement_id) THEN
    RAISE EXCEPTION 'what is left of a reservation is what the ledger says' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER reservation_left BEFORE UPDATE ON reservation
  FOR EACH ROW WHEN (pg_trigger_depth() = 0)
  EXECUTE FUNCTION reservation_left();

CREATE FUNCTION reservation_never_delete() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION 'a reservation is released, not deleted' USING ERRCODE = 'check_violation';
END $$;
CREATE TRIGGER reservation_never_delete BEFORE DELETE ON reservation
  FOR EACH ROW EXECUTE FUNCTION reservation_never_delete();

CREATE TRIGGER reservation_never_truncate BEFORE TRUNCATE ON reservation
  FOR EACH STATEMENT EXECUTE FUNCTION reservation_never_delete();

-- Locks of several holdings, always taken in one order, so that no two wait for each other.
CREATE FUNCTION lock_holdings(numbers integer[]) RETURNS void LANGUAGE plpgsql AS $$
DECLARE
  number integer;
BEGIN
  FOR number IN SELECT DISTINCT n FROM unnest(numbers) AS n ORDER BY n LOOP
    PERFORM pg_advisory_xact_lock(1953655152, number);
  END LOOP;
END $$;
