"""Drivers: how many, how large, how a tweeter is loaded and what it is made of."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.driver_sizes import lengths_of, longer, nominal, with_units
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.joining import AND, WITH
from triptych.catalog.datasheet.readings import UnitReading, refused, resolve
from triptych.catalog.datasheet.result import NOMINAL_SLACK, ReadStatus
from triptych.catalog.datasheet.sheet_words import DRIVER_KINDS, RADIATOR, topic_of
from triptych.catalog.datasheet.tweeters import DOMES, FOLDED, RIBBON, read_coverage, read_layout, read_tweeter
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

KINDS: Final = ("tweeter", "midrange", "woofer")
_CLOSE: Final = 6
"""How near a driver's word is to its size where both stand together: 'médium de 115 mm'. [characters]."""
MOST_AT_ONCE: Final = 4
"""A whole number above it before 'x' is a size and no count; common practice, no source."""

_NUMBERS: Final = {
    **dict.fromkeys(("single", "one", "un", "une", "ein", "einen", "eine", "uno", "una", "een", "jeden", "a"), 1),
    **dict.fromkeys(("twin", "dual", "two", "double", "pair of", "deux", "zwei", "due", "dos", "twee", "doppel"), 2),
    **dict.fromkeys(("dwa", "doppio", "doppelter", "double", "je ein", "dubbele", "doble", "twee keer"), 2),
    **dict.fromkeys(("triple", "three", "trois", "drei", "tre", "tres", "drie", "trzy"), 3),
    **dict.fromkeys(("quad", "four", "quatre", "vier", "quattro", "cuatro", "cztery"), 4),
}
_KIND_START: Final = r"mid|woofer|bass|tweeter|tief|hoch|mittel|grave|laagt|hoget|boomer"
_COUNT: Final = re.compile(
    rf"(?:\(?(?<![\d.,])(?P<digits>\d{{1,2}})\)?\s*(?:x|@|off,?|st\.?|da|(?=(?:{_KIND_START})))(?![a-z])\s*|"
    rf"\(?(?<![\d.,])(?P<plain>\d{{1,2}})\)?\s*(?=(?:{_KIND_START}))|"
    r"(?<![\d.,])(?P<pieces>\d{1,2}) ?(?:pcs?|pieces?|pz|pezzi|unidades|uds?|unites?|stuks?|stuck|stk|szt)\b\.?,? *|"
    rf"\((?P<bracket>\d{{1,2}})\)\s*|(?P<word>\b(?:{'|'.join(sorted(_NUMBERS, key=len, reverse=True))})\b)[\s-]*)"
)
_KINDS_PATTERN: Final = "|".join(DRIVER_KINDS[kind].pattern for kind in KINDS)
_ARTICLES: Final = frozenset(("a", "un", "une", "ein", "eine", "einen", "uno", "una", "een", "one"))
_ONE_MORE: Final = re.compile(
    r"\s*(?:second|further|additional|extra|more|zweite|weitere|zusatzliche|deuxieme|seconde|supplementaire|segund|adicional|"
    r"secondo|ulteriore|tweede|drug|dodatkow)"
)
"""Behind 'a': one beside those that another loudspeaker has."""
_EITHER: Final = re.compile(
    r"(?:either|each|both) (?:side|end)s?|links und rechts|beidseit|de chaque cote|ai lati|a cada lado|\bje ein"
)
_COUNT_AFTER: Final = re.compile(
    r"(?:(?<!\d)(?<!\d )\(?\s*[x*]\s*(?P<digits>\d{1,2})\s*(?:pcs?|st|stk|szt)?|"
    r",\s*(?P<plain>\d{1,2}) ?(?:pcs?|stk|szt))"
    r"\.?\)?(?=\s*(?:$|[,;)(+/]))"
)
_NOT_THERE: Final = re.compile(r"\bn ?[./] ?a\b\.?|\bn\.v\.t\b\.?|\bs/o\b")
"""A cell that says that there is none."""
_COUNT_ALONE: Final = re.compile(r"\s*(?P<digits>\d{1,2})\s*$")
_TIMES: Final = re.compile(
    r"(?<![\d.,])(\d+(?:[.,]\d+)?) ?(cm|mm|\"|in)? ?[x*] ?(\d{1,2})(?![\d.,])(?! ?(?:mm|cm|in\b|\"))"
)
_SPLIT: Final = re.compile(
    r"[,;|]\s*(?=\D|\d+ ?x)|[,;|]\s+|"
    r"\s+(?:\+|flanking|flank|flanked by|plus|around|beside|/|·|above|below|beneath|under|"
    r"over|in an?(?! (?:\w+ )?(?:waveguide|wave guide|horn))|"
    r"(?:on )?either side of(?: an?)?|(?:de part et d'autre|autour) d[e'u])\s+|\s*\+\s*(?=\d)|"
    r"(?<=[\")])\s*/\s*(?=\d)|"
    r"\s+(?=(?:low|mid|high)[- ]freq)|"
    rf"\s+(?:{AND}|{WITH})\s+(?=\(?\d|an?\b|un|ein|een|uno|due|two|twin|dual|zwei|deux|dos|tweeter|woofer)"
)
_SIZED: Final = re.compile(r"\d ?-?(?:mm|cm|\"|in\b|inch|zoll)")
_ANOTHER_SIZE: Final = re.compile(
    r"(?<=[^\W\d_]{3})\s+(?=(?:an?|eine?n?|une?|una?|uno|een) \d[\d.,]*[ -]?(?:mm|cm|\"|in\b|inch|zoll))|"
    rf"\s+{AND}\s+(?=[^\W\d_]+ (?:[^\W\d_]+ )?\d[\d.,]*[ -]?(?:mm|cm|\"|in\b|inch|zoll))"
)
"""Before a driver that an article or a joiner brings in with its size."""
_KEY_PARTS: Final = re.compile(r"\s*(?:/|,|\+|·)\s*")


