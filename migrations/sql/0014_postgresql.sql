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
