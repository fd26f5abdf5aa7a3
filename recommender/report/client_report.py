"""The report for the client: one HTML file that holds everything it needs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from markupsafe import Markup

from triptych.catalog.answers import Answers
from triptych.catalog.database.as_built import AsBuiltRecord
from triptych.catalog.records import LoudspeakerRecord
from triptych.recommender.advise.advice import Advice, CriterionAnswer, NextQuestion, RuledOut, Standing, Waiting
from triptych.recommender.advise.picturing import Dossier, Shown
from triptych.recommender.advise.questions import ANYWAY
from triptych.recommender.drawing.drawn_numbers import Unit
from triptych.recommender.drawing.floor_plan import plan
from triptych.recommender.drawing.front_elevation import front
from triptych.recommender.drawing.money_bars import MoneySplit, Share, money
from triptych.recommender.drawing.response import response
from triptych.recommender.drawing.seatmap import seat_map
from triptych.recommender.drawing.side_section import side
from triptych.recommender.money.budget.check import Check
from triptych.recommender.money.budget.mend import Mend
from triptych.recommender.report import built
from triptych.recommender.report.on_paper import amount, chance, percent, plain, pose, prose, score, told
from triptych.recommender.report.page import inlined, rendered
from triptych.recommender.report.paragraph import answer, survival
from triptych.recommender.report.reasons import conditions, order_words, sides, steps
from triptych.recommender.verify.verification import Verification
from triptych.recommender.views import BUDGET, CheckedBudget

REPORT_DRAWING: Final = 100.0
"""Width of a drawing [mm]: two beside each other on A4 and on a desktop, one on a phone, readable on all."""

LISTED: Final = 30
"""So many of those that wait or are ruled out are listed."""

RANKED: Final = 12
"""So many of the ranking stand in the table."""

GATE: Final = {"pass": "passes", "conditional": "passes if", "unknown": "not known", "fail": "fails"}


@dataclass(frozen=True, slots=True)
class Extra:
    """What a report holds beyond the answer: a budget with its mend, and a check after installing."""

    budget: tuple[Check, Mend] | None = None
    as_built: tuple[AsBuiltRecord, Verification] | None = None


def report_page(dossier: Dossier, extra: Extra = Extra(), unit: Unit = Unit.MILLIMETRE) -> str:
    """The report of a dossier as an HTML page."""
    advice = dossier.advice
    listed = advice.ranked[: max(RANKED, len(dossier.shown))]
    values: dict[str, Any] = {
        "mains": plain(advice.mains),
        "room": plain(advice.room),
        "answer": answer(dossier),
        "ranked": [ranked_row(entry) for entry in listed],
        "ranked_count": len(advice.ranked),
        "order_words": order_words(advice, listed),
        "conditional_count": sum(entry.conditional for entry in listed),
        "conditions": [(entry.rank, words) for entry in listed[len(dossier.shown) :] for words in conditions(entry)],
        "candidates": [
            _candidate(advice, shown, unit, new_plan)
            for shown, new_plan in zip(dossier.shown, _plans(dossier), strict=True)
        ],
        "survival": survival(advice),
        "questions": [question_row(one) for one in advice.questions],
        "pending": [waiting_row(one) for one in advice.pending[:LISTED]],
        "pending_count": len(advice.pending),
        "excluded": [ruled_out_row(one) for one in advice.excluded[:LISTED]],
        "excluded_count": len(advice.excluded),
        "as_centre": prose(advice.mains_as_centre),
        "counsel": [prose(piece.why) for piece in advice.advice],
        "cautions": [prose(words) for words in advice.cautions],
        "criteria": _sources(dossier),
        "sheets": list(_datasheets(dossier)),
        "budget": budget_values(*extra.budget) if extra.budget else None,
        "built": _built(*extra.as_built) if extra.as_built else None,
    }
    return rendered("report.html.j2", values)


def ranked_row(entry: Standing) -> dict[str, Any]:
    """One of the ranking as it stands in a table."""
    value, reach = score(entry)
    return {
        "rank": entry.rank,
        "star": "*" if entry.conditional else "",
        "speaker": plain(entry.speaker),
        "place": plain(entry.place),
        "pose": "" if entry.pose == "as_designed" else f", {pose(entry.pose)}",
        "score": value,
        "reach": reach,
        "first": None if entry.chances is None else entry.chances.first,
        "first_words": "–" if entry.chances is None else chance(entry.chances.first),
        "evidence": entry.confidence,
        "evidence_words": percent(entry.confidence),
        "price": entry.price,
        "price_words": amount(entry.price, entry.currency),
    }


def _candidate(advice: Advice, shown: Shown, unit: Unit, new_plan: bool) -> dict[str, Any]:
    entry = shown.standing
    return ranked_row(entry) | {
        "available": entry.available,
        "sides": sides(advice, entry),
        "do": steps(entry),
        "conditions": conditions(entry),
        "drawings": list(drawings_of(shown, unit, new_plan)),
        "criteria": [criterion_row(one) for one in entry.criteria],
        "gates": [(gate.gate, GATE[gate.verdict], prose(gate.why)) for gate in entry.gates],
        "others": [(plain(other.place), "–" if other.score is None else f"{other.score:.0f}", GATE[other.verdict])
                   for other in entry.other_places],
    }  # fmt: skip


def _plans(dossier: Dossier) -> Iterator[bool]:
    """Of which of those shown the plan is drawn: where the baffle stands elsewhere than in those before."""
    drawn: set[float | None] = set()
    for shown in dossier.shown:
        baffle = None if shown.baffle is None else round(shown.baffle, 2)
        yield baffle not in drawn
        drawn.add(baffle)


def drawings_of(shown: Shown, unit: Unit, new_plan: bool) -> Iterator[Markup]:
    """The drawings of one centre in its place that what is known allows."""
    found = shown.pictures
    if found.front:
        yield inlined(front(found.front, unit, REPORT_DRAWING))
    if found.side:
        yield inlined(side(found.side, unit, REPORT_DRAWING))
    if found.response:
        yield inlined(response(found.response, REPORT_DRAWING))
    if found.seat_map:
        yield inlined(seat_map(found.seat_map, unit, REPORT_DRAWING))
    if found.plan and new_plan:
        yield inlined(plan(found.plan, unit, REPORT_DRAWING))


def criterion_row(one: CriterionAnswer) -> dict[str, Any]:
    """One criterion as it stands in a table."""
    mark = "" if one.unit == "1" else one.unit
    return {
        "name": one.criterion,
        "value": told(one.value, 2, mark).strip(),
        "reach": "" if one.high - one.low < 0.005 else f"{one.low:.2f} to {one.high:.2f}",
        "utility": f"{one.utility:.2f}",
        "weight": f"{one.weight:.2f}",
        "evidence": one.evidence,
        "why": prose(one.why),
    }


def question_row(one: NextQuestion) -> dict[str, Any]:
    """One question, and what its answer is worth."""
    return {
        "speaker": None if one.speaker is None else plain(one.speaker),
        "about": one.about,
        "question": prose(one.question),
        "find": prose(one.find),
        "points": round(one.points, 3),  # what sorts must not hang on the last digits of a machine
        "points_words": f"{one.points:.1f}",
        "worth": ANYWAY.get(one.unknown, ""),
        "changes": one.changes,
        "changes_words": chance(one.changes),
    }


def waiting_row(one: Waiting) -> dict[str, Any]:
    """One that waits, with its questions."""
    return {
        "speaker": plain(one.speaker),
        "place": plain(one.place),
        "score": f"{one.score_if_passed:.0f}",
        "questions": [prose(question) for question in one.questions],
    }


def ruled_out_row(one: RuledOut) -> dict[str, Any]:
    """What rules it out anywhere, once, then the first reason at each place and how many more there are."""
    by_place: dict[tuple[str, str], dict[str, None]] = {}
    for reason in one.reasons:
        by_place.setdefault((reason.place, reason.pose), {})[f"{reason.gate}, {prose(reason.why)}"] = None
    anywhere = [why for why in next(iter(by_place.values()), {}) if all(why in whys for whys in by_place.values())]
    told = [("", why) for why in anywhere]
    for (place, turned), whys in by_place.items():
        own = [why for why in whys if why not in anywhere]
        more = f" (and {len(own) - 1} more)" if len(own) > 1 else ""
        if own and not anywhere:
            told.append((plain(place), f"{'' if turned == 'as_designed' else f'{pose(turned)}, '}{own[0]}{more}"))
    return {"speaker": plain(one.speaker), "reasons": told}


def _sources(dossier: Dossier) -> list[dict[str, str]]:
    """Each criterion with its formula and source."""
    if not dossier.shown:
        return []
    return [
        {"name": one.criterion, "formula": one.formula, "source": one.source}
        for one in dossier.shown[0].standing.criteria
    ]


def _datasheets(dossier: Dossier) -> Iterator[dict[str, Any]]:
    """Where each loudspeaker's own figures come from."""
    for record in (dossier.mains, *(shown.record for shown in dossier.shown)):
        by_source: dict[str, list[str]] = {}
        for name, figure in sorted(record.figures.items()):
            by_source.setdefault(f"{plain(figure.source)} ({figure.evidence.value})", []).append(name.replace("_", " "))
        yield {"speaker": plain(record.name), "sources": list(by_source.items()), "missing": _missing(record)}