def read_drivers(entry: SheetEntry, draft: Draft) -> bool:
    """Take a list of drivers: each clause goes to the kind it names, or stands under in the key's own order."""
    taken = read_layout(entry, draft)
    ordered = _by_key(entry)
    entry = entry if ordered or topic_of(entry.key) != "drivers" else with_units(entry)
    if ordered:
        return sum(read_driver(one, draft) for one in ordered) > 0
    before: str | None = None
    nameless: list[str] = []
    for clause in clauses(entry.value):
        kind = kind_of(clause) or (before if _CONTINUES.match(clause) else None)
        if kind is not None and not RADIATOR.search(clause):
            key = f"{kind} {entry.key}" if topic_of(entry.key) in KINDS else f"{kind} {clause}"
            taken |= read_one(kind, clause, replace(entry, topic=kind, key=key, value=clause), draft)
            before = kind
        elif kind is None and re.search(r"\d", clause):
            nameless.append(clause)
    return _the_other(nameless, entry, draft) or taken


def _the_other(nameless: Sequence[str], entry: SheetEntry, draft: Draft) -> bool:
    """Beside a tweeter, the only driver that nobody names is the woofer; of several without a name each by its size."""
    if len(nameless) in (2, 3) and not {"tweeter_size", "woofer_size", "midrange_size"}.intersection(draft.fields):
        return _by_size(nameless, entry, draft)
    alone = len(nameless) == 1 and draft.known("tweeter_size") is not None and draft.known("woofer_size") is None
    named = topic_of(entry.key) == "drivers" or (not entry.key and nameless and _ANY_DRIVER.search(nameless[0]))
    if not alone or not named or DRIVER_KINDS["woofer"].search(entry.value):
        return False
    taken = read_one("woofer", nameless[0], replace(entry, key=f"woofer {entry.key}"), draft)
    found = draft.fields.get("woofer_size")
    if found is not None and found.value is not None:
        why = "named by nothing; the only driver beside the tweeter"
        draft.fields["woofer_size"] = replace(found, status=ReadStatus.INFERRED, flags=(*found.flags, why))
    return taken


