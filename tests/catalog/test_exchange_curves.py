"""Files of measured curves: every accepted style read alike, every bad line named. All curves here are made up."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.catalog.errors import BadInput
from triptych.catalog.files.curve_files import CurveReading, read_curves
from triptych.catalog.records import CurveKind

FREQUENCY = [20 * 2 ** (step / 2) for step in range(20)]
LEVEL = [80 + math.sin(step) for step in range(20)]
PLAIN = "\n".join(f"{f:.2f} {level:.3f}" for f, level in zip(FREQUENCY, LEVEL, strict=True))


def read(
    text: str | bytes, kind: CurveKind = CurveKind.ON_AXIS, name: str = "curve.txt", **given: object
) -> CurveReading:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_curves(path, kind, **given)  # type: ignore[arg-type]  # keywords of read_curves, checked at run time


def lines(separator: str = " ", comma: bool = False, scale: float = 1.0) -> str:
    rows = [f"{f * scale:.6f}{separator}{level:.3f}" for f, level in zip(FREQUENCY, LEVEL, strict=True)]
    return "\n".join(row.replace(".", ",") if comma else row for row in rows)


def table(header: str, columns: int, separator: str = ";") -> str:
    rows = [
        separator.join([f"{f:.2f}", *(f"{level - 1.0 * column:.3f}" for column in range(columns))])
        for f, level in zip(FREQUENCY, LEVEL, strict=True)
    ]
    return "\n".join([header, *rows])


@st.composite
def written(draw: st.DrawFn) -> tuple[str, list[tuple[float, float, float]], bool]:
    """A file in one of the accepted styles, what it holds, and whether phase is among it."""
    count = draw(st.integers(10, 40))
    steps = draw(st.lists(st.integers(1, 60), min_size=count, max_size=count))
    frequency = [20.0 + sum(steps[: place + 1]) * 3.0 for place in range(count)]
    frequency[-1] = max(frequency[-1], 900.0)
    level = draw(st.lists(st.integers(-90_000, 120_000), min_size=count, max_size=count))
    phase = draw(st.booleans())
    points = [
        (f, one / 1000, float(place * 7 % 360 - 180))
        for place, (f, one) in enumerate(zip(frequency, level, strict=True))
    ]
    kilo, comma, separator = (
        draw(st.booleans()),
        draw(st.booleans()),
        draw(st.sampled_from(["\t", ";", "  ", " ; ", ", "])),
    )
    comma = comma and separator != ", "
    header = draw(
        st.sampled_from(["Freq {} SPL dB\n", "* Freq({})\n# taken by hand\n"] + ([] if kilo else ["", "% x\n\n"]))
    )
    order = draw(st.permutations(points))
    unit = 1000.0 if kilo else 1.0
    rows = []
    for f, one, turn in order:
        cells = [f"{f / unit:.6f}", f"{one:.3f}", *([f"{turn:.1f}"] if phase else [])]
        row = separator.join(cell.replace(".", ",") if comma else cell for cell in cells)
        rows.append(row + draw(st.sampled_from(["", " ", "\r"])))
    return header.format("kHz" if kilo else "Hz") + "\n".join(rows) + "\n", points, phase


@pytest.mark.examples
@given(written())
def test_a_file_in_any_accepted_style_comes_back(given: tuple[str, list[tuple[float, float, float]], bool]) -> None:
    text, points, phase = given
    found = read(text)
    assert not found.problems
    (record,) = found.records
    assert record.frequency == pytest.approx([point[0] for point in points])
    assert record.level == pytest.approx([point[1] for point in points])
    assert (record.phase is not None) == phase
    if record.phase is not None:
        assert record.phase == pytest.approx([point[2] for point in points])


@pytest.mark.parametrize(
    ("text", "remark"),
    [
        (PLAIN, ""),
        ("\ufeff" + PLAIN, ""),
        (PLAIN.replace("\n", "\r\n"), ""),
        (lines("\t"), ""),
        (lines(";", comma=True), ""),
        (lines("\t", comma=True), ""),
        (lines(" ", comma=True), ""),
        (lines(","), ""),
        ("Frequency;Level\nHz;dB\n" + lines(";"), ""),
        ("# a\n* b\n; c\n% d\n// e\n\n" + PLAIN, ""),
        ("\n".join(reversed(PLAIN.split("\n"))), "fall; sorted"),
        (PLAIN + "\n20.00 80.04", "averaged: 1"),
        ("freq kHz\tspl\n" + lines("\t", scale=1e-3), "kHz: its header says so"),
        (lines("\t", scale=1e-3), "kHz: no unit is named"),
        ("\n".join(f"{f:.2f} Hz; {level:.3f} dB" for f, level in zip(FREQUENCY, LEVEL, strict=True)), ""),
        ("# from 20 Hz to 20 kHz\n" + PLAIN, ""),
        ("f,spl,distortion\n" + "\n".join(row.replace(" ", ",") + ",0.3" for row in PLAIN.split("\n")), "is no phase"),
    ],
)
def test_dirt_is_read_and_what_was_done_is_told(text: str, remark: str) -> None:
    found = read(text)
    assert not found.problems
    assert found.records[0].frequency == pytest.approx(FREQUENCY, rel=1e-3)
    assert found.records[0].level == pytest.approx(LEVEL, abs=0.03)
    assert found.records[0].phase is None
    assert (remark in " ".join(found.remarks)) if remark else not found.remarks


def test_cells_with_their_unit_may_be_in_kilohertz() -> None:
    text = "\n".join(f"{f / 1000:.5f} kHz, {level:.3f}" for f, level in zip(FREQUENCY, LEVEL, strict=True))
    assert read(text).records[0].frequency == pytest.approx(FREQUENCY, rel=1e-3)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("300 nan", "'nan', the second figure, is no number"),
        ("300 inf", "'inf', the second figure, is no number"),
        ("300 8x", "'8x', the second figure, is no number"),
        ("300", "holds 1 figures"),
        ("300 80 5 7", "holds 4 figures"),
        ("300 400", "a level of 400 dB is not plausible"),
        ("300 -151", "a level of -151 dB is not plausible"),
        ("0.5 80", "a frequency of 0.5 Hz is not from 1 Hz"),
        ("-300 80", "a frequency of -300 Hz is not from 1 Hz"),
        ("200001 80", "is not from 1 Hz to 200 kHz"),
    ],
)
def test_a_bad_line_is_named_and_nothing_is_taken(line: str, told: str) -> None:
    found = read(f"# head\n{PLAIN}\n{line}\n")
    assert not found.records
    (problem,) = found.problems
    assert str(problem).startswith("curve.txt, line 22: ")
    assert told in str(problem)


def test_every_bad_line_is_named_up_to_a_number() -> None:
    bad = PLAIN + "\n300 x\n" * 3
    assert [str(one).split(":")[0] for one in read(bad).problems] == [f"curve.txt, line {n}" for n in (21, 23, 25)]
    many = read(PLAIN + "\n300 x" * 200)
    assert len(many.problems) == 21
    assert "and 180 more" in str(many.problems[-1])


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (PLAIN + "\n20.00 81", "lines 1 and 21: 20 Hz comes 2 times with levels 1 dB apart"),
        ("\n".join(PLAIN.split("\n")[:9]), "holds 9 points"),
        ("\n".join(f"{1000 + step} 80" for step in range(40)), "spans two octaves"),
    ],
)
def test_what_is_no_curve_is_refused(text: str, told: str) -> None:
    found = read(text)
    assert not found.records
    assert told in str(found.problems[0])


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no line holds"),
        ("words only\nand more", "no line holds"),
        ("1000\n2000", "no line holds"),
        (b"\x00\x01 20 80", "no text"),
        ("\n".join(f"{n},000\t8{n}" for n in range(9, 0, -1)) + "\n500\t80", "one thousand"),
    ],
)
def test_what_is_no_file_of_a_curve_is_refused(text: str | bytes, told: str) -> None:
    with pytest.raises(BadInput, match=told):
        read(text)


def test_smoothing_is_taken_from_the_file_unless_it_is_given() -> None:
    text = "* 1/24 octave smoothing\n" + PLAIN
    assert read(text).records[0].smoothing == 24
    assert read(text, smoothing=6).records[0].smoothing == 6
    assert read(PLAIN).records[0].smoothing is None


@pytest.mark.parametrize(
    ("header", "angles"),
    [
        ("freq;0;10;-20", [0.0, 10.0, -20.0]),
        (";0;10;-20", [0.0, 10.0, -20.0]),
        ("Hz;0°;10 deg;340deg", [0.0, 10.0, -20.0]),
        ("# Hz;0;-180;20", [0.0, 180.0, 20.0]),
        ("f;0;10;20;", [0.0, 10.0, 20.0]),
    ],
)
def test_a_table_has_a_column_an_angle(header: str, angles: list[float]) -> None:
    records = read(table(header, 3), CurveKind.HORIZONTAL).records
    assert [record.angle for record in records] == angles
    for column, record in enumerate(records):
        assert record.level == pytest.approx([level - column for level in LEVEL], abs=6e-4)


@pytest.mark.parametrize(
    ("header", "given", "told"),
    [
        ("freq;0;10", {}, "not known"),
        ("freq;0;10;20;30", {}, "not known"),
        ("freq;a;b;c", {}, "not known"),
        ("freq;0;10;10", {}, "10 stands over two"),
        ("freq;180;10;-180", {}, "180 stands over two"),
        ("freq;0;10;20", {"angle": 30.0}, "leave the angle out"),
        ("freq;0;10;400", {}, "400 deg is none"),
    ],
)
def test_a_table_without_clear_angles_is_refused(header: str, given: dict[str, Any], told: str) -> None:
    with pytest.raises(BadInput, match=told):
        read(table(header, 3), CurveKind.HORIZONTAL, **given)


def test_a_short_row_of_a_table_is_named() -> None:
    found = read(table("freq;0;10;20", 3) + "\n30000;80;80", CurveKind.HORIZONTAL)
    assert "line 22: '30000;80;80': holds 3 figures; wanted are frequency and 3 levels" in str(found.problems[0])


@pytest.mark.parametrize(
    ("name", "angle"),
    [
        ("h_30.txt", 30.0), ("h_-30.txt", -30.0), ("set2 +45deg.txt", 45.0), ("15deg run 7.txt", 15.0),
        ("tower2_H30.txt", 30.0), ("330.txt", -30.0), ("h 7.5.txt", 7.5),
    ],
)  # fmt: skip
def test_an_angle_is_read_from_the_name_when_asked(name: str, angle: float) -> None:
    assert read(PLAIN, CurveKind.HORIZONTAL, name, angle_from_name=True).records[0].angle == angle
    with pytest.raises(BadInput, match="angle is not known"):
        read(PLAIN, CurveKind.HORIZONTAL, name)


@pytest.mark.parametrize("name", ["tower-30.txt", "axis.txt"])
def test_an_angle_that_a_name_does_not_clearly_hold_is_refused(name: str) -> None:
    with pytest.raises(BadInput, match="--angle"):
        read(PLAIN, CurveKind.VERTICAL, name, angle_from_name=True)


@pytest.mark.parametrize("kind", [CurveKind.ON_AXIS, CurveKind.LISTENING_WINDOW, CurveKind.IN_ROOM])
def test_kinds_without_an_angle_refuse_one(kind: CurveKind) -> None:
    assert read(PLAIN, kind).records[0].angle is None
    with pytest.raises(BadInput, match="has no angle"):
        read(PLAIN, kind, angle=0.0)


def test_a_missing_file_is_told_in_a_line() -> None:
    with pytest.raises(BadInput, match=r"no\.txt"):
        read_curves(Path("no.txt"), CurveKind.ON_AXIS)
