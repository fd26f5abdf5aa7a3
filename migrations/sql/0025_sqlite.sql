-- What the step 0025 adds on SQLite. A paragraph is run at once; none has an empty line within.
--
-- Each row that is made, changed or removed leaves a signature with all it says, before and after, in place of which the
-- program puts a digest as it signs: what was done past the guards no longer fits. Numbers with a point are told in 15
-- digits, as every SQLite tells them alike.
CREATE TRIGGER loudspeaker_signs_made AFTER INSERT ON loudspeaker BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'loudspeaker', NEW.id, 'made', json_object('name_key',
    NEW.name_key, 'revision', NEW.revision, 'retired', NEW.retired),
    NULL,
    json_array(NEW.id, NEW.revision, NEW.retired, NEW.maker_id, NEW.series_id, NEW.family_id, NEW.name_key, NEW.model,
      NEW.orientation, CAST(NEW.width AS TEXT), CAST(NEW.height AS TEXT), CAST(NEW.depth AS TEXT), CAST(NEW.feet AS
      TEXT), CAST(NEW.rear_allowance AS TEXT), CAST(NEW.weight AS TEXT), NEW.enclosure, NEW.port_location,
      CAST(NEW.port_diameter AS TEXT), NEW.bung, CAST(NEW.sensitivity AS TEXT), NEW.sensitivity_basis,
      CAST(NEW.impedance_nominal AS TEXT), CAST(NEW.impedance_minimum AS TEXT), CAST(NEW.low_limit AS TEXT),
      CAST(NEW.low_limit_drop AS TEXT), CAST(NEW.high_limit AS TEXT), CAST(NEW.axis_height AS TEXT), NEW.layout,
      CAST(NEW.woofer_spacing AS TEXT), CAST(NEW.amplifier_min AS TEXT), CAST(NEW.amplifier_max AS TEXT),
      CAST(NEW.power_handling AS TEXT), NEW.sold_as, NEW.status, NEW.note));
END;

CREATE TRIGGER loudspeaker_signs_changed AFTER UPDATE ON loudspeaker BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'loudspeaker', NEW.id, 'changed', json_object('name_key',
    NEW.name_key, 'revision', NEW.revision, 'retired', NEW.retired),
    json_array(OLD.id, OLD.revision, OLD.retired, OLD.maker_id, OLD.series_id, OLD.family_id, OLD.name_key, OLD.model,
      OLD.orientation, CAST(OLD.width AS TEXT), CAST(OLD.height AS TEXT), CAST(OLD.depth AS TEXT), CAST(OLD.feet AS
      TEXT), CAST(OLD.rear_allowance AS TEXT), CAST(OLD.weight AS TEXT), OLD.enclosure, OLD.port_location,
      CAST(OLD.port_diameter AS TEXT), OLD.bung, CAST(OLD.sensitivity AS TEXT), OLD.sensitivity_basis,
      CAST(OLD.impedance_nominal AS TEXT), CAST(OLD.impedance_minimum AS TEXT), CAST(OLD.low_limit AS TEXT),
      CAST(OLD.low_limit_drop AS TEXT), CAST(OLD.high_limit AS TEXT), CAST(OLD.axis_height AS TEXT), OLD.layout,
      CAST(OLD.woofer_spacing AS TEXT), CAST(OLD.amplifier_min AS TEXT), CAST(OLD.amplifier_max AS TEXT),
      CAST(OLD.power_handling AS TEXT), OLD.sold_as, OLD.status, OLD.note),
    json_array(NEW.id, NEW.revision, NEW.retired, NEW.maker_id, NEW.series_id, NEW.family_id, NEW.name_key, NEW.model,
      NEW.orientation, CAST(NEW.width AS TEXT), CAST(NEW.height AS TEXT), CAST(NEW.depth AS TEXT), CAST(NEW.feet AS
      TEXT), CAST(NEW.rear_allowance AS TEXT), CAST(NEW.weight AS TEXT), NEW.enclosure, NEW.port_location,
      CAST(NEW.port_diameter AS TEXT), NEW.bung, CAST(NEW.sensitivity AS TEXT), NEW.sensitivity_basis,
      CAST(NEW.impedance_nominal AS TEXT), CAST(NEW.impedance_minimum AS TEXT), CAST(NEW.low_limit AS TEXT),
      CAST(NEW.low_limit_drop AS TEXT), CAST(NEW.high_limit AS TEXT), CAST(NEW.axis_height AS TEXT), NEW.layout,
      CAST(NEW.woofer_spacing AS TEXT), CAST(NEW.amplifier_min AS TEXT), CAST(NEW.amplifier_max AS TEXT),
      CAST(NEW.power_handling AS TEXT), NEW.sold_as, NEW.status, NEW.note));
END;

CREATE TRIGGER loudspeaker_signs_removed AFTER DELETE ON loudspeaker BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'loudspeaker', OLD.id, 'removed', json_object('name_key',
    OLD.name_key, 'revision', OLD.revision, 'retired', OLD.retired),
    json_array(OLD.id, OLD.revision, OLD.retired, OLD.maker_id, OLD.series_id, OLD.family_id, OLD.name_key, OLD.model,
      OLD.orientation, CAST(OLD.width AS TEXT), CAST(OLD.height AS TEXT), CAST(OLD.depth AS TEXT), CAST(OLD.feet AS
      TEXT), CAST(OLD.rear_allowance AS TEXT), CAST(OLD.weight AS TEXT), OLD.enclosure, OLD.port_location,
      CAST(OLD.port_diameter AS TEXT), OLD.bung, CAST(OLD.sensitivity AS TEXT), OLD.sensitivity_basis,
      CAST(OLD.impedance_nominal AS TEXT), CAST(OLD.impedance_minimum AS TEXT), CAST(OLD.low_limit AS TEXT),
      CAST(OLD.low_limit_drop AS TEXT), CAST(OLD.high_limit AS TEXT), CAST(OLD.axis_height AS TEXT), OLD.layout,
      CAST(OLD.woofer_spacing AS TEXT), CAST(OLD.amplifier_min AS TEXT), CAST(OLD.amplifier_max AS TEXT),
      CAST(OLD.power_handling AS TEXT), OLD.sold_as, OLD.status, OLD.note),
    NULL);
