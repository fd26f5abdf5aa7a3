"""The room as a form: the keys of a room file as fields, drawn anew at each change, read by the file's own reader."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any, Final

from markupsafe import Markup
from starlette.responses import Response

from triptych.catalog.database import reads
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Overtaken
from triptych.catalog.fields import ROOM_NAME, SECTIONS
from triptych.catalog.files.room_edits import digest, keep_room
from triptych.catalog.files.rooms import room_from_toml, room_or_problems, toml_of
from triptych.catalog.inputs import MOST_TOML, toml
from triptych.catalog.number_texts import typed
from triptych.catalog.numerals import ordinal
from triptych.catalog.problems import Problem
from triptych.catalog.quantities import Kind
from triptych.catalog.records import LoudspeakerRecord, RoomRecord
from triptych.recommender.advise.surveying import Supposed, surveyed
from triptych.recommender.drawing.drawn_numbers import Unit, length
from triptych.recommender.drawing.floor_plan import FloorPlan, plan
from triptych.recommender.drawing.front_elevation import Front, front
from triptych.recommender.page.asked import Pairs, Visit, address
from triptych.recommender.page.rendering import moved, shown
from triptych.recommender.page.room_fields import Texts, field_of, parts_of
from triptych.recommender.report.page import inlined

FORM: Final = "the form"
"""What the problems of a form call their file; the page shows them at their fields."""

USUAL: Final[Mapping[str, str]] = {
    "name": "My room",
    "screen.aspect": "16:9",
    "seat.1.name": "middle",
    "place.1.name": "under the picture",
}
"""What a new form begins with; it stands in its field and can be changed."""

OWN_BUTTON: Final = "own"
"""The name of the button that makes what is supposed somebody's own: a path, a sign of equality and a text."""

LONGEST_PATH: Final = 60
"""More characters than the name of any field has."""

MOST_PARTS: Final = 24
"""More seats or places than a form needs."""

_INCHES: Final = re.compile(r"\d\s*(?:in\b|inch|ft\b|feet|foot|[\"'”’″′])", re.IGNORECASE)
_MILLIMETRES: Final = re.compile(r"(\d+)( mm| to (?=\d+ mm))")
_WHERE: Final = re.compile(r"\[\[?(\w+)\]?\](?: (\d+))?")


def room(asked: Visit) -> Response:
    """The form of a room: a stored one, what is being typed, or a new one; with the rooms that there are."""
    texts = typed_in(asked.query)
    seen = ("", "")
    name = "" if asked.word("new") == "yes" else asked.word("room")
    rooms, stored = [], None
    if not asked.fragment or not texts:
        with reading(asked.catalogue.engine) as session:
            rooms = reads.rooms(session)
            stored = reads.room(session, name) if name else None
    if stored is not None:
        seen = (stored.name, asked.word("seen") or digest(stored))
        texts = texts or texts_of(stored)
    fresh = not texts
    if fresh:
        texts = dict(USUAL) | ({"mains.speaker": asked.word("mains")} if asked.word("mains") else {})
    return _page(asked, rooms, texts, seen, fresh=fresh)


def keep(asked: Visit) -> Response:
    """Store the room of the form, in the place of the one that was opened."""
    texts = typed_in(asked.form)
    seen = (asked.word("seen_name"), asked.word("seen"))
    found, problems = room_or_problems(table_of(texts), FORM)
    told = ""
    if found is not None:
        try:
            found = _with_known_mains(asked, found)
            with writing(asked.catalogue.engine) as session:
                keep_room(session, found, seen if seen[0] else None)
            changes = {"mains": found.mains.speaker} if found.mains.speaker else {}
            return moved(asked.link("/centres", room=found.name, **changes))
        except NotFound as problem:
            problems = [Problem(FORM, "[mains]", "speaker", str(problem))]
        except Overtaken as problem:
            told = str(problem)
        except BadInput as problem:
            problems = [Problem(FORM, "", "name", str(problem))]
    with reading(asked.catalogue.engine) as session:
        rooms = reads.rooms(session)
    return _page(asked, rooms, texts, seen, problems=problems, told=told, status=409 if told else 422)


def _with_known_mains(asked: Visit, found: RoomRecord) -> RoomRecord:
    """The room with its mains as the catalogue spells them; refused where it has none of that name."""
    from dataclasses import replace

    if not found.mains.speaker:
        return found
    with reading(asked.catalogue.engine) as session:
        named = reads.loudspeaker(session, found.mains.speaker).name
    return replace(found, mains=replace(found.mains, speaker=named))


