"""A pasted text to loudspeakers, each with its entries."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.chats import without_writers
from triptych.catalog.datasheet.enclosure import enclosures_in
from triptych.catalog.datasheet.entries import BULLET, OWN_COLUMN, SheetEntry, statements
from triptych.catalog.datasheet.folding import folded, printable
from triptych.catalog.datasheet.furniture import is_furniture
from triptych.catalog.datasheet.owner import HOLDS
from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.posts import is_head
from triptych.catalog.datasheet.same_model import called_once
from triptych.catalog.datasheet.sheet_words import KEY_ONLY, OTHER_MODELS, SECTION, topic_of
from triptych.catalog.datasheet.stacked import stacked
from triptych.catalog.datasheet.text_cells import LONGEST_CELL_LINE, Cell, label

_RULE: Final = re.compile(r"^[\s|:=+_*~\-–—]*$")


@dataclass(slots=True)
class SheetBlock:
    """The entries of one loudspeaker, and the line that heads it."""

    heading: str | None = None
    entries: list[SheetEntry] = field(default_factory=list)
    section: bool = False
    headings: list[str] = field(default_factory=list)
    titles: list[str] = field(default_factory=list)
    names: dict[str, str] = field(default_factory=dict)
    guessed: bool = False
    """Whether where the names part is a guess."""
    placed: frozenset[str] = frozenset()
    """Which of the names nothing but their place tells."""

    unowned: set[str] = field(default_factory=set)
    """The lines that name no loudspeaker of several, and can only be of all."""
    followed: set[str] = field(default_factory=set)
    """The statements of sentences that only go on from one that names a loudspeaker."""

    @property
    def topics(self) -> set[str]:
        """What it speaks of."""
        return {entry.topic.removeprefix(OWN_COLUMN) for entry in self.entries if entry.topic}


def blocks(text: str) -> list[SheetBlock]:
    """Return the loudspeakers of a text in which no layout shows several.

    Its paragraphs are about one loudspeaker until one says again what was said, under the same label or in two ways
    of those that every sheet has; a heading goes with what follows it. A second, different model starts another.
    """
    found: list[SheetBlock] = []
    heading: str | None = None
    besides: list[str] = []
    for part in _parts(without_writers(text)):
        if OTHER_MODELS.match(folded(_bare(printable(part[0])))):
            besides += map(printable, part)
            continue
        for block in _split_by_model(_block(part)):
            block.heading = block.heading or heading
            heading = None
            if not block.entries:
                heading = block.heading
            elif found and _continues(found[-1], block):
                found[-1].entries = called_once([*found[-1].entries, *block.entries])
                found[-1].headings += block.headings
            else:
                found.append(block)
    if heading and not found:
        found.append(SheetBlock(heading))
    if found:
        found[-1].entries += [SheetEntry("besides", "", folded(line), line, line) for line in besides]
    return found


def whole(text: str) -> SheetBlock:
    """Return all of a text as one loudspeaker, as a person says that it is."""
    first, *more = blocks(text) or [SheetBlock()]
    for block in more:
        first.entries += block.entries
        first.headings += [*block.headings, *filter(None, (block.heading,))]
    return first


def block_of(part: SheetPart) -> SheetBlock:
    """Return the entries of a loudspeaker that was found among several, headed by its name."""
    block = _block(["", *(_virtual(piece) for piece in part.pieces if not piece.shared)])
    shared = _block(["", *(_virtual(piece) for piece in part.pieces if piece.shared)])
    own = {(entry.topic or "").removeprefix(OWN_COLUMN) for entry in block.entries if _tells(entry)}
    if any(enclosures_in(entry.value) for entry in block.entries):
        own |= {"enclosure", "bung"}
    kept = [entry for entry in shared.entries if entry.topic not in own or not _tells(entry)]
    block.entries += kept
    unowned = {printable(piece.body.text) for piece in part.pieces if piece.unowned}
    block.unowned = {entry.raw for entry in kept if entry.raw in unowned}
    followed = "\n".join(printable(piece.body.text) for piece in part.pieces if piece.followed and not piece.shared)
    block.followed = {entry.raw for entry in block.entries if entry.raw in followed}
    block.heading = printable(part.name.text) if part.name else None
    block.headings = [printable(cell.text) for cell in (part.name, part.described) if cell]
    block.titles = [printable(cell.text) for cell in part.title]
    return block


def _tells(entry: SheetEntry) -> bool:
    """Whether an entry gives a figure of its topic, or a box or its bung, which stands above what is said of all."""
    topic = (entry.topic or "").removeprefix(OWN_COLUMN)
    if topic in ("enclosure", "bung"):
        return True
    return any(amount.kind in HOLDS.get(topic, ()) for amount in amounts(entry.value))


def _virtual(piece: Piece) -> str:
    """A piece as the line that it would be on a sheet of its own."""
    if piece.apart:
        return printable(piece.body.text)
    head = " ".join(cell.text.strip(" :") for cell in piece.heads)
    return f"{head.replace(':', ' ')}: {piece.body.text}" if head else piece.body.text


def _parts(text: str) -> Iterator[list[str]]:
    part: list[str] = []
    for line in re.split(r"\r\n?|[\n\v\f\x85\u2028\u2029]", text):
        if line.strip():
            part.append(line[:LONGEST_CELL_LINE])
        elif part:
            yield part
            part = []
    if part:
        yield part


_CORE: Final = frozenset(("size", "width", "height", "depth", "weight", "sensitivity", "impedance", "price"))
"""What every sheet says, and says once."""


def _continues(last: SheetBlock, block: SheetBlock) -> bool:
    """Whether a part belongs to the loudspeaker above it."""
    if block.topics & last.topics & {"model"}:
        return not (_figures(last) or _model_keys(last) & _model_keys(block))
    said = {entry.key for entry in last.entries if (entry.topic or "").removeprefix(OWN_COLUMN) in _CORE}
    if any(entry.key and entry.key in said for entry in block.entries):
        return block.section
    return block.section or len(_figures(last) & _figures(block)) < 3


def _model_keys(block: SheetBlock) -> set[str]:
    """The labels under which it names its model."""
    return {one.key for one in block.entries if one.key and (one.topic or "").removeprefix(OWN_COLUMN) == "model"}


def _figures(block: SheetBlock) -> set[str]:
    """Of what every sheet says, what has a figure here."""
    return {
        entry.topic.removeprefix(OWN_COLUMN)
        for entry in block.entries
        if entry.topic and entry.topic.removeprefix(OWN_COLUMN) in _CORE and re.search(r"\d", entry.value)
    }


def _block(lines: Sequence[str]) -> SheetBlock:
    block = SheetBlock()
    pending: str | None = None
    labels = stacked(lines)
    for number, line in enumerate(lines):
        shown = printable(line)
        if _RULE.match(shown) or number in labels.values():
            continue
        menu = is_furniture(shown) and number not in labels and label(Cell(shown, 0, 0)) is None
        if menu or is_head(shown) or OTHER_MODELS.match(folded(_bare(shown))):
            block.entries.append(SheetEntry("besides", "", folded(shown), shown, shown))
            continue
        if number in labels:
            block.entries += _under(printable(lines[labels[number]]), shown, adjoining=labels[number] == number - 1)
            continue
        if number == 0 and SECTION.match(folded(_bare(shown))):
            block.section = True
            continue
        entries = list(statements(line))
        if pending is not None and len(entries) == 1 and entries[0].topic in (None, _bare_topic(entries[0])):
            entries = [*statements(f"{pending}: {shown}")]
            entries = [SheetEntry(e.topic, e.key, e.value, e.said, f"{pending} {shown}") for e in entries]
            pending = None
        elif pending is not None:
            block.entries.append(SheetEntry(None, "", folded(pending), pending, pending))
            pending = None
        if number == 0 and _is_heading(shown, entries):
            block.heading = _bare(shown)
            block.headings.append(block.heading)
        elif _is_key_alone(shown, entries):
            pending = shown
        else:
            block.entries += entries
    if pending is not None:
        block.entries += statements(pending)
    return block


def _under(label: str, value: str, *, adjoining: bool) -> Iterator[SheetEntry]:
    """The statements of a value on a line of its own, under its label."""
    for entry in statements(f"{label.rstrip(' :')}: {value}"):
        yield replace(entry, raw=f"{label} {value}" if adjoining else value)


def _bare_topic(entry: SheetEntry) -> str | None:
    """The topic of a line that has no key and only a unit to tell it by."""
    return entry.topic if not entry.key and topic_of(entry.value, anywhere=True) is None else None


def _bare(shown: str) -> str:
    return BULLET.sub("", shown).strip(" *_#|:")


def _is_heading(shown: str, entries: Sequence[SheetEntry]) -> bool:
    """Whether the first line of a part names the loudspeaker: short, no key, no figure, no sentence."""
    bare = _bare(shown)
    if any(entry.topic or entry.key for entry in entries) or not re.search(r"[^\W\d_]", bare):
        return False
    return len(bare.split()) <= 8 and len(bare) <= 80 and not re.search(r"[.!?;]$|,", bare)


def _is_key_alone(shown: str, entries: Sequence[SheetEntry]) -> bool:
    """Whether a line is only the key of the line under it."""
    if len(entries) != 1 or re.search(r"\d|\?$", shown) or SECTION.match(folded(shown)):
        return False
    entry, words = entries[0], folded(shown).strip(": ")
    return not entry.key and entry.topic not in (None, "enclosure", "bung", *KEY_ONLY) and len(words.split()) <= 4


def _split_by_model(block: SheetBlock) -> Iterator[SheetBlock]:
    """A second, different model within a part starts a loudspeaker of its own."""
    current, model = SheetBlock(block.heading, section=block.section, headings=block.headings), None
    for entry in block.entries:
        if entry.topic == "model" and entry.key == "name" and model is not None:
            # beside a model, the name is only what it is called in the shop
            entry = replace(entry, topic="role")
        if entry.topic in ("model", f"{OWN_COLUMN}model"):
            if model is not None and entry.said != model and (_figures(current) or entry.key in _model_keys(current)):
                yield current
                current = SheetBlock()
            model = entry.said
        current.entries.append(entry)
    current.entries = called_once(current.entries)
    yield current
