"""What makes a figure doubtful beside the others of its sheet, before anybody relies on it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.draft import AXES, DENSITY, Draft
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.result import ReadStatus
from triptych.catalog.records import PricePer, Role, TweeterType

_LARGEST_DOME: Final = 0.06
"""No dome that is called a tweeter is wider; common practice, no source. [m]."""
_LOWEST_TREBLE: Final = 8_000.0
"""A loudspeaker with a tweeter reaches at least that; common practice, no source. [Hz]."""
_USUAL_LEVELS: Final = (78.0, 101.0)
"""Between which the sensitivity of a loudspeaker for the home lies; common practice, no source. [dB]."""
_SMALL_PRICE: Final = 15
_LEAST_OCTAVES: Final = 1.5
"""Two hand-overs are at least so many times apart, or no driver would be between; common practice, no source."""
_HAND_OVERS: Final = (60.0, 12_000.0)
"""Between which passive drivers hand over; common practice, no source. [Hz]."""
_LOWEST_TREBLE_START: Final = 800.0
"""Lower no tweeter but a horn takes over from a woofer; common practice, no source. [Hz]."""
_MOST_BORNE: Final = 6.0
"""What a loudspeaker bears lies within so many times what its amplifier may have; common practice, no source."""
_PLURAL: Final = re.compile(
    r"frequencies|points\b|frequenzen|\bfrequences|frequenze\b|frecuencias|cortes\b|cruces\b|incroci\b|"
    r"scheidingsfrequenties|overnamefrequenties|kantelpunten|czestotliwosci|coupures\b|punkty podzialu"
)
"""Words for several hand-overs."""
_USUAL: Final = {
    "impedance_minimum": (1.6, 16.0),
    "impedance_nominal": (2.0, 16.0),
    "low_limit": (15.0, 250.0),
    "high_limit": (8_000.0, 120_000.0),
    "port_diameter": (0.015, 0.2),
    "woofer_size": (0.05, 0.5),
    "woofer_count": (1, 8),
    "midrange_count": (1, 4),
    "amplifier_min": (1.0, 200.0),
    "amplifier_max": (8.0, 2_000.0),
}
"""Between which the figures of a loudspeaker for the home lie; common practice, no source. [SI]."""
_CONFLICT: Final = re.compile(r"disagree|more than one amount|several sizes")
_GROUPS: Final = dict.fromkeys(AXES, "size") | dict.fromkeys(("impedance_nominal", "impedance_minimum"), "impedance")
SEVERAL: Final = 3
"""From so many matters on in which a sheet contradicts itself it is about several loudspeakers; tried, no source."""

_NAMES: Final = frozenset(("maker", "series", "model", "family"))
_Doubt = tuple[tuple[str, ...], str]


def raise_doubts(draft: Draft) -> None:
    """Refuse what cannot be beside the other figures, and flag what hardly can."""
    for rule in _IMPOSSIBLE:
        for columns, why in rule(draft):
            for column in columns:
                _refuse(column, why, draft)
    for rule in _ODD:
        for columns, why in rule(draft):
            for column in columns:
                if column not in draft.given:
                    draft.flag(column, f"suspect: {why}")
                    draft.ask(column, f"{why}; is it right?")


def refuse_crowd(draft: Draft) -> None:
    """Refuse every figure of a sheet that contradicts itself in so many matters that it must be about several."""
    matters = {
        _GROUPS.get(column, column)
        for column, found in draft.fields.items()
        if found.value is None and any(map(_CONFLICT.search, found.flags))
    }
    if len(matters) < SEVERAL - 1:
        return
    told = ", ".join(sorted(matters))
    for column in [name for name, found in draft.fields.items() if found.value is not None and name not in _NAMES]:
        if column in draft.given:
            continue
        if len(matters) < SEVERAL:
            draft.flag(column, f"the sheet contradicts itself ({told}); is it about one loudspeaker?")
        else:
            _refuse(column, f"the sheet contradicts itself ({told}), so it may be about several loudspeakers", draft)
    if len(matters) >= SEVERAL:
        draft.ask("model", "is this one loudspeaker or several? Give each its own text, or say that it is one")


def _refuse(column: str, why: str, draft: Draft) -> None:
    found = draft.fields.get(column)
    if found is None or found.value is None or column in draft.given:
        return
    draft.fields[column] = replace(found, value=None, status=ReadStatus.REFUSED, flags=(why,))
    draft.ask(column, f"{why}; what is right?")


def _nominal_load(draft: Draft) -> Iterator[_Doubt]:
    nominal, found = draft.known("impedance_nominal"), draft.fields.get("impedance_nominal")
    if nominal is not None and nominal != int(nominal) and found and not found.raw.startswith("impedance_nominal"):
        yield ("impedance_nominal",), f"{nominal:g} ohm is no nominal impedance, but may be the lowest"


def _treble(draft: Draft) -> Iterator[_Doubt]:
    size, woofer, kind = (draft.known(name) for name in ("tweeter_size", "woofer_size", "tweeter_type"))
    long = kind in (TweeterType.RIBBON, TweeterType.FOLDED_RIBBON, TweeterType.HORN, TweeterType.CONE)
    if size is not None and kind is not None and not long and size > _LARGEST_DOME:
        yield ("tweeter_size",), f"a {kind.value.replace('_', ' ')} of {size * 1000:g} mm is no tweeter"
    elif size is not None and long and size == woofer and size > _LARGEST_DOME:
        yield ("tweeter_size",), "the tweeter is as large as the woofer, whose size it may be"
    elif size is not None and woofer is not None and not long and size >= woofer:
        yield ("tweeter_size", "woofer_size"), "the tweeter is not smaller than the woofer"


def _middle(draft: Draft) -> Iterator[_Doubt]:
    middle, woofer, treble = (draft.known(f"{name}_size") for name in ("midrange", "woofer", "tweeter"))
    if middle is not None and woofer is not None and middle > woofer:
        yield ("midrange_size", "woofer_size"), "the midrange driver is larger than the woofer"
    ribbon = draft.known("tweeter_type") in (TweeterType.RIBBON, TweeterType.FOLDED_RIBBON, TweeterType.HORN)
    if middle is not None and treble is not None and middle <= treble and not ribbon:
        yield ("midrange_size", "tweeter_size"), "the midrange driver is not larger than the tweeter"


def _no_bass(draft: Draft) -> Iterator[_Doubt]:
    if draft.known("midrange_size") is not None and draft.known("woofer_size") is None:
        yield ("midrange_size",), "a midrange driver, but no woofer is told; is it the woofer?"


def _ends(draft: Draft) -> Iterator[_Doubt]:
    low, high, crossover = (draft.known(name) for name in ("low_limit", "high_limit", "crossover"))
    if crossover and low is not None and low >= crossover[0]:
        yield ("low_limit", "crossover"), f"the lower end, {low:g} Hz, is not under the crossover"
    if crossover and high is not None and high <= crossover[-1]:
        yield ("high_limit", "crossover"), f"the upper end, {high:g} Hz, is not above the crossover"
    if high is not None and high < _LOWEST_TREBLE and draft.known("tweeter_size") is not None:
        yield ("high_limit",), f"{high:g} Hz is too low for the upper end of a loudspeaker with a tweeter"


def _year(draft: Draft) -> Iterator[_Doubt]:
    price, found = draft.known("price"), draft.fields.get("price")
    if price is None or found is None or not 1950 <= price <= 2049 or price != int(price):
        return
    raw = re.sub(r"(?<=\d)[.,'’ \u00a0](?=\d{3}(?!\d))", "", found.raw)
    if not re.search(rf"[€£$¥]\s?{price}|{price}[.,\d]*\s?(?:[€£$¥]|,-|[a-z]{{3}}\b|zł|euro)", raw, re.IGNORECASE):
        yield ("price",), f"{price} stands without a currency and may be a year"


def _density(draft: Draft) -> Iterator[_Doubt]:
    sides, weight = [draft.known(axis) for axis in AXES], draft.known("weight")
    if weight is None or None in sides:
        return
    volume = sides[0] * sides[1] * sides[2]
    if not DENSITY[0] <= weight / volume <= DENSITY[1]:
        yield ("weight", *AXES), f"{weight:g} kg in a box of {volume * 1000:.1f} l is {weight / volume:.0f} kg/m³"


def _level(draft: Draft) -> Iterator[_Doubt]:
    level = draft.known("sensitivity")
    if level is not None and not _USUAL_LEVELS[0] <= level <= _USUAL_LEVELS[1]:
        yield ("sensitivity",), f"{level:g} dB is unusual"


def _wide_treble(draft: Draft) -> Iterator[_Doubt]:
    size = draft.known("tweeter_size")
    if size is not None and draft.known("tweeter_type") is None and size > _LARGEST_DOME:
        yield ("tweeter_size",), f"{size * 1000:g} mm is much for a tweeter"


def _cheap(draft: Draft) -> Iterator[_Doubt]:
    price = draft.known("price")
    if price is not None and price < _SMALL_PRICE:
        yield ("price",), f"{price} is hardly what a loudspeaker costs"


def _pose(draft: Draft) -> Iterator[_Doubt]:
    width, height, roles = draft.known("width"), draft.known("height"), draft.known("roles")
    if width is None or height is None or draft.known("orientation") is not None:
        return
    if roles == frozenset((Role.MAIN,)) and width > 1.5 * height:
        yield ("width", "height"), "a main that is much wider than high; are the two exchanged?"
    if roles == frozenset((Role.CENTRE,)) and height > 1.5 * width:
        yield ("width", "height"), "a centre that is much higher than wide; are the two exchanged?"


def _pair(draft: Draft) -> Iterator[_Doubt]:
    per, roles = draft.known("price_per"), draft.known("roles")
    if per is PricePer.PAIR and roles == frozenset((Role.CENTRE,)):
        yield ("price_per",), "a centre by the pair"


def _hand_overs(draft: Draft) -> Iterator[_Doubt]:
    found, kinds = draft.known("crossover"), ("tweeter", "midrange", "woofer")
    if not found:
        return
    if len(found) == 1 and all(draft.known(f"{kind}_size") is not None for kind in kinds):
        yield ("crossover",), "three kinds of drivers, and one hand-over is read"
    elif len(found) == 1 and _PLURAL.search(folded(draft.fields["crossover"].raw)):
        yield ("crossover",), "the label speaks of several hand-overs, and one is read"
    elif len(found) == 1 and found[0] < _LOWEST_TREBLE_START and draft.known("tweeter_type") is not TweeterType.HORN:
        yield ("crossover",), f"no tweeter but a horn takes over at {found[0]:g} Hz; another hand-over may be left out"
    if any(high < _LEAST_OCTAVES * low for low, high in pairwise(found)):
        yield ("crossover",), "two hand-overs that are hardly apart"
    if not _HAND_OVERS[0] <= found[0] or found[-1] > _HAND_OVERS[1]:
        yield ("crossover",), "no drivers hand over so low or so high"


def _row(draft: Draft) -> Iterator[_Doubt]:
    """Drivers that are longer in a row than the box, which is too narrow for two beside each other."""
    width, height, size = (draft.known(name) for name in ("width", "height", "woofer_size"))
    if width is None or height is None or size is None or min(width, height) >= 2 * size:
        return
    row = sum(
        (draft.known(f"{kind}_count") or 1) * (draft.known(f"{kind}_size") or 0.0) for kind in ("woofer", "midrange")
    )
    if row > max(width, height):
        yield ("woofer_size", "woofer_count"), "so many drivers in a row are longer than the box"


def _borne(draft: Draft) -> Iterator[_Doubt]:
    bears, most = draft.known("power_handling"), draft.known("amplifier_max")
    if bears is not None and most is not None and not most / _MOST_BORNE <= bears <= most * _MOST_BORNE:
        yield ("power_handling", "amplifier_max"), f"it bears {bears:g} W, and its amplifier may have {most:g} W"


def _apart(draft: Draft) -> Iterator[_Doubt]:
    spacing, size, height = (draft.known(name) for name in ("woofer_spacing", "woofer_size", "height"))
    if spacing is not None and size is not None and spacing < size:
        yield ("woofer_spacing",), f"woofers of {size * 1000:g} mm are no nearer than that to each other"
    if spacing is not None and height is not None and spacing > max(height, draft.known("width") or 0.0):
        yield ("woofer_spacing",), "woofers are no farther apart than the box is long"


def _least_load(draft: Draft) -> Iterator[_Doubt]:
    nominal, least = draft.known("impedance_nominal"), draft.known("impedance_minimum")
    if least is not None and least == nominal:
        yield ("impedance_minimum",), f"the minimum, {least:g} ohm, is as high as the nominal impedance"


def _no_size(draft: Draft) -> Iterator[_Doubt]:
    for kind in ("midrange", "woofer"):
        count, size = draft.fields.get(f"{kind}_count"), draft.known(f"{kind}_size")
        if count is not None and count.value is not None and size is None and not count.raw.startswith(f"{kind}_count"):
            yield (f"{kind}_count",), f"how many {kind}s, and no size of them is read"


def _extremes(draft: Draft) -> Iterator[_Doubt]:
    for column, (low, high) in _USUAL.items():
        value, found = draft.known(column), draft.fields.get(column)
        if value is not None and found is not None and not low <= value <= high:
            yield (column,), f"{column.replace('_', ' ')}: {value:g} is unusual"


_Rule = Callable[[Draft], Iterator[_Doubt]]
_IMPOSSIBLE: Final[tuple[_Rule, ...]] = (_nominal_load, _treble, _middle, _ends, _year)
_ODD: Final[tuple[_Rule, ...]] = (
    _wide_treble,
    _no_bass,
    _density,
    _level,
    _cheap,
    _pose,
    _pair,
    _hand_overs,
    _row,
    _borne,
    _apart,
    _least_load,
    _no_size,
    _extremes,
)
