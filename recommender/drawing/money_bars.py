"""Where the money goes, under each denominator: two stacked bars, the whole named above each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from triptych.recommender.drawing import drawn_numbers, frame, text
from triptych.recommender.drawing.canvas import TEXT, Box, Canvas, Point
from triptych.recommender.drawing.frame import PAPER_MARGIN, ROW
from triptych.recommender.drawing.style import ROLE_HATCHINGS

BAR_WIDTH: Final = 14.0
"""Width of a bar [mm]."""

BESIDE: Final = 140.0
"""A sheet at least so wide has room for two bars side by side [mm]."""

SHORTEST: Final = 70.0
"""A bar is at least so high [mm]."""


@dataclass(frozen=True, slots=True)
class Share:
    """What one role takes.

    Parameters
    ----------
    role : str
        `budget.check.Share.role`.
    amount : float
        `Share.amount` as in the JSON. [currency]
    of_audio_total, of_speakers_and_sub : float or None
        As in the JSON, 0 to 1; None where the role is outside that denominator.
    """

    role: str
    amount: float
    of_audio_total: float | None
    of_speakers_and_sub: float | None


@dataclass(frozen=True, slots=True)
class MoneySplit:
    """Where the money goes.

    Parameters
    ----------
    currency : str
        `Budget.currency`.
    tax_included : bool
        `Budget.tax_included`.
    audio_total, speakers_and_sub : float
        `Check.denominators`, as in the JSON. [currency]
    shares : tuple of Share
        `Check.shares`, in order.
    """

    currency: str
    tax_included: bool
    audio_total: float
    speakers_and_sub: float
    shares: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class Segment:
    """One piece of a bar: the role, its part of the whole, its words, its hatching."""

    role: str
    part: float
    words: tuple[str, str]
    hatching: str


Bar = tuple[str, str, list[Segment]]


def money(shown: MoneySplit, width: float = frame.WIDTH) -> str:
    """Return the two bars as SVG.

    Parameters
    ----------
    shown : MoneySplit
        What to draw.
    width : float
        Width of the sheet; at least 90. [mm]

    Returns
    -------
    str
        A document of its own; the same for the same input.
    """
    canvas = frame.start("money", width, "Where the money goes", _description(shown))
    tax = "tax included" if shown.tax_included else "tax not included"
    bars = list(_bars(shown))
    top = low = frame.head(
        canvas, "Where the money goes", f"Share of each role in two wholes · {shown.currency}, {tax}"
    )
    for box, (name, total, segments) in zip(_boxes(canvas.width, top, bars), bars, strict=True):
        _bar(canvas, box, name, total, segments)
        low = box.bottom
    return canvas.svg(low + PAPER_MARGIN)


def _boxes(width: float, top: float, bars: Sequence[Bar]) -> list[Box]:
    """Side by side on a wide sheet, one below the other on a narrow one."""
    high = [max(SHORTEST, 2 * ROW * (len(segments) + 1)) + 3 * ROW for _, _, segments in bars]
    if width < BESIDE:
        return [
            Box(PAPER_MARGIN, top + below, width - PAPER_MARGIN, top + below + high[i])
            for i, below in enumerate((0.0, high[0] + 3))
        ]
    half = (width - 2 * PAPER_MARGIN) / 2
    return [Box(PAPER_MARGIN + i * half, top, PAPER_MARGIN + (i + 1) * half - 2, top + max(high)) for i in (0, 1)]


def _description(shown: MoneySplit) -> str:
    return "; ".join(
        f"{name} {total}: " + ", ".join(f"{segment.role} {segment.words[1]}" for segment in segments)
        for name, total, segments in _bars(shown)
    )


def _bars(shown: MoneySplit) -> Iterator[Bar]:
    """The name of each whole, its amount, and its pieces."""
    parts = (
        ("Audio total", shown.audio_total, [(share, share.of_audio_total) for share in shown.shares]),
        ("Loudspeakers + subwoofer", shown.speakers_and_sub, [(s, s.of_speakers_and_sub) for s in shown.shares]),
    )
    for name, total, shares in parts:
        segments = [_segment(share, part, shown.currency) for share, part in shares if part]
        yield name, drawn_numbers.money(total, shown.currency), segments


def _segment(share: Share, part: float, currency: str) -> Segment:
    words = (text.clean(share.role), f"{drawn_numbers.share(part)} · {drawn_numbers.money(share.amount, currency)}")
    return Segment(words[0], part, words, ROLE_HATCHINGS.get(share.role, "dashes"))


def _bar(canvas: Canvas, box: Box, name: str, total: str, segments: Sequence[Segment]) -> None:
    room = box.right - box.left
    canvas.text(box.left, box.top + ROW, text.fit(name, TEXT, room, bold=True), "title", size=TEXT, full=name)
    canvas.text(box.left, box.top + 2 * ROW, text.fit(total, TEXT, room), "note")
    top = box.top + 3 * ROW
    low, high = box.bottom, box.bottom - top
    middles, y = list[float](), top
    for segment in segments:
        end = y + high * segment.part
        piece = Box(box.left, y, box.left + BAR_WIDTH, end)
        canvas.rectangle(piece, "segment", f"segment-{segment.role}", segment.hatching)
        middles.append((y + end) / 2)
        y = end
    if not segments:
        canvas.text(box.left, top + ROW, text.fit("nothing in it yet", TEXT, room), "note")
    places = frame.spread(middles, 2 * ROW, top + ROW, low - ROW)
    for segment, middle, place in zip(segments, middles, places, strict=True):
        _label(canvas, box, segment, middle, place)


def _label(canvas: Canvas, box: Box, segment: Segment, middle: float, place: float) -> None:
    edge = box.left + BAR_WIDTH
    canvas.line(Point(edge, middle), Point(edge + 4, place), "thin")
    left = edge + 5
    for words, y, name in zip(segment.words, (place - 0.4, place + ROW - 0.6), ("text", "note"), strict=True):
        canvas.text(left, y, text.fit(words, TEXT, box.right - left), name, full=words)
