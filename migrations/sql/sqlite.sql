-- What a SQLite catalogue refuses, whoever writes it. One statement a paragraph; none has an empty line within.
--
-- Three families recur. `..._once`: INSERT OR REPLACE takes the old row away, and no DELETE trigger is told of it, so a
-- number or key that is there already is refused; before a row is in, SQLite shows -1 where it is to choose the number.
-- `..._real_...`: SQLite has no type for days and instants and takes any text; strftime only counts a day that doesn't
-- exist on into the next month where it has something to add, hence '+0 days'. `..._never_...`: what was written stays.
-- A trigger whose rules speak only of rows that have something says so in WHEN, since most rows don't.

-- Prices of one owner never hold at one time, or what a loudspeaker costs would be two things. `valid_to` is the first
-- day on which a price no longer holds.
CREATE TRIGGER price_time_insert AFTER INSERT ON price BEGIN
  SELECT RAISE(ABORT, 'ex_price_time: two prices hold at one time')
  WHERE EXISTS (SELECT 1 FROM price WHERE loudspeaker_id = NEW.loudspeaker_id
    AND id <> NEW.id AND valid_from < COALESCE(NEW.valid_to, '9999-12-31')
    AND COALESCE(valid_to, '9999-12-31') > NEW.valid_from);
END;

CREATE TRIGGER price_time_update AFTER UPDATE ON price BEGIN
  SELECT RAISE(ABORT, 'ex_price_time: two prices hold at one time')
  WHERE EXISTS (SELECT 1 FROM price WHERE loudspeaker_id = NEW.loudspeaker_id
    AND id <> NEW.id AND valid_from < COALESCE(NEW.valid_to, '9999-12-31')
    AND COALESCE(valid_to, '9999-12-31') > NEW.valid_from);
END;

CREATE TRIGGER price_real_insert_valid_from BEFORE INSERT ON price WHEN NEW.valid_from IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'price.valid_from is no day')
  WHERE NEW.valid_from NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.valid_from IS NOT date(NEW.valid_from, '+0 days');
END;

CREATE TRIGGER price_real_insert_valid_to BEFORE INSERT ON price WHEN NEW.valid_to IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'price.valid_to is no day')
  WHERE NEW.valid_to NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.valid_to IS NOT date(NEW.valid_to, '+0 days');
END;

CREATE TRIGGER price_real_update_valid_from BEFORE UPDATE OF valid_from, valid_to ON price
WHEN NEW.valid_from IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'price.valid_from is no day')
  WHERE NEW.valid_from NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.valid_from IS NOT date(NEW.valid_from, '+0 days');
END;

CREATE TRIGGER price_real_update_valid_to BEFORE UPDATE OF valid_from, valid_to ON price
WHEN NEW.valid_to IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'price.valid_to is no day')
  WHERE NEW.valid_to NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.valid_to IS NOT date(NEW.valid_to, '+0 days');
END;

CREATE TRIGGER supplier_price_time_insert AFTER INSERT ON supplier_price BEGIN
  SELECT RAISE(ABORT, 'ex_supplier_price_time: two prices hold at one time')
  WHERE EXISTS (SELECT 1 FROM supplier_price WHERE supplier_id = NEW.supplier_id AND loudspeaker_id = NEW.loudspeaker_id
    AND id <> NEW.id AND valid_from < COALESCE(NEW.valid_to, '9999-12-31')
    AND COALESCE(valid_to, '9999-12-31') > NEW.valid_from);
END;

CREATE TRIGGER supplier_price_time_update AFTER UPDATE ON supplier_price BEGIN
  SELECT RAISE(ABORT, 'ex_supplier_price_time: two prices hold at one time')
  WHERE EXISTS (SELECT 1 FROM supplier_price WHERE supplier_id = NEW.supplier_id AND loudspeaker_id = NEW.loudspeaker_id
    AND id <> NEW.id AND valid_from < COALESCE(NEW.valid_to, '9999-12-31')
    AND COALESCE(valid_to, '9999-12-31') > NEW.valid_from);
END;

