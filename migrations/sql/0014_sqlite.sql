-- What the step 0014 adds on SQLite. A paragraph is run at once; none has an empty line within.
--
-- SQLite has no digest of its own: the program gives that of a line, as 0014_postgresql.sql says what it is of. The end
-- of each holding stands apart, so that a last line that is gone is missed.
CREATE TRIGGER movement_sealed AFTER INSERT ON movement BEGIN
  INSERT INTO ledger_end (holding_id, sequence, digest) VALUES (NEW.holding_id, NEW.sequence, NEW.digest)
    ON CONFLICT (holding_id) DO UPDATE SET sequence = excluded.sequence, digest = excluded.digest;
END;

CREATE TRIGGER ledger_end_follows BEFORE UPDATE ON ledger_end BEGIN
  SELECT RAISE(ABORT, 'the end of a holding follows from its lines')
  WHERE NEW.holding_id <> OLD.holding_id OR NOT EXISTS (SELECT 1 FROM movement m WHERE m.holding_id = NEW.holding_id
    AND m.sequence = NEW.sequence AND m.digest IS NEW.digest)
    OR EXISTS (SELECT 1 FROM movement m WHERE m.holding_id = NEW.holding_id AND m.sequence > NEW.sequence);
END;

CREATE TRIGGER ledger_end_made BEFORE INSERT ON ledger_end BEGIN
  SELECT RAISE(ABORT, 'the end of a holding follows from its lines')
  WHERE NOT EXISTS (SELECT 1 FROM movement m WHERE m.holding_id = NEW.holding_id
    AND m.sequence = NEW.sequence AND m.digest IS NEW.digest)
    OR EXISTS (SELECT 1 FROM movement m WHERE m.holding_id = NEW.holding_id AND m.sequence > NEW.sequence);
END;

CREATE TRIGGER ledger_end_never_delete BEFORE DELETE ON ledger_end BEGIN
  SELECT RAISE(ABORT, 'the end of a holding follows from its lines');
END;

CREATE TRIGGER quote_who_stays BEFORE UPDATE ON quote
WHEN NEW.who IS NOT OLD.who OR NEW.note IS NOT OLD.note BEGIN
  SELECT RAISE(ABORT, 'of a quote only the state changes');
END;
