"""From the columns of a catalogue to drivers on baffles, for many loudspeakers at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.physics import layout as notation
from triptych.recommender.physics import piston, typical
from triptych.recommender.physics.checks import BoolArray, FloatArray
from triptych.recommender.physics.layout import Layout
from triptych.recommender.physics.loudspeaker import Assumed, Radiator, Sources

__all__ = ["Columns", "describe"]

RIBBONS = ("ribbon", "folded_ribbon")
HORNS = ("horn", "waveguide_dome")


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """What a catalogue says of N loudspeakers; unknown is NaN in numbers and None in texts.

    lying: whether width and height describe the box lying on its side
    width, height: outside of the box [m]
    tweeter_type, layout: as in the exchange format
    tweeter_size, midrange_size, woofer_size: nominal; the longer side of a ribbon [m]
    tweeter_coverage: [N, 2], horizontal and vertical full angle between the -6 dB points [deg]
    woofer_spacing: outermost woofers, centre to centre [m]
    crossover: [N, X], lowest first, NaN beyond the last [Hz]
    crossover_order: acoustic [1]
    """

    lying: BoolArray
    width: FloatArray
    height: FloatArray
    tweeter_type: Sequence[str | None] | NDArray[np.object_]
    tweeter_size: FloatArray
    tweeter_coverage: FloatArray
    midrange_size: FloatArray
    midrange_count: FloatArray
    woofer_size: FloatArray
    woofer_count: FloatArray
    layout: Sequence[str | None] | NDArray[np.object_]
    woofer_spacing: FloatArray
    crossover: FloatArray
    crossover_order: FloatArray

    @property
    def narrower_side(self) -> FloatArray:
        """Narrower side of the baffle [m]."""
        return short_side(self.width, self.height, self.lying)

    @property
    def laid_out(self) -> BoolArray:
        """Whether a layout is stated or can be inferred, so that there is a model: `usable` of what is described."""
        return np.asarray(_layouts(self)[0] != "")

    def take(self, rows: NDArray[np.intp]) -> Columns:
        """Return some rows."""
        parts: dict[str, Any] = {f.name: np.asarray(getattr(self, f.name))[rows] for f in fields(self)}
        return Columns(**parts)


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Loudspeakers of one layout, orientation and tweeter type: their columns and what has been made of them."""

    columns: Columns
    layout: Layout
    lying: bool
    tweeter_type: str | None

    @property
    def driver(self) -> list[int]:
        """Which of `letters` each driver is."""
        return [self.letters.index(letter) for letter in self.layout.drivers]

    @property
    def letters(self) -> str:
        """The kinds of driver, lowest band first."""
        return self.layout.bands

    @property
    def tweeter_name(self) -> str:
        return self.tweeter_type or "dome"


def describe(columns: Columns) -> Sources:
    """Return the drivers of many loudspeakers, with places, sizes and crossovers estimated where not stated.

    `usable` is False where neither a layout is stated nor one can be inferred from the counts of drivers. Raises
    `LayoutError` where a stated layout cannot be read.

    Frames touch but for a gap; where the box's length is known and it lies, the likely spacing is the middle
    (geometric) between that and filling the box. A stated `woofer_spacing` fixes the outermost pair of the lowest band.
    """
    texts, inferred = _layouts(columns)
    kinds = [kind or "" for kind in columns.tweeter_type]
    # to put thousands of words in order takes longer than all that follows
    cases = list(zip(texts.tolist(), kinds, columns.lying.tolist(), strict=True))
    numbers = {case: number for number, case in enumerate(sorted(set(cases)))}
    member = np.fromiter(map(numbers.__getitem__, cases), np.intp, len(cases))
    built = []
    for (text, kind, lying), number in numbers.items():
        rows = np.flatnonzero(member == number)
        if text:
            group = _Group(columns.take(rows), notation.parse(text), lying, kind or None)
            built.append((rows, _build(group, inferred[rows])))
    return _joined(len(columns.layout), built)


def _layouts(columns: Columns) -> tuple[NDArray[np.str_], BoolArray]:
    """Stated or inferred layout of each, '' where there is none; and which were inferred."""
    texts = np.array([text or "" for text in columns.layout], dtype=object)
    missing = texts == ""
    counts = np.stack([np.nan_to_num(columns.midrange_count), np.nan_to_num(columns.woofer_count)], axis=1)
    stated = np.count_nonzero(~np.isnan(columns.crossover), axis=1)
    cases = np.column_stack([columns.lying, counts, stated]).astype(int)
    for case in np.unique(cases[missing], axis=0):
        lying, middles, woofers, crossovers = (int(part) for part in case)
        texts[missing & (cases == case).all(axis=1)] = notation.infer(bool(lying), middles, woofers, crossovers) or ""
    return texts.astype(str), np.asarray(missing)


