"""Tables whose columns ran together: rows told apart by their rhythm, and values with strokes between them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.enclosure import enclosures_in
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.sections import siblings_in
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name, label

CORNER: Final = re.compile(
    r"^(?:model\w*|modell\w*|modele|item|mod\.?|type|typ|spec\w*|merk.*|marke.*|marque.*|make.*|no\.?|lp\.?|nr\.?|"
    r"art.*|platz.*|product|produkt)$"
)
NAMING: Final = re.compile(
    r"\b(?:model\w*|modell\w*|modele|mod\.?|mod|merk|marke|marque|make|naam|name|nazwa|nombre|nome|produkt\w*|"
    r"loudspeakers?|speakers?|lautsprecher|enceintes?|diffusori|altavoces|luidsprekers?|product\w*|prodotto|"
    r"articolo|articulo|kolumn[ay]|zestaw\w*|modello/\w+|item no|model no|designation|denominazione|"
    r"denominacion|bezeichnung|descri\w+|omschrijving)\b"
)


def told_apart(line: Line, start: int, wanted: int) -> list[Cell]:
    """Return values that ran together, one a column, where their rhythm tells them apart."""
    text = line.text[start - line.start :]
    lead, found, suffix = _groups(text)
    if lead or suffix or len(found) != wanted:
        found = _evenly(text, wanted)
    return [Cell(piece.strip(), start + at, start - line.start + at) for at, piece in found]


def _evenly(text: str, wanted: int) -> list[tuple[int, str]]:
    """Runs of as many words, alike in where figures stand: 'cupola 25mm cupola 28mm cupola 25mm'."""
    words = [(match.start(), match[0]) for match in re.finditer(r"\S+", text)]
    size, over = divmod(len(words), wanted)
    runs = [words[place * size : (place + 1) * size] for place in range(wanted)] if not over else []
    shapes = {tuple(bool(re.search(r"\d", word)) for _, word in run) for run in runs}
    if size < 2 or len(shapes) != 1 or not any(shapes.pop()):
        return []
    return [(run[0][0], text[run[0][0] : run[-1][0] + len(run[-1][1])]) for run in runs]


def _led_evenly(text: str, wanted: int) -> tuple[str, list[tuple[int, str]], str] | None:
    """A label and behind it runs alike that open with a word: 'Tweeter silk dome 25 mm silk dome 28 mm'."""
    for lead in re.finditer(r"\S+(?=\s)", text):
        if re.search(r"\d", lead[0]):
            break
        head = text[: lead.end()]
        found = _evenly(text[lead.end() :], wanted) if label(Cell(head, 0, 0)) else []
        if found and all(piece[0].isalpha() for _, piece in found):
            return head, [(lead.end() + at, piece) for at, piece in found], ""
    return None


_COUNTED: Final = re.compile(r"\(\d\)")
"""A count in brackets, which begins a value: '(2) 6-1/2 in.'."""
_JOINERS: Final = frozenset(["±", "x", "×", "*", "-", "–", "/", "+", "·"])


def _groups(text: str) -> tuple[str, list[tuple[int, str]], str]:
    """The words of a row before its figures, the figures with what belongs to each, and what brackets hold last."""
    suffix = re.search(r"\s*(\((?:[^()\d]*[^\W\d][^()\d]*|[^()]*\d ?(?:dB|V)\b[^()]*)\))\s*$", text)
    bare = text[: suffix.start()] if suffix else text
    words = [(match.start(), match[0]) for match in re.finditer(r"\S+", bare)]
    leading = re.search(r"[€£$¥] ?\d", bare) is not None and re.search(r"\d ?[€£$¥]", bare) is None
    starts = [
        start
        for place, (start, word) in enumerate(words)
        if (word[0].isdigit() or (leading and word[0] in "€£$¥") or word in "-–—" or _COUNTED.fullmatch(word))
        and not (place and (_COUNTED.fullmatch(words[place - 1][1]) or words[place - 1][1] in "€£$¥"))
        and not (place and words[place - 1][1].endswith(",") and re.match(r"\d", words[place - 1][1]))
        and (place == 0 or words[place - 1][1] not in _JOINERS or words[place - 1][1] in "·–—-")
        and not (word in "-–—" and _within_range(words, place))
        and not (place > 1 and words[place - 1][1] in "-–" and _within_range(words, place - 1))
    ]
    edges = [*starts, len(bare)]
    found = [(left, bare[left:right].strip(" ·")) for left, right in pairwise(edges)]
    return bare[: edges[0]].strip(), found, suffix[1] if suffix else ""


def _within_range(words: Sequence[tuple[int, str]], place: int) -> bool:
    """Whether a dash stands between two figures of one range: '50 Hz - 22 kHz'."""
    before, after = words[max(0, place - 1)][1], words[place + 1][1] if place + 1 < len(words) else ""
    unit = before in ("Hz", "kHz") and place > 1 and words[place - 2][1][:1].isdigit()
    return (unit and after[:1].isdigit()) or (
        place > 0 and bool(re.search(r"\d|Hz$", before)) and after[:1].isdigit() and before.isalpha() is not True
    )


def by_rhythm(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """Return columns that ran together: names that open with the same word, and rows with as many figures as names."""
    names = _repeated(lines[number].whole)
    if len(names) < 2:
        return None
    parts, taken = [SheetPart(name) for name in names], {number}
    above: Cell | None = None
    for row, following in zip(below, [*below[1:], None], strict=False):  # which may be none at all
        whole = lines[row].whole
        values = _groups(lines[following].whole.text) if following == row + 1 else ("", [], "")
        ahead = not values[0] and len(values[1]) == len(parts) and _is_label_alone(whole, len(parts))
        alone, above = above, whole if ahead else None
        if above is not None:
            taken.add(row)
            continue
        head, found, suffix = _led_evenly(whole.text, len(parts)) or _groups(whole.text)
        if len(found) != len(parts) and (bracket := _BRACKET.match(whole.text)):
            # figures in the label's own brackets: 'Sensitivity (2.83 V @ 1 m) 90 dB 87 dB'
            _, found, suffix = _groups(whole.text[bracket.end() :])
            head, found = bracket[0].strip(), [(start + bracket.end(), text) for start, text in found]
        if len(found) != len(parts) and (told := _CONDITION.match(whole.text)):
            # a voltage and a distance in the label: 'Sensitivity, 2.83 V/1 m 90 dB 87 dB'
            _, found, suffix = _groups(whole.text[told.end() :])
            head, found = told[0].strip(), [(start + told.end(), text) for start, text in found]
        if len(found) != len(parts):
            head, found = _words(whole.text, len(parts))
        if len(found) != len(parts):
            head, found = _boxes(whole.text, len(parts))
        if len(found) != len(parts):
            continue
        if head and any(head.split()[0] in text.split() for _, text in found):
            # the label comes again, so each column has its own
            continue
        heads = tuple(Cell(text, whole.start, whole.column) for text in (head, suffix) if text)
        if not head and alone is not None:
            heads = (alone, *heads)
        for part, (start, text) in zip(parts, found, strict=True):
            part.pieces.append(Piece(Cell(text, whole.start + start, start), heads))
        taken.add(row)
    return (parts, taken) if all(len(part.pieces) >= 3 for part in parts) else None


def _is_label_alone(whole: Cell, wanted: int) -> bool:
    """Whether a line is a label of more than a word whose values stand on the next: 'Size (W x H x D), mm'."""
    if "(" not in whole.text and _words(whole.text, wanted)[1]:
        return False
    return len(whole.text.split()) > 1 and label(whole) is not None and not re.search(r"\d", whole.text)


def _boxes(text: str, wanted: int) -> tuple[str, list[tuple[int, str]]]:
    """A row of enclosures, one a column, that a label leads: 'Loading Reflex, rear Sealed box'."""
    small = folded(text)
    starts = enclosures_in(small) if len(small) == len(text) else []
    head = text[: starts[0]].strip() if starts else ""
    if len(starts) != wanted or label(Cell(head, 0, 0)) is None or len(head.split()) > 3 or re.search(r"\d", text):
        return "", []
    return head, [(left, text[left:right].strip()) for left, right in pairwise([*starts, len(text)])]


_CONDITION: Final = re.compile(r"[^\d()]+?\d[.,]\d+ ?V(?:rms)?[ /@,]*1 ?m(?!\w)", re.IGNORECASE)
_BRACKET: Final = re.compile(r"[^\d()]+\([^()]*\)")


def _words(text: str, wanted: int) -> tuple[str, list[tuple[int, str]]]:
    """A row of single words, one a column, that a label may lead."""
    words = [(match.start(), match[0]) for match in re.finditer(r"\S+", text)]
    if any(char.isdigit() for char in text.replace("2-", "").replace("3-", "")):
        return "", []
    first = Cell(words[0][1], 0, 0) if words else None
    if first and len(words) == wanted + 1 and label(first):
        return first.text, words[1:]
    return "", words if len(words) == wanted else []


def _repeated(whole: Cell) -> list[Cell]:
    """The names of a line whose first word comes again: 'Lucarne 1 Lucarne 5 Lucarne C'."""
    led = re.match(r"\S+ ", whole.text)
    if led and CORNER.match(folded(led[0].strip(" :"))):
        whole = Cell(whole.text[led.end() :], whole.start + led.end(), whole.column + led.end())
    words = whole.text.split()
    if led and len(words) > 1 and all(map(_CODE.fullmatch, words)):
        return [
            Cell(match[0], whole.start + match.start(), whole.column + match.start())
            for match in re.finditer(r"\S+", whole.text)
        ]
    if len(words) < 4 or words.count(words[0]) < 2 or not words[0][0].isupper():
        return []
    starts = [match.start() for match in re.finditer(rf"(?<!\S){re.escape(words[0])}(?!\S)", whole.text)]
    edges = [*starts, len(whole.text)]
    names = [
        Cell(whole.text[left:right].strip(), whole.start + left, whole.column + left) for left, right in pairwise(edges)
    ]
    return (
        names
        if len(words[0]) > 2 and not _ARTICLE.fullmatch(words[0].casefold()) and all(map(_is_short_name, names))
        else []
    )


_CODE: Final = re.compile(r"[A-Z]{1,4}-?[A-Z]?\d{1,4}[A-Z]{0,3}")
_ARTICLE: Final = re.compile(r"the|les|los|las|der|die|das|het|our|this|that|what|how|and|und|for|it.s|with")


def _is_short_name(cell: Cell) -> bool:
    """Whether a cell is a name of few words, none of them an ordinary one, as in a sentence."""
    words = cell.text.split()
    return len(words) <= 4 and is_name(cell) and not any(word[0].islower() and len(word) > 2 for word in words)


_STROKE: Final = re.compile(r"\s+/\s+")


def by_strokes(lines: Sequence[Line], number: int, below: Sequence[int]) -> tuple[list[SheetPart], set[int]] | None:
    """Return names in one line with strokes between them, and rows with as many values: 'Models: A 1 / A 2 / A C'."""
    parts = _named_by_strokes(lines[number])
    if not parts:
        return None
    taken = {number}
    labelled = ":" in lines[number].text
    alike = len(siblings_in([part.name.text for part in parts if part.name])) == len(parts)
    for row in below:
        head, mark, said = lines[row].text.partition(":")
        lead = Cell(head.strip(), lines[row].start + len(head) - len(head.lstrip()), 0)
        if label(lead) is None:
            continue
        if not labelled and not alike and _STROKE.search(head):
            # labels in two languages: the strokes part no loudspeakers
            return None
        values = _stroked(said, lines[row].start + len(head) + len(mark), len(head) + 1)
        values = _in_groups(lines[row], values, len(parts), label(lead) == "size")
        alone = len(values) == 1 and (_FOR_ALL.search(folded(head)) or label(lead) == "role")
        if len(values) == len(parts) or alone:
            # a unit or a bracket behind the last is of all
            last = re.search(r"\d\s*([^\W\d]{1,4}|[\"Ω])?\s*(\([^()\d]+\))?$", values[-1].text)
            behind = [f"({last[1]})" if last[1] else "", last[2] or ""] if last and len(values) > 1 else []
            unit = tuple(Cell(word, values[-1].end, 0) for word in behind if word)
            for part, value in zip(parts, values * len(parts) if alone else values, strict=True):
                part.pieces.append(Piece(value, (lead, *unit)))
            taken.add(row)
    return (parts, taken) if all(len(part.pieces) >= 3 for part in parts) else None


def _named_by_strokes(line: Line) -> list[SheetPart]:
    """The loudspeakers of a line of names, behind a word for them or behind their maker: 'Tarn Wren 2 / Wren 4'."""
    led = re.match(r"(.*?\b)(\w+)\s*:\s*", line.text)
    if led and not NAMING.match(folded(led[2])):
        return []
    at = led.end() if led else 0
    names = _stroked(line.text[at:], line.start + at, at)
    if not 2 <= len(names) <= _MOST_NAMES or (not led and ":" in line.text):
        return []
    owner = Cell(led[1].strip(), line.start, 0) if led else None
    if owner is None:
        owner, names[0] = _owner_apart(names)
    if not all(map(is_name, names)) or (led is None and any(len(name.text.split()) > 3 for name in names)):
        return []
    title = (owner,) if owner and is_name(owner) else ()
    return [SheetPart(name, title=title) for name in names]


def _owner_apart(names: Sequence[Cell]) -> tuple[Cell | None, Cell]:
    """What stands before the first of several names, and that name, which is as long as the others."""
    first = names[0]
    longest = max(len(name.text.split()) for name in names[1:])
    words = list(re.finditer(r"\S+", first.text))
    if len(words) <= longest:
        return None, first
    at = words[-longest].start()
    return Cell(first.text[:at].strip(), first.start, first.column), Cell(
        first.text[at:], first.start + at, first.column + at
    )


def _in_groups(line: Line, values: Sequence[Cell], wanted: int, sides: bool) -> list[Cell]:
    """Values with strokes of their own in groups alike: '350 / 2800 / 400 / 3000 Hz' of two."""
    size, over = divmod(len(values), wanted)
    if over or size < 2 or (sides and size != len(_SIDES)):
        # as many bare numbers as a box has sides are no value for each of three
        bare = sides and len(values) == len(_SIDES) and not any(re.search("[x×*]", one.text) for one in values)
        return [] if bare else list(values)
    groups = [values[place * size : (place + 1) * size] for place in range(wanted)]
    shapes = {tuple(re.sub(r"[\d.,]+", "0", one.text) for one in group) for group in groups}
    if len(shapes) != 1:
        return []
    return [
        Cell(line.text[group[0].start - line.start : group[-1].end - line.start], group[0].start, group[0].column)
        for group in groups
    ]


_MOST_NAMES: Final = 6
"""More names than that in a line are no loudspeakers each; tried, no source."""
_SIDES: Final = ("width", "height", "depth")
_FOR_ALL: Final = re.compile(r"\((?:all|both|alle|tous|toutes|tutti|tutte|todos|todas|wszystkie)\b")


def _stroked(text: str, start: int, column: int) -> list[Cell]:
    edges = [0, *(edge for mark in _STROKE.finditer(text) for edge in mark.span()), len(text)]
    found = [(text[left:right], left) for left, right in zip(edges[::2], edges[1::2], strict=True)]
    blanks = [len(piece) - len(piece.lstrip()) for piece, _ in found]
    return [
        Cell(piece.strip(), start + left + blank, column + left + blank)
        for (piece, left), blank in zip(found, blanks, strict=True)
        if piece.strip()
    ]
