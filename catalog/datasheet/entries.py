"""A line to entries: what each statement of it is about, what it says, and how it stood there."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from triptych.catalog.datasheet import runs
from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.draft import AXES
from triptych.catalog.datasheet.folding import folded, printable
from triptych.catalog.datasheet.joining import AND
from triptych.catalog.datasheet.owner import HOLDS, about, stretches
from triptych.catalog.datasheet.sheet_words import ACCESSORY, topic_of, topics_in
from triptych.catalog.datasheet.side_lists import side_lists
from triptych.catalog.datasheet.text_cells import Cell, label
from triptych.catalog.fields import COLUMNS
from triptych.catalog.quantities import Kind

OWN_COLUMN: Final = "column "
"""What the topic of a line begins with that uses a column's own name."""

_LONGEST_KEY: Final = 90
BULLET: Final = re.compile(r"^(?:[•·▪►▸●○◦‣∙✓✔☑>#]+|[-–—*]+(?=\s)|\d{1,2}[.)](?=\s+[A-Za-z])|\d{1,2}\.\d{1,2}\))\s*")
_SEPARATOR: Final = re.compile(
    r"\s*(?<!\d):(?!\d)\s*|\s*:\s+|\s*=\s*|\t+|\s*\|\s*|\s*\.{4,}\s*|\s+\.{3}\s*|\.{3}(?=\s*\d)|\s*…{2,}\s*|\s+…\s*|"
    r"…(?=\s*\d)|\s+[–—-]\s+(?=[^\s])|\s{2,}"
)
_PRICED: Final = re.compile(r"[€£$¥] ?\d|\d ?[€£$¥]")
"""An amount of money, which stands in no label."""
_FIGURES_FIRST: Final = re.compile(
    r"\d ?(?:k?hz|db|ohms?|kg|lbs?|watts?)\b[^,;]*[,;] |\d ?(?:k?hz|db|ohms?|ω|kg|lbs?|w(?:atts?)?|mm|cm|\")\.\s|"
    r"^[^.:]{4,}[^\W\d]{3}\. .*\d ?(?:k?hz|db|ohms?|ω|kg|w)\b"
)
"""A statement before the one that a label opens: 'frequency 35 Hz - 22 kHz, SPL: 91 dB', 'Sealed. 88 dB. Size:'."""
_RUN_ON: Final = re.compile(
    r"(?:technical |technische |tech\.? )?(?:specs?|specifications?|data|daten|details?|technik)"
)
_WEAK: Final = re.compile(r"\s+[–—-]\s+|\s{2,}|\s*\|\s*|\t+")


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """One statement: its topic, its folded key and value, and the raw line; `said` is the value as it was written."""

    topic: str | None
    key: str
    value: str
    said: str
    raw: str
    labelled: bool = True
    """Whether a label tells what it is about, and not only the unit of its figures."""

    @property
    def text(self) -> str:
        """Key and value together."""
        return f"{self.key} : {self.value}" if self.key else self.value


def statements(line: str) -> Iterator[SheetEntry]:
    """Give the statements of one line."""
    pieces = runs.cut(line)
    if len(pieces) > 1:
        for piece in pieces:
            yield from statements(piece)
        return
    raw = printable(line)
    cells = [cell for cell in (printable(cell) for cell in re.split(r"\t+|\|", line.strip(" |"))) if cell]
    whole = len(cells) > 1 and re.search(r"\d", cells[0]) and all(topic_of(folded(cell)) for cell in cells)
    if whole or sum(re.match(r"[^:]{2,40}: ?\S", cell) is not None for cell in cells) > 2:
        for cell in cells:
            yield from statements(cell)
        return
    wide = [printable(cell) for cell in re.split(r"\t+|\||[ \u00a0\u3000]{2,}", line.strip(" |")) if printable(cell)]
    keyed = len(wide) > 1 and all(re.match(r"[^:\d]{2,24}: ?\S", cell) for cell in wide)
    headed = wide and label(Cell(wide[0], 0, 0))
    if keyed or (
        len(wide) > 1 and not headed and re.search(r"\d", wide[0]) and any(_stands_alone(cell) for cell in wide[1:])
    ):
        yield from (entry for cell in _rejoined(wide) for entry in statements(cell))
        return
    kept = BULLET.sub("", "\t".join((cells[0], " ".join(cells[1:]))) if len(cells) > 1 else line.strip()).strip()
    found = _keyed(kept, raw)
    if found is not None and found.topic in (*AXES, None) and (listed := next(side_lists(kept), None)):
        # 'hoogte 96  breedte 19,5  diepte 30 cm' has no key of its own
        found = found if re.search(r"[:=\t|]", kept[: listed.start]) else None
    if found is None:
        yield from running(printable(kept), raw)
        return
    yield from _with_more_keys(found)


