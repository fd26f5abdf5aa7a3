"""Whole systems out of small catalogues: against every system there is, and in the cases that people have."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import product
from math import ceil
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from tests.recommender.advise.planning import shops
from tests.recommender.advise.planning.shops import ACCESSORIES, BASS, CENTRE, HEAD, TOWER, WALL, WANT, ask, record
from triptych.catalog.database.engine import open_catalogue, reading, writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.database.reads import loudspeaker, stored
from triptych.catalog.records import LoudspeakerRecord, RoomRecord
from triptych.catalog.stock import MovementLine as StockLine
from triptych.catalog.stock import record_movement
from triptych.recommender.advise import everybody, voices
from triptych.recommender.advise.match import Question, match
from triptych.recommender.advise.match import ask as match_all
from triptych.recommender.advise.planning import plan as planning
from triptych.recommender.advise.planning import read_in_time
from triptych.recommender.advise.planning.ground import NO_TIME, Ground
from triptych.recommender.advise.planning.plan_answer import Pick, PlanAnswer
from triptych.recommender.advise.planning.wanted import ROLE_WEIGHTS
from triptych.recommender.money.budget.budget_lines import BudgetLine
from triptych.recommender.money.budget.check import BudgetVerdict, check
from triptych.recommender.money.budget.rules import DEFAULT, MUSIC_FIRST, RuleSet, in_sentences

pytestmark = pytest.mark.plan

SHOP = (
    record(TOWER),
    record(TOWER, model="Slim", low_limit="55", price="900", woofer_size="130", sensitivity="87"),
    record(TOWER, maker="Birch Hollow", series="Marl", model="Tower", low_limit="38", price="1900",
           tweeter_type="waveguide_dome"),
    record(CENTRE),
    record(CENTRE, model="Small", width="400", woofer_spacing="200", woofer_size="100", price="420", low_limit="75"),
    record(CENTRE, maker="Birch Hollow", series="Marl", model="Centre", price="980", tweeter_type="waveguide_dome"),
    record(WALL),
    record(WALL, model="Little", price="220", low_limit="120", woofer_size="100"),
    record(WALL, maker="Birch Hollow", series="Marl", model="Wall", price="780", low_limit="70"),
    record(BASS),
    record(BASS, model="Big Bass", price="900", low_limit="22", woofer_size="305"),
)  # fmt: skip


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Engine:
    engine = open_catalogue(str(tmp_path_factory.mktemp("shop") / "catalogue.db"))
    shops.stock_shop(engine, *SHOP)
    return engine


@pytest.fixture
def own(sqlite_path: Path) -> Iterator[Engine]:
    engine = open_catalogue(str(sqlite_path))
    yield engine
    engine.dispose()


def named(answer: PlanAnswer, rank: int = 1) -> dict[str, str]:
    return {pick.role: pick.speaker for pick in answer.systems[rank - 1].picks}


class System(NamedTuple):
    """What of a budget its parts make, and what each is worth."""

    picks: list[Pick]
    worths: tuple[float, ...]


@pytest.fixture(scope="module")
def systems(shop: Engine) -> list[System]:
    """Every system there is, from match and the roles' worth."""
    question = shops.wanted(shop, HEAD.format(limit=6000) + WANT + ACCESSORIES)
    found = []
    with reading(shop) as session:
        ground = Ground.of(session, question, shops.room(), in_stock=False)
        roles = ("mains", "surrounds", "sub")
        judged = {role: ground.judged(role, question.counts[0][role], with_sub=True) for role in roles}
        names = {role: [ground.catalogue.names[row] for row in judged[role].offer.rows] for role in roles}
        scores = {main: _scores(session, main) for main in names["mains"]}
        for (m, main), (s, around), (b, bass) in product(*(enumerate(names[role]) for role in roles)):
            for centre, score in scores[main].items():
                picks = [_pick(session, *one) for one in (("mains", main, 2), ("centre", centre, 1),
                                                          ("surrounds", around, 2), ("sub", bass, 1))]  # fmt: skip
                kin = _kinship(loudspeaker(session, main), loudspeaker(session, around))
                worths = (
                    ROLE_WEIGHTS["front"] * score / 100,
                    ROLE_WEIGHTS["mains"] * judged["mains"].worth.own[m],
                    ROLE_WEIGHTS["surrounds"] * (0.75 * judged["surrounds"].worth.own[s] + 0.25 * kin),
                    ROLE_WEIGHTS["sub"] * judged["sub"].worth.own[b],
                )
                found.append(System(picks, worths))
    return found


