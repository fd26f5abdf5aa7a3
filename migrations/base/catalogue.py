"""Loudspeakers, rooms, weights and rules, as the base makes them. Part of a step: never change what it made."""

from __future__ import annotations

from triptych.migrations.base.kinds import (
    BYTES,
    CODE,
    DAY,
    INSTANT,
    JSON,
    KEY,
    MONEY,
    NUMBER,
    TEXT,
    WHOLE,
    YES_NO,
    check,
    index,
    must,
    named,
    not_negative,
    points,
    positive,
    primary,
    some,
    table,
    unique,
    word,
)

BUDGET_ROLES = "mains centre surrounds wides heights sub electronics accessories calibration display contingency"
TAX = "included excluded"
ROLES = "main centre surround height sub"
PER = "each pair"
EVIDENCE = "measured stated modelled assumed"
MEASURES = "one pair all"

table("maker", *named())

table(
    "series",
    *must(WHOLE, "id maker_id"),
    *must(TEXT, "name"),
    *must(KEY, "name_key"),
    check("named", "name_key <> ''"),
    points("maker_id", "maker.id", ondelete="CASCADE"),
    primary("id"),
    unique("id maker_id"),
    unique("maker_id name_key"),
)

table("family", *named())

table(
    "source",
    *must(WHOLE, "id"),
    *must(TEXT, "name"),
    primary("id"),
    unique("name"),
)

table(
    "loudspeaker",
    *must(WHOLE, "id revision"),
    *must(YES_NO, "retired"),
    *must(WHOLE, "maker_id"),
    *some(WHOLE, "series_id family_id"),
    *must(TEXT, "model"),
    *must(KEY, "name_key"),
    *word("orientation", "upright lying"),
    *some(NUMBER, "width height depth feet rear_allowance weight"),
    *word("enclosure", "sealed ported passive_radiator transmission_line open_back"),
    *word("port_location", "front rear side top bottom none", check="portlocation"),
    *some(NUMBER, "port_diameter"),
    *some(YES_NO, "bung"),
    *some(NUMBER, "sensitivity"),
    *word("sensitivity_basis", "anechoic in_room half_space unknown", check="sensitivitybasis"),
    *some(NUMBER, "impedance_nominal impedance_minimum low_limit low_limit_drop high_limit axis_height"),
    *some(TEXT, "layout"),
    *some(NUMBER, "woofer_spacing amplifier_min amplifier_max power_handling"),
    *word("sold_as", "single pair either", check="soldas"),
    *word("status", "current last_of_line discontinued"),
    *some(TEXT, "note"),
    *positive(
        "amplifier_max amplifier_min depth height high_limit impedance_minimum impedance_nominal "
        "low_limit_drop low_limit port_diameter power_handling sensitivity weight width woofer_spacing"
    ),
    *not_negative("axis_height feet rear_allowance"),
    check("amplifier_min_up_to_amplifier_max", "amplifier_min <= amplifier_max"),
    check("low_limit_below_high_limit", "low_limit < high_limit"),
    check("named", "name_key <> ''"),
    check("revision_from_one", "revision >= 1"),
    points("family_id", "family.id"),
    points("maker_id", "maker.id"),
    points("series_id maker_id", "series.id series.maker_id"),
    primary("id"),
    unique("name_key"),
    index("ix_loudspeaker_family_id", "family_id"),
    index("ix_loudspeaker_maker_id", "maker_id"),
)

table(
    "loudspeaker_role",
    *must(WHOLE, "loudspeaker_id"),
    *word("role", ROLES, must=True),
    points("loudspeaker_id", "loudspeaker.id", ondelete="CASCADE"),
    primary("loudspeaker_id role"),
    index("ix_loudspeaker_role_role", "role"),
)

table(
    "driver",
    *must(WHOLE, "loudspeaker_id"),
    *word("kind", "tweeter midrange woofer", must=True, check="driverkind"),
    *some(NUMBER, "size"),
    *some(WHOLE, "count"),
    *word("type", "dome waveguide_dome horn ribbon folded_ribbon ring cone", check="tweetertype"),
    *some(TEXT, "material"),
    *some(NUMBER, "coverage_horizontal coverage_vertical"),
    *positive("size"),
    *not_negative("count"),
    check(
        "coverage_range",
        "coverage_horizontal > 0 AND coverage_horizontal <= 360 AND coverage_vertical > 0 AND coverage_vertical <= 360",
    ),
    check("coverage_whole", "(coverage_horizontal IS NULL) = (coverage_vertical IS NULL)"),
    check("type_of_tweeter", "kind = 'tweeter' OR type IS NULL"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="CASCADE"),
    primary("loudspeaker_id kind"),
)

