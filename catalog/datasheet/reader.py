"""A datasheet's text to fields, questions and unread lines."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import Any, Final

from triptych.catalog import consistency
from triptych.catalog.datasheet import (
    asked_price,
    band,
    crossovers,
    enclosure,
    impedance,
    nameless_drivers,
    naming,
    ranges,
    runs,
    same_as,
    sensitivities,
    side_orders,
    sides,
    titles,
    told_once,
    topics,
)
from triptych.catalog.datasheet.accounts import account
from triptych.catalog.datasheet.aligned import tabbed
from triptych.catalog.datasheet.arrangement import find_parts
from triptych.catalog.datasheet.doubts import raise_doubts, refuse_crowd
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.folding import clauses_marked, half_width, printable, unwrapped
from triptych.catalog.datasheet.going_on import rows_whole
from triptych.catalog.datasheet.grounds import weighed
from triptych.catalog.datasheet.gutters import columns_apart
from triptych.catalog.datasheet.lines import SheetBlock, block_of, blocks, whole
from triptych.catalog.datasheet.mentions import calls_of
from triptych.catalog.datasheet.name_grounds import signs_as_model
from triptych.catalog.datasheet.notes import annotated
from triptych.catalog.datasheet.pages import is_page, page_text
from triptych.catalog.datasheet.parts import SheetPart
from triptych.catalog.datasheet.result import GIVEN, ReadField, ReadSheet, ReadStatus, SheetRecord
from triptych.catalog.datasheet.sheet_words import topic_of
from triptych.catalog.datasheet.text_cells import lines
from triptych.catalog.datasheet.unowned import OF_ALL
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS, LOUDSPEAKER
from triptych.catalog.names import name_key
from triptych.catalog.quantities import Kind
from triptych.catalog.stated_records import NAME_PARTS

LONGEST_TEXT: Final = 200_000
"""What one text may hold. [characters]."""

NO_LABEL: Final = "no label says so; told by its unit"
"""The flag of a figure in running text that nothing but its unit names."""

FOLLOWED: Final = "its sentence names no loudspeaker, and goes on from one that does"
"""The flag of a figure that nothing but the sentence before gives to one of several loudspeakers."""

UNNAMED: Final = "one of several loudspeakers here, and nothing names it"
"""The flag of all figures of a loudspeaker among others of which no model is known."""

_MONEY: Final = ("price", "currency", "price_per")


def read_datasheet(
    text: str,
    given: Mapping[str, str] | Sequence[Mapping[str, str]] | None = None,
    *,
    one: bool = False,
    models: Sequence[str] = (),
) -> ReadSheet:
    r"""Return what a datasheet says of each of its loudspeakers.

    Parameters
    ----------
    text : str
        Free text, a table or a web page, in English, German, French, Spanish, Italian, Dutch or Polish; see
        `layout.find_parts` for several loudspeakers and `lines.blocks` for one over several paragraphs.
    given : mapping of str to str, or a sequence of such, optional
        Columns that a person says, in the words of the loudspeaker file, of all or of each; what hangs on them is
        read anew.
    one : bool
        Whether a person says that all of it is about one loudspeaker.
    models : sequence of str
        The loudspeakers to take of several, as the text calls them.

    Raises
    ------
    BadInput
        The text is too long to be a datasheet, or none of its loudspeakers is called as `models` says.

    Examples
    --------
    >>> sheet = read_datasheet('Width: 21 1/2" (546 mm)\nImpedance: 4-8 ohms')
    >>> fields = sheet.records[0].fields
    >>> fields["width"].value, fields["impedance_nominal"].status.value
    (0.546, 'refused')
    """
    if len(text) > LONGEST_TEXT:
        raise BadInput(f"the text has {len(text)} characters; {LONGEST_TEXT} are the most, so cut it into parts")
    # a soft hyphen stands where a word may be broken, and is no part of it
    plain = (page_text(text) if is_page(text) else text).replace("\u00ad", "")
    text = annotated(runs.joined(unwrapped(columns_apart(rows_whole(tabbed(clauses_marked(half_width(plain))))))))
    parts, rest = ([], []) if one else find_parts(text, models)
    found = [block_of(part) for part in parts] if parts else [whole(text)] if one else blocks(text)
    each = [given or {}] * len(found) if given is None or isinstance(given, Mapping) else list(given)
    each += [{}] * (len(found) - len(each))
    _name(found, parts, text, each[0].get("maker") if each else None)
    order = side_orders.order_told(entry for block in found for entry in block.entries) if len(found) > 1 else None
    once = told_once.told_once(text, parts)
    made = [
        partial(_record, block, _known(said), once, several=len(found) > 1, one=one, order=order)
        for block, said in zip(found, each[: len(found)], strict=True)
    ]
    read = weighed(_compared(found, parts, made), parts, text)
    records = tuple(_without(record, _unsaid(said)) for record, said in zip(read, each, strict=False))
    regions: list[list[tuple[int, int]]] = [part.region for part in parts] or [[] for _ in records]
    return ReadSheet(records, tuple(printable(cell.text) for cell in rest), text, account(text, records, regions))


def _compared(
    found: Sequence[SheetBlock], parts: Sequence[SheetPart], made: Sequence[Callable[..., SheetRecord]]
) -> list[SheetRecord]:
    """The records of all loudspeakers, each with what is told of it by another one."""
    records = [record() for record in made]
    calls = calls_of(parts or [SheetPart() for _ in found])
    for number, record in enumerate(made if len(made) > 1 else ()):
        if told := same_as.inherited(number, found, records, calls):
            records[number] = record(told=told)
    return records


def _name(found: Sequence[SheetBlock], parts: Sequence[SheetPart], text: str, maker: str | None) -> None:
    """Tell each loudspeaker what the title above it says of its name; `maker` is who a person says makes the one."""
    if parts:
        header = " ".join(cell.text for piece in parts[0].pieces for cell in piece.heads)
        each = titles.several([block.heading or "" for block in found], parts[0].title, header)
        for block, part, names in zip(found, parts, each, strict=True):
            series = {"series": part.series.text} if part.series else {}
            block.names, block.guessed, block.placed = names.columns | series, names.guessed, names.placed
            model = names.columns.get("model", "")
            if model and not part.labelled and not signs_as_model(model, [block.heading or ""]):
                block.placed |= {"model"}
            if part.maker and block.heading:
                own = {"maker": part.maker.text, "model": block.heading[len(part.maker.text) :].strip()}
                block.names, block.guessed = names.columns | series | own, False
                block.placed = frozenset()
    elif len(found) == 1:
        told = lines(text)
        labelled = {entry.topic: entry.said for entry in reversed(found[0].entries) if entry.key}
        names = titles.names(told, maker or labelled.get("maker"), labelled.get("model"))
        found[0].names, found[0].guessed, found[0].placed = names.columns, names.guessed, names.placed
        found[0].titles += titles.title_lines(told)


def _known(given: Mapping[str, str]) -> dict[str, ReadField]:
    """What a person says, as fields; what can't be read is told by whoever stores it."""
    known: dict[str, ReadField] = {}
    for name, text in given.items():
        try:
            value = COLUMNS[name].read(text) if name in COLUMNS else None
        except BadInput:
            continue
        if value is not None:
            known[name] = ReadField(value, ReadStatus.READ, (GIVEN,), text)
    return known


