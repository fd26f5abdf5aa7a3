"""The main job: two mains and a room in, advice out."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.records import RoomRecord
from triptych.recommender.advise.account import Account
from triptych.recommender.advise.advice import Advice, Built, Columned, Otherwise, RuledOut, Standing, Waiting
from triptych.recommender.advise.beside import options, ranking
from triptych.recommender.advise.catalogue import Loudspeakers
from triptych.recommender.advise.cautions import cautions
from triptych.recommender.advise.counsel import ONLY_MONEY, ONLY_SUPPLY, Failing, Tries, counsel
from triptych.recommender.advise.curve_account import preference_of
from triptych.recommender.advise.leading import Leading, leading_options
from triptych.recommender.advise.memory import Memory, read_anew
from triptych.recommender.advise.placed import Scene
from triptych.recommender.advise.pricing import not_a_main
from triptych.recommender.advise.setting import Setting, refuse_placeless
from triptych.recommender.advise.settle import LEADING, certainty_of
from triptych.recommender.advise.trying import elsewhere, without_cap
from triptych.recommender.advise.voices import Fresh, VoiceBook
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS
from triptych.recommender.judge.gates.terms import comparable_price
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.scene.arrays import IndexArray, Purse

SHOWN: Final = 20
"""So many of the ranked are found out at once, where nobody says how many are wanted."""

SHOWN_WAITING: Final = 12
"""The same of those that wait for an answer."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked: a centre for which mains, in which room, for how much, from stock or not.

    Of a large catalogue the first `first` of those that pass, and some of those that wait, are found out at once, the
    others when somebody looks at them; all of them at once where it is None. `surround_price` is what one surround
    costs, on the tax basis of the cap, in the mains' currency unless another is named.
    """

    mains: str
    room: RoomRecord
    budget: float | None = None
    currency: str | None = None
    role: str = "centre"
    in_stock: bool = False
    weights: Mapping[str, float] | None = None
    surround_price: float | None = None
    surround_currency: str | None = None
    first: int | None = SHOWN


def match(session: Session, question: Question, memory: Memory | None = None) -> tuple[Advice, Fresh]:
    """Rank every candidate centre of the catalogue for a question; what a memory has of it isn't worked out again.

    Returns the advice, detached from the session, and the acoustic profiles that had to be computed for it: the caller
    stores them, so that the next question only reads them.

    Raises
    ------
    NotFound
        The catalogue has no such mains; the nearest names are told.
    """
    account = ask(session, question, memory=memory)
    if question.in_stock:
        account = replace(account, shelved=_shelved(session, account))
    answer = advise(account, question)
    if question.in_stock:
        answer = replace(answer, otherwise=_otherwise(session, account))
    return answer, account.book.fresh


def _shelved(session: Session, account: Account) -> dict[int, str]:
    """What there is else of the candidates that the ledger knows and that cannot be promised now, and when."""
    from triptych.catalog.stock.availability import promises

    available = account.scene.boxes.available
    gone = np.flatnonzero(~np.isnan(available) & ~(available >= 1)).tolist()
    numbers = {account.catalogue.ids[account.rows[candidate]]: candidate for candidate in gone}
    told: dict[int, list[str]] = {candidate: [] for candidate in gone}
    for number, promise in promises(session, numbers).items():
        had = f"new: to be had on {promise.when.isoformat()}, " if promise.when else "new: "
        told[numbers[number]] += [*(one.words for one in promise.others), had + promise.why]
    return {candidate: "; ".join(words) for candidate, words in told.items()}


def _otherwise(session: Session, account: Account) -> Otherwise | None:
    """What would come first if it needn't be in stock; None where that is the first anyway."""
    from triptych.catalog.stock.availability import promises

    scene = replace(account.scene, in_stock=False)
    found = leading_options(scene, LEADING, 1).options
    result = ranking(found, scene)
    if not len(result.ranked) or (len(account.result.ranked) and result.ranked[0] == account.result.ranked[0]):
        return None
    first = int(result.ranked[0])
    number = account.catalogue.ids[account.rows[first]]
    promise = promises(session, [number])[number]
    place = found[result.best[first]].place.name
    return Otherwise(account.name(first), place, float(result.best_score[first]), promise.when, promise.told)


