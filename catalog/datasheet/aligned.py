"""Printed lists whose heads, rows or cells go over several lines: as rows of cells with tabs between them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, takewhile
from typing import Final

from triptych.catalog.datasheet.draft import AXES
from triptych.catalog.datasheet.text_cells import Cell, label

_GAP: Final = re.compile(r"[ \u00a0]{2,}")
_RULE: Final = re.compile(r"[\s=_*~\-–—.]*")
_FEWEST_LABELS: Final = 3
"""How many heads of a list are labels at least; tried, no source."""
_FEWEST_FIGURES: Final = 3
"""How many cells of a row hold a figure at least; tried, no source."""
_MOST_HEADS: Final = 3
"""Over how many lines a head goes at most; tried, no source. [lines]."""
_SLIP: Final = 2
"""How far a row's first cell begins from the others'. [characters]."""
_FEWEST_SHARE: Final = 0.6
"""What share of the first row's cells each of the others has at least; tried, no source."""
_NEAR: Final = 5
"""How far from its column's edge a cell ends at most that runs over it. [characters]."""
_MOST_SLIPS: Final = 3
"""In a list of more rows than that one may run over an edge; tried, no source."""
_JOINERS: Final = ("/", "x", "×", "*", "-", "–", "+", "±", ",")
_OPENS_NOTE: Final = re.compile(r"\s*(?:[*†‡§]|\(?[1-9a-c¹²³][).]? )")


@dataclass(frozen=True, slots=True)
class _Run:
    """A piece of one line, and where it stands in it."""

    start: int
    end: int
    text: str


def tabbed(text: str) -> str:
    r"""Return a text with the printed lists that go over several lines a row as rows of cells with tabs between.

    >>> heads = "Model    Wt     Sens.   Imp.\n         kg     dB      ohm\n"
    >>> tabbed(heads + "Wren 1   5.2    86      8\nWren 2   8.0    88      4").replace("\t", "|")
    'Model|Wt kg|Sens. dB|Imp. ohm\nWren 1|5.2|86|8\nWren 2|8.0|88|4'
    """
    if text.count("  ") < 2 * _FEWEST_LABELS:
        return text
    lines = text.split("\n")
    made: list[str] = []
    at = 0
    while at < len(lines):
        found = _list_at(lines, at)
        if found is None:
            made.append(lines[at])
            at += 1
        else:
            rows, at = found
            made += rows
    return "\n".join(made)


def _list_at(lines: Sequence[str], at: int) -> tuple[list[str], int] | None:
    """The rows of the list whose head begins at a line, and the line behind it; None where none begins there."""
    if len(told := _told_heads(lines[at])) >= _FEWEST_LABELS:
        rows = list(takewhile(lambda row: len(_runs(lines[row])) == len(told) + 1, range(at + 1, len(lines))))
        cells = [[run.text.strip() for run in _runs(lines[row])] for row in rows]
        figures = all(re.search(r"\d", cell) for row in cells for cell in row[1:])
        made = ["\t".join(row) for row in (["", *told], *cells)]
        return (made, at + 1 + len(rows)) if len(rows) > 1 and figures else None
    if "\t" in lines[at] or "|" in lines[at] or len(_runs(lines[at])) < 2 or _is_row(lines[at], None):
        return None
    head = at + 1
    while head < len(lines) and head - at < _MOST_HEADS and lines[head].strip() and not _is_row(lines[head], None):
        if "\t" in lines[head] or _RULE.fullmatch(lines[head]):
            break
        head += 1
    first = next((row for row in range(head, min(head + 4, len(lines))) if _is_row(lines[row], None)), None)
    if first is None or any(len(_runs(line)) > 2 for line in lines[head:first]):
        return None
    margin = len(lines[first]) - len(lines[first].lstrip())
    rows, last = _body(lines, first, margin)
    if len(rows) < 2:
        return None
    while head - at > 1 and len(_runs(lines[head - 1])) == 1 and not _stands_under(lines[head - 1], lines[at]):
        head -= 1
    edges = _edges(lines[at:head], [lines[row] for row in rows])
    heads = _heads(lines[at:head], [lines[row] for row in rows], edges)
    # a column under no head is part of the one before it
    edges = [edge for place, edge in enumerate(edges) if not place or (heads and heads[place])]
    heads = [text for place, text in enumerate(heads) if text or not place]
    if len({label(Cell(text, 0, 0)) for text in heads if _is_label(text)}) < _FEWEST_LABELS:
        return None
    cut = {row: _cut(lines[row], edges) for row in rows}
    if sum(_is_label(cells[0]) for cells in cut.values()) * 2 > len(cut):
        # a column of labels: the loudspeakers stand beside one another
        return None
    plain = head - at == 1 and all(len(_runs(lines[row])) == len(_runs(lines[at])) for row in rows)
    within = [row for row in range(first, last) if row not in cut and _goes_on(lines[row], margin, edges)]
    if plain and not within:
        return None
    return ["\t".join(heads), *lines[head:first], *_rows(lines, first, last, cut, within, edges)], last