END;

CREATE TRIGGER room_signs_made AFTER INSERT ON room BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'room', NEW.id, 'made', json_object('name_key', NEW.name_key),
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.amplifier, CAST(NEW.screen_width AS TEXT), CAST(NEW.screen_height
      AS TEXT), CAST(NEW.screen_diagonal AS TEXT), NEW.screen_aspect, CAST(NEW.screen_bottom AS TEXT),
      NEW.screen_transparent, NEW.mains_speaker, CAST(NEW.mains_spacing AS TEXT), CAST(NEW.mains_from_wall AS TEXT),
      CAST(NEW.mains_toe_in AS TEXT), CAST(NEW.mains_axis_height AS TEXT), NEW.mains_floor, CAST(NEW.amplifier_power AS
      TEXT), CAST(NEW.amplifier_into AS TEXT), CAST(NEW.amplifier_lowest_load AS TEXT), CAST(NEW.amplifier_trim_range AS
      TEXT), CAST(NEW.listening_target_peak AS TEXT), CAST(NEW.listening_room_gain AS TEXT),
      NEW.listening_needs_real_centre, NEW.money_centre, NEW.money_currency, NEW.money_tax_included));
END;

CREATE TRIGGER room_signs_changed AFTER UPDATE ON room BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'room', NEW.id, 'changed', json_object('name_key',
    NEW.name_key),
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.amplifier, CAST(OLD.screen_width AS TEXT), CAST(OLD.screen_height
      AS TEXT), CAST(OLD.screen_diagonal AS TEXT), OLD.screen_aspect, CAST(OLD.screen_bottom AS TEXT),
      OLD.screen_transparent, OLD.mains_speaker, CAST(OLD.mains_spacing AS TEXT), CAST(OLD.mains_from_wall AS TEXT),
      CAST(OLD.mains_toe_in AS TEXT), CAST(OLD.mains_axis_height AS TEXT), OLD.mains_floor, CAST(OLD.amplifier_power AS
      TEXT), CAST(OLD.amplifier_into AS TEXT), CAST(OLD.amplifier_lowest_load AS TEXT), CAST(OLD.amplifier_trim_range AS
      TEXT), CAST(OLD.listening_target_peak AS TEXT), CAST(OLD.listening_room_gain AS TEXT),
      OLD.listening_needs_real_centre, OLD.money_centre, OLD.money_currency, OLD.money_tax_included),
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.amplifier, CAST(NEW.screen_width AS TEXT), CAST(NEW.screen_height
      AS TEXT), CAST(NEW.screen_diagonal AS TEXT), NEW.screen_aspect, CAST(NEW.screen_bottom AS TEXT),
      NEW.screen_transparent, NEW.mains_speaker, CAST(NEW.mains_spacing AS TEXT), CAST(NEW.mains_from_wall AS TEXT),
      CAST(NEW.mains_toe_in AS TEXT), CAST(NEW.mains_axis_height AS TEXT), NEW.mains_floor, CAST(NEW.amplifier_power AS
      TEXT), CAST(NEW.amplifier_into AS TEXT), CAST(NEW.amplifier_lowest_load AS TEXT), CAST(NEW.amplifier_trim_range AS
      TEXT), CAST(NEW.listening_target_peak AS TEXT), CAST(NEW.listening_room_gain AS TEXT),
      NEW.listening_needs_real_centre, NEW.money_centre, NEW.money_currency, NEW.money_tax_included));
END;

CREATE TRIGGER room_signs_removed AFTER DELETE ON room BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'room', OLD.id, 'removed', json_object('name_key',
    OLD.name_key),
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.amplifier, CAST(OLD.screen_width AS TEXT), CAST(OLD.screen_height
      AS TEXT), CAST(OLD.screen_diagonal AS TEXT), OLD.screen_aspect, CAST(OLD.screen_bottom AS TEXT),
      OLD.screen_transparent, OLD.mains_speaker, CAST(OLD.mains_spacing AS TEXT), CAST(OLD.mains_from_wall AS TEXT),
      CAST(OLD.mains_toe_in AS TEXT), CAST(OLD.mains_axis_height AS TEXT), OLD.mains_floor, CAST(OLD.amplifier_power AS
      TEXT), CAST(OLD.amplifier_into AS TEXT), CAST(OLD.amplifier_lowest_load AS TEXT), CAST(OLD.amplifier_trim_range AS
      TEXT), CAST(OLD.listening_target_peak AS TEXT), CAST(OLD.listening_room_gain AS TEXT),
      OLD.listening_needs_real_centre, OLD.money_centre, OLD.money_currency, OLD.money_tax_included),
    NULL);
END;

CREATE TRIGGER equipment_signs_made AFTER INSERT ON equipment BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'equipment', NEW.id, 'made', json_object('name_key',
    NEW.name_key, 'price', NEW.price, 'currency', NEW.currency),
    NULL,
    json_array(NEW.id, NEW.name_key, NEW.serves, NEW.maker, NEW.model, NEW.kind, NEW.channels, NEW.processed_channels,
      NEW.preamplifier_outputs, NEW.sub_outputs, NEW.inputs, CAST(NEW.power AS TEXT), CAST(NEW.power_into AS TEXT),
      CAST(NEW.lowest_load AS TEXT), CAST(NEW.bears AS TEXT), CAST(NEW.height AS TEXT), CAST(NEW.box_width AS TEXT),
      CAST(NEW.box_depth AS TEXT), CAST(NEW.length AS TEXT), CAST(NEW.conductor_area AS TEXT), NEW.price, NEW.currency,
      NEW.price_per, NEW.tax, CAST(NEW.tax_rate AS TEXT), NEW.status, NEW.note));
