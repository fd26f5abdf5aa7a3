"""Why a centre stands where it does, in words for people: for it, against it, what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log
from typing import Final

from triptych.recommender.advise.advice import Advice, CriterionAnswer, GateAnswer, Standing
from triptych.recommender.advise.beside import TOLD
from triptych.recommender.judge.gates.fit import PLUG
from triptych.recommender.judge.gates.pointing import STEEP
from triptych.recommender.report.on_paper import chance, plain, pose, prose, signed

SILENT: Final = 0.005
"""A difference under that share of a score decides nothing, and isn't told [1]."""

REASONS_TOLD: Final = 3
"""So many of each are told."""

LIMITING: Final = 0.02
"""What takes less of the score of one that is alone doesn't limit it [1]."""

LIMITS_TOLD: Final = 2
"""So many limits of one that is alone are told."""

DECIDED: Final = 0.6
"""A first that is truly first so often is ahead of the others [1]. Our own figure."""

TOLD_AS_EQUAL: Final = 0.6
"""Scores less than that apart change places with a millimetre or a tenth of a decibel [points]."""

TOLD_AS_NEAR: Final = 2.0
"""Scores less than that apart may be as good as each other [points]. Our own figure."""

NEARLY: Final = 0.5
"""What comes first so many times as often as the first may be as good [1]. Our own figure."""

SHOWN_EQUALS: Final = 4
"""Among so many of the ranked those are looked for that are as good as the first."""

MEANS: Final = {
    "timbre": "how alike centre and mains sound",
    "coverage": "what the worst seat loses",
    "headroom": "how much louder than asked it can play",
    "aim": "whether voices come from the picture",
    "surroundings": "what the furniture does to it",
    "balance": "whether the money is in the right place",
    "reach": "how deep it plays before the subwoofer takes over",
}
"""What each criterion says, for people who don't know its name."""


def rival(advice: Advice, entry: Standing) -> Standing | None:
    """Whom a ranked centre is told against: the runner-up for the first, the first for the others; None if alone."""
    others = [one for one in advice.ranked[:2] if one.speaker != entry.speaker]
    return others[0] if others else None


def as_good(advice: Advice) -> tuple[Standing, ...]:
    """Those that are as good as the first of an answer for all that is known."""
    return equals(advice.ranked[:SHOWN_EQUALS])


def equals(leading: Sequence[Standing]) -> tuple[Standing, ...]:
    """Those that are as good as the first for all that is known: near in score, and first nearly as often.

    So is what scores the same but for what a millimetre or a tenth of a decibel may move.
    """
    chances = leading[0].chances if leading else None
    if chances is None:
        return ()
    first, often = leading[0], chances.first * NEARLY
    near = [one for one in leading[1:] if first.score - one.score < TOLD_AS_NEAR and one.last == first.last]
    open_still = chances.first < DECIDED
    return tuple(
        one
        for one in near
        if first.score - one.score < TOLD_AS_EQUAL
        or (open_still and one.chances is not None and one.chances.first >= often)
    )


def as_good_words(advice: Advice) -> str:
    """That others are as good as the first; empty where it is ahead of all."""
    others = as_good(advice)
    chances = [one.chances for one in (advice.ranked[0], *others)] if others else []
    named = " and ".join(plain(one.speaker) for one in others)
    often = ", ".join(chance(one.first) for one in chances if one is not None)
    if not named:
        return ""
    return f"As good as the first, for all that is known: {named} (first in draws of the rest, in this order: {often})."


def differences(entry: Standing, other: Standing | None) -> list[tuple[float, CriterionAnswer]]:
    """Each criterion with its part of the logarithm of the ratio of both scores, the largest first.

    One that is alone is told against a perfect one.
    """
    total = sum(one.weight for one in entry.criteria)
    theirs = [one.utility for one in other.criteria] if other else [1.0] * len(entry.criteria)
    pairs = zip(entry.criteria, theirs, strict=True)
    parts = [(one.weight / total * log(one.utility / utility), one) for one, utility in pairs]
    return sorted(((part, one) for part, one in parts if abs(part) >= SILENT), key=lambda pair: -abs(pair[0]))


def order_words(advice: Advice, shown: Sequence[Standing]) -> list[str]:
    """Why some of those shown stand where their scores alone wouldn't put them, or come first more often; a line each.

    First that the first is none to buy, where it is none.
    """
    told = [nobody(advice)] if nobody(advice) else []
    for ahead, behind in pairwise(shown):
        if behind.last and not ahead.last:
            told.append(f"From {behind.rank} on, {LOST_SPEECH}: these come after all others, whatever they score.")
        elif round(behind.score, TOLD) > round(ahead.score, TOLD) and behind.last == ahead.last:
            told.append(
                f"{behind.rank} comes after {ahead.rank}, which scores nearly as much: as likely as not one of its "
                "conditions rules it out."
            )
    return [*told, *_more_often(shown)]


