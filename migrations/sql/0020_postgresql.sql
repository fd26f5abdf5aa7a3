-- What the step 0020 adds on PostgreSQL. A paragraph is run at once; none has an empty line within.
--
-- What a quote says and each of its lines is signed as it is made: neither ever changes, so what they say is what was
-- signed. Instants are told in UTC, as a SQLite file has them.
CREATE FUNCTION quote_terms_sign() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'quote_terms', NEW.id, 'made', json_build_object('job_id', NEW.job_id,
      'currency', NEW.currency, 'made_at', to_char(NEW.made_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI:SS.US'),
      'until', to_char(NEW.until AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI:SS.US'), 'who', NEW.who, 'note', NEW.note,
      'lines', NEW.lines, 'zone', NEW.zone)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER quote_terms_sign AFTER INSERT ON quote FOR EACH ROW EXECUTE FUNCTION quote_terms_sign();

CREATE FUNCTION quote_line_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'quote_line', NEW.quote_id, 'made', json_build_object('ordinal',
      NEW.ordinal, 'loudspeaker_id', NEW.loudspeaker_id, 'grade', NEW.grade, 'finish', NEW.finish, 'quantity',
      NEW.quantity, 'amount', NEW.amount, 'per', NEW.per, 'tax', NEW.tax, 'tax_rate', NEW.tax_rate, 'cost', NEW.cost,
      'discount', NEW.discount, 'full_amount', NEW.full_amount)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER quote_line_signs AFTER INSERT ON quote_line FOR EACH ROW EXECUTE FUNCTION quote_line_signs();

-- A signature's digest is of all it says and of the digest of one before it of the same row, so that one that is changed
-- or taken out no longer fits. Two who write at one instant may both follow the same one.
CREATE FUNCTION signature_sealed() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
BEGIN
  NEW.digest := encode(sha256(convert_to(json_build_array(
    (SELECT s.digest FROM signature s WHERE s.subject = NEW.subject AND s.number = NEW.number ORDER BY s.id DESC LIMIT 1),
    NEW.id, (extract(epoch FROM NEW.at) * 1000000)::bigint, NEW.who, NEW.subject, NEW.number, NEW.deed,
    NEW.said)::text, 'UTF8')), 'hex');
  RETURN NEW;
END $$;
CREATE TRIGGER signature_sealed BEFORE INSERT ON signature FOR EACH ROW EXECUTE FUNCTION signature_sealed();
