"""Budgets, their rules, and plans of whole systems."""

from __future__ import annotations

from typing import Final

from tests.frozen.playing import Scenario, asked, done, refused
from tests.frozen.rooms_and_papers import BAD_BUDGET, BAD_RULES, BUDGET, PLAN, RULES, WHOLE_PLAN

TOWER: Final = "'Bramble Thatch Trivet Tower'"
STACKED: Final = "'Bramble Thatch Trivet Stacked Centre'"
MILL: Final = "--room 'Mill House'"
LOFT: Final = "--room 'Sail Loft'"

BUDGETS: Final = Scenario(
    (
        *asked("check", "budget check budget.toml", wide=True),
        *asked("music", "budget check budget.toml --rules music-first", wide=False),
        *asked("own", "budget check budget.toml --rules rules.toml", wide=False, csv=False),
        *asked("rules", "budget rules list"),
        *asked("film", "budget rules show film-first"),
        *done("budget rules export music-first"),
        *done("budget rules export film-first -o film.toml", "film.toml"),
        *done("budget rules copy film-first mine"),
        *done("budget rules edit mine --rule sub_cap --kind must --factor '30 %' --why 'less bass'"),
        *refused("budget rules edit mine --rule sub_floor --kind must --factor 0.9"),
        *done("budget rules edit mine --rule sub_floor --remove"),
        *asked("mine", "budget rules show mine", wide=False),
        *done("budget rules export mine"),
        *done("budget rules import rules.toml"),
        *done("budget rules import rules.toml --name theirs"),
        *done("budget check budget.toml --rules theirs"),
        *done("budget rules remove theirs"),
        *done("budget rules list"),
        *refused(
            "budget check bad.toml",
            "budget check broken.toml",
            "budget check nowhere.toml",
            "budget check budget.toml --rules nobody",
            "budget check budget.toml --rules bad_rules.toml",
            "budget rules show nobody",
            "budget rules copy nobody x",
            "budget rules copy film-first mine",
            "budget rules edit mine --rule nothing --factor 1",
            "budget rules edit film-first --rule sub_cap --factor 1",
            "budget rules edit mine --rule sub_cap --factor lots",
            "budget rules edit mine --rule sub_cap --kind might",
            "budget rules import bad_rules.toml",
            "budget rules remove film-first",
            "budget rules remove theirs",
            "budget rules export mine -o no/such/folder.toml",
        ),
        *refused(
            "budget check", "budget rules edit mine", "budget rules edit mine --rule sub_cap", "budget rules", code=2
        ),
    ),
    {
        "budget.toml": BUDGET,
        "bad.toml": BAD_BUDGET,
        "broken.toml": "limit = = 3\n",
        "rules.toml": RULES,
        "bad_rules.toml": BAD_RULES,
    },
)

PLANS: Final = Scenario(
    (
        *asked("plan", f"budget plan plan.toml {MILL}"),
        *done("budget plan plan.toml --rules music-first"),
        *done(f"budget plan poor.toml {LOFT} --rules music-first"),
        *asked("whole", f"budget plan whole.toml {MILL}", wide=False),
        *refused(
            f"budget plan budget.toml {MILL}",
            f"budget plan bad.toml {MILL}",
            "budget plan plan.toml --room Nowhere",
            f"budget plan plan.toml {MILL} --rules nobody",
        ),
        *done(f"stock receive {TOWER} -l shop -n 2"),
        *done(f"stock receive {STACKED} -l shop"),
        *done("stock receive 'Bramble Thatch Trivet Wall' -l shop -n 2"),
        *done("stock receive 'Oat Harbour Bollard Small' -l shop"),
        *asked("in_stock", f"budget plan plan.toml {MILL} --in-stock", wide=False, csv=False),
        *asked("match", f"match {MILL} --in-stock --top 1", wide=False),
        *done("speaker list --in-stock"),
        *refused(f"budget plan plan.toml {MILL} --time-limit -1"),
        *refused("budget plan", code=2),
    ),
    {
        "plan.toml": PLAN,
        "poor.toml": PLAN.replace("7000", "900"),
        "whole.toml": WHOLE_PLAN,
        "budget.toml": BUDGET,
        "bad.toml": PLAN + BAD_BUDGET,
    },
)
