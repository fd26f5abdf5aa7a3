-- What the step 0016 adds on SQLite. A paragraph is run at once; none has an empty line within.
--
-- Who wrote what, and when: each row that is made, changed or removed leaves a signature. SQLite knows nobody, so the
-- program signs those of its own transaction before it is kept, once: what another wrote stays without a name.
CREATE TRIGGER loudspeaker_signs_made AFTER INSERT ON loudspeaker BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'loudspeaker', NEW.id, 'made', json_object('name_key',
    NEW.name_key, 'revision', NEW.revision, 'retired', NEW.retired));
END;

CREATE TRIGGER loudspeaker_signs_changed AFTER UPDATE ON loudspeaker BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'loudspeaker', NEW.id, 'changed', json_object('name_key',
    NEW.name_key, 'revision', NEW.revision, 'retired', NEW.retired));
END;

CREATE TRIGGER loudspeaker_signs_removed AFTER DELETE ON loudspeaker BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'loudspeaker', OLD.id, 'removed', json_object('name_key',
    OLD.name_key, 'revision', OLD.revision, 'retired', OLD.retired));
END;

CREATE TRIGGER room_signs_made AFTER INSERT ON room BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'room', NEW.id, 'made', json_object('name_key',
    NEW.name_key));
END;

CREATE TRIGGER room_signs_changed AFTER UPDATE ON room BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'room', NEW.id, 'changed', json_object('name_key',
    NEW.name_key));
END;

CREATE TRIGGER room_signs_removed AFTER DELETE ON room BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'room', OLD.id, 'removed', json_object('name_key',
    OLD.name_key));
END;

CREATE TRIGGER equipment_signs_made AFTER INSERT ON equipment BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'equipment', NEW.id, 'made', json_object('name_key',
    NEW.name_key, 'price', NEW.price, 'currency', NEW.currency));
END;

CREATE TRIGGER equipment_signs_changed AFTER UPDATE ON equipment BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'equipment', NEW.id, 'changed', json_object('name_key',
    NEW.name_key, 'price', NEW.price, 'currency', NEW.currency));
END;

CREATE TRIGGER equipment_signs_removed AFTER DELETE ON equipment BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'equipment', OLD.id, 'removed', json_object('name_key',
    OLD.name_key, 'price', OLD.price, 'currency', OLD.currency));
END;

CREATE TRIGGER price_signs_made AFTER INSERT ON price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'price', NEW.loudspeaker_id, 'made', json_object('amount',
    NEW.amount, 'currency', NEW.currency, 'per', NEW.per, 'tax', NEW.tax, 'valid_from', NEW.valid_from, 'valid_to',
    NEW.valid_to));
END;

CREATE TRIGGER price_signs_changed AFTER UPDATE ON price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'price', NEW.loudspeaker_id, 'changed', json_object('amount',
    NEW.amount, 'currency', NEW.currency, 'per', NEW.per, 'tax', NEW.tax, 'valid_from', NEW.valid_from, 'valid_to',
    NEW.valid_to));
END;

CREATE TRIGGER price_signs_removed AFTER DELETE ON price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'price', OLD.loudspeaker_id, 'removed', json_object('amount',
    OLD.amount, 'currency', OLD.currency, 'per', OLD.per, 'tax', OLD.tax, 'valid_from', OLD.valid_from, 'valid_to',
    OLD.valid_to));
END;

CREATE TRIGGER supplier_price_signs_made AFTER INSERT ON supplier_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_price', NEW.loudspeaker_id, 'made',
    json_object('supplier_id', NEW.supplier_id, 'cost', NEW.cost, 'retail', NEW.retail, 'currency', NEW.currency,
    'valid_from', NEW.valid_from, 'valid_to', NEW.valid_to));
END;

CREATE TRIGGER supplier_price_signs_changed AFTER UPDATE ON supplier_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_price', NEW.loudspeaker_id, 'changed',
    json_object('supplier_id', NEW.supplier_id, 'cost', NEW.cost, 'retail', NEW.retail, 'currency', NEW.currency,
    'valid_from', NEW.valid_from, 'valid_to', NEW.valid_to));
END;

CREATE TRIGGER supplier_price_signs_removed AFTER DELETE ON supplier_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_price', OLD.loudspeaker_id, 'removed',
    json_object('supplier_id', OLD.supplier_id, 'cost', OLD.cost, 'retail', OLD.retail, 'currency', OLD.currency,
    'valid_from', OLD.valid_from, 'valid_to', OLD.valid_to));
END;