def _told_heads(line: str) -> list[str]:
    """The heads of a table whose line gives them as a list: 'SIZE (W x H x D, mm), WEIGHT, IMPEDANCE'."""
    heads = [text.strip(" :") for text in re.split(r"[,;]\s+(?![^(]*\))", line.strip())]
    return heads if len(heads) >= _FEWEST_LABELS and all(map(_is_label, heads)) else []


def _runs(line: str) -> list[_Run]:
    """The pieces of a line that wide blanks part."""
    edges = [0, *(edge for gap in _GAP.finditer(line) for edge in gap.span()), len(line)]
    pieces = zip(edges[::2], edges[1::2], strict=True)
    return [_Run(left, right, line[left:right]) for left, right in pieces if line[left:right].strip()]


def _is_row(line: str, margin: int | None) -> bool:
    """Whether a line is a row of a list: it begins where the others do, and figures stand in its cells."""
    runs = _runs(line)
    figures = sum(re.search(r"\d", run.text) is not None for run in runs)
    opens = bool(runs) and re.match(r"[^\W_]", runs[0].text.lstrip("„“\"'")) is not None
    begins = bool(runs) and (margin is None or abs(runs[0].start - margin) <= _SLIP)
    return (
        begins
        and opens
        and len(runs) > _FEWEST_FIGURES
        and figures >= _FEWEST_FIGURES
        and (margin is not None or not line.rstrip().endswith((".", ":")))
        and ":" not in runs[0].text
        and (margin is not None or runs[0].start < len(line) / 3)
        and sum(_is_label(run.text) for run in runs) < _FEWEST_LABELS
    )


def _body(lines: Sequence[str], first: int, margin: int) -> tuple[list[int], int]:
    """The rows from a first one on, and the line behind the last with what goes on in it."""
    rows, last = [first], first + 1
    fewest = _FEWEST_SHARE * len(_runs(lines[first]))
    for row in range(first + 1, len(lines)):
        line = lines[row]
        if _is_row(line, margin) and len(_runs(line)) >= fewest:
            rows.append(row)
            last = row + 1
        elif not line.strip() or _RULE.fullmatch(line):
            if row + 1 < len(lines) and not lines[row + 1].strip():
                break
        elif len(line) - len(line.lstrip()) > margin + _SLIP and row == last:
            last = row + 1
        elif "\t" in line or len(_runs(line)) > 2 or _OPENS_NOTE.match(line) or row - last > _MOST_HEADS:
            break
    return rows, last