def by_value(
    systems: list[System], engine: Engine, limit: int, rules: RuleSet
) -> list[tuple[float, int, tuple[str, ...]]]:
    """Value and cost of every system that keeps the musts, by check, and is worth its price; best first.

    Each part is counted in thousandths; a should costs 25 points for as much as the limit, the next thousandth up.
    """
    fixed = shops.wanted(engine, HEAD.format(limit=limit) + WANT + ACCESSORIES).fixed
    found, whole = [], {}
    for picks, worths in systems:
        lines = (BudgetLine(pick.role, pick.cost, pick.pieces, pick.speaker) for pick in picks)
        judged = check(replace(fixed, lines=(*lines, *fixed.lines)), rules)
        if judged.over or judged.broken:
            continue
        paid = sum(ceil(25_000 * one.short / (limit * 100)) for one in judged.results)
        thousandths, names = sum(round(1000 * float(worth)) for worth in worths), tuple(one.speaker for one in picks)
        whole[names] = thousandths, judged.budget.total
        found.append(((thousandths - paid) / 1000, judged.budget.total, names))
    return sorted((one for one in found if worth_its_price(one[2], whole)), key=lambda one: (-one[0], one[1]))


def worth_its_price(names: tuple[str, ...], whole: Mapping[tuple[str, ...], tuple[int, int]]) -> bool:
    """Whether no single loudspeaker could be exchanged for a cheaper one with which the whole is worth no less."""
    worth, cost = whole[names]
    beside = (whole[other] for other in whole if sum(a != b for a, b in zip(names, other, strict=True)) == 1)
    return not any(other_worth >= worth and other_cost < cost for other_worth, other_cost in beside)


def _scores(session: Session, main: str) -> dict[str, float]:
    """What match gives; 100 less where a seat loses its speech, so that it comes after all others."""
    found = match_all(session, Question(main, shops.room()))
    result = found.result
    lost = np.where(result.last[result.best, np.arange(len(result.best))], 100.0, 0.0)
    return {found.name(int(one)): float(result.best_score[one] - lost[one]) for one in result.ranked}


def _pick(session: Session, role: str, name: str, pieces: int) -> Pick:
    made = loudspeaker(session, name)
    per = 2 if made.price_per is not None and made.price_per.value == "pair" else 1
    cost = Fraction(made.price or 0) * 100 * pieces / per
    return Pick(role, name, pieces, int(cost), False, 0.0, 0.0)


def _kinship(main: LoudspeakerRecord, around: LoudspeakerRecord) -> float:
    """By hand: 1.0 dB in a family, 2.5 unrelated, 1.5 in quadrature for other tweeters; 0.5 dB is 1 and 5 dB 0."""
    same = main.maker == around.maker
    loaded = main.tweeter_type == around.tweeter_type
    unlike = np.hypot(1.0 if same else 2.5, 0.0 if loaded else 1.5)
    return float(np.clip((5 - unlike) / 4.5, 0.02, 1))


@pytest.mark.parametrize("rules", [DEFAULT, MUSIC_FIRST], ids=lambda rules: rules.name)
@pytest.mark.parametrize("limit", [3000, 3400, 3900, 4600, 6000])
def test_the_best_five_are_those_of_all_systems(
    shop: Engine, systems: list[System], limit: int, rules: RuleSet
) -> None:
    every = by_value(systems, shop, limit, rules)
    answer = ask(shop, limit=limit, place=shops.room(), rules=rules)
    assert answer.outcome == "optimal"
    assert answer.gap == 0.0
    # a score of a match is held in single precision in a plan, so that a part may fall into the next thousandth
    values = [one.value for one in answer.systems]
    np.testing.assert_allclose(values, [value for value, *_ in every[:5]], atol=0.0021)
    assert tuple(named(answer).values()) in {names for value, _, names in every if value > every[0][0] - 0.0021}


def test_every_system_that_is_shown_keeps_the_musts_and_the_limit(shop: Engine) -> None:
    answer = ask(shop, limit=4200, place=shops.room())
    assert len(answer.systems) == 5
    assert len({tuple(named(answer, rank).items()) for rank in range(1, 6)}) == 5
    for one in answer.systems:
        assert one.check.verdict is BudgetVerdict.PASS
        assert one.total == one.check.budget.total <= answer.limit
        assert one.left == answer.limit - one.total
        assert one.value == pytest.approx(sum(pick.worth for pick in one.picks) - sum(one.shoulds.values()))
        assert set(one.shoulds) == {result.rule.name for result in one.check.results if not result.holds}
        assert one.costs_more == one.total - answer.systems[0].total