LOST_SPEECH: Final = "speech is hollow or lost at a regular seat, or may be"
"""What puts those that are ranked after all others."""


def nobody(advice: Advice) -> str:
    """That even the first isn't to be bought for this room, and why; empty where it may be."""
    first = advice.ranked[0] if advice.ranked else None
    if first is None or not first.hopeless:
        return ""
    alone = "The only one that fits" if len(advice.ranked) == 1 else "Even the first of those that fit"
    return f"{alone}, {plain(first.speaker)}, is none to buy for this room: {prose(first.hopeless)}."


def _more_often(shown: Sequence[Standing]) -> Iterator[str]:
    """That another of those shown comes first more often than the first, and why that is no contradiction."""
    if not shown or shown[0].chances is None:
        return
    first, theirs = shown[0], shown[0].chances
    others = [one for one in shown[1:] if one.chances and one.chances.first > theirs.first + MORE_OFTEN]
    if not others:
        return
    other = max(others, key=lambda one: one.chances.first if one.chances else 0.0)
    if other.chances is None:
        return
    rates = f"{chance(theirs.first)} against {chance(other.chances.first)}"
    if theirs.stands < other.chances.stands - MORE_OFTEN:
        yield (
            f"{plain(first.speaker)} scores most where its conditions are met, and in {chance(1 - theirs.stands)} of "
            f"the draws something rules it out; so {plain(other.speaker)} comes first more often ({rates}). Settle "
            "what is asked of the first before you choose."
        )
    else:
        yield (
            f"{plain(other.speaker)} comes first more often than {plain(first.speaker)} ({rates}), as more of what "
            "isn’t known may go against the first; with what is likely for each, the first scores more."
        )


MORE_OFTEN: Final = 0.05
"""A chance of coming first that is so much larger than the first one's is told [1]. Our own figure."""


@dataclass(frozen=True, slots=True)
class Precedence:
    """What puts one before another whatever the criteria say: a word for it, and what is said for and against."""

    matter: str
    ahead: str
    behind: str


def precedence(ahead: Standing, behind: Standing) -> Precedence | None:
    """What but its score puts one before another; None where the score decides."""
    if behind.dead_seat and not ahead.last:
        why = prose(next(gate.why for gate in behind.gates if gate.gate == "seats"))
        return Precedence(
            "seats",
            f"seats: speech is whole, or nearly, at each regular seat; of the next it is not, or may not be ({why})",
            f"seats: {why}, so it comes after all whose speech is whole",
        )
    if round(behind.score, TOLD) > round(ahead.score, TOLD):
        open_points = "; ".join(conditions(behind))
        return Precedence(
            "conditions",
            "conditions: the next scores little more, and is as likely as not ruled out by one of its own",
            f"conditions: as likely as not one rules it out ({open_points}), so it comes after its near equals",
        )
    if round(ahead.score, TOLD) != round(behind.score, TOLD):
        return None
    if behind.conditional and not ahead.conditional:
        return Precedence(
            "conditions",
            "conditions: scores the same as the next, and has none",
            "conditions: scores the same as the first, which has none",
        )
    if ahead.price is not None and behind.price is not None and ahead.price < behind.price:
        return Precedence(
            "price",
            "price: scores the same as the next, and costs less",
            "price: scores the same as the first, and costs more",
        )
    return None


def strengths(entry: Standing, other: Standing | None) -> list[str]:
    """What decides for it against another one, most first; what is equal in both is no reason."""
    if other is None:
        return []
    told = [criterion_words(one) for part, one in differences(entry, other) if part > 0]
    before = precedence(entry, other) if entry.rank < other.rank else None
    return [*([before.ahead] if before else []), *told][:REASONS_TOLD]


def weaknesses(entry: Standing, other: Standing | None) -> list[str]:
    """What decides against it beside another one, most first, then what its gates make a condition of.

    Of one that is alone its conditions only: figures that are as they are speak against nobody.
    """
    if other is None:
        return conditions(entry, plugs=False)
    told = [criterion_words(one) for part, one in differences(entry, other) if part < 0]
    before = precedence(other, entry) if other.rank < entry.rank else None
    first = [before.behind] if before else []
    return [*first, *told][:REASONS_TOLD] + conditions(entry, before.behind if before else "", plugs=False)


def limits(entry: Standing, other: Standing | None) -> list[str]:
    """What takes most of the score of one that is alone; nothing where there is another to tell it against."""
    if other is not None:
        return []
    return [criterion_words(one) for part, one in differences(entry, None) if part <= -LIMITING][:LIMITS_TOLD]


