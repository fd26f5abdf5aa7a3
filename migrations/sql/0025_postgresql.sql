-- What the step 0025 adds on PostgreSQL. A paragraph is run at once; none has an empty line within.
--
-- Each row that is made, changed or removed leaves a signature with a digest of all it says, before and after: what was
-- done past the guards no longer fits. `TG_ARGV` has the subject, the column with the signature's number (none where
-- there is none) and what a signature says in words. Instants are told in UTC, whoever signs.
CREATE FUNCTION row_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT
  SET timezone = 'UTC' SET extra_float_digits = 1 SET bytea_output = 'hex' AS $$
DECLARE
  before jsonb;
  after jsonb;
  written jsonb;
BEGIN
  IF TG_OP <> 'INSERT' THEN
    before := jsonb_strip_nulls(to_jsonb(OLD));
  END IF;
  IF TG_OP <> 'DELETE' THEN
    after := jsonb_strip_nulls(to_jsonb(NEW));
  END IF;
  written := COALESCE(after, before);
  INSERT INTO signature (at, who, subject, number, deed, said, was, becomes)
    VALUES (clock_timestamp(), session_user, TG_ARGV[0],
      CASE WHEN TG_ARGV[1] = '' THEN 0 ELSE (written ->> TG_ARGV[1])::integer END,
      CASE TG_OP WHEN 'INSERT' THEN 'made' WHEN 'UPDATE' THEN 'changed' ELSE 'removed' END,
      CASE WHEN TG_NARGS = 2 THEN '{}' ELSE (SELECT json_object_agg(name, written -> name ORDER BY place)::text
        FROM unnest(TG_ARGV) WITH ORDINALITY AS told(name, place) WHERE place > 2) END,
      encode(sha256(convert_to(before::text, 'UTF8')), 'hex'), encode(sha256(convert_to(after::text, 'UTF8')), 'hex'));
  RETURN NULL;
END $$;

CREATE TRIGGER loudspeaker_signs AFTER INSERT OR DELETE OR UPDATE ON loudspeaker
  FOR EACH ROW EXECUTE FUNCTION row_signs('loudspeaker', 'id', 'name_key', 'revision', 'retired');

CREATE TRIGGER room_signs AFTER INSERT OR DELETE OR UPDATE ON room
  FOR EACH ROW EXECUTE FUNCTION row_signs('room', 'id', 'name_key');

CREATE TRIGGER equipment_signs AFTER INSERT OR DELETE OR UPDATE ON equipment
  FOR EACH ROW EXECUTE FUNCTION row_signs('equipment', 'id', 'name_key', 'price', 'currency');

CREATE TRIGGER price_signs AFTER INSERT OR DELETE OR UPDATE ON price
  FOR EACH ROW EXECUTE FUNCTION row_signs('price', 'loudspeaker_id', 'amount', 'currency', 'per', 'tax', 'valid_from',
    'valid_to');

CREATE TRIGGER supplier_price_signs AFTER INSERT OR DELETE OR UPDATE ON supplier_price
  FOR EACH ROW EXECUTE FUNCTION row_signs('supplier_price', 'loudspeaker_id', 'supplier_id', 'cost', 'retail',
    'currency', 'valid_from', 'valid_to');

CREATE TRIGGER supply_order_signs AFTER INSERT OR UPDATE ON supply_order
  FOR EACH ROW EXECUTE FUNCTION row_signs('supply_order', 'id', 'loudspeaker_id', 'supplier_id', 'quantity',
    'expected', 'cancelled_at');

CREATE TRIGGER quote_signs AFTER INSERT OR UPDATE ON quote
  FOR EACH ROW EXECUTE FUNCTION row_signs('quote', 'id', 'state');

CREATE TRIGGER quote_line_signs AFTER INSERT ON quote_line
  FOR EACH ROW EXECUTE FUNCTION row_signs('quote_line', 'quote_id', 'ordinal', 'loudspeaker_id', 'grade', 'finish',
    'quantity', 'amount', 'per', 'tax', 'tax_rate', 'cost', 'discount', 'full_amount');

CREATE TRIGGER job_signs AFTER INSERT OR DELETE OR UPDATE ON job
  FOR EACH ROW EXECUTE FUNCTION row_signs('job', 'id', 'name', 'merged_into_id');