def test_a_tenth_more_is_the_plan_for_that_limit(shop: Engine) -> None:
    # a should costs what it did for the limit that was asked
    answer = ask(shop, limit=3800, place=shops.room())
    richer = ask(shop, limit=4180, place=shops.room(), head="should_costs = 27.5\n")
    assert answer.next_money is not None
    assert answer.next_money.gain == pytest.approx(richer.systems[0].value - answer.systems[0].value, abs=1e-6)


def test_what_plays_is_bought_first_and_steps_are_counted(shop: Engine) -> None:
    answer = ask(shop, limit=4200, place=shops.room(), head="steps = [1900, 1000, 2000]\n")
    assert [one.role for one in answer.order][:3] == ["accessories", "mains", "centre"]
    assert answer.order[-1].together == answer.systems[0].total
    assert [one.step for one in answer.order] == sorted(one.step or 9 for one in answer.order)


def test_what_is_owned_costs_nothing_and_is_matched_to(shop: Engine) -> None:
    owned = '[[line]]\nrole = "mains"\nitem = "Birch Hollow Marl Tower"\nper = "pair"\nowned = true\n'
    answer = ask(shop, "[want]\ncentre = 1\nsurrounds = 2\nsub = 1\n", ACCESSORIES + owned, 2600, shops.room())
    best = answer.systems[0]
    assert named(answer)["mains"] == "Birch Hollow Marl Tower"
    assert next(pick for pick in best.picks if pick.role == "mains").fixed
    assert best.total == 15000 + sum(pick.cost for pick in best.picks)
    with reading(shop) as session:
        told = match(session, Question("Birch Hollow Marl Tower", shops.room()))[0].ranked
    centre = next(pick for pick in best.picks if pick.role == "centre")
    assert centre.score == pytest.approx(next(one.score for one in told if one.speaker == centre.speaker), abs=1e-3)


def test_a_main_of_no_name_is_said_not_to_be_judged(shop: Engine) -> None:
    owned = '[[line]]\nrole = "mains"\nitem = "old ones"\nper = "pair"\nowned = true\n'
    answer = ask(shop, "[want]\ncentre = 1\n", ACCESSORIES + owned, 2000, shops.room())
    assert answer.outcome == "optimal"
    assert any("match with them is not judged" in words for words in answer.not_judged)


def test_without_a_room_it_says_what_it_does_not_judge(shop: Engine) -> None:
    answer = ask(shop, limit=4200)
    assert answer.outcome == "optimal"
    assert answer.room == ""
    assert any("no room is given" in words for words in answer.not_judged)
    assert all("headroom_db" not in pick.quantities for pick in answer.systems[0].picks)


def test_the_number_of_subwoofers_may_be_left_to_the_plan(shop: Engine) -> None:
    both = ask(shop, WANT.replace("sub = 1", 'sub = "1 or 2"'), limit=5200, place=shops.room())
    single, double = (ask(shop, WANT.replace("sub = 1", f"sub = {n}"), limit=5200, place=shops.room()) for n in (1, 2))
    values = sorted((one.value for answer in (single, double) for one in answer.systems), reverse=True)
    np.testing.assert_allclose([one.value for one in both.systems], values[:5], atol=1e-9)


def test_an_impossible_limit_says_which_would_do_and_that_limit_does(shop: Engine) -> None:
    answer = ask(shop, limit=1500, place=shops.room())
    assert (answer.outcome, answer.systems) == ("impossible", ())
    way = next(one for one in answer.ways_out if one.obstacle == "limit")
    enough = ask(shop, limit=1500 + way.by[0], place=shops.room())
    assert enough.systems
    # it may be up to one unit more than the least
    assert not ask(shop, limit=1500 + way.by[0] - 1.01, place=shops.room()).systems