CREATE TRIGGER supply_order_signs_made AFTER INSERT ON supply_order BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supply_order', NEW.id, 'made', json_object('loudspeaker_id',
    NEW.loudspeaker_id, 'supplier_id', NEW.supplier_id, 'quantity', NEW.quantity, 'expected', NEW.expected,
    'cancelled_at', NEW.cancelled_at));
END;

CREATE TRIGGER supply_order_signs_changed AFTER UPDATE ON supply_order BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supply_order', NEW.id, 'changed',
    json_object('loudspeaker_id', NEW.loudspeaker_id, 'supplier_id', NEW.supplier_id, 'quantity', NEW.quantity,
    'expected', NEW.expected, 'cancelled_at', NEW.cancelled_at));
END;

CREATE TRIGGER quote_signs_made AFTER INSERT ON quote BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'quote', NEW.id, 'made', json_object('state', NEW.state));
END;

CREATE TRIGGER quote_signs_changed AFTER UPDATE ON quote BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'quote', NEW.id, 'changed', json_object('state', NEW.state));
END;

CREATE TRIGGER job_signs_made AFTER INSERT ON job BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'job', NEW.id, 'made', json_object('name', NEW.name,
    'merged_into_id', NEW.merged_into_id));
END;

CREATE TRIGGER job_signs_changed AFTER UPDATE ON job BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'job', NEW.id, 'changed', json_object('name', NEW.name,
    'merged_into_id', NEW.merged_into_id));
END;

CREATE TRIGGER job_signs_removed AFTER DELETE ON job BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'job', OLD.id, 'removed', json_object('name', OLD.name,
    'merged_into_id', OLD.merged_into_id));
END;

CREATE TRIGGER location_signs_made AFTER INSERT ON location BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'location', NEW.id, 'made', json_object('name', NEW.name,
    'zone', NEW.zone));
END;

CREATE TRIGGER location_signs_changed AFTER UPDATE ON location BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'location', NEW.id, 'changed', json_object('name', NEW.name,
    'zone', NEW.zone));
END;

CREATE TRIGGER location_signs_removed AFTER DELETE ON location BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'location', OLD.id, 'removed', json_object('name', OLD.name,
    'zone', OLD.zone));
END;

CREATE TRIGGER supplier_signs_made AFTER INSERT ON supplier BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier', NEW.id, 'made', json_object('name', NEW.name,
    'lead_time', NEW.lead_time));
END;

CREATE TRIGGER supplier_signs_changed AFTER UPDATE ON supplier BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier', NEW.id, 'changed', json_object('name', NEW.name,
    'lead_time', NEW.lead_time));
END;

CREATE TRIGGER supplier_signs_removed AFTER DELETE ON supplier BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier', OLD.id, 'removed', json_object('name', OLD.name,
    'lead_time', OLD.lead_time));
END;

CREATE TRIGGER article_signs_made AFTER INSERT ON article BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'article', NEW.loudspeaker_id, 'made',
    json_object('supplier_id', NEW.supplier_id, 'finish', NEW.finish, 'number', NEW.number));
END;

CREATE TRIGGER article_signs_changed AFTER UPDATE ON article BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'article', NEW.loudspeaker_id, 'changed',
    json_object('supplier_id', NEW.supplier_id, 'finish', NEW.finish, 'number', NEW.number));
END;

CREATE TRIGGER article_signs_removed AFTER DELETE ON article BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'article', OLD.loudspeaker_id, 'removed',
    json_object('supplier_id', OLD.supplier_id, 'finish', OLD.finish, 'number', OLD.number));
END;

CREATE TRIGGER reorder_point_signs_made AFTER INSERT ON reorder_point BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'reorder_point', NEW.loudspeaker_id, 'made',
    json_object('finish', NEW.finish, 'least', NEW.least, 'up_to', NEW.up_to));
END;

CREATE TRIGGER reorder_point_signs_changed AFTER UPDATE ON reorder_point BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'reorder_point', NEW.loudspeaker_id, 'changed',
    json_object('finish', NEW.finish, 'least', NEW.least, 'up_to', NEW.up_to));
END;

CREATE TRIGGER reorder_point_signs_removed AFTER DELETE ON reorder_point BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'reorder_point', OLD.loudspeaker_id, 'removed',
    json_object('finish', OLD.finish, 'least', OLD.least, 'up_to', OLD.up_to));
END;

-- A signature stays; the name is put to it once.
CREATE TRIGGER signature_once BEFORE INSERT ON signature
WHEN (NEW.id > 0 AND EXISTS (SELECT 1 FROM signature WHERE id = NEW.id)) BEGIN
  SELECT RAISE(ABORT, 'a row is not replaced: one with this number or key is there');