CREATE TRIGGER location_signs AFTER INSERT OR DELETE OR UPDATE ON location
  FOR EACH ROW EXECUTE FUNCTION row_signs('location', 'id', 'name', 'zone');

CREATE TRIGGER supplier_signs AFTER INSERT OR DELETE OR UPDATE ON supplier
  FOR EACH ROW EXECUTE FUNCTION row_signs('supplier', 'id', 'name', 'lead_time');

CREATE TRIGGER article_signs AFTER INSERT OR DELETE OR UPDATE ON article
  FOR EACH ROW EXECUTE FUNCTION row_signs('article', 'loudspeaker_id', 'supplier_id', 'finish', 'number');

CREATE TRIGGER reorder_point_signs AFTER INSERT OR DELETE OR UPDATE ON reorder_point
  FOR EACH ROW EXECUTE FUNCTION row_signs('reorder_point', 'loudspeaker_id', 'finish', 'least', 'up_to');

CREATE TRIGGER grade_price_signs AFTER INSERT OR DELETE OR UPDATE ON grade_price
  FOR EACH ROW EXECUTE FUNCTION row_signs('grade_price', 'loudspeaker_id', 'grade', 'amount', 'currency', 'per');

CREATE TRIGGER holding_signs AFTER INSERT ON holding
  FOR EACH ROW EXECUTE FUNCTION row_signs('holding', 'id');

CREATE TRIGGER maker_signs AFTER INSERT OR DELETE OR UPDATE ON maker
  FOR EACH ROW EXECUTE FUNCTION row_signs('maker', 'id');

CREATE TRIGGER series_signs AFTER INSERT OR DELETE OR UPDATE ON series
  FOR EACH ROW EXECUTE FUNCTION row_signs('series', 'id');

CREATE TRIGGER family_signs AFTER INSERT OR DELETE OR UPDATE ON family
  FOR EACH ROW EXECUTE FUNCTION row_signs('family', 'id');

CREATE TRIGGER supplier_column_signs AFTER INSERT OR DELETE OR UPDATE ON supplier_column
  FOR EACH ROW EXECUTE FUNCTION row_signs('supplier_column', 'supplier_id');

CREATE TRIGGER file_column_signs AFTER INSERT OR DELETE OR UPDATE ON file_column
  FOR EACH ROW EXECUTE FUNCTION row_signs('file_column', '');

CREATE TRIGGER seat_signs AFTER INSERT OR DELETE OR UPDATE ON seat
  FOR EACH ROW EXECUTE FUNCTION row_signs('seat', 'room_id');

CREATE TRIGGER place_signs AFTER INSERT OR DELETE OR UPDATE ON place
  FOR EACH ROW EXECUTE FUNCTION row_signs('place', 'room_id');

CREATE TRIGGER rule_set_signs AFTER INSERT OR DELETE OR UPDATE ON rule_set
  FOR EACH ROW EXECUTE FUNCTION row_signs('rule_set', 'id');

CREATE TRIGGER rule_signs AFTER INSERT OR DELETE OR UPDATE ON rule
  FOR EACH ROW EXECUTE FUNCTION row_signs('rule', 'rule_set_id');

CREATE TRIGGER rule_role_signs AFTER INSERT OR DELETE OR UPDATE ON rule_role
  FOR EACH ROW EXECUTE FUNCTION row_signs('rule_role', 'rule_set_id');

CREATE TRIGGER spending_order_signs AFTER INSERT OR DELETE OR UPDATE ON spending_order
  FOR EACH ROW EXECUTE FUNCTION row_signs('spending_order', 'rule_set_id');

CREATE TRIGGER weight_profile_signs AFTER INSERT OR DELETE OR UPDATE ON weight_profile
  FOR EACH ROW EXECUTE FUNCTION row_signs('weight_profile', 'id');

CREATE TRIGGER weight_signs AFTER INSERT OR DELETE OR UPDATE ON weight
  FOR EACH ROW EXECUTE FUNCTION row_signs('weight', 'weight_profile_id');

CREATE TRIGGER as_built_signs AFTER INSERT OR DELETE OR UPDATE ON as_built
  FOR EACH ROW EXECUTE FUNCTION row_signs('as_built', 'id');

