"""A page: templates with everything escaped, drawings set in, one file that asks nobody for anything."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from triptych.recommender.drawing import style
from triptych.recommender.report.on_paper import plain

POLICY: Final = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src '{script}'; base-uri 'none'; form-action 'none'"
)
"""What a browser is told: no request leaves the page, and no script runs but our own."""


def rendered(template: str, values: Mapping[str, Any]) -> str:
    """A page from a template; every value is escaped but drawings, which are our own and escape what they hold."""
    script = _text("report.js")
    shared = {
        "policy": policy(),
        "script": Markup(script),  # ours, from the package
        "drawing_style": Markup(style.colours()),  # ours
        "font": Markup(style.FONT),  # ours
        "paper": style.PAPER,
        "screen": style.SCREEN,
    }
    return _environment().get_template(template).render(**shared, **values).lstrip()


@cache
def policy() -> str:
    """What a browser is told of a page that holds everything it needs."""
    return POLICY.format(script=_hash(_text("report.js")))


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("triptych.recommender.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["name"] = named
    return made


def named(name: str) -> Markup:
    """A name, which may be written either way, kept apart from the words around it."""
    return Markup("<bdi>{}</bdi>").format(plain(name))


def inlined(svg: str) -> Markup:
    """A drawing for a page that holds the style of all drawings once; it keeps to the top of its room."""
    alone = svg.replace(f"<style>{style.colours()}</style>", "", 1)
    topped = alone.replace("<svg ", '<svg preserveAspectRatio="xMidYMin meet" ', 1)
    return Markup(topped)  # from recommender.drawing, which escapes what it is given


def _text(name: str) -> str:
    return files("triptych.recommender.report").joinpath("templates", name).read_text(encoding="utf-8")


def _hash(script: str) -> str:
    digest = hashlib.sha256(script.encode()).digest()
    return f"sha256-{base64.b64encode(digest).decode()}"