def _missing(record: LoudspeakerRecord) -> list[str]:
    """What its datasheet doesn't say of what matters."""
    wanted = ("weight", "sensitivity", "impedance_minimum", "low_limit", "layout", "woofer_spacing", "crossover",
              "port_location", "axis_height", "price")  # fmt: skip
    return [name.replace("_", " ") for name in wanted if getattr(record, name) is None]


def budget_values(check: Check, mend: Mend) -> dict[str, Any]:
    """A budget judged, with where the money goes as a picture, and the change that mends it."""
    data: dict[str, Any] = Answers(BUDGET).plain(CheckedBudget(check, mend))
    shares = tuple(
        Share(one["role"], one["amount"], one["of_audio_total"], one["of_speakers_and_sub"]) for one in data["shares"]
    )
    totals = data["denominators"]
    shown = MoneySplit(
        data["currency"], data["tax_included"], totals["audio_total"], totals["speakers_and_sub"], shares
    )
    currency = data["currency"]
    return data | {
        "cautions": [prose(words) for words in data["cautions"]],
        "rules": [rule | {"why": prose(rule["why"])} for rule in data["rules"]],
        "drawing": inlined(money(shown, REPORT_DRAWING)),
        "words": {
            "total": amount(data["total"], currency),
            "limit": amount(data["limit"], currency),
            "over": amount(data["over"], currency),
        },
        "changes": [(plain(one["change"]), amount(one["by"], currency)) for one in data["mend"]],
    }


def _built(record: AsBuiltRecord, found: Verification) -> dict[str, Any]:
    return {
        "speaker": None if record.speaker is None else plain(record.speaker),
        "place": None if record.place is None else plain(record.place),
        "date": None if record.made_at is None else record.made_at.date().isoformat(),
        "bands": built.band_rows(found),
        "settings": list(built.settings_lines(found)),
        "dips": built.dip_lines(found),
        "signs": built.sign_lines(found),
        "promises": built.promise_lines(found),
        "standard": built.STANDARD,
        "files": [
            f"{plain(seat.seat)}: {', '.join(plain(one.source) for one in (seat.left, seat.centre, seat.right))}"
            for seat in record.seats
        ],
    }
