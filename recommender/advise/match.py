"""The main job: two mains and a room in, advice out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from catalog import queries
from catalog.errors import BadInput, NotFound
from catalog.records import RoomRecord
from catalog.store import Profile as StoredProfile
from recommender.advise import gather
from recommender.advise.account import Account
from recommender.advise.advice import Advice, Built, Standing
from recommender.advise.cautions import cautions
from recommender.advise.counsel import counsel
from recommender.advise.evaluate import Option, Outcome, Scene, options, outcome
from recommender.advise.gather import Columns
from recommender.advise.settle import certainty_of
from recommender.advise.voices import VoiceBook, relations
from recommender.aiming import SIDE_CLEARANCE, rear_allowance, stood_height
from recommender.criteria.table import DEFAULT_WEIGHTS
from recommender.gates.terms import comparable_price
from recommender.scene import FloatArray, IndexArray, Site

CLEAR_BEHIND: Final = 0.2
"""Free depth behind a box on a clear stand [m]. Common practice, no source."""

FREE_STAND: Final = Site(
    name="clear stand", kind="stand", width=np.nan, height=np.nan, depth=np.nan, base=0.0, front=np.nan, back="open",
    load=np.nan, hot="no", wall="", gap=np.nan, setback=0.0,
)  # fmt: skip

Fresh = list[StoredProfile]
"""Acoustic profiles that were computed just now and belong into the catalogue."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked: a centre for which mains, in which room, for how much, from stock or not."""

    mains: str
    room: RoomRecord
    budget: float | None = None
    role: str = "centre"
    in_stock: bool = False
    weights: Mapping[str, float] | None = None


def match(session: Session, question: Question) -> tuple[Advice, Fresh]:
    """Rank every candidate centre of the catalogue for a question.

    Returns the advice, detached from the session, and the acoustic profiles that had to be computed for it: the caller
    stores them, so that the next question only reads them.

    Raises
    ------
    NotFound
        The catalogue has no such mains; the nearest names are told.
    """
    account, fresh = ask(session, question)
    return advise(account, question), fresh


def explain(session: Session, question: Question, centre: str, place: str | None = None) -> tuple[Advice, Fresh]:
    """Account for one centre at every place, or at one, whether it passes there or not.

    Raises
    ------
    NotFound
        The catalogue has no such mains or centre, or the room no such place; the nearest names are told.
    """
    narrowed = only_place(question, place) if place else question
    account, fresh = ask(session, narrowed, [centre])
    found = account.found
    everywhere = [number for number, option in enumerate(found) if len(option.index)]
    standings = account.stood([0] * len(everywhere), everywhere)
    by_merit = sorted(standings, key=lambda standing: (_MERIT[standing.verdict], -standing.score))
    ranked = [replace(standing, rank=rank) for rank, standing in enumerate(by_merit, start=1)]
    answer = advise(account, narrowed)
    shown: Built[Standing] = Built(len(ranked), lambda part: [ranked[rank] for rank in part])
    return replace(answer, ranked=shown), fresh


_MERIT = {"pass": 0, "conditional": 0, "unknown": 1, "fail": 2}


def only_place(question: Question, name: str) -> Question:
    """The same question with one place of its room.

    Raises
    ------
    NotFound
        The room has no such place.
    """
    room = question.room
    places = tuple(place for place in room.places if place.name.casefold() == name.casefold())
    if not places:
        known = ", ".join(repr(place.name) for place in room.places)
        raise NotFound(f"{room.name} has no place named {name!r}; it has {known}")
    return replace(question, room=replace(room, places=places))


def ask(session: Session, question: Question, only: Sequence[str] | None = None) -> tuple[Account, Fresh]:
    """Everything that is found out about a question, for all candidates or for `only` those named."""
    if not question.room.places:
        raise BadInput(f"{question.room.name} has no place for a centre: add at least one [[place]]")
    wanted = [queries.stored(session, name).id for name in (question.mains, *(only or ()))]
    columns = queries.candidate_columns(session, also=wanted)
    mains_row = columns["id"].index(wanted[0])
    rows = gather.candidate_index(columns, mains_row, question.role)
    if only is not None:
        rows = np.array([columns["id"].index(number) for number in wanted[1:]], dtype=np.intp)
    scene, fresh = _scene(session, question, columns, rows, mains_row)
    found = options(scene, keep_failed=only is not None)
    result = outcome(found, len(rows))
    return Account(scene, columns, rows, found, result, certainty_of(scene, found, result)), fresh