def _edges(heads: Sequence[str], rows: Sequence[str]) -> list[int]:
    """Where the columns of a list begin: behind blanks in all rows, wide ones or those before a head."""
    width = max(map(len, rows))
    most = len(rows) - (len(rows) > _MOST_SLIPS)
    blank = [
        sum(place >= len(row) or row[place] in " \u00a0" for row in rows) >= most and place > 0
        for place in range(width)
    ]
    starts = {run.start for line in heads for run in _runs(line)}
    words = {match.start() for line in heads for match in re.finditer(r"(?<!\S)\S", line)}
    edges = [0]
    for place in range(1, width):
        if blank[place] or not blank[place - 1]:
            continue
        lone = place < 2 or not blank[place - 2]
        if not lone or place in starts or (place in words and _apart(rows, place)):
            edges.append(place)
    return edges if any(row[: edges[1]].strip() for row in rows) or len(edges) < 2 else edges[1:]


def _apart(rows: Sequence[str], place: int) -> bool:
    """Whether figures begin at a place in most rows, and behind another figure that none of them goes on."""
    begun = sum(row[place : place + 1].isdigit() for row in rows)
    before = [row[:place].split()[-1:] for row in rows if row[:place].strip()]
    figures = sum(re.search(r"\d", word) is not None for [word] in before)
    return min(begun, figures) * 2 > len(rows) and not any(word.endswith(_JOINERS) for [word] in before)


def _cut(line: str, edges: Sequence[int]) -> list[str]:
    """The cells of a row between the edges of the columns, or the blanks next to them where a cell runs over one."""
    cuts = [edges[0]]
    for edge in edges[1:]:
        over = edge < len(line) and line[edge - 1] not in " \u00a0"
        wide = [gap.end() for gap in _GAP.finditer(line, cuts[-1]) if abs(gap.end() - edge) <= 2 * _NEAR]
        near = [
            place + 1 for place in range(max(cuts[-1], edge - _NEAR), edge + _NEAR) if line[place : place + 1] == " "
        ]
        near = (wide or near) if over else []
        cuts.append(min(near, key=lambda place: abs(place - edge)) if near else len(line) if over else edge)
    return [
        _GAP.sub(" ", line[left:right].strip(" \u00a0")) for left, right in pairwise([*cuts, max(len(line), cuts[-1])])
    ]


def _heads(heads: Sequence[str], rows: Sequence[str], edges: Sequence[int]) -> list[str]:
    """The heads of the columns, each from all lines above it."""
    spans = [_span(rows, left, right) for left, right in pairwise([*edges, max(map(len, rows))])]
    found: list[list[str]] = [[] for _ in edges]
    crowded = False
    for line in heads:
        runs = _runs(line)
        over = [run for run in runs if any(run.start < right and left < run.end for left, right in spans)]
        told = [one for run in over for one in _over(run, spans, edges)]
        # a head over nothing is of an empty column, unless no other stands where it is nearest
        others = [one for run in runs if run not in over for one in _over(run, spans, edges)]
        told += [one for one in others if one[0] not in {place for place, _ in told}]
        crowded |= len({place for place, _ in told}) < len(told)
        for place, text in told:
            found[place].append(text)
    if crowded:
        # two heads over one column: which cell is whose is not to be seen
        return []
    for before, texts in pairwise(found):
        own = label(Cell(texts[-1], 0, 0)) if len(texts) == 1 else None
        if own in _PARTS_OF_ONE and len(before) > 1 and label(Cell(before[0], 0, 0)) in _GROUPS:
            # a group goes on over what it doesn't reach
            texts.insert(0, before[0])
    return [_joined(texts) for texts in found]


def _joined(texts: Sequence[str]) -> str:
    """The head of a column of all that stands above it; of a group over labels of their own only its unit is kept."""
    own = label(Cell(texts[-1], 0, 0)) if texts else None
    if len(texts) > 1 and own in _PARTS_OF_ONE and label(Cell(texts[0], 0, 0)) in _GROUPS:
        units = re.findall(r"\([^()]*\)|\[[^\[\]]*\]", texts[0])
        return " ".join([*texts[1:], *units])
    # a head that was broken: 'Wirkungs-' and 'grad' below
    return re.sub(r"(?<=[^\W\d_])- (?=[^\W\dA-Z_])", "", " ".join(texts))