def _stands_alone(cell: str) -> bool:
    """Whether a cell is a statement of its own: it has a figure, and a label or a unit that tells what of."""
    return bool(re.search(r"\d", cell)) and about(folded(cell)) is not None


def _rejoined(cells: Sequence[str]) -> list[str]:
    """Cells that stand alone, each with those behind it that don't."""
    found = [cells[0]]
    for cell in cells[1:]:
        if _stands_alone(cell) or re.match(r"[^:\d]{2,24}: ?\S", cell):
            found.append(cell)
        else:
            found[-1] += f"; {cell}"
    return found


_LONGEST_LABEL: Final = 7
"""A longer key that holds a figure is a sentence with a colon; tried, no source. [words]."""
_STATES: Final = re.compile(r"\d ?(?:ω|ohms?|db|k?hz|kg|mm|cm|w)\b")


def _keyed(line: str, raw: str) -> SheetEntry | None:
    """The line as key and value, where it has a key."""
    for mark in _SEPARATOR.finditer(line):
        key, value = printable(line[: mark.start()]), printable(line[mark.end() :])
        if not key or len(key) > _LONGEST_KEY:
            return None
        if key.count("(") != key.count(")") or key.count("[") != key.count("]"):
            continue
        small = folded(key).strip(" .*:").rstrip(" -")
        if _PRICED.search(small):
            continue
        if _RUN_ON.fullmatch(small) or _FIGURES_FIRST.search(re.sub(r"\([^()]*\)", " ", small)):
            # 'Spec: 8 ohms, 89 dB' is running text under a heading
            return None
        if len(small.split()) > _LONGEST_LABEL and _STATES.search(re.sub(r"\([^()]*\)", " ", small)):
            return None
        if _WEAK.fullmatch(mark[0]) and (not _plain(small) or topic_of(small) is None):
            continue
        if re.fullmatch("[hwdbt]", small) and _plain_lengths(folded(value)):
            return SheetEntry("size", "", folded(line), line, raw)
        column = re.sub(r"[\s-]+", "_", small)
        small = small if column in COLUMNS else small.replace("_", " ")
        topic = f"{OWN_COLUMN}{column}" if column in COLUMNS else topic_of(small)
        if topic is None and topic_of(folded(value), anywhere=True) and not ACCESSORY.search(small):
            return None
        return SheetEntry(topic, small, folded(value), value, raw) if value else None
    return None


def _plain_lengths(value: str) -> bool:
    """Whether a value opens with a length, so that a letter before it is a side."""
    found = amounts(value, ("w",))
    return bool(found) and found[0].start == 0 and found[0].kind in (Kind.LENGTH, None)


def _plain(key: str) -> bool:
    """Whether a key has no figure outside its brackets, so that a dash after it is no range."""
    return not re.search(r"\d", re.sub(r"\([^)]*\)|\[[^\]]*\]", "", key))


_NEXT: Final = re.compile(
    r"[;,]\s+|\s\|\s|\.\s+(?=[^\W\d])|"
    r"\s+(?=[^\W\d_a-zß-ÿąćęłńśźż][^\W\d_]{4,}:? (?:[(]|[€£$]? ?\d))"
)
"""Where another statement may begin: at a mark, or at a capital's word with a figure, where columns ran together."""
_MERGED: Final = frozenset(
    ("weight", "sensitivity", "impedance", "minimum", "response", "crossover", "price", "amplifier")
)
"""Topics whose label may open a column that ran into the one before it."""