END;

CREATE TRIGGER equipment_signs_changed AFTER UPDATE ON equipment BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'equipment', NEW.id, 'changed', json_object('name_key',
    NEW.name_key, 'price', NEW.price, 'currency', NEW.currency),
    json_array(OLD.id, OLD.name_key, OLD.serves, OLD.maker, OLD.model, OLD.kind, OLD.channels, OLD.processed_channels,
      OLD.preamplifier_outputs, OLD.sub_outputs, OLD.inputs, CAST(OLD.power AS TEXT), CAST(OLD.power_into AS TEXT),
      CAST(OLD.lowest_load AS TEXT), CAST(OLD.bears AS TEXT), CAST(OLD.height AS TEXT), CAST(OLD.box_width AS TEXT),
      CAST(OLD.box_depth AS TEXT), CAST(OLD.length AS TEXT), CAST(OLD.conductor_area AS TEXT), OLD.price, OLD.currency,
      OLD.price_per, OLD.tax, CAST(OLD.tax_rate AS TEXT), OLD.status, OLD.note),
    json_array(NEW.id, NEW.name_key, NEW.serves, NEW.maker, NEW.model, NEW.kind, NEW.channels, NEW.processed_channels,
      NEW.preamplifier_outputs, NEW.sub_outputs, NEW.inputs, CAST(NEW.power AS TEXT), CAST(NEW.power_into AS TEXT),
      CAST(NEW.lowest_load AS TEXT), CAST(NEW.bears AS TEXT), CAST(NEW.height AS TEXT), CAST(NEW.box_width AS TEXT),
      CAST(NEW.box_depth AS TEXT), CAST(NEW.length AS TEXT), CAST(NEW.conductor_area AS TEXT), NEW.price, NEW.currency,
      NEW.price_per, NEW.tax, CAST(NEW.tax_rate AS TEXT), NEW.status, NEW.note));
END;

CREATE TRIGGER equipment_signs_removed AFTER DELETE ON equipment BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'equipment', OLD.id, 'removed', json_object('name_key',
    OLD.name_key, 'price', OLD.price, 'currency', OLD.currency),
    json_array(OLD.id, OLD.name_key, OLD.serves, OLD.maker, OLD.model, OLD.kind, OLD.channels, OLD.processed_channels,
      OLD.preamplifier_outputs, OLD.sub_outputs, OLD.inputs, CAST(OLD.power AS TEXT), CAST(OLD.power_into AS TEXT),
      CAST(OLD.lowest_load AS TEXT), CAST(OLD.bears AS TEXT), CAST(OLD.height AS TEXT), CAST(OLD.box_width AS TEXT),
      CAST(OLD.box_depth AS TEXT), CAST(OLD.length AS TEXT), CAST(OLD.conductor_area AS TEXT), OLD.price, OLD.currency,
      OLD.price_per, OLD.tax, CAST(OLD.tax_rate AS TEXT), OLD.status, OLD.note),
    NULL);
END;

CREATE TRIGGER price_signs_made AFTER INSERT ON price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'price', NEW.loudspeaker_id, 'made', json_object('amount',
    NEW.amount, 'currency', NEW.currency, 'per', NEW.per, 'tax', NEW.tax, 'valid_from', NEW.valid_from, 'valid_to',
    NEW.valid_to),
    NULL,
    json_array(NEW.id, NEW.loudspeaker_id, NEW.amount, NEW.currency, NEW.per, NEW.tax, CAST(NEW.tax_rate AS TEXT),
      NEW.valid_from, NEW.valid_to));
END;

CREATE TRIGGER price_signs_changed AFTER UPDATE ON price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'price', NEW.loudspeaker_id, 'changed', json_object('amount',
    NEW.amount, 'currency', NEW.currency, 'per', NEW.per, 'tax', NEW.tax, 'valid_from', NEW.valid_from, 'valid_to',
    NEW.valid_to),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.amount, OLD.currency, OLD.per, OLD.tax, CAST(OLD.tax_rate AS TEXT),
      OLD.valid_from, OLD.valid_to),
    json_array(NEW.id, NEW.loudspeaker_id, NEW.amount, NEW.currency, NEW.per, NEW.tax, CAST(NEW.tax_rate AS TEXT),
      NEW.valid_from, NEW.valid_to));
END;

CREATE TRIGGER price_signs_removed AFTER DELETE ON price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'price', OLD.loudspeaker_id, 'removed', json_object('amount',
    OLD.amount, 'currency', OLD.currency, 'per', OLD.per, 'tax', OLD.tax, 'valid_from', OLD.valid_from, 'valid_to',
    OLD.valid_to),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.amount, OLD.currency, OLD.per, OLD.tax, CAST(OLD.tax_rate AS TEXT),
      OLD.valid_from, OLD.valid_to),
    NULL);
END;

CREATE TRIGGER supplier_price_signs_made AFTER INSERT ON supplier_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_price', NEW.loudspeaker_id, 'made',
    json_object('supplier_id', NEW.supplier_id, 'cost', NEW.cost, 'retail', NEW.retail, 'currency', NEW.currency,
    'valid_from', NEW.valid_from, 'valid_to', NEW.valid_to),
    NULL,
    json_array(NEW.id, NEW.supplier_id, NEW.loudspeaker_id, NEW.cost, NEW.retail, NEW.currency, NEW.tax,
      CAST(NEW.tax_rate AS TEXT), NEW.valid_from, NEW.valid_to));
END;

