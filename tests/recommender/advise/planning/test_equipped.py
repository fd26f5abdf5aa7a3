"""A whole system with what drives, bears and joins it: against trying everything, and each demand at its edge."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.recommender.advise.planning import shops
from tests.recommender.advise.planning.every_rack import RULES, bare_systems, everything, piece, rack
from tests.recommender.advise.planning.shops import ACCESSORIES, BASS, CENTRE, TOWER, WALL, WANT, ask, record
from triptych.catalog.database.engine import open_catalogue, writing
from triptych.catalog.database.equipment_rows import save_equipment
from triptych.catalog.equipment_record import EquipmentRecord
from triptych.catalog.records import Role
from triptych.catalog.words import EquipmentKind, SaleUnit, Tax
from triptych.recommender.advise.planning.plan_answer import PlanAnswer
from triptych.recommender.money.budget.check import BudgetVerdict
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.rules import DEFAULT, FILM_FIRST, Duty

pytestmark = pytest.mark.plan

SMALL = record(TOWER, model="Stand", height="330", axis_height="200", layout="TM", midrange_size="", midrange_count="",
               woofer_count="1", woofer_spacing="", crossover="2600", low_limit="52", weight="8 kg",
               price="640")  # fmt: skip
SHOP = (
    record(TOWER),
    record(TOWER, model="Low", impedance_nominal="4", impedance_minimum="3.3", price="1500", low_limit="38"),
    SMALL,
    record(CENTRE),
    record(CENTRE, model="Low Wide", impedance_nominal="4", impedance_minimum="3.3", price="720", low_limit="52"),
    record(WALL, weight="4 kg"),
    record(WALL, model="Heavy Wall", low_limit="70", price="520", weight="11 kg"),
    record(BASS),
)
RUNS = '[runs]\nmains = "4 m"\ncentre = 2\nsurrounds = "9 m"\nsub = "5 m"\n'


@pytest.fixture
def shop(sqlite_path: Path) -> Iterator[Engine]:
    engine = open_catalogue(str(sqlite_path))
    shops.stock_shop(engine, *SHOP)
    yield engine
    engine.dispose()


def keep(engine: Engine, *pieces: EquipmentRecord) -> None:
    with writing(engine) as session:
        save_equipment(session, pieces)


@pytest.mark.parametrize("seed", range(12))
def test_the_best_system_with_equipment_is_that_of_trying_everything(shop: Engine, seed: int) -> None:
    pieces = rack(seed)
    keep(shop, *pieces)
    systems = bare_systems(shop, pieces)
    for limit in (3200, 4200, 6000):
        expected = everything(systems, pieces, limit)
        answer = ask(shop, WANT + RUNS, "", limit, rules=RULES)
        receivers = any(one.kind is EquipmentKind.RECEIVER and (one.sub_outputs or 0) for one in pieces)
        if not expected:
            # without a receiver that could drive it all, it is told and nothing is chosen
            assert answer.outcome == "impossible" or not any(
                one.role == "electronics" for one in answer.systems[0].equipment
            )
            continue
        assert receivers
        best = answer.systems[0]
        assert best.value == pytest.approx(expected[0].value, abs=1e-9)
        assert best.total == expected[0].cost
        ties = {one.names for one in expected if (one.value, one.cost) == (expected[0].value, expected[0].cost)}
        chosen = {pick.speaker for pick in best.picks} | {
            one.item for one in best.equipment if one.role == "electronics"
        }  # fmt: skip
        assert frozenset(chosen) in ties
        assert best.check.verdict is not BudgetVerdict.FAIL
        assert all(one.holds for one in best.check.fits if one.rule.kind is Duty.MUST)


R7 = piece(
    EquipmentKind.RECEIVER, "Seven", 700, channels=7, sub_outputs=1, power=120.0, power_into=8.0, lowest_load=6.0
)
LOW7 = replace(R7, model="Low Seven", price=Decimal(1100), lowest_load=4.0)
STAND = piece(EquipmentKind.STAND, "Post", 120, bears=20.0, price_per=SaleUnit.PAIR)


def electronics(answer: PlanAnswer) -> list[str]:
    return [one.item for one in answer.systems[0].equipment if one.role == "electronics"]


def test_a_plan_without_a_receiver_says_so_first_and_chooses_one(shop: Engine) -> None:
    keep(shop, R7, STAND)
    answer = ask(shop, lines="")
    assert answer.lacks == (
        "nothing plays without a receiver or an amplifier, and no line has one: one is chosen; add a [[line]] of "
        "electronics, owned = true if it is there",
    )
    assert electronics(answer) == ["Tallow Seven"]
    best = answer.systems[0]
    assert best.total == sum(one.cost for one in best.picks) + sum(one.cost for one in best.equipment)
    first, second = answer.order[:2]
    assert (first.role, first.plays, second.role, second.plays) == ("electronics", "", "mains", "2.0")
    assert answer.order[-1].plays == "5.1"


def test_what_is_chosen_is_driven_and_the_dearer_receiver_must_earn_its_price(shop: Engine) -> None:
    keep(shop, R7, LOW7)
    low = {"Alder Croft Flint Low", "Alder Croft Flint Low Wide"}
    dear, cheap = ask(shop, lines="", limit=9000), ask(shop, lines="", limit=3000)
    for answer in (dear, cheap):
        chosen = {pick.speaker for pick in answer.systems[0].picks}
        assert electronics(answer) == (["Tallow Low Seven"] if chosen & low else ["Tallow Seven"])
    assert {pick.speaker for pick in dear.systems[0].picks} & low


def test_the_next_best_are_other_loudspeakers_and_not_other_receivers(shop: Engine) -> None:
    keep(shop, R7, LOW7)
    answer = ask(shop, lines="", limit=9000)
    named = [tuple(pick.speaker for pick in one.picks) for one in answer.systems]
    assert len(set(named)) == len(named) == 5


def test_a_line_of_electronics_stands_and_binds(shop: Engine) -> None:
    keep(shop, R7, LOW7, STAND)
    owned = '[[line]]\nrole = "electronics"\nitem = "tallow seven"\nowned = true\n'
    answer = ask(shop, lines=owned, limit=9000)
    assert (answer.lacks, electronics(answer)) == ((), [])
    assert not {pick.speaker for pick in answer.systems[0].picks} & {
        "Alder Croft Flint Low",
        "Alder Croft Flint Low Wide",
    }
    bought = ask(shop, lines=owned.replace("owned = true", ""), limit=9000)
    assert bought.systems[0].total == answer.systems[0].total + 70_000
    with pytest.raises(BadBudget, match=r"decodes for 7 loudspeakers, and there are 9; want fewer"):
        ask(shop, WANT.replace("surrounds = 2", "surrounds = 6"), owned)


def test_no_receiver_is_known_to_drive_it_all_and_that_is_told(shop: Engine) -> None:
    keep(shop, replace(R7, channels=3))
    answer = ask(shop, lines="")
    assert electronics(answer) == []
    assert answer.lacks[0].endswith("none of the catalogue is known to drive 5 loudspeakers")
    weak = ask(shop, lines="", place=shops.room(shops.ROOM.replace("power = 95", "power = 500")))
    assert weak.lacks[0].endswith("as well as the room's amplifier")


def test_pre_outs_and_an_amplifier_do_for_heights(shop: Engine) -> None:
    five = replace(R7, model="Five", channels=4, processed_channels=7, preamplifier_outputs=2, price=Decimal(400))
    two = piece(EquipmentKind.AMPLIFIER, "Two", 200, channels=1, power=100.0, power_into=8.0, lowest_load=4.0)
    keep(shop, five, two, replace(R7, model="Dear", price=Decimal(2000)))
    answer = ask(shop, lines="")
    assert electronics(answer) == ["Tallow Five", "Tallow Two"]


def test_stands_go_under_what_is_no_tower_and_what_none_bears_is_left_out(shop: Engine) -> None:
    keep(shop, R7, STAND)
    only = WANT.replace("surrounds = 2\nsub = 1\n", "")
    answer = ask(shop, only, "", limit=2200)
    stands = [(one.item, one.quantity, one.serves) for one in answer.systems[0].equipment if one.role == "accessories"]
    chosen = {pick.role: pick.speaker for pick in answer.systems[0].picks}
    assert stands == ([("Tallow Post", 2, "mains")] if chosen["mains"] == SMALL.name else [])
    keep(shop, replace(STAND, bears=15.9))
    left = {one.reason: one.speakers for one in ask(shop, only, "", limit=2200).left_out}
    assert left["no stand or mount of the catalogue is known to bear it"] == (SMALL.name,)


def test_electronics_and_accessories_are_left_out_where_that_is_said(shop: Engine) -> None:
    keep(shop, R7, STAND)
    assert ask(shop, WANT + "electronics = 0\naccessories = 0\n", "").systems[0].equipment == ()
    assert ask(shop, lines=ACCESSORIES).systems[0].equipment[0].item == "Tallow Seven"
    both = ask(shop, WANT + "accessories = 1\n" + RUNS, ACCESSORIES)
    assert {one.role for one in both.systems[0].equipment} == {"electronics", "accessories"}
    with pytest.raises(BadBudget, match="want: electronics = 2; write 1"):
        ask(shop, WANT + "electronics = 2\n", "")


def test_prices_are_brought_to_the_basis_of_the_limit(shop: Engine) -> None:
    keep(shop, replace(R7, price=Decimal(100), tax=Tax.EXCLUDED, tax_rate=25.0, currency="USD"))
    answer = ask(shop, lines="", head="rates = {USD = 0.8}\n")
    assert [one.cost for one in answer.systems[0].equipment] == [10_000]
    without = ask(shop, lines="")
    assert electronics(without) == []
    assert [one.reason for one in without.left_out if one.role == "electronics"] == [
        "its price is in USD, and there is no rate for it under [rates]"
    ]


def test_money_in_steps_buys_what_plays(shop: Engine) -> None:
    keep(shop, R7)
    answer = ask(shop, lines="", head="steps = [1000, 1500, 5000]\n")
    steps = {one.role: one.step for one in answer.order}
    assert steps["electronics"] == steps["mains"] == 2
    assert DEFAULT is FILM_FIRST


def test_a_should_on_what_fits_that_is_broken_is_not_called_kept(shop: Engine) -> None:
    keep(shop, replace(R7, power=None, power_into=None))
    assert "power_fit" not in ask(shop, lines="").statement
    weak = replace(R7, power=1.0)
    keep(shop, weak)
    thirsty = [replace(one, amplifier_min=90.0) for one in SHOP if Role.SUB not in one.roles]
    shops.stock_shop(shop, *thirsty)
    assert "what does not fit: the power" in ask(shop, lines="").statement


@pytest.mark.parametrize(("bears", "item"), [(7.9, "Tallow Strong Hook"), (8.0, "Tallow Hook")])
def test_a_mount_is_chosen_that_is_rated_for_twice_what_hangs_on_it(shop: Engine, bears: float, item: str) -> None:
    """Four kilograms on each: the cheaper one only where it is rated for eight."""
    hook = piece(EquipmentKind.MOUNT, "Hook", 10, bears=bears)
    keep(shop, hook, replace(hook, model="Strong Hook", price=Decimal(20), bears=8.0))
    found = ask(shop, "[want]\nsurrounds = 2\n", "", limit=450).systems[0]
    assert [one.item for one in found.equipment if one.serves == "surrounds"] == [item]


def test_a_receiver_takes_as_low_a_load_as_the_rooms_amplifier_and_as_what_stands_on_lines(shop: Engine) -> None:
    """The cheaper one down to 6 ohm, the dearer to 4: by the room's amplifier, and by what is owned of 4 ohm."""
    keep(shop, R7, LOW7)
    some = "[want]\ncentre = 1\n"
    for lowest, item in ((6, "Tallow Seven"), (5.9, "Tallow Low Seven"), (4, "Tallow Low Seven")):
        place = shops.room(shops.ROOM.replace("lowest_load = 6", f"lowest_load = {lowest}"))
        assert electronics(ask(shop, "[want]\nmains = 2\n", "", limit=2400, place=place)) == [item]
    for mains, item in (("Tower", "Tallow Seven"), ("Low", "Tallow Low Seven")):
        for role in ("mains", "surrounds"):
            line = f'[[line]]\nrole = "{role}"\nitem = "Alder Croft Flint {mains}"\nowned = true\n'
            assert electronics(ask(shop, some, line, limit=1900)) == [item]
