"""What the figures of one loudspeaker must agree on: one list of rules for files, datasheets and tables."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from itertools import pairwise
from operator import attrgetter, itemgetter
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from triptych.catalog.cell_readings import CellReader, Stated
from triptych.catalog.fields import COLUMNS, REQUIRED
from triptych.catalog.money import dearest, finer_than_money, minor_digits, too_dear
from triptych.catalog.names import name_key
from triptych.catalog.number_texts import plain
from triptych.catalog.numerals import Mark
from triptych.catalog.records import Enclosure, Figure, LoudspeakerRecord, PortLocation, Role, SoldAs

Fault = tuple[str, str]
"""A column, and what is wrong in it."""

Values = Mapping[str, Any]
"""What is known of a loudspeaker, by column; what is left out or None is unknown."""

NOTHING: Final[Mapping[str, Any]] = MappingProxyType({})
"""What stands where nothing is given."""

NAME_PARTS: Final = ("maker", "series", "model")
"""The columns that name a loudspeaker."""

_NO_PORT: Final = (Enclosure.SEALED, Enclosure.OPEN_BACK)
_HAS_PORT: Final = (Enclosure.PORTED, Enclosure.PASSIVE_RADIATOR)
_MEND: Final = "mend the count or the layout"
DRIVER_OVER_FACE: Final = 1.05
"""A driver's nominal size may be over the face that holds it by this, as nominal sizes are rounded [1]. Assumed."""

LONGEST_CENTRE: Final = 1.4
"""A loudspeaker offered as a centre alone is no longer than that [m]. Assumed."""

_BESIDE: Final[Mapping[str, tuple[str, ...]]] = {"low_limit_drop": ("low_limit",)}


def faults(values: Values) -> list[Fault]:
    """Return every contradiction between the figures of one loudspeaker; what is unknown contradicts nothing."""
    return _broken({**_UNKNOWN, **values})


def unstorable(values: Values) -> list[Fault]:
    """Return what the CHECKs of the tables would refuse."""
    return _broken({**_UNKNOWN, **values}, stored=True)


def values_of(record: LoudspeakerRecord) -> dict[str, Any]:
    """Return what a record holds, by column."""
    return dict(zip(COLUMNS, _of_columns(record), strict=True))


_of_columns: Final[Callable[[LoudspeakerRecord], tuple[Any, ...]]] = attrgetter(*COLUMNS)

_UNKNOWN: Final[Values] = dict.fromkeys(COLUMNS)


def record_of(
    values: Values, unread: Collection[str] = (), figures: Mapping[str, Figure] = NOTHING
) -> tuple[LoudspeakerRecord | None, list[Fault]]:
    """Return the record that values make with the defaults that the format states, or None and every fault.

    Parameters
    ----------
    values : mapping
        By column.
    unread : collection of str
        Columns whose texts could not be read: no reason to call another one wrong.
    figures : mapping
        Where the values come from.
    """
    missing = [(name, "is empty or unknown; it is required") for name in REQUIRED if not values.get(name)]
    told = [fault for fault in missing if fault[0] not in unread]
    if missing:
        return None, told
    whole = {**_UNKNOWN, **values, **_defaults(values)}
    found = _broken(whole)
    told = [(name, why) for name, why in found if not {name, *_BESIDE.get(name, ())} & set(unread)]
    return (None if told or unread else LoudspeakerRecord(**whole, figures=figures)), told


def record_from_texts(
    texts: Mapping[str, str],
    source: str,
    beside: Values = NOTHING,
    marks: Mapping[str, Mark | None] = NOTHING,
    reader: CellReader | None = None,
) -> tuple[LoudspeakerRecord | None, list[Fault]]:
    """Return the record that texts by column state, or None, and every fault by column.

    Parameters
    ----------
    texts : mapping of str to str
        Columns that are left out are as in `beside`, or unknown.
    source : str
        Where the figures come from.
    beside : mapping
        Values that stand where no text does.
    marks : mapping of str to str
        The decimal marks of columns, for numbers that could be read two ways.
    reader : CellReader, optional
        What reads the texts of many loudspeakers, by marks of its own.
    """
    reader = reader or CellReader(marks)
    told, known, unread = reader.values(texts, SOURCED)
    values = {**beside, **told}
    if values.get("price") is not None and (price := texts.get("price")):
        currency, complaint = reader.currency(price, values.get("currency"))
        if complaint:
            unread.append(("price", complaint))
        else:
            values["currency"] = currency
    record, found = record_of(values, {name for name, _ in unread}, Stated(known, source))
    return record, unread + found