CREATE TRIGGER supplier_price_real_insert_valid_from BEFORE INSERT ON supplier_price
WHEN NEW.valid_from IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supplier_price.valid_from is no day')
  WHERE NEW.valid_from NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.valid_from IS NOT date(NEW.valid_from, '+0 days');
END;

CREATE TRIGGER supplier_price_real_insert_valid_to BEFORE INSERT ON supplier_price WHEN NEW.valid_to IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supplier_price.valid_to is no day')
  WHERE NEW.valid_to NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.valid_to IS NOT date(NEW.valid_to, '+0 days');
END;

CREATE TRIGGER supplier_price_real_update_valid_from BEFORE UPDATE OF valid_from, valid_to ON supplier_price
WHEN NEW.valid_from IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supplier_price.valid_from is no day')
  WHERE NEW.valid_from NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.valid_from IS NOT date(NEW.valid_from, '+0 days');
END;

CREATE TRIGGER supplier_price_real_update_valid_to BEFORE UPDATE OF valid_from, valid_to ON supplier_price
WHEN NEW.valid_to IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supplier_price.valid_to is no day')
  WHERE NEW.valid_to NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.valid_to IS NOT date(NEW.valid_to, '+0 days');
END;

-- Locations, jobs and suppliers: the ledger speaks of them by number, so neither number nor name may become another's.
CREATE TRIGGER location_once BEFORE INSERT ON location
WHEN (NEW.id > 0 AND EXISTS (SELECT 1 FROM location WHERE id = NEW.id))
  OR (EXISTS (SELECT 1 FROM location WHERE name_key = NEW.name_key)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER location_once_counted AFTER INSERT ON location WHEN NEW.id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

CREATE TRIGGER location_named BEFORE UPDATE ON location BEGIN
  SELECT RAISE(ABORT, 'the number of a location stays') WHERE NEW.id <> OLD.id;
  SELECT RAISE(ABORT, 'another location has this name')
  WHERE EXISTS (SELECT 1 FROM location o WHERE o.name_key = NEW.name_key AND o.id <> OLD.id);
END;

CREATE TRIGGER job_once BEFORE INSERT ON job
WHEN (NEW.id > 0 AND EXISTS (SELECT 1 FROM job WHERE id = NEW.id))
  OR (EXISTS (SELECT 1 FROM job WHERE name_key = NEW.name_key)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER job_once_counted AFTER INSERT ON job WHEN NEW.id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

CREATE TRIGGER job_named BEFORE UPDATE ON job BEGIN
  SELECT RAISE(ABORT, 'the number of a job stays') WHERE NEW.id <> OLD.id;
  SELECT RAISE(ABORT, 'another job has this name')
  WHERE EXISTS (SELECT 1 FROM job o WHERE o.name_key = NEW.name_key AND o.id <> OLD.id);
END;

CREATE TRIGGER supplier_once BEFORE INSERT ON supplier
WHEN (NEW.id > 0 AND EXISTS (SELECT 1 FROM supplier WHERE id = NEW.id))
  OR (EXISTS (SELECT 1 FROM supplier WHERE name_key = NEW.name_key)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER supplier_once_counted AFTER INSERT ON supplier WHEN NEW.id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

CREATE TRIGGER supplier_named BEFORE UPDATE ON supplier BEGIN
  SELECT RAISE(ABORT, 'the number of a supplier stays') WHERE NEW.id <> OLD.id;
  SELECT RAISE(ABORT, 'another supplier has this name')
  WHERE EXISTS (SELECT 1 FROM supplier o WHERE o.name_key = NEW.name_key AND o.id <> OLD.id);
END;

-- Orders from suppliers: nothing is ordered that is made no more, and an order stays as it was given.
CREATE TRIGGER supply_order_current BEFORE INSERT ON supply_order BEGIN
  SELECT RAISE(ABORT, 'a model that is discontinued or last of its line is never back-ordered')
  WHERE (SELECT status FROM loudspeaker WHERE id = NEW.loudspeaker_id) IN ('discontinued', 'last_of_line');
END;

CREATE TRIGGER supply_order_kept BEFORE UPDATE ON supply_order BEGIN
  SELECT RAISE(ABORT, 'of an order only the date can change, or that it is cancelled')
  WHERE NEW.id <> OLD.id OR NEW.loudspeaker_id <> OLD.loudspeaker_id OR NEW.supplier_id <> OLD.supplier_id
    OR NEW.quantity <> OLD.quantity OR OLD.cancelled_at IS NOT NULL;
END;

CREATE TRIGGER supply_order_never_delete BEFORE DELETE ON supply_order BEGIN
  SELECT RAISE(ABORT, 'an order is cancelled, not deleted');
END;

CREATE TRIGGER supply_order_once BEFORE INSERT ON supply_order
WHEN (NEW.id > 0 AND EXISTS (SELECT 1 FROM supply_order WHERE id = NEW.id)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER supply_order_once_counted AFTER INSERT ON supply_order WHEN NEW.id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

CREATE TRIGGER supply_order_real_insert_cancelled_at BEFORE INSERT ON supply_order
WHEN NEW.cancelled_at IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supply_order.cancelled_at is no instant')
  WHERE NEW.cancelled_at IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.cancelled_at, 1, 19), '+0 days')
      || substr(NEW.cancelled_at, 20)
    OR substr(NEW.cancelled_at, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.cancelled_at < '0001-01-02' OR NEW.cancelled_at >= '9999-12-31';
END;

CREATE TRIGGER supply_order_real_insert_expected BEFORE INSERT ON supply_order WHEN NEW.expected IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supply_order.expected is no day')
  WHERE NEW.expected NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.expected IS NOT date(NEW.expected, '+0 days');
END;

CREATE TRIGGER supply_order_real_insert_ordered_at BEFORE INSERT ON supply_order WHEN NEW.ordered_at IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supply_order.ordered_at is no instant')
  WHERE NEW.ordered_at IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.ordered_at, 1, 19), '+0 days')
      || substr(NEW.ordered_at, 20)
    OR substr(NEW.ordered_at, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.ordered_at < '0001-01-02' OR NEW.ordered_at >= '9999-12-31';
END;

CREATE TRIGGER supply_order_real_update_cancelled_at BEFORE UPDATE OF ordered_at, cancelled_at, expected ON supply_order
WHEN NEW.cancelled_at IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supply_order.cancelled_at is no instant')
  WHERE NEW.cancelled_at IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.cancelled_at, 1, 19), '+0 days')
      || substr(NEW.cancelled_at, 20)
    OR substr(NEW.cancelled_at, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.cancelled_at < '0001-01-02' OR NEW.cancelled_at >= '9999-12-31';
END;

CREATE TRIGGER supply_order_real_update_expected BEFORE UPDATE OF ordered_at, cancelled_at, expected ON supply_order
WHEN NEW.expected IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supply_order.expected is no day')
  WHERE NEW.expected NOT BETWEEN '0001-01-01' AND '9999-12-31'
    OR NEW.expected IS NOT date(NEW.expected, '+0 days');
END;

CREATE TRIGGER supply_order_real_update_ordered_at BEFORE UPDATE OF ordered_at, cancelled_at, expected ON supply_order
WHEN NEW.ordered_at IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'supply_order.ordered_at is no instant')
  WHERE NEW.ordered_at IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.ordered_at, 1, 19), '+0 days')
      || substr(NEW.ordered_at, 20)
    OR substr(NEW.ordered_at, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.ordered_at < '0001-01-02' OR NEW.ordered_at >= '9999-12-31';
END;

-- Quotes: a customer was told these prices, so a quote keeps its lines, and its state only goes forward.
CREATE TRIGGER quote_forward BEFORE UPDATE ON quote BEGIN
  SELECT RAISE(ABORT, 'a quote goes from open to accepted to sold, or lapses')
  WHERE NOT (OLD.state = 'open' AND NEW.state IN ('accepted', 'lapsed')
    OR OLD.state = 'accepted' AND NEW.state IN ('sold', 'lapsed'));
  SELECT RAISE(ABORT, 'of a quote only the state changes')
  WHERE NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.currency <> OLD.currency
    OR NEW.made_at <> OLD.made_at OR NEW.until <> OLD.until;
END;

CREATE TRIGGER quote_never_delete BEFORE DELETE ON quote BEGIN
  SELECT RAISE(ABORT, 'a quote is lapsed, not deleted');
END;

CREATE TRIGGER quote_begins BEFORE INSERT ON quote BEGIN
  SELECT RAISE(ABORT, 'a quote begins open') WHERE NEW.state <> 'open';
END;

-- `lines` is how many it was made with; unknown of the oldest, which take no more.
CREATE TRIGGER quote_whole BEFORE UPDATE ON quote BEGIN
  SELECT RAISE(ABORT, 'of a quote only the state changes') WHERE NEW.lines IS NOT OLD.lines;
  SELECT RAISE(ABORT, 'a quote is accepted with all its lines')
  WHERE NEW.state = 'accepted' AND NEW.lines <> (SELECT COUNT(*) FROM quote_line l WHERE l.quote_id = NEW.id);
END;

CREATE TRIGGER quote_once BEFORE INSERT ON quote
WHEN (NEW.id > 0 AND EXISTS (SELECT 1 FROM quote WHERE id = NEW.id)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER quote_once_counted AFTER INSERT ON quote WHEN NEW.id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

CREATE TRIGGER quote_real_insert_made_at BEFORE INSERT ON quote WHEN NEW.made_at IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'quote.made_at is no instant')
  WHERE NEW.made_at IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.made_at, 1, 19), '+0 days')
      || substr(NEW.made_at, 20)
    OR substr(NEW.made_at, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.made_at < '0001-01-02' OR NEW.made_at >= '9999-12-31';
END;

CREATE TRIGGER quote_real_insert_until BEFORE INSERT ON quote WHEN NEW.until IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'quote.until is no instant')
  WHERE NEW.until IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.until, 1, 19), '+0 days')
      || substr(NEW.until, 20)
    OR substr(NEW.until, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.until < '0001-01-02' OR NEW.until >= '9999-12-31';
END;

CREATE TRIGGER quote_real_update_made_at BEFORE UPDATE OF made_at, until ON quote WHEN NEW.made_at IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'quote.made_at is no instant')
  WHERE NEW.made_at IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.made_at, 1, 19), '+0 days')
      || substr(NEW.made_at, 20)
    OR substr(NEW.made_at, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.made_at < '0001-01-02' OR NEW.made_at >= '9999-12-31';
END;

CREATE TRIGGER quote_real_update_until BEFORE UPDATE OF made_at, until ON quote WHEN NEW.until IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'quote.until is no instant')
  WHERE NEW.until IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.until, 1, 19), '+0 days')
      || substr(NEW.until, 20)
    OR substr(NEW.until, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.until < '0001-01-02' OR NEW.until >= '9999-12-31';
END;

CREATE TRIGGER quote_line_never_update BEFORE UPDATE ON quote_line BEGIN
  SELECT RAISE(ABORT, 'a quote keeps its prices');
END;

CREATE TRIGGER quote_line_never_delete BEFORE DELETE ON quote_line BEGIN
  SELECT RAISE(ABORT, 'a quote keeps its prices');
END;

CREATE TRIGGER quote_line_open BEFORE INSERT ON quote_line BEGIN
  SELECT RAISE(ABORT, 'only an open quote takes lines')
  WHERE COALESCE((SELECT q.state FROM quote q WHERE q.id = NEW.quote_id), '') <> 'open';
  SELECT RAISE(ABORT, 'the quote has all its lines')
  WHERE NEW.ordinal NOT BETWEEN 1 AND COALESCE((SELECT q.lines FROM quote q WHERE q.id = NEW.quote_id), 0)
    OR (SELECT COUNT(*) FROM quote_line l WHERE l.quote_id = NEW.quote_id)
      >= COALESCE((SELECT q.lines FROM quote q WHERE q.id = NEW.quote_id), 0);
END;

CREATE TRIGGER quote_line_once BEFORE INSERT ON quote_line
WHEN (NEW.rowid > 0 AND EXISTS (SELECT 1 FROM quote_line WHERE rowid = NEW.rowid))
  OR (EXISTS (SELECT 1 FROM quote_line WHERE quote_id = NEW.quote_id AND ordinal = NEW.ordinal)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER quote_line_once_counted AFTER INSERT ON quote_line WHEN NEW.rowid < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

-- Holdings: a line of the ledger means what its holding says, so a holding never becomes another.
CREATE TRIGGER holding_never_update BEFORE UPDATE ON holding BEGIN
  SELECT RAISE(ABORT, 'a holding never changes');
END;

CREATE TRIGGER holding_never_delete BEFORE DELETE ON holding BEGIN
  SELECT RAISE(ABORT, 'a holding never changes');
END;

CREATE TRIGGER holding_once BEFORE INSERT ON holding
WHEN (NEW.id > 0 AND EXISTS (SELECT 1 FROM holding WHERE id = NEW.id))
  OR (EXISTS (SELECT 1 FROM holding WHERE loudspeaker_id = NEW.loudspeaker_id AND location_id = NEW.location_id
    AND grade = NEW.grade AND pack = NEW.pack AND finish_key = NEW.finish_key)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER holding_once_counted AFTER INSERT ON holding WHEN NEW.id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

-- The ledger is only added to: what was is never written over, and a mistake is mended by another line.
CREATE TRIGGER movement_never_update BEFORE UPDATE ON movement BEGIN
  SELECT RAISE(ABORT, 'the ledger is only added to');
END;

CREATE TRIGGER movement_never_delete BEFORE DELETE ON movement BEGIN
  SELECT RAISE(ABORT, 'the ledger is only added to');
END;

-- Running totals: each line follows the last of its holding, so that what is on hand is one look at the last line.
CREATE TRIGGER movement_chain BEFORE INSERT ON movement BEGIN
  SELECT RAISE(ABORT, 'each line of a holding follows the last')
  WHERE NEW.sequence <> 1 + COALESCE((SELECT MAX(sequence) FROM movement WHERE holding_id = NEW.holding_id), 0);
  SELECT RAISE(ABORT, 'on hand is the sum of the movements')
  WHERE NEW.on_hand <> NEW.effect + COALESCE((SELECT on_hand FROM movement
    WHERE holding_id = NEW.holding_id AND sequence = NEW.sequence - 1), 0);
  SELECT RAISE(ABORT, 'tracked is the sum of the movements with a serial')
  WHERE NEW.tracked <> CASE WHEN NEW.serial IS NULL THEN 0 ELSE NEW.effect END + COALESCE((SELECT tracked FROM movement
    WHERE holding_id = NEW.holding_id AND sequence = NEW.sequence - 1), 0);
  SELECT RAISE(ABORT, 'the time of a line is not before that of the last')
  WHERE NEW.at < (SELECT at FROM movement WHERE holding_id = NEW.holding_id AND sequence = NEW.sequence - 1);
END;

-- What each kind of movement needs. A clock may be a little ahead, hence the minute.
CREATE TRIGGER movement_rules BEFORE INSERT ON movement BEGIN
  SELECT RAISE(ABORT, 'a movement is not of the future')
  WHERE NEW.at > strftime('%Y-%m-%d %H:%M:%f', 'now', '+1 minute');
  SELECT RAISE(ABORT, 'pairs move in pairs')
  WHERE NEW.quantity % (SELECT pack FROM holding WHERE id = NEW.holding_id) <> 0;
  SELECT RAISE(ABORT, 'what is in quarantine is neither sold nor promised')
  WHERE NEW.kind IN ('reserve', 'sell') AND (SELECT grade FROM holding WHERE id = NEW.holding_id) = 'quarantine';
  SELECT RAISE(ABORT, 'only a pair can be split')
  WHERE NEW.kind = 'split_pair'
    AND ((SELECT pack FROM holding WHERE id = NEW.holding_id) <> 2 OR NEW.quantity <> 2);
  SELECT RAISE(ABORT, 'a single of a pair has a serial') WHERE NEW.kind = 'split_in' AND NEW.serial IS NULL;
  SELECT RAISE(ABORT, 'a return goes to quarantine first')
  WHERE NEW.kind = 'return' AND (SELECT grade FROM holding WHERE id = NEW.holding_id) <> 'quarantine';
  SELECT RAISE(ABORT, 'a count or write-off has a reason')
  WHERE NEW.kind IN ('count', 'write_off') AND TRIM(COALESCE(NEW.note, '')) = '';
  SELECT RAISE(ABORT, 'what leaves for elsewhere says where')
  WHERE (NEW.kind IN ('transfer_out', 'regrade_out', 'split_pair')) <> (NEW.to_holding_id IS NOT NULL);
  SELECT RAISE(ABORT, 'what comes from elsewhere names what left for here')
  WHERE NEW.kind IN ('transfer_in', 'regrade_in', 'split_in') AND NOT EXISTS (SELECT 1 FROM movement s
    WHERE s.id = NEW.from_id AND s.to_holding_id = NEW.holding_id
    AND s.kind = CASE NEW.kind
      WHEN 'transfer_in' THEN 'transfer_out' WHEN 'regrade_in' THEN 'regrade_out' ELSE 'split_pair' END
    AND (NEW.kind = 'split_in' OR COALESCE(s.serial, '') = COALESCE(NEW.serial, '')));
  SELECT RAISE(ABORT, 'a reservation ends in the future') WHERE NEW.kind = 'reserve' AND NEW.until <= NEW.at;
END;

-- Nothing is made on the way: what arrives has left.
CREATE TRIGGER movement_rules_from_id BEFORE INSERT ON movement WHEN NEW.from_id IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'only what comes from elsewhere names what left')
  WHERE NEW.kind NOT IN ('transfer_in', 'regrade_in', 'split_in');
  SELECT RAISE(ABORT, 'no more arrives than left')
  WHERE NEW.quantity + COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.from_id = NEW.from_id), 0)
    > (SELECT s.quantity FROM movement s WHERE s.id = NEW.from_id);
