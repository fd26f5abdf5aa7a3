"""Centres looked at closely on a terminal: one alone with all that it was judged by, or a few beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from triptych.recommender.cli import row_by_row
from triptych.recommender.cli.render import IN_POSE, MARK, STYLE, clean, counsel, money, scored

if TYPE_CHECKING:
    from triptych.recommender.advise.advice import Advice, CriterionAnswer, Derivation, SeatAnswer, Standing
    from triptych.recommender.advise.compare import Comparison, CriterionDifference


def comparison(console: Console, answer: Comparison) -> None:
    """Centres side by side: verdicts and scores, then each criterion with what it costs against the first."""
    console.print(Text(f"For {clean(answer.mains)} in {clean(answer.room)}", style="bold"))
    console.print()
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    table.add_column("")
    for entry in answer.standings:
        table.add_column(clean(entry.speaker), overflow="fold", ratio=1)
    table.add_row("place", *(clean(entry.place) + IN_POSE[entry.pose] for entry in answer.standings))
    table.add_row("verdict", *(VERDICT[entry.verdict] for entry in answer.standings))
    table.add_row("score", *(scored(entry) for entry in answer.standings))
    table.add_row("price", *(money(entry.price, entry.currency) for entry in answer.standings))
    for difference in answer.differences:
        name = f"{difference.criterion}{' *' if difference.decides else ''}"
        table.add_row(Text(name, style="bold" if difference.decides else ""), *_cells(difference, answer.standings))
    row_by_row.show(console, table, "comparison")
    note = "in brackets: points of score against the first; * = decides (a quarter of the difference or more)"
    console.print(Text(note, style="dim"))
    for caution in answer.cautions:
        console.print(Padding(Text(clean(caution)), (0, 0, 0, 2)))
    for entry in answer.standings:
        for gate in entry.gates:
            if gate.verdict != "pass":
                told = f"{clean(entry.speaker)}: {gate.gate}: {_with_question(gate.why, gate.question)}"
                console.print(Padding(Text(told), (0, 0, 0, 2)))


def _cells(difference: CriterionDifference, standings: Sequence[Standing]) -> list[str]:
    guessed = [
        " assumed" if one.evidence == "assumed" else ""
        for entry in standings
        for one in entry.criteria
        if one.criterion == difference.criterion
    ]
    values = [
        f"{value:.2f} {unit(difference.unit)}".rstrip() + mark
        for value, mark in zip(difference.values, guessed, strict=True)
    ]
    marked = [f"{value} ({points:+z.1f})" for value, points in zip(values[1:], difference.points[1:], strict=True)]
    return [values[0], *marked]


def account(console: Console, advice: Advice) -> None:
    """One centre at every place: gates, criteria with formula and source, quantities, seats."""
    for entry in advice.ranked:
        title = f"{clean(entry.speaker)}: {clean(entry.place)}{IN_POSE[entry.pose]}"
        console.print(Text(title, style="bold"))
        told = (
            f"{VERDICT[entry.verdict]}; score {entry.score:.0f}, from {entry.score_low:.0f} to {entry.score_high:.0f} "
            f"given what isn't known, {entry.confidence:.0%} of it on figures, measured ones counting whole and stated "
            "ones half"
        )
        console.print(Text(told, style="dim"))
        console.print(_gates(entry))
        console.print()
        for criterion in entry.criteria:
            _criterion(console, criterion)
        row_by_row.show(console, _seats(entry), "seats")
        console.print(Text(UNSMOOTHED, style="dim"))
        console.print()
        row_by_row.show(console, _quantities(entry), "quantities")
        console.print()
    if advice.preference is not None:
        console.print(f"Preference figure {advice.preference:.1f}, from its full measured set: how it sounds alone, "
                      "not how it matches.\n")  # fmt: skip
    counsel(console, advice)


VERDICT: Final = {
    "pass": "passes every gate",
    "conditional": "passes with conditions",
    "unknown": "waits for an answer",
    "fail": "ruled out here",
}


def _gates(entry: Standing) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1, 0, 0), title_justify="left")
    table.add_column("gate", no_wrap=True)
    table.add_column("", no_wrap=True)
    table.add_column("why", overflow="fold", ratio=1)
    for gate in entry.gates:
        mark = Text(MARK[gate.verdict], style=STYLE[gate.verdict])
        table.add_row(gate.gate, mark, _with_question(gate.why, gate.question))
    return table


def _with_question(why: str, question: str) -> str:
    return f"{why}. {question}" if question else why


def _criterion(console: Console, criterion: CriterionAnswer) -> None:
    line = Text()
    line.append(f"{criterion.criterion} ", style="bold")
    line.append(f"{criterion.value:.2f} {unit(criterion.unit)}".rstrip())
    if criterion.high - criterion.low > 0.005:
        line.append(f" ({criterion.low:.2f} to {criterion.high:.2f})")
    line.append(f", utility {criterion.utility:.2f} x weight {criterion.weight:.2f}, {criterion.evidence}")
    console.print(line)
    for text in (criterion.why, "= " + criterion.formula, "source: " + criterion.source):
        console.print(Padding(Text(text, style="" if text == criterion.why else "dim"), (0, 0, 0, 2)))


def unit(word: str) -> str:
    """A unit as people read it; a plain ratio has none."""
    return "" if word == "1" else word


def _number(value: float | None, digits: int) -> str:
    return "–" if value is None else f"{value:z.{digits}f}"


DEEPEST_NULL: Final = -30.0
"""Below this a model's null is deeper than any room lets it be [dB]. Common practice."""


