"""What is taken as it stands is what typer would have made of it: held against typer itself, for every parameter."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.doors import leaves
from triptych.catalog.cli.as_given import CONVERTED, as_given, spare_conversion

WORDS = ("", "two words", "table", "json", "TABLE", "3", "point", "no/such/file", "-", "\u017eluv")


def _typers(param: Any, value: Any) -> Any:
    """What typer makes of a value, or the kind of its refusal."""
    param._runtime_param = None
    try:
        return param.get_runtime_param().coerce(value, param=param, ctx=None)
    except Exception as refused:
        return type(refused)


def test_what_is_taken_as_it_stands_is_what_typer_makes_of_it(tmp_path: Path) -> None:
    if not hasattr(next(leaves())[1].params[0], "type_descriptor"):
        pytest.skip("this typer converts otherwise, and is left alone")
    file = tmp_path / "there.toml"
    file.write_text("", encoding="utf-8")
    seen: dict[Any, Any] = {}
    for _, command in leaves():
        for param in command.params:
            descriptor = param.type_descriptor
            kind = (str(descriptor.annotation), descriptor.parameter_info.parser, param.multiple, param.nargs)
            seen.setdefault((kind, repr(param.default)), param)
    taken = 0
    for param in seen.values():
        several = param.multiple or param.nargs == -1
        for word in (*WORDS, str(file), str(tmp_path), None, param.default):
            value = (word, word) if several and isinstance(word, str) else word
            given = as_given(value, param)
            taken += given is not CONVERTED
            if given is not CONVERTED:
                theirs = _typers(param, value)
                assert (type(given), given) == (type(theirs), theirs), (param.name, value)
    assert taken > 150


def test_a_typer_that_works_otherwise_is_left_alone() -> None:
    older = SimpleNamespace(_runtime_param=None)
    spare_conversion(SimpleNamespace(get_params=lambda ctx: [older, SimpleNamespace()]), None)
    assert older._runtime_param is None
