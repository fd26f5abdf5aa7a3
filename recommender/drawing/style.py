"""The look of the drawings: one table of colours for paper and screen, one of strokes, one of hatchings.

Every thing has a colour of its own and a dash or hatching of its own, so that a print in black and white still reads.
"""

from __future__ import annotations

from functools import cache
from typing import Final

FONT: Final = 'system-ui,"Segoe UI",Roboto,"Helvetica Neue",Arial,"DejaVu Sans",sans-serif'

PAPER: Final = {
    "paper": "#ffffff",
    "ink": "#1e2830",
    "quiet": "#56626c",
    "faint": "#c3cad0",
    "pale": "#eceff1",
    "place": "#77623c",
    "mains": "#1b5a94",
    "centre": "#ad3a16",
    "seat": "#22693a",
    "bounce": "#77388f",
}
"""Colours in print and on a light screen."""

SCREEN: Final = {
    "paper": "#15191d",
    "ink": "#e7eaed",
    "quiet": "#a7b1ba",
    "faint": "#46515a",
    "pale": "#232a30",
    "place": "#cdb88c",
    "mains": "#84bdf2",
    "centre": "#ff9e73",
    "seat": "#88d29a",
    "bounce": "#d6a8ec",
}
"""The same on a dark screen."""

Rule = dict[str, str]

STYLES: Final[dict[str, Rule]] = {
    "page": {"fill": "$paper"},
    "paper": {"fill": "$paper", "stroke": "none"},
    "hatched": {"stroke": "none"},
    "outline": {"stroke": "$ink", "stroke-width": ".3"},
    "ground": {"stroke": "$ink", "stroke-width": ".5"},
    "thin": {"stroke": "$quiet", "stroke-width": ".18"},
    "faint": {"stroke": "$faint", "stroke-width": ".18"},
    "grid": {"stroke": "$faint", "stroke-width": ".12"},
    "dimension": {"stroke": "$ink", "stroke-width": ".2"},
    "arrowhead": {"fill": "$ink", "stroke": "none"},
    "picture": {"fill": "$pale", "stroke": "$quiet", "stroke-width": ".3"},
    "place": {"stroke": "$place", "stroke-width": ".35"},
    "place-unknown": {"stroke": "$place", "stroke-width": ".35", "stroke-dasharray": "2 1"},
    "mains": {"stroke": "$mains", "stroke-width": ".45"},
    "mains-unknown": {"stroke": "$mains", "stroke-width": ".45", "stroke-dasharray": "2 1"},
    "mains-line": {"stroke": "$mains", "stroke-width": ".3", "stroke-dasharray": "4 1 1 1"},
    "mains-curve": {"stroke": "$mains", "stroke-width": ".55", "stroke-dasharray": "2.4 1"},
    "centre": {"stroke": "$centre", "stroke-width": ".55"},
    "centre-line": {"stroke": "$centre", "stroke-width": ".3", "stroke-dasharray": "3.4 .8 .8 .8 .8 .8"},
    "centre-curve": {"stroke": "$centre", "stroke-width": ".55"},
    "driver": {"fill": "$paper", "stroke": "$centre", "stroke-width": ".3"},
    "tweeter": {"fill": "$centre", "stroke": "$paper", "stroke-width": ".25"},
    "mains-tweeter": {"fill": "$mains", "stroke": "$paper", "stroke-width": ".25"},
    "ray": {"stroke": "$centre", "stroke-width": ".22"},
    "seat": {"fill": "$paper", "stroke": "$seat", "stroke-width": ".45"},
    "seat-primary": {"fill": "$seat", "stroke": "$seat", "stroke-width": ".45"},
    "seat-occasional": {"fill": "$paper", "stroke": "$seat", "stroke-width": ".45", "stroke-dasharray": "1 .7"},
    "seat-line": {"stroke": "$seat", "stroke-width": ".3", "stroke-dasharray": "2.4 1.4"},
    "arc": {"stroke": "$seat", "stroke-width": ".35", "stroke-dasharray": "4 1.2 .6 1.2"},
    "angle": {"stroke": "$ink", "stroke-width": ".25"},
    "bounce": {"stroke": "$bounce", "stroke-width": ".4", "stroke-dasharray": "1 .8"},
    "plugs": {"stroke": "$quiet", "stroke-width": ".25", "stroke-dasharray": ".8 .6"},
    "spread": {"fill": "$centre", "fill-opacity": ".16", "stroke": "none"},
    "limit": {"stroke": "$quiet", "stroke-width": ".25", "stroke-dasharray": ".5 .9"},
    "dip": {"fill": "$centre", "stroke": "none"},
    "null": {"stroke": "$bounce", "stroke-width": ".4"},
    "segment": {"stroke": "$ink", "stroke-width": ".3"},
    "text": {"fill": "$ink"},
    "title": {"fill": "$ink", "font-weight": "600"},
    "note": {"fill": "$quiet"},
    "on-seat": {"fill": "$seat", "font-weight": "600"},
    "on-primary": {"fill": "$paper", "font-weight": "600"},
}
"""Presentation of each class; `$name` is a colour. A stroke without `fill` is hollow."""

