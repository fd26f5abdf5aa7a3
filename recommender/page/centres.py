"""Centres: ranked, waiting and ruled out, tried otherwise, side by side, one whole; and answers given in place."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from threading import Lock
from typing import Any, Final

from starlette.responses import Response

from triptych.catalog.database import reads
from triptych.catalog.database.edits import edit_loudspeaker
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.rows import name_key
from triptych.catalog.errors import BadInput, CatalogError, Overtaken
from triptych.catalog.fields import COLUMNS
from triptych.catalog.money import in_words
from triptych.catalog.records import RoomRecord
from triptych.recommender.advise import compare as comparing
from triptych.recommender.advise import match as matching
from triptych.recommender.advise import picturing
from triptych.recommender.advise.advice import Advice, Standing, Waiting
from triptych.recommender.advise.answering import StoodWhere, open_columns, places, what_changed
from triptych.recommender.advise.match import Question
from triptych.recommender.judge.criteria.definitions import CRITERIA, DEFAULT_WEIGHTS
from triptych.recommender.page.asked import AS_FAR_AS_FITS, SEAT, WEIGHT, WHOLE, Pairs, Visit, question_of, state_of
from triptych.recommender.page.rendering import moved, shown
from triptych.recommender.report.client_report import (
    GATE,
    criterion_row,
    drawings_of,
    question_row,
    ranked_row,
    ruled_out_row,
    waiting_row,
)
from triptych.recommender.report.on_paper import prose
from triptych.recommender.report.paragraph import survival
from triptych.recommender.report.reasons import MEANS, as_good_words, conditions, order_words, sides, steps

AT_FIRST: Final = 8
"""So many of each group are shown before somebody asks for more."""

SHOWN_AT_ONCE: Final = 60
"""So many are shown then."""

REMEMBERED: Final = 64
"""So many rankings are kept in mind, to say what the next one changed."""

TARGETS: Final = (80, 115)
"""Where the slider of the target level begins and ends [dB]."""


ROOMS_GATES: Final = ("tilt", "height")
"""What waits for these may wait for a figure of the room, too."""


class _Memory:
    """Who stood where, by the address that asked."""

    def __init__(self) -> None:
        self._known: OrderedDict[tuple[int, Pairs], StoodWhere] = OrderedDict()
        self._lock = Lock()

    def keep(self, whose: int, state: Pairs, found: StoodWhere) -> None:
        with self._lock:
            self._known[whose, tuple(sorted(state))] = found
            while len(self._known) > REMEMBERED:
                self._known.popitem(last=False)

    def of(self, whose: int, state: Pairs) -> StoodWhere | None:
        with self._lock:
            return self._known.get((whose, tuple(sorted(state))))


_memory: Final = _Memory()


def ranking(asked: Visit) -> Response:
    """The ranking for what the address asks, with sliders that ask otherwise."""
    missing = [name for name in ("room",) if not asked.word(name)]
    if missing:
        with reading(asked.catalogue.engine) as session:
            return shown("centres_asked.html.j2", asked, step="centres", rooms=reads.rooms(session))
    try:
        question = question_of(asked)
    except BadInput as problem:
        return _refused(asked, problem)
    advice = asked.catalogue.answer(lambda session: matching.match(session, question, asked.memory))
    values = _told(asked, question, advice)
    if asked.fragment:
        return shown("centres_found.html.j2", asked, **values)
    return shown(
        "centres.html.j2", asked, step="centres", **values, **_controls(asked, question.room, question.weights)
    )


def _refused(asked: Visit, problem: BadInput) -> Response:
    """What can't be asked, beside the form with what was typed."""
    if asked.fragment:
        return shown("refusal_part.html.j2", asked, 422, problem=str(problem))
    with reading(asked.catalogue.engine) as session:
        room = reads.room(session, asked.word("room"))
    mains = asked.word("mains") or room.mains.speaker or "mains not chosen yet"
    values = {"mains": mains, "room": room.name, "refused": str(problem), **_controls(asked, room, None)}
    return shown("centres.html.j2", asked, 422, step="centres", **values)


