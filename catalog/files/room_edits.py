"""A room changed key by key: the keys of its file, by where they stand."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from triptych.catalog.errors import BadInput, Overtaken
from triptych.catalog.fields import SECTIONS
from triptych.catalog.files.rooms import room_from_table, toml_of
from triptych.catalog.inputs import toml
from triptych.catalog.names import name_key
from triptych.catalog.problems import nearest
from triptych.catalog.records import RoomRecord

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from triptych.catalog.database.changes import Saved


def edited_room(
    room: RoomRecord, changes: Mapping[str, str], added: Iterable[str] = (), removed: Iterable[str] = ()
) -> RoomRecord:
    """Return a room with seats and places added, keys changed, and parts taken away.

    Parameters
    ----------
    changes : mapping of str to str
        Texts by key, such as `name`, `screen.bottom` or `seat.middle.distance`; an empty one takes the key out.
    added, removed : iterable of str
        Parts, such as `seat.middle`; of what is removed also a whole section, such as `screen`.

    Raises
    ------
    BadInput
        A key or a part is not there, or with everything that is wrong in the room that it would be.
    """
    data = toml(toml_of(room), room.name)
    for part in added:
        _add(data, part)
    for part in removed:
        _remove(data, part)
    for path, text in changes.items():
        table, key = _at(data, path)
        if text:
            table[key] = text
        else:
            table.pop(key, None)
    return room_from_table(data, "the room as it would be")


def _at(data: dict[str, Any], path: str) -> tuple[dict[str, Any], str]:
    """The table that a path leads to, and the key in it."""
    if path == "name":
        return data, path
    section, rest = _section(path)
    if not section.repeated:
        return data.setdefault(section.name, {}), rest
    name, _, key = rest.rpartition(".")
    if not name:
        raise BadInput(f"{path}: write {section.name}, its name and a key, such as {section.name}.{rest or 'x'}.name")
    return _part(data, section.name, name), key


def _section(path: str) -> tuple[Any, str]:
    name, _, rest = path.partition(".")
    if name not in SECTIONS:
        raise BadInput(f"{path}: {name!r} is no section of a room; {nearest(name, ['name', *SECTIONS])}")
    return SECTIONS[name], rest


def _part(data: Mapping[str, Any], section: str, name: str) -> dict[str, Any]:
    parts = {name_key(one["name"]): one for one in data.get(section, [])}
    if name_key(name) not in parts:
        known = [one["name"] for one in parts.values()]
        raise BadInput(f"no {section} is named {name!r}; {nearest(name, known) if known else 'there is none'}")
    found: dict[str, Any] = parts[name_key(name)]
    return found


def _add(data: dict[str, Any], path: str) -> None:
    section, name = _section(path)
    if not section.repeated or not name_key(name):
        raise BadInput(f"{path}: a seat or a place can be added, such as place.shelf")
    data.setdefault(section.name, []).append({"name": name})


def _remove(data: dict[str, Any], path: str) -> None:
    section, name = _section(path)
    if section.repeated:
        data[section.name].remove(_part(data, section.name, name))
    elif name:
        raise BadInput(f"{path}: a section goes whole; one key is left empty, --set {path}=")
    elif data.pop(section.name, None) is None:
        raise BadInput(f"the room has no [{section.name}]")


def digest(room: RoomRecord) -> str:
    """What tells whether somebody has changed a room since it was looked at."""
    return hashlib.sha256(toml_of(room).encode()).hexdigest()[:32]


def keep_room(session: Session, room: RoomRecord, seen: tuple[str, str] | None) -> Saved:
    """Add a room, or put it in the place of the one that was looked at.

    Parameters
    ----------
    seen : tuple of str or None
        The name of the room that was looked at, and its digest then; None for a new one.

    Raises
    ------
    BadInput
        A new one has the name of one that is there, or it can't be stored. Nothing was written.
    Overtaken
        Somebody has changed the room since. Nothing was written.
    """
    from triptych.catalog.database.reads import room as stored
    from triptych.catalog.database.reads import rooms
    from triptych.catalog.database.writes import replace_room, save_room

    if seen is None:
        if name_key(room.name) in map(name_key, rooms(session)):
            raise BadInput(f"a room is named {room.name!r} already: give this one a name of its own, or open that one")
        return save_room(session, room)
    name, before = seen
    if digest(stored(session, name, hold=True)) != before:
        raise Overtaken(
            f"somebody has changed {name!r} since you looked at it; nothing was written. Open it again and look"
        )
    return replace_room(session, name, room)
