"""Draws, chances and the worth of an answer: against reference libraries and closed forms, then limits."""

from __future__ import annotations

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.judge import certainty
from triptych.recommender.judge.answer_worth import worths
from triptych.recommender.judge.certainty import (
    CAUSES,
    Risk,
    draw,
    interval,
    normal_distribution,
    places,
    triangular,
)
from triptych.recommender.judge.criteria.definitions import COVERAGE, HEADROOM
from triptych.recommender.judge.criterion import Criterion, CriterionValues, criterion_values
from triptych.recommender.scene.arrays import FloatArray


def plain(name: str, low: list[float], value: list[float], high: list[float]) -> CriterionValues:
    """A criterion whose value is its own utility."""
    criterion = Criterion(name, "1", 1.0, 0.0, 0.0, "", "")
    return criterion_values(criterion, np.array(value), np.array(low), np.array(high), 1.0, "stated", "")


def unknown(**amounts: list[float]) -> dict[str, FloatArray]:
    return {name.replace("_", " "): np.array(values) for name, values in amounts.items()}


def test_normal_distribution_is_that_of_a_reference_library() -> None:
    points = np.linspace(-6, 6, 2001)
    assert np.abs(normal_distribution(points) - scipy.special.ndtr(points)).max() < 7.5e-8


@pytest.mark.slow  # scipy.stats takes half a second to import
@given(low=st.floats(0, 0.3), middle=st.floats(0.3, 0.6), high=st.floats(0.61, 1.0), chance=st.floats(0.001, 0.999))
def test_triangular_is_that_of_a_reference_library(low: float, middle: float, high: float, chance: float) -> None:
    width = high - low
    expected = scipy.stats.triang.ppf(chance, (middle - low) / width, loc=low, scale=width)
    found = triangular(np.array([chance]), np.array([low]), np.array([middle]), np.array([high]))
    assert found[0] == pytest.approx(expected, abs=1e-9)


def test_a_figure_without_range_is_drawn_as_itself() -> None:
    same = np.array([0.7])
    assert triangular(np.array([0.2]), same, same, same)[0] == 0.7


def test_without_unknowns_every_draw_is_the_score() -> None:
    drawn = draw([plain("aim", [0.5], [0.5], [0.5])], {"aim": 1.0}, {})
    assert drawn.scores == pytest.approx(50.0)


def test_mean_of_the_draws_is_that_of_the_triangle() -> None:
    # (low + likely + high) / 3, closed form
    drawn = draw([plain("aim", [0.2], [0.5], [0.9])], {"aim": 1.0}, unknown(axis=[1.0]), draws=20_000)
    assert drawn.scores.mean() == pytest.approx(100 * (0.2 + 0.5 + 0.9) / 3, abs=0.5)


def test_one_unknown_moves_both_its_criteria_together() -> None:
    criteria = [plain("coverage", [0.1], [0.5], [0.9]), plain("timbre", [0.1], [0.5], [0.9])]
    weights = {"coverage": 0.5, "timbre": 0.5}
    together = draw(criteria, weights, unknown(drivers=[1.0])).scores.std()
    apart = draw(criteria, weights, unknown(drivers=[1.0], voicing=[1.0])).scores.std()
    assert together > apart


def test_an_unknown_of_the_mains_moves_all_alike_and_so_decides_nothing() -> None:
    criteria = [plain("balance", [0.2, 0.1], [0.5, 0.4], [0.9, 0.8])]
    drawn = draw(criteria, {"balance": 1.0}, {"mains' price": np.ones(2)})
    assert places(drawn).first.tolist() == [1.0, 0.0]
    assert worths(drawn)[0].points == 0.0


def test_two_alike_are_first_half_of_the_time() -> None:
    drawn = draw([plain("aim", [0.2, 0.2], [0.5, 0.5], [0.9, 0.9])], {"aim": 1.0}, unknown(axis=[1.0, 1.0]))
    found = places(drawn)
    assert found.first == pytest.approx([0.5, 0.5], abs=0.05)
    assert found.first.sum() == pytest.approx(1.0)
    assert found.top_three == pytest.approx([1.0, 1.0])


def test_worth_of_perfect_information_on_a_coin() -> None:
    # a sure 50 against a uniform 0..100 whose mean is 50: E[max(50, U)] - 50 = 12.5, closed form
    draws = 20_000
    cause = np.random.default_rng(1).standard_normal(draws)
    chance = normal_distribution(cause)
    causes = np.zeros((len(CAUSES), draws, 2))
    axis = next(place for place, one in enumerate(CAUSES) if one.name == "axis")
    causes[axis, :, 1] = cause
    amounts = np.zeros((len(CAUSES), 2))
    amounts[axis, 1] = 1.0
    never, nothing = np.zeros((draws, 2), dtype=np.bool_), np.zeros((0, draws, 2))
    scores = np.column_stack([np.full(draws, 50.0), 100 * chance])
    drawn = certainty.Draws(scores, causes, amounts, never, never, nothing)
    found = worths(drawn)[0]
    assert found.points == pytest.approx(12.5, abs=0.5)
    assert found.changes == pytest.approx(0.5, abs=0.06)