def explain(session: Session, question: Question, centre: str, place: str | None = None) -> tuple[Advice, Fresh]:
    """Account for one centre at every place, or at one, whether it passes there or not.

    Raises
    ------
    NotFound
        The catalogue has no such mains or centre, or the room no such place; the nearest names are told.
    """
    account = ask(session, question, [centre])
    everywhere = account.options_at(place)
    stood = account.stood([0] * len(everywhere), everywhere)
    standings = [account.derived(standing, 0, chosen) for standing, chosen in zip(stood, everywhere, strict=True)]
    by_merit = sorted(standings, key=Standing.merit)
    ranked = [replace(standing, rank=rank) for rank, standing in enumerate(by_merit, start=1)]
    answer = advise(account, question, place, alone=True)
    shown: Built[Standing] = Built(len(ranked), lambda part: [ranked[rank] for rank in part])
    preference = preference_of(session, account.catalogue.ids[account.rows[0]]).value
    # every place is told as a standing with its verdict, so the centre stands in no other group
    waiting: Built[Waiting] = Built(0, lambda _: [])
    out: Built[RuledOut] = Built(0, lambda _: [])
    cautions_told = (*as_third_main(account), *answer.cautions)
    answer = replace(answer, ranked=shown, pending=waiting, excluded=out, preference=preference, cautions=cautions_told)
    return answer, account.book.fresh


def as_third_main(account: Account) -> tuple[str, ...]:
    """What is to be said where the mains are named as a centre for themselves."""
    if account.mains_row not in account.rows:
        return ()
    return (f"{account.mains} is the mains' own model: it is judged here as a third one between the two.",)


def _mains_number(session: Session, question: Question) -> int:
    """The mains' number; where a room names some that are in no catalogue, the refusal says how to mend the room."""
    try:
        return reads.number(session, question.mains)
    except NotFound as problem:
        if question.mains != question.room.mains.speaker:
            raise
        room = question.room.name
        where = f"triptych room edit {shlex.quote(room)} --set mains.speaker=..."
        mend = f"mend speaker under [mains] in its file, or, if it is stored, {where}"
        raise NotFound(f"{problem}. It is named in room {room!r}: {mend}") from None


def ask(
    session: Session, question: Question, only: Sequence[str] | None = None, memory: Memory | None = None
) -> Account:
    """Everything that is found out about a question, for all candidates or for `only` those named."""
    refuse_placeless(question.room)
    wanted = [_mains_number(session, question), *(reads.number(session, name) for name in only or ())]
    kept = memory.recall(session, wanted) if memory else read_anew(session, wanted)
    catalogue = kept.catalogue
    mains_row = catalogue.row(wanted[0])
    _refuse_other_role(catalogue, mains_row)
    rows = catalogue.centres(mains_row, question.role)
    if only is not None:
        rows = np.array([catalogue.row(number) for number in wanted[1:]], dtype=np.intp)
    book = VoiceBook(session, catalogue, kept.voices)
    scene = _scene(question, catalogue, book, rows, mains_row)
    if only is not None or question.first is None:
        leading = Leading(options(scene, keep_failed=only is not None))
    else:
        few = max(question.first, LEADING)
        ear = kept.ear(replace(question, weights=None, first=None))
        leading = leading_options(scene, few, few if question.first > SHOWN else SHOWN_WAITING, ear)
    found = leading.options
    result = ranking(found, scene)
    kept.keep(book)
    # what is looked at alone is first of one: no chance is told of it
    sure = certainty_of(scene, found, result) if only is None else None
    account = Account(scene, catalogue, book, mains_row, rows, found, result, sure, question.room.name)
    if leading.ranked is None and leading.waiting is None:
        return account
    return replace(account, exact=(leading.ranked, leading.waiting), whole=_whole(account))


def _whole(account: Account) -> Callable[[], Account]:
    """The same with everybody heard, worked out when it is first asked for."""

    @cache
    def made() -> Account:
        found = options(account.scene)
        return replace(account, found=found, result=ranking(found, account.scene), exact=(None, None), whole=None)

    return made


def _refuse_other_role(catalogue: Loudspeakers, row: int) -> None:
    if not catalogue.offered["main"][row]:
        name, others = catalogue.names[row], [role for role, offered in catalogue.offered.items() if offered[row]]
        raise BadInput(not_a_main(name, others))