CREATE TRIGGER supplier_price_signs_changed AFTER UPDATE ON supplier_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_price', NEW.loudspeaker_id, 'changed',
    json_object('supplier_id', NEW.supplier_id, 'cost', NEW.cost, 'retail', NEW.retail, 'currency', NEW.currency,
    'valid_from', NEW.valid_from, 'valid_to', NEW.valid_to),
    json_array(OLD.id, OLD.supplier_id, OLD.loudspeaker_id, OLD.cost, OLD.retail, OLD.currency, OLD.tax,
      CAST(OLD.tax_rate AS TEXT), OLD.valid_from, OLD.valid_to),
    json_array(NEW.id, NEW.supplier_id, NEW.loudspeaker_id, NEW.cost, NEW.retail, NEW.currency, NEW.tax,
      CAST(NEW.tax_rate AS TEXT), NEW.valid_from, NEW.valid_to));
END;

CREATE TRIGGER supplier_price_signs_removed AFTER DELETE ON supplier_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_price', OLD.loudspeaker_id, 'removed',
    json_object('supplier_id', OLD.supplier_id, 'cost', OLD.cost, 'retail', OLD.retail, 'currency', OLD.currency,
    'valid_from', OLD.valid_from, 'valid_to', OLD.valid_to),
    json_array(OLD.id, OLD.supplier_id, OLD.loudspeaker_id, OLD.cost, OLD.retail, OLD.currency, OLD.tax,
      CAST(OLD.tax_rate AS TEXT), OLD.valid_from, OLD.valid_to),
    NULL);
END;

CREATE TRIGGER supply_order_signs_made AFTER INSERT ON supply_order BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supply_order', NEW.id, 'made', json_object('loudspeaker_id',
    NEW.loudspeaker_id, 'supplier_id', NEW.supplier_id, 'quantity', NEW.quantity, 'expected', NEW.expected,
    'cancelled_at', NEW.cancelled_at),
    NULL,
    json_array(NEW.id, NEW.loudspeaker_id, NEW.supplier_id, NEW.job_id, NEW.quantity, NEW.expected, NEW.ordered_at,
      NEW.cancelled_at, NEW.finish));
END;

CREATE TRIGGER supply_order_signs_changed AFTER UPDATE ON supply_order BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supply_order', NEW.id, 'changed',
    json_object('loudspeaker_id', NEW.loudspeaker_id, 'supplier_id', NEW.supplier_id, 'quantity', NEW.quantity,
    'expected', NEW.expected, 'cancelled_at', NEW.cancelled_at),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.supplier_id, OLD.job_id, OLD.quantity, OLD.expected, OLD.ordered_at,
      OLD.cancelled_at, OLD.finish),
    json_array(NEW.id, NEW.loudspeaker_id, NEW.supplier_id, NEW.job_id, NEW.quantity, NEW.expected, NEW.ordered_at,
      NEW.cancelled_at, NEW.finish));
END;

CREATE TRIGGER quote_signs_made AFTER INSERT ON quote BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'quote', NEW.id, 'made', json_object('state', NEW.state),
    NULL,
    json_array(NEW.id, NEW.job_id, NEW.state, NEW.currency, NEW.made_at, NEW.until, NEW.who, NEW.note, NEW.lines,
      NEW.zone));
END;

CREATE TRIGGER quote_signs_changed AFTER UPDATE ON quote BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'quote', NEW.id, 'changed', json_object('state', NEW.state),
    json_array(OLD.id, OLD.job_id, OLD.state, OLD.currency, OLD.made_at, OLD.until, OLD.who, OLD.note, OLD.lines,
      OLD.zone),
    json_array(NEW.id, NEW.job_id, NEW.state, NEW.currency, NEW.made_at, NEW.until, NEW.who, NEW.note, NEW.lines,
      NEW.zone));
END;

CREATE TRIGGER quote_line_signs AFTER INSERT ON quote_line BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'quote_line', NEW.quote_id, 'made', json_object('ordinal',
    NEW.ordinal, 'loudspeaker_id', NEW.loudspeaker_id, 'grade', NEW.grade, 'finish', NEW.finish, 'quantity',
    NEW.quantity, 'amount', NEW.amount, 'per', NEW.per, 'tax', NEW.tax, 'tax_rate', NEW.tax_rate, 'cost', NEW.cost,
    'discount', NEW.discount, 'full_amount', NEW.full_amount),
    NULL,
    json_array(NEW.quote_id, NEW.ordinal, NEW.loudspeaker_id, NEW.grade, NEW.finish, NEW.quantity, NEW.amount,
      NEW.per, NEW.tax, CAST(NEW.tax_rate AS TEXT), NEW.cost, CAST(NEW.discount AS TEXT), NEW.full_amount));
END;

CREATE TRIGGER job_signs_made AFTER INSERT ON job BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'job', NEW.id, 'made', json_object('name', NEW.name,
    'merged_into_id', NEW.merged_into_id),
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.merged_into_id));
END;

CREATE TRIGGER job_signs_changed AFTER UPDATE ON job BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'job', NEW.id, 'changed', json_object('name', NEW.name,
    'merged_into_id', NEW.merged_into_id),
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.merged_into_id),
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.merged_into_id));
END;

CREATE TRIGGER job_signs_removed AFTER DELETE ON job BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'job', OLD.id, 'removed', json_object('name', OLD.name,
    'merged_into_id', OLD.merged_into_id),
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.merged_into_id),
    NULL);
END;

CREATE TRIGGER location_signs_made AFTER INSERT ON location BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'location', NEW.id, 'made', json_object('name', NEW.name,
    'zone', NEW.zone),
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.zone, NEW.loan_job_id));
END;

CREATE TRIGGER location_signs_changed AFTER UPDATE ON location BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'location', NEW.id, 'changed', json_object('name', NEW.name,
    'zone', NEW.zone),
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.zone, OLD.loan_job_id),
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.zone, NEW.loan_job_id));
END;

CREATE TRIGGER location_signs_removed AFTER DELETE ON location BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'location', OLD.id, 'removed', json_object('name', OLD.name,
    'zone', OLD.zone),
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.zone, OLD.loan_job_id),
    NULL);
