"""Words of the command line that need no converting, taken as they stand.

typer converts every one by pydantic, even text to text; loading that takes a third of a list. What is anything but
text, a path that may be read, a word of a choice or what was left out is typer's to convert, or to refuse in its words.
"""

from __future__ import annotations

import os
from enum import Enum
from pathlib import Path
from typing import Any, Final

CONVERTED: Final = object()
"""Said of a value that is typer's to convert."""


class AsGiven:
    """Stands where typer keeps what converts a parameter, until a value comes that needs converting."""

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """Return the value as it stands, or as typer converts it."""
        taken = as_given(value, param)
        if taken is not CONVERTED:
            return taken
        param._runtime_param = None
        return param.get_runtime_param().coerce(value, param=param, ctx=ctx)


def spare_conversion(command: Any, ctx: Any) -> None:
    """Let a command's parameters take as they stand what needs no converting; a typer that works otherwise is left."""
    for param in command.get_params(ctx):
        if getattr(param, "_runtime_param", CONVERTED) is None and hasattr(param, "type_descriptor"):
            param._runtime_param = AsGiven()


def as_given(value: Any, param: Any) -> Any:
    """Return what a value of a parameter is without converting it; `CONVERTED` where it must be."""
    several = param.multiple or param.nargs == -1
    if value is None:
        return () if several else None
    if param.type_descriptor.parameter_info.parser is not None:
        return CONVERTED
    kind = param.type_descriptor.annotation
    if kind == list[str] and isinstance(value, list | tuple) and all(type(word) is str for word in value):
        return list(value)
    if several or not isinstance(kind, type):
        return CONVERTED
    if issubclass(kind, Enum):
        return next((one for one in kind if value is one or value == str(one.value)), CONVERTED)
    if kind is Path and isinstance(value, str):
        return _path(value, param.type_descriptor.parameter_info)
    # of numbers only what is the default, whose bounds nobody need look at
    return value if type(value) is kind and (kind is str or value is param.default) else CONVERTED


def _path(text: str, asked: Any) -> Any:
    plain = asked.file_okay and asked.dir_okay and not (asked.exists or asked.writable)
    plain = plain and not (asked.resolve_path or asked.path_type or asked.allow_dash)
    unreadable = asked.readable and os.path.exists(text) and not os.access(text, os.R_OK)
    return Path(text) if plain and not unreadable else CONVERTED