_GROUPS: Final = frozenset(("size", "drivers"))
_PARTS_OF_ONE: Final = frozenset((*AXES, "tweeter", "midrange", "woofer"))
"""Labels of parts that one above them groups."""


def _span(rows: Sequence[str], left: int, right: int) -> tuple[int, int]:
    """From where to where the cells of a column reach."""
    told = [(row[left:right], len(row[left:right]) - len(row[left:right].lstrip())) for row in rows]
    starts = [left + lead for text, lead in told if text.strip()]
    ends = [left + len(text.rstrip()) for text, _ in told if text.strip()]
    return (min(starts), max(ends)) if starts else (left, right)


def _over(run: _Run, spans: Sequence[tuple[int, int]], edges: Sequence[int]) -> Iterator[tuple[int, str]]:
    """The columns over which a piece of a head stands: all that it spans, or each word's own where words align."""
    middle = [place for place, (left, right) in enumerate(spans) if run.start - 1 <= (left + right) / 2 <= run.end + 1]
    if len(middle) < 2:
        overlap = [min(run.end, right) - max(run.start, left) for left, right in spans]
        best = max(range(len(spans)), key=lambda place: (overlap[place], -abs(spans[place][0] - run.start)))
        yield (middle[0] if middle and overlap[middle[0]] * 2 > overlap[best] else best), run.text.strip()
        return
    words = [(run.start + match.start(), match[0]) for match in re.finditer(r"\S+", run.text)]
    opening = [at for at, word in words if word[0] not in "(["]
    begun = {place: at for at in opening for place in middle if abs(spans[place][0] - at) <= 1 or edges[place] == at}
    if len(begun) < len(middle):
        yield from ((place, run.text.strip()) for place in middle)
        return
    for place, following in zip(middle, [*middle[1:], None], strict=True):
        end = begun[following] if following is not None else run.end + 1
        yield place, " ".join(word for at, word in words if begun[place] <= at < end)


def _stands_under(line: str, above: str) -> bool:
    """Whether the only piece of a line stands under a piece of the head above it, far from the margin."""
    [run] = _runs(line)
    margin = len(above) - len(above.lstrip())
    return run.start > margin + _SLIP and any(
        run.start < other.end and other.start < run.end for other in _runs(above)[1:]
    )


def _is_label(text: str) -> bool:
    return label(Cell(re.sub(r"\([1-9a-c*]\)|[*†¹²³]", "", text).strip(), 0, 0)) is not None


def _goes_on(line: str, margin: int, edges: Sequence[int]) -> bool:
    """Whether a line goes on with cells of the row above: it has nothing in the first column."""
    lead = len(line) - len(line.lstrip())
    return bool(line.strip()) and lead > margin + _SLIP and len(edges) > 1 and lead + 1 >= edges[1]


def _rows(
    lines: Sequence[str],
    first: int,
    last: int,
    cut: dict[int, list[str]],
    within: Sequence[int],
    edges: Sequence[int],
) -> Iterator[str]:
    """The rows of a list with tabs, what goes on with them in their cells; other lines as they are."""
    cells: list[str] = []
    for row in range(first, last):
        if row in cut:
            if cells:
                yield "\t".join(cells)
            cells = list(cut[row])
        elif row in within and cells:
            for run in _runs(lines[row]):
                place = max((nth for nth, edge in enumerate(edges) if edge <= run.start + _SLIP), default=0)
                cells[place] = _gone_on(cells[place], run.text.strip())
        else:
            if cells:
                yield "\t".join(cells)
            cells = []
            yield lines[row]
    if cells:
        yield "\t".join(cells)


def _gone_on(cell: str, more: str) -> str:
    """A cell with what stands under it: a sentence that goes on, or another statement."""
    joined = " " if not cell or cell[-1] in ",;+&/" or more[0] in "(+&" or more[0].islower() else "; "
    return f"{cell}{joined}{more}".strip()
