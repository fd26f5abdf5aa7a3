"""How statements lie on a sheet: lines, columns, rows, runs, sentences."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape
from typing import Final

from tests.catalog.datasheet.variation import writing
from tests.catalog.datasheet.variation.invented import Invented
from tests.catalog.datasheet.variation.writing import Hand, Said

Layout = Callable[[Hand, Sequence[Invented], Sequence[Said]], str]


def title(hand: Hand, one: Invented) -> str:
    """Write who it is, as a heading does."""
    return f"{one.maker} {one.model}"


def _lines(hand: Hand, said: Sequence[Said], place: int) -> list[str]:
    """The statements of one loudspeaker, a line each."""
    mark = hand.chosen(
        "label and value", ": ", ": ", "wide", "\t", " - ", " = ", "dots", "bullets", "pipes", "space colon"
    )
    wide = max((len(one.label) for one in said), default=0) + 3
    made = []
    for one in said:
        label, value = one.label, one.values[place]
        if not value:
            continue
        made.append(
            {
                "wide": f"{label:{wide}}{value}",
                "dots": f"{label} {'.' * (wide + 4 - len(label))} {value}",
                "bullets": f"• {label}: {value}",
                "pipes": f"| {label} | {value} |",
                "space colon": f"{label} : {value}",
            }.get(mark, f"{label}{mark}{value}")
        )
    return made


def lines(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """A heading and a line a statement, for each."""
    gap = hand.chosen("below a heading", "\n", "\n\n")
    return "\n\n".join(
        title(hand, one) + gap + "\n".join(_lines(hand, said, place)) for place, one in enumerate(family)
    )


def labelled(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """Maker and model under labels of their own."""
    names = {
        "en": ("Brand", "Model"),
        "de": ("Hersteller", "Modell"),
        "fr": ("Marque", "Modèle"),
        "es": ("Marca", "Modelo"),
        "it": ("Marca", "Modello"),
        "nl": ("Merk", "Model"),
        "pl": ("Producent", "Model"),
    }[hand.language]
    return "\n\n".join(
        "\n".join(
            _lines(
                hand,
                [
                    Said("name", names[0], (one.maker,) * len(family), ()),
                    Said("name", names[1], (one.model,) * len(family), ()),
                    *said,
                ],
                place,
            )
        )
        for place, one in enumerate(family)
    )


def _pairs(said: Sequence[Said], place: int) -> list[tuple[str, str]]:
    """Labels and values of one loudspeaker, without those that it has none of."""
    return [(each.label, each.values[place]) for each in said if each.values[place]]


def stacked(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """Each label with its value on the line below."""
    return "\n\n".join(
        "\n".join([title(hand, one), *(f"{label}\n{value}" for label, value in _pairs(said, place))])
        for place, one in enumerate(family)
    )


def run_on(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """All statements of one in a line, each under its label."""
    mark = hand.chosen("between statements", "; ", ", ", " | ", " • ", ". ", " / ")
    link = hand.chosen("in a run", ": ", " ")
    return "\n\n".join(
        f"{title(hand, one)}\n" + mark.join(f"{label}{link}{value}" for label, value in _pairs(said, place))
        for place, one in enumerate(family)
    )


def two_on_a_line(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """Two labelled statements a line, with wide blanks between."""
    made = []
    for place, one in enumerate(family):
        pieces = [f"{label}: {value}" for label, value in _pairs(said, place)]
        rows = [pieces[at : at + 2] for at in range(0, len(pieces), 2)]
        made.append("\n".join([title(hand, one), *("    ".join(row) for row in rows)]))
    return "\n\n".join(made)


def page(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """A web page with a table or a list of definitions for each."""
    form = hand.chosen("page", "table", "definitions", "list")
    parts = []
    for place, one in enumerate(family):
        pairs = [(escape(label), escape(value)) for label, value in _pairs(said, place)]
        rows = {
            "table": "<table>" + "".join(f"<tr><th>{a}</th><td>{b}</td></tr>" for a, b in pairs) + "</table>",
            "definitions": "<dl>" + "".join(f"<dt>{a}</dt><dd>{b}</dd>" for a, b in pairs) + "</dl>",
            "list": "<ul>" + "".join(f"<li><b>{a}</b>: {b}</li>" for a, b in pairs) + "</ul>",
        }[form]
        parts.append(f"<h2>{escape(title(hand, one))}</h2>{rows}")
    return "<html><body>" + "".join(parts) + "</body></html>"


def prose(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """A heading and a paragraph for each; see `sentences`."""
    return "\n\n".join(f"{title(hand, one)}\n\n{' '.join(sentences(hand, one)[0])}" for one in family)


def sentences(hand: Hand, one: Invented) -> tuple[list[str], Mapping[str, str]]:
    """Write a loudspeaker in sentences, and tell what they say; the same for the same hand."""
    drawn: list[str] = []
    told: dict[str, str] = {}
    w, u, _ = writing.length(hand, one.width)
    figures = {
        "model": one.model,
        "maker": one.maker,
        "kind": hand.once(f"kind of {one.model}", *hand.words["terms"][one.kind]),
        "w": w,
        "h": writing.length(hand, one.height)[0],
        "d": writing.length(hand, one.depth)[0],
        "u": u,
        "kg": hand.number(one.weight, 1),
        "sens": hand.number(one.sensitivity, 1 if one.sensitivity % 1 else 0),
        "z": str(one.impedance),
        "zmin": hand.number(one.minimum, 1),
        "low": str(one.low),
        "khigh": str(one.high // 1000),
        "drop": str(one.drop),
        "kxo": hand.number(one.crossover[-1] / 1000, 1),
        "xo": hand.thousands(one.crossover[-1]),
        "words": hand.words["prose"]["counts"][one.woofers - 1],
        "Words": hand.words["prose"]["counts"][one.woofers - 1].capitalize(),
        "woofers": hand.words["prose"]["woofers"][one.woofers - 1],
        "wo": str(one.woofer),
        "tw": str(one.tweeter),
        "material": hand.once(f"material of {one.model}", *hand.words["terms"][one.material]),
        "box": hand.once(f"box of {one.model}", *hand.words["terms"][one.box]),
        "amin": str(one.amplifier[0]),
        "amax": str(one.amplifier[1]),
        "money": writing.money(hand, one.price),
        "per": hand.once("per in prose", *hand.words["terms"][hand.chosen("price per", "each", "pair")][:3]),
    }
    if len(one.crossover) > 1:
        figures["kxo"] = f" {hand.words['terms']['and']} ".join(
            hand.number(each / 1000, 2 if each % 100 else 1) for each in one.crossover
        )
        figures["xo"] = f" {hand.words['terms']['and']} ".join(hand.thousands(each) for each in one.crossover)
    for matter in _IN_SENTENCES:
        if hand.once(f"whether {matter}", "told", "told", "told", "left out") == "left out":
            continue
        template = hand.once(f"sentence on {matter} of {one.model}", *hand.words["prose"][matter])
        drawn.append(template.format(**figures))
        told |= _told_in(hand, one, matter, template)
    opening = hand.once(f"opening of {one.model}", *hand.words["prose"]["open"]).format(**figures)
    return [opening, *drawn], told | writing.role_told(one)


_IN_SENTENCES: Final = (
    *("drivers", "enclosure", "crossover", "response", "sensitivity", "impedance", "amplifier"),
    *("size", "weight", "price"),
)


def _told_in(hand: Hand, one: Invented, matter: str, template: str) -> dict[str, str]:
    sizes = {side: writing.length(hand, getattr(one, side))[2] for side in ("width", "height", "depth")}
    return {
        "drivers": {"woofer_size": f"{one.woofer} mm", "woofer_count": str(one.woofers)}
        | writing.tweeter_told(one, f"{one.tweeter} mm"),
        "enclosure": writing.box_told(one),
        "crossover": {"crossover": writing.crossover_figure(one)},
        "response": writing.response_told(one),
        "sensitivity": {"sensitivity": f"{one.sensitivity:g} dB"},
        "impedance": {"impedance_nominal": f"{one.impedance} ohm"}
        | ({"impedance_minimum": f"{one.minimum} ohm"} if "{zmin}" in template else {}),
        "amplifier": {"amplifier_min": f"{one.amplifier[0]} W", "amplifier_max": f"{one.amplifier[1]} W"},
        "size": sizes,
        "weight": {"weight": f"{one.weight:g} kg"},
        "price": {
            "price": str(one.price),
            "currency": hand.words["currency"],
            "price_per": hand.chosen("price per", "each", "pair"),
        },
    }[matter]


def one_paragraph(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """All in one paragraph, each opened by its name."""
    return " ".join(" ".join(sentences(hand, one)[0]) for one in family)


def a_column_each(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """A table with a column a loudspeaker."""
    rows = [[hand.label("model"), *(one.model for one in family)]]
    rows += [[each.label, *(value or "-" for value in each.values)] for each in said]
    return _table(hand, family[0].maker, rows)


def a_row_each(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """A table with a row a loudspeaker."""
    rows = [[hand.label("model") or "Model", *(each.label for each in said)]]
    rows += [[one.model, *(each.values[place] or "-" for each in said)] for place, one in enumerate(family)]
    return _table(hand, family[0].maker, rows)


def _table(hand: Hand, maker: str, rows: Sequence[Sequence[str]]) -> str:
    """A table below the maker's name."""
    if hand.chosen("table", "wide", "\t", "pipes", "page", "close") == "page":
        made = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
        return f"<html><body><h1>{escape(maker)}</h1><table>{made}</table></body></html>"
    return f"{maker}\n\n{_plain_table(hand, rows)}"