END;

CREATE TRIGGER supplier_signs_made AFTER INSERT ON supplier BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier', NEW.id, 'made', json_object('name', NEW.name,
    'lead_time', NEW.lead_time),
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.lead_time));
END;

CREATE TRIGGER supplier_signs_changed AFTER UPDATE ON supplier BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier', NEW.id, 'changed', json_object('name', NEW.name,
    'lead_time', NEW.lead_time),
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.lead_time),
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.lead_time));
END;

CREATE TRIGGER supplier_signs_removed AFTER DELETE ON supplier BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier', OLD.id, 'removed', json_object('name', OLD.name,
    'lead_time', OLD.lead_time),
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.lead_time),
    NULL);
END;

CREATE TRIGGER article_signs_made AFTER INSERT ON article BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'article', NEW.loudspeaker_id, 'made',
    json_object('supplier_id', NEW.supplier_id, 'finish', NEW.finish, 'number', NEW.number),
    NULL,
    json_array(NEW.id, NEW.loudspeaker_id, NEW.supplier_id, NEW.finish, NEW.number, NEW.number_key));
END;

CREATE TRIGGER article_signs_changed AFTER UPDATE ON article BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'article', NEW.loudspeaker_id, 'changed',
    json_object('supplier_id', NEW.supplier_id, 'finish', NEW.finish, 'number', NEW.number),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.supplier_id, OLD.finish, OLD.number, OLD.number_key),
    json_array(NEW.id, NEW.loudspeaker_id, NEW.supplier_id, NEW.finish, NEW.number, NEW.number_key));
END;

CREATE TRIGGER article_signs_removed AFTER DELETE ON article BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'article', OLD.loudspeaker_id, 'removed',
    json_object('supplier_id', OLD.supplier_id, 'finish', OLD.finish, 'number', OLD.number),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.supplier_id, OLD.finish, OLD.number, OLD.number_key),
    NULL);
END;

CREATE TRIGGER reorder_point_signs_made AFTER INSERT ON reorder_point BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'reorder_point', NEW.loudspeaker_id, 'made',
    json_object('finish', NEW.finish, 'least', NEW.least, 'up_to', NEW.up_to),
    NULL,
    json_array(NEW.id, NEW.loudspeaker_id, NEW.finish, NEW.finish_key, NEW.least, NEW.up_to));
END;

CREATE TRIGGER reorder_point_signs_changed AFTER UPDATE ON reorder_point BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'reorder_point', NEW.loudspeaker_id, 'changed',
    json_object('finish', NEW.finish, 'least', NEW.least, 'up_to', NEW.up_to),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.finish, OLD.finish_key, OLD.least, OLD.up_to),
    json_array(NEW.id, NEW.loudspeaker_id, NEW.finish, NEW.finish_key, NEW.least, NEW.up_to));
END;

CREATE TRIGGER reorder_point_signs_removed AFTER DELETE ON reorder_point BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'reorder_point', OLD.loudspeaker_id, 'removed',
    json_object('finish', OLD.finish, 'least', OLD.least, 'up_to', OLD.up_to),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.finish, OLD.finish_key, OLD.least, OLD.up_to),
    NULL);
END;

CREATE TRIGGER grade_price_signs_made AFTER INSERT ON grade_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'grade_price', NEW.loudspeaker_id, 'made',
    json_object('grade', NEW.grade, 'amount', NEW.amount, 'currency', NEW.currency, 'per', NEW.per),
    NULL,
    json_array(NEW.id, NEW.loudspeaker_id, NEW.grade, NEW.amount, NEW.currency, NEW.per));
END;

CREATE TRIGGER grade_price_signs_changed AFTER UPDATE ON grade_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'grade_price', NEW.loudspeaker_id, 'changed',
    json_object('grade', NEW.grade, 'amount', NEW.amount, 'currency', NEW.currency, 'per', NEW.per),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.grade, OLD.amount, OLD.currency, OLD.per),
    json_array(NEW.id, NEW.loudspeaker_id, NEW.grade, NEW.amount, NEW.currency, NEW.per));
END;

CREATE TRIGGER grade_price_signs_removed AFTER DELETE ON grade_price BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'grade_price', OLD.loudspeaker_id, 'removed',
    json_object('grade', OLD.grade, 'amount', OLD.amount, 'currency', OLD.currency, 'per', OLD.per),
    json_array(OLD.id, OLD.loudspeaker_id, OLD.grade, OLD.amount, OLD.currency, OLD.per),
    NULL);
END;

CREATE TRIGGER holding_signs_made AFTER INSERT ON holding BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'holding', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.loudspeaker_id, NEW.location_id, NEW.grade, NEW.pack, NEW.finish, NEW.finish_key));
END;

CREATE TRIGGER maker_signs_made AFTER INSERT ON maker BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'maker', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key));
END;

CREATE TRIGGER maker_signs_changed AFTER UPDATE ON maker BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'maker', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key),
    json_array(NEW.id, NEW.name, NEW.name_key));
END;

CREATE TRIGGER maker_signs_removed AFTER DELETE ON maker BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'maker', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key),
    NULL);
END;

CREATE TRIGGER series_signs_made AFTER INSERT ON series BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'series', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.maker_id, NEW.name, NEW.name_key));
END;

CREATE TRIGGER series_signs_changed AFTER UPDATE ON series BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'series', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.maker_id, OLD.name, OLD.name_key),
    json_array(NEW.id, NEW.maker_id, NEW.name, NEW.name_key));
END;

CREATE TRIGGER series_signs_removed AFTER DELETE ON series BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'series', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.maker_id, OLD.name, OLD.name_key),
    NULL);
END;

CREATE TRIGGER family_signs_made AFTER INSERT ON family BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'family', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key));
END;

