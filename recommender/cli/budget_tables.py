"""A checked budget on a terminal and as CSV: the lines, where the money goes, the rules, and what mends it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Final

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from triptych.catalog.cli.options import console
from triptych.catalog.money import money, to_amount
from triptych.recommender.cli.render import clean
from triptych.recommender.money.budget.budget_lines import BudgetLine
from triptych.recommender.money.budget.check import BudgetVerdict, Check, RoleShare, RuleResult
from triptych.recommender.money.budget.fitting import FitResult
from triptych.recommender.money.budget.mend import Mend, MendOutcome
from triptych.recommender.money.budget.rules import IN_WORDS, Duty

PASSES: Final = {
    BudgetVerdict.PASS: ("passes", "bold green"),
    BudgetVerdict.FAIL: ("fails", "bold red"),
    BudgetVerdict.INCOMPLETE: ("is incomplete", "bold yellow"),
}

BAR_LENGTH: Final = 40
"""How long a bar of the whole is [characters]."""

EIGHTHS: Final = " ▏▎▍▌▋▊▉"

TO_ADD: Final = (
    "no line has money for it; add one with a price, with its item where it costs nothing, or with owned = true"
)

CHECK_HEAD: Final = (
    *("part", "name", "kind", "holds"),
    *("amount", "need", "short", "of_audio_total", "of_speakers_and_sub", "words"),
)


def show_check(checked: Check, mended: Mend) -> None:
    """The whole answer to `budget check`."""
    out, budget = console(), checked.budget
    words, style = PASSES[checked.verdict]
    title = Text(f"By {clean(checked.rule_set.name)} the budget ", style="bold")
    out.print(title.append(words, style=style))
    out.print()
    lines(out, budget.lines, budget.currency)
    totals(out, checked)
    bars(out, checked)
    rules(out, checked)
    _missing(out, checked)
    _mend(out, mended, checked)
    cautions(out, checked.cautions)


def table(*headers: str, right: Sequence[str] = (), fold: str = "") -> Table:
    """An empty table in the manner of this command line; the column `fold` takes what width is left."""
    made = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    for header in headers:
        is_right = header in right
        made.add_column(header, justify="right" if is_right else "left", no_wrap=is_right, overflow="fold",
                        ratio=1 if header == fold else None)  # fmt: skip
    return made


def lines(out: Console, listed: Sequence[BudgetLine], currency: str) -> None:
    """The lines of a budget."""
    made = table("role", "item", "boxes", "takes", right=("boxes", "takes"), fold="item")
    for line in listed:
        takes = "owned" if line.owned else money(line.amount, currency)
        made.add_row(line.role, clean(line.item or "–"), str(line.pieces), takes)
    out.print(made)


def totals(out: Console, checked: Check) -> None:
    """The total beside the limit, and on which basis both are."""
    budget = checked.budget
    basis = "tax included" if budget.tax_included else "before tax"
    told = f"total {money(budget.total, budget.currency)} of {money(budget.limit, budget.currency)}, {basis}"
    # no rule of a set says it: the limit is what the budget itself must keep
    over = f"; {money(checked.over, budget.currency)} over, and the limit is a must" if checked.over else ""
    left = f"; {money(budget.limit - budget.total, budget.currency)} left" if budget.total < budget.limit else ""
    out.print(Text(told + over + left, style="bold red" if over else "bold"))
    out.print()


def bars(out: Console, checked: Check) -> None:
    """Where the money goes, a bar of each role under each denominator."""
    parts = (
        ("audio_total", [(share, share.of_audio_total) for share in checked.shares]),
        ("speakers_and_sub", [(share, share.of_speakers_and_sub) for share in checked.shares]),
    )
    for name, shares in parts:
        shown = [(share, part) for share, part in shares if part is not None]
        if not shown:
            continue
        total = money(checked.denominators[name], checked.budget.currency)
        owned = checked.not_counted[name]
        without = f" (without what is owned: {', '.join(owned)})" if owned else ""
        out.print(Text(f"Of {IN_WORDS[name]}, {total}{without}", style="bold"))
        out.print(_bars(shown, checked.budget.currency))
        out.print()


def _bars(shown: Sequence[tuple[RoleShare, Fraction]], currency: str) -> Table:
    made = Table(box=None, pad_edge=False, show_header=False, padding=(0, 1, 0, 0))
    for column in ("left", "right", "right"):
        made.add_column(justify="right" if column == "right" else "left", no_wrap=True)
    made.add_column(no_wrap=True)
    for share, part in shown:
        made.add_row(share.role, f"{float(part):.1%}", money(share.amount, currency), Text(bar(part), style="cyan"))
    return made


def bar(part: Fraction, length: int = BAR_LENGTH) -> str:
    """A share as a bar, to an eighth of a character.

    >>> bar(Fraction(1, 4), 10)
    '██▌'
    """
    eighths = round(part * length * 8)
    whole, rest = divmod(eighths, 8)
    return "█" * whole + (EIGHTHS[rest] if rest else "")


def rules(out: Console, checked: Check) -> None:
    """The rules, ticked or crossed, with their numbers."""
    made = table("", "rule", "kind", "why", fold="why")
    judged: list[RuleResult | FitResult] = [*checked.results, *checked.fits]
    for result in judged:
        made.add_row(_mark(result), clean(result.rule.name), result.rule.kind.value, clean(result.why))
    out.print(Text("Rules", style="bold"))
    out.print(made)
    out.print()


def _mark(result: RuleResult | FitResult) -> Text:
    if isinstance(result, RuleResult) and not result.judged:
        return Text("–", style="dim")
    if result.holds:
        return Text("✓", style="green")
    return Text("✗", style="red" if result.rule.kind is Duty.MUST else "yellow")


def _missing(out: Console, checked: Check) -> None:
    if checked.missing:
        out.print(Text(f"Missing: {', '.join(checked.missing)}: {TO_ADD}", style="yellow"))
    if checked.advised:
        out.print(Text(f"Missing, worth a line too: {', '.join(checked.advised)}"))
    if checked.missing or checked.advised:
        out.print()


def _mend(out: Console, mended: Mend, checked: Check) -> None:
    missing, misfit = checked.missing, any(not one.holds for one in checked.fits)
    if mended.outcome is MendOutcome.NOTHING_TO_MEND and not (mended.stays or misfit):
        return
    out.print(Text("The change that mends it" if mended.changes else "Mending it", style="bold"))
    for change in mended.changes:
        out.print(Padding(Text(clean(change.words)), (0, 0, 0, 2)))
    proven = "; nothing that takes less of what comes first does" if mended.proven else ""
    out.print(Padding(Text(f"{mended.words}{proven}", style="dim" if mended.changes else ""), (0, 0, 0, 2)))
    for product in mended.products:
        out.print(Padding(Text(clean(f"for instance {product.words}")), (0, 0, 0, 2)))
    if missing:
        told = f"the list stays incomplete: no line has money for {', '.join(missing)}, and what that costs isn't in it"
        out.print(Padding(Text(told, style="yellow"), (0, 0, 0, 2)))
    out.print()


def cautions(out: Console, told: Sequence[str]) -> None:
    """What had to be supposed."""
    if told:
        out.print(Text("Cautions", style="bold"))
    for caution in told:
        out.print(Padding(Text(clean(caution)), (0, 0, 0, 2)))


def check_rows(checked: Check, mended: Mend) -> list[list[str]]:
    """A check as rows of text, the heading first; `part` says what each row is."""
    budget = checked.budget
    amount = _amounts(budget.currency)
    verdict = ["verdict", checked.verdict.value, "", "", amount(budget.total), amount(budget.limit)]
    found = [[*verdict, amount(checked.over), "", "", checked.rule_set.name]]
    for line in budget.lines:
        found.append(["line", line.role, "owned" if line.owned else "", "", amount(line.amount), "", "", "", "",
                      line.item or ""])  # fmt: skip
    for share in checked.shares:
        parts = [_part(share.of_audio_total), _part(share.of_speakers_and_sub)]
        found.append(["share", share.role, "", "", amount(share.amount), "", "", *parts, ""])
    for result in checked.results:
        rule = [result.rule.name, result.rule.kind.value, "yes" if result.holds else "no"]
        sums = [amount(value) for value in (result.has, result.wanted, result.lacks)]
        found.append(["rule", *rule, *sums, "", "", result.why])
    for one in checked.fits:
        found.append(["rule", one.rule.name, one.rule.kind.value, "yes" if one.holds else "no", *[""] * 5, one.why])
    found += [["missing", role, "must", *[""] * 7] for role in checked.missing]
    found += [["missing", role, "should", *[""] * 7] for role in checked.advised]
    for change in mended.changes:
        found.append(["mend", "", "", "", amount(change.by), "", "", "", "", change.words])
    return [list(CHECK_HEAD), *found]


def _amounts(currency: str) -> Callable[[int | Fraction], str]:
    return lambda minor: f"{to_amount(minor, currency):f}"


def _part(part: Fraction | None) -> str:
    return "" if part is None else f"{float(part):.6f}"