table(
    "crossover",
    *must(WHOLE, "loudspeaker_id ordinal"),
    *some(NUMBER, "frequency"),
    *some(WHOLE, "order"),
    *positive("frequency"),
    check("order_range", '"order" BETWEEN 1 AND 8'),
    check("ordinal_from_one", "ordinal >= 1"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="CASCADE"),
    primary("loudspeaker_id ordinal"),
)

table(
    "price",
    *must(WHOLE, "id loudspeaker_id"),
    *some(MONEY, "amount"),
    *some(CODE, "currency"),
    *word("per", PER, check="priceper"),
    *word("tax", TAX),
    *some(NUMBER, "tax_rate"),
    *must(DAY, "valid_from"),
    *some(DAY, "valid_to"),
    *not_negative("amount"),
    check("currency_code", "length(currency) = 3 AND currency = upper(currency)"),
    check("tax_rate_range", "tax_rate >= 0 AND tax_rate <= 100"),
    check("valid_from_before_valid_to", "valid_from < valid_to"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="CASCADE"),
    primary("id"),
    unique("loudspeaker_id valid_from"),
    index("uq_price_open", "loudspeaker_id", where="valid_to IS NULL", unique=True),
)

table(
    "figure",
    *must(WHOLE, "loudspeaker_id"),
    *must(TEXT, "quantity raw"),
    *must(WHOLE, "source_id"),
    *some(TEXT, "basis"),
    *word("evidence", EVIDENCE, must=True),
    *must(JSON, "flags"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="CASCADE"),
    points("source_id", "source.id"),
    primary("loudspeaker_id quantity"),
)

table(
    "curve",
    *must(WHOLE, "id loudspeaker_id"),
    *word("kind", "on_axis horizontal vertical listening_window in_room", must=True, check="curvekind"),
    *some(NUMBER, "angle"),
    *must(WHOLE, "source_id"),
    *word("evidence", EVIDENCE, must=True),
    *some(WHOLE, "smoothing"),
    *some(DAY, "measured_on"),
    *must(INSTANT, "added_at"),
    *must(BYTES, "raw"),
    *must(WHOLE, "version per_octave grid_first"),
    *must(BYTES, "grid bands"),
    *positive("per_octave"),
    check("angle_of_an_orbit", "(kind IN ('horizontal', 'vertical')) = (angle IS NOT NULL)"),
    check("angle_range", "angle > -180 AND angle <= 180"),
    check("smoothing_range", "smoothing BETWEEN 1 AND 96"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="CASCADE"),
    points("source_id", "source.id"),
    primary("id"),
    unique("loudspeaker_id kind angle"),
    index("uq_curve_without_angle", "loudspeaker_id kind", where="angle IS NULL", unique=True),
)

table(
    "acoustic_profile",
    *must(WHOLE, "loudspeaker_id revision model_version"),
    *must(BYTES, "data"),
    points("loudspeaker_id", "loudspeaker.id", ondelete="CASCADE"),
    primary("loudspeaker_id"),
)

table(
    "room",
    *named(),
    *some(NUMBER, "screen_width screen_height screen_diagonal"),
    *some(TEXT, "screen_aspect"),
    *some(NUMBER, "screen_bottom"),
    *some(YES_NO, "screen_transparent"),
    *some(TEXT, "mains_speaker"),
    *some(NUMBER, "mains_spacing mains_from_wall mains_toe_in mains_axis_height"),
    *must(YES_NO, "amplifier"),
    *some(
        NUMBER,
        "amplifier_power amplifier_into amplifier_lowest_load amplifier_trim_range listening_target_peak "
        "listening_room_gain",
    ),
    *must(YES_NO, "listening_needs_real_centre"),
    *some(MONEY, "money_centre"),
    *some(CODE, "money_currency"),
    *some(YES_NO, "money_tax_included"),
    *positive(
        "amplifier_into amplifier_lowest_load amplifier_power mains_spacing screen_diagonal screen_height screen_width"
    ),
    *not_negative("amplifier_trim_range mains_axis_height mains_from_wall money_centre screen_bottom"),
    check("money_currency_code", "length(money_currency) = 3 AND money_currency = upper(money_currency)"),
    check("money_whole", "money_centre IS NULL OR money_tax_included IS NOT NULL"),
)

table(
    "seat",
    *must(WHOLE, "room_id ordinal"),
    *must(TEXT, "name"),
    *must(KEY, "name_key"),
    *must(NUMBER, "x distance"),
    *some(NUMBER, "ear_height"),
    *must(YES_NO, "primary regular"),
    *positive("distance ear_height"),
    points("room_id", "room.id", ondelete="CASCADE"),
    primary("room_id ordinal"),
    unique("room_id name_key"),
    index("uq_seat_primary", "room_id", where='"primary"', unique=True),
)

