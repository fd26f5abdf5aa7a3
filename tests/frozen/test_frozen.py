"""Every command answers as it did: what it says, writes and refuses is held against the answers kept beside.

`python -m tests.frozen` writes the answers anew, `python -m tests.frozen stock` those of one scenario; read the
difference before you commit it.
"""

from __future__ import annotations

import re
import shlex

import pytest

from tests.frozen.playing import ANSWERS, alike, differences, leaves, play, stored
from tests.frozen.scenarios import SCENARIOS

pytestmark = pytest.mark.whole


@pytest.mark.parametrize("name", SCENARIOS)
def test_the_answers_are_those_kept(name: str) -> None:
    if told := differences(stored(name), play(SCENARIOS[name], name)):
        pytest.fail(f"{name} answers otherwise; if it should: python -m tests.frozen {name}\n{told[:20000]}", False)


def test_every_command_has_steps() -> None:
    said = [shlex.split(step.words) for name, one in SCENARIOS.items() if name != "help" for step in one.steps]
    missing = [" ".join(path) for path in leaves() if not any(tuple(words[: len(path)]) == path for words in said)]
    assert missing == []


def test_no_answer_is_kept_that_no_scenario_gives() -> None:
    assert {re.sub(r"\.txt$", "", file.name) for file in ANSWERS.iterdir()} == set(SCENARIOS)


def test_only_the_last_digits_of_a_fraction_may_differ() -> None:
    assert alike('{"a": 0.30000000000000004}', '{"a": 0.3}')
    assert alike('{"a": 1.0e-05}', '{"a": 0.00001}')
    for other in ('{"a": 0.3001}', '{"b": 0.3}', '{"a": 0.3, "c": 1.0}', '{"a": 3}', '{"a":0.3}'):
        assert not alike('{"a": 0.3}', other)
