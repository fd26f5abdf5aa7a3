"""What the figures of one loudspeaker must agree on: one list of rules for files, datasheets and tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import pairwise
from operator import itemgetter
from typing import Any, Final, NamedTuple

from triptych.catalog.fields import COLUMNS
from triptych.catalog.money import dearest, finer_than_money, minor_digits, too_dear
from triptych.catalog.number_texts import plain
from triptych.catalog.records import Enclosure, PortLocation, Role, SoldAs

Fault = tuple[str, str]
"""A column, and what is wrong in it."""

Values = Mapping[str, Any]
"""What is known of a loudspeaker, by column; what is left out or None is unknown."""

_NO_PORT: Final = (Enclosure.SEALED, Enclosure.OPEN_BACK)
_HAS_PORT: Final = (Enclosure.PORTED, Enclosure.PASSIVE_RADIATOR)
_MEND: Final = "mend the count or the layout"
DRIVER_OVER_FACE: Final = 1.05
"""A driver's nominal size may be over the face that holds it by this, as nominal sizes are rounded [1]. Assumed."""

LONGEST_CENTRE: Final = 1.4
"""A loudspeaker offered as a centre alone is no longer than that [m]. Assumed."""


UNKNOWN: Final[Values] = dict.fromkeys(COLUMNS)
"""Every column, and nothing known of it."""


def faults(values: Values) -> list[Fault]:
    """Return every contradiction between the figures of one loudspeaker; what is unknown contradicts nothing."""
    return broken({**UNKNOWN, **values})


def unstorable(values: Values) -> list[Fault]:
    """Return what the CHECKs of the tables would refuse."""
    return broken({**UNKNOWN, **values}, stored=True)


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

    names: tuple[str, ...]
    columns: Callable[[Values], Any]
    faults: Callable[[Values], Iterator[Fault]]
    stored: bool
    agree: set[Any]


def _rule(faults: Callable[[Values], Iterator[Fault]], columns: str, *, stored: bool = False) -> _Rule:
    names = tuple(columns.split())
    return _Rule(names, itemgetter(*names), faults, stored, set())


def broken(whole: Values, *, stored: bool = False) -> list[Fault]:
    """What is wrong in values of which every column is said."""
    # a number alone is looked at by far the most often
    found = [] if all(map(set.__contains__, _IN_RANGE, _of_signed(whole))) else _each(_SIGNS, whole)
    return found + _each(_STORED if stored else _RULES, whole)


def _each(rules: Iterable[_Rule], whole: Values) -> list[Fault]:
    found: list[Fault] = []
    for _, columns, faults, _, agree in rules:
        told = columns(whole)
        if told in agree:
            continue
        wrong = list(faults(whole))
        found += wrong
        if not wrong and len(agree) < _KEPT:
            agree.add(told)
    return found


def disagreeing(columns: Mapping[str, Sequence[Any]]) -> set[int]:
    """At which places of columns, of which every one is said, something is wrong."""
    odd = set[int]()
    for names, _, faults, _, agree in (*_SIGNS, *_RULES):
        told = columns[names[0]] if len(names) == 1 else list(zip(*(columns[name] for name in names), strict=True))
        wrong = set()
        for one in set(told) - agree:
            if any(faults(dict(zip(names, (one,) if len(names) == 1 else one, strict=True)))):
                wrong.add(one)
            elif len(agree) < _KEPT:
                agree.add(one)
        if wrong:
            odd.update(at for at, one in enumerate(told) if one in wrong)
    return odd


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