def _with_more_keys(entry: SheetEntry) -> Iterator[SheetEntry]:
    """A value that holds further keys is several statements: 'Impedance: 8 ohm; Weight: 12 kg'."""
    if two := _two_in_one(entry):
        yield from two
        return
    start, key, topic = 0, entry.key, entry.topic
    for mark in _NEXT.finditer(entry.said):
        before = entry.said[start : mark.start()]
        if before.count("(") > before.count(")"):
            continue
        rest = entry.said[mark.end() :]
        head = re.match(r"[^:=;,\d]{2,40}?(?=\s*[:=]|\s+\d)", rest)
        following = topic_of(folded(head[0])) if head else None
        if mark[0].isspace() and (following not in _MERGED or not re.search(r"\d", before)):
            continue
        if mark[0].startswith(".") and following != "elsewhere" and not re.match(r"[^.]*:", rest):
            continue
        if (
            following is None
            or (following in ((topic or "").removeprefix(OWN_COLUMN), "size") and "." not in mark[0])
            or not _leaves(topic, following)
        ):
            continue
        said = entry.said[start : mark.start()]
        yield SheetEntry(topic, key, folded(said), said, entry.raw)
        assert head is not None
        start = mark.end() + head.end()
        start += len(entry.said[start:]) - len(entry.said[start:].lstrip(" :="))
        key, topic = folded(head[0]), following
    said = entry.said[start:]
    yield SheetEntry(topic, key, folded(said), said, entry.raw)


def _two_in_one(entry: SheetEntry) -> list[SheetEntry]:
    """Two statements under two labels with a stroke between: 'B x H x T / Gewicht: 21 x 103 x 33 cm / 21 kg'."""
    keys, parts = re.split(r"\s*/\s*", entry.key), re.split(r"\s*/\s*", entry.said)
    topics = [topic_of(key) for key in keys]
    if len(keys) != 2 or len(parts) != 2 or None in topics or not all(topic in HOLDS for topic in topics):
        return []
    kinds = [{amount.kind for amount in amounts(folded(part))} for part in parts]
    if (
        not all(topic and HOLDS[topic] & kind for topic, kind in zip(topics, kinds, strict=True))
        or topics[0] == topics[1]
    ):
        return []
    return [
        SheetEntry(topic, key, folded(part), part, entry.raw)
        for topic, key, part in zip(topics, keys, parts, strict=True)
    ]


_INSIDE: Final[Mapping[str, tuple[str, ...]]] = {
    "size": ("width", "height", "depth", "feet"),
    "drivers": ("tweeter", "midrange", "woofer", "drivers"),
    "impedance": ("minimum", "load"),
    "crossover": ("slope", "tweeter", "midrange", "woofer"),
    "enclosure": ("bung", "enclosure", "port_size"),
    "response": ("low", "high"),
    "height": ("feet",),
    "power": ("power",),
    "amplifier": ("power", "amplifier"),
    "price": ("sold",),
    "tweeter": ("coverage",),
}
"""Topics that are parts of another one."""


_PARTS_OF: Final = frozenset(f"{topic} {inner}" for topic, inners in _INSIDE.items() for inner in inners)


def _leaves(topic: str | None, following: str) -> bool:
    """Whether a following key is another matter than the present one, not a part of it."""
    return following not in _INSIDE.get((topic or "").removeprefix(OWN_COLUMN), ())


def running(text: str, raw: str) -> Iterator[SheetEntry]:
    """Give the statements of running text."""
    small = folded(text)
    if len(small) != len(text) and next(side_lists(small), None):
        # number words in digits: 'negentig centimeter hoog, 17 cm breed'
        text = small
    if listed := next(side_lists(text), None):
        if before := text[: listed.start].strip(" ,;.(–—-"):
            yield from running(before, raw)
        yield SheetEntry("size", "", folded(listed.plain), listed.plain, text[listed.start : listed.end].strip())
        rest = re.sub(rf"^{AND} ", "", text[listed.end :].strip(" ,;.)–—-"))
        if rest:
            yield from running(rest, raw)
        return
    found = stretches(text, _PARTS_OF)
    for one in found:
        said = re.sub(rf"[\s,;.]+{AND}?[\s]*$", "", text[one.start : one.end])
        small = folded(said)
        labelled = one.topic in topics_in(small)
        yield SheetEntry(one.topic, "", small, said, raw if len(found) == 1 else said, labelled)