CREATE TRIGGER family_signs_changed AFTER UPDATE ON family BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'family', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key),
    json_array(NEW.id, NEW.name, NEW.name_key));
END;

CREATE TRIGGER family_signs_removed AFTER DELETE ON family BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'family', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key),
    NULL);
END;

CREATE TRIGGER supplier_column_signs_made AFTER INSERT ON supplier_column BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_column', NEW.supplier_id, 'made', '{}',
    NULL,
    json_array(NEW.supplier_id, NEW.kind, NEW.ours, NEW.theirs, NEW.theirs_key));
END;

CREATE TRIGGER supplier_column_signs_changed AFTER UPDATE ON supplier_column BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_column', NEW.supplier_id, 'changed', '{}',
    json_array(OLD.supplier_id, OLD.kind, OLD.ours, OLD.theirs, OLD.theirs_key),
    json_array(NEW.supplier_id, NEW.kind, NEW.ours, NEW.theirs, NEW.theirs_key));
END;

CREATE TRIGGER supplier_column_signs_removed AFTER DELETE ON supplier_column BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'supplier_column', OLD.supplier_id, 'removed', '{}',
    json_array(OLD.supplier_id, OLD.kind, OLD.ours, OLD.theirs, OLD.theirs_key),
    NULL);
END;

CREATE TRIGGER file_column_signs_made AFTER INSERT ON file_column BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'file_column', 0, 'made', '{}',
    NULL,
    json_array(NEW.kind, NEW.theirs_key, NEW.theirs, NEW.ours));
END;

CREATE TRIGGER file_column_signs_changed AFTER UPDATE ON file_column BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'file_column', 0, 'changed', '{}',
    json_array(OLD.kind, OLD.theirs_key, OLD.theirs, OLD.ours),
    json_array(NEW.kind, NEW.theirs_key, NEW.theirs, NEW.ours));
END;

CREATE TRIGGER file_column_signs_removed AFTER DELETE ON file_column BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'file_column', 0, 'removed', '{}',
    json_array(OLD.kind, OLD.theirs_key, OLD.theirs, OLD.ours),
    NULL);
END;

CREATE TRIGGER seat_signs_made AFTER INSERT ON seat BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'seat', NEW.room_id, 'made', '{}',
    NULL,
    json_array(NEW.room_id, NEW.ordinal, NEW.name_key, NEW.name, CAST(NEW.x AS TEXT), CAST(NEW.distance AS TEXT),
      CAST(NEW.ear_height AS TEXT), NEW."primary", NEW.regular));
END;

CREATE TRIGGER seat_signs_changed AFTER UPDATE ON seat BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'seat', NEW.room_id, 'changed', '{}',
    json_array(OLD.room_id, OLD.ordinal, OLD.name_key, OLD.name, CAST(OLD.x AS TEXT), CAST(OLD.distance AS TEXT),
      CAST(OLD.ear_height AS TEXT), OLD."primary", OLD.regular),
    json_array(NEW.room_id, NEW.ordinal, NEW.name_key, NEW.name, CAST(NEW.x AS TEXT), CAST(NEW.distance AS TEXT),
      CAST(NEW.ear_height AS TEXT), NEW."primary", NEW.regular));
END;

CREATE TRIGGER seat_signs_removed AFTER DELETE ON seat BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'seat', OLD.room_id, 'removed', '{}',
    json_array(OLD.room_id, OLD.ordinal, OLD.name_key, OLD.name, CAST(OLD.x AS TEXT), CAST(OLD.distance AS TEXT),
      CAST(OLD.ear_height AS TEXT), OLD."primary", OLD.regular),
    NULL);
END;

CREATE TRIGGER place_signs_made AFTER INSERT ON place BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'place', NEW.room_id, 'made', '{}',
    NULL,
    json_array(NEW.room_id, NEW.ordinal, NEW.name_key, NEW.name, NEW.kind, CAST(NEW.width AS TEXT), CAST(NEW.height AS
      TEXT), CAST(NEW.depth AS TEXT), CAST(NEW.base AS TEXT), CAST(NEW.front AS TEXT), NEW.back, CAST(NEW.load AS TEXT),
      NEW.hot, NEW.wall, CAST(NEW.gap AS TEXT), CAST(NEW.setback AS TEXT), CAST(NEW.tilt_limit AS TEXT)));
END;

CREATE TRIGGER place_signs_changed AFTER UPDATE ON place BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'place', NEW.room_id, 'changed', '{}',
    json_array(OLD.room_id, OLD.ordinal, OLD.name_key, OLD.name, OLD.kind, CAST(OLD.width AS TEXT), CAST(OLD.height AS
      TEXT), CAST(OLD.depth AS TEXT), CAST(OLD.base AS TEXT), CAST(OLD.front AS TEXT), OLD.back, CAST(OLD.load AS TEXT),
      OLD.hot, OLD.wall, CAST(OLD.gap AS TEXT), CAST(OLD.setback AS TEXT), CAST(OLD.tilt_limit AS TEXT)),
    json_array(NEW.room_id, NEW.ordinal, NEW.name_key, NEW.name, NEW.kind, CAST(NEW.width AS TEXT), CAST(NEW.height AS
      TEXT), CAST(NEW.depth AS TEXT), CAST(NEW.base AS TEXT), CAST(NEW.front AS TEXT), NEW.back, CAST(NEW.load AS TEXT),
      NEW.hot, NEW.wall, CAST(NEW.gap AS TEXT), CAST(NEW.setback AS TEXT), CAST(NEW.tilt_limit AS TEXT)));
END;

CREATE TRIGGER place_signs_removed AFTER DELETE ON place BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'place', OLD.room_id, 'removed', '{}',
    json_array(OLD.room_id, OLD.ordinal, OLD.name_key, OLD.name, OLD.kind, CAST(OLD.width AS TEXT), CAST(OLD.height AS
      TEXT), CAST(OLD.depth AS TEXT), CAST(OLD.base AS TEXT), CAST(OLD.front AS TEXT), OLD.back, CAST(OLD.load AS TEXT),
      OLD.hot, OLD.wall, CAST(OLD.gap AS TEXT), CAST(OLD.setback AS TEXT), CAST(OLD.tilt_limit AS TEXT)),
    NULL);