def _by_size(nameless: Sequence[str], entry: SheetEntry, draft: Draft) -> bool:
    """Take two or three drivers by their sizes, where no other is about: '5.25" x 2 + 1" silk'."""
    sized = [(size, clause) for clause in nameless if (size := largest(clause)) is not None]
    ordered = sorted(sized, reverse=True)
    if len({size for size, _ in sized}) < len(nameless) or topic_of(entry.key) != "drivers":
        return False
    if not (ordered[0][0] >= SMALLEST_BASS and ordered[-1][0] <= _LARGEST_TREBLE):
        return False
    kinds = ("woofer", "tweeter") if len(ordered) == 2 else ("woofer", "midrange", "tweeter")
    for kind, (_, clause) in zip(kinds, ordered, strict=True):
        read_one(kind, clause, replace(entry, topic=kind, key=f"{kind} {entry.key}", value=clause), draft)
        found = draft.fields.get(f"{kind}_size")
        if found is not None and found.value is not None:
            why = "named by nothing; told by its size"
            draft.fields[f"{kind}_size"] = replace(found, status=ReadStatus.INFERRED, flags=(*found.flags, why))
    return True


_ANOTHER: Final = re.compile(
    rf"\W*(?:{AND} )?(?:an?|one|eine?n?|une?|uno|una|een|jeden)\W(?:[^\W\d]+\W)?"
    r"\d[\d.,]*\W?(?:mm|cm|in|inch|\"|zoll)\W{1,2}(?:\w+ )?(?:cones?|kon(?:us|en)|conus|conos?|coni?)\b"
)
"""One more driver in running text, by its size and its cone: 'a 13 cm cone'."""
_ANY_DRIVER: Final = re.compile(r"\b(?:drivers?|units?|glosnik\w*|haut-?parleurs?|altoparlant\w*|altavo\w+|chassis)\b")
SMALLEST_BASS: Final = 0.075
_LARGEST_TREBLE: Final = 0.04
"""Between them a driver without a name could be either; common practice, no source. [m]."""


def largest(clause: str) -> float | None:
    """Return the largest size in a clause that a driver can have. [m]."""
    values = [
        resolve(amount, LOUDSPEAKER["woofer_size"]).value or resolve(amount, LOUDSPEAKER["tweeter_size"]).value
        for amount in amounts(clause)
        if amount.kind is Kind.LENGTH
    ]
    return max((value for value in values if value is not None), default=None)


def _is_bass(clause: str) -> bool:
    """Whether a clause in running text that names no driver gives the size of one too large for a tweeter."""
    size = largest(clause)
    return size is not None and size >= SMALLEST_BASS and not DOMES.search(clause)


_CONTINUES: Final = re.compile(r"(?:silk|soft|fabric|paper|metal|cone|cupola|koepel|seide|soie|seta|seda|zijde)\b")


_TWO_NAMED: Final = re.compile(
    rf"^\W*(?P<one>[^\W\d]+) {AND} (?P<two>[^\W\d]+)\W+(?:\w+ )?(?P<first>\d[\d.,]*) ?(?P<unit>mm|"
    r"cm|in|\")? "
    rf"?(?:{AND}|/) (?P<second>\d[\d.,]*) ?(?P<last>mm|cm|in|\")\W*$"
)
"""Two kinds and then two sizes in their order: 'woofer and tweeter of 165 and 25 mm'."""


