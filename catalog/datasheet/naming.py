"""Names, roles, and the columns whose own words a sheet uses."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.name_grounds import signs_as_model
from triptych.catalog.datasheet.name_parts import GUESSED, bare_name, without_form
from triptych.catalog.datasheet.result import ReadField, ReadStatus
from triptych.catalog.datasheet.titles import PLACED, TITLE_TOLD
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS
from triptych.catalog.records import Orientation, Role

_ROLES: Final = tuple(
    (kind, re.compile(words))
    for kind, words in (
        (
            Role.CENTRE,
            r"\bcent(?:re|er)s?\b|central(?:es?)?\b|centro\b|centerlautsprecher|\bcenter-|center ?kanal|"
            r"middenluidspreker|middenkanaal|voie centrale|kanal centraln\w+|canale centrale|canal central|"
            r"\bl/?c/?r\b|\bcentraal|centraln\w+|\bmitte\b|\bmidden\b|centralne\b|\bcenter\w*",
        ),
        (Role.SURROUND, r"surround|efektow|\brears?\b speaker|effekt|effets? (?:arriere|surround)|efectos traseros"),
        (Role.HEIGHT, r"height (?:channel|speaker)|overhead|effets? (?:de )?hauteur|hohenkanal|canal de altura"),
        (Role.SUB, r"subwoofer"),
        (
            Role.MAIN,
            r"floor-? ?stand|tower|bookshelf|stand-? ?mount|standlautsprecher|regallautsprecher|"
            r"kompaktlautsprecher|colonne|"
            r"bibliotheque|diffusore da (?:pavimento|scaffale|stand)|columna|estanteria|vloerstaand|boekenplank|"
            r"podlogow|podstawkow|kolumn[ay]\b|da scaffale|de estanteria|boekenplank|"
            r"\bvloer\b|\b(?:regal|stand)$|standmount|regalbox|"
            r"enceinte compacte|(?:altavoz|caja) de suelo|zuil(?:luidspreker)?\b|"
            r"bibliotheque|\bscaffale\b|\bpavimento\b|monitor|main speaker|left/right|\bl/?c?/?r\b|standbox",
        ),
    )
)


_LCR: Final = re.compile(r"\bl/?c/?r\b|left|main|bookshelf|regal")
_PLAIN_ROLE: Final = re.compile(
    r"cent(?:re|er)[- ](?:channel )?(?:loud)?speakers?\b|cent(?:re|er) channel\b|glosnik centraln\w*|"
    r"center-?lautsprecher|enceintes? centrales?\b|altavoz central|"
    r"diffusore centrale|(?:surround|floor-? ?standing|bookshelf)[- ](?:loud)?speakers?\b"
)


def read_name(entry: SheetEntry, draft: Draft) -> bool:
    """Take maker, model, series or family as written, without what only describes it."""
    bare = bare_name(entry.said) if entry.topic == "model" else entry.said
    if entry.topic == "maker":
        # an address may stand behind a maker's name
        bare = without_form(re.split(r"[,;]\s|\.\s(?=[A-Z])", bare)[0])
    return read_column(replace(entry, said=bare), draft, entry.topic or "")


def read_role(entry: SheetEntry, draft: Draft) -> bool:
    """Take what it is offered for, and let an enclosure be told by the caller."""
    try:
        draft.put("roles", COLUMNS["roles"].read(entry.said), entry.raw)
    except BadInput:
        return infer_roles(entry.value, entry.raw, draft)
    return True


def infer_roles(text: str, raw: str, draft: Draft) -> bool:
    """Conclude a role from words such as 'centre' or 'floorstanding'."""
    found = frozenset(role for role, pattern in _ROLES if pattern.search(text))
    if Role.CENTRE in found:
        # a column may be no more than a box, as in Polish, where an LCR is said to be both
        found -= {Role.SURROUND, Role.HEIGHT} | (set() if _LCR.search(text) else {Role.MAIN})
    if found and draft.known("roles") is None:
        draft.put("roles", found, raw, ("concluded from its description",), inferred=True)
    return bool(found)


def roles_in_passing(text: str, raw: str, draft: Draft) -> None:
    """Conclude a role from running text that says it in so many words."""
    found = _PLAIN_ROLE.search(text)
    if found:
        infer_roles(found[0], raw, draft)


def roles_in_title(title: str, draft: Draft) -> None:
    """Conclude a role from a short line without figures, such as a title."""
    if draft.known("roles") is None and len(title.split()) <= 14 and not title.endswith("?"):
        infer_roles(folded(title), title, draft)


def read_heading(heading: str, draft: Draft) -> None:
    """Take the heading for the model where the sheet names none; who makes it is asked."""
    infer_roles(folded(heading), heading, draft)
    if draft.known("model") is None:
        try:
            name = COLUMNS["model"].read(heading)
        except BadInput:
            return
        told = "the heading; it may hold maker and series too"
        flags = (told,) if signs_as_model(heading, [heading]) and not _odd(heading) else (told, PLACED)
        draft.put("model", name, heading, flags, inferred=name is not None)
        if PLACED in flags:
            draft.ask("model", f"is it {heading!r}? nothing but its place tells that; 'yes', or what it is")
    if draft.known("maker") is None:
        draft.ask("maker", f"who makes {heading!r}?")


def _odd(name: str) -> bool:
    """Whether a heading hardly is a name and nothing else: a sentence, leaders, brackets, a long number."""
    words = name.split()
    small = sum(word[0].islower() and len(word) > 3 for word in words)
    return len(words) > 5 or small > 1 or re.search(r"\.\.|[\[\]|:]|\d{4}|['’]\d", name) is not None


def from_title(column: str, name: str, draft: Draft, *, guessed: bool = False, placed: bool = False) -> None:
    """Take a name that the title tells, unless the sheet states one under a label; ask what only its place tells."""
    old = draft.fields.get(column)
    if old is not None and (old.status is ReadStatus.READ or "disagree" in " ".join(old.flags)):
        # of two names under labels a title settles nothing
        return
    placed = placed or _odd(name)
    try:
        value = COLUMNS[column].read(name)
    except BadInput:
        return
    if value is not None:
        flag = GUESSED if guessed else PLACED if placed else TITLE_TOLD
        draft.fields[column] = ReadField(value, ReadStatus.INFERRED, (flag,), name)
        draft.questions.pop(column, None)
        if guessed and column == "maker":
            draft.ask(column, f"is {name!r} all of the maker's name? 'yes', or what it is")
        elif placed:
            draft.ask(column, f"is it {name!r}? nothing but its place tells that; 'yes', or what it is")


def is_exact(column: str, text: str) -> bool:
    """Return whether a text is a value in the words of the loudspeaker file."""
    try:
        COLUMNS[column].read(text)
    except BadInput:
        return False
    return True


def read_column(entry: SheetEntry, draft: Draft, name: str) -> bool:
    """Take a value in the words of the loudspeaker file's column."""
    try:
        value = COLUMNS[name].read(entry.said)
    except BadInput as problem:
        draft.refuse(name, str(problem), entry.raw)
        return True
    if value is None:
        return True
    draft.put(name, value, entry.raw)
    return True


def read_orientation(entry: SheetEntry, draft: Draft) -> bool:
    """Take the pose that the dimensions describe; two poses are none."""
    upright = re.search(
        r"vertical|upright|senkrecht|aufrecht|stehend|verticale?|hochkant|rechtop|verticaal", entry.text
    )
    lying = re.search(r"horizont|lying|liegend|waagerecht|waagrecht|orizzont|couche|liggend", entry.text)
    if upright and lying:
        draft.refuse("orientation", "both poses are named", entry.raw, "which pose do width and height describe?")
    elif upright or lying:
        draft.put("orientation", Orientation.UPRIGHT if upright else Orientation.LYING, entry.raw)
    return bool(upright or lying)