def _or(value: FloatArray, fallback: FloatArray | float) -> tuple[FloatArray, BoolArray]:
    """Known values with a fallback for unknown ones, and where it was needed."""
    unknown = np.isnan(value)
    return np.where(unknown, fallback, value), unknown


def _sizes(group: _Group) -> tuple[dict[str, FloatArray], BoolArray, BoolArray]:
    """Nominal size by letter, and whether a cone's or the tweeter's was assumed."""
    columns, letters = group.columns, group.letters
    filling = typical.woofer_size(columns.narrower_side)
    largest = columns.woofer_size if set("WB") & set(letters) else np.fmax(columns.midrange_size, columns.woofer_size)
    middles = columns.midrange_size if set("WB") & set(letters) else _or(columns.midrange_size, largest)[0]
    sizes, unknown = {}, np.zeros(len(columns.lying), dtype=bool)
    for letter in letters.replace("T", ""):
        stated, usual = (columns.woofer_size, filling) if letter in "WB" else (middles, filling)
        if letter == "M" and set("WB") & set(letters):
            usual = np.full_like(filling, typical.MIDRANGE_SIZE)
        sizes[letter], missing = _or(stated, usual)
        unknown |= missing
    sizes["T"], tweeter = _or(columns.tweeter_size, typical.TWEETER_SIZE[group.tweeter_type])
    return sizes, unknown, tweeter & ("T" in letters) | (group.tweeter_type is None)


def _mouth(group: _Group) -> FloatArray:
    part, most = typical.HORN_MOUTH[group.tweeter_name]
    return np.minimum(part * _or(group.columns.narrower_side, typical.SHORT_SIDE)[0], most)


def _radiating(group: _Group, sizes: dict[str, FloatArray]) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Radius (twice), sides or mouth of each kind of driver, to the right and up [m]."""
    radiating = {}
    for letter in group.letters.replace("T", ""):
        radius = piston.effective_radius(sizes[letter])
        radiating[letter] = (radius, radius)
    if group.tweeter_name in RIBBONS:
        radiating["T"] = (sizes["T"] * typical.RIBBON_SHAPE[group.tweeter_name], sizes["T"])
    elif group.tweeter_name in HORNS:
        radiating["T"] = (_mouth(group), _mouth(group))
    else:
        radius = (piston.effective_radius if group.tweeter_name == "cone" else piston.dome_radius)(sizes["T"])
        radiating["T"] = (radius, radius)
    return radiating


def _frames(
    group: _Group, sizes: dict[str, FloatArray], radiating: dict[str, tuple[FloatArray, FloatArray]]
) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """Frame of each kind of driver along and across the long side [m]."""
    right = {letter: typical.FRAME * size for letter, size in sizes.items()}
    up = dict(right)
    if group.tweeter_name in RIBBONS:
        right["T"], up["T"] = radiating["T"][0] + 0.03, radiating["T"][1] + 0.03
    elif group.tweeter_name in HORNS:
        right["T"], up["T"] = radiating["T"]
    elif group.tweeter_name != "cone":
        right["T"] = up["T"] = np.maximum(right["T"], typical.FACEPLATE)
    return (right, up) if group.lying else (up, right)


class _Positions(NamedTuple):
    """Places along and across the long side [m], the range of the spacing [1], and where it was assumed."""

    along: FloatArray
    across: FloatArray
    low: FloatArray
    high: FloatArray
    assumed: BoolArray


def _positions(group: _Group, along: dict[str, FloatArray], across: dict[str, FloatArray]) -> _Positions:
    """Places along and across re the tweeter, the range of the spacing, and where it was assumed."""
    places = notation.place(group.layout, along, across, typical.FRAME_GAP)
    lines, factor, low, high = places.along, *_filling(group, places.along, along)
    lowest = np.array(group.driver) == 0
    pair = lines[:, lowest]
    span, stated = np.ptp(pair, axis=1), group.columns.woofer_spacing
    known = ~np.isnan(stated) & (span > 1e-3)
    if known.any():
        ratio = np.where(known, stated, 1.0) / np.where(known, span, 1.0)
        if _encloses(group):
            factor = np.where(known, ratio, factor)
        else:
            near = pair[:, :1]
            lines = np.where(lowest & known[:, None], near + (lines - near) * ratio[:, None], lines)
            factor = np.where(known, 1.0, factor)
    low, high = np.where(known, 1.0, low / factor), np.where(known, 1.0, high / factor)
    lines = lines * factor[:, None]
    highest = np.array(group.driver) == len(group.letters) - 1
    lines = lines - lines[:, highest].mean(axis=1, keepdims=True)
    stack = places.across - places.across[:, highest].mean(axis=1, keepdims=True)
    apart = np.ptp(lines, axis=1) + np.ptp(stack, axis=1) > 1e-3
    return _Positions(lines, stack, low, high, ~known & apart)


def _encloses(group: _Group) -> bool:
    """Whether the lowest band's drivers stand at both ends of the baffle."""
    lowest = group.letters[0]
    return bool(group.layout.drivers[0] == lowest == group.layout.drivers[-1])