def test_a_gate_that_is_in_the_way_is_told_with_its_amount(own: Engine) -> None:
    shops.stock_shop(own, record(TOWER), record(CENTRE, width="640"))
    # the bay takes 590 mm, and the top is gone
    bay_only = shops.ROOM.replace(shops.ROOM.partition("[[place]]")[2].partition("[[place]]")[0], "", 1)
    bay_only = bay_only.replace("[[place]][[place]]", "[[place]]")
    answer = ask(own, "[want]\nmains = 2\ncentre = 1\n", place=shops.room(bay_only))
    assert answer.outcome == "impossible"
    way = next(one for one in answer.ways_out if one.obstacle == "gate")
    assert way.names == ("envelope",)
    # 640 mm and 5 mm at each side in 600 mm
    assert way.by[0] == pytest.approx(50.0)
    assert way.unit == "mm"
    assert way.words.startswith("relax the envelope gate by 50 mm for the centre at ")
    assert way.words.endswith("Wide then does")


def test_what_is_not_known_is_left_out_and_told(own: Engine) -> None:
    shops.stock_shop(
        own, record(TOWER), record(CENTRE),
        record(TOWER, model="No price", price="", currency="", price_per="", tax=""),
        record(TOWER, model="No tax", tax=""),
        record(TOWER, model="Foreign", currency="USD"),
        record(TOWER, model="No depth of bass", low_limit="", low_limit_drop=""),
        record(TOWER, model="No sensitivity", sensitivity=""),
        record(TOWER, model="Old", status="discontinued"),
        record(TOWER, model="Weak", sensitivity="78"),
        record(TOWER, model="Low load", impedance_nominal="4", impedance_minimum="3.2"),
    )  # fmt: skip
    answer = ask(own, "[want]\nmains = 2\ncentre = 1\n", place=shops.room())
    told = {one.speakers[0].removeprefix("Alder Croft Flint "): one.reason for one in answer.left_out
            if one.role == "mains" and len(one.speakers) == 1}  # fmt: skip
    assert set(told) == {
        "No price", "No tax", "Foreign", "No depth of bass", "No sensitivity", "Old", "Weak", "Low load"
    }  # fmt: skip
    assert "[rates]" in told["Foreign"]
    assert "sensitivity" in told["No sensitivity"]
    assert told["Low load"] == "fails the amplifier gate"
    assert named(answer)["mains"] == "Alder Croft Flint Tower"


def test_a_price_in_another_currency_or_before_tax_is_brought_to_the_limit(own: Engine) -> None:
    shops.stock_shop(own, record(TOWER, currency="USD", price="1000", tax="excluded", tax_rate="25"), record(CENTRE))
    answer = ask(own, "[rates]\nUSD = 0.9\n[want]\nmains = 2\ncentre = 1\n", place=shops.room())
    # 1000 USD a pair, 0.90 EUR each, and 25 % on top
    assert next(pick for pick in answer.systems[0].picks if pick.role == "mains").cost == 112500


def receive(engine: Engine, name: str, quantity: int) -> None:
    with writing(engine) as session:
        number = stored(session, name).id
        record_movement(session, StockLine(number, MovementKind.RECEIVE, quantity, "shop"))


def test_from_stock_only_what_there_is_enough_of(own: Engine) -> None:
    shops.stock_shop(own, *SHOP)
    for model, quantity in (("Slim", 2), ("Wide", 1), ("Wall", 2), ("Little", 4), ("Bass", 1)):
        receive(own, f"Alder Croft Flint {model}", quantity)
    answer = ask(own, place=shops.room(), in_stock=True)
    assert answer.systems
    assert {named(answer, rank)["mains"] for rank in range(1, len(answer.systems) + 1)} == {"Alder Croft Flint Slim"}
    assert {named(answer, rank)["centre"] for rank in range(1, len(answer.systems) + 1)} == {"Alder Croft Flint Wide"}
    assert any("in stock" in one.reason and "Alder Croft Flint Tower" in one.speakers for one in answer.left_out)


def test_one_stock_is_not_promised_to_two_roles(own: Engine) -> None:
    both = record(WALL, roles="surround;height", sold_as="either")
    shops.stock_shop(own, record(TOWER), record(CENTRE), both)
    for model, quantity in (("Tower", 2), ("Wide", 1), ("Wall", 3)):
        receive(own, f"Alder Croft Flint {model}", quantity)
    want = "[want]\nmains = 2\ncentre = 1\nsurrounds = 2\nheights = 2\n"
    too_few = ask(own, want, place=shops.room(), in_stock=True)
    assert (too_few.outcome, too_few.systems) == ("impossible", ())
    assert [one.obstacle for one in too_few.ways_out] == ["stock"]
    receive(own, "Alder Croft Flint Wall", 1)
    assert ask(own, want, place=shops.room(), in_stock=True).systems


