-- What the step 0018 adds on PostgreSQL: who said what one of another grade is sold for, and when.
CREATE FUNCTION grade_price_signs() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path FROM CURRENT AS $$
DECLARE
  written grade_price%ROWTYPE;
BEGIN
  IF TG_OP = 'DELETE' THEN
    written := OLD;
  ELSE
    written := NEW;
  END IF;
  INSERT INTO signature (at, who, subject, number, deed, said)
    VALUES (clock_timestamp(), session_user, 'grade_price', written.loudspeaker_id, CASE TG_OP WHEN 'INSERT' THEN
      'made' WHEN 'UPDATE' THEN 'changed' ELSE 'removed' END, json_build_object('grade', written.grade, 'amount',
      written.amount, 'currency', written.currency, 'per', written.per)::text);
  RETURN NULL;
END $$;
CREATE TRIGGER grade_price_signs AFTER INSERT OR DELETE OR UPDATE ON grade_price
  FOR EACH ROW EXECUTE FUNCTION grade_price_signs();