END;

CREATE TRIGGER movement_rules_order_id BEFORE INSERT ON movement WHEN NEW.order_id IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'an order brings what was ordered, and no more')
  WHERE NOT EXISTS (SELECT 1 FROM supply_order o WHERE o.id = NEW.order_id
    AND NEW.kind = 'receive' AND o.loudspeaker_id = NEW.loudspeaker_id AND o.cancelled_at IS NULL
    AND o.quantity >= NEW.quantity
      + COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.order_id = NEW.order_id), 0));
END;

CREATE TRIGGER movement_rules_reservation_id BEFORE INSERT ON movement WHEN NEW.reservation_id IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'a reservation that lapsed, ended or holds less cannot be used')
  WHERE NOT EXISTS (SELECT 1 FROM reservation r WHERE r.movement_id = NEW.reservation_id
    AND r.holding_id = NEW.holding_id AND r.rest > 0 AND r.until > NEW.at
    AND r.rest >= NEW.quantity AND (r.serial IS NULL OR r.serial = NEW.serial));
END;

-- A serial is one box: its lines are a chain too, and it is in one place and promised to one.
CREATE TRIGGER movement_rules_serial BEFORE INSERT ON movement WHEN NEW.serial IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'a serial names one')
  WHERE ABS(NEW.quantity) <> (SELECT pack FROM holding WHERE id = NEW.holding_id);
  SELECT RAISE(ABORT, 'each line of a serial follows the last')
  WHERE NEW.serial_sequence <> 1 + COALESCE((SELECT MAX(serial_sequence) FROM movement
    WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial), 0);
  SELECT RAISE(ABORT, 'a serial is in one place: it is there already, or on its way')
  WHERE NEW.effect > 0 AND (
    COALESCE((SELECT effect FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
      AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1), -1) > 0
    OR ((SELECT to_holding_id FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
        AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1) IS NOT NULL
      AND (SELECT id FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
        AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1) <> COALESCE(NEW.from_id, 0)));
  SELECT RAISE(ABORT, 'a serial is in one place: it is not here')
  WHERE NEW.effect <= 0 AND NEW.kind <> 'release' AND (
    COALESCE((SELECT effect FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
      AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1), -1) < 0
    OR (SELECT holding_id FROM movement WHERE loudspeaker_id = NEW.loudspeaker_id AND serial = NEW.serial
      AND effect <> 0 ORDER BY serial_sequence DESC LIMIT 1) <> NEW.holding_id);
  SELECT RAISE(ABORT, 'a serial is promised once')
  WHERE (NEW.effect < 0 OR NEW.kind = 'reserve') AND EXISTS (SELECT 1 FROM reservation r
    WHERE r.holding_id = NEW.holding_id AND r.rest > 0 AND r.until > NEW.at
    AND r.serial = NEW.serial AND r.movement_id <> COALESCE(NEW.reservation_id, 0));
