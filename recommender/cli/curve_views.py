"""Curves on a terminal: lists, plots, and the figures behind them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from triptych.catalog.cli.options import Style, console, harmless, print_csv, print_json, print_table, terminal_width
from triptych.catalog.database.measured_curves import StoredCurve, words
from triptych.catalog.records import CurveKind
from triptych.catalog.ways_told import Told, Views, key
from triptych.recommender.advise.curve_arrays import gridded, takes_part
from triptych.recommender.cli.curve_plot import CURVE_STYLES, MARKS, DrawnCurve, level_at, terminal
from triptych.recommender.physics.curve import smooth as smoothed

if TYPE_CHECKING:
    from triptych.recommender.advise.curve_account import CurveAccount

AVERAGES: Final = ("listening_window", "early_reflections", "sound_power", "in_room_response")
"""The standard's curves that are drawn."""

DRAWN_ANGLES: Final = (0.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0, 180.0)
"""Angles that are drawn of a set, as far as it has them."""


def smoothed_words(fraction: int) -> str:
    """How the drawn curves were smoothed."""
    return f"smoothed by 1/{fraction} octave" if fraction else "not smoothed"


def print_list(found: Sequence[StoredCurve], style: Style) -> None:
    """The curves with where they come from."""
    if style is Style.JSON:
        print_json(found, CURVES)
        return
    rows = [
        [
            one.record.kind.value,
            "" if one.record.angle is None else f"{one.record.angle:g}",
            f"{one.record.frequency[0]:g}–{one.record.frequency[-1]:g}",
            str(len(one.record.frequency)),
            f"1/{one.record.smoothing}" if one.record.smoothing else "",
            one.record.evidence.value,
            str(one.record.measured_on or ""),
            one.record.source,
        ]
        for one in found
    ]
    headers = ("kind", "deg", "Hz", "points", "smoothing", "evidence", "date", "source")
    if style is Style.CSV:
        print_csv([headers, *rows])
    elif rows:
        print_table(headers, rows, right=("deg", "points"))


CURVES: Final[Views] = {
    StoredCurve: (
        key("kind", "record.kind"),
        key("angle", "record.angle"),
        key("low_hz", lambda one: one.record.frequency[0]),
        key("high_hz", lambda one: one.record.frequency[-1]),
        key("points", lambda one: len(one.record.frequency)),
        key("phase", lambda one: one.record.phase is not None),
        key("smoothing", "record.smoothing"),
        key("evidence", "record.evidence"),
        key("measured_on", "record.measured_on"),
        key("added_at"),
        key("source", "record.source"),
        key("takes_part", takes_part),
    ),
    DrawnCurve: (key("curve", "name"), key("frequency", told=Told(digits=4)), key("level", told=Told(digits=3))),
}
"""Curves as programs read them, stored ones without their points."""


def series(found: CurveAccount, picked: Sequence[StoredCurve], fraction: int, *, averages: bool) -> list[DrawnCurve]:
    """The curves to draw, smoothed: those picked, a few of a set, and the standard's averages where wanted."""
    chosen = [one for one in picked if not one.record.kind.orbit]
    orbits = [one for one in picked if one.record.kind.orbit]
    if averages and found.averages is not None:
        chosen += [] if any(one.record.kind is CurveKind.ON_AXIS for one in chosen) else _axis(orbits)
        own = [_smoothed(words(one.record), *gridded(one), fraction) for one in chosen]
        return own + list(_standard(found, fraction, {one.name for one in own}))
    few = [one for one in orbits if one.record.angle in DRAWN_ANGLES] if len(orbits) > 5 else orbits
    return [_smoothed(words(one.record), *gridded(one), fraction) for one in (*chosen, *few)]


def _axis(orbits: Sequence[StoredCurve]) -> list[StoredCurve]:
    return [one for one in orbits if one.record.angle == 0.0][:1]


def _standard(found: CurveAccount, fraction: int, there: set[str]) -> Iterator[DrawnCurve]:
    if found.averages is None:
        return
    for name in AVERAGES:
        level = getattr(found.averages, name)
        if level is not None and name not in there:
            yield _smoothed(name, found.averages.frequency, level, fraction)


def _smoothed(name: str, frequency: Any, level: Any, fraction: int) -> DrawnCurve:
    shown = smoothed(frequency, level, fraction) if fraction else level
    return DrawnCurve(name, tuple(frequency.tolist()), tuple(np.asarray(shown).tolist()))


def print_plot(name: str, drawn: Sequence[DrawnCurve], fraction: int, found: CurveAccount) -> None:
    """The curves drawn with dots, a key, and what the set amounts to."""
    from rich.text import Text

    screen = console()
    screen.print(Text(f"{harmless(name)}, measured, {smoothed_words(fraction)}", style="bold"))
    for parts in terminal(drawn, terminal_width()):
        screen.print(Text.assemble(*parts, no_wrap=True, overflow="crop"))
    for position, one in enumerate(drawn):
        mark = f"{MARKS[position]}  " if len(drawn) > 1 else ""
        told = f"{mark}{one.name}{_at_one_kilohertz(one)}"
        screen.print(Text(told, style=CURVE_STYLES[position % len(CURVE_STYLES)]))
    for line in summary(found):
        screen.print(Text(line))


def _at_one_kilohertz(one: DrawnCurve) -> str:
    inside = one.frequency[0] <= 1000.0 <= one.frequency[-1]
    return f": {level_at(one, 1000.0):.1f} dB at 1 kHz" if inside else ""


def summary(found: CurveAccount) -> list[str]:
    """The preference figure, or why there is none, and what the standard's averages lack."""
    lines = []
    if found.averages is not None:
        for name, angles in found.averages.missing.items():
            few = ", ".join(angles[:4]) + (f" and {len(angles) - 4} more" if len(angles) > 4 else "")
            lines.append(f"no {name.replace('_', ' ')}: the set lacks {few} deg")
    value = found.preference.value
    if value is None:
        return [*lines, f"no preference figure: {found.preference.why}"]
    return [*lines, f"preference figure {value:.1f}, {found.preference.why}"]


def print_data(
    name: str, found: CurveAccount, picked: Sequence[StoredCurve], drawn: Sequence[DrawnCurve], style: Style
) -> None:
    """The figures: of all picked curves in JSON, one row a point in CSV."""
    if style is Style.CSV:
        rows = [
            [one.name, f"{hertz:.6g}", f"{level:.3f}"]
            for one in drawn
            for hertz, level in zip(one.frequency, one.level, strict=True)
        ]
        print_csv([("curve", "frequency", "level"), *rows])
        return
    missing = {} if found.averages is None else found.averages.missing
    told = {"speaker": name, "curves": picked, "drawn": drawn, "missing": missing, "preference": found.preference}
    print_json(told, CURVES)
