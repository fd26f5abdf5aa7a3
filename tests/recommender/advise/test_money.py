"""Money in the score: up to the centre's share no price counts, above it every unit does, and never for a candidate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from tests.conftest import example_count
from tests.recommender.advise.random_cases import a_centre, a_tower, room_text
from tests.recommender.advise.scenarios import (
    ROOM,
    STACKED,
    TOP,
    TOWER,
    WIDE,
    ask,
    criterion,
    fill,
    ranked,
    record,
    standing,
)
from triptych.catalog.database.engine import reading
from triptych.catalog.errors import BadInput
from triptych.catalog.files.rooms import room_from_toml
from triptych.recommender.advise.advice import Advice
from triptych.recommender.advise.match import Question, match

pytestmark = pytest.mark.whole

MAIN = 600
"""The price of one of the mains of the scenarios [EUR]."""

prices = st.integers(100, 5_000)


def priced(engine: Engine, price: int | str) -> Advice:
    fill(engine, record(WIDE, price="400"), record(STACKED, price=str(price)))
    return ask(engine, TOP, room=ROOM.replace("centre = 700\n", ""))


@given(low=prices, high=prices)
@settings(max_examples=example_count(1 / 5), suppress_health_check=list(HealthCheck))
def test_a_higher_price_never_raises_score_interval_or_rank(engine: Engine, low: int, high: int) -> None:
    low, high = sorted((low, high))
    cheap, dear = priced(engine, low), priced(engine, high)
    one, other = standing(cheap, "Stacked"), standing(dear, "Stacked")
    assert (other.score, other.score_low, other.score_high) <= (one.score, one.score_low, one.score_high)
    assert other.rank >= one.rank
    assert standing(cheap, "Wide").score == standing(dear, "Wide").score


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, 1, 3])
def test_no_candidate_of_a_random_catalogue_scores_more_for_a_higher_price(engine: Engine, seed: int) -> None:
    chance = np.random.default_rng(seed)
    room = room_from_toml(room_text(chance).replace("centre = 900\n", ""), "test")
    tower, boxes = record(a_tower(chance), model="Tower"), [a_centre(chance, False) for _ in range(6)]
    for box in boxes[::2]:
        box["tax"] = ""
    fill(engine, tower, *(record(box, model=f"Centre {number}") for number, box in enumerate(boxes)))

    def answer() -> dict[str, tuple[int, float, float, float]]:
        with reading(engine) as session:
            found = match(session, Question(tower.name, room))[0].ranked
        return {one.speaker: (-one.rank, one.score, one.score_low, one.score_high) for one in found}

    before = answer()
    assert len(before) >= 2
    for number, box in enumerate(boxes):
        dear = record(
            {**box, "price": f"{float(box['price']) * chance.uniform(1.05, 3):.0f}"}, model=f"Centre {number}"
        )
        fill(engine, dear)
        after = answer()
        assert {name: one[1] for name, one in after.items() if name != dear.name} == pytest.approx(
            {name: one[1] for name, one in before.items() if name != dear.name}
        )
        if dear.name in after:
            assert all(now <= was + 1e-9 for now, was in zip(after[dear.name], before[dear.name], strict=True))
        fill(engine, record(box, model=f"Centre {number}"))


@pytest.mark.slow
@pytest.mark.parametrize("seed", [4, 5, 6])
def test_up_to_the_share_a_random_catalogue_is_scored_alike_and_of_twins_the_cheaper_is_first(
    engine: Engine, seed: int
) -> None:
    chance = np.random.default_rng(seed)
    room = room_from_toml(room_text(chance).replace("centre = 900\n", ""), "test")
    tower, boxes = a_tower(chance), [a_centre(chance, False) | {"tax": "included"} for _ in range(4)]
    share = float(tower["price"]) / 2

    def answer(parts: list[tuple[float, float]]) -> dict[str, tuple[int, float]]:
        pairs = zip(boxes, parts, strict=True)
        fill(engine, record(tower, model="Tower"), *(
            record(box, model=f"Centre {number} {twin}", price=f"{share * part:.0f}")
            for number, (box, pair) in enumerate(pairs) for twin, part in zip("AB", pair, strict=True)
        ))  # fmt: skip
        with reading(engine) as session:
            found = match(session, Question(record(tower, model="Tower").name, room))[0].ranked
        return {one.speaker[one.speaker.index("Centre") :]: (one.rank, one.score) for one in found}

    drawn = [tuple(chance.permutation([0.3, 0.95]).tolist()) for _ in boxes]
    mixed, level = answer(drawn), answer([(0.5, 0.5)] * len(boxes))
    assert len(mixed) >= 2
    assert {name: score for name, (_, score) in mixed.items()} == pytest.approx(
        {name: score for name, (_, score) in level.items()}
    )
    for number, (one, other) in enumerate(drawn):
        cheaper, dearer = (f"Centre {number} {twin}" for twin in ("AB" if one < other else "BA"))
        if cheaper in mixed:
            assert mixed[cheaper][0] < mixed[dearer][0]


def test_up_to_its_share_no_price_counts_and_at_twice_it_is_worst(engine: Engine) -> None:
    found = {price: criterion(standing(priced(engine, price), "Stacked"), "balance") for price in (100, 300, MAIN)}
    assert {one.utility for one in found.values()} == {1.0}
    above = [criterion(standing(priced(engine, MAIN * part // 4), "Stacked"), "balance").utility for part in (5, 6, 8)]
    assert above == [pytest.approx(0.75), pytest.approx(0.5), pytest.approx(0.25)]


def test_a_price_left_out_is_no_help_and_its_interval_holds_every_price(engine: Engine) -> None:
    silent = standing(priced(engine, ""), "Stacked")
    told = [standing(priced(engine, price), "Stacked").score for price in (100, 600, 900, 1200, 4000)]
    assert silent.score_low - 1e-9 <= min(told)
    assert max(told) <= silent.score_high + 1e-9
    # the middle of the results that prices from within the share to far above twice it have
    assert silent.score <= sorted(told)[len(told) // 2] + 1e-9


@pytest.mark.parametrize("dearer", ["A", "B"])
def test_of_twins_the_cheaper_comes_first(engine: Engine, dearer: str) -> None:
    twins = [record(STACKED, model=model, price="590" if model == dearer else "380") for model in "AB"]
    fill(engine, *twins)
    assert ranked(ask(engine, TOP)) == ["B" if dearer == "A" else "A", dearer]


def test_a_centre_far_below_its_share_says_what_more_would_buy(engine: Engine) -> None:
    fill(engine, record(WIDE, price="200"), record(STACKED, price="500"))
    (told,) = [one for one in ask(engine, TOP, budget=300.0, currency="EUR").advice if one.kind == "within_share"]
    assert "up to 600.00" in told.why
    assert "Stacked at 500.00 scores" in told.why
    fill(engine, record(STACKED, price="200"), record(WIDE, price="500"))
    (told,) = [one for one in ask(engine, TOP).advice if one.kind == "within_share"]
    assert "nothing dearer scores more" in told.why


def test_a_dearer_one_that_waits_is_not_passed_over_in_silence(engine: Engine) -> None:
    fill(engine, record(WIDE, price="200"), record(STACKED, price="500", impedance_nominal="", impedance_minimum=""))
    answer = ask(engine, TOP)
    assert [one.speaker.endswith("Stacked") for one in answer.pending] == [True]
    (told,) = [one for one in answer.advice if one.kind == "within_share"]
    pending = answer.pending[0]
    assert pending.score_if_passed > answer.ranked[0].score
    assert f"{pending.speaker} at 500.00 would score {pending.score_if_passed:.0f} if it passes" in told.why


@pytest.mark.parametrize(("price", "surround", "utility"), [
    (900, None, 0.5), (900, 450, 0.5), (900, 750, 0.8), (900, 900, 1.0), (1500, 750, 0.25), (500, 900, 1.0),
])  # fmt: skip
def test_a_surround_dearer_than_a_main_is_the_share(
    engine: Engine, price: int, surround: float | None, utility: float
) -> None:
    fill(engine, record(STACKED, price=str(price)))
    answer = ask(engine, TOP, room=ROOM.replace("centre = 700\n", ""), surround_price=surround)
    one = criterion(standing(answer, "Stacked"), "balance")
    assert one.utility == pytest.approx(utility)
    assert one.inputs == ({} if surround is None else {"main_price": MAIN, "surround_price": surround})
    dearer = "surround, which is its share here" if surround and surround > MAIN else "main"
    assert one.why.endswith(f"of the price of one {dearer}")


def test_where_a_main_has_no_price_a_centre_within_a_surrounds_is_within_its_share(engine: Engine) -> None:
    mains = record(TOWER, model="Old", price="", currency="", price_per="", tax="")
    fill(engine, mains, record(WIDE, price="500"), record(STACKED, price="690"))
    answer = ask(engine, TOP, mains=mains.name, surround_price=600.0)
    within, above = (criterion(standing(answer, model), "balance") for model in ("Wide", "Stacked"))
    assert [within.low, within.high] == pytest.approx([5 / 6, 5 / 6])
    assert within.utility == 1.0
    # a dear main would leave it within its share, a cheap one not
    assert above.low < 1 < above.high


def test_a_surround_in_another_currency_is_refused(engine: Engine) -> None:
    fill(engine, record(WIDE))
    with pytest.raises(BadInput, match="surround in USD can't be held to mains priced in EUR"):
        ask(engine, TOP, surround_price=300.0, surround_currency="USD")