table(
    "place",
    *must(WHOLE, "room_id ordinal"),
    *must(TEXT, "name"),
    *must(KEY, "name_key"),
    *word("kind", "cavity open_shelf top stand wall behind_screen", must=True, check="placekind"),
    *some(NUMBER, "width height depth base front"),
    *word("back", "closed open"),
    *some(NUMBER, "load"),
    *word("hot", "no yes unknown", must=True),
    *word("wall", "masonry stud plasterboard unknown", check="wallkind"),
    *some(NUMBER, "gap setback"),
    *positive("depth height width"),
    *not_negative("base front gap load"),
    points("room_id", "room.id", ondelete="CASCADE"),
    primary("room_id ordinal"),
    unique("room_id name_key"),
)

table(
    "brief",
    *named(),
    *some(WHOLE, "mains_id"),
    *must(WHOLE, "room_id"),
    *word("role", ROLES, must=True),
    *some(MONEY, "limit_amount"),
    *some(CODE, "currency"),
    *must(YES_NO, "tax_included"),
    *must(INSTANT, "made_at"),
    *not_negative("limit_amount"),
    check("currency_code", "length(currency) = 3 AND currency = upper(currency)"),
    check("limit_in_a_currency", "limit_amount IS NULL OR currency IS NOT NULL"),
    points("mains_id", "loudspeaker.id"),
    points("room_id", "room.id", ondelete="CASCADE"),
)

table(
    "as_built",
    *must(WHOLE, "id room_id"),
    *some(TEXT, "speaker place mains"),
    *must(NUMBER, "trim_set"),
    *must(INSTANT, "made_at"),
    check("mains_named", "mains <> ''"),
    check("place_named", "place <> ''"),
    check("speaker_named", "speaker <> ''"),
    points("room_id", "room.id", ondelete="CASCADE"),
    primary("id"),
    index("ix_as_built_room_id", "room_id"),
)

table(
    "as_built_curve",
    *must(WHOLE, "as_built_id ordinal"),
    *word("channel", "left centre right", must=True),
    *must(TEXT, "seat source"),
    *must(BYTES, "raw"),
    points("as_built_id", "as_built.id", ondelete="CASCADE"),
    primary("as_built_id ordinal channel"),
)

table(
    "weight_profile",
    *named(),
    *some(TEXT, "note"),
)

table(
    "weight",
    *must(WHOLE, "weight_profile_id"),
    *must(TEXT, "criterion"),
    *must(NUMBER, "value"),
    *not_negative("value"),
    points("weight_profile_id", "weight_profile.id", ondelete="CASCADE"),
    primary("weight_profile_id criterion"),
)

table(
    "rule_set",
    *named(),
    *some(TEXT, "note"),
)

table(
    "spending_order",
    *must(WHOLE, "rule_set_id ordinal"),
    *word("role", BUDGET_ROLES, must=True, check="budgetrole"),
    check("bought", "role <> 'contingency'"),
    points("rule_set_id", "rule_set.id", ondelete="CASCADE"),
    primary("rule_set_id ordinal"),
    unique("rule_set_id role"),
)

table(
    "rule",
    *must(WHOLE, "rule_set_id ordinal"),
    *must(TEXT, "name"),
    *word("kind", "must should", must=True, check="rulekind"),
    *word("form", "floor cap presence", must=True, check="ruleform"),
    *word("measure", MEASURES, must=True, check="rulemeasure"),
    *must(TEXT, "factor"),
    *word("denominator", "audio_total speakers_and_sub limit money"),
    *word("against_measure", MEASURES, must=True),
    *some(TEXT, "why"),
    check("factor_not_negative", "factor <> '' AND factor NOT LIKE '-%'"),
    check("named", "name <> ''"),
    check("presence_of_no_share", "form <> 'presence' OR denominator IS NULL"),
    points("rule_set_id", "rule_set.id", ondelete="CASCADE"),
    primary("rule_set_id ordinal"),
    unique("rule_set_id name"),
)

table(
    "rule_role",
    *must(WHOLE, "rule_set_id rule_ordinal"),
    *word("side", "measured against", must=True, check="ruleside"),
    *must(WHOLE, "ordinal"),
    *word("role", BUDGET_ROLES, must=True, check="budgetrole"),
    check("contingency_is_measured", "side = 'measured' OR role <> 'contingency'"),
    points("rule_set_id rule_ordinal", "rule.rule_set_id rule.ordinal", ondelete="CASCADE"),
    primary("rule_set_id rule_ordinal side ordinal"),
)