def take_file(asked: Visit) -> Response:
    """Take a room file, as `room import` does; it is shown in the form before it is kept."""
    upload = asked.files.get("file")
    if upload is None:
        raise BadInput("no file was chosen: choose a room in TOML")
    if len(upload.content) > MOST_TOML:
        raise BadInput(f"{upload.name[:80]}: is larger than any room that a person writes")
    try:
        text = upload.content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput(f"{upload.name[:80]}: is not text in UTF-8; save it so") from None
    found = room_from_toml(text, upload.name[:80])
    return moved(address("/room", (*asked.state, *texts_of(found).items(), ("new", "yes"))))


def as_file(asked: Visit) -> Response:
    """The stored room as TOML."""
    with reading(asked.catalogue.engine) as session:
        found = reads.room(session, asked.word("room"))
    headers = {"content-disposition": 'attachment; filename="room.toml"'}
    return Response(toml_of(found), media_type="application/toml", headers=headers)


def typed_in(pairs: Pairs) -> Texts:
    """What stands in the fields of a room, by path, with seats and places numbered from one without gaps."""
    removed = next((value for key, value in pairs if key == "remove"), "")
    texts = {key: value.strip() for key, value in pairs if _is_field(key)}
    if removed:
        texts = {key: value for key, value in texts.items() if not key.startswith(f"{removed}.")}
    rows: dict[tuple[str, int], Texts] = {}
    single: Texts = {}
    for key, value in texts.items():
        section, _, rest = key.partition(".")
        if section in SECTIONS and SECTIONS[section].repeated:
            number, _, name = rest.partition(".")
            rows.setdefault((section, int(number)), {})[name] = value
        else:
            single[key] = value
    counts: dict[str, int] = {}
    primary = next((value for key, value in pairs if key == "primary"), "")
    for (part, row), values in sorted(rows.items(), key=lambda item: item[0]):
        if not any(values.values()):
            continue
        counts[part] = counts.get(part, 0) + 1
        single |= {f"{part}.{counts[part]}.{name}": text for name, text in values.items()}
        if part == "seat" and primary == str(row):
            single["primary"] = str(counts[part])
    for path, _, value in (said.partition("=") for key, said in pairs if key == OWN_BUTTON):
        if _is_field(path) and not single.get(path):
            single[path] = value
    for section in (value for key, value in pairs if key == "add" and value in ("seat", "place")):
        single[f"{section}.{counts.get(section, 0) + 1}.name"] = ""
    return single


def _is_field(key: str) -> bool:
    return len(key) <= LONGEST_PATH and _names_a_field(key)


@lru_cache(maxsize=1024)  # the same keys come with each request
def _names_a_field(key: str) -> bool:
    if key == "name":
        return True
    section, _, rest = key.partition(".")
    if section not in SECTIONS:
        return False
    if not SECTIONS[section].repeated:
        return rest in SECTIONS[section].keys
    number, _, name = rest.partition(".")
    return ordinal(number, MOST_PARTS) > 0 and name in SECTIONS[section].keys


def texts_of(room: RoomRecord) -> Texts:
    """A room as the texts of the form: what its file says."""
    found: Texts = {}
    data = toml(toml_of(room), room.name)
    for name, value in data.items():
        if isinstance(value, list):
            for number, part in enumerate(value, 1):
                found |= {f"{name}.{number}.{key}": _text(one) for key, one in part.items() if key != "primary"}
                if part.get("primary"):
                    found["primary"] = str(number)
        elif isinstance(value, dict):
            found |= {f"{name}.{key}": _text(one) for key, one in value.items()}
        else:
            found[name] = _text(value)
    return found


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return typed(value) if isinstance(value, int | Decimal) else str(value)


def table_of(texts: Mapping[str, str]) -> dict[str, Any]:
    """The texts of a form as the table of a room file; what is empty isn't there."""
    data: dict[str, Any] = {}
    for path, text in texts.items():
        if not text or path == "primary":
            continue
        section, _, rest = path.partition(".")
        if not rest:
            data[section] = text
        elif SECTIONS[section].repeated:
            number, _, key = rest.partition(".")
            parts = data.setdefault(section, [])
            parts += [{} for _ in range(int(number) - len(parts))]
            parts[int(number) - 1][key] = text
        else:
            data.setdefault(section, {})[rest] = text
    if which := ordinal(texts.get("primary", ""), len(data.get("seat", []))):
        data["seat"][which - 1]["primary"] = True
    return data


