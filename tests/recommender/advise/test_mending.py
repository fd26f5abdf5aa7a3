"""What a mend's money would buy of the catalogue is judged by the same code as the budget."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.recommender.budget.shopping import ACCESSORIES, CENTRE, ELECTRONICS, MAINS, SUB, head, line
from triptych.recommender.api import open_catalogue
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.mend import MendOutcome, with_amounts

pytestmark = pytest.mark.whole


@pytest.mark.parametrize(
    "lines",
    [
        (MAINS, CENTRE, line("surrounds", 1350, "pair"), SUB, ELECTRONICS, ACCESSORIES),
        (MAINS, line("centre", 400), line("surrounds", 400, "pair"), SUB, ELECTRONICS, ACCESSORIES),
        (line("mains", 2400, "pair"), line("centre", 300), SUB, line("surrounds", 0, "pair"), ACCESSORIES),
    ],
)
def test_products_in_place_of_the_money_keep_what_the_mend_keeps(
    seeded_template: Path, tmp_path: Path, lines: tuple[str, ...]
) -> None:
    file = tmp_path / "budget.toml"
    file.write_text(head() + "".join(lines), encoding="utf-8")
    with open_catalogue(str(shutil.copy(seeded_template, tmp_path / "c.db"))) as opened:
        judged, mended = opened.check_budget(file)
    assert mended.outcome is MendOutcome.MENDED
    assert mended.products
    amounts = list(mended.amounts)
    for product in mended.products:
        assert amounts[product.line] != judged.budget.lines[product.line].amount
        amounts[product.line] = product.cost
    after = check(with_amounts(judged.budget, amounts))
    assert not after.over
    assert not after.broken
    assert {one.rule.name for one in after.results if not one.holds} <= set(mended.stays)