def _unsaid(given: Mapping[str, str]) -> set[str]:
    """The columns of which a person says that nothing is known, whatever the sheet says."""
    return {name for name, text in given.items() if name in COLUMNS and not text.strip()}


def _without(record: SheetRecord, columns: set[str]) -> SheetRecord:
    """A record without what is said to be unknown, and without the questions about it."""
    if not columns:
        return record
    asked = tuple(one for one in record.questions if one.partition(":")[0] not in columns)
    kept = {name: field for name, field in record.fields.items() if name not in columns}
    return SheetRecord(kept, asked, record.unread)


def _record(
    block: SheetBlock,
    known: Mapping[str, ReadField],
    once: told_once.Told,
    *,
    several: bool,
    one: bool,
    order: tuple[str | None, ...] | None,
    told: Mapping[str, ReadField] = MappingProxyType({}),
) -> SheetRecord:
    draft = Draft(fields=dict(known), given=frozenset(known), order=order)
    draft.unit = next((unit for entry in block.entries if (unit := side_orders.unit_of_all(entry))), None)
    for entry in block.entries:
        read = topics.read_entry(entry, draft)
        crossovers.from_ranges(entry, draft)
        # what a cabinet is told of may be its size and weight too
        read |= topics.read_value(entry, draft)
        if not read:
            draft.unread.append(entry.raw)
        if not entry.key and entry.topic is None:
            nameless_drivers.nameless(entry, draft)
        elif not entry.key and entry.topic in ("tweeter", "enclosure", "crossover", "role"):
            nameless_drivers.cones(entry, draft)
        if entry.topic not in ("enclosure", "elsewhere", "packing", "besides") and not (
            entry.key and entry.topic is None
        ):
            enclosure.in_passing(entry.value, entry.raw, draft)
        if (not entry.key and entry.topic != "besides") or entry.topic in (None, "enclosure"):
            naming.roles_in_passing(entry.value, entry.raw, draft)
    for heading in (
        *block.headings,
        *(entry.value for entry in block.entries if not entry.topic and not entry.key),
        *block.titles,
    ):
        naming.roles_in_title(heading, draft)
    if block.heading is not None and block.entries:
        naming.read_heading(block.heading, draft)
    elif block.heading is not None:
        draft.unread.append(block.heading)
    for column, name in block.names.items():
        naming.from_title(column, name, draft, guessed=block.guessed, placed=column in block.placed)
    naming.roles_in_title(str(draft.known("model") or ""), draft)
    same_as.fill_tweeter(told, draft)
    ranges.settle(block.entries, draft)
    for settle in (
        nameless_drivers.settle,
        sides.settle,
        impedance.settle,
        sensitivities.settle,
        band.settle,
        enclosure.settle,
        asked_price.settle,
    ):
        settle(draft)
    same_as.fill(told, draft)
    told_once.fill(once, draft)
    raise_doubts(draft)
    _refuse_contradictions(draft)
    if not several and not one:
        refuse_crowd(draft)
    asked_price.drop_terms(draft)
    unlabelled = {entry.raw for entry in block.entries if not entry.labelled}
    for column, field in list(draft.fields.items()):
        if field.raw in unlabelled and (column in LOUDSPEAKER or column in _MONEY) and field.value is not None:
            draft.flag(column, NO_LABEL)
        if field.raw in block.unowned and field.value is not None:
            draft.flag(column, OF_ALL)
        if field.raw in block.followed and field.value is not None:
            draft.flag(column, FOLLOWED)
    if several and draft.known("model") is None:
        for column in [name for name, field in draft.fields.items() if field.value is not None]:
            draft.flag(column, UNNAMED)
    in_order = {name: draft.fields[name] for name in COLUMNS if name in draft.fields}
    # who it is comes before how wide it is
    first = sorted(draft.questions, key=lambda column: column not in NAME_PARTS)
    asked = dict.fromkeys(draft.questions[column] for column in first)
    names = [str(in_order[name].value) for name in NAME_PARTS if name in in_order]
    unread = dict.fromkeys(line for line in draft.unread if not _gave_the_name(line, names))
    return SheetRecord(in_order, tuple(asked), tuple(unread))


