"""Tests of many parameters, of which the quick run tries some."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import TypeVar

import pytest
from _pytest.mark import ParameterSet

T = TypeVar("T")


def quick_of(values: Iterable[T], quick: Collection[T], kind: str = "whole") -> list[ParameterSet]:
    """Give the values of a parameter, all but some marked with a kind of slow test.

    Raises
    ------
    ValueError
        One is called quick that is no value.
    """
    every = list(values)
    if unknown := [one for one in quick if one not in every]:
        raise ValueError(f"no such values: {unknown}")
    slow = getattr(pytest.mark, kind)
    return [pytest.param(one, marks=() if one in quick else slow) for one in every]


def quick_after(cases: Iterable[tuple[object, ...]], step: int, kind: str = "whole") -> list[ParameterSet]:
    """Give cases of several parameters, of which the first and each so many after it are quick."""
    slow = getattr(pytest.mark, kind)
    return [pytest.param(*case, marks=slow if place % step else ()) for place, case in enumerate(cases)]
