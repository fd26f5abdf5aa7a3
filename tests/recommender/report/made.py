"""Pages made of the seed data and of catalogues with hostile names; and a reader of what a page holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from importlib.resources import files

import numpy as np
from sqlalchemy import Engine

from tests.recommender.advise.scenarios import BAY, ROOM, STACKED, TOP, WIDE, fill, record
from tests.recommender.budget.shopping import parse_budget
from triptych.catalog.database.as_built import AsBuiltRecord, MeasuredSeat
from triptych.catalog.database.engine import reading
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import CurveKind, CurveRecord, RoomRecord
from triptych.recommender.advise import as_built_check
from triptych.recommender.advise.match import Question
from triptych.recommender.advise.picturing import Dossier, dossier, fitting
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.mend import mend
from triptych.recommender.report.client_report import Extra
from triptych.recommender.verify.trio import Trio

HARD = {
    "markup": "<script>alert('no')</script> & \"Sons\" <b>",
    "right to left": "مكبر الصوت الأوسط 560",
    "unbroken": "W" * 220,
    "many words": "many short words " * 14,
    "template": "{{ 7*7 }}{% raw %} ${x}",
}
"""Names that nobody should have, and somebody will."""

BUDGET = """
currency = "EUR"
limit = 4000
tax_included = true
[[line]]
role = "mains"
price = 1290
per = "pair"
quantity = 1
tax_included = true
[[line]]
role = "centre"
item = "a <centre>"
price = 390
per = "each"
quantity = 1
tax_included = true
[[line]]
role = "sub"
price = 500
per = "each"
quantity = 1
tax_included = true
"""


def room(*places: str, name: str = "Plain room") -> RoomRecord:
    return replace(room_from_toml(ROOM + "".join(places), "test"), name=name)


def seed_room(name: str = "mill_house") -> RoomRecord:
    return room_from_toml(files("triptych.seed_data").joinpath(f"{name}.toml").read_text(encoding="utf-8"), "seed")


def hard_catalogue(engine: Engine, name: str) -> str:
    """Store a few loudspeakers of which one has this name; give the whole of its name."""
    # past the importer, which would refuse some of them
    hard = replace(record(STACKED), model=name)
    fill(engine, hard, record(WIDE))
    return hard.name


def asked(engine: Engine, surveyed: RoomRecord, mains: str = "Alder Croft Flint Tower", top: int = 3) -> Dossier:
    with reading(engine) as session:
        return dossier(session, Question(mains, surveyed), top)[0]


def fitted(engine: Engine, centre: str, surveyed: RoomRecord, mains: str = "Alder Croft Flint Tower") -> Dossier:
    with reading(engine) as session:
        return fitting(session, Question(mains, surveyed), centre)[0]


def as_built(trios: Iterable[Trio], found: Dossier) -> AsBuiltRecord:
    """A stored check of synthetic measurements, of the first centre of a dossier."""

    def curve(one: Trio, level: np.ndarray) -> CurveRecord:
        source = "measured & <stored>.txt"
        return CurveRecord(CurveKind.IN_ROOM, tuple(one.frequency.tolist()), tuple(level.tolist()), source)

    seats = tuple(MeasuredSeat(t.seat, curve(t, t.left), curve(t, t.centre), curve(t, t.right)) for t in trios)
    entry = found.shown[0].standing
    return AsBuiltRecord(seats, entry.speaker, entry.place, found.advice.mains)


def extra(trios: Iterable[Trio], found: Dossier) -> Extra:
    """A budget that does not hold, and a check after installing."""
    built = as_built(trios, found)
    checked = check(parse_budget(BUDGET))
    return Extra(
        (checked, mend(checked.budget, checked.rule_set)), (built, as_built_check.check(built, found.shown[0].standing))
    )


@dataclass
class Page(HTMLParser):
    """What a page holds, read without a browser."""

    text: str
    tags: list[str] = field(default_factory=list)
    attributes: list[dict[str, str | None]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    scripts: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.feed(self.text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes.append(dict(attrs))

    def handle_data(self, data: str) -> None:
        within = self.tags[-1] if self.tags else ""
        if within == "script" and data.strip():
            self.scripts.append(data)
        elif within != "style":
            self.words.append(data)

    def of(self, tag: str) -> list[dict[str, str | None]]:
        """The attributes of each element of a kind."""
        return [held for name, held in zip(self.tags, self.attributes, strict=True) if name == tag]

    @property
    def headings(self) -> list[int]:
        """The levels of the headings, in order."""
        return [int(tag[1]) for tag in self.tags if tag in {"h1", "h2", "h3", "h4", "h5", "h6"}]

    @property
    def all_words(self) -> str:
        """The text of the page."""
        return " ".join(" ".join(self.words).split())


__all__ = [
    "BAY",
    "BUDGET",
    "HARD",
    "STACKED",
    "TOP",
    "Page",
    "as_built",
    "asked",
    "extra",
    "fill",
    "fitted",
    "hard_catalogue",
    "record",
    "room",
]
