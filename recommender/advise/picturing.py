"""From a question to what is drawn and handed over: the numbers of each drawing, taken from the answer's own arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.errors import Refused
from triptych.catalog.records import LoudspeakerRecord, RoomRecord
from triptych.recommender.advise.account import Account
from triptych.recommender.advise.advice import Advice, Standing, known
from triptych.recommender.advise.cautions import cautions
from triptych.recommender.advise.match import Question, advise, ask
from triptych.recommender.advise.stand import Clearance, Distances, Pictures, Stand
from triptych.recommender.advise.voices import Fresh
from triptych.recommender.scene.arrays import PlaceFigures

NOT_OF_THE_PLACE: Final = frozenset({"money", "supply", "level", "trim"})
"""Gates that keep nobody from putting the box there."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One centre with its pictures, and what an installer needs of its place and box."""

    standing: Standing
    record: LoudspeakerRecord
    pictures: Pictures
    place: PlaceFigures
    baffle: float | None
    tilt: float | None
    axis: float | None
    clearance: Clearance
    distances: Distances
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Dossier:
    """The whole answer with pictures of the first few, and the records that it rests on."""

    advice: Advice
    room: RoomRecord
    mains: LoudspeakerRecord
    shown: tuple[Shown, ...]


def dossier(session: Session, question: Question, top: int) -> tuple[Dossier, Fresh]:
    """Rank every candidate, and draw the first `top` of the ranking.

    Raises
    ------
    NotFound
        The catalogue has no such mains; the nearest names are told.
    """
    account = ask(session, question)
    answer = advise(account, question)
    ranked = account.result.ranked[:top].tolist()
    chosen = [int(account.result.best[candidate]) for candidate in ranked]
    standings = account.stood(ranked, chosen)
    shown = list(zip(ranked, chosen, standings, strict=True))
    return _dossier(session, account, question, answer, shown), account.book.fresh


def fitting(session: Session, question: Question, centre: str, place: str | None = None) -> tuple[Dossier, Fresh]:
    """Place one centre where it does best, or at one place, and draw it there.

    Raises
    ------
    NotFound
        The catalogue has no such mains or centre, or the room no such place; the nearest names are told.
    """
    account = ask(session, question, [centre])
    everywhere = account.options_at(place)
    standings = account.stood([0] * len(everywhere), everywhere)
    best = min(range(len(everywhere)), key=lambda one: standings[one].merit())
    standing = replace(standings[best], rank=1)
    answer = advise(account, question, place, alone=True)
    return _dossier(session, account, question, answer, [(0, everywhere[best], standing)]), account.book.fresh


def _dossier(
    session: Session, account: Account, question: Question, answer: Advice, chosen: Sequence[tuple[int, int, Standing]]
) -> Dossier:
    mains = reads.loudspeaker(session, account.mains)
    return Dossier(
        replace(answer, ranked=tuple(answer.ranked)) if len(answer.ranked) <= len(chosen) else answer,
        question.room,
        mains,
        tuple(
            _shown(session, account, question.room, mains, candidate, option, standing)
            for candidate, option, standing in chosen
        ),
    )


def _shown(
    session: Session,
    account: Account,
    room: RoomRecord,
    mains: LoudspeakerRecord,
    candidate: int,
    chosen: int,
    standing: Standing,
) -> Shown:
    option = account.found[chosen]
    here = int(np.searchsorted(option.index, candidate))
    stand = Stand(account, room, mains, candidate, option, here, standing)
    weight = float(option.boxes.weight[here])
    return Shown(
        standing=standing,
        record=reads.loudspeaker(session, standing.speaker),
        pictures=stand.pictures(),
        place=option.place,
        baffle=known(option.aim.baffle[here]),
        tilt=stand.tilt,
        axis=stand.axis,
        clearance=stand.clearance(),
        distances=stand.distances(),
        cautions=cautions(account.scene, [option.place], weight),
    )


def refuse_what_does_not_fit(found: Dossier) -> None:
    """Refuse a sheet for a box that its place rules out.

    Raises
    ------
    Refused
        The place rules it out; the reasons are told.
    """
    entry = found.shown[0].standing
    reasons = [
        f"{gate.gate}: {gate.why}"
        for gate in entry.gates
        if gate.verdict == "fail" and gate.gate not in NOT_OF_THE_PLACE
    ]
    if reasons:
        raise Refused(f"{entry.speaker} can't go in {entry.place}: {'; '.join(reasons)}. triptych explain says more")
