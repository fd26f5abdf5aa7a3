"""The answer on a terminal: what to take first, why, what to do with it, and what stands in the way of the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from triptych.catalog.cli.options import harmless
from triptych.recommender.cli import row_by_row

if TYPE_CHECKING:
    from triptych.recommender.advise.advice import Advice, CriterionAnswer, Derivation, SeatAnswer, Standing
    from triptych.recommender.advise.compare import Comparison, CriterionDifference

WORTH_ASKING: Final = 0.1
"""A question that is worth less is not shown in a table [points]."""

IN_POSE: Final = {"as_designed": "", "on_side": ", turned on its side"}
MARK: Final = {"pass": "yes", "conditional": "if", "unknown": "?", "fail": "no"}
STYLE: Final = {"pass": "green", "conditional": "yellow", "unknown": "magenta", "fail": "red"}
SHOWN_OF_EACH: Final = 5
"""How many of each group the terminal shows where nobody asks for more."""


def clean(text: str) -> str:
    """Text from the catalogue with nothing in it that a terminal would obey."""
    return harmless(text)


def money(amount: float | None, currency: str | None) -> str:
    """An amount with its currency; a dash where the price isn't known."""
    return "–" if amount is None else f"{amount:,.2f} {currency or ''}".strip()


def answer(console: Console, advice: Advice, top: int | None) -> None:
    """The whole answer to `match`."""
    count = SHOWN_OF_EACH if top is None else top
    console.print(Text(f"A centre for {clean(advice.mains)} in {clean(advice.room)}", style="bold"))
    console.print()
    ranked(console, advice, count)
    ordered(console, advice)
    pending(console, advice, count)
    settling(console, advice)
    excluded(console, advice)
    counsel(console, advice)


def ranked(console: Console, advice: Advice, count: int) -> None:
    """The ranking: one table to compare by, then a paragraph for each of the first three."""
    if not advice.ranked:
        console.print("No centre passes every gate here.\n")
        return
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1, 0, 0))
    table.add_column("", justify="right")
    table.add_column("loudspeaker", ratio=3, overflow="fold")
    table.add_column("place", ratio=2, overflow="fold")
    table.add_column("score", justify="right", no_wrap=True)
    table.add_column("first", justify="right", no_wrap=True)
    table.add_column("sure", justify="right", no_wrap=True)
    table.add_column("price", justify="right", no_wrap=True)
    for entry in advice.ranked[:count]:
        table.add_row(
            f"{entry.rank}{'*' if entry.conditional else ''}",
            clean(entry.speaker),
            clean(entry.place) + IN_POSE[entry.pose],
            scored(entry),
            "–" if entry.chances is None else f"{entry.chances.first:.0%}",
            f"{entry.confidence:.0%}",
            money(entry.price, entry.currency),
        )
    row_by_row.show(console, table, "ranking")
    rest = len(advice.ranked) - count
    conditions = any(entry.conditional for entry in advice.ranked[:count])
    note = ("* = passes with conditions; " if conditions else "") + (
        "score out of 100 and where it lies, at least nine times in ten, given what isn't known; first = how often it "
        "is truly first, conditions met; sure = the share of it that rests on stated or measured figures"
    )
    console.print(Text(note + (f"; {rest} more with --top" if rest > 0 else ""), style="dim"))
    console.print()
    from triptych.recommender.report.reasons import as_good_words

    if equals := as_good_words(advice):
        console.print(Text(equals))
        console.print()
    for entry in advice.ranked[: min(count, 3)]:
        paragraph(console, advice, entry)
    _further_conditions(console, advice.ranked[3:count])


def _further_conditions(console: Console, entries: Sequence[Standing]) -> None:
    """The conditions of those ranked that have no paragraph: no star without its reason."""
    from triptych.recommender.report import reasons

    told = [(entry, line) for entry in entries for line in reasons.conditions(entry)]
    for entry, line in told:
        console.print(Padding(Text(f"{entry.rank}* {line}"), (0, 0, 0, 2)))
    if told:
        console.print()


def scored(entry: Standing) -> str:
    """The score with its interval."""
    return f"{entry.score:.0f} ({entry.score_low:.0f}–{entry.score_high:.0f})"


SIDE: Final = {"For it": "for", "Against it": "against", "What limits it most": "limits", "On condition": "mind"}
"""How what is said of a centre is headed where there is little room."""


def paragraph(console: Console, advice: Advice, entry: Standing) -> None:
    """One candidate in words: what decides first, against the runner-up or the leader; what to do."""
    console.print(Text(f"{entry.rank}  {clean(entry.speaker)}", style="bold"))
    from triptych.recommender.report import reasons

    told = [(SIDE[heading], lines) for heading, lines in reasons.sides(advice, entry)]
    for label, lines in [*told, ("do", reasons.steps(entry))]:
        for position, line in enumerate(lines):
            grid = Table.grid(padding=(0, 1, 0, 0))
            grid.add_column(width=8, justify="right", style="dim")
            grid.add_column(overflow="fold")
            grid.add_row(label if position == 0 else "", line)
            console.print(Padding(grid, (0, 0, 0, 1)))
    console.print()


