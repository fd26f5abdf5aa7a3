"""What is told of many candidates in one option, by columns: from arrays to words and numbers, all at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np

from triptych.catalog.answer_columns import Column, InOrder, Keyed, Numbers, Picked, Rows, Same, Several
from triptych.recommender.advise.advice import (
    CriterionAnswer,
    GateAnswer,
    OtherPlace,
    Reason,
    RuledOut,
    SeatAnswer,
    Waiting,
)
from triptych.recommender.advise.beside import Option, Ranking
from triptych.recommender.judge.criteria.definitions import REACH, TIMBRE
from triptych.recommender.judge.criteria.placing import SURFACES, bay_resonance
from triptych.recommender.judge.criteria.value import crossover_advised
from triptych.recommender.judge.criterion import Criterion, CriterionValues, utility
from triptych.recommender.judge.verdicts import VERDICT_WORDS, GateVerdicts, Verdict
from triptych.recommender.physics import coverage, description, loudspeaker, reflection
from triptych.recommender.physics.direction import plane_angles
from triptych.recommender.scene.aiming import own_azimuth, seat_points
from triptych.recommender.scene.arrays import BoolArray, CodeArray, FloatArray, IndexArray, Seats

TO_MILLIMETRES: Final = 1e3


def known(values: FloatArray) -> Numbers:
    """Numbers that are None where they are not known or have no limit."""
    return Numbers(np.asarray(values, dtype=np.float64), or_none=True)


def gates(option: Option, here: IndexArray) -> InOrder:
    """What every gate says of the boxes at `here`."""
    return InOrder(tuple(_gate(gate, here) for gate in option.gates))


def _gate(gate: GateVerdicts, here: IndexArray) -> Rows:
    columns: dict[str, Column] = {
        "gate": Same(gate.gate),
        "verdict": Picked([case.verdict.word for case in gate.cases], gate.case[here]),
        "why": gate.whys(here),
        "margin": known(gate.margin[here]),
        "unit": Same(gate.unit),
        "question": gate.questions(here),
    }
    return Rows(GateAnswer, len(here), columns)


def criteria(option: Option, kept: IndexArray, weights: Mapping[str, float]) -> InOrder:
    """What every criterion says of those at `kept` of what is kept."""
    return InOrder(tuple(_criterion(values.take(kept), weights) for values in option.criteria))


def _criterion(values: CriterionValues, weights: Mapping[str, float]) -> Rows:
    criterion, everyone = values.criterion, np.arange(len(values.value))
    columns: dict[str, Column] = {
        "criterion": Same(criterion.name),
        "value": Numbers(values.value),
        "low": Numbers(values.low),
        "high": Numbers(values.high),
        "unit": Same(criterion.unit),
        "utility": Numbers(utility(criterion, values.value)),
        "weight": Same(weights[criterion.name]),
        "evidence": values.evidences(everyone),
        "why": values.tolds(everyone),
        "inputs": Keyed({name: known(told) for name, told in values.numbers.items()}),
        "formula": Same(criterion.formula),
        "source": Same(criterion.source),
    }
    return Rows(CriterionAnswer, len(everyone), columns)


def _values(option: Option, criterion: Criterion) -> CriterionValues:
    return next(values for values in option.criteria if values.criterion is criterion)


def quantities(option: Option, here: IndexArray, kept: IndexArray, seats: Seats) -> Keyed:
    """The quantities of the contract that are no list."""
    aim, boxes = option.aim.take(here), option.boxes.take(here)
    guessed = aim.axis_unknown | aim.guessed
    reach, timbre = _values(option, REACH), _values(option, TIMBRE)
    angles = {
        "elevation_deg": aim.elevation,
        "tilt_needed_deg": aim.tilt_needed,
        "tilt_used_deg": aim.tilt_used,
        "residual_deg": aim.residual,
        "lift_mm": aim.lift * TO_MILLIMETRES,
        **_bounce(option, here, seats),
    }
    advised, modelled = crossover_advised(reach.value[kept]), timbre.numbers["direct"][kept]
    numbers = {
        **{name: np.where(guessed, np.nan, value) for name, value in angles.items()},
        "tilt_fits_deg": aim.tilt_fits,
        "envelope_height_mm": aim.envelope_height * TO_MILLIMETRES,
        "envelope_depth_mm": aim.envelope_depth * TO_MILLIMETRES,
        "rear_clearance_mm": aim.rear_clearance * TO_MILLIMETRES,
        "setback_mm": np.full(len(here), option.place.setback * TO_MILLIMETRES),
        "cavity_resonance_hz": bay_resonance(boxes, option.place),
        "peak_level_db": np.where(np.isnan(boxes.sensitivity), np.nan, option.levels.peaks.likely[here]),
        "trim_db": option.trim[here],
        "timbre_rms_db": np.where(np.isnan(modelled), np.nan, timbre.value[kept]),
        "crossover_hz": np.where(np.isnan(boxes.low_limit), np.nan, advised),
    }
    return Keyed({name: known(value) for name, value in numbers.items()})


def _bounce(option: Option, here: IndexArray, seats: Seats) -> dict[str, FloatArray]:
    """The largest set-back and the notch of the surface in front, for the untilted box, in mm and Hz."""
    place, aim = option.place, option.aim.take(here)
    none = np.full(len(here), np.nan)
    if place.kind not in SURFACES:
        return {"setback_max_mm": none, "bounce_notch_hz": none}
    source, ear = aim.axis_height - aim.floor, aim.ear_height - aim.floor
    from_edge = seats.distance[seats.primary] - place.front
    largest = reflection.largest_setback(source, ear, from_edge)
    notch = reflection.notch_frequency(reflection.path_difference(source, ear, aim.ear_distance))
    bounces = np.zeros(len(here), dtype=np.bool_)
    if place.setback > 0:
        bounces = reflection.bounce_exists(source, ear, from_edge + place.setback, place.setback)
    return {"setback_max_mm": largest * TO_MILLIMETRES, "bounce_notch_hz": np.where(bounces, notch, np.nan)}


def seat_answers(drivers: description.Columns, option: Option, here: IndexArray, seats: Seats) -> InOrder:
    """The angle, deepest dip and null of the boxes at `here` at every seat; `drivers` are theirs."""
    model = description.describe(drivers)
    if option.on_side:
        model = loudspeaker.turned(model)
    aim = option.aim.take(here)
    heard = _heard_at(model, seat_points(aim, seats))
    told = []
    for seat, name in enumerate(seats.name):
        columns: dict[str, Column] = {"seat": Same(name), "angle_deg": Numbers(own_azimuth(aim, seats, seat))}
        columns |= {key: known(values[:, seat]) for key, values in heard.items()}
        told.append(Rows(SeatAnswer, len(here), columns))
    return InOrder(tuple(told))


def _heard_at(model: loudspeaker.Sources, points: FloatArray) -> dict[str, FloatArray]:
    """What is told of seats at `points` in the frame of each loudspeaker, by exact paths; loudspeakers x seats."""
    dip = coverage.seat_dip(model, points)
    across = plane_angles(*np.moveaxis(points, -1, 0)).azimuth
    # the wider apart two drivers are, the lower they cancel
    factors = (np.ones(len(model)), model.spacing_high, model.spacing_low)
    pairs = (loudspeaker.outer_pair(loudspeaker.spread_out(model, factor)) for factor in factors)
    nulls = (
        np.where(model.usable[:, None], coverage.first_null(pair.left[:, None], pair.right[:, None], points), np.nan)
        for pair in pairs
    )
    names = ("null_hz", "null_low_hz", "null_high_hz")
    return {"across_deg": across, "dip_db": dip.level, "dip_hz": dip.frequency, **dict(zip(names, nulls, strict=True))}


def other_places(found: Sequence[Option], result: Ranking, candidates: IndexArray, chosen: int) -> InOrder:
    """The best pose in every place but that of the option `chosen`; no score is told where one is ruled out."""
    there: dict[str, list[int]] = {}
    for number, option in enumerate(found):
        if option.place.name != found[chosen].place.name:
            there.setdefault(option.place.name, []).append(number)
    return InOrder(tuple(_other_place(name, rows, found, result, candidates) for name, rows in there.items()))


def _other_place(name: str, rows: list[int], found: Sequence[Option], result: Ranking, candidates: IndexArray) -> Rows:
    verdicts = result.verdicts[rows][:, candidates]
    scores = np.where(verdicts == Verdict.FAIL, np.nan, result.scores[rows][:, candidates])
    worth = np.where(np.isfinite(scores) & (scores != 0.0), scores, -1.0)
    best, everyone = worth.argmax(axis=0), np.arange(len(candidates))
    columns: dict[str, Column] = {
        "place": Same(name),
        "pose": Picked([found[row].pose for row in rows], best),
        "score": known(scores[best, everyone]),
        "verdict": Picked(VERDICT_WORDS, verdicts[best, everyone]),
        "question": _asked_there([found[row] for row in rows], candidates, best, verdicts[best, everyone]),
    }
    return Rows(OtherPlace, len(candidates), columns)


def _asked_there(there: list[Option], candidates: IndexArray, best: IndexArray, verdicts: CodeArray) -> Column:
    """What is asked of each candidate in the best of some options, where only an answer lets it in; else nothing."""
    asked: list[list[str]] = [[] for _ in candidates]
    for number, option in enumerate(there):
        which = np.flatnonzero((best == number) & (verdicts == Verdict.UNKNOWN))
        here = np.searchsorted(option.index, candidates[which])
        for gate in option.gates:
            some = np.flatnonzero(gate.verdicts(here) == Verdict.UNKNOWN)
            for row, question in zip(which[some].tolist(), gate.questions(here[some]), strict=True):
                asked[row].append(question)
    return [" ".join(dict.fromkeys(questions)) for questions in asked] if any(asked) else Same("")


def waiting(option: Option, here: IndexArray, told: Mapping[str, Column]) -> Rows:
    """Those at `here` that wait, each with the questions that would settle it; `told` is what else is told of them."""
    open_gates = np.stack([gate.verdicts(here) == Verdict.UNKNOWN for gate in option.gates])
    first = open_gates.argmax(axis=0)
    questions: list[dict[str, None]] = [{} for _ in here]
    why, question = [""] * len(here), [""] * len(here)
    for row, gate in enumerate(option.gates):
        waits = np.flatnonzero(open_gates[row])
        for place, asked in zip(waits.tolist(), gate.questions(here[waits]), strict=True):
            questions[place].setdefault(asked)
            if first[place] == row:
                question[place] = asked
        decided = np.flatnonzero(first == row)
        for place, words in zip(decided.tolist(), gate.whys(here[decided]), strict=True):
            why[place] = words
    columns: dict[str, Column] = {
        **told,
        "place": Same(option.place.name),
        "pose": Same(option.pose),
        "question": question,
        "questions": [tuple(asked) for asked in questions],
        "gate": Picked([gate.gate for gate in option.gates], first),
        "why": why,
    }
    return Rows(Waiting, len(here), columns)


def ruled_out(names: list[str], found: Sequence[Option], candidates: IndexArray, shelved: Mapping[int, str]) -> Rows:
    """Candidates that no place passes, with the reasons at every place and pose.

    `shelved` says of those that are not in stock what there is instead and when one could be had.
    """
    owners: list[IndexArray] = []
    columns: dict[str, list[Any]] = {"place": [], "pose": [], "gate": [], "why": []}
    for option in found:
        row = np.searchsorted(option.index, candidates)
        there: BoolArray = np.append(option.index, -1)[row] == candidates
        among, here = np.flatnonzero(there), row[there]
        for gate in option.gates:
            fails = among[gate.verdicts(here) == Verdict.FAIL]
            whys = gate.whys(row[fails])
            if gate.gate == "supply" and shelved:
                whys = [_with(why, shelved.get(one)) for why, one in zip(whys, candidates[fails].tolist(), strict=True)]
            owners.append(fails)
            for name, value in (("place", option.place.name), ("pose", option.pose), ("gate", gate.gate)):
                columns[name] += [value] * len(fails)
            columns["why"] += whys
    owner = np.concatenate(owners)
    order = np.argsort(owner, kind="stable").tolist()
    reasons = Rows(Reason, len(order), {name: [told[one] for one in order] for name, told in columns.items()})
    counts = np.bincount(owner, minlength=len(candidates)).tolist()
    return Rows(RuledOut, len(candidates), {"speaker": names, "reasons": Several(reasons, counts)})


def _with(why: str, beside: str | None) -> str:
    return f"{why} ({beside})" if beside else why