def test_the_answers_worth_is_never_negative_and_draws_repeat() -> None:
    criteria = [plain("aim", [0.2, 0.3, 0.0], [0.5, 0.4, 0.2], [0.9, 0.8, 0.3])]
    first, second = (draw(criteria, {"aim": 1.0}, unknown(axis=[1.0, 1.0, 1.0])) for _ in range(2))
    assert (first.scores == second.scores).all()
    assert all(worth.points >= 0 for worth in worths(first))


@given(low=st.floats(0, 0.5), middle=st.floats(0.5, 0.6), high=st.floats(0.6, 1.0), narrower=st.floats(0, 1))
def test_the_interval_holds_the_likely_score_and_narrows_with_the_range(
    low: float, middle: float, high: float, narrower: float
) -> None:
    def between(a: float, c: float) -> tuple[float, float]:
        found = interval([plain("aim", [a], [middle], [c])], {"aim": 1.0}, unknown(axis=[0.3]))
        return float(found[0][0]), float(found[1][0])

    wide = between(low, high)
    narrow = between(middle - narrower * (middle - low), middle + narrower * (high - middle))
    assert wide[0] <= 100 * middle <= wide[1]
    assert narrow[1] - narrow[0] <= wide[1] - wide[0] + 1e-9


@given(low=st.floats(0.1, 0.5), middle=st.floats(0.5, 0.6), high=st.floats(0.6, 1.0))
def test_the_interval_reaches_wherever_one_unknown_alone_could_bring_the_score(
    low: float, middle: float, high: float
) -> None:
    criteria = [plain("aim", [low], [middle], [high]), plain("reach", [0.5], [0.5], [0.5])]
    found = interval(criteria, {"aim": 0.5, "reach": 0.5}, unknown(axis=[1.0]))
    # closed form: the geometric mean of both at either end
    assert found[0][0] <= 100 * np.sqrt(low * 0.5) + 1e-9
    assert found[1][0] >= 100 * np.sqrt(high * 0.5) - 1e-9


def test_the_interval_is_one_whoever_else_is_asked_about() -> None:
    weights = {"aim": 0.5, "timbre": 0.5}
    three = [
        plain("aim", [0.2, 0.3, 0.1], [0.5, 0.6, 0.4], [0.9, 0.8, 0.7]),
        plain("timbre", [0.1] * 3, [0.4] * 3, [0.9] * 3),
    ]
    alone = [one.take(np.array([1])) for one in three]
    together = interval(three, weights, unknown(axis=[0.3] * 3, voicing=[1.0] * 3))
    assert [end[1] for end in together] == [
        end[0] for end in interval(alone, weights, unknown(axis=[0.3], voicing=[1.0]))
    ]


def test_a_condition_takes_the_draws_in_which_it_fails() -> None:
    # a leader that a gate rules out three times in ten is first seven times in ten, and the answer is worth what the
    # other then has left: 0.3 x 40, against nothing; closed form
    criteria = [plain("aim", [0.5, 0.4], [0.5, 0.4], [0.5, 0.4])]
    risks = [Risk("envelope", np.array([0.3, 0.0]), np.array([-1.0, -1.0]))]
    drawn = draw(criteria, {"aim": 1.0}, {}, risks, draws=20_000)
    found = places(drawn)
    assert found.first == pytest.approx([0.7, 0.3], abs=0.01)
    assert found.stands == pytest.approx([0.7, 1.0], abs=0.01)
    # without the answer the sure 40 is chosen before 0.7 x 50; with it 50 is had seven times in ten
    told = worths(drawn, risks)[0]
    assert (told.cause, told.candidate) == ("envelope", 0)
    assert told.points == pytest.approx(0.7 * 10, abs=0.3)
    assert told.changes == pytest.approx(0.7, abs=0.051)


def test_an_answer_about_the_room_is_one_for_all_who_stand_there() -> None:
    criteria = [plain("aim", [0.5, 0.4], [0.5, 0.4], [0.5, 0.4])]
    shared = [Risk("load", np.array([0.5, 0.5]), np.array([0.0, 0.0]))]
    drawn = draw(criteria, {"aim": 1.0}, {}, shared, draws=4_000)
    assert (drawn.out[:, 0] == drawn.out[:, 1]).all()
    assert places(drawn).first == pytest.approx([0.5, 0.0], abs=0.03)
    assert len(worths(drawn, shared)) == 1


def test_headroom_drawn_below_nothing_fails_the_gate_of_level_in_that_draw() -> None:
    # triangular from -3 to 3 about 0 is below nothing half of the time
    likely, low, high = (np.array([value]) for value in (0.0, -3.0, 3.0))
    criteria = [criterion_values(HEADROOM, likely, low, high, 1.0, "stated", "")]
    drawn = draw(criteria, {"headroom": 1.0}, unknown(sensitivity=[1.0]), draws=8_000)
    assert places(drawn).stands == pytest.approx([0.5], abs=0.02)


def test_a_draw_in_which_a_seat_is_lost_comes_after_all_others() -> None:
    value = np.array([2.0, 5.0])
    dips = np.array([3.0, 7.0])
    criteria = [
        criterion_values(COVERAGE, value, value, value, 1.0, "modelled", "", dip=dips),
        plain("aim", [0.1, 1.0], [0.1, 1.0], [0.1, 1.0]),
    ]
    drawn = draw(criteria, {"coverage": 0.2, "aim": 0.8}, {})
    assert drawn.scores[0, 0] < drawn.scores[0, 1]
    assert places(drawn).first.tolist() == [1.0, 0.0]
