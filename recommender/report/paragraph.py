"""The answer in one paragraph, and what the ranking rests on, in words for the client."""

from __future__ import annotations

from collections.abc import Iterator

from triptych.recommender.advise.advice import Advice, Standing
from triptych.recommender.advise.picturing import Dossier
from triptych.recommender.drawing.drawn_numbers import angle
from triptych.recommender.report.on_paper import amount, chance, plain, pose, prose, score
from triptych.recommender.report.reasons import MEANS, as_good_words, conditions, deciding, nobody, order_words


def answer(dossier: Dossier) -> str:
    """What to do, in one paragraph."""
    advice = dossier.advice
    if not dossier.shown:
        return " ".join(_without(advice))
    return " ".join(_with(advice, dossier.shown[0].standing, dossier.shown[0].tilt))


def _without(advice: Advice) -> Iterator[str]:
    yield f"No centre of the catalogue passes every gate in {plain(advice.room)}."
    yield from (prose(piece.why) for piece in advice.advice)
    if advice.pending:
        yield f"{len(advice.pending)} could, once a question about each is answered; the questions stand below."


def _with(advice: Advice, first: Standing, tilt: float | None) -> Iterator[str]:
    aimed = ""
    if tilt is not None and abs(tilt) >= 0.05:
        aimed = f", tilted {angle(abs(tilt))} {'up' if tilt > 0 else 'down'}"
    turned = "" if first.pose == "as_designed" else f", {pose(first.pose)}"
    if bad := nobody(advice):
        yield bad
        yield f"It would go here: {plain(first.place)}{turned}{aimed}."
    else:
        yield f"Take the {plain(first.speaker)}: {plain(first.place)}{turned}{aimed}."
    value, reach = score(first)
    yield f"It scores {value} of 100 ({reach}, given what is not known){_chance(first)}."
    if open_points := conditions(first):
        yield f"On condition: {'; '.join(open_points)}."
    if first.price is not None:
        yield f"One costs {amount(first.price, first.currency)}."
    second = advice.ranked[1] if len(advice.ranked) > 1 else None
    yield from _decided(first, second)
    if second is not None:
        yield f"Next comes the {plain(second.speaker)} with {score(second)[0]}."
    shown = advice.ranked[:2]
    yield from (line for line in order_words(advice, shown) if line != bad)
    if equals := as_good_words(advice):
        yield equals
    asked = [question for question in advice.questions if question.points > 0]
    if asked:
        yield f"The answer that would settle most: {prose(asked[0].question)}"


def _decided(first: Standing, second: Standing | None) -> Iterator[str]:
    best, worst = deciding(first, second)
    if best:
        yield f"What decides for it is {_meant(best)}."
    if worst:
        yield f"What {'limits it' if second is None else 'speaks against it'} most is {_meant(worst)}."


def _chance(entry: Standing) -> str:
    if entry.chances is None:
        return ""
    return f", and comes first in {chance(entry.chances.first)} of the draws of what is not known, its conditions too"


def _meant(criterion: str) -> str:
    return f"{criterion} ({MEANS[criterion]})" if criterion in MEANS else criterion


def survival(advice: Advice) -> str:
    """How far the first place survives other weights; empty where nothing would change it."""
    change = advice.survival
    if change is None:
        return ""
    taken = ", ".join(change.taken)
    return (
        f"Under other weights: {change.moved:.0%} of all weight would have to move from {taken} to {change.given_to} "
        f"before {plain(change.rival)} draws level with the first."
    )