def _two_named(entry: SheetEntry) -> list[SheetEntry]:
    found = _TWO_NAMED.match(entry.value)
    kinds = [kind_of(found[part]) for part in ("one", "two")] if found else []
    if not found or None in kinds or len(set(kinds)) < len(kinds):
        return []
    sizes = [f"{found['first']} {found['unit'] or found['last']}", f"{found['second']} {found['last']}"]
    return [replace(entry, topic=kind, key=f"{kind} size", value=size) for kind, size in zip(kinds, sizes, strict=True)]


def read_driver(entry: SheetEntry, draft: Draft) -> bool:
    """Take count, size, loading and material of one kind of driver; other kinds that its value names go their way."""
    kind = entry.topic or ""
    if two := _two_named(entry):
        return sum(read_driver(one, draft) for one in two) > 0
    if _by_key(entry):
        return read_drivers(entry, draft)
    own: list[str] = []
    others: list[str] = []
    for clause in clauses(entry.value):
        named = kind_of(clause, strictly=True)
        if named is None and kind != "tweeter" and own and DOMES.search(clause):
            named = "tweeter"
        if named is None and not entry.key and own and _ANOTHER.match(clause):
            draft.cones.append((clause, entry.raw))
            continue
        if named is None and kind == "tweeter" and not entry.key and _is_bass(clause):
            others.append(clause)
            continue
        alone = named is None or named == kind or (named == "midrange" and kind == "woofer" and not own)
        (own if alone else others).append(clause)
    taken = bool(own) and not RADIATOR.search(entry.text) and read_one(kind, ", ".join(own), entry, draft)
    if others:
        taken |= read_drivers(replace(entry, topic="drivers", key="drivers", value=", ".join(others)), draft)
    return taken


def _by_key(entry: SheetEntry) -> list[SheetEntry]:
    """One entry a kind, where the key lists kinds and the value as many parts: 'TT/MT/HT (cm): 2 x 18 / 13 / 2,6'."""
    bare = re.sub(r"\([^)]*\)", "", entry.key)
    kinds = [kind_of(part) for part in _KEY_PARTS.split(bare.strip()) if part]
    if len(kinds) < 2 or None in kinds or len(set(kinds)) < len(kinds):
        return []
    parts = re.split(r"\s*(?:/(?! ?(?:2|4|8|16)(?![\d.,]))|,\s|\+|·)\s*", entry.value)
    if len(parts) != len(kinds):
        return []
    unit = re.search(r"\((?:mm|cm|in|inch)\)", entry.key)
    made = []
    for kind, part in zip(kinds, parts, strict=True):
        if re.search(r"\d", part):
            made.append(replace(entry, topic=kind, key=f"{kind} {unit[0] if unit else ''}".strip(), value=part))
    return made


def clauses(text: str) -> list[str]:
    """Return the pieces of a list of drivers: at commas, semicolons, plus signs, and 'and' before a count or a size."""
    # what stands in brackets goes with the driver before them
    whole = re.sub(r"(?<=[\d\"a-z]) \([^()]*\)", lambda match: re.sub(r"[,;]", " ", match[0]), text)
    return [one for clause in _SPLIT.split(whole) if clause and clause.strip() for one in _of_two(clause)]


def _of_two(clause: str) -> list[str]:
    """Return a clause as two where another driver with a size of its own follows its own: '... flank a 25 mm dome'."""
    for mark in _ANOTHER_SIZE.finditer(clause):
        before, after = clause[: mark.start()], clause[mark.end() :]
        kinds = kind_of(before), kind_of(after)
        if None not in kinds and kinds[0] != kinds[1] and _SIZED.search(before):
            return [before, after]
    return [clause]


def kind_of(clause: str, *, strictly: bool = False) -> str | None:
    """Return which kind of driver a clause names; without `strictly` a dome is a tweeter."""
    found = {kind: match for kind in KINDS if (match := DRIVER_KINDS[kind].search(clause))}
    if found:
        if "woofer" in found and "midrange" in found:
            return "woofer"
        return min(found, key=lambda kind: found[kind].start())
    return "tweeter" if not strictly and DOMES.search(clause) else None


