"""After installing: the three as measured, judged beside the model, and stored with the room as built."""

from __future__ import annotations

import re
import secrets
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Any, Final

from starlette.responses import Response

from triptych.catalog.database import as_built, reads
from triptych.catalog.database.as_built import AsBuiltRecord
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.errors import BadInput, CatalogError, NotFound
from triptych.catalog.files.curve_files import read_curves
from triptych.catalog.numbers import number
from triptych.catalog.problems import refuse
from triptych.catalog.records import CurveKind, CurveRecord
from triptych.recommender.advise import as_built_check, picturing
from triptych.recommender.drawing.curve_levels import CurveLine, curves
from triptych.recommender.drawing.response import response
from triptych.recommender.installing import built_record, measured_seats, promised, seat_names
from triptych.recommender.page.asked import Upload, Visit
from triptych.recommender.page.rendering import drawn, moved, shown
from triptych.recommender.report import built
from triptych.recommender.verify.verification import Verification

CHANNELS: Final = (("left", "Left"), ("centre", "Centre"), ("right", "Right"))
STROKES: Final = ("mains-curve", "centre-curve", "mains-line")
"""What left, centre and right are drawn with: mains in the colour of mains in every drawing."""

MOST_TRIM: Final = 24.0
"""No amplifier's trim goes further [dB]."""

KEPT_IN_MIND: Final = 16
"""So many measurements wait to be stored."""

UNISOLATED_WORDS: Final = dict.fromkeys(map(ord, "\u2068\u2069"))

CURVE_DRAWING: Final = 130.0
"""Width of the drawing of what was measured [mm]."""


MEASURED_WITH: Final = ("speaker", "place", "seat", "trim_set", "mains")
"""What is said beside the three files."""


@dataclass(slots=True)
class _Waiting:
    """A measurement that was judged; the address of its verdict names it, so that back and reload send nothing."""

    room: str
    record: AsBuiltRecord
    found: Verification
    remarks: list[str]
    typed: dict[str, str]
    told: str = ""


_waiting: Final[OrderedDict[str, _Waiting]] = OrderedDict()
_lock: Final = Lock()


def installed(asked: Visit) -> Response:
    """The form for what was measured, the verdict on what was, and what is stored with the room already."""
    if key := asked.word("check"):
        waiting = _in_mind(key)
        if waiting.room == asked.word("room"):
            verdict = _verdict(asked, waiting.record, waiting.found)
            return _page(asked, typed=waiting.typed, remarks=waiting.remarks, key=key, **verdict)
    with _lock:
        kept = _waiting.get(asked.word("kept"))
    return _page(asked, told=kept.told if kept else "")


def _in_mind(key: str) -> _Waiting:
    with _lock:
        waiting = _waiting.get(key)
    if waiting is None:
        raise NotFound("that measurement isn't in mind any more: drop the three files again")
    return waiting


def _page(asked: Visit, *, problem: str = "", told: str = "", status: int = 200, **more: Any) -> Response:
    with reading(asked.catalogue.engine) as session:
        rooms = reads.rooms(session)
        name = asked.word("room")
        room = reads.room(session, name) if name else None
        stored = as_built.checks(session, name) if room else []
    values: dict[str, Any] = {
        "rooms": rooms,
        "room": room,
        "stored": [
            (one.made_at.date().isoformat() if one.made_at else "", one.speaker or "no centre named", len(one.seats))
            for one in stored
        ],
        "channels": CHANNELS,
        "typed": {key: asked.word(key) for key in MEASURED_WITH},
        "problem": problem,
        "told": told,
        "found": None,
    }
    return shown("installed.html.j2", asked, status, step="installed", **{**values, **more})


def check(asked: Visit) -> Response:
    """Judge what was measured, as `verify` does; nothing is stored yet."""
    try:
        record, found, remarks = _checked(asked)
    except CatalogError as problem:
        return _page(asked, problem=str(problem), status=422)
    key = secrets.token_urlsafe(12)
    with _lock:
        _waiting[key] = _Waiting(
            asked.word("room"), record, found, remarks, {name: asked.word(name) for name in MEASURED_WITH}
        )
        while len(_waiting) > KEPT_IN_MIND:
            _waiting.popitem(last=False)
    return moved(asked.link("/installed", room=asked.word("room"), check=key))