HATCHINGS: Final[dict[str, tuple[str, str]]] = {
    "rising": ("place", "M0 2.4 2.4 0M-.6 .6 .6 -.6M1.8 3 3 1.8"),
    "upright": ("mains", "M.6 0V2.4M1.8 0V2.4"),
    "falling": ("centre", "M0 0 2.4 2.4M-.6 1.8 .6 3M1.8 -.6 3 .6"),
    "level": ("quiet", "M0 .6H2.4M0 1.8H2.4"),
    "cross": ("quiet", "M0 0 2.4 2.4M0 2.4 2.4 0"),
    "grid": ("seat", "M1.2 0V2.4M0 1.2H2.4"),
    "dots": ("bounce", "M.5 .6H.7M1.7 1.8H1.9"),
    "dashes": ("place", "M.2 1.2H1.4"),
    "waves": ("mains", "M0 1.6 .6 .9 1.2 1.6 1.8 .9 2.4 1.6"),
    "wall": ("quiet", "M0 2.4 2.4 0"),
}
"""Colour and strokes of each hatching, on a tile of 2.4 mm."""

TILE: Final = 2.4

ROLE_HATCHINGS: Final = {
    "mains": "upright",
    "centre": "falling",
    "surrounds": "level",
    "wides": "dashes",
    "heights": "dots",
    "sub": "cross",
    "electronics": "grid",
    "accessories": "waves",
    "calibration": "rising",
}
"""The hatching of each role in a budget."""

_STROKED: Final = {"fill": "none", "stroke-linecap": "butt", "stroke-linejoin": "round"}


@cache
def written(style: str, but: str = "") -> str:
    """Return a class's presentation in print colours as attributes, for readers that know no style sheet."""
    return "".join(f' {name}="{_in_print(value)}"' for name, value in _rule(style).items() if name != but)


@cache
def colours() -> str:
    """Return the style sheet: variables for paper, dark screen and print, and the classes that use them."""
    rules = "".join(_as_css(f".triptych .{name}", _rule(name)) for name in STYLES)
    tiles = "".join(
        f".triptych .hatch-{name}{{stroke:var(--triptych-{colour})}}" for name, (colour, _) in HATCHINGS.items()
    )
    halo = ".triptych text{paint-order:stroke;stroke:var(--triptych-paper);stroke-width:.7px;stroke-linejoin:round}"
    return (
        f".triptych{{{_variables(PAPER)}}}"
        f"@media screen and (prefers-color-scheme:dark){{.triptych{{{_variables(SCREEN)}}}}}"
        f"@supports (--a:0){{{rules}{tiles}{halo}.triptych .on-primary{{stroke:none}}}}"
    )


def _rule(style: str) -> Rule:
    own = STYLES[style]
    return {**_STROKED, **own} if "stroke" in own and own["stroke"] != "none" else own


def _variables(palette: Rule) -> str:
    return ";".join(f"--triptych-{name}:{colour}" for name, colour in palette.items())


def _in_print(value: str) -> str:
    return PAPER[value[1:]] if value.startswith("$") else value


def _as_css(selector: str, rule: Rule) -> str:
    coloured = {name: value for name, value in rule.items() if value.startswith("$")}
    body = ";".join(f"{name}:var(--triptych-{value[1:]})" for name, value in coloured.items())
    return f"{selector}{{{body}}}" if body else ""