def read_one(kind: str, text: str, entry: SheetEntry, draft: Draft) -> bool:
    """Take size and count of one kind of driver from a clause that is about it, and what a tweeter has more."""
    taken = _size_and_count(kind, text, entry, draft)
    if kind == "tweeter":
        taken |= read_tweeter(text, entry, draft)
        taken |= read_coverage(replace(entry, value=text), draft, sure=False)
    return taken


def _size_and_count(kind: str, text: str, entry: SheetEntry, draft: Draft) -> bool:
    text = _NOT_THERE.sub(" ", text)
    after = _COUNT_AFTER.search(text)
    text = f"{text[: after.start()]} {text[after.end() :]}" if after else text
    counted = after or _nearest_count(text, kind) or (_COUNT_ALONE.match(text) if _asked(entry) else None)
    named = lengths_of(text, entry)
    sizes = [size for size in named if not _nearer(kind, text, size)]
    every = [int(match["digits"]) for match in _COUNT.finditer(text) if match["digits"]]
    if len(every) == len(sizes) > 1 and len({(size.numbers, size.unit) for size in sizes}) == 1:
        return _added(kind, sum(every), sizes[0], entry, draft)
    ribbon = kind == "tweeter" and (FOLDED.search(text) or RIBBON.search(text))
    turned = _TIMES.search(text) if not after else None
    count = _count(counted)
    if counted and count == 1 and _ONE_MORE.match(text, counted.end()):
        draft.refuse(f"{kind}_count", "one more than another has", entry.raw, "how many are there?")
        count, counted = None, None
    if turned and not ribbon and float(turned[1].replace(",", ".")) > MOST_AT_ONCE >= int(turned[3]):
        count, sizes = int(turned[3]), lengths_of(f"{turned[1]} {turned[2] or ''}", entry)
    elif counted and count is not None and (count > _most(kind) or (kind == "tweeter" and count > MOST_AT_ONCE)):
        _two_sides(kind, counted[0], sizes, entry, draft, ribbon=bool(ribbon))
        return True
    if count == 1 and _EITHER.search(entry.text) and kind == "woofer":
        draft.put("woofer_count", 2, entry.raw, ("one on either side",), inferred=True)
    else:
        _put_count(kind, count, bool(sizes), entry, draft)
    if named and not sizes:
        _take_size(kind, refused(f"{named[0].printed!r} may be another driver's", entry.raw), entry, draft)
    elif sizes:
        reading = longer(sizes, kind, entry) if ribbon else nominal(sizes, kind, text, entry)
        _take_size(kind, reading, entry, draft)
    return bool(sizes) or count is not None


def _nearer(kind: str, text: str, size: WrittenAmount) -> bool:
    """Whether the word of another kind of driver stands nearer to a size, in a clause that names both."""
    places = {
        one: min(
            (max(found.start() - size.end, size.start - found.end()) for found in DRIVER_KINDS[one].finditer(text)),
            default=None,
        )
        for one in KINDS
    }
    own = places.pop(kind)
    others = {one: place for one, place in places.items() if place is not None}
    if own is None or not others or {kind, *others} >= {"woofer", "midrange"}:
        # a bass-midrange driver has the words of both
        return False
    return min(others.values()) < min(own, _CLOSE)


def _added(kind: str, count: int, size: WrittenAmount, entry: SheetEntry, draft: Draft) -> bool:
    """Take drivers of one size that are named apart, such as bass and bass-midrange, as so many of them."""
    if kind != "tweeter":
        draft.put(f"{kind}_count", count, entry.raw, ("drivers of one size added",), inferred=True)
    _take_size(kind, resolve(size, LOUDSPEAKER[f"{kind}_size"], raw=entry.raw), entry, draft)
    return True


