"""The first page, and the mains: what there is, what an empty catalogue can be filled with, who is looked for."""

from __future__ import annotations

from typing import Any, Final

from starlette.responses import Response

from triptych.catalog.database import reads
from triptych.catalog.database.engine import reading
from triptych.catalog.database.reads import LoudspeakerFilter
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.fields import COLUMNS
from triptych.catalog.files.importing import Import, import_file
from triptych.catalog.records import LoudspeakerRecord, Role
from triptych.recommender.page.asked import Upload, Visit
from triptych.recommender.page.rendering import moved, price_words, shown

FOUND: Final = 30
"""So many loudspeakers are listed; more letters leave fewer."""


def start(asked: Visit) -> Response:
    """What there is, and the way on from it."""
    with reading(asked.catalogue.engine) as session:
        count, rooms = reads.count(session), reads.rooms(session)
    return shown("start.html.j2", asked, step="start", count=count, rooms=rooms, told=asked.word("told"))


def take_demo(asked: Visit) -> Response:
    """Put the invented loudspeakers and rooms into an empty catalogue."""
    with reading(asked.catalogue.engine) as session:
        if reads.count(session) or reads.rooms(session):
            raise Refused("the catalogue isn't empty any more: the demo goes into an empty one only")
    asked.catalogue.import_demo()
    return moved("/mains?room=Mill+House")


def take_file(asked: Visit) -> Response:
    """Take the loudspeakers of a CSV or XLSX file, as `speaker import` does."""
    upload = asked.files.get("file")
    if upload is None:
        raise BadInput("no file was chosen: choose a CSV or an XLSX file of loudspeakers")
    told: list[str] = []
    try:
        saved = import_in(asked, upload, told)
    except BadInput as problem:
        words = "\n".join((*told, str(problem)))
        return shown("start.html.j2", asked, 422, step="start", told="", problem=words, **_there(asked))
    counts = f"{upload.name}: added {saved.added}, changed {saved.changed}, unchanged {saved.unchanged}"
    return shown("start.html.j2", asked, step="start", told="\n".join((*told, counts)), **_there(asked))


def _there(asked: Visit) -> dict[str, Any]:
    with reading(asked.catalogue.engine) as session:
        return {"count": reads.count(session), "rooms": reads.rooms(session)}


def import_in(asked: Visit, upload: Upload, told: list[str]) -> Any:
    """Import an upload."""
    with upload.table("loudspeakers") as path:
        wanted = Import(path, {}, None, clear=False, keep_good=False, dry_run=False, tell_line=told.append)
        return import_file(asked.catalogue.engine, wanted)


def mains(asked: Visit) -> Response:
    """Loudspeakers that are offered as mains, by a few letters."""
    text = asked.word("q")
    wanted = LoudspeakerFilter(role=Role.MAIN, text=text or None, page_size=FOUND)
    with reading(asked.catalogue.engine) as session:
        found, count = reads.loudspeakers(session, wanted), reads.count(session, wanted)
        whole = reads.count(session)
    values: dict[str, Any] = {
        "found": [_row(asked, one) for one in found],
        "count": count,
        "whole": whole,
        "text": text,
    }
    if asked.fragment:
        return shown("mains_found.html.j2", asked, **values)
    return shown("mains.html.j2", asked, step="mains", **values)


def _row(asked: Visit, one: LoudspeakerRecord) -> dict[str, str]:
    sizes = [COLUMNS[name].rounded(getattr(one, name)) for name in ("width", "height", "depth")]
    return {
        "name": one.name,
        "sizes": " × ".join(sizes) + " mm" if any(size != "–" for size in sizes) else "size not stated",
        "layout": one.layout or "layout not stated",
        "price": price_words(one.price, one.currency, one.price_per and one.price_per.value)
        if one.price is not None
        else "–",
        "url": asked.link("/room" if not asked.word("room") else "/centres", mains=one.name),
        "about": asked.link("/loudspeaker", name=one.name),
    }


def loudspeaker(asked: Visit) -> Response:
    """Every figure of one loudspeaker, with its source."""
    with reading(asked.catalogue.engine) as session:
        found = reads.stored(session, asked.word("name"))
    rows = []
    for name, column in COLUMNS.items():
        value = getattr(found.record, name)
        figure = found.record.figures.get(name)
        told = "" if figure is None else f"{figure.source} ({figure.evidence.value})"
        words = "unknown" if value is None else column.legible(value)
        if name == "price" and value is not None:
            per = found.record.price_per
            words = price_words(value, found.record.currency, per and per.value)
        rows.append((name.replace("_", " "), words, told))
    return shown("loudspeaker.html.j2", asked, step="mains", name=found.record.name, rows=rows)
