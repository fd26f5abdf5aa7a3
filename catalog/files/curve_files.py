"""Measured response curves from text files: one curve a file, or a table with one column an angle."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from statistics import fmean, mode
from typing import Final, NamedTuple

from triptych.catalog.errors import BadInput
from triptych.catalog.files.curve_lines import FileLine, Format, Number, Sorted, cells, number, numbers, sort_lines
from triptych.catalog.files.tables import decode, read_bytes
from triptych.catalog.problems import Problem
from triptych.catalog.records import CurveKind, CurveRecord

FEWEST: Final = 10
"""A curve has at least so many points."""

SPAN: Final = 4.0
"""A curve's highest frequency over its lowest is at least so much: two octaves."""

FREQUENCIES: Final = (1.0, 200_000.0)
"""Plausible frequencies [Hz]."""

LEVELS: Final = (-150.0, 160.0)
"""Plausible levels, absolute or against the axis [dB]."""

SAME_LEVEL: Final = 0.1
"""Repeated frequencies whose levels differ by no more are one point, printed twice [dB]."""

KILO: Final = 100.0
"""A file without a unit that begins below 1 and ends by here is in kHz."""

LINES_TOLD: Final = 20
"""Bad lines that are named one by one."""


@dataclass(frozen=True, slots=True)
class CurveReading:
    """What a file holds: its curves, what was done to them, and what cannot be taken."""

    source: str
    records: tuple[CurveRecord, ...]
    remarks: tuple[str, ...]
    problems: tuple[Problem, ...]


class CurvePoint(NamedTuple):
    """One line's figures: frequency, one level a curve, phase where there is one."""

    line: int
    frequency: float
    levels: tuple[float, ...]
    phase: float | None


def read_curves(
    path: Path,
    kind: CurveKind,
    *,
    angle: float | None = None,
    angle_from_name: bool = False,
    smoothing: int | None = None,
    measured_on: date | None = None,
) -> CurveReading:
    """Read the curve, or the table of curves, in a text file.

    Parameters
    ----------
    path : Path
        The file.
    kind : CurveKind
        What it holds.
    angle : float, optional
        Angle of its one curve. [deg]
    angle_from_name : bool
        Take the angle from the file's name.
    smoothing : int, optional
        n of 1/n octave; else what the file states.
    measured_on : date, optional
        The day of the measurement.

    Raises
    ------
    BadInput
        The file cannot be opened, holds no figures, or its angle is missing or contradicts itself.
    """
    text, remarks = decode(read_bytes(path), path.name)
    if "\0" in text:
        raise BadInput(f"{path.name}: holds NUL characters, so it is no text; export the curve as text or CSV")
    found = sort_lines(re.sub(r"\r\n?", "\n", text), path.name)
    angles = _angles(path.name, found, kind, angle, angle_from_name)
    points, problems = _points(path.name, found, len(angles))
    if not problems:
        points, problems = _checked(
            path.name, _without_strange_phase(path.name, points, found, remarks), found, remarks
        )
    plain = CurveRecord(
        kind, (), (), path.name, smoothing=smoothing or _stated_smoothing(found), measured_on=measured_on
    )
    records = () if problems else tuple(_records(plain, points, angles))
    return CurveReading(path.name, records, tuple(remarks), tuple(problems))


def _records(plain: CurveRecord, points: Sequence[CurvePoint], angles: Sequence[float | None]) -> Iterator[CurveRecord]:
    frequency = tuple(point.frequency for point in points)
    phase = tuple(point.phase for point in points if point.phase is not None)
    for column, angle in enumerate(angles):
        level = tuple(point.levels[column] for point in points)
        yield replace(
            plain, frequency=frequency, level=level, angle=angle, phase=phase if len(phase) == len(points) else None
        )


def _angles(
    source: str, found: Sorted, kind: CurveKind, angle: float | None, angle_from_name: bool
) -> list[float | None]:
    """The angle of each column of levels; one None where the kind has none."""
    if not kind.orbit:
        if angle is not None or angle_from_name:
            raise BadInput(f"{source}: a curve of kind {kind.value} has no angle; leave it out, or say horizontal")
        return [None]
    header = _header_angles(found)
    if angle_from_name:
        if angle is not None:
            raise BadInput(f"{source}: give the angle or take it from the name, not both")
        angle = _named_angle(source)
    if angle is not None:
        if len(header) > 1:
            raise BadInput(f"{source}: is a table of {len(header)} angles; leave the angle out")
        return [_turned(source, angle)]
    if not header:
        raise BadInput(
            f"{source}: its angle is not known; give --angle, or head the columns of a table with their angles"
        )
    turned = [_turned(source, one) for one in header]
    if twice := {one for one in turned if turned.count(one) > 1}:
        raise BadInput(f"{source}: the angle {min(twice):g} stands over two columns; leave one")
    return list(turned)


