-- What the step 0018 adds on SQLite: who said what one of another grade is sold for, and when.
CREATE TRIGGER grade_price_signs_made AFTER INSERT ON grade_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'grade_price', NEW.loudspeaker_id, 'made',
    json_object('grade', NEW.grade, 'amount', NEW.amount, 'currency', NEW.currency, 'per', NEW.per));
END;

CREATE TRIGGER grade_price_signs_changed AFTER UPDATE ON grade_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'grade_price', NEW.loudspeaker_id, 'changed',
    json_object('grade', NEW.grade, 'amount', NEW.amount, 'currency', NEW.currency, 'per', NEW.per));
END;

CREATE TRIGGER grade_price_signs_removed AFTER DELETE ON grade_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'grade_price', OLD.loudspeaker_id, 'removed',
    json_object('grade', OLD.grade, 'amount', OLD.amount, 'currency', OLD.currency, 'per', OLD.per));
END;
