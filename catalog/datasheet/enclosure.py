"""The enclosure, and the face its port or passive radiator is on."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.readings import resolve
from triptych.catalog.datasheet.sheet_words import ENCLOSURES
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind
from triptych.catalog.records import Enclosure, PortLocation

_KINDS: Final = tuple(
    (kind, ENCLOSURES[kind.value])
    for kind in (
        Enclosure.PASSIVE_RADIATOR,
        Enclosure.TRANSMISSION_LINE,
        Enclosure.OPEN_BACK,
        Enclosure.PORTED,
        Enclosure.SEALED,
    )
)
_FACES: Final = tuple(
    (face, ENCLOSURES[face.value])
    for face in (PortLocation.REAR, PortLocation.FRONT, PortLocation.SIDE, PortLocation.BOTTOM, PortLocation.TOP)
)
_BUNG: Final = ENCLOSURES["bung"]
OF_A_DRIVER: Final = re.compile(
    r"\b(?:cavite|chambre|volume|camera|camara|vano) (?:\w+ )?(?:clos\w*|chius\w*|cerrad\w*)|"
    r"\b(?:sealed|closed|geschlossene\w*|gesloten|zamkniet\w*) (?:\w+ )?(?:chamber|sub-?enclosure|kammer|kamer|"
    r"komor\w*)"
)
"""The closed chamber of a midrange, which says nothing of the box."""
_NO_BUNG: Final = re.compile(r"\bno\b|\bnone\b|not |without|\bohne\b|\bsans\b|\bsin\b|senza|zonder|optional")
_ASK_FACE: Final = "which face is it on: front, rear, side, top or bottom?"


def enclosures_in(text: str) -> list[int]:
    """Return where the words for enclosures begin in folded text, one word each.

    >>> enclosures_in("loading reflex, rear sealed box")
    [8, 21]
    """
    found = sorted((match.start(), match.end()) for _, words in _KINDS for match in words.finditer(text))
    return [start for place, (start, _) in enumerate(found) if not place or start >= found[place - 1][1] + 1]


def read_enclosure(entry: SheetEntry, draft: Draft) -> bool:
    """Note which enclosures, faces and bungs an entry names; `settle` decides."""
    text = OF_A_DRIVER.sub(" ", _BUNG.sub(" ", entry.text))
    value = OF_A_DRIVER.sub(" ", entry.value)
    kinds = [kind for kind, pattern in _KINDS if pattern.search(value)]
    kinds = kinds or [kind for kind, pattern in _KINDS if pattern.search(text)]
    faces = [face for face, pattern in _FACES if pattern.search(text)]
    for kind in kinds:
        draft.enclosures.append((kind.value, entry.raw))
    ported = Enclosure.PORTED in kinds or Enclosure.PASSIVE_RADIATOR in kinds
    if ported or (not kinds and faces and re.search(rf"\b{_PORT}\b", entry.key)):
        _put_faces(faces, entry, draft)
    _put_diameter(entry, draft)
    return _put_bung(entry, draft) or bool(kinds)


_PLAIN: Final = re.compile(
    r"bas+[- ]?refle(?:x|ks)|reflex (?:port|tube|rohr)|(?:front|rear|down)-?ported|"
    r"(?:(?:rear|front|down)(?:ward)?-?(?:firing )?|slot )(?:reflex|ports?)\b|"
    r"(?:sealed|closed) (?:box|cabinet|enclosure)|geschlossene\w* (?:box|gehause)|enceinte close|caisson clos|"
    r"cassa chiusa|caja (?:cerrada|sellada)|gesloten (?:kast|behuizing)|obudow\w* zamkniet|zamkniet\w* obudow|"
    r"passive radiator|passivmembran|membran\w* biern|transmission line"
)
"""Words that say in any sentence what a box is."""


def in_passing(text: str, raw: str, draft: Draft) -> None:
    """Note an enclosure that a sentence about something else tells in so many words."""
    found = _PLAIN.search(text)
    clause = text[text.rfind(";", 0, found.start()) + 1 :].split(";")[0] if found else ""
    kinds = [kind for kind, pattern in _KINDS if found and pattern.search(found[0])]
    for kind in kinds:
        draft.passing.append((kind.value, clause, raw))


def _put_bung(entry: SheetEntry, draft: Draft) -> bool:
    if not _BUNG.search(entry.text):
        return False
    draft.put("bung", not _NO_BUNG.search(entry.text), entry.raw)
    return True


def _put_faces(faces: list[PortLocation], entry: SheetEntry, draft: Draft) -> None:
    if len(faces) == 1:
        draft.put("port_location", faces[0], entry.raw)
    elif faces:
        named = " and ".join(face.value for face in faces)
        draft.refuse("port_location", f"more than one face is named: {named}", entry.raw, f"{named}? {_ASK_FACE}")


def _put_diameter(entry: SheetEntry, draft: Draft) -> None:
    said = re.sub(r"\bø ?(?=\d)", "", entry.value)
    sizes = [amount for amount in amounts(said) if amount.kind is Kind.LENGTH and _at_a_port(amount, said, entry)]
    if len(sizes) == 1 and not re.search(r"\d\s*x\s*$", said[: sizes[0].start]) and "radiat" not in entry.text:
        draft.take("port_diameter", resolve(sizes[0], LOUDSPEAKER["port_diameter"], raw=entry.raw), entry.raw)
        return
    bare = re.search(r"[øØ⌀∅]\s*(\d{2,3})(?!\s*(?:\d|[.,]|cm|in\b|\"|mm))", entry.said)
    if bare and re.search(rf"{_PORT}\b", entry.text):
        flag = ("no unit stated; taken as mm",)
        draft.put("port_diameter", int(bare[1]) / 1000, entry.raw, flag, inferred=True)


_PORT: Final = (
    r"(?:ports?|\w*reflex\w*|\w*rohr|\w*offnung|tub[eo]s?|tunel\w*|otwor\w*|wylot\w*|condott[oi]|conductos?|accordo|events?|"
    r"vents?|ducts?|\w*poort|puerto|salida|trasero)"
)

_ROUND: Final = r"(?:o|ø|diam\w*|durchm\w*|doorsn\w*|srednic\w*|dia)\b\.?"
_DIAMETER: Final = re.compile(rf"\b{_ROUND}(?: (?:de|di|of|von|van|da|approx|ca|:)\.?)?\s*$")
_OF_DIAMETER: Final = re.compile(rf"\W{{0,3}}(?:(?:de|di|in|im|of) )?{_ROUND}")
"""A size that is told to be a diameter, before it or behind."""


def _at_a_port(amount: WrittenAmount, said: str, entry: SheetEntry) -> bool:
    """Whether a size stands right at a word for a port: a wall's or a distance's does not."""
    before, after = said[: amount.start], said[amount.end :]
    if re.match(r"\W{0,2}(?:mdf|thick|behind|plywood|stark|panel)", after) or re.search(
        r"(?:mdf|wall|panel\w*|least)\W*$", before
    ):
        return False
    told = _DIAMETER.search(before) or _OF_DIAMETER.match(after)
    keyed = re.search(rf"\b{_PORT}", entry.key) and (not before.strip() or told)
    return bool(
        keyed
        or re.search(rf"{_PORT}\b(?:[^,;\d]{{0,24}}\s?|,\s?)(?:sr\.|doorsnede|diam\w*|of)?\s*$", before)
        or re.match(rf"\W{{0,3}}(?:\w+\W){{0,2}}?{_PORT}", after)
    )


def read_port_size(entry: SheetEntry, draft: Draft) -> bool:
    """Take the diameter of one port."""
    before = "port_diameter" in draft.fields
    _put_diameter(entry, draft)
    return "port_diameter" in draft.fields and not before


def settle(draft: Draft) -> None:
    """Decide the enclosure: a passive radiator makes a closed box none, and otherwise two kinds contradict."""
    if not draft.enclosures:
        for name, clause, raw in draft.passing:
            draft.enclosures.append((name, raw))
            if name in (Enclosure.PORTED.value, Enclosure.PASSIVE_RADIATOR.value):
                faces = [face for face, pattern in _FACES if pattern.search(clause)]
                if len(faces) == 1 and draft.known("port_location") is None:
                    draft.put("port_location", faces[0], raw)
    if not draft.enclosures:
        return
    found = {Enclosure(kind) for kind, _ in draft.enclosures}
    raw = " | ".join(dict.fromkeys(raw for _, raw in draft.enclosures))
    if Enclosure.PASSIVE_RADIATOR in found:
        others = found - {Enclosure.PASSIVE_RADIATOR}
        flags = tuple(
            f"called {kind.value} too; a passive radiator makes it neither sealed nor ported" for kind in others
        )
        _put(Enclosure.PASSIVE_RADIATOR, raw, flags, draft)
    elif found == {Enclosure.SEALED, Enclosure.PORTED} and draft.known("bung"):
        _put(Enclosure.PORTED, raw, ("sealed only with its bung in",), draft)
    elif len(found) > 1:
        named = " and ".join(sorted(kind.value for kind in found))
        draft.refuse(
            "enclosure", f"two enclosures that disagree: {named}", raw, f"is it {named.replace(' and ', ' or ')}?"
        )
        if draft.known("port_location") is not None:
            why = f"figures that disagree: the box is called {named}, so it may have no port"
            draft.refuse("port_location", why, raw, _ASK_FACE)
    else:
        _put(found.pop(), raw, (), draft)


def _put(kind: Enclosure, raw: str, flags: tuple[str, ...], draft: Draft) -> None:
    draft.put("enclosure", kind, raw, flags)
    located = draft.fields.get("port_location")
    if kind in (Enclosure.PORTED, Enclosure.PASSIVE_RADIATOR) and located is None:
        draft.refuse("port_location", "not stated", raw, _ASK_FACE)
    elif kind is Enclosure.SEALED and located is None:
        draft.put("port_location", PortLocation.NONE, raw, ("a sealed box has no port",), inferred=True)