END;

CREATE TRIGGER movement_rules_to_holding_id BEFORE INSERT ON movement WHEN NEW.to_holding_id IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'it stays the same model')
  WHERE NEW.loudspeaker_id <> (SELECT loudspeaker_id FROM holding WHERE id = NEW.to_holding_id);
END;

-- Reservations follow from the lines, and what is promised after a line is never more than what is there.
CREATE TRIGGER movement_follows_then AFTER INSERT ON movement BEGIN
  INSERT INTO reservation (movement_id, holding_id, until, rest, serial)
  SELECT NEW.id, NEW.holding_id, NEW.until, NEW.quantity, NEW.serial WHERE NEW.kind = 'reserve';
  UPDATE reservation SET rest = rest - NEW.quantity WHERE movement_id = NEW.reservation_id;
  SELECT RAISE(ABORT, 'reserved never exceeds on hand')
  WHERE (NEW.effect < 0 OR NEW.kind = 'reserve') AND NEW.on_hand < COALESCE((SELECT SUM(r.rest) FROM reservation r
    WHERE r.holding_id = NEW.holding_id AND r.rest > 0 AND r.until > NEW.at), 0);
END;

CREATE TRIGGER movement_once BEFORE INSERT ON movement
WHEN (NEW.id > 0 AND EXISTS (SELECT 1 FROM movement WHERE id = NEW.id)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER movement_once_counted AFTER INSERT ON movement WHEN NEW.id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

CREATE TRIGGER movement_real_insert_at BEFORE INSERT ON movement WHEN NEW.at IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'movement.at is no instant')
  WHERE NEW.at IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.at, 1, 19), '+0 days')
      || substr(NEW.at, 20)
    OR substr(NEW.at, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.at < '0001-01-02' OR NEW.at >= '9999-12-31';
END;

CREATE TRIGGER movement_real_insert_until BEFORE INSERT ON movement WHEN NEW.until IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'movement.until is no instant')
  WHERE NEW.until IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.until, 1, 19), '+0 days')
      || substr(NEW.until, 20)
    OR substr(NEW.until, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.until < '0001-01-02' OR NEW.until >= '9999-12-31';
END;

-- Whoever writes a reservation writes what the ledger says; the trigger above does.
CREATE TRIGGER reservation_made BEFORE INSERT ON reservation BEGIN
  SELECT RAISE(ABORT, 'a reservation stands in the ledger first')
  WHERE NOT EXISTS (SELECT 1 FROM movement m WHERE m.id = NEW.movement_id AND m.kind = 'reserve'
    AND m.holding_id = NEW.holding_id AND m.until = NEW.until AND m.quantity = NEW.rest
    AND COALESCE(m.serial, '') = COALESCE(NEW.serial, ''));
END;

CREATE TRIGGER reservation_left BEFORE UPDATE ON reservation BEGIN
  SELECT RAISE(ABORT, 'what is left of a reservation is what the ledger says')
  WHERE NEW.movement_id <> OLD.movement_id OR NEW.holding_id <> OLD.holding_id OR NEW.until <> OLD.until
    OR COALESCE(NEW.serial, '') <> COALESCE(OLD.serial, '')
    OR NEW.rest <> (SELECT m.quantity - COALESCE((SELECT SUM(e.quantity) FROM movement e
      WHERE e.reservation_id = m.id), 0) FROM movement m WHERE m.id = NEW.movement_id);
END;

CREATE TRIGGER reservation_never_delete BEFORE DELETE ON reservation BEGIN
  SELECT RAISE(ABORT, 'a reservation is released, not deleted');
END;

CREATE TRIGGER reservation_once BEFORE INSERT ON reservation
WHEN (NEW.movement_id > 0 AND EXISTS (SELECT 1 FROM reservation WHERE movement_id = NEW.movement_id)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER reservation_once_counted AFTER INSERT ON reservation WHEN NEW.movement_id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;