END;

CREATE TRIGGER signature_once_counted AFTER INSERT ON signature WHEN NEW.id < 1 BEGIN
  SELECT RAISE(ABORT, 'numbers count from 1');
END;

CREATE TRIGGER signature_unsigned BEFORE INSERT ON signature WHEN NEW.who IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'a signature is of what was written, and signed after it');
END;

CREATE TRIGGER signature_signed BEFORE UPDATE ON signature
WHEN OLD.who IS NOT NULL OR NEW.who IS NULL OR NEW.id <> OLD.id OR NEW.at <> OLD.at OR NEW.subject <> OLD.subject
  OR NEW.number <> OLD.number OR NEW.deed <> OLD.deed OR NEW.said <> OLD.said BEGIN
  SELECT RAISE(ABORT, 'a signature stays');
END;

CREATE TRIGGER signature_never_delete BEFORE DELETE ON signature BEGIN
  SELECT RAISE(ABORT, 'a signature stays');
END;

CREATE TRIGGER signature_real_insert_at BEFORE INSERT ON signature WHEN NEW.at IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'signature.at is no instant')
  WHERE NEW.at IS NOT strftime('%Y-%m-%d %H:%M:%S', substr(NEW.at, 1, 19), '+0 days')
      || substr(NEW.at, 20)
    OR substr(NEW.at, 20) NOT GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'
    OR NEW.at < '0001-01-02' OR NEW.at >= '9999-12-31';
END;

-- What a line takes back or carries on is of the same loudspeaker, and was before it.
CREATE TRIGGER movement_rules_undoes_id BEFORE INSERT ON movement WHEN NEW.undoes_id IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'a line takes back one of the same loudspeaker')
  WHERE NOT EXISTS (SELECT 1 FROM movement m WHERE m.id = NEW.undoes_id AND m.loudspeaker_id = NEW.loudspeaker_id);
END;

CREATE TRIGGER movement_rules_carries_id BEFORE INSERT ON movement WHEN NEW.carries_id IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'a promise carries on one for the same job, which ended')
  WHERE NEW.kind <> 'reserve' OR NOT EXISTS (SELECT 1 FROM movement m JOIN movement e ON e.reservation_id = m.id
    WHERE m.id = NEW.carries_id AND m.kind = 'reserve' AND m.loudspeaker_id = NEW.loudspeaker_id
    AND NEW.job_id IN (m.job_id, (SELECT j.merged_into_id FROM job j WHERE j.id = m.job_id))
    AND m.quote_id IS NEW.quote_id);
END;

CREATE TRIGGER supply_order_finish_kept BEFORE UPDATE ON supply_order WHEN NEW.finish IS NOT OLD.finish BEGIN
  SELECT RAISE(ABORT, 'of an order only the date can change, or that it is cancelled');
END;

CREATE TRIGGER quote_zone_kept BEFORE UPDATE ON quote WHEN NEW.zone IS NOT OLD.zone BEGIN
  SELECT RAISE(ABORT, 'of a quote only the state changes');
END;

-- A job that was made another's stays so, and one that is another's has none of its own.
CREATE TRIGGER job_merged BEFORE UPDATE ON job WHEN NEW.merged_into_id IS NOT OLD.merged_into_id BEGIN
  SELECT RAISE(ABORT, 'a job stays merged, into one that is not')
  WHERE NEW.merged_into_id IS NULL OR NEW.merged_into_id = NEW.id
    OR EXISTS (SELECT 1 FROM job o WHERE o.id = NEW.merged_into_id AND o.merged_into_id IS NOT NULL)
    OR EXISTS (SELECT 1 FROM job o WHERE o.merged_into_id = NEW.id);
END;

-- An order brings what was ordered, and no more; what came of it and was undone is still to come.
CREATE TRIGGER movement_rules_order_id BEFORE INSERT ON movement WHEN NEW.order_id IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'an order brings what was ordered, and no more')
  WHERE NOT EXISTS (SELECT 1 FROM supply_order o WHERE o.id = NEW.order_id
    AND NEW.kind = 'receive' AND o.loudspeaker_id = NEW.loudspeaker_id AND o.cancelled_at IS NULL
    AND o.quantity >= NEW.quantity
      + COALESCE((SELECT SUM(a.quantity) FROM movement a WHERE a.order_id = NEW.order_id
        AND NOT EXISTS (SELECT 1 FROM movement u WHERE u.undoes_id = a.id)), 0));
END;
