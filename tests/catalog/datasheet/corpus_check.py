"""What the invented datasheets must hold: their truth parses, names real columns, and accounts for every number.

The truth of a sheet, beside it as TOML:

- `kind`, `language`, `tidy`, then one `[[loudspeaker]]` for each that the text is about, in its order.
- `figures`: what a practitioner would enter, in the column's own unit; materials and word fields in English.
- `also`: other values of a column that are as right as the figure, such as the price of one beside that of a pair.
- `said`: the piece of text behind a figure whose digits aren't in the text (number words, a pair's weight halved).
- `may_refuse`: why an honest reader may refuse or ask. With the column in `figures` too, that value or none is right;
  without it, no value can be right.
  What isn't said but entered by custom (a main, a lying centre, the basis of a sensitivity unknown) is in both.
- `[[trap]]`: numbers that belong to no column. All occurrences of its text are covered.
"""

import re
import tomllib
import unicodedata
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from html.parser import HTMLParser
from pathlib import Path

CORPUS = Path(__file__).parent / "corpus"
ASIDE = (
    "kept",
    "kept2",
    "aside3",
    "aside4",
    "aside5",
    "aside6",
    "aside7",
    "aside8",
    "aside9",
    "learn10",
    "aside11",
    "aside12",
)
"""Folders of sheets whose number can be divided by three: at first nobody tunes a reader on them."""
FOLDERS = (
    *("open", "fresh", "fresh2", "fresh2/aside", "fresh3", "fresh4"),
    *("several", "several/aside", "solo", "solo/aside", *ASIDE, "learn12"),
)
KINDS = {"maker's page", "PDF copy", "dealer's listing", "forum paste", "magazine table", "price list", "manual"}
LANGUAGES = {"en-GB", "en-US", "de", "fr", "es", "it", "nl", "pl", "en-JP", "en-CN"}

UNITS = {
    "width": "mm",
    "height": "mm",
    "depth": "mm",
    "feet": "mm",
    "rear_allowance": "mm",
    "weight": "kg",
    "port_diameter": "mm",
    "sensitivity": "dB",
    "impedance_nominal": "ohm",
    "impedance_minimum": "ohm",
    "low_limit": "Hz",
    "low_limit_drop": "dB",
    "high_limit": "Hz",
    "tweeter_size": "mm",
    "tweeter_coverage": "",
    "axis_height": "mm",
    "midrange_size": "mm",
    "midrange_count": "",
    "woofer_size": "mm",
    "woofer_count": "",
    "woofer_spacing": "mm",
    "crossover": "/",
    "crossover_order": "th",
    "amplifier_min": "W",
    "amplifier_max": "W",
    "power_handling": "W",
    "price": "",
    "tax_rate": "",
}
"""Columns of numbers and the unit that the truth writes them in; `/` and `th` are written without one."""
SCALES = {"mm": (1.0, 10.0, 1000.0, 25.4, 304.8), "kg": (1.0, 0.45359237, 0.001), "Hz": (1.0, 1000.0)} | {
    "/": (1.0, 1000.0),
    "th": (1.0, 1 / 6),
}
"""What a number in the text may be multiplied by to give the truth's."""
CHOICES = {
    "orientation": {"upright", "lying"},
    "enclosure": {"sealed", "ported", "passive_radiator", "transmission_line", "open_back"},
    "port_location": {"front", "rear", "side", "top", "bottom", "none"},
    "bung": {"yes", "no"},
    "sensitivity_basis": {"anechoic", "in_room", "half_space", "unknown"},
    "tweeter_type": {"dome", "waveguide_dome", "horn", "ribbon", "folded_ribbon", "ring", "cone"},
    "price_per": {"each", "pair"},
    "tax": {"included", "excluded"},
    "sold_as": {"single", "pair", "either"},
    "status": {"current", "last_of_line", "discontinued"},
}
FREE_WORDS = {"roles", "tweeter_material", "layout", "currency", "note"}
ROLES = {"main", "centre", "surround", "height", "sub"}
COLUMNS = set(UNITS) | set(CHOICES) | FREE_WORDS

_BLOCKS = {"br", "p", "li", "td", "th", "tr", "dt", "dd", "div", "h1", "h2", "h3", "h4", "pre", "caption", "option"}
_NUMBER_AS_WRITTEN = {"crossover": r"[\d.]+(/[\d.]+)*", "tweeter_coverage": r"[\d.]+ × [\d.]+"}
_NUMBERS = tuple(
    re.compile(pattern)
    for pattern in (
        r"\d+[ -]+\d+/\d+",
        r"\d+/\d+",
        r"\d{1,3}(?:[ '’]\d{3})+(?:[.,]\d+)?",
        r"\d+(?:[.,]\d+)+",
        r"\.\d+",
        r"\d+",
    )
)