def _nearest_count(text: str, kind: str) -> re.Match[str] | None:
    """The count that stands last before the first size or driver's word; an article counts only right before one.

    Where a clause names another kind before it, what stands at that one's size is no count of this kind.
    """
    own, others = DRIVER_KINDS[kind].search(text), [one for one in KINDS if one != kind]
    other = re.search("|".join(DRIVER_KINDS[one].pattern for one in others) + f"|{DOMES.pattern}", text)
    mixed = own is not None and other is not None and other.end() <= own.start() and kind != "tweeter"
    if mixed and own is not None:
        return next((one for one in reversed(list(_COUNT.finditer(text))) if one.end() == own.start()), None)
    first = re.search(r"\d+(?:[.,]\d+)? ?-?(?:mm|cm|in\b|inch|\"|zoll|pouce|pollic)|" + _KINDS_PATTERN, text)
    edge = first.start() if first else len(text)
    found = [match for match in _COUNT.finditer(text) if match.start() <= edge]
    found = found or list(_COUNT.finditer(text))[:1]
    sure = [match for match in found if not (match["word"] in _ARTICLES and match is not found[-1])]
    return sure[-1] if sure else None


def _take_size(kind: str, reading: UnitReading, entry: SheetEntry, draft: Draft) -> None:
    column = f"{kind}_size"
    old = draft.fields.get(column)
    if old is not None and old.value is not None and reading.value is not None and old.value != reading.value:
        near = abs(old.value - reading.value) <= NOMINAL_SLACK * max(old.value, reading.value)
        if near:
            return
    draft.take(column, reading, entry.raw)


def _put_count(kind: str, count: int | None, sized: bool, entry: SheetEntry, draft: Draft) -> None:
    column = f"{kind}_count"
    if count is None and sized:
        _assume_one(kind, entry, draft)
    elif count is not None and kind != "tweeter":
        old = draft.fields.get(column)
        apart = old is not None and old.value is not None and old.raw == entry.raw and draft.known(f"{kind}_size")
        if apart and old is not None and not old.flags:
            draft.fields[column] = replace(old, value=old.value + count, flags=("two kinds of them added",))
        else:
            draft.put(column, count, entry.raw)


def _asked(entry: SheetEntry) -> bool:
    """Whether a key asks for a number: 'Woofer quantity'."""
    return bool(re.search(r"number|quantity|count|anzahl|nombre|numero|aantal|qty", entry.key))


def _most(kind: str) -> int:
    return 12 if kind == "midrange" else 24


def _two_sides(
    kind: str, printed: str, sizes: Sequence[WrittenAmount], entry: SheetEntry, draft: Draft, *, ribbon: bool
) -> None:
    if ribbon and sizes:
        draft.take(f"{kind}_size", longer(sizes, kind, entry), entry.raw)
        return
    why = f"{printed.strip()!r} is too many to be a count, and two sides are no diameter"
    draft.refuse(f"{kind}_size", why, entry.raw)


def _count(match: re.Match[str] | None) -> int | None:
    if match is None:
        return None
    found = match.groupdict()
    digits = found.get("digits") or found.get("plain") or found.get("bracket") or found.get("pieces")
    return int(digits) if digits else _NUMBERS[found["word"]]


def _assume_one(kind: str, entry: SheetEntry, draft: Draft) -> None:
    """A driver in the singular is one; where the word has no singular, it is asked."""
    if kind == "tweeter" or re.search(r"size|diamet|durchm|grosse", entry.key):
        return
    column = f"{kind}_count"
    bare = re.sub(r"\([^)]*\)?", "", entry.key).split()
    singular = not re.search(r"(?:s|i|es|y|e)\b|ton(?:er)?\b|toner", bare[-1] if bare else "s")
    if singular and draft.known(column) is None:
        draft.put(column, 1, entry.raw, ("no count stated, and the word is in the singular",), inferred=True)
    elif draft.known(column) is None:
        draft.ask(column, "how many are there?")