def _gave_the_name(line: str, names: Sequence[str]) -> bool:
    """Whether a line says nothing but names that were taken, such as a heading of maker, series and model."""
    words = set(name_key(line).split())
    taken = {word for name in names for word in name_key(name).split()}
    return bool(words) and all(word in taken or topic_of(word) == "series" for word in words)


def _refuse_contradictions(draft: Draft) -> None:
    """Refuse what the other figures of the loudspeaker contradict, and what is outside its plausible range."""
    for name, found in list(draft.fields.items()):
        if found.value is not None and not _plausible(name, found.value):
            draft.fields[name] = ReadField(None, ReadStatus.REFUSED, ("outside the plausible range",), found.raw)
    # each refusal can leave another figure without its ground, such as a drop without its limit
    while sum(_refuse_fault(name, complaint, draft) for name, complaint in _faults(draft)):
        pass


def _faults(draft: Draft) -> list[consistency.Fault]:
    return consistency.faults({name: found.value for name, found in draft.fields.items()})


def _refuse_fault(name: str, complaint: str, draft: Draft) -> bool:
    found = draft.fields.get(name)
    if found is None or found.value is None:
        return False
    draft.fields[name] = ReadField(None, ReadStatus.REFUSED, (f"figures that disagree: {complaint}",), found.raw)
    draft.ask(name, f"{complaint}; what is right?")
    return True


def _plausible(name: str, value: Any) -> bool:
    quantity = LOUDSPEAKER.get(name)
    if quantity is None:
        return True
    values = value if isinstance(value, tuple) else (value,)
    whole = quantity.kind is not Kind.COUNT or all(float(one).is_integer() for one in values)
    return whole and all(quantity.low <= one <= quantity.high for one in values)