def unit_typed(texts: Iterable[str], otherwise: Unit) -> Unit:
    """What lengths are typed in: inches where any is."""
    return Unit.INCH if _INCHES.search("\0".join(texts)) else otherwise


def _page(
    asked: Visit,
    rooms: list[str],
    texts: Texts,
    seen: tuple[str, str],
    *,
    fresh: bool = False,
    problems: list[Problem] | None = None,
    told: str = "",
    status: int = 200,
) -> Response:
    found, wrong = room_or_problems(table_of(texts), FORM)
    by_path = {} if fresh else _by_path(wrong if problems is None else [*wrong, *problems])
    unit = unit_typed(_lengths(texts), asked.unit)
    values: dict[str, Any] = {
        "problems": by_path,
        "told": told,
        "seen": seen,
        "chosen": asked.word("room"),
        **_drawings(asked, found, unit),
    }
    if asked.fragment:
        return shown("room_drawn.html.j2", asked, **values)
    values |= {
        "rooms": rooms,
        "parts": parts_of(texts, by_path),
        "name": field_of("", ROOM_NAME, "name", texts, by_path),
    }
    return shown("room.html.j2", asked, status, step="room", **values)


def _lengths(texts: Mapping[str, str]) -> Iterable[str]:
    return (text for path, text in texts.items() if _is_length(path))


@lru_cache(maxsize=1024)
def _is_length(path: str) -> bool:
    section, key = path.partition(".")[0], path.rpartition(".")[2]
    one = SECTIONS[section].keys.get(key) if section in SECTIONS else None
    return one is not None and one.quantity is not None and one.quantity.kind is Kind.LENGTH and key != "diagonal"


def _drawings(asked: Visit, found: RoomRecord | None, unit: Unit) -> dict[str, Any]:
    if found is None:
        return {"front": None, "plan": None, "supposed": ()}
    survey = surveyed(found, _mains(asked, found))
    return {
        "front": survey.front and _drawn_front(survey.front, unit),
        "plan": _drawn_plan(survey.plan, unit),
        "supposed": [(in_unit(one.words, unit), _owned(found, one)) for one in survey.supposed],
    }


def in_unit(words: str, unit: Unit) -> str:
    """What is told in millimetres, in the unit that lengths are typed in."""
    if unit is Unit.MILLIMETRE:
        return words

    def length_of(found: re.Match[str]) -> str:
        told = length(float(found[1]) / 1000, unit)
        return told if found[2] == " mm" else told.removesuffix(f"\u00a0{unit.value}") + found[2]

    return _MILLIMETRES.sub(length_of, words)


def _owned(found: RoomRecord, one: Supposed) -> str:
    """What a button says that makes what is supposed one's own; nothing where no single value is supposed."""
    if one.value is None:
        return ""
    section, _, rest = one.key.partition(".")
    if SECTIONS[section].repeated:
        name, _, key = rest.rpartition(".")
        named = [part.name for part in SECTIONS[section].records(found)]
        rest = f"{named.index(name) + 1}.{key}"
    return f"{section}.{rest}={one.value}"


DRAWING: Final = 110.0
"""Width of a drawing beside the form [mm]."""


# most fields show in one of the two drawings or in none: what doesn't change isn't drawn at each key
@lru_cache(maxsize=32)
def _drawn_front(shown: Front, unit: Unit) -> Markup:
    return inlined(front(shown, unit, DRAWING))


@lru_cache(maxsize=32)
def _drawn_plan(shown: FloorPlan, unit: Unit) -> Markup:
    return inlined(plan(shown, unit, DRAWING))


def _mains(asked: Visit, found: RoomRecord) -> LoudspeakerRecord | None:
    name = found.mains.speaker or asked.word("mains")
    if not name:
        return None
    try:
        if asked.memory is not None:  # the same mains are drawn at each key that is pressed
            return asked.memory.loudspeaker(name)
        with reading(asked.catalogue.engine) as session:
            return reads.loudspeaker(session, name)
    except CatalogError:
        return None


def _by_path(problems: Iterable[Problem]) -> Texts:
    """What is wrong, by the path of the field where it is."""
    found: Texts = {}
    for one in problems:
        match = _WHERE.match(one.where)
        path = one.column if match is None else ".".join(filter(None, (*match.groups(), one.column)))
        found.setdefault(path, one.complaint)
    return found
