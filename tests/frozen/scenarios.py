"""What is asked of the command line, in order, a catalogue a scenario."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from tests.frozen.advice import CURVES, MATCH, PAPERS, WEIGHTS
from tests.frozen.catalogue import DATASHEETS, EQUIPMENT_STEPS, NAMES, ROOMS, SPEAKERS
from tests.frozen.money import BUDGETS, PLANS
from tests.frozen.playing import Scenario, Step, program
from tests.frozen.shop import BACKUP, QUOTES, STOCK, SUPPLIERS, WEEK


def _helps(group: Any, words: str) -> Iterator[Step]:
    yield Step(f"{words} --help".strip())
    for name in group.list_commands(None) if hasattr(group, "list_commands") else ():
        yield from _helps(group.get_command(None, name), f"{words} {name}".strip())


SCENARIOS: Final = {
    "help": Scenario((Step("--version"), *_helps(program(), "")), seeded=False),
    "speakers": SPEAKERS,
    "names": NAMES,
    "datasheets": DATASHEETS,
    "equipment": EQUIPMENT_STEPS,
    "rooms": ROOMS,
    "match": MATCH,
    "curves": CURVES,
    "weights": WEIGHTS,
    "budgets": BUDGETS,
    "plans": PLANS,
    "papers": PAPERS,
    "stock": STOCK,
    "quotes": QUOTES,
    "suppliers": SUPPLIERS,
    "week": WEEK,
    "backup": BACKUP,
}
