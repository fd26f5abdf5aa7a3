"""A plan on a terminal and as CSV: the best system, how it is proven, what else there is, what more money buys."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from triptych.catalog.answers import Answers
from triptych.catalog.cli.options import console
from triptych.catalog.money import money, to_amount
from triptych.recommender.advise.planning.offers import LeftOut
from triptych.recommender.advise.planning.plan_answer import (
    SEAT_LOST,
    NextMoney,
    Pick,
    PlanAnswer,
    PlanOtherwise,
    RoleOtherwise,
    WholeSystem,
)
from triptych.recommender.advise.planning.told import takes_of, told_points
from triptych.recommender.cli.budget_tables import TO_ADD, bars, cautions, lines, rules, table
from triptych.recommender.cli.render import IN_POSE, clean
from triptych.recommender.money.budget.rules import in_sentences

PLAN_HEAD = ("rank", "value", "total", "loses", "role", "speaker", "quantity", "cost", "worth", "place", "score")


def show_plan(answer: PlanAnswer) -> None:
    """The whole answer to `budget plan`."""
    out = console()
    where = f" for {clean(answer.room)}" if answer.room else ""
    basis = "tax included" if answer.tax_included else "before tax"
    limit = money(answer.limit, answer.currency)
    out.print(Text(f"A whole system{where} within {limit}, {basis}, by {clean(answer.rule_set)}", style="bold"))
    for words in answer.lacks:
        out.print(Text(clean(words), style="bold yellow"))
    proven = "green" if answer.outcome == "optimal" else "yellow" if answer.systems else "red"
    out.print(Text(answer.statement, style=proven))
    out.print()
    if answer.systems:
        _best(out, answer, answer.systems[0])
        _others(out, answer)
        _cheaper(out, answer)
        _next_money(out, answer.next_money, answer.currency)
        _less_money(out, answer)
        _order(out, answer)
    _otherwise(out, answer)
    _ways_out(out, answer)
    _left_out(out, answer)
    _told(out, "Not judged", answer.not_judged)
    cautions(out, answer.cautions)


def _best(out: Console, answer: PlanAnswer, best: WholeSystem) -> None:
    made = table("role", "loudspeaker", "boxes", "takes", "worth", "place", right=("boxes", "takes", "worth"),
                 fold="loudspeaker")  # fmt: skip
    for pick in best.picks:
        takes = takes_of(pick, best) or money(pick.cost, answer.currency)
        worth = f"{pick.worth:.1f} of {pick.most:.0f}"
        place = clean(pick.place) + IN_POSE.get(pick.pose, "") + (f"; {SEAT_LOST}" if pick.seat_lost else "")
        made.add_row(pick.role, clean(pick.speaker), str(pick.pieces), takes, worth, place)
    out.print(made)
    _equipment(out, best, answer.currency)
    standing = best.check.budget.lines[len([pick for pick in best.picks if not pick.fixed]) + len(best.equipment) :]
    if standing:
        out.print()
        out.print(Text("beside these lines", style="dim"))
        lines(out, standing, answer.currency)
    words = "worth: what each does in its role, told below, of the points that its role counts in [weights]"
    out.print(Padding(Text(words, style="dim"), (0, 0, 0, 2)))
    total, left = (money(value, answer.currency) for value in (best.total, best.left))
    out.print(Text(f"total {total}, {left} left; worth {best.value:.1f} of {sum(answer.weights.values()):.0f}",
                   style="bold"))  # fmt: skip
    out.print()
    for pick in best.picks:
        _why(out, pick)
    if answer.unlike_match:
        out.print(Padding(Text(clean(answer.unlike_match), style="yellow"), (0, 0, 0, 2)))
    out.print()
    bars(out, best.check)
    rules(out, best.check)
    if best.check.missing:
        out.print(Text(f"Still missing: {', '.join(best.check.missing)}: {TO_ADD}", style="yellow"))
        out.print()


def _equipment(out: Console, best: WholeSystem, currency: str) -> None:
    """What is chosen to fit the loudspeakers."""
    if not best.equipment:
        return
    out.print()
    made = table("role", "equipment", "for", "takes", right=("takes",), fold="equipment")
    for piece in best.equipment:
        made.add_row(piece.role, clean(piece.named), piece.serves or "all", money(piece.cost, currency))
    out.print(made)


def _why(out: Console, pick: Pick) -> None:
    score = "" if pick.score is None else f"score {pick.score:.0f} beside these mains; "
    out.print(Padding(Text.assemble((f"{pick.role}: ", "bold"), score + "; ".join(pick.why)), (0, 0, 0, 2)))


def _others(out: Console, answer: PlanAnswer) -> None:
    if len(answer.systems) < 2:
        return
    out.print(Text("The next best", style="bold"))
    made = table("", "total", "against the best", "loses", "what is different", fold="what is different",
                 right=("", "total", "against the best", "loses"))  # fmt: skip
    for one in answer.systems[1:]:
        more = f"{to_amount(one.costs_more, answer.currency):+f} {answer.currency}"
        instead = clean("; ".join(one.instead))
        made.add_row(str(one.rank), money(one.total, answer.currency), more, told_points(one.loses), instead)
    out.print(made)
    out.print()


def _next_money(out: Console, more: NextMoney | None, currency: str) -> None:
    if more is None:
        return
    out.print(Text(f"A tenth more, {money(more.limit, currency)}", style="bold"))
    if not more.exchanges:
        words = "would buy nothing better" if more.proven else "bought nothing better in the time there was"
        out.print(Padding(Text(words), (0, 0, 0, 2)))
    else:
        told = f"would be worth {told_points(more.gain)} more and takes {money(more.costs, currency)} more"
        out.print(Padding(Text(told), (0, 0, 0, 2)))
    for one in more.exchanges:
        out.print(Padding(Text(clean(one.words)), (0, 0, 0, 2)))
    out.print()


def _cheaper(out: Console, answer: PlanAnswer) -> None:
    """The cheapest system that nobody could tell from the best."""
    if (one := answer.cheaper) is None:
        return
    less = money(-one.costs_more, answer.currency)
    of = sum(answer.weights.values())
    out.print(
        Text(
            f"{less} less for {told_points(one.loses)} of {of:.0f}, total {money(one.total, answer.currency)}",
            style="bold",
        )
    )
    out.print(Padding(Text(f"up to {answer.indifference:g} is taken for a difference that nobody hears"), (0, 0, 0, 2)))
    for words in one.instead:
        out.print(Padding(Text(clean(words)), (0, 0, 0, 2)))
    out.print()


def _less_money(out: Console, answer: PlanAnswer) -> None:
    """What a tenth less would lose."""
    less = answer.less_money
    if less is None:
        out.print(Text("A tenth less: no system was found within it", style="bold"))
        out.print()
        return
    out.print(Text(f"A tenth less, {money(less.limit, answer.currency)}", style="bold"))
    if not less.exchanges:
        out.print(Padding(Text("would lose nothing: the best costs no more than that"), (0, 0, 0, 2)))
    else:
        told = f"would lose {told_points(-less.gain)} and spare {money(-less.costs, answer.currency)}"
        out.print(Padding(Text(told), (0, 0, 0, 2)))
    for one in less.exchanges:
        out.print(Padding(Text(clean(one.words)), (0, 0, 0, 2)))
    out.print()


def _order(out: Console, answer: PlanAnswer) -> None:
    out.print(Text("In this order, if money comes in steps", style="bold"))
    stepped = any(one.step is not None for one in answer.order)
    made = table("", "role", "buy", "takes", "together", *(["step"] if stepped else []), "plays", fold="buy",
                 right=("", "takes", "together", "step", "plays"))  # fmt: skip
    for at, one in enumerate(answer.order, start=1):
        sums = (money(one.cost, answer.currency), money(one.together, answer.currency))
        step = ["later" if one.step is None else str(one.step)] if stepped else []
        made.add_row(str(at), one.role, clean(one.item), *sums, *step, one.plays or "–")
    out.print(made)
    out.print()


def _otherwise(out: Console, answer: PlanAnswer) -> None:
    """What would have been chosen if all could be ordered, beside the best from stock."""
    if (other := answer.otherwise) is None:
        return
    out.print(Text("If it could be ordered", style="bold"))
    out.print(Padding(Text(_compared(other, answer)), (0, 0, 0, 2)))
    for one in other.roles:
        out.print(Padding(Text.assemble((f"{one.pick.role}: ", "bold"), _ordered(one)), (0, 0, 0, 2)))
    if len(other.roles) > 1:
        whole = f"all of it to be had on {other.when}" if other.when else "when all of it could be had is not known"
        out.print(Padding(Text(whole), (0, 0, 0, 2)))
    out.print(Text(other.statement, style="dim"))
    out.print()


def _compared(other: PlanOtherwise, answer: PlanAnswer) -> str:
    total = f"total {money(other.total, answer.currency)}"
    worth = f"worth {other.value:.1f} of {sum(answer.weights.values()):.0f}"
    if answer.systems:
        best = answer.systems[0]
        total += f" instead of {money(best.total, answer.currency)}"
        worth = f"worth {other.value:.1f} instead of {best.value:.1f}"
    rules = in_sentences(answer.systems[0].check.rule_set) if answer.systems else {}
    kept = f"; it keeps {', '.join(rules.get(name, name) for name in other.keeps)}" if other.keeps else ""
    return f"{worth}, {total}{kept}"


def _ordered(one: RoleOtherwise) -> str:
    instead = f" instead of {clean(one.instead_of)}" if one.instead_of else ""
    if not one.missing:
        had = "in stock"
    elif one.when is None:
        had = f"{one.missing} missing: {clean(one.why)}"
    else:
        had = f"{one.missing} missing, to be had on {one.when} ({clean(one.why)})"
    lost = f" ({SEAT_LOST})" if one.pick.seat_lost else ""
    return f"{clean(one.pick.named)}{lost}{instead}; {had}"


def _ways_out(out: Console, answer: PlanAnswer) -> None:
    if answer.outcome != "impossible":
        return
    empty = all(one.obstacle == "role" for one in answer.ways_out)
    title = "What stands in the way" if empty else "Any one of these would make it possible"
    out.print(Text(title, style="bold"))
    for one in answer.ways_out:
        out.print(Padding(Text(clean(one.words)), (0, 0, 0, 2)))
    if not answer.ways_out:
        out.print(Padding(Text("nothing that was found by itself: see what was left out"), (0, 0, 0, 2)))
    out.print()


def _left_out(out: Console, answer: PlanAnswer) -> None:
    if not answer.left_out:
        return
    out.print(Text("Left out", style="bold"))
    made = table("role", "how many", "why, and which", right=("how many",), fold="why, and which")
    for (role, why), names in _by_reason(answer.left_out).items():
        more = f" and {len(names) - NAMED_A_REASON} more" if len(names) > NAMED_A_REASON else ""
        which = f"{', '.join(names[:NAMED_A_REASON])}{more}"
        made.add_row(role, str(len(names)), clean(f"{why} ({which})" if why.endswith("?") else f"{why}: {which}"))
    out.print(made)
    if any(len(names) > NAMED_A_REASON for names in _by_reason(answer.left_out).values()):
        out.print(Text("all names are in --format json", style="dim"))
    out.print()


NAMED_A_REASON: Final = 3
"""So many of those that are left out for one reason are named."""


def _by_reason(left_out: Sequence[LeftOut]) -> dict[tuple[str, str], list[str]]:
    """Who is left out of a role, by reason; those that no place takes together, each with its gates."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in left_out:
        why, _, gates = one.reason.partition(" (gates: ")
        names = found.setdefault((one.role, why), [])
        names += [f"{name} ({gates}" if gates else name for name in one.speakers]
    return found


def _told(out: Console, title: str, words: tuple[str, ...]) -> None:
    if words:
        out.print(Text(title, style="bold"))
    for line in words:
        out.print(Padding(Text(clean(line)), (0, 0, 0, 2)))
    if words:
        out.print()


def plan_rows(answer: PlanAnswer) -> Iterator[list[str]]:
    """The systems as rows of text, a role or a piece of equipment a row, the heading first."""
    head, *rows = Answers().rows(answer.systems, PLAN_HEAD, "roles", answer.currency)
    yield head
    for one in answer.systems:
        mine = [row for row in rows if row[0] == str(one.rank)]
        yield from mine
        for piece in one.equipment:
            cost = f"{to_amount(piece.cost, answer.currency):f}"
            yield [*mine[0][: PLAN_HEAD.index("role")], piece.role, piece.item, str(piece.quantity), cost, "", "", ""]
