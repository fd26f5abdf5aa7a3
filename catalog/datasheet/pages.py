"""A web page to the text that a reader of it sees: tables as cells, scripts and styles dropped."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Final

_HIDDEN: Final = frozenset(("script", "style", "noscript", "template", "head", "svg"))
_LINES: Final = frozenset(
    [
        "p",
        "div",
        "li",
        "ul",
        "ol",
        "dl",
        "dt",
        "section",
        "article",
        "main",
        "header",
        "footer",
        "nav",
        "table",
        "caption",
        "pre",
        "form",
        "option",
        "blockquote",
        "tr",
    ]
)
_HEADINGS: Final = frozenset(("h1", "h2", "h3", "h4", "h5", "h6"))
_RAISED: Final = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_PAGE: Final = re.compile(r"\s*(?:<!doctype html|<html|<(?:div|section|table|article|body|head|h1|p)\b)", re.IGNORECASE)


def is_page(text: str) -> bool:
    """Return whether a text is the source of a web page.

    >>> is_page("<!DOCTYPE html><p>Wren</p>"), is_page("Width < 546 mm")
    (True, False)
    """
    return _PAGE.match(text) is not None and re.search(r"</\w+>|<t[rd]\b", text) is not None


def page_text(page: str) -> str:
    r"""Return what a page shows, a line a block, with tabs between the cells of a row.

    >>> page_text("<h1>Wren</h1><table><tr><th>Width<td>546&nbsp;mm</table><script>x(1)</script>").split("\n")
    ['Wren', '', 'Width\t546\xa0mm']
    """
    parser = _Page()
    parser.feed(page)
    parser.close()
    shown = re.sub(r"(?:, *)+(?=\n|$)|(?<=: )(?:, *)+|(?<=, )(?:, *)+", "", "".join(parser.pieces))
    return re.sub(r"\n(?:[ \t\u00a0]*\n){2,}", "\n\n", re.sub(r" *\n *", "\n", shown)).strip()


@dataclass
class _Cell:
    pieces: list[str] = field(default_factory=list)
    across: int = 1
    down: int = 1
    heads: bool = False

    @property
    def text(self) -> str:
        return re.sub(r"^[\s,;]+|[\s,;]+$", "", re.sub(r"[ \t\r\n]+", " ", "".join(self.pieces)))


@dataclass
class _Page(HTMLParser):
    """Pieces of text in the order of the page; inside a table, of the open cell."""

    pieces: list[str] = field(default_factory=list)
    rows: list[list[_Cell]] = field(default_factory=list)
    tables: int = 0
    hidden: int = 0
    raised: bool = False
    term: bool = False
    listed: int = -1
    """Which item of a numbered list is open."""
    inside: bool = False
    """Whether the definition of a term is open, whose lines belong together."""

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open a block, a row or a cell."""
        if tag in _HIDDEN:
            self.hidden += 1
        elif tag == "table":
            self._break("\n")
            self.tables += 1
        elif tag == "tr" and self.tables:
            self.rows.append([])
        elif tag in ("td", "th") and self.tables:
            self._open_cell(tag, dict(attrs))
        elif tag in ("s", "del", "strike"):
            self._put(" (was ")
        elif tag == "sup":
            self.raised = True
        elif tag == "dd":
            self._put(": " if self.term else "; ")
            self.term, self.inside = False, True
        elif tag == "br":
            self._break("\n")
        else:
            self._open_block(tag)

    def _open_block(self, tag: str) -> None:
        if tag == "dt":
            self.term = True
        if tag in ("ol", "ul"):
            self.listed = 0 if tag == "ol" else -1
        if tag in _HEADINGS:
            self._break("\n\n")
        elif tag in _LINES:
            self._break("\n")
        if tag == "li" and self.listed >= 0:
            self.listed += 1
            self._put(f"{self.listed} ")

    def handle_endtag(self, tag: str) -> None:
        """Close a block; a table is written when it ends."""
        if tag in _HIDDEN:
            self.hidden = max(0, self.hidden - 1)
        elif tag == "table" and self.tables:
            self.tables -= 1
            self._write_table()
        elif tag in ("s", "del", "strike"):
            self._put(") ")
        elif tag == "sup":
            self.raised = False
        elif tag == "dd":
            self.inside = False
            self._break("\n")
        elif (tag in _LINES and tag != "dt") or tag in _HEADINGS:
            self._break("\n\n" if tag in _HEADINGS else "\n")

    def handle_data(self, data: str) -> None:
        """Put text where it belongs, a footnote's mark raised."""
        if not self.hidden:
            self._put(data.translate(_RAISED) if self.raised else re.sub(r"[ \t\r\n]+", " ", data))

    def close(self) -> None:
        """Write a table that nobody closed."""
        super().close()
        self._write_table()

    def _open_cell(self, tag: str, attrs: dict[str, str | None]) -> None:
        if not self.rows:
            self.rows.append([])
        across, down = (_span(attrs.get(name)) for name in ("colspan", "rowspan"))
        self.rows[-1].append(_Cell([], across, down, tag == "th"))

    def _put(self, text: str) -> None:
        cell = self.tables and self.rows and self.rows[-1]
        (self.rows[-1][-1].pieces if cell else self.pieces).append(text)

    def _break(self, mark: str) -> None:
        if (self.tables and self.rows) or self.inside:
            self._put(", ")
        elif mark != "\n" or not "".join(self.pieces[-3:]).rstrip(" ").endswith("\n"):
            self._put(mark)

    def _write_table(self) -> None:
        grid = _grid(self.rows)
        self.rows = []
        for row in grid:
            self.pieces.append("\t".join(row).rstrip() + "\n")
        self.pieces.append("\n" if grid and len(grid[0]) > 2 else "")


def _span(text: str | None) -> int:
    return min(int(text), 50) if text and text.isdigit() and int(text) else 1


def _grid(rows: Sequence[Sequence[_Cell]]) -> list[list[str]]:
    """Texts by row and column; heads that lie over one another become one row of heads."""
    grid: list[dict[int, _Cell]] = [{} for _ in rows]
    for number, row in enumerate(rows):
        column = 0
        for cell in row:
            while column in grid[number]:
                column += 1
            for below in range(number, min(number + cell.down, len(rows))):
                grid[below] |= {column + right: cell for right in range(cell.across)}
            column += cell.across
    heads = [row for row in grid if row and all(cell.heads for cell in row.values())]
    if len(heads) > 1 and grid[: len(heads)] == heads:
        width = max(max(row) for row in heads) + 1
        merged = [_under([row[column] for row in heads if column in row]) for column in range(width)]
        return [merged, *map(_texts, grid[len(heads) :])]
    return [_texts(row) for row in grid if row]


def _texts(row: dict[int, _Cell]) -> list[str]:
    return [row[column].text if column in row else "" for column in range(max(row, default=-1) + 1)]


def _under(cells: Sequence[_Cell]) -> str:
    """The lowest head, with what the one above says in brackets, such as a unit."""
    texts = list(dict.fromkeys(cell.text for cell in cells))
    brackets = [found for text in texts[:-1] for found in re.findall(r"\([^)]*\)", text)]
    return " ".join((texts[-1], *brackets)) if texts else ""