def _told(asked: Visit, question: Question, advice: Advice) -> dict[str, Any]:
    found = places(advice)
    whose = id(asked.catalogue)
    before = _memory.of(whose, state_of(asked.before)) if asked.before else None
    _memory.keep(whose, asked.state, found)
    more = asked.word("more")
    counts = {group: SHOWN_AT_ONCE if more == group else AT_FIRST for group in ("ranked", "pending", "excluded")}
    changed = what_changed(before, found) if before is not None else []
    return {
        "refused": "",
        "mains": advice.mains,
        "evidence": advice.mains_evidence,
        "as_centre": prose(advice.mains_as_centre),
        "room": advice.room,
        "ranked": [_entry(asked, advice, one) for one in advice.ranked[: counts["ranked"]]],
        "pending": _pending(asked, advice.pending[: counts["pending"]]),
        "excluded": [ruled_out_row(one) for one in advice.excluded[: counts["excluded"]]],
        "totals": {"ranked": len(advice.ranked), "pending": len(advice.pending), "excluded": len(advice.excluded)},
        "shown_of": counts,
        "changed": changed,
        "as_good": as_good_words(advice),
        "order_words": order_words(advice, advice.ranked[: counts["ranked"]]),
        "counsel": [prose(piece.why) for piece in advice.advice],
        "cautions": [prose(words) for words in advice.cautions],
        "questions": [question_row(one) for one in advice.questions],
        "survival": survival(advice),
        "otherwise": advice.otherwise,
    }


def _entry(asked: Visit, advice: Advice, entry: Standing) -> dict[str, Any]:
    row: dict[str, Any] = ranked_row(entry)
    return row | {
        "name": entry.speaker,
        "url": asked.link("/centre", name=entry.speaker, place=entry.place),
        "sheet": asked.link("/fit-sheet", name=entry.speaker, place=entry.place),
        "sides": sides(advice, entry),
        "do": steps(entry),
        "available": entry.available,
    }


def _pending(asked: Visit, waiting: Sequence[Waiting]) -> list[dict[str, Any]]:
    keys = {one.speaker: name_key(one.speaker) for one in waiting}
    with reading(asked.catalogue.engine) as session:
        known = reads.stored_by_key(session, keys.values())
    return [_waits(asked, one, known[keys[one.speaker]]) for one in waiting]


def _waits(asked: Visit, one: Waiting, known: reads.Stored) -> dict[str, Any]:
    fields = [
        (name, name.replace("_", " "), COLUMNS[name].help, COLUMNS[name].choices)
        for name in open_columns(one.gate, known.record)
    ]
    return waiting_row(one) | {
        "name": one.speaker,
        "gate": one.gate,
        "why": prose(one.why),
        "fields": fields,
        "revision": known.revision,
        "in_room": asked.link("/room") if one.gate in ROOMS_GATES else "",
        "url": asked.link("/centre", name=one.speaker, place=one.place),
    }


def _controls(asked: Visit, room: RoomRecord, given: Mapping[str, float] | None) -> dict[str, Any]:
    weights = given or DEFAULT_WEIGHTS
    said = {name: value for name, value in asked.query if name.startswith(WEIGHT)}
    sliders = [
        (
            f"{WEIGHT}{one.name}",
            one.name,
            MEANS.get(one.name, ""),
            said.get(f"{WEIGHT}{one.name}") or f"{weights[one.name]:.2f}",
        )
        for one in CRITERIA
    ]
    seats = [(f"{SEAT}{one.name}", one.name, one.regular, one.primary) for one in room.seats]
    cap = "" if room.money is None or room.money.centre is None else in_words(room.money.centre, room.money.currency)
    target = room.listening.target_peak
    return {
        "sliders": sliders,
        "seats": seats,
        "cap": asked.word("cap"),
        "room_cap": cap,
        "target": f"{target:.0f}" if target is not None else "",
        "targets": TARGETS,
        "tilt": asked.word("tilt") or AS_FAR_AS_FITS,
        "tilt_most": AS_FAR_AS_FITS,
        "whole_weight": WHOLE,
        "hidden": [(name, value) for name, value in asked.state if name in ("mains", "room", "units")],
        "plain_url": asked.link("/centres", **dict.fromkeys((name for name, _ in asked.state), "")
                                | {"mains": asked.word("mains"), "room": asked.word("room")}),
    }  # fmt: skip


