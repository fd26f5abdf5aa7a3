"""Commands that take one option a column of a file, so that help and file format cannot drift apart."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from typing import Annotated, Any

import typer

from triptych.catalog.fields import Field

Command = Callable[..., None]


def option_a_column(columns: Mapping[str, Field], **others: Any) -> Callable[[Command], Command]:
    """Give a command an option for each column, then the `others` by name, each with its annotation."""
    keyword = inspect.Parameter.KEYWORD_ONLY

    def with_options(command: Command) -> Command:
        parameters = [
            inspect.Parameter(
                name,
                keyword,
                default=None,
                annotation=Annotated[
                    str | None, typer.Option(f"--{name.replace('_', '-')}", help=column.help, show_default=False)
                ],
            )
            for name, column in columns.items()
        ]
        parameters += [
            inspect.Parameter(name, keyword, default=None, annotation=annotation) for name, annotation in others.items()
        ]
        vars(command)["__signature__"] = inspect.Signature(parameters)
        command.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
        return command

    return with_options
