"""The answer as JSON, exactly by the contract. Rounding happens here and in `render`, and nowhere below."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from triptych.recommender.advise.advice import (
    Advice,
    Chances,
    Derivation,
    NextQuestion,
    Otherwise,
    RuledOut,
    Standing,
    Survival,
    Waiting,
)
from triptych.recommender.advise.compare import Comparison


def rounded(value: float | None, digits: int = 3) -> float | None:
    """A number to `digits` decimals; None stays None, and so does what JSON can't hold."""
    if value is None or not math.isfinite(value):
        return None
    return round(value, digits) + 0.0


def standing(entry: Standing) -> dict[str, Any]:
    """One ranked loudspeaker."""
    return {
        "rank": entry.rank,
        "speaker": entry.speaker,
        "place": entry.place,
        "pose": entry.pose,
        "verdict": entry.verdict,
        "score": rounded(entry.score, 1),
        "confidence": rounded(entry.confidence, 2),
        "score_low": rounded(entry.score_low, 1),
        "score_high": rounded(entry.score_high, 1),
        "chances": chances(entry.chances),
        "price": rounded(entry.price, 2),
        "currency": entry.currency,
        "available": entry.available,
        "gates": [
            {
                "gate": gate.gate,
                "verdict": gate.verdict,
                "why": gate.why,
                "margin": rounded(gate.margin),
                "unit": gate.unit,
                **({"question": gate.question} if gate.question else {}),
            }
            for gate in entry.gates
        ],
        "criteria": [
            {
                "criterion": criterion.criterion,
                "value": rounded(criterion.value),
                "low": rounded(criterion.low),
                "high": rounded(criterion.high),
                "unit": criterion.unit,
                "utility": rounded(criterion.utility),
                "weight": criterion.weight,
                "evidence": criterion.evidence,
                "why": criterion.why,
                "inputs": {name: rounded(value) for name, value in criterion.inputs.items()},
                "formula": criterion.formula,
                "source": criterion.source,
            }
            for criterion in entry.criteria
        ],
        "quantities": {
            **{name: rounded(value) for name, value in entry.quantities.items()},
            "seats": [
                {
                    "seat": seat.seat,
                    "angle_deg": rounded(seat.angle_deg),
                    "dip_db": rounded(seat.dip_db),
                    "dip_hz": rounded(seat.dip_hz, 1),
                    "null_hz": rounded(seat.null_hz, 1),
                    "null_low_hz": rounded(seat.null_low_hz, 1),
                    "null_high_hz": rounded(seat.null_high_hz, 1),
                }
                for seat in entry.seats
            ],
        },
        **({"derivations": [derivation(one) for one in entry.derivations]} if entry.derivations else {}),
        "other_places": [
            {"place": other.place, "pose": other.pose, "score": rounded(other.score, 1), "verdict": other.verdict}
            for other in entry.other_places
        ],
    }


def derivation(entry: Derivation) -> dict[str, Any]:
    """How one quantity comes about."""
    return {
        "quantity": entry.quantity,
        "formula": entry.formula,
        "inputs": {name: rounded(value, 4) for name, value in entry.inputs.items()},
        "evidence": entry.evidence,
        "source": entry.source,
    }


def chances(drawn: Chances | None) -> dict[str, Any] | None:
    """What the draws say of a leading loudspeaker; null beyond the leading ones."""
    if drawn is None:
        return None
    return {
        "low": rounded(drawn.low, 1),
        "high": rounded(drawn.high, 1),
        "first": rounded(drawn.first),
        "top_three": rounded(drawn.top_three),
    }


def question(entry: NextQuestion) -> dict[str, Any]:
    """One question with what its answer is worth."""
    return {
        "speaker": entry.speaker,
        "unknown": entry.unknown,
        "question": entry.question,
        "find": entry.find,
        "points": rounded(entry.points, 2),
        "changes": rounded(entry.changes, 2),
        "pending": entry.pending,
    }


def otherwise(entry: Otherwise) -> dict[str, Any]:
    """What would have been chosen if it needn't be in stock."""
    return {
        "speaker": entry.speaker,
        "place": entry.place,
        "score": rounded(entry.score, 1),
        "when": entry.when.isoformat() if entry.when else None,
        "why": entry.why,
    }


def survival(entry: Survival | None) -> dict[str, Any] | None:
    """The smallest change of weights that would dethrone the first; null where none would."""
    if entry is None:
        return None
    return {
        "rival": entry.rival,
        "moved": rounded(entry.moved),
        "taken": {name: rounded(part) for name, part in entry.taken},
        "given_to": entry.given_to,
    }


def waiting(entry: Waiting) -> dict[str, Any]:
    """One pending loudspeaker."""
    return {
        "speaker": entry.speaker,
        "place": entry.place,
        "pose": entry.pose,
        "question": entry.question,
        "questions": list(entry.questions),
        "gate": entry.gate,
        "why": entry.why,
        "score_if_passed": rounded(entry.score_if_passed, 1),
        "price": rounded(entry.price, 2),
        "currency": entry.currency,
    }


def ruled_out(entry: RuledOut) -> dict[str, Any]:
    """One excluded loudspeaker."""
    return {
        "speaker": entry.speaker,
        "reasons": [
            {"place": reason.place, "pose": reason.pose, "gate": reason.gate, "why": reason.why}
            for reason in entry.reasons
        ],
    }


def comparison(answer: Comparison) -> dict[str, Any]:
    """Centres side by side."""
    return {
        "mains": answer.mains,
        "room": answer.room,
        "speakers": [standing(entry) for entry in answer.standings],
        "differences": [
            {
                "criterion": difference.criterion,
                "unit": difference.unit,
                "values": [rounded(value) for value in difference.values],
                "points": [rounded(points, 1) for points in difference.points],
                "decides": difference.decides,
            }
            for difference in answer.differences
        ],
    }


def advice(answer: Advice, top: int | None = None) -> dict[str, Any]:
    """The whole answer, with the first `top` of the ranking or all of it."""
    shown: Iterable[Standing] = answer.ranked if top is None else answer.ranked[:top]
    return {
        "mains": {"name": answer.mains, "evidence": answer.mains_evidence},
        "room": answer.room,
        "ranked": [standing(entry) for entry in shown],
        "pending": [waiting(entry) for entry in answer.pending],
        "excluded": [ruled_out(entry) for entry in answer.excluded],
        "advice": [{"kind": counsel.kind, "why": counsel.why} for counsel in answer.advice],
        "cautions": list(answer.cautions),
        "questions": [question(entry) for entry in answer.questions],
        "survival": survival(answer.survival),
        **({"otherwise": otherwise(answer.otherwise)} if answer.otherwise else {}),
        # only where a full measured set exists
        **({} if answer.preference is None else {"preference": rounded(answer.preference)}),
    }