def _dip(level: float | None) -> str:
    return f"below {DEEPEST_NULL:.0f}" if level is not None and level < DEEPEST_NULL else _number(level, 1)


UNSMOOTHED: Final = (
    "this dip is the drivers' own sum from 200 Hz to 6 kHz; that of the gate of seats and of coverage is "
    "smoothed as the ear hears (ERB), from the measured curve where there is one"
)


def _seats(entry: Standing) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column("seat")
    for name in ("angle [deg]", "unsmoothed dip [dB]", "at [Hz]", "woofers' null [Hz]"):
        table.add_column(name, justify="right")
    for seat in entry.seats:
        table.add_row(
            clean(seat.seat),
            _number(seat.angle_deg, 1),
            _dip(seat.dip_db),
            _number(seat.dip_hz, 0),
            _null(seat),
        )
    return table


def _null(seat: SeatAnswer) -> str:
    """The frequency of a null, with the range that an assumed spacing gives it."""
    told = _number(seat.null_hz, 0)
    if seat.null_low_hz is None or seat.null_high_hz is None or seat.null_high_hz - seat.null_low_hz < 1:
        return told
    return f"{told} ({seat.null_low_hz:.0f}–{seat.null_high_hz:.0f})"


def _quantities(entry: Standing) -> Table:
    table = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
    table.add_column("name", style="dim", no_wrap=True)
    table.add_column("value", justify="right", no_wrap=True)
    table.add_column("how", style="dim", overflow="fold", ratio=1)
    ways = {one.quantity: one for one in entry.derivations}
    for name, value in entry.quantities.items():
        table.add_row(*_readable(name, value), _way(ways.get(name)))
    for seat, way in zip(entry.seats, entry.seat_derivations, strict=False):
        table.add_row(f"across at {clean(seat.seat)}", f"{_number(seat.across_deg, 1)} deg", _way(way))
    return table


def _readable(name: str, value: float | None) -> tuple[str, str]:
    words, _, suffix = name.rpartition("_")
    return words.replace("_", " "), "–" if value is None else f"{value:z.1f} {SUFFIX.get(suffix, suffix)}"


SUFFIX: Final = {"db": "dB", "hz": "Hz", "w": "W"}
"""Units as people write them, where a name ends otherwise."""


def _way(derivation: Derivation | None) -> str:
    """A formula with its inputs, where they are from, and its source."""
    if derivation is None:
        return ""
    inputs = ", ".join(_input(name, value) for name, value in derivation.inputs.items() if value is not None)
    return f"{derivation.formula}{f' with {inputs}' if inputs else ''}; {derivation.evidence}; {derivation.source}"


def _input(name: str, value: float) -> str:
    words, _, suffix = name.rpartition("_")
    # a plain number has no unit at the end of its name
    unit = f" {SUFFIX.get(suffix, suffix)}" if words else ""
    return f"{words.replace('_', ' ') or name} {value:z.4g}{unit}"
