"""A plan from stock beside the plan that orders would allow: what, how many are missing, when, and for how much."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.recommender.advise.planning import shops
from tests.recommender.advise.planning.shops import BASS, CENTRE, TOWER, WALL, ask, record
from triptych.catalog.database.engine import open_catalogue, reading, writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.database.reads import stored
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stock import MovementLine, record_movement
from triptych.catalog.stock.suppliers import order, save_supplier
from triptych.recommender.advise.planning import from_stock, plan
from triptych.recommender.advise.planning.choose import choices
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.advise.planning.judgement import Judgement
from triptych.recommender.advise.planning.plan_answer import PlanAnswer, RoleOtherwise
from triptych.recommender.money.budget.rules import DEFAULT

pytestmark = pytest.mark.plan

SLIM = record(TOWER, model="Slim", low_limit="65", price="900", woofer_size="130", sensitivity="86")
BOTH = record(WALL, model="Shelf", roles="main;surround", low_limit="60", price="700", sold_as="either")
FRONT = "[want]\nmains = 2\ncentre = 1\n"
AROUND = "[want]\nmains = 2\ncentre = 1\nsurrounds = 2\n"


@pytest.fixture
def shop(sqlite_path: Path) -> Iterator[Engine]:
    engine = open_catalogue(str(sqlite_path))
    yield engine
    engine.dispose()


def stocked(engine: Engine, *records: LoudspeakerRecord, **units: int) -> None:
    """Loudspeakers in the catalogue, and so many units of some of them, by model."""
    shops.stock_shop(engine, *records)
    with writing(engine) as session:
        for model, quantity in units.items():
            number = stored(session, f"Alder Croft Flint {model}").id
            record_movement(session, MovementLine(number, MovementKind.RECEIVE, quantity, "shop"))


def ordered(engine: Engine, model: str, quantity: int, expected: date) -> None:
    with writing(engine) as session:
        save_supplier(session, "Harbour", 21)
        order(session, f"Alder Croft Flint {model}", quantity, "Harbour", expected)


def asked_from_stock(engine: Engine, want: str = FRONT, limit: float = 4000) -> PlanAnswer:
    return ask(engine, want, limit=limit, place=shops.room(), in_stock=True)


def by_role(answer: PlanAnswer) -> dict[str, RoleOtherwise]:
    assert answer.otherwise is not None
    return {one.pick.role: one for one in answer.otherwise.roles}


def test_what_would_be_chosen_is_the_plan_without_the_stock_and_is_told_beside_the_best(shop: Engine) -> None:
    soon = datetime.now(UTC).date() + timedelta(days=9)
    stocked(shop, record(TOWER, sold_as="either"), SLIM, record(CENTRE), Slim=2, Wide=1, Tower=1)
    ordered(shop, "Tower", 4, soon)
    answer, free = asked_from_stock(shop), ask(shop, FRONT, place=shops.room())
    assert answer.otherwise is not None
    chosen, best, other = answer.systems[0], free.systems[0], answer.otherwise
    assert other.value == pytest.approx(best.value)
    assert (other.total, other.left) == (best.total, best.left)
    # 1200.00 for a pair of one, 900.00 for a pair of the other
    assert other.costs_more == 30000
    assert other.gains == pytest.approx(best.value - chosen.value)
    assert (other.outcome, other.statement) == (free.outcome, free.statement)
    # the centre is the same, so it is not told
    (role,) = other.roles
    assert (role.pick.role, role.pick.speaker) == ("mains", "Alder Croft Flint Tower")
    assert role.instead_of == "2 × Alder Croft Flint Slim"
    assert (role.missing, role.when, other.when) == (1, soon, soon)
    assert "on order" in role.why


def test_where_the_best_is_in_stock_there_is_nothing_to_tell(shop: Engine) -> None:
    stocked(shop, record(TOWER), SLIM, record(CENTRE), Slim=2, Wide=1, Tower=2)
    answer = asked_from_stock(shop)
    assert {pick.speaker for pick in answer.systems[0].picks} == {"Alder Croft Flint Tower", "Alder Croft Flint Wide"}
    assert answer.otherwise is None


def test_unless_stock_is_asked_for_there_is_no_otherwise(shop: Engine) -> None:
    stocked(shop, record(TOWER), SLIM, record(CENTRE), Slim=2, Wide=1)
    assert ask(shop, FRONT, place=shops.room()).otherwise is None


def test_where_nothing_can_be_had_from_stock_the_plan_by_order_is_told(shop: Engine) -> None:
    soon = datetime.now(UTC).date() + timedelta(days=9)
    stocked(shop, record(TOWER), record(CENTRE), Wide=1)
    ordered(shop, "Tower", 2, soon)
    answer = asked_from_stock(shop)
    assert (answer.outcome, answer.systems) == ("impossible", ())
    assert answer.statement == "no system keeps the musts within the limit from stock; one that could be ordered does"
    assert answer.otherwise is not None
    assert (answer.otherwise.costs_more, answer.otherwise.gains, answer.otherwise.when) == (None, None, soon)
    told = by_role(answer)
    assert {role: (one.missing, one.instead_of) for role, one in told.items()} == {"mains": (2, ""), "centre": (0, "")}
    assert told["centre"].why == "1 available now"


def test_what_a_role_could_be_worth_is_told_though_nothing_is_there_for_it(shop: Engine) -> None:
    stocked(shop, record(TOWER), record(CENTRE))
    assert set(asked_from_stock(shop).weights) == {"front", "mains"}


def test_where_nobody_knows_when_a_part_comes_nobody_knows_of_the_whole(shop: Engine) -> None:
    stocked(shop, record(TOWER), record(CENTRE))
    ordered(shop, "Tower", 2, datetime.now(UTC).date())
    # a supplier who has never stated a price for the centre promises nothing of it
    answer = asked_from_stock(shop)
    assert by_role(answer)["centre"].when is None
    assert answer.otherwise is not None
    assert answer.otherwise.when is None


def test_if_no_order_would_help_it_says_so(shop: Engine) -> None:
    stocked(shop, record(TOWER), record(CENTRE))
    answer = asked_from_stock(shop, limit=500)
    assert answer.otherwise is None
    assert answer.statement == "no system keeps the musts within the limit, neither from stock nor ordered"


def test_a_rule_that_only_an_order_keeps_is_named(shop: Engine) -> None:
    stocked(shop, record(TOWER), record(CENTRE), record(BASS), record(BASS, model="Toy", low_limit="45", price="100"),
            Tower=2, Wide=1, Toy=1)  # fmt: skip
    answer = asked_from_stock(shop, FRONT + "sub = 1\n")
    assert "of the shoulds has cost it worth: the sub at least 15 % of the audio total" in answer.statement
    assert answer.otherwise is not None
    assert answer.otherwise.keeps == ("sub_floor",)
    assert "of the shoulds" not in answer.otherwise.statement


def test_of_a_model_in_two_roles_only_what_the_stock_lacks_is_missing(shop: Engine) -> None:
    # the wide centre loses the speech of a seat as a third one does, and sounds far worse beside these mains
    stocked(shop, BOTH, record(WALL, low_limit="140"), record(CENTRE), Shelf=4, Wall=2, Wide=1)
    answer = asked_from_stock(shop, AROUND)
    assert [pick.pieces for pick in answer.systems[0].picks if pick.speaker == "Alder Croft Flint Shelf"] == [2, 1]
    told = by_role(answer)
    assert set(told) == {"surrounds"}
    assert told["surrounds"].pick.speaker == "Alder Croft Flint Shelf"
    # mains and centre take three of four
    assert told["surrounds"].missing == 1


def test_one_pair_for_two_roles_is_refused_by_name(shop: Engine) -> None:
    stocked(shop, BOTH, record(CENTRE), Shelf=2, Wide=1)
    answer = asked_from_stock(shop, AROUND)
    assert answer.outcome == "impossible"
    (way,) = answer.ways_out
    assert (way.obstacle, way.names, way.by) == ("stock", ("Alder Croft Flint Shelf",), (2.0,))
    assert way.words == (
        "receive 2 more Alder Croft Flint Shelf: mains (2) and surrounds (2) would take 4, and 2 are available"
    )
    stocked(shop, BOTH, Shelf=2)
    assert asked_from_stock(shop, AROUND).systems


def test_each_model_of_which_more_would_do_is_named(shop: Engine) -> None:
    wall = record(WALL, roles="surround;height", price="700")
    stocked(shop, BOTH, wall, record(CENTRE), Shelf=2, Wall=2, Wide=1)
    answer = asked_from_stock(shop, AROUND + "heights = 2\n", limit=5000)
    assert {(way.names, way.by) for way in answer.ways_out} == {
        (("Alder Croft Flint Shelf",), (2.0,)),
        (("Alder Croft Flint Wall",), (2.0,)),
    }
    assert {words for way in answer.ways_out for words in ("mains", "surrounds", "heights") if words in way.words} == {
        "mains", "surrounds", "heights"
    }  # fmt: skip


def test_a_search_that_was_stopped_does_not_say_that_no_order_would_be_better(
    shop: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        plan, "unlimited", lambda ground, rules, judged, _: from_stock.unlimited(ground, rules, judged, 0.0)
    )
    stocked(shop, record(TOWER), SLIM, record(CENTRE), Slim=2, Wide=1)
    answer = asked_from_stock(shop)
    assert answer.systems
    assert answer.otherwise is None
    assert plan.NOT_SEEN in answer.not_judged


def test_what_the_stock_has_of_all_that_was_judged_is_what_is_judged_of_the_stock(shop: Engine) -> None:
    huge = record(CENTRE, model="Huge", width="900")
    quiet = record(WALL, model="Quiet", sensitivity="70", price="100")
    stocked(
        shop, record(TOWER), SLIM, BOTH, record(CENTRE), huge, record(WALL), quiet, record(BASS),
        Slim=2, Shelf=4, Wide=1, Huge=1, Quiet=2,
    )  # fmt: skip
    head = 'currency = "EUR"\nlimit = 9000\ntax_included = true\n'
    wanted = shops.wanted(shop, head + AROUND + 'sub = "1 or 2"\n')
    with reading(shop) as session:
        ground = Ground.of(session, wanted, shops.room(), in_stock=True)
        part = Judgement.of(ground.unlimited(), DEFAULT).in_stock(ground)
        alone = Judgement.of(ground, DEFAULT)
        for one, other in zip(choices(ground, DEFAULT, part), choices(ground, DEFAULT, alone), strict=True):
            assert {role: some.rows.tolist() for role, some in one.offers.items()} == {
                role: some.rows.tolist() for role, some in other.offers.items()
            }
            assert set(one.left_out) == set(other.left_out)
            assert {(each.bar, each.role, *each.names) for each in one.barred} == {
                (each.bar, each.role, *each.names) for each in other.barred
            }
            for mine, theirs in zip(one.problem.roles, other.problem.roles, strict=True):
                np.testing.assert_array_equal(mine.cost, theirs.cost)
                # mains are heard at the angle of the one that stands in the middle of all that are offered
                np.testing.assert_allclose(mine.worth, theirs.worth, rtol=1e-4 if mine.role == "mains" else 1e-9)
            everyone = np.arange(len(one.problem.mains))
            assert len(everyone)
            np.testing.assert_allclose(one.problem.match_rows(everyone), other.problem.match_rows(everyone), rtol=1e-9)