@dataclass(frozen=True)
class Sheet:
    """One invented datasheet: the text a reader would see, and its truth."""

    name: str
    text: str
    truth: dict[str, object]


@dataclass
class _PageText(HTMLParser):
    """The text of an HTML page without scripts, styles and comments."""

    pieces: list[str] = field(default_factory=list)
    hidden: int = 0

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag in ("script", "style")
        self.pieces.append(" " if tag in _BLOCKS else "")

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        self.pieces.append("" if self.hidden else data)


def page_text(page: str) -> str:
    parser = _PageText()
    parser.feed(page)
    return "".join(parser.pieces)


@lru_cache(4096)
def plain(text: str) -> str:
    """Half-width characters, fractions written out, one space between words."""
    spelt = "".join(map(_apart, text))
    return " ".join(unicodedata.normalize("NFKC", spelt).replace("⁄", "/").replace("−", "-").replace("‐", "-").split())


@cache
def _apart(character: str) -> str:
    """A fraction or a raised figure, kept apart from the digits before it."""
    raised = unicodedata.decomposition(character).startswith(("<fraction>", "<super>"))
    return f" {character}" if raised and unicodedata.category(character) == "No" else character


def paths(folder: str) -> list[Path]:
    return sorted((CORPUS / folder).glob("*.toml"))


def sheet_at(path: Path) -> Sheet:
    text = path.with_suffix(".txt")
    body = text.read_text("utf-8") if text.exists() else page_text(path.with_suffix(".html").read_text("utf-8"))
    return Sheet(path.stem, body, tomllib.loads(path.read_text("utf-8")))


def sheets(folder: str) -> Iterator[Sheet]:
    return map(sheet_at, paths(folder))


def complaints(sheet: Sheet) -> list[str]:
    """Everything that is wrong with a sheet's truth, in words."""
    return [*_heads(sheet), *_columns(sheet), *_traps(sheet), *_unfounded(sheet), *unaccounted(sheet)]


def _heads(sheet: Sheet) -> Iterator[str]:
    if sheet.truth.get("kind") not in KINDS or sheet.truth.get("language") not in LANGUAGES:
        yield "kind or language is none of those known"
    if not _loudspeakers(sheet):
        yield "no loudspeaker"
    text = plain(sheet.text).casefold()
    for word in (word for who in _loudspeakers(sheet) for word in _name(who).casefold().split()):
        if word not in text and word not in text.replace(" ", ""):
            yield f"the name's word {word!r} isn't in the text"


def _columns(sheet: Sheet) -> Iterator[str]:
    for who in _loudspeakers(sheet):
        for column in {**_table(who, "figures"), **_table(who, "said"), **_table(who, "may_refuse")}:
            if column not in COLUMNS:
                yield f"no such column: {column}"
        for column, value in _entries(who):
            if not _well_written(column, value):
                yield f"{column} can't be {value!r}"


def _well_written(column: str, value: str) -> bool:
    if column in CHOICES:
        return value in CHOICES[column]
    if column == "roles":
        return set(value.split(";")) <= ROLES
    if column in FREE_WORDS:
        return bool(value)
    return re.fullmatch(_NUMBER_AS_WRITTEN.get(column, r"[\d.]+" + _unit(column)), value) is not None


def _unit(column: str) -> str:
    return f" {UNITS[column]}" if UNITS[column].isalpha() and UNITS[column] != "th" else ""


def _traps(sheet: Sheet) -> Iterator[str]:
    text = plain(sheet.text)
    for trap in _list(sheet, "trap"):
        if plain(str(trap["text"])) not in text:
            yield f"trap isn't in the text: {trap['text']!r}"
        if not trap.get("why"):
            yield f"trap without a reason: {trap['text']!r}"
    for who in _loudspeakers(sheet):
        for said in _table(who, "said").values():
            if plain(said) not in text:
                yield f"what is said isn't in the text: {said!r}"


def _unfounded(sheet: Sheet) -> Iterator[str]:
    """Figures that no number in the text can be."""
    text = plain(sheet.text)
    read = sorted({value for start, end in _digit_runs(text) for value in _readings(text, start, end)})
    for who in _loudspeakers(sheet):
        explained = set(_table(who, "said")) | set(_table(who, "may_refuse"))
        for column, value in _entries(who):
            for number in _numbers_of(column, value):
                if column not in explained and not any(_holds(read, *ends) for ends in _meant(column, number)):
                    yield f"{column} = {value!r} isn't in the text"


def unaccounted(sheet: Sheet) -> list[str]:
    """The numbers of the text that the truth says nothing of, each with what stands around it."""
    text = plain(sheet.text)
    covered = set(_covered(sheet, text))
    wanted = {
        ends
        for who in _loudspeakers(sheet)
        for column, value in _entries(who)
        for number in _numbers_of(column, value)
        for ends in _meant(column, number)
    }
    return [
        f"number not accounted for: {text[max(0, start - 25) : end + 20]!r}"
        for start, end in _digit_runs(text)
        if not covered.issuperset(range(start, end))
        and not any(low <= value <= high for value in _readings(text, start, end) for low, high in wanted)
    ]