def _header_angles(found: Sorted) -> list[float]:
    """The angles that the last header line, or a comment with the right columns, writes over the columns."""
    width = mode(len(numbers(line.text, found.form)) for line in found.body)
    for row in _header_rows(found):
        read = [number(cell, found.form.decimal) for cell in row]
        angles = [one.value for one in read if one is not None and (one.unit == "°" or one.unit[:3] in ("", "deg"))]
        if len(angles) == width - 1 and None not in read[1 - width :] and read[0] is None:
            return angles
    return []


def _header_rows(found: Sorted) -> list[list[str]]:
    """The cells of what could head the columns, the nearest to the figures first; comments without their mark."""
    lines = [line.text for line in reversed(found.headers)]
    lines += [line.text.lstrip("#*;%/!' ") for line in reversed(found.comments)]
    return [cells(line, found.form.delimiter) for line in lines]


def _turned(source: str, angle: float) -> float:
    """An angle within ±180 deg."""
    if not -360.0 <= angle <= 360.0:
        raise BadInput(f"{source}: an angle of {angle:g} deg is none; angles go from -180 to 180")
    turned = (angle + 180.0) % 360.0 - 180.0
    return 180.0 if turned == -180.0 else turned + 0.0


def _named_angle(source: str) -> float:
    """The angle in a file's name: the number with `deg` behind it, else the last one."""
    stem = Path(source).stem
    found = re.findall(r"((?:(?<![A-Za-z0-9])[+\-])?\d+(?:\.\d+)?) ?(?:deg|°)", stem, re.I)
    found = found or re.findall(r"((?:(?<![A-Za-z0-9])[+\-])?\d+(?:\.\d+)?)(?=\D*$)", stem)
    if not found:
        raise BadInput(f"{source}: its name holds no angle; give --angle")
    if re.search(rf"[A-Za-z0-9]-{re.escape(found[-1])}", stem):
        raise BadInput(f"{source}: is the angle in its name {found[-1]} or -{found[-1]}? Give --angle")
    return float(found[-1])


def _points(source: str, found: Sorted, columns: int) -> tuple[list[CurvePoint], list[Problem]]:
    points: list[CurvePoint] = []
    problems: list[Problem] = []
    most = columns + 1 + (columns == 1)
    for line in found.body:
        row = numbers(line.text, found.form)
        complaint = _complaint(line, row, found.form, columns, most)
        if complaint:
            problems.append(Problem(source, f"line {line.number}", "", complaint))
            continue
        figures = [one for one in row if one is not None]
        phase = figures[2].value if columns == 1 and len(figures) == 3 else None
        levels = tuple(one.value for one in figures[1 : columns + 1])
        points.append(CurvePoint(line.number, _hertz(figures[0]), levels, phase))
    return points, _shortened(source, problems)


def _without_strange_phase(
    source: str, points: list[CurvePoint], found: Sorted, remarks: list[str]
) -> list[CurvePoint]:
    """Points without their third figure where the header calls it something else than phase."""
    if not points or points[0].phase is None:
        return points
    named = [row[2] for row in _header_rows(found) if len(row) == 3 and re.match(r"f(req|$|\W)|k?hz", row[0], re.I)]
    if not named or re.search(r"ph|deg|°|rad|arg", named[0], re.I):
        return points
    remarks.append(f"{source}: column {named[0]!r} is no phase; left out")
    return [point._replace(phase=None) for point in points]


def _shortened(source: str, problems: list[Problem]) -> list[Problem]:
    rest = len(problems) - LINES_TOLD
    return [*problems[:LINES_TOLD], Problem(source, "", "", f"and {rest} more lines")] if rest > 0 else problems


def _hertz(figure: Number) -> float:
    return figure.value * 1000.0 if figure.unit == "khz" else figure.value


def _complaint(line: FileLine, row: Sequence[Number | None], form: Format, columns: int, most: int) -> str:
    """What is wrong with one line; empty where nothing is."""
    texts = cells(line.text, form.delimiter)
    for place, (one, text) in enumerate(zip(row, texts, strict=True), start=1):
        if one is None:
            return f"{line.shown}: {text!r}, the {_ordinal(place)} figure, is no number"
    if not columns + 1 <= len(row) <= most:
        wanted = "frequency, level and perhaps phase" if columns == 1 else f"frequency and {columns} levels"
        return f"{line.shown}: holds {len(row)} figures; wanted are {wanted}"
    levels = [one.value for one in row[1 : columns + 1] if one is not None]
    if wrong := [level for level in levels if not LEVELS[0] <= level <= LEVELS[1]]:
        return f"{line.shown}: a level of {wrong[0]:g} dB is not plausible; levels go from -150 to 160 dB"
    return ""


def _ordinal(place: int) -> str:
    return {1: "first", 2: "second", 3: "third"}.get(place, f"{place}th")