def short_side(width: FloatArray, height: FloatArray, lying: BoolArray) -> FloatArray:
    """Return the narrower side of each front; of a box measured one way, that if its long side is the other [m].

    width, height: sides of the front; NaN where not stated [m]
    lying: whether the long side is the width
    """
    both = np.minimum(width, height)
    return np.asarray(np.where(np.isnan(both), np.where(lying, height, width), both))


WIDEST_SPREAD: Final = 1.5
"""Over so many times the packed length drivers are spread at most, and in a box of which nobody measured the long side:
the wider they stand, the worse for the seats aside [1]. Common practice, no source."""


def _filling(
    group: _Group, lines: FloatArray, along: dict[str, FloatArray]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Likely, least and largest spacing as factors of the packed one."""
    span = np.maximum(np.ptp(lines, axis=1), 1e-3)
    edge = along[group.letters[0]] + 2 * typical.BAFFLE_MARGIN
    room = (group.columns.width if group.lying else group.columns.height) - edge
    filling = np.clip(_or(room / span, WIDEST_SPREAD)[0], 0.75, WIDEST_SPREAD)
    likely = np.minimum(np.sqrt(filling), filling) if group.lying else np.minimum(1.0, filling)
    largest = np.maximum(filling, 1.05 * likely) if group.lying else np.minimum(1.2, np.maximum(filling, 1.05))
    return likely, 0.95 * np.minimum(1.0, filling), largest


def _crossovers(group: _Group) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Crossovers between the bands, an early roll-off within the lowest band, and where any was assumed."""
    stated = np.sort(group.columns.crossover, axis=1)
    wanted = len(group.letters) - 1
    given = np.count_nonzero(~np.isnan(stated), axis=1)
    result = np.tile(typical.crossovers(group.letters, group.tweeter_type), (len(stated), 1))
    shared = group.letters[0] != "T" and group.layout.drivers.count(group.letters[0]) > 1
    early = np.where((given == wanted + 1) & (wanted > 0) & shared, stated[:, 0] if stated.shape[1] else np.nan, np.nan)
    for count in np.unique(given):
        rows = np.flatnonzero(given == count)
        result[rows] = _assigned(result[rows], stated[rows, max(0, count - wanted) : count])
    return result, early, given < wanted


def _assigned(usual: FloatArray, stated: FloatArray) -> FloatArray:
    """Usual crossovers with the stated ones, as many or fewer, in place of those they are nearest to, in octaves."""
    result = usual.copy()
    missing = usual.shape[1] - stated.shape[1]
    if stated.shape[1] == 0:
        return result
    errors = [
        np.abs(np.log(stated / usual[:, shift : shift + stated.shape[1]])).sum(axis=1) for shift in range(missing + 1)
    ]
    shift = np.argmin(errors, axis=0)[:, None] + np.arange(stated.shape[1])
    np.put_along_axis(result, shift, stated, axis=1)
    return np.sort(result, axis=1)


def _rolling_off(group: _Group, lines: FloatArray) -> BoolArray:
    """Which drivers of a 2.5-way roll off early: the outer half of the lowest band, the last of equals."""
    lowest = np.flatnonzero(np.array(group.driver) == 0)
    far = np.abs(lines[0, lowest]).round(6)
    outer = lowest[np.lexsort((lowest, far))][::-1][: len(lowest) // 2]
    chosen = np.zeros(len(group.driver), dtype=bool)
    chosen[outer] = True
    return chosen


def _build(group: _Group, inferred: BoolArray) -> Sources:
    sizes, size_assumed, tweeter_assumed = _sizes(group)
    radiating = _radiating(group, sizes)
    along, across = _frames(group, sizes, radiating)
    lines, stack, low, high, spacing_assumed = _positions(group, along, across)
    crossover, early, crossover_assumed = _crossovers(group)
    order, order_assumed = _or(group.columns.crossover_order, typical.ORDER)
    shape, drivers = lines.shape, group.layout.drivers
    horn = group.tweeter_name in HORNS
    kinds = {"T": Radiator.HORN if horn else Radiator.RECTANGLE if group.tweeter_name in RIBBONS else Radiator.PISTON}
    coverage, cover_assumed = _coverage(group)
    is_horn = np.array([horn and letter == "T" for letter in drivers])
    roll_off = np.where(_rolling_off(group, lines) & ~np.isnan(early)[:, None], early[:, None], np.nan)
    return Sources(
        x=lines if group.lying else stack,
        y=stack if group.lying else -lines,
        kind=np.tile(
            np.array([kinds.get(letter, Radiator.PISTON) for letter in drivers], dtype=np.int8), (shape[0], 1)
        ),
        size_x=np.stack([radiating[letter][0] for letter in drivers], axis=1),
        size_y=np.stack([radiating[letter][1] for letter in drivers], axis=1),
        coverage_x=np.where(is_horn, coverage[:, :1], np.nan),
        coverage_y=np.where(is_horn, coverage[:, 1:], np.nan),
        band=np.tile(np.array(group.driver, dtype=np.int8), (shape[0], 1)),
        share=np.tile([1 / drivers.count(letter) for letter in drivers], (shape[0], 1)),
        roll_off=roll_off,
        crossover=crossover,
        order=order.astype(np.int8),
        baffle=_or(group.columns.narrower_side, typical.SHORT_SIDE)[0],
        usable=np.ones(shape[0], dtype=bool),
        assumed=Assumed(
            inferred, size_assumed, tweeter_assumed | cover_assumed, crossover_assumed, order_assumed, spacing_assumed
        ),
        spacing_low=low,
        spacing_high=high,
    )


def _coverage(group: _Group) -> tuple[FloatArray, BoolArray]:
    """Coverage angles of a horn [n, 2], and where they were assumed; NaN and False for other tweeters."""
    coverage = group.columns.tweeter_coverage
    if group.tweeter_name not in HORNS or "T" not in group.letters:
        return np.full_like(coverage, np.nan), np.zeros(len(coverage), dtype=bool)
    known, missing = _or(coverage, np.array(typical.HORN_COVERAGE[group.tweeter_name]))
    return known, np.asarray(missing.any(axis=1))


_EMPTY = {"share": 0.0, "band": 0, "kind": 0, "order": typical.ORDER, "usable": False, "spacing_low": 1.0,
          "spacing_high": 1.0, "x": 0.0, "y": 0.0, "size_x": 0.0, "size_y": 0.0}  # fmt: skip


def joined(parts: Sequence[Sources]) -> Sources:
    """Return the drivers of all parts, one part after the other."""
    ends = np.cumsum([0, *(len(part) for part in parts)])
    return _joined(int(ends[-1]), [(ends[i] + np.arange(len(part)), part) for i, part in enumerate(parts)])


def _joined(count: int, built: list[tuple[NDArray[np.intp], Sources]]) -> Sources:
    """One structure of all groups; loudspeakers without a layout have no drivers."""
    drivers = max((part.x.shape[1] for _, part in built), default=1)
    corners = max((part.crossover.shape[1] for _, part in built), default=0)
    wide = {"crossover": corners, "order": 0, "baffle": 0, "usable": 0, "spacing_low": 0, "spacing_high": 0}
    types = {"kind": np.int8, "band": np.int8, "order": np.int8, "usable": np.bool_}
    parts = {}
    for f in fields(Sources):
        if f.name != "assumed":
            width = wide.get(f.name, drivers)
            shape = (count, width) if f.name == "crossover" or width else (count,)
            whole = np.full(shape, _EMPTY.get(f.name, np.nan), dtype=types.get(f.name, np.float64))
            for rows, part in built:
                values = getattr(part, f.name)
                whole[(rows, slice(0, values.shape[1])) if values.ndim == 2 else rows] = values
            parts[f.name] = whole
    flags = {f.name: np.ones(count, dtype=bool) for f in fields(Assumed)}
    for rows, part in built:
        for name, whole in flags.items():
            whole[rows] = getattr(part.assumed, name)
    return Sources(**parts, assumed=Assumed(**flags))