def centre(asked: Visit) -> Response:
    """One centre in its place: drawings, reasons, gates, criteria."""
    question = question_of(asked)
    name, place = asked.word("name"), asked.word("place") or None
    found = asked.catalogue.answer(lambda session: picturing.fitting(session, question, name, place))
    one = found.shown[0]
    entry = one.standing
    gates = [
        (gate.gate, gate.verdict, GATE[gate.verdict], prose(gate.why), prose(gate.question)) for gate in entry.gates
    ]
    return shown(
        "centre.html.j2",
        asked,
        step="centres",
        entry=ranked_row(entry),
        name=entry.speaker,
        place=entry.place,
        mains=found.advice.mains,
        room=found.advice.room,
        verdict=entry.verdict,
        conditions=conditions(entry),
        do=steps(entry),
        drawings=list(drawings_of(one, asked.unit, new_plan=True)),
        gates=gates,
        criteria=[criterion_row(criterion) for criterion in entry.criteria],
        elsewhere=[
            (
                other.place,
                "–" if other.score is None else f"{other.score:.0f}",
                GATE[other.verdict],
                asked.link("/centre", name=entry.speaker, place=other.place),
            )
            for other in entry.other_places
        ],
        cautions=[prose(words) for words in one.cautions],
        sheet=asked.link("/fit-sheet", name=entry.speaker, place=entry.place),
        sheet_pdf=asked.link("/fit-sheet", name=entry.speaker, place=entry.place, form="pdf"),
    )


def beside(asked: Visit) -> Response:
    """Two or three centres side by side."""
    question = question_of(asked)
    names = asked.words("pick")
    found = asked.catalogue.answer(lambda session: comparing.compare(session, question, names))
    rows = [
        (
            one.criterion,
            MEANS.get(one.criterion, ""),
            one.decides,
            [
                (f"{value:.2f} {'' if one.unit == '1' else one.unit}".strip(), None if at == 0 else f"{points:+z.1f}")
                for at, (value, points) in enumerate(zip(one.values, one.points, strict=True))
            ],
        )
        for one in found.differences
    ]
    entries = [ranked_row(one) | {"name": one.speaker, "conditions": conditions(one)} for one in found.standings]
    return shown(
        "compare.html.j2", asked, step="centres", entries=entries, rows=rows, mains=found.mains, room=found.room,
        cautions=found.cautions,
    )  # fmt: skip


def answer(asked: Visit) -> Response:
    """Store the answer to what a centre waits for, as `speaker edit --set` would, and rank again."""
    name = asked.word("name")
    changes = {key: value for key, value in asked.form if key in COLUMNS and value.strip()}
    problem, status = "", 422
    if not changes:
        problem = "nothing is filled in: write the figure that is asked for"
    revision = asked.word("revision")
    try:
        if changes:
            with writing(asked.catalogue.engine) as session:
                edit_loudspeaker(session, name, changes, int(revision) if revision.isdecimal() else None)
    except CatalogError as refused:
        problem, status = str(refused), 409 if isinstance(refused, Overtaken) else 422
    if not problem and not asked.fragment:
        return moved(asked.link("/centres"))
    question = question_of(asked)
    advice = asked.catalogue.answer(lambda session: matching.match(session, question, asked.memory))
    values = _told(asked, question, advice) | {"problem": problem, "problem_of": name, "given": changes}
    if not asked.fragment:
        return shown(
            "centres.html.j2",
            asked,
            status,
            step="centres",
            **values,
            **_controls(asked, question.room, question.weights),
        )
    return shown("centres_found.html.j2", asked, status if problem else 200, **values)