SOURCED: Final = frozenset(COLUMNS) - {*NAME_PARTS, "family", "note", "status"}
"""The columns of which it is kept where a value comes from: figures and words; a name's source is the loudspeaker's."""


def record_beside(
    old: LoudspeakerRecord,
    texts: Mapping[str, str],
    source: str,
    marks: Mapping[str, Mark | None] = NOTHING,
    reader: CellReader | None = None,
) -> tuple[LoudspeakerRecord | None, list[Fault]]:
    """Return what texts by column make of a known loudspeaker, or None, and every fault by column.

    What no text says stays as it is known. A figure that stays keeps where it came from.
    """
    # a name is said as a whole or not at all
    known = values_of(old) | (dict.fromkeys(NAME_PARTS) if "model" in texts else {})
    record, faults = record_from_texts(texts, source, known, marks, reader)
    if record is None:
        return None, faults
    stays = {name for name in COLUMNS if getattr(record, name) == getattr(old, name)}
    kept = {name: figure for name, figure in old.figures.items() if name in stays or name not in COLUMNS}
    told = {name: figure for name, figure in record.figures.items() if name not in stays}
    return replace(record, figures=MappingProxyType(kept | told)), faults


def cleared(old: LoudspeakerRecord, new: LoudspeakerRecord, texts: Mapping[str, str]) -> dict[str, str]:
    """Return the figures of a known loudspeaker that vanish because their texts are empty, as they are known."""
    empty = [name for name, text in texts.items() if COLUMNS[name].says_nothing(text)]
    lost = [name for name in empty if not _stands(getattr(old, name), getattr(new, name))]
    # a currency may stand in the price
    return {name: COLUMNS[name].shown(getattr(old, name)) for name in lost if name != "currency" or not new.currency}


def renamed(record: LoudspeakerRecord, **parts: str | None) -> LoudspeakerRecord:
    """Return a record under another maker, series or model; a family that is maker and series goes along."""
    new = replace(record, **parts)  # type: ignore[arg-type]  # of the names alone
    derived = name_key(record.family) == name_key(record.maker, record.series)
    if not derived and record.family is not None:
        return new
    return replace(new, family=None if new.series is None else f"{new.maker} {new.series}")


_TOGETHER: Final[Mapping[str, tuple[str, ...]]] = {
    "sensitivity": ("sensitivity_basis",),
    "low_limit": ("low_limit_drop",),
    "price": ("currency", "price_per", "tax", "tax_rate"),
}
"""What a figure holds under: taken over with it, or not at all."""

_OF_A_POSE: Final = ("orientation", "width", "height", "axis_height")


def filled(record: LoudspeakerRecord, other: LoudspeakerRecord) -> LoudspeakerRecord:
    """Return a record with what only another one of the same loudspeaker knows, with its sources.

    Where the two would contradict each other, nothing is taken over.
    """
    unknown = [name for name in COLUMNS if getattr(record, name) is None and getattr(other, name) is not None]
    unknown = [name for name in unknown if name not in ("series", "family")]
    for head, theirs in _TOGETHER.items():
        if head not in unknown:
            unknown = [name for name in unknown if name not in theirs]
    if record.orientation != other.orientation and any(getattr(record, name) is not None for name in _OF_A_POSE):
        unknown = [name for name in unknown if name not in _OF_A_POSE]
    beside = [name for head, theirs in _TOGETHER.items() if head in unknown for name in theirs]
    taken = {name: getattr(other, name) for name in (*unknown, *beside)}
    figures = {name: figure for name, figure in other.figures.items() if name in taken}
    new = replace(record, **taken, figures=MappingProxyType({**record.figures, **figures}))
    return record if faults(values_of(new)) else new


def _stands(known: Any, now: Any) -> bool:
    """Whether a value is there still; a name in another case is the same."""
    return known is None or known == now or (isinstance(known, str) and known.casefold() == str(now).casefold())


def _defaults(values: Values) -> dict[str, Any]:
    """What the format states for what is left out: the family.

    The field of a sensitivity is anechoic where nobody says, but stays unsaid: what is judged then is no statement.
    """
    found: dict[str, Any] = {}
    if values.get("family") is None and values.get("series") is not None:
        found["family"] = f"{values['maker']} {values['series']}"
    return found