def sides(advice: Advice, entry: Standing) -> list[tuple[str, list[str]]]:
    """What is said of a ranked centre, each under its heading, in the order in which it is told; none is empty."""
    other = rival(advice, entry)
    told = [("For it", strengths(entry, other)), ("Against it", weaknesses(entry, other))]
    if other is None:
        told = [("What limits it most", limits(entry, other)), ("On condition", weaknesses(entry, other))]
    return [(heading, lines) for heading, lines in (told if entry.rank == 1 else reversed(told)) if lines]


def deciding(entry: Standing, other: Standing | None) -> tuple[str | None, str | None]:
    """What decides most for it, and what most against it or, where it is alone, limits it most: names of criteria."""
    parts = [(part, one.criterion) for part, one in differences(entry, other)]
    before = precedence(entry, other) if other else None
    best = before.matter if before else next((name for part, name in parts if part > 0), None)
    return best, next((name for part, name in parts if part < 0 and (other or part <= -LIMITING)), None)


def conditions(entry: Standing, said: str = "", *, plugs: bool = True) -> list[str]:
    """What its gates make a condition of, or ask, but for what was said of them.

    Not `plugs`: that the bung is fitted stands among what is to be done.
    """
    told = []
    for gate in entry.gates:
        if gate.verdict not in ("conditional", "unknown") or (is_plug(gate) and not plugs):
            continue
        why, question = f"{gate.gate}: {prose(gate.why)}", prose(gate.question) if gate.question else ""
        if why not in said:
            told.append(f"{why}. {question}" if question else why)
        elif question and question not in said:
            told.append(f"{gate.gate}: {question}")
    return told


def criterion_words(one: CriterionAnswer) -> str:
    """A criterion with what it means and its numbers."""
    meaning = MEANS.get(one.criterion)
    return f"{one.criterion} ({meaning}): {prose(one.why)}" if meaning else f"{one.criterion}: {prose(one.why)}"


def is_plug(gate: GateAnswer) -> bool:
    """Whether a gate asks for no more than the bung that comes with the box, which is told among what is to do."""
    return gate.gate == "port" and gate.verdict == "conditional" and PLUG in gate.why


def steps(entry: Standing) -> list[str]:
    """What to do with it."""
    numbers = entry.quantities
    told = [f"Put it in place: {plain(entry.place)}, {pose(entry.pose)}."]
    if entry.hopeless:
        told = [
            "Don’t buy it for this room as it is.",
            f"If it is there already: {plain(entry.place)}, {pose(entry.pose)}.",
        ]
    if lift := lift_words(entry):
        told.append(f"{lift}.")
    if bung := next((gate.why for gate in entry.gates if is_plug(gate)), ""):
        told.append(f"{bung[0].upper()}{prose(bung[1:])}.")
    told += _better_place(entry)
    settings = []
    if (crossover := numbers["crossover_hz"]) is not None:
        settings.append(f"crossover {crossover:.0f} Hz")
    if (trim := numbers["trim_db"]) is not None:
        settings.append(f"trim {signed(trim, 1, 'dB')} against the mains")
    return told + ([f"Start from {', '.join(settings)}."] if settings else [])


def _better_place(entry: Standing) -> Iterator[str]:
    """Where else it would score as much or more, if an answer lets it: with what is asked."""
    for other in entry.other_places:
        if other.question and other.score is not None and round(other.score, TOLD) >= round(entry.score, TOLD):
            yield (
                f"At {plain(other.place)} it would score {other.score:.0f} (here {entry.score:.0f}), once this is "
                f"answered: {prose(other.question)}"
            )


def lift_words(entry: Standing) -> str:
    """How it is tilted, and what that comes to; empty where it isn't, or where that is not known."""
    tilt, lift = entry.quantities["tilt_used_deg"], entry.quantities["lift_mm"]
    if tilt is None or lift is None or lift < 1:
        return ""
    edge, way = ("front", "up") if tilt > 0 else ("rear", "down")
    left = left_words(entry)
    if entry.place_kind == "wall":
        return f"Tilt it {abs(tilt):.1f}° {way} by its bracket{left}"
    held = ", on a cradle or wedge that it can’t slide off" if abs(tilt) > STEEP else ""
    return f"Raise its {edge} edge {lift:.0f}\u00a0mm: tilted {abs(tilt):.1f}° {way}{held}{left}"


def left_words(entry: Standing) -> str:
    """How far past the ears it still points as it is tilted; empty where it points at them."""
    residual = entry.quantities["residual_deg"] or 0.0
    past = "below" if residual > 0 else "above"
    return f"; it still points {abs(residual):.1f}° {past} the ears, no more fits" if abs(residual) >= 0.05 else ""