def _scene(
    session: Session, question: Question, columns: Columns, rows: IndexArray, mains_row: int
) -> tuple[Scene, Fresh]:
    """The arrays of a question about the candidates in `rows` of the catalogue."""
    room = question.room
    currencies = gather.Currencies.of(columns, room.money.currency if room.money else None)
    own = gather.boxes(columns, currencies)
    relation = relations(columns, mains_row)
    book = VoiceBook(session, columns, relation)
    purse = gather.purse(room, currencies, question.budget)
    main = np.array([mains_row])
    scene = Scene(
        boxes=own.take(rows),
        relation=relation[rows],
        voices_of=lambda places: book.of(rows[places]),
        sealed=gather.sealed(columns)[rows],
        mains=gather.mains(columns, mains_row, own, room),
        mains_voice=book.of(main),
        main_price=float(comparable_price(own.take(main), purse)[0]),
        seats=gather.seats(room),
        sites=tuple(gather.sites(room)),
        picture=gather.picture(room),
        drive=gather.drive(room),
        purse=purse,
        in_stock=question.in_stock,
        weights=question.weights or DEFAULT_WEIGHTS,
    )
    return scene, book.fresh


def advise(account: Account, question: Question) -> Advice:
    """The advice of an account; its parts are built when they are looked at."""
    scene, result = account.scene, account.result
    room = question.room
    told = counsel(
        scene,
        account.found,
        result,
        account.name,
        room.listening.needs_real_centre,
        lambda candidates: _on_clear_stand(scene, candidates),
    )
    weights = scene.boxes.weight[result.ranked]
    heaviest = float(np.nanmax(weights)) if np.isfinite(weights).any() else np.nan
    return Advice(
        mains=scene.mains.name,
        mains_evidence="modelled",
        room=room.name,
        ranked=Built(len(result.ranked), account.standings),
        pending=Built(len(result.pending), account.waiting),
        excluded=Built(len(result.excluded), account.ruled_out),
        advice=told,
        cautions=cautions(scene.sites, scene.drive, heaviest),
        questions=account.questions(),
        survival=account.survival(),
    )


def _on_clear_stand(scene: Scene, candidates: IndexArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Scores of candidates each on a clear stand, its top at the lower edge of the picture, and the room they take."""
    boxes = scene.boxes.take(candidates)
    # a box that tilts by up to 15 deg takes about a quarter of its depth more in height
    heights = stood_height(boxes) + 0.26 * boxes.depth
    limit = scene.picture.bottom if np.isfinite(scene.picture.bottom) else np.inf
    ear = float(scene.seats.ear_height[scene.seats.primary])
    bases = np.maximum(0.0, np.fmin(limit - heights, ear - boxes.height / 2))
    fronts = [site.front for site in scene.sites if np.isfinite(site.front)]
    scores = np.full(len(candidates), np.nan)
    for place, candidate in enumerate(candidates):
        front = max([*fronts, float(boxes.depth[place]) + CLEAR_BEHIND])
        stand = replace(FREE_STAND, base=float(bases[place]), front=front)
        best = outcome(options(_cut(scene, candidate, stand)), 1)
        if len(best.ranked):
            scores[place] = best.best_score[0]
    return scores, boxes.width + 2 * SIDE_CLEARANCE, heights, boxes.depth + rear_allowance(boxes)


def _cut(scene: Scene, candidate: int, site: Site) -> Scene:
    """The scene with one candidate and one place."""
    one = np.array([candidate])
    return replace(
        scene,
        boxes=scene.boxes.take(one),
        relation=scene.relation[one],
        voices_of=lambda rows: scene.voices_of(one[rows]),
        sealed=scene.sealed[one],
        sites=(site,),
    )


__all__ = ["Account", "Option", "Outcome", "Question", "ask", "explain", "match"]
