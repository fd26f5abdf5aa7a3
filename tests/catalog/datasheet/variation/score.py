"""How well varied sheets are read, by habit: `python -m tests.catalog.datasheet.variation.score [COUNT [FIRST]]`.

With one number behind `=`, such as `=17`, that sheet is shown with all that isn't right.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from tests.catalog.datasheet import score as scores
from tests.catalog.datasheet.score import Judged
from tests.catalog.datasheet.variation.sheets import Variation, variation
from triptych.catalog.datasheet import Fate, read_datasheet


@dataclass
class Tally:
    """What became of the figures of the sheets that share a habit."""

    sheets: int = 0
    judged: list[Judged] = field(default_factory=list)

    @property
    def read(self) -> float:
        """The share of the stated figures that was read right."""
        stated = [one for one in self.judged if one.stated]
        return sum(one.outcome == "right" for one in stated) / max(len(stated), 1)

    def count(self, outcome: str) -> int:
        """Count the figures of an outcome."""
        return sum(one.outcome == outcome for one in self.judged)


def judged(made: Variation) -> list[Judged]:
    """Return what became of every figure of a varied sheet."""
    truths: list[dict[str, object]] = made.sheet.truth["loudspeaker"]  # type: ignore[assignment]
    read = read_datasheet(made.sheet.text)
    records = [record for record in read.records if record.fields]
    left_out = " ".join(one.text for one in read.numbers if one.fate in (Fate.NOT_READ, Fate.REFUSED))
    pairs, rest = scores.paired(truths, records)
    found = [one for truth, record in pairs for one in scores.judge(truth, record, left_out)]
    return found + [one for record in rest for one in scores.judge({}, record, left_out)]


def by_habit(made: Sequence[Variation]) -> dict[tuple[str, str], Tally]:
    """Return what became of all figures, and of those of each habit."""
    found: dict[tuple[str, str], Tally] = {("all", ""): Tally()}
    for one in made:
        outcomes = judged(one)
        for key in (("all", ""), *one.habits.items()):
            tally = found.setdefault(key, Tally())
            tally.sheets += 1
            tally.judged += outcomes
    return found


def report(found: dict[tuple[str, str], Tally]) -> Iterator[str]:
    """Give a line a habit, the worst of each first."""
    yield f"{'habit':48}{'sheets':>7}{'read':>8}{'silent':>8}{'noted':>7}{'names wrong':>13}"
    for (habit, choice), tally in sorted(found.items(), key=lambda one: (one[0][0] != "all", one[0][0], one[1].read)):
        wrong = sum(tally.count(f"name {way} wrong") for way in ("silently", "noted")) + tally.count("name missing")
        yield (
            f"{f'{habit}: {choice}'[:47]:48}{tally.sheets:7}{100 * tally.read:7.1f}%"
            f"{tally.count('silently wrong'):8}{tally.count('wrong with a note'):7}{wrong:13}"
        )


def main(arguments: Sequence[str]) -> None:
    """Print the score of many varied sheets, or one sheet."""
    if arguments and arguments[0].startswith("="):
        made = variation(int(arguments[0][1:]))
        sys.stdout.write(f"{made.sheet.text}\n\n{made.habits}\n")
        for one in judged(made):
            if one.outcome not in ("right", "name right"):
                sys.stdout.write(f"   {one.outcome}: {one.column} = {one.read!r}, not {one.truth!r}\n")
        return
    count, first = (*map(int, arguments), *(300, 0)[len(arguments) :])
    sys.stdout.write("\n".join(report(by_habit([variation(seed) for seed in range(first, first + count)]))) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