def pending(console: Console, advice: Advice, count: int) -> None:
    """Those that one answer could let in, with the question."""
    if not advice.pending:
        return
    console.print(Text("One answer away", style="bold"))
    asked: set[str] = set()
    for entry in advice.pending[:count]:
        line = Text("  ")
        line.append(f"{clean(entry.speaker)}", style="bold")
        line.append(f" ({entry.score_if_passed:.0f} if it passes, {clean(entry.place)}): ")
        line.append(" ".join(_once(entry.questions, asked)))
        console.print(Padding(line, (0, 0, 0, 0)))
    if (rest := len(advice.pending) - count) > 0:
        console.print(Text(f"  and {rest} more", style="dim"))
    console.print()


def _once(questions: Sequence[str], asked: set[str]) -> list[str]:
    """Questions that were not asked yet, and one word for all about the room that were."""
    from triptych.recommender.advise.counsel import ABOUT_BOX

    again = [question for question in questions if question in asked and not ABOUT_BOX.search(question)]
    new = [clean(question) for question in dict.fromkeys(questions) if question not in again]
    asked.update(questions)
    word = "the same question" if len(set(again)) == 1 else "the same questions"
    return [*new, *([f"{word if not new else 'and ' + word}."] if again else [])]


def ordered(console: Console, advice: Advice) -> None:
    """What would come first if it needn't be in stock, and when it could be had."""
    if (other := advice.otherwise) is not None:
        had = f"to be had on {other.when.isoformat()}" if other.when else "but nobody knows when it could be had"
        told = (
            f"If it could be ordered: {clean(other.speaker)} would score {other.score:.0f}, {had} ({clean(other.why)})."
        )
        console.print(Text(told))
        console.print()


def settling(console: Console, advice: Advice) -> None:
    """Which answer would change most, and how far the first place survives other weights."""
    from triptych.recommender.advise.settle import UNJUDGED

    told = [
        question for question in advice.questions if question.points >= WORTH_ASKING or question.unknown == UNJUDGED
    ]
    if told:
        console.print(Text("What would settle it", style="bold"))
        for question in told[:3]:
            subject = f"{clean(question.speaker or question.about)}: "
            worth = f"worth {question.points:.1f} points, changes the choice {question.changes:.0%} of the time"
            if question.unknown == UNJUDGED:
                worth = "without it loudness isn't judged"
            console.print(
                Padding(Text(f"{subject}{clean(question.question)} ({worth}; {question.find})"), (0, 0, 0, 2))
            )
        console.print()
    if advice.survival is not None:
        change = advice.survival
        taken = ", ".join(change.taken)
        moved = f"{change.moved:.0%} of all weight would have to move from {taken} to {change.given_to}"
        console.print(Text(f"Under other weights: {moved} before {clean(change.rival)} draws level with the first."))
        console.print()


def excluded(console: Console, advice: Advice) -> None:
    """How many were ruled out, and by what."""
    if not advice.excluded:
        return
    counts = Counter(gate for entry in advice.excluded for gate in {reason.gate for reason in entry.reasons})
    told = ", ".join(f"{gate} {number}" for gate, number in sorted(counts.items(), key=lambda one: (-one[1], one[0])))
    console.print(Text(f"Ruled out everywhere: {len(advice.excluded)}", style="bold"))
    console.print(f"  by {told}. `triptych explain NAME` says why.")
    console.print()


def counsel(console: Console, advice: Advice) -> None:
    """Advice and cautions."""
    if advice.advice:
        console.print(Text("Advice", style="bold"))
        for piece in advice.advice:
            console.print(Padding(Text(clean(piece.why)), (0, 0, 0, 2)))
        console.print()
    console.print(Text("Cautions", style="bold"))
    for caution in advice.cautions:
        console.print(Padding(Text(caution), (0, 0, 0, 2)))


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
    marked = [f"{value} ({points:+.1f})" for value, points in zip(values[1:], difference.points[1:], strict=True)]
    return [values[0], *marked]


def account(console: Console, advice: Advice) -> None:
    """One centre at every place: gates, criteria with formula and source, quantities, seats."""
    for entry in advice.ranked:
        title = f"{clean(entry.speaker)}: {clean(entry.place)}{IN_POSE[entry.pose]}"
        console.print(Text(title, style="bold"))
        console.print(Text(f"{VERDICT[entry.verdict]}; score {entry.score:.0f}, from {entry.score_low:.0f} to "
                           f"{entry.score_high:.0f} given what isn't known, "
                           f"{entry.confidence:.0%} of it on stated or measured figures", style="dim"))  # fmt: skip
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
    return "–" if value is None else f"{value:.{digits}f}"


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
    return words.replace("_", " "), "–" if value is None else f"{value:.1f} {SUFFIX.get(suffix, suffix)}"


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
    return f"{words.replace('_', ' ')} {value:.4g} {SUFFIX.get(suffix, suffix)}"


def next_steps(console: Console, advice: Advice, kept: str) -> None:
    """What to try after the demo."""
    database = f"--db {kept} " if kept else "--db demo.db "
    first = advice.ranked[0].speaker if advice.ranked else advice.mains
    console.print()
    console.print(Text("Try next", style="bold"))
    lines = [] if kept else ["triptych demo --keep demo.db"]
    lines += [
        f'triptych explain {database}"{first}" --room "Mill House"',
        f'triptych match {database}--room "Sail Loft"',
        f"triptych speaker list {database}--role centre",
        f"triptych room new {database}",
    ]
    for line in lines:
        console.print(Text("  " + line.strip()), soft_wrap=True)
