"""Templates to answers; every value is escaped but drawings, which are our own and escape what they hold."""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, RedirectResponse, Response

from triptych.catalog.money import in_words
from triptych.recommender.drawing import style
from triptych.recommender.page.asked import Visit
from triptych.recommender.report.on_paper import plain
from triptych.recommender.report.page import inlined, named

SHOPPERS_STEPS: Final = (
    ("mains", "/mains", "Mains"),
    ("room", "/room", "Room"),
    ("centres", "/centres", "Centres"),
    ("money", "/money", "Money"),
)
"""The shopper's way: what each step is called, where it is, and what stands on its tab."""

OTHERS: Final = (
    ("counter", "/counter", "Counter"),
    ("books", "/books", "Books"),
    ("installed", "/installed", "As built"),
)

HTMX: Final = (
    '{"includeIndicatorStyles":false,"allowEval":false,"selfRequestsOnly":true,"historyCacheSize":0,'
    '"refreshOnHistoryMiss":true,"responseHandling":[{"code":"204","swap":false},{"code":"...","swap":true}]}'
)
"""How htmx behaves: no style and no script of its own, refusals are shown, and going back asks anew."""


@cache
def environment() -> Environment:
    """The templates of the page."""
    made = Environment(
        loader=PackageLoader("triptych.recommender.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.filters["name"] = named
    made.filters["plain"] = plain
    made.globals["price_words"] = price_words
    return made


def shown(template: str, asked: Visit, status: int = 200, **values: Any) -> Response:
    """An answer from a template."""
    return HTMLResponse(
        environment()
        .get_template(template)
        .render(asked=asked, steps=SHOPPERS_STEPS, others=OTHERS, htmx=HTMX, **values)
        .lstrip(),
        status,
        headers={"vary": "HX-Request"},
    )


def moved(url: str) -> Response:
    """Send the browser on, after something was done: reloading does it no second time."""
    return RedirectResponse(url, 303)


def price_words(amount: Decimal | float, currency: str | None, per: str | None) -> str:
    """A price as the catalogue writes it, and what it buys."""
    return " ".join(filter(None, (in_words(amount, currency), {"each": "each", "pair": "a pair"}.get(per or ""))))


def drawn(svg: str | None) -> Markup | None:
    """A drawing within a page that holds the style of all drawings once."""
    return None if svg is None else inlined(svg)


@cache
def drawing_style() -> str:
    """The style of all drawings, and their colours for the page around them."""
    light = "".join(f"--{name}:{colour};" for name, colour in style.PAPER.items())
    dark = "".join(f"--{name}:{colour};" for name, colour in style.SCREEN.items())
    rules = f":root{{{light}--font:{style.FONT}}}@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}"
    return f"{rules}\n{style.colours()}\n"