def _sign(name: str, values: Values) -> Iterator[Fault]:
    value, column = values.get(name), COLUMNS[name]
    if value is None:
        return
    above, most = column.check == "> 0", column.about.most
    numbers = value if isinstance(value, tuple) else (value,)
    if any(one < 0 or (above and one == 0) or (most is not None and one > most) for one in numbers):
        up_to = "" if most is None else f", up to {most:g}"
        told = value if isinstance(value, tuple) else f"{value:g}"
        yield name, f"is {told}: must be {'above zero' if above else 'zero or more'}{up_to}"


def _rise(values: Values) -> Iterator[Fault]:
    crossover = values.get("crossover")
    if crossover == ():
        yield "crossover", "holds no frequency: leave it out where it is not known"
    elif crossover is not None and any(low >= high for low, high in pairwise(crossover)):
        yield "crossover", f"is {crossover}: frequencies must rise"


def _band(values: Values) -> Iterator[Fault]:
    low, high = values.get("low_limit"), values.get("high_limit")
    if low is not None and high is not None and low >= high:
        yield "low_limit", f"{low:g} Hz is not under high_limit, {high:g} Hz; the lower end goes here"


def _power(values: Values) -> Iterator[Fault]:
    low, high = values.get("amplifier_min"), values.get("amplifier_max")
    if low is not None and high is not None and low > high:
        yield "amplifier_min", f"{low:g} W is above amplifier_max, {high:g} W; are the two exchanged?"


def _drop(values: Values) -> Iterator[Fault]:
    if values.get("low_limit_drop") is not None and values.get("low_limit") is None:
        yield "low_limit_drop", "stands without low_limit; give that too, or leave this empty"


def _enclosure(values: Values) -> Iterator[Fault]:
    enclosure, location = values.get("enclosure"), values.get("port_location")
    if enclosure in _NO_PORT:
        word = enclosure.value
        if location not in (None, PortLocation.NONE):
            yield (
                "port_location",
                f"{location.value!r}, but the enclosure is {word}; write 'none' or mend the enclosure",
            )
        if values.get("port_diameter") is not None:
            yield "port_diameter", f"a {word} enclosure has no port; leave it empty or mend the enclosure"
        if values.get("bung"):
            yield "bung", f"a {word} enclosure has no port to stop; write 'no' or mend the enclosure"
    if enclosure in _HAS_PORT and location is PortLocation.NONE:
        word = enclosure.value
        yield "port_location", f"'none', but the enclosure is {word}; say where it is, or leave it empty if unknown"


def _impedance(values: Values) -> Iterator[Fault]:
    nominal, minimum = values.get("impedance_nominal"), values.get("impedance_minimum")
    if nominal is not None and minimum is not None and minimum > nominal:
        yield "impedance_minimum", f"{minimum:g} ohm is above the nominal {nominal:g} ohm; are the two exchanged?"


def _money(values: Values) -> Iterator[Fault]:
    price, currency = values.get("price"), values.get("currency")
    if price is not None and currency is None:
        yield "currency", "is empty beside a price; write three letters, such as EUR"
    elif price is not None and finer_than_money(price, currency):
        yield (
            "price",
            f"{plain(price)} has more than the {minor_digits(currency)} decimals that {currency} has; round it",
        )
    elif price is not None and too_dear(price, currency):
        yield "price", f"{plain(price)} {currency} {dearest(currency)}"


def _per(values: Values) -> Iterator[Fault]:
    if values.get("price") is not None and values.get("price_per") is None and values.get("sold_as") is SoldAs.PAIR:
        yield "price_per", "is empty, and it is sold in pairs: write whether its price is of each or of a pair"


def _box(values: Values) -> Iterator[Fault]:
    width, height, axis = values.get("width"), values.get("height"), values.get("axis_height")
    if height is not None and axis is not None and axis > height:
        yield "axis_height", f"{_mm(axis)} above the base of a box {_mm(height)} high; measure from the base of the box"
    spacing, count = values.get("woofer_spacing"), values.get("woofer_count")
    if spacing is None:
        return
    if count in (0, 1):
        yield "woofer_spacing", f"woofer_count is {count}, so there is no spacing; leave it empty"
    if width is not None and height is not None and spacing > max(width, height):
        side = _mm(max(width, height))
        yield "woofer_spacing", f"{_mm(spacing)} is more than the box's longer side, {side}; measure centre to centre"


