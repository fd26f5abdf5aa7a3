"""A room changed key by key: the keys of its file, by where they stand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from triptych.catalog.errors import BadInput
from triptych.catalog.fields import SECTIONS
from triptych.catalog.files.rooms import room_from_table, toml_of
from triptych.catalog.inputs import toml
from triptych.catalog.names import name_key
from triptych.catalog.problems import nearest
from triptych.catalog.records import RoomRecord


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