END;

CREATE TRIGGER rule_set_signs_made AFTER INSERT ON rule_set BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule_set', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.note));
END;

CREATE TRIGGER rule_set_signs_changed AFTER UPDATE ON rule_set BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule_set', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.note),
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.note));
END;

CREATE TRIGGER rule_set_signs_removed AFTER DELETE ON rule_set BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule_set', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.note),
    NULL);
END;

CREATE TRIGGER rule_signs_made AFTER INSERT ON rule BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule', NEW.rule_set_id, 'made', '{}',
    NULL,
    json_array(NEW.rule_set_id, NEW.ordinal, NEW.name, NEW.kind, NEW.form, NEW.measure, NEW.factor, NEW.denominator,
      NEW.against_measure, NEW.why, NEW.fitting));
END;

CREATE TRIGGER rule_signs_changed AFTER UPDATE ON rule BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule', NEW.rule_set_id, 'changed', '{}',
    json_array(OLD.rule_set_id, OLD.ordinal, OLD.name, OLD.kind, OLD.form, OLD.measure, OLD.factor, OLD.denominator,
      OLD.against_measure, OLD.why, OLD.fitting),
    json_array(NEW.rule_set_id, NEW.ordinal, NEW.name, NEW.kind, NEW.form, NEW.measure, NEW.factor, NEW.denominator,
      NEW.against_measure, NEW.why, NEW.fitting));
END;

CREATE TRIGGER rule_signs_removed AFTER DELETE ON rule BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule', OLD.rule_set_id, 'removed', '{}',
    json_array(OLD.rule_set_id, OLD.ordinal, OLD.name, OLD.kind, OLD.form, OLD.measure, OLD.factor, OLD.denominator,
      OLD.against_measure, OLD.why, OLD.fitting),
    NULL);
END;

CREATE TRIGGER rule_role_signs_made AFTER INSERT ON rule_role BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule_role', NEW.rule_set_id, 'made', '{}',
    NULL,
    json_array(NEW.rule_set_id, NEW.rule_ordinal, NEW.side, NEW.ordinal, NEW.role));
END;

CREATE TRIGGER rule_role_signs_changed AFTER UPDATE ON rule_role BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule_role', NEW.rule_set_id, 'changed', '{}',
    json_array(OLD.rule_set_id, OLD.rule_ordinal, OLD.side, OLD.ordinal, OLD.role),
    json_array(NEW.rule_set_id, NEW.rule_ordinal, NEW.side, NEW.ordinal, NEW.role));
END;

CREATE TRIGGER rule_role_signs_removed AFTER DELETE ON rule_role BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'rule_role', OLD.rule_set_id, 'removed', '{}',
    json_array(OLD.rule_set_id, OLD.rule_ordinal, OLD.side, OLD.ordinal, OLD.role),
    NULL);
END;

CREATE TRIGGER spending_order_signs_made AFTER INSERT ON spending_order BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'spending_order', NEW.rule_set_id, 'made', '{}',
    NULL,
    json_array(NEW.rule_set_id, NEW.ordinal, NEW.role));
END;

CREATE TRIGGER spending_order_signs_changed AFTER UPDATE ON spending_order BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'spending_order', NEW.rule_set_id, 'changed', '{}',
    json_array(OLD.rule_set_id, OLD.ordinal, OLD.role),
    json_array(NEW.rule_set_id, NEW.ordinal, NEW.role));
END;

CREATE TRIGGER spending_order_signs_removed AFTER DELETE ON spending_order BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'spending_order', OLD.rule_set_id, 'removed', '{}',
    json_array(OLD.rule_set_id, OLD.ordinal, OLD.role),
    NULL);
END;

CREATE TRIGGER weight_profile_signs_made AFTER INSERT ON weight_profile BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'weight_profile', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.note));
END;

CREATE TRIGGER weight_profile_signs_changed AFTER UPDATE ON weight_profile BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'weight_profile', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.note),
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.note));
END;

CREATE TRIGGER weight_profile_signs_removed AFTER DELETE ON weight_profile BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'weight_profile', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.note),
    NULL);
END;

CREATE TRIGGER weight_signs_made AFTER INSERT ON weight BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'weight', NEW.weight_profile_id, 'made', '{}',
    NULL,
    json_array(NEW.weight_profile_id, NEW.criterion, CAST(NEW.value AS TEXT)));
END;

CREATE TRIGGER weight_signs_changed AFTER UPDATE ON weight BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'weight', NEW.weight_profile_id, 'changed', '{}',
    json_array(OLD.weight_profile_id, OLD.criterion, CAST(OLD.value AS TEXT)),
    json_array(NEW.weight_profile_id, NEW.criterion, CAST(NEW.value AS TEXT)));
END;

CREATE TRIGGER weight_signs_removed AFTER DELETE ON weight BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'weight', OLD.weight_profile_id, 'removed', '{}',
    json_array(OLD.weight_profile_id, OLD.criterion, CAST(OLD.value AS TEXT)),
    NULL);
END;

CREATE TRIGGER as_built_signs_made AFTER INSERT ON as_built BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'as_built', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.room_id, NEW.speaker, NEW.place, NEW.mains, CAST(NEW.trim_set AS TEXT), NEW.made_at));
END;

CREATE TRIGGER as_built_signs_changed AFTER UPDATE ON as_built BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'as_built', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.room_id, OLD.speaker, OLD.place, OLD.mains, CAST(OLD.trim_set AS TEXT), OLD.made_at),
    json_array(NEW.id, NEW.room_id, NEW.speaker, NEW.place, NEW.mains, CAST(NEW.trim_set AS TEXT), NEW.made_at));
