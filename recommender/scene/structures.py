"""Structures of arrays: cut down to some rows of all of them, or joined one after the other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from functools import cache
from operator import attrgetter
from typing import Any, Final, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.intp] | NDArray[np.bool_] | slice | int
"""Some rows of arrays."""

Structure = TypeVar("Structure", bound="Arrays")


@dataclass(frozen=True, slots=True)
class Arrays:
    """A structure of arrays, maybe within structures, that can be cut down to some rows of all of them."""

    def take(self, index: Rows) -> Self:
        """Those at `index`, in that order; what is no array stays as it is."""
        kind: Any = type(self)
        parts = _parts(kind)(self)
        # most parts are arrays, and thousands of them are cut at each question
        return type(self)(*[part[index] if type(part) is np.ndarray else _taken(part, index) for part in parts])


HELD_AS: Final = (np.ndarray, Arrays, dict, tuple)
"""What holds rows, or may."""


@cache
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(entry.name for entry in fields(kind))


@cache
def _parts(kind: Any) -> Callable[[Any], tuple[Any, ...]]:
    """What gives the parts of a structure, of which there are two at least."""
    found: Callable[[Any], tuple[Any, ...]] = attrgetter(*_names(kind))
    return found


def _taken(part: Any, index: Rows) -> Any:
    """Some rows of an array, of a structure of arrays, or of each part of a tuple or mapping."""
    if isinstance(part, np.ndarray):
        return part[index]
    if isinstance(part, Arrays):
        return part.take(index)
    if isinstance(part, tuple):
        # words and numbers, of which there are many, stay as they are
        return tuple(_taken(one, index) for one in part) if part and isinstance(part[0], HELD_AS) else part
    return {name: _taken(one, index) for name, one in part.items()} if isinstance(part, dict) else part


def joined(parts: Sequence[Structure]) -> Structure:
    """Structures of one kind as one, in their order; what is no array is as in the first of them.

    So nothing may be asked of it then that is no array and not alike in all of them.
    """
    kind: Any = type(parts[0])
    return (
        parts[0] if len(parts) == 1 else kind(*(_one([getattr(part, name) for part in parts]) for name in _names(kind)))
    )


def _one(parts: list[Any]) -> Any:
    """Arrays, structures or mappings of them, one after the other."""
    first = parts[0]
    if isinstance(first, np.ndarray):
        return np.concatenate(parts)
    if isinstance(first, Arrays):
        return joined(parts)
    return {name: _one([part[name] for part in parts]) for name in first} if isinstance(first, dict) else first
