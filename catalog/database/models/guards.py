"""The triggers and the like that the steps have made on each engine, by name: what `stock check` looks for."""

from __future__ import annotations

from typing import Final

from triptych.migrations import guards

_STEPS: Final = ("", *guards.STEPS)

GUARDS: Final[dict[str, list[str]]] = {
    engine: sorted({*(name for step in _STEPS for name in guards.names(engine, step)), "uq_movement_serial"})
    for engine in ("postgresql", "sqlite")
}
"""A test holds it to what is in a database; a later step adds the names of what it makes."""