def _drivers(values: Values) -> Iterator[Fault]:
    """No driver is wider than the face that holds it; a subwoofer's may be any face of its box."""
    sides = sorted(side for name in ("width", "height", "depth") if (side := values.get(name)) is not None)
    fronts = [side for side in (values.get("width"), values.get("height")) if side is not None]
    only_sub = values.get("roles") == frozenset({Role.SUB})
    if not fronts or (only_sub and len(sides) < 3):
        return
    face = sides[1] if only_sub else min(fronts)
    for name in ("woofer_size", "midrange_size"):
        size = values.get(name)
        if size is not None and size > face * DRIVER_OVER_FACE:
            yield name, f"{_mm(size)} is wider than its box, {_mm(face)}: mend the one or the other"


def _layout(values: Values) -> Iterator[Fault]:
    """The letters of the layout and the counts of drivers tell of the same ones."""
    layout, woofers, midranges = values.get("layout"), values.get("woofer_count"), values.get("midrange_count")
    if not layout:
        return
    bass, low, middle = (layout.count(letter) for letter in "BWM")
    # without a W or a B the M are mid-woofers, which are counted as either or as both
    if woofers is not None and midranges is not None and not (bass + low and middle):
        if woofers + midranges != bass + low + middle:
            yield "woofer_count", f"{woofers} and midrange_count {midranges}, but {layout}: {_MEND}"
        return
    if woofers is not None and woofers not in ({bass + low, bass, low} - {0} or {middle}):
        yield "woofer_count", f"is {woofers}, but {layout} has {bass + low or middle}: {_MEND}"
    if midranges is not None and midranges not in ({middle} if bass + low else {0, middle}):
        yield "midrange_count", f"is {midranges}, but {layout} has {middle}: {_MEND}"


def _role(values: Values) -> Iterator[Fault]:
    roles, sides = values.get("roles"), [values.get("width"), values.get("height")]
    longest = max((side for side in sides if side is not None), default=0.0)
    if roles == frozenset({Role.CENTRE}) and longest > LONGEST_CENTRE:
        yield (
            "roles",
            f"a centre {_mm(longest)} long is no usual one (up to {_mm(LONGEST_CENTRE)}): mend the size, or write "
            "'main;centre' if it is a tower or panel that serves as both",
        )


def _mm(length: float) -> str:
    return f"{length * 1000:g} mm"


class _Rule(NamedTuple):
    """One rule: the columns that it asks, and what is wrong in them; a `stored` one is held by the tables too.

    `agree` are values of these columns that were found to: most loudspeakers are alike in most of them.
    """

    columns: Callable[[Values], Any]
    faults: Callable[[Values], Iterator[Fault]]
    stored: bool
    agree: set[Any]


def _rule(faults: Callable[[Values], Iterator[Fault]], columns: str, *, stored: bool = False) -> _Rule:
    return _Rule(itemgetter(*columns.split()), faults, stored, set())


def _broken(whole: Values, *, stored: bool = False) -> list[Fault]:
    """What is wrong in values of which every column is said."""
    # a number alone is looked at by far the most often
    found = [] if all(map(set.__contains__, _IN_RANGE, _of_signed(whole))) else _each(_SIGNS, whole)
    return found + _each(_STORED if stored else _RULES, whole)


def _each(rules: Iterable[_Rule], whole: Values) -> list[Fault]:
    found: list[Fault] = []
    for columns, faults, _, agree in rules:
        told = columns(whole)
        if told in agree:
            continue
        wrong = list(faults(whole))
        found += wrong
        if not wrong and len(agree) < _KEPT:
            agree.add(told)
    return found


_KEPT: Final = 20_000
"""How many values a rule keeps of those that agree."""

_SIGNED: Final = tuple(name for name, column in COLUMNS.items() if column.check)
_of_signed: Final = itemgetter(*_SIGNED)
_SIGNS: Final = tuple(_rule(partial(_sign, name), name, stored=True) for name in _SIGNED)
_IN_RANGE: Final = tuple(rule.agree for rule in _SIGNS)

_RULES: Final = (
    _rule(_rise, "crossover", stored=True),
    _rule(_band, "low_limit high_limit", stored=True),
    _rule(_drop, "low_limit_drop low_limit"),
    _rule(_enclosure, "enclosure port_location port_diameter bung"),
    _rule(_impedance, "impedance_nominal impedance_minimum"),
    _rule(_power, "amplifier_min amplifier_max", stored=True),
    _rule(_money, "price currency"),
    _rule(_per, "price price_per sold_as"),
    _rule(_box, "width height axis_height woofer_spacing woofer_count"),
    _rule(_drivers, "width height depth roles woofer_size midrange_size"),
    _rule(_layout, "layout woofer_count midrange_count"),
    _rule(_role, "roles width height"),
)
_STORED: Final = tuple(rule for rule in _RULES if rule.stored)
