"""One loudspeaker that a list names under two labels: 'Product: Wren Y6 bookshelf' and 'Model No.: Y6'."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.name_parts import bare_name, describes_only
from triptych.catalog.names import name_key


def called_once(entries: Sequence[SheetEntry]) -> list[SheetEntry]:
    """Return entries in which a longer name that another label says in short, or a description, is no second model.

    Two names that share nothing stay, so that the model is refused and asked.
    """
    named = [entry for entry in entries if entry.topic == "model"]
    short = [one for one in named if not any(_is_part(other, one) for other in named)]
    return [replace(one, topic="role") if one in named and one not in short else one for one in entries]


def _is_part(short: SheetEntry, whole: SheetEntry) -> bool:
    """Whether one says the end of what the other does, or the other only says what kind of thing it is."""
    names = [name_key(bare_name(one.said)).split() for one in (short, whole)]
    if names[0] == names[1] or not names[0] or describes_only(short.said):
        return False
    return describes_only(whole.said) or names[1][-len(names[0]) :] == names[0]