def _plain_table(hand: Hand, rows: Sequence[Sequence[str]]) -> str:
    mark = hand.habits["table"]
    if mark == "pipes":
        head, *rest = ["| " + " | ".join(row) + " |" for row in rows]
        return "\n".join([head, "|" + "---|" * len(rows[0]), *rest])
    if mark == "\t":
        return "\n".join("\t".join(row) for row in rows)
    gap = 3 if mark == "wide" else 2
    widths = [max(len(row[place]) for row in rows) + gap for place in range(len(rows[0]))]
    return "\n".join(
        "".join(f"{cell:{width}}" for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )


def strokes(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """A line a statement, the values of all with strokes between, in the order of the names."""
    names = " / ".join(one.model for one in family)
    rows = [f"{each.label}: {' / '.join(value or '-' for value in each.values)}" for each in said]
    return "\n".join([f"{family[0].maker} {names}", "", *rows])


def names_in_lines(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """A line a statement, and in it each value behind the name of its loudspeaker."""
    rows = [
        f"{each.label}: "
        + "; ".join(f"{one.model} {value}" for one, value in zip(family, each.values, strict=True) if value)
        for each in said
    ]
    names = ", ".join(one.model for one in family)
    return "\n".join([f"{family[0].maker}: {names}", "", *rows])


def a_line_each(hand: Hand, family: Sequence[Invented], said: Sequence[Said]) -> str:
    """A line a loudspeaker, its values without most labels, as a price list has them."""
    mark = hand.chosen("between values", ", ", "; ", " - ", " | ", "  ")
    rows = []
    for place, one in enumerate(family):
        values = [_alone(each, each.values[place]) for each in said if each.values[place]]
        rows.append(mark.join([one.model, *values]))
    return "\n".join([family[0].maker, "", *rows])


_UNLABELLED: Final = ("type", "impedance", "response", "price", "enclosure")


def _alone(said: Said, value: str) -> str:
    """A value with its label where nothing else tells what it is."""
    return value if said.matter in _UNLABELLED else f"{said.label} {value}"


ONE: Final[dict[str, Layout]] = {
    "lines": lines,
    "labelled names": labelled,
    "stacked": stacked,
    "run on": run_on,
    "two on a line": two_on_a_line,
    "page": page,
    "prose": prose,
}
SEVERAL: Final[dict[str, Layout]] = {
    "sections": lines,
    "labelled sections": labelled,
    "pages": page,
    "runs": run_on,
    "paragraphs": prose,
    "one paragraph": one_paragraph,
    "a column each": a_column_each,
    "a row each": a_row_each,
    "strokes": strokes,
    "names in lines": names_in_lines,
    "a line each": a_line_each,
}