END;

CREATE TRIGGER as_built_signs_removed AFTER DELETE ON as_built BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'as_built', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.room_id, OLD.speaker, OLD.place, OLD.mains, CAST(OLD.trim_set AS TEXT), OLD.made_at),
    NULL);
END;

CREATE TRIGGER as_built_curve_signs_made AFTER INSERT ON as_built_curve BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'as_built_curve', NEW.as_built_id, 'made', '{}',
    NULL,
    json_array(NEW.as_built_id, NEW.ordinal, NEW.channel, NEW.seat, NEW.source, hex(NEW.raw)));
END;

CREATE TRIGGER as_built_curve_signs_changed AFTER UPDATE ON as_built_curve BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'as_built_curve', NEW.as_built_id, 'changed', '{}',
    json_array(OLD.as_built_id, OLD.ordinal, OLD.channel, OLD.seat, OLD.source, hex(OLD.raw)),
    json_array(NEW.as_built_id, NEW.ordinal, NEW.channel, NEW.seat, NEW.source, hex(NEW.raw)));
END;

CREATE TRIGGER as_built_curve_signs_removed AFTER DELETE ON as_built_curve BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'as_built_curve', OLD.as_built_id, 'removed', '{}',
    json_array(OLD.as_built_id, OLD.ordinal, OLD.channel, OLD.seat, OLD.source, hex(OLD.raw)),
    NULL);
END;

CREATE TRIGGER brief_signs_made AFTER INSERT ON brief BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'brief', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.mains_id, NEW.room_id, NEW.role, NEW.limit_amount, NEW.currency,
      NEW.tax_included, NEW.made_at));
END;

CREATE TRIGGER brief_signs_changed AFTER UPDATE ON brief BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'brief', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.mains_id, OLD.room_id, OLD.role, OLD.limit_amount, OLD.currency,
      OLD.tax_included, OLD.made_at),
    json_array(NEW.id, NEW.name, NEW.name_key, NEW.mains_id, NEW.room_id, NEW.role, NEW.limit_amount, NEW.currency,
      NEW.tax_included, NEW.made_at));
END;

CREATE TRIGGER brief_signs_removed AFTER DELETE ON brief BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'brief', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.name, OLD.name_key, OLD.mains_id, OLD.room_id, OLD.role, OLD.limit_amount, OLD.currency,
      OLD.tax_included, OLD.made_at),
    NULL);
END;

CREATE TRIGGER curve_signs_made AFTER INSERT ON curve BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'curve', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.loudspeaker_id, NEW.kind, CAST(NEW.angle AS TEXT), NEW.source_id, NEW.evidence,
      NEW.smoothing, NEW.measured_on, NEW.added_at, hex(NEW.raw), NEW.version, NEW.per_octave, NEW.grid_first,
      hex(NEW.grid), hex(NEW.bands)));
END;

CREATE TRIGGER curve_signs_changed AFTER UPDATE ON curve BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'curve', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.loudspeaker_id, OLD.kind, CAST(OLD.angle AS TEXT), OLD.source_id, OLD.evidence,
      OLD.smoothing, OLD.measured_on, OLD.added_at, hex(OLD.raw), OLD.version, OLD.per_octave, OLD.grid_first,
      hex(OLD.grid), hex(OLD.bands)),
    json_array(NEW.id, NEW.loudspeaker_id, NEW.kind, CAST(NEW.angle AS TEXT), NEW.source_id, NEW.evidence,
      NEW.smoothing, NEW.measured_on, NEW.added_at, hex(NEW.raw), NEW.version, NEW.per_octave, NEW.grid_first,
      hex(NEW.grid), hex(NEW.bands)));
END;

CREATE TRIGGER curve_signs_removed AFTER DELETE ON curve BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'curve', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.loudspeaker_id, OLD.kind, CAST(OLD.angle AS TEXT), OLD.source_id, OLD.evidence,
      OLD.smoothing, OLD.measured_on, OLD.added_at, hex(OLD.raw), OLD.version, OLD.per_octave, OLD.grid_first,
      hex(OLD.grid), hex(OLD.bands)),
    NULL);
END;

CREATE TRIGGER source_signs_made AFTER INSERT ON source BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'source', NEW.id, 'made', '{}',
    NULL,
    json_array(NEW.id, NEW.name));
END;

CREATE TRIGGER source_signs_changed AFTER UPDATE ON source BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'source', NEW.id, 'changed', '{}',
    json_array(OLD.id, OLD.name),
    json_array(NEW.id, NEW.name));
END;

CREATE TRIGGER source_signs_removed AFTER DELETE ON source BEGIN
  INSERT INTO signature (at, subject, number, deed, said, was, becomes)
  VALUES (strftime('%Y-%m-%d %H:%M:%f', 'now') || '000', 'source', OLD.id, 'removed', '{}',
    json_array(OLD.id, OLD.name),
    NULL);
END;

-- As it was, but that a quote of which a delivery was taken back is to be delivered again.
CREATE TRIGGER quote_forward BEFORE UPDATE ON quote BEGIN
  SELECT RAISE(ABORT, 'a quote goes from open to accepted to sold, or lapses')
  WHERE NOT (OLD.state = 'open' AND NEW.state IN ('accepted', 'lapsed')
    OR OLD.state = 'accepted' AND NEW.state IN ('sold', 'lapsed')
    OR OLD.state = 'sold' AND NEW.state = 'accepted' AND EXISTS (SELECT 1 FROM movement s
      JOIN movement u ON u.undoes_id = s.id WHERE s.quote_id = OLD.id AND s.kind = 'sell'));
  SELECT RAISE(ABORT, 'of a quote only the state changes')
  WHERE NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.currency <> OLD.currency
    OR NEW.made_at <> OLD.made_at OR NEW.until <> OLD.until;
END;