def test_a_should_that_is_broken_is_named_with_what_it_costs(shop: Engine) -> None:
    answer = ask(shop, WANT.replace("sub = 1\n", ""), limit=4000, place=shops.room())
    assert answer.outcome == "optimal"
    # a sub that nobody wants costs nothing, though film would like one
    ((name, cost),) = answer.systems[0].shoulds.items()
    assert name != "sub_floor"
    assert f"{in_sentences(DEFAULT)[name]} ({cost:.2f})" in answer.statement
    assert name not in answer.statement


def test_an_empty_catalogue_says_what_is_lacking(own: Engine) -> None:
    answer = ask(own, place=shops.room())
    assert answer.outcome == "impossible"
    assert {one.names[0] for one in answer.ways_out} == {"mains", "centre", "surrounds", "sub"}


def test_stopped_early_it_says_so_and_how_far_off_it_may_be(shop: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planning, "LOOKED", 0.0)
    answer = ask(shop, limit=4200, place=shops.room(), time_limit=0.0)
    assert answer.outcome == "stopped_early"
    assert "stopped after" in answer.statement
    assert (answer.gap is not None) == bool(answer.systems)


@pytest.mark.parametrize("place", [shops.room(), None])
def test_a_limit_too_short_to_read_all_says_how_many_nobody_read_and_claims_nothing(
    shop: Engine, place: RoomRecord | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = ask(shop, limit=4200, place=place)
    monkeypatch.setattr(read_in_time, "READ_WHOLE", 1)
    monkeypatch.setattr(read_in_time, "READ_AT_LEAST", 2)
    answer = ask(shop, limit=4200, place=place, time_limit=0.0)
    assert (answer.outcome, answer.optimal) == ("stopped_early", False)
    # two of three, three, three and two are read
    assert any("time to read 8 of 11 loudspeakers" in words for words in answer.cautions)
    assert (answer.gap is not None) == bool(answer.systems)
    for one in answer.systems[:1]:
        # what nobody read is worth no more than is told
        assert one.value <= whole.systems[0].value <= one.value + (answer.gap or 0.0)
        assert "not all could be judged" in answer.statement
    assert not answer.next_money or not answer.next_money.proven


def test_what_stands_on_a_line_is_read_though_there_is_no_time(shop: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read_in_time, "READ_WHOLE", 0)
    monkeypatch.setattr(read_in_time, "READ_AT_LEAST", 1)
    for tower in (one for one in SHOP if one.roles == SHOP[0].roles):
        owned = f'[[line]]\nrole = "mains"\nitem = "{tower.name}"\nquantity = 2\nowned = true\n'
        want = "[want]\ncentre = 1\nsurrounds = 2\nsub = 1\n"
        answer = ask(shop, want, owned + ACCESSORIES, limit=4200, place=shops.room(), time_limit=0.0)
        assert answer.outcome == "stopped_early"
        assert all(pick.speaker == tower.name for one in answer.systems for pick in one.picks if pick.role == "mains")


@pytest.mark.parametrize("place", [shops.room(), None])
def test_a_limit_too_short_to_judge_all_says_what_nobody_judged_and_claims_nothing(
    shop: Engine, place: RoomRecord | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = ask(shop, limit=4200, place=place)
    monkeypatch.setattr(voices, "FIRST_COMPUTED", 2)
    monkeypatch.setattr(everybody, "FIRST_HEARD", 2)
    answer = ask(shop, limit=4200, place=place, time_limit=0.0)
    assert (answer.outcome, answer.optimal) == ("stopped_early", False)
    # what nobody judged is worth no more than is told
    assert (answer.gap is not None) == bool(answer.systems)
    for one in answer.systems[:1]:
        assert one.value + (answer.gap or 0.0) >= whole.systems[0].value
        assert f"a better one would be worth {answer.gap:.2f} more at most" in answer.statement
    assert "stopped after" in answer.statement
    late = {one.role for one in answer.left_out if one.reason == NO_TIME}
    assert late
    assert late <= {"mains", "centre", "surrounds"}
    assert not any(one.reason == NO_TIME for one in whole.left_out)
    assert not answer.next_money or not answer.next_money.proven
    for one in answer.systems:
        assert one.value <= whole.systems[0].value
        assert one.total <= 4200_00