def _scene(question: Question, catalogue: Loudspeakers, book: VoiceBook, rows: IndexArray, mains_row: int) -> Scene:
    """The arrays of a question about the candidates in `rows` of the catalogue."""
    main = np.array([mains_row])
    setting, mains = Setting.of(question.room), catalogue.boxes.take(main)
    setting.refuse_behind(mains)
    purse = _purse(question, catalogue, mains_row)
    return Scene(
        boxes=catalogue.boxes.take(rows),
        kin=catalogue.kin.take(rows),
        voices_of=lambda places: book.of(rows[places]),
        drivers_of=lambda places: book.drivers(rows[places]),
        sealed=catalogue.sealed[rows],
        mains=setting.mains(
            mains,
            book.of(main),
            comparable_price(mains, purse),
            mains.currency,
            _surround(question, catalogue, mains_row),
        ),
        seats=setting.seats,
        places=setting.places,
        picture=setting.picture,
        drive=setting.drive,
        purse=purse,
        in_stock=question.in_stock,
        weights=question.weights or DEFAULT_WEIGHTS,
    )


def _surround(question: Question, catalogue: Loudspeakers, mains_row: int) -> float:
    """What one surround costs; NaN where nobody said.

    Raises
    ------
    BadInput
        It is in another currency than the mains' price, so that neither can be held to the other.
    """
    named, own = question.surround_currency, catalogue.asked.currency[mains_row]
    if named and own and named != own:
        raise BadInput(f"a surround in {named} can't be held to mains priced in {own}: give its price in {own}")
    return np.nan if question.surround_price is None else question.surround_price


def _purse(question: Question, catalogue: Loudspeakers, mains_row: int) -> Purse:
    """The cap on the centre: the question's where it is given, else the room's.

    A cap whose currency nobody named is in that of the mains.
    """
    money = question.room.money
    cap = float(money.centre) if money and money.centre is not None else np.nan
    named = question.currency or (money.currency if money else None) or catalogue.asked.currency[mains_row]
    return Purse(
        cap if question.budget is None else question.budget,
        catalogue.currency(named),
        money.tax_included if money else True,
        np.nan,
    )


def _without_mains(account: Account, failing: Failing, *, alone: bool) -> tuple[Account, str]:
    """The account whose mains, where nobody offered them as a centre and they go nowhere, aren't among those ruled out.

    With a sentence that says so instead. Where a single one can't be had, or a screen lets sound through, a third one
    is what the trade would choose, so that its reasons are told.
    """
    here = np.flatnonzero(account.rows == account.mains_row)
    offered = account.catalogue.offered["centre"][account.mains_row] or account.scene.picture.transparent
    listed = np.isin(here, account.result.excluded).all()
    if alone or offered or not listed or failing.anywhere(ONLY_SUPPLY)[here].any():
        return account, ""
    gates = dict.fromkeys(
        gate.gate
        for option in account.found
        for row in np.flatnonzero(np.isin(option.index, here))
        for gate in option.gates
        if gate.verdict_of(int(row)) == Verdict.FAIL
    )
    left = replace(account.result, excluded=np.setdiff1d(account.result.excluded, here))
    words = f"A third {account.mains} between the two goes nowhere here ({', '.join(gates)})."
    return replace(account, result=left), words if len(here) else ""


def advise(account: Account, question: Question, place: str | None = None, *, alone: bool = False) -> Advice:
    """The advice of an account, its parts built when they are looked at; cautions are those of a place, or of all.

    What is asked about `alone` is told what helps it, and nothing that hangs on what else there is.
    """
    scene, result = account.scene, account.result
    room, failing = question.room, Failing.of(account.found, len(scene.boxes))
    told = counsel(
        scene,
        account.found,
        result,
        room.listening.needs_real_centre,
        Tries(
            account.name,
            lambda candidates, floor: elsewhere(scene, candidates, floor),
            lambda candidates, floor: without_cap(scene, failing.places(candidates, ONLY_MONEY), candidates, floor),
            failing,
        ),
        alone=alone,
    )
    account, third = _without_mains(account, failing, alone=alone)
    weights = scene.boxes.weight[result.ranked]
    heaviest = float(np.nanmax(weights)) if np.isfinite(weights).any() else np.nan
    return Advice(
        mains=account.mains,
        mains_evidence="measured" if scene.mains.sound.measured[0] else "modelled",
        mains_as_centre=third,
        room=room.name,
        ranked=Columned(len(result.ranked), account.standings),
        pending=Columned(len(result.pending), account.waiting_at),
        excluded=Columned(len(account.result.excluded), account.ruled_out),
        advice=told,
        cautions=cautions(scene, account.places_at(place), heaviest),
        questions=account.questions(),
        survival=account.survival(),
    )