def _checked(asked: Visit) -> tuple[AsBuiltRecord, Verification, list[str]]:
    if not asked.word("room"):
        raise BadInput("no room is chosen: name the one that was measured in")
    with reading(asked.catalogue.engine) as session:
        room = reads.room(session, asked.word("room"))
    missing = [words for name, words in CHANNELS if name not in asked.files]
    if missing:
        raise BadInput(f"{', '.join(missing)}: no file was chosen; each of the three is measured alone")
    remarks: list[str] = []
    three = [[_curve(asked.files[name], remarks)] for name, _ in CHANNELS]
    seats = seat_names(room, asked.words("seat")[:1], 1)
    mains = asked.word("mains") or room.mains.speaker or None
    speaker, place = asked.word("speaker"), asked.word("place")
    standing = promised(asked.catalogue, room, mains, speaker, place) if speaker else None
    record = built_record(measured_seats(seats, *three), standing, mains, place, _trim(asked.word("trim_set")))
    return record, as_built_check.check(record, standing), remarks


def _trim(text: str) -> float:
    wanted = f"a number of dB from -{MOST_TRIM:.0f} to {MOST_TRIM:.0f}; empty is 0, as for the command"
    try:
        found = float(number(text, least=-MOST_TRIM, most=MOST_TRIM)) if text else 0.0
    except BadInput as problem:
        raise BadInput(f"the trim was at {text[:40]!r}: {problem}; {wanted}") from None
    if abs(found) > MOST_TRIM:
        raise BadInput(f"the trim was at {text[:40]!r}: {wanted}")
    return found


def _curve(upload: Upload, remarks: list[str]) -> CurveRecord:
    """The curve of an upload, under a name with nothing in it but letters and digits."""
    base = upload.name.replace("\\", "/").rpartition("/")[2]
    name = re.sub(r"[^A-Za-z0-9._-]", "_", base).lstrip(".")[-60:] or "curve.txt"
    with upload.on_disk(name) as path:
        found = read_curves(path, CurveKind.IN_ROOM)
    remarks += map(str, found.remarks)
    refuse(found.problems)
    return found.records[0]


def _verdict(asked: Visit, record: AsBuiltRecord, found: Verification) -> dict[str, Any]:
    seat = record.seats[0]
    lines = [CurveLine(words, one.frequency, one.level, stroke) for one, (_, words), stroke in zip(
        (seat.left, seat.centre, seat.right), CHANNELS, STROKES, strict=True)]  # fmt: skip
    note = f"In the room at {seat.seat}, each alone; as the files have it"
    return {
        "found": found,
        "record": record,
        "bands": built.band_rows(found),
        "settings": [words.translate(UNISOLATED_WORDS) for words in built.settings_lines(found)],
        "dips": built.dip_lines(found),
        "signs": built.sign_lines(found),
        "promises": built.promise_lines(found),
        "standard": built.STANDARD,
        "measured": drawn(curves(record.speaker or "the three", lines, note, CURVE_DRAWING)),
        "model": _model(asked, record),
    }


def _model(asked: Visit, record: AsBuiltRecord) -> Any:
    """What was predicted of the centre beside the mains; None where no centre is named."""
    if record.speaker is None:
        return None
    name, place = record.speaker, record.place
    with reading(asked.catalogue.engine) as session:
        room = reads.room(session, asked.word("room"))
    question = asked.catalogue.question(room, record.mains or "")
    found = asked.catalogue.answer(lambda session: picturing.fitting(session, question, name, place))
    pictured = found.shown[0].pictures.response
    return drawn(response(pictured, CURVE_DRAWING) if pictured else None)


def keep(asked: Visit) -> Response:
    """Store what was judged with its room."""
    key = asked.word("key")
    waiting = _in_mind(key)
    with writing(asked.catalogue.engine) as session:
        new = as_built.save_as_built(session, waiting.room, waiting.record)
    waiting.told = f"stored with {waiting.room}" if new else f"{waiting.room} holds this measurement already"
    return moved(asked.link("/installed", room=waiting.room, kept=key))
