"""What a browser asks: the address with the state of the shopper's way in it, and what a form holds."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import chain
from pathlib import Path
from typing import Final
from urllib.parse import parse_qsl, urlencode, urlsplit

from triptych.catalog.database import reads
from triptych.catalog.database.engine import reading
from triptych.catalog.errors import BadInput
from triptych.catalog.files.room_edits import edited_room
from triptych.catalog.records import RoomRecord
from triptych.catalog.shares import figure
from triptych.recommender.advise.match import Question
from triptych.recommender.advise.memory import Memory
from triptych.recommender.api import Catalogue
from triptych.recommender.asking import cap_of, surround_of
from triptych.recommender.drawing.drawn_numbers import Unit
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS

Pairs = tuple[tuple[str, str], ...]

WEIGHT: Final = "weight."
"""What the name of a weight's slider begins with."""

SEAT: Final = "try.seat."
"""What the name of a seat that is tried otherwise begins with."""

KEPT_IN_ADDRESS: Final = ("mains", "room", "cap", "target", "surround", "stock", "units", "tilt")
"""What every address of the shopper's way keeps, beside weights and seats."""

AS_FAR_AS_FITS: Final = "30"
"""The slider of the tilt ends here: no wedge tilts a centre further."""

TABLE_ENDINGS: Final = (".csv", ".xlsx")
"""What a table's file may end in."""

LONGEST_PAIR: Final = 120
"""A name and a value of more characters are read anew each time."""

WHOLE: Final = 1
"""The sliders of the weights go up to this: all weights that come with the tool sum to it."""


@dataclass(frozen=True, slots=True)
class Upload:
    """A file as it came."""

    name: str
    content: bytes

    @contextmanager
    def on_disk(self, called: str) -> Iterator[Path]:
        """The file in a folder of its own while the block lasts, under a name that it didn't choose."""
        with tempfile.TemporaryDirectory(prefix="triptych") as folder:
            path = Path(folder) / called
            path.write_bytes(self.content)
            yield path

    def table(self, called: str) -> AbstractContextManager[Path]:
        """The same of a table, of whose name the ending is kept.

        Raises
        ------
        BadInput
            Its name ends in nothing that tables do.
        """
        ending = Path(self.name).suffix.lower()
        if ending not in TABLE_ENDINGS:
            raise BadInput(f"{self.name[:80]}: a file that ends in .csv or .xlsx is wanted")
        return self.on_disk(f"{called}{ending}")


@dataclass(frozen=True, slots=True)
class Visit:
    """One request, with the catalogue that it is about; `page` is the address of the page that asks."""

    catalogue: Catalogue
    path: Mapping[str, str] = field(default_factory=dict)
    query: Pairs = ()
    form: Pairs = ()
    files: Mapping[str, Upload] = field(default_factory=dict)
    fragment: bool = False
    page: str = ""
    who: str | None = None
    memory: Memory | None = None

    def word(self, name: str) -> str:
        """The last value of a name in the form, else in the address; empty where there is none."""
        return next((value for key, value in reversed((*self.query, *self.form)) if key == name), "").strip()

    def words(self, name: str) -> list[str]:
        """Every value of a name, none of them empty."""
        return [value for key, value in (*self.query, *self.form) if key == name and value.strip()]

    @property
    def before(self) -> Pairs:
        """What the page showed that asks, by its address."""
        return tuple(parse_qsl(urlsplit(self.page).query)[:200])

    @property
    def state(self) -> Pairs:
        """What the next address keeps of this one."""
        return state_of(self.query)

    def link(self, path: str, **changes: str) -> str:
        """An address that keeps the state, with some of it changed; an empty value takes it out."""
        kept = {name: value for name, value in self.state if name not in changes}
        return address(path, {**kept, **changes}.items())

    @property
    def unit(self) -> Unit:
        """What lengths are drawn in."""
        return Unit.INCH if self.word("units") == "in" else Unit.MILLIMETRE


def said_in(query: str) -> Pairs:
    """The names and values of an address after its question mark."""
    return tuple(chain.from_iterable(map(_said, query.split("&"))))


def _said(part: str) -> list[tuple[str, str]]:
    return _said_before(part) if len(part) <= LONGEST_PAIR else parse_qsl(part, keep_blank_values=True)


# a form asks anew at each key that is pressed, with all that stands in it
@lru_cache(maxsize=2048)
def _said_before(part: str) -> list[tuple[str, str]]:
    return parse_qsl(part, keep_blank_values=True)


def address(path: str, pairs: Iterable[tuple[str, str]]) -> str:
    """A path with what is said after it; what is empty is left out."""
    said = urlencode([(name, value) for name, value in pairs if value != ""])
    return f"{path}?{said}" if said else path


def state_of(query: Pairs) -> Pairs:
    """What of an address is the state of the shopper's way."""
    return tuple((name, value) for name, value in query if name in KEPT_IN_ADDRESS or name.startswith((WEIGHT, SEAT)))


def weights_in(query: Pairs) -> dict[str, float] | None:
    """The weights that sliders stand at; None where no slider was moved.

    Raises
    ------
    BadInput
        One is no number.
    """
    found = {}
    for name, text in query:
        if name.startswith(WEIGHT):
            criterion = name.removeprefix(WEIGHT)
            found[criterion] = figure(text, f"the weight of {criterion}")
    return None if not found or found == DEFAULT_WEIGHTS else found


def room_as_asked(asked: Visit) -> RoomRecord:
    """The room of the address as it is stored, with what is tried otherwise.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    BadInput
        None is named, or what is tried can't be taken.
    """
    name = asked.word("room")
    if not name:
        raise BadInput("no room is chosen yet: take one on the page Room, or describe yours there")
    with reading(asked.catalogue.engine) as session:
        stored = reads.room(session, name)
    return tried(stored, asked)


def tried(room: RoomRecord, asked: Visit) -> RoomRecord:
    """A room with the level, the tilt and the seats that somebody tries, as `room edit --set` would change it."""
    changes = {}
    if target := asked.word("target"):
        changes["listening.target_peak"] = target
    if (tilt := asked.word("tilt")) and tilt != AS_FAR_AS_FITS:
        changes |= {f"place.{one.name}.tilt_limit": tilt for one in room.places}
    for name, value in asked.query:
        if name.startswith(SEAT) and value:
            changes[f"seat.{name.removeprefix(SEAT)}.regular"] = value
    return edited_room(room, changes) if changes else room


def question_of(asked: Visit) -> Question:
    """What the address asks, as `triptych match` would ask it."""
    room = room_as_asked(asked)
    mains = asked.word("mains") or room.mains.speaker or ""
    if not mains:
        raise BadInput("no mains are chosen yet: find them on the page Mains")
    return asked.catalogue.question(
        room,
        mains,
        **cap_of(asked.word("cap"), "cap"),
        in_stock=asked.word("stock") == "yes",
        weights=weights_in(asked.query) or "",
        **surround_of(asked.word("surround"), "price of a surround"),
    )