def _checked(
    source: str, points: list[CurvePoint], found: Sorted, remarks: list[str]
) -> tuple[list[CurvePoint], list[Problem]]:
    """The points in order and in Hz, each frequency once; what was done goes to `remarks`."""
    _refuse_thousands(source, points, found)
    points = _in_hertz(source, points, found, remarks)
    low, high = FREQUENCIES
    problems = [
        Problem(source, f"line {point.line}", "", f"a frequency of {point.frequency:g} Hz is not from 1 Hz to 200 kHz")
        for point in points
        if not low <= point.frequency <= high
    ]
    ordered = sorted(points, key=lambda point: (point.frequency, point.line))
    if ordered != points:
        falling = points == sorted(points, key=lambda point: -point.frequency)
        remarks.append(f"{source}: its lines {'fall' if falling else 'are not in order'}; sorted by frequency")
    merged, repeated = _merged(source, ordered, remarks)
    problems += repeated
    if not problems and len(merged) < FEWEST:
        problems.append(Problem(source, "", "", f"holds {len(merged)} points; a curve has {FEWEST} at least"))
    if not problems and merged[-1].frequency < SPAN * merged[0].frequency:
        reach = f"{merged[0].frequency:g} to {merged[-1].frequency:g} Hz"
        problems.append(Problem(source, "", "", f"goes from {reach}; a curve spans two octaves at least"))
    return merged, _shortened(source, problems)


def _in_hertz(source: str, points: list[CurvePoint], found: Sorted, remarks: list[str]) -> list[CurvePoint]:
    """Points whose frequencies are in Hz, whichever unit the header names or their range betrays."""
    words = " ".join(line.text for line in (*found.headers, *found.comments))
    # a heading such as "Freq (kHz)", not a sentence such as "from 20 Hz to 20 kHz"
    heading = re.search(r"\b(?:f|freq\w*)\b\W{0,3}(?:in\W{0,2})?\W{0,2}(k?hz)\b", words, re.I)
    alone = re.search(r"^\W*(k?hz)\b", " ".join(line.text for line in found.headers[-1:]), re.I)
    named = heading or alone
    if named is None and any(point.frequency < 1.0 for point in points) and points:
        in_kilo = max(point.frequency for point in points) <= KILO
    else:
        in_kilo = named is not None and named[1].lower() == "khz"
    units_in_cells = any(one and one.unit.endswith("hz") for one in numbers(found.body[0].text, found.form)[:1])
    if not in_kilo or units_in_cells:
        return points
    why = "its header says so" if named else "no unit is named, and below 1 Hz nothing is measured"
    remarks.append(f"{source}: frequencies read as kHz: {why}")
    return [point._replace(frequency=float(f"{point.frequency * 1000.0:.12g}")) for point in points]


def _refuse_thousands(source: str, points: Sequence[CurvePoint], found: Sorted) -> None:
    """Refuse `1,000` that could be one thousand: where frequencies only rise if it is."""
    if found.form.decimal != ",":
        return
    firsts = [cells(line.text, found.form.delimiter)[0] for line in found.body]
    marked = [text for text in firsts if "," in text]
    frequencies = [point.frequency for point in points]
    if (
        marked
        and frequencies != sorted(frequencies)
        and all(re.fullmatch(r"\d{1,3}(,\d{3})+", text) for text in marked)
    ):
        raise BadInput(f"{source}: is {marked[0]!r} one thousand or a decimal comma? Write it without the comma")


def _merged(source: str, ordered: Sequence[CurvePoint], remarks: list[str]) -> tuple[list[CurvePoint], list[Problem]]:
    """Points with each frequency once: repeats that agree within rounding averaged, others refused."""
    merged: list[CurvePoint] = []
    problems: list[Problem] = []
    groups: list[list[CurvePoint]] = []
    for point in ordered:
        if groups and groups[-1][0].frequency == point.frequency:
            groups[-1].append(point)
        else:
            groups.append([point])
    for group in groups:
        apart = max(max(levels) - min(levels) for levels in zip(*(point.levels for point in group), strict=True))
        if apart > SAME_LEVEL + 1e-9:
            lines = " and ".join(str(point.line) for point in group[:3])
            told = f"{group[0].frequency:g} Hz comes {len(group)} times with levels {apart:.2g} dB apart; leave one"
            problems.append(Problem(source, f"lines {lines}", "", told))
        merged.append(_mean(group))
    if (repeats := sum(len(group) > 1 for group in groups)) and not problems:
        remarks.append(f"{source}: frequencies that come more than once with like levels are averaged: {repeats}")
    return merged, problems


def _mean(group: Sequence[CurvePoint]) -> CurvePoint:
    if len(group) == 1:
        return group[0]
    levels = tuple(fmean(values) for values in zip(*(point.levels for point in group), strict=True))
    phases = [math.radians(point.phase) for point in group if point.phase is not None]
    phase = None
    if len(phases) == len(group):
        phase = math.degrees(math.atan2(sum(map(math.sin, phases)), sum(map(math.cos, phases))))
    return CurvePoint(group[0].line, group[0].frequency, levels, phase)


def _stated_smoothing(found: Sorted) -> int | None:
    """N of the 1/n octave that a comment or header states."""
    words = " ".join(line.text for line in (*found.comments, *found.headers))
    stated = re.search(r"\b1\s*/\s*(\d{1,2})\s*-?\s*oct", words, re.I)
    return int(stated[1]) if stated and 1 <= int(stated[1]) <= 96 else None
