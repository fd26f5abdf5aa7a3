"""The forms that each matter takes on a sheet, as statements of all loudspeakers under one label."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

from tests.catalog.datasheet.variation import writing
from tests.catalog.datasheet.variation.invented import Invented
from tests.catalog.datasheet.variation.writing import Hand, Said

Form = Callable[[Hand, Sequence[Invented]], Iterator[Said]]
_SIDES: Final = ("width", "height", "depth")


def statements(hand: Hand, family: Sequence[Invented]) -> list[Said]:
    """Return most matters in drawn forms, in the order of a sheet or shuffled."""
    matters = [name for name in FORMS if hand.draw.random() < _OFTEN.get(name, 0.8)]
    if hand.chosen("order of matters", "as a sheet", "as a sheet", "shuffled") == "shuffled":
        hand.draw.shuffle(matters)
    return [said for matter in matters for said in FORMS[matter](hand, family)]


def _said(matter: str, label: str, made: Sequence[tuple[str, dict[str, str]]]) -> Said:
    return Said(matter, label, tuple(value for value, _ in made), tuple(told for _, told in made))


def _noted(hand: Hand, matter: str, value: str) -> str:
    """A value with a remark behind it."""
    if hand.chosen(f"note on {matter}", "none", "none", "none", "noted") == "none":
        return value
    note = hand.chosen(f"words of the note on {matter}", *hand.words["notes"][matter])
    return f"{value}{note}" if note == "*" else f"{value} {note}"


def _size(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    form = hand.chosen("size", "head", "behind", "lettered", "bracketed", "apart", "words", "unit in head", "strokes")
    if form == "apart":
        for side in _SIDES:
            made = [writing.length(hand, getattr(one, side)) for one in family]
            values = [(hand.unit(number, unit), {side: told}) for number, unit, told in made]
            yield _said("size", hand.label(side), values)
        return
    order = writing.drawn_order(hand, _SIDES)
    letters = [hand.words["sides"][place] for place in order]
    by = hand.chosen("letters", " x ", "x", " × ", "/")
    label = hand.label("size")
    if form == "words":
        label = f"{label} ({by.join(hand.words['side_words'][place] for place in order)})"
    elif form == "unit in head":
        label = f"{label} ({by.join(letters)}) [{writing.length(hand, 100)[1]}]"
    elif form in ("head", "strokes"):
        label = f"{label} ({by.join(letters)})"
    yield _said("size", label, [_sides(hand, one, form, order, letters, by) for one in family])


def _sides(
    hand: Hand, one: Invented, form: str, order: Sequence[int], letters: Sequence[str], by: str
) -> tuple[str, dict[str, str]]:
    made = [writing.length(hand, getattr(one, _SIDES[place])) for place in order]
    told = {_SIDES[place]: value for place, (_, _, value) in zip(order, made, strict=True)}
    numbers, unit = [number for number, _, _ in made], made[0][1]
    mark = hand.chosen("by", " x ", "x", " × ")
    if form == "lettered":
        shown = hand.unit(mark.join(f"{letter} {n}" for letter, n in zip(letters, numbers, strict=True)), unit)
    elif form == "bracketed":
        shown = mark.join(f"{hand.unit(n, unit)} ({letter})" for letter, n in zip(letters, numbers, strict=True))
    elif form == "strokes":
        shown = hand.unit(" / ".join(numbers), unit)
    elif form == "unit in head":
        shown = mark.join(numbers)
    else:
        shown = hand.unit(mark.join(numbers), unit)
    return (f"{shown} ({by.join(letters)})" if form == "behind" else _noted(hand, "size", shown)), told


def _weight(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    made = [writing.mass(hand, one.weight) for one in family]
    label = hand.label("weight")
    if "(" not in label and hand.chosen("unit of weight", "behind", "behind", "in the label") == "in the label":
        yield _said("weight", f"{label} ({made[0][1]})", [(number, {"weight": told}) for number, _, told in made])
        return
    yield _said(
        "weight",
        label,
        [(_noted(hand, "weight", hand.unit(number, unit)), {"weight": told}) for number, unit, told in made],
    )


def _sensitivity(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    label = hand.label("sensitivity")
    volts = hand.number(2.83, 2)
    bases = (f" ({volts} V/1 m)", f"/{volts} V/m", f" @ {volts} V, 1 m", f" ({volts}V @ 1m)", f" {volts} V / 1 m")
    basis = "" if "2" in label else hand.chosen("basis", *bases)
    made = [hand.unit(hand.number(one.sensitivity, 1 if one.sensitivity % 1 else 0), "dB") for one in family]
    yield _said(
        "sensitivity",
        label,
        [
            (_noted(hand, "sensitivity", f"{value}{basis}"), {"sensitivity": f"{one.sensitivity:g} dB"})
            for value, one in zip(made, family, strict=True)
        ],
    )


def _impedance(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    form = hand.chosen("impedance", "nominal", "bracket", "two lines", "min first")
    ohm, least = hand.term("ohm"), hand.term("minimum")
    nominal = [(hand.unit(str(one.impedance), ohm), {"impedance_nominal": f"{one.impedance} ohm"}) for one in family]
    lowest = [hand.number(one.minimum, 1) for one in family]
    told = [{"impedance_minimum": f"{one.minimum} ohm"} for one in family]
    label = hand.label("impedance")
    if form == "bracket":
        gap = "" if least.startswith(",") else " "
        yield _said(
            "impedance",
            label,
            [
                (value + gap + least.format(zmin=low), own | more)
                for (value, own), low, more in zip(nominal, lowest, told, strict=True)
            ],
        )
        return
    two = [
        _said("impedance", label, [(_noted(hand, "impedance", value), own) for value, own in nominal]),
        _said(
            "minimum",
            hand.label("minimum"),
            [(hand.unit(low, ohm), more) for low, more in zip(lowest, told, strict=True)],
        ),
    ]
    yield from two[:1] if form == "nominal" else two if form == "two lines" else reversed(two)


def _response(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    form = hand.chosen("drop", "bracket", "plus minus", "behind", "in the label")
    high = hand.chosen("high end", "kHz", "Hz", "k only")
    label = hand.label("response")
    drop = family[0].drop if form == "in the label" else None
    made = []
    for one in family:
        told = writing.response_told(one) | ({"low_limit_drop": f"{drop} dB"} if drop else {})
        upper = {
            "kHz": hand.unit(str(one.high // 1000), "kHz"),
            "Hz": hand.unit(hand.thousands(one.high), "Hz"),
            "k only": hand.unit(str(one.high // 1000), "kHz"),
        }[high]
        shown = hand.range(str(one.low) if high == "Hz" else hand.unit(str(one.low), "Hz"), upper)
        sign = {"bracket": f" (-{one.drop} dB)", "plus minus": f" (±{one.drop} dB)", "behind": f", -{one.drop} dB"}
        made.append((shown + sign.get(form, ""), told))
    yield _said("response", f"{label} (-{drop} dB)" if drop else label, made)


def _crossover(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    unit = hand.chosen("hand-overs", "kHz", "Hz", "mixed")
    slope = hand.chosen("slope", "unsaid", "unsaid", "said")
    mark = hand.chosen("between hand-overs", " / ", ", ", f" {hand.words['terms']['and']} ")
    made = []
    for one in family:
        shown = mark.join(_frequency(hand, one_of, unit) for one_of in one.crossover)
        told = {"crossover": writing.crossover_figure(one)}
        if slope == "said" and len(one.crossover) == 1:
            shown, told = f"{shown}, {one.slope} dB/oct.", told | {"crossover_order": str(one.slope // 6)}
        made.append((shown, told))
    yield _said("crossover", hand.label("crossover"), made)


def _frequency(hand: Hand, hertz: int, unit: str) -> str:
    if unit == "Hz" or (unit == "mixed" and hertz < 1000):
        return hand.unit(hand.thousands(hertz), "Hz")
    return hand.unit(hand.number(hertz / 1000, 2 if hertz % 100 else 1), "kHz")


def _drivers(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    form = hand.chosen("drivers", "a line each", "a line each", "one line", "count behind")
    woofers, tweeters, middles = ([_driver(hand, one, what, form) for one in family] for what in _DRIVERS)
    if form == "one line":
        labels = [hand.label(name) for name in ("woofer", "midrange", "tweeter")]
        rows = zip(woofers, middles, tweeters, strict=True)
        made = [
            (
                ", ".join(f"{value} {name}" for (value, _), name in zip(row, labels, strict=True) if value),
                row[0][1] | row[1][1] | row[2][1],
            )
            for row in rows
        ]
        yield _said("drivers", hand.label("drivers"), made)
        return
    for name, each in (("tweeter", tweeters), ("midrange", middles), ("woofer", woofers)):
        if all(value for value, _ in each):
            yield _said("drivers", hand.label(name), each)


_DRIVERS: Final = ("woofer", "tweeter", "midrange")


def _driver(hand: Hand, one: Invented, what: str, form: str) -> tuple[str, dict[str, str]]:
    size = {"woofer": one.woofer, "tweeter": one.tweeter, "midrange": one.midrange}[what]
    if size is None:
        return "", {}
    in_mm = hand.unit(str(size), "mm")
    if what == "tweeter":
        shown = hand.chosen("dome", "size first", "dome first")
        material = hand.term(one.material)
        value = f"{in_mm} {material}" if shown == "size first" else f"{material}, {in_mm}"
        return value, writing.tweeter_told(one, f"{size} mm")
    count = one.woofers if what == "woofer" else 1
    told = {f"{what}_size": f"{size} mm"}
    if count == 1 and (form == "count behind" or hand.chosen("one", "said", "unsaid") == "unsaid"):
        return in_mm, told
    counted = told | ({"woofer_count": str(count)} if what == "woofer" else {})
    return f"{in_mm} x {count}" if form == "count behind" else f"{count} x {in_mm}", counted


def _enclosure(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    made = [(hand.term(one.box), writing.box_told(one)) for one in family]
    yield _said("enclosure", hand.label("enclosure"), made)


def _amplifier(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    made = []
    for one in family:
        low, high = one.amplifier
        told = {"amplifier_min": f"{low} W", "amplifier_max": f"{high} W"}
        made.append((hand.range(str(low), hand.unit(str(high), "W")), told))
    yield _said("amplifier", hand.label("amplifier"), made)


def _handling(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    made = [(hand.unit(str(one.handling), "W"), {"power_handling": f"{one.handling} W"}) for one in family]
    yield _said("handling", hand.label("handling"), made)


def _price(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    terms, told = writing.per_terms(hand)
    told = told | {"currency": hand.words["currency"]}
    made = [(f"{writing.money(hand, one.price)} {terms}", told | {"price": str(one.price)}) for one in family]
    yield _said("price", hand.label("price"), made)


def _type(hand: Hand, family: Sequence[Invented]) -> Iterator[Said]:
    made = [(hand.term(one.kind), writing.role_told(one)) for one in family]
    yield _said("type", hand.label("type"), made)


FORMS: Final[dict[str, Form]] = {
    "type": _type,
    "enclosure": _enclosure,
    "drivers": _drivers,
    "crossover": _crossover,
    "response": _response,
    "sensitivity": _sensitivity,
    "impedance": _impedance,
    "amplifier": _amplifier,
    "handling": _handling,
    "size": _size,
    "weight": _weight,
    "price": _price,
}
_OFTEN: Final = {"amplifier": 0.5, "handling": 0.4, "type": 0.6, "price": 0.6}
