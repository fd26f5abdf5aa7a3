-- What the step 0020 adds on SQLite. A paragraph is run at once; none has an empty line within.
--
-- What a quote says and each of its lines is signed as it is made: neither ever changes, so what they say is what was
-- signed.
CREATE TRIGGER quote_terms_sign AFTER INSERT ON quote BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'quote_terms', NEW.id, 'made',
    json_object('job_id', NEW.job_id, 'currency', NEW.currency, 'made_at', NEW.made_at, 'until', NEW.until, 'who',
      NEW.who, 'note', NEW.note, 'lines', NEW.lines, 'zone', NEW.zone));
END;

CREATE TRIGGER quote_line_signs AFTER INSERT ON quote_line BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'quote_line', NEW.quote_id, 'made',
    json_object('ordinal', NEW.ordinal, 'loudspeaker_id', NEW.loudspeaker_id, 'grade', NEW.grade, 'finish', NEW.finish,
      'quantity', NEW.quantity, 'amount', NEW.amount, 'per', NEW.per, 'tax', NEW.tax, 'tax_rate', NEW.tax_rate, 'cost',
      NEW.cost, 'discount', NEW.discount, 'full_amount', NEW.full_amount));
END;

-- SQLite has no digest of its own: the program gives that of a signature with the name, as 0020_postgresql.sql says
-- what it is of. Both are put to it once.
CREATE TRIGGER signature_signed BEFORE UPDATE ON signature
WHEN OLD.who IS NOT NULL OR OLD.digest IS NOT NULL OR NEW.digest IS NULL OR NEW.id <> OLD.id OR NEW.at <> OLD.at
  OR NEW.subject <> OLD.subject OR NEW.number <> OLD.number OR NEW.deed <> OLD.deed OR NEW.said <> OLD.said BEGIN
  SELECT RAISE(ABORT, 'a signature stays');
END;

CREATE TRIGGER signature_unsealed BEFORE INSERT ON signature WHEN NEW.digest IS NOT NULL BEGIN
  SELECT RAISE(ABORT, 'a signature is of what was written, and signed after it');
END;