def _covered(sheet: Sheet, text: str) -> Iterator[int]:
    pieces = [str(trap["text"]) for trap in _list(sheet, "trap")]
    for who in _loudspeakers(sheet):
        names = [str(who.get(key, "")) for key in ("maker", "series", "model")]
        pieces += [name for name in (*names, f"{names[1]} {names[2]}".strip()) if re.search(r"[^\W\d]", name)]
        pieces += _table(who, "said").values()
        pieces += re.findall(r"“([^”]*)”", " ".join(_table(who, "may_refuse").values()))
    for piece in map(plain, pieces):
        pattern = re.escape(piece)
        for found in re.finditer(rf"(?<!\d){pattern}" if piece[0].isdigit() else pattern, text, re.IGNORECASE):
            yield from range(*found.span())


def _digit_runs(text: str) -> Iterator[tuple[int, int]]:
    return (found.span() for found in re.finditer(r"\d+", text))


@lru_cache(4096)
def _readings(text: str, start: int, end: int) -> frozenset[float]:
    """Every number that the digits may be part of, however its separators are meant."""
    low = max(0, start - 24)
    near = text[low : end + 24]
    found = (
        match.group()
        for pattern in _NUMBERS
        for match in pattern.finditer(near)
        if match.start() + low <= start and end <= match.end() + low
    )
    whole = {value for piece in found if not _cut(piece, text, start, end) for value in _values(piece)}
    return frozenset(whole | _in_a_cell(text, start, end))


def _in_a_cell(text: str, start: int, end: int) -> set[float]:
    """The number of a cell that commas part from others, as in a file of values: many, and no blank beside them."""
    left, right = text.rfind(" ", 0, start) + 1, text.find(" ", end)
    if text.count(",", left, right if right >= 0 else None) <= 4:
        return set()
    before, after = re.search(r"[\d.]*$", text[:start]), re.match(r"[\d.]*", text[start:])
    cell = f"{before[0] if before else ''}{after[0] if after else ''}".strip(".")
    return set(_values(cell)) if cell else set()


def _cut(piece: str, text: str, start: int, end: int) -> bool:
    """Whether a piece is only a part of a number with a decimal mark or thousands, such as the 17 of 17,8."""
    before, after = text[max(0, start - 2) : start], text[end : end + 2]
    return piece == text[start:end] and bool(re.search(r"\d,$|\.$", before) or re.match(r"[.,]\d", after))


def _values(piece: str) -> Iterator[float]:
    if "/" in piece:
        *whole, fraction = re.split(r"[ -]+", piece)
        above, below = map(int, fraction.split("/"))
        if below:
            yield sum(map(float, whole)) + above / below
        return
    bare = re.sub(r"[ '’]", "", piece)
    yield float(re.sub(r"[.,]", "", bare))
    for mark, other in (",.", ".,"):
        if bare.count(other) <= 1:
            yield float(re.sub(re.escape(mark), "", bare).replace(other, "."))


def _numbers_of(column: str, value: str) -> list[float]:
    return [] if column not in UNITS else [float(number) for number in re.findall(r"\d+(?:\.\d+)?", value)]


def _meant(column: str, number: float) -> Iterator[tuple[float, float]]:
    """Between which numbers of a text a figure lies, by unit; inches and pounds may be rounded beside the metric."""
    for scale in SCALES.get(UNITS[column], (1.0,)):
        slack = 0.001 if scale in (1.0, 10.0, 1000.0) else 0.035
        yield number * (1 - slack) / scale, number * (1 + slack) / scale


def _holds(values: Sequence[float], low: float, high: float) -> bool:
    """Whether one of some values in order lies between two."""
    place = bisect_left(values, low)
    return place < len(values) and values[place] <= high


def _list(sheet: Sheet, key: str) -> list[dict[str, object]]:
    found = sheet.truth.get(key, [])
    assert isinstance(found, list)
    return found


def _loudspeakers(sheet: Sheet) -> list[dict[str, object]]:
    return _list(sheet, "loudspeaker")


def _table(who: dict[str, object], key: str) -> dict[str, str]:
    found = who.get(key, {})
    assert isinstance(found, dict)
    return found


def _entries(who: dict[str, object]) -> Iterator[tuple[str, str]]:
    """Columns and values: the figures and what is as right as they."""
    yield from _table(who, "figures").items()
    also = who.get("also", {})
    assert isinstance(also, dict)
    yield from ((column, str(value)) for column, values in also.items() for value in values)


def _name(who: dict[str, object]) -> str:
    return " ".join(str(who.get(key, "")) for key in ("maker", "series", "model"))