CREATE TRIGGER as_built_curve_signs AFTER INSERT OR DELETE OR UPDATE ON as_built_curve
  FOR EACH ROW EXECUTE FUNCTION row_signs('as_built_curve', 'as_built_id');

CREATE TRIGGER brief_signs AFTER INSERT OR DELETE OR UPDATE ON brief
  FOR EACH ROW EXECUTE FUNCTION row_signs('brief', 'id');

CREATE TRIGGER curve_signs AFTER INSERT OR DELETE OR UPDATE ON curve
  FOR EACH ROW EXECUTE FUNCTION row_signs('curve', 'id');

CREATE TRIGGER source_signs AFTER INSERT OR DELETE OR UPDATE ON source
  FOR EACH ROW EXECUTE FUNCTION row_signs('source', 'id');

-- A signature's digest is also of these two, where there are any: older ones have none.
CREATE FUNCTION signature_sealed() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
  told text;
BEGIN
  told := json_build_array(
    (SELECT s.digest FROM signature s WHERE s.subject = NEW.subject AND s.number = NEW.number ORDER BY s.id DESC LIMIT 1),
    NEW.id, (extract(epoch FROM NEW.at) * 1000000)::bigint, NEW.who, NEW.subject, NEW.number, NEW.deed,
    NEW.said)::text;
  IF NEW.was IS NOT NULL OR NEW.becomes IS NOT NULL THEN
    told := rtrim(told, ']') || ', ' || ltrim(json_build_array(NEW.was, NEW.becomes)::text, '[');
  END IF;
  NEW.digest := encode(sha256(convert_to(told, 'UTF8')), 'hex');
  RETURN NEW;
END $$;

-- Lines that are written in one transaction are one deed: the server gives its number, whatever is said. A line's own
-- number, which it has before it is written here, is among what its digest is of; those of a file follow each other.
CREATE FUNCTION movement_sealed() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
  held record;
  said text;
BEGIN
  SELECT h.location_id, h.grade, h.pack, h.finish_key, e.digest INTO held
    FROM holding h LEFT JOIN ledger_end e ON e.holding_id = h.id WHERE h.id = NEW.holding_id;
  NEW.who := session_user;
  NEW.deed_number := pg_current_xact_id()::text::bigint;
  said := json_build_array(
    held.digest, NEW.loudspeaker_id, NEW.holding_id, held.location_id, held.grade, held.pack, held.finish_key,
    NEW.sequence, NEW.kind, NEW.quantity, NEW.effect, NEW.on_hand, NEW.tracked, NEW.job_id,
    (extract(epoch FROM NEW.until) * 1000000)::bigint, NEW.reservation_id, NEW.from_id, NEW.to_holding_id,
    NEW.order_id, NEW.quote_id, NEW.serial, NEW.serial_sequence, NEW.amount, NEW.currency,
    (extract(epoch FROM NEW.at) * 1000000)::bigint, NEW.who, NEW.note, NEW.undoes_id, NEW.carries_id,
    NEW.deed_number, NEW.id)::text;
  NEW.digest := encode(sha256(convert_to(said, 'UTF8')), 'hex');
  INSERT INTO ledger_end (holding_id, sequence, digest) VALUES (NEW.holding_id, NEW.sequence, NEW.digest)
    ON CONFLICT (holding_id) DO UPDATE SET sequence = EXCLUDED.sequence, digest = EXCLUDED.digest;
  RETURN NEW;
END $$;

-- As it was, but that a quote of which a delivery was taken back is to be delivered again.
CREATE FUNCTION quote_forward() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  IF NOT (OLD.state = 'open' AND NEW.state IN ('accepted', 'lapsed')
    OR OLD.state = 'accepted' AND NEW.state IN ('sold', 'lapsed')
    OR OLD.state = 'sold' AND NEW.state = 'accepted' AND EXISTS (SELECT 1 FROM movement s
      JOIN movement u ON u.undoes_id = s.id WHERE s.quote_id = OLD.id AND s.kind = 'sell')) THEN
    RAISE EXCEPTION 'a quote goes from open to accepted to sold, or lapses' USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.currency <> OLD.currency
    OR NEW.made_at <> OLD.made_at OR NEW.until <> OLD.until THEN
    RAISE EXCEPTION 'of a quote only the state changes' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $$;
