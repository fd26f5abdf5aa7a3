"""Loudspeakers that nobody makes: names and figures, drawn so that no two of a family share what tells them apart."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Final

MAKERS: Final = (
    *("Oatfell Audio", "Brackenfold", "Tarn Hollow", "Quillmoor Acoustics", "Holmfurt Akustik", "Vaubrenne"),
    *("Corvalda", "Monteluce Suono", "Wilgenbroek", "Olszanka Audio", "Kestrelby", "Sandrift Labs", "Ferrow & Pike"),
)
MODELS: Final = ("Wren", "Sorrel", "Lindel", "Marlow", "Ondine", "Tessel", "Corvo", "Brisa", "Halm", "Kalina", "Osier")
CODES: Final = ("OF-{}", "BX{}", "TH {}", "QM-{}C", "V{}", "KB-{}")

MAIN, FLOOR, CENTRE = "main", "floor", "centre"


@dataclass(frozen=True)
class Invented:
    """One loudspeaker; lengths in mm, the rest in the units of the trade."""

    maker: str
    model: str
    kind: str
    width: int
    height: int
    depth: int
    weight: float
    sensitivity: float
    impedance: int
    minimum: float
    low: int
    drop: int
    high: int
    crossover: tuple[int, ...]
    slope: int
    woofers: int
    woofer: int
    midrange: int | None
    tweeter: int
    material: str
    box: str
    amplifier: tuple[int, int]
    handling: int
    price: int


def family(draw: Random, count: int) -> list[Invented]:
    """Return loudspeakers of one maker whose figures all differ."""
    maker = draw.choice(MAKERS)
    kinds = [draw.choice((MAIN, FLOOR, CENTRE)) for _ in range(count)]
    names = _names(draw, count)
    ways = draw.choice((2, 2, 3))
    shifts = draw.sample(range(12), count)
    return [_one(draw, maker, name, kind, ways, shift) for name, kind, shift in zip(names, kinds, shifts, strict=True)]


def _names(draw: Random, count: int) -> list[str]:
    numbers = draw.sample(range(2, 10), count)
    way = draw.choice(("number", "code", "words"))
    if way == "words":
        return draw.sample(MODELS, count)
    if way == "code":
        code = draw.choice(CODES)
        return [code.format(number * 10 + draw.choice((0, 5))) for number in numbers]
    word = draw.choice(MODELS)
    return [f"{word} {number}" for number in numbers]


def _one(draw: Random, maker: str, model: str, kind: str, ways: int, shift: int) -> Invented:
    """`shift` differs between the loudspeakers of a family, so that each figure does."""
    sides = {MAIN: (180, 320, 260), FLOOR: (190, 960, 300), CENTRE: (460, 170, 280)}[kind]
    width, height, depth = (side + 3 * shift + draw.choice((0, 1, 2)) for side in sides)
    woofer = (120, 130, 135, 150, 165, 170, 180, 200, 205, 210, 220, 250)[shift]
    nominal = draw.choice((4, 6, 8))
    return Invented(
        maker,
        model,
        kind,
        width,
        height,
        depth,
        round(6 + 1.1 * shift + draw.randrange(10) / 10, 1) + (9 if kind == FLOOR else 0),
        84 + shift * 0.5,
        nominal,
        round(nominal * 0.8 + 0.1 + draw.randrange(4) / 10, 1),
        34 + 3 * shift + draw.randrange(3),
        draw.choice((3, 6)),
        20_000 + 1000 * shift,
        (2000 + 100 * shift,) if ways == 2 else (280 + 20 * shift, 2000 + 100 * shift),
        draw.choice((12, 18, 24)),
        draw.choice((1, 2)),
        woofer,
        None if ways == 2 else 90 + shift,
        draw.choice((19, 25, 28)),
        draw.choice(("silk", "aluminium", "fabric")),
        draw.choice(("sealed", "front", "rear")),
        (20 + 5 * shift, 100 + 10 * shift),
        60 + 10 * shift,
        379 + 70 * shift,
    )
