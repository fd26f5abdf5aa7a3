"""The answer on a terminal: what to take first, why, what to do with it, and what stands in the way of the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from triptych.catalog.cli.options import BROKEN, harmless
from triptych.catalog.money import in_words
from triptych.recommender.cli import row_by_row

if TYPE_CHECKING:
    from triptych.recommender.advise.advice import Advice, Standing

HEADS_WHOLE: Final = 66
"""Columns of a terminal from which the ranking has room for its longest head."""

WORTH_ASKING: Final = 0.1
"""A question that is worth less is not shown in a table [points]."""

IN_POSE: Final = {"as_designed": "", "on_side": ", turned on its side", "on_end": ", stood upright"}
MARK: Final = {"pass": "yes", "conditional": "if", "unknown": "?", "fail": "no"}
STYLE: Final = {"pass": "green", "conditional": "yellow", "unknown": "magenta", "fail": "red"}
OUT_NAMED: Final = 3
"""So many that are ruled out are named."""

SHOWN_OF_EACH: Final = 5
"""How many of each group the terminal shows where nobody asks for more."""


def clean(text: str) -> str:
    """Text from the catalogue with nothing in it that a terminal would obey."""
    return harmless(text)


def money(amount: float | None, currency: str | None) -> str:
    """An amount with its currency; a dash where the price isn't known."""
    return "–" if amount is None else in_words(amount, currency)


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
    narrow = console.width < HEADS_WHOLE
    table.add_column(BROKEN["loudspeaker"] if narrow else "loudspeaker", ratio=3, overflow="fold")
    table.add_column("place", ratio=2, overflow="fold")
    table.add_column("score", justify="right", no_wrap=True)
    table.add_column("first", justify="right", no_wrap=True)
    table.add_column("evidence", justify="right", no_wrap=True)
    table.add_column("price", justify="right", no_wrap=True)
    for entry in advice.ranked[:count]:
        table.add_row(
            f"{entry.rank}{'*' if entry.conditional else ''}",
            clean(entry.speaker),
            clean(entry.place) + IN_POSE[entry.pose],
            scored(entry),
            "–" if entry.chances is None else often(entry.chances.first),
            f"{entry.confidence:.0%}",
            money(entry.price, entry.currency),
        )
    row_by_row.show(console, table, "ranking")
    rest = len(advice.ranked) - count
    conditions = any(entry.conditional for entry in advice.ranked[:count])
    note = ("* = passes with conditions; " if conditions else "") + (
        "score out of 100 and where it lies, at least nine times in ten, given what isn't known; first = in how many "
        "draws of that its conditions hold and it comes first; evidence = how much of it rests on figures, measured "
        "ones counting whole and stated ones half"
    )
    console.print(Text(note + (f"; {rest} more with --top" if rest > 0 else ""), style="dim"))
    console.print()
    from triptych.recommender.report.reasons import as_good_words, order_words

    for line in (*order_words(advice, advice.ranked[:count]), as_good_words(advice)):
        if line:
            console.print(Text(line))
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


def often(share: float) -> str:
    """A chance found by draws, as on paper, without the blank before the sign."""
    from triptych.recommender.report.on_paper import chance

    return chance(share).replace("\u00a0", "")


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
    from triptych.recommender.advise.questions import ANYWAY

    told = [question for question in advice.questions if question.points >= WORTH_ASKING or question.unknown in ANYWAY]
    if told:
        console.print(Text("What would settle it", style="bold"))
        for question in told[:3]:
            subject = f"{clean(question.speaker or question.about)}: "
            worth = f"worth {question.points:.1f} points, changes the choice {often(question.changes)} of the time"
            worth = ANYWAY.get(question.unknown, worth)
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
    """How many were ruled out, and by what; who they are, where they are few; that the mains are no third one."""
    if advice.mains_as_centre:
        console.print(Text(clean(advice.mains_as_centre), style="dim"))
        console.print()
    if not advice.excluded:
        return
    if len(advice.excluded) <= OUT_NAMED:
        console.print(Text("Ruled out everywhere", style="bold"))
        for entry in advice.excluded:
            gates = ", ".join(dict.fromkeys(reason.gate for reason in entry.reasons))
            console.print(Padding(Text(f"{clean(entry.speaker)}: {gates}"), (0, 0, 0, 2)))
        console.print("  `triptych explain NAME` says why.\n")
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
