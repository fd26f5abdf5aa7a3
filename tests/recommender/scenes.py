"""Small scenes for tests: one box, one place, one row of seats, each figure open to change."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np

from triptych.recommender.physics import erb
from triptych.recommender.scene.arrays import (
    Boxes,
    Drive,
    InRoom,
    Kin,
    Life,
    Loading,
    Mains,
    Picture,
    PlaceFigures,
    Port,
    Purse,
    Seats,
    SensitivityCode,
    Sold,
    Sound,
    Stands,
)

PLAIN: dict[str, Any] = {
    "width": 0.50, "height": 0.17, "depth": 0.28, "feet": 0.0, "rear_allowance": np.nan, "weight": 8.0,
    "axis": 0.085, "axis_stated": True, "lying": True, "port": Port.NONE, "port_diameter": np.nan, "radiator": False,
    "bung": False, "bung_unknown": False, "sensitivity": 88.0, "basis": SensitivityCode.ANECHOIC,
    "impedance_nominal": 8.0, "impedance_minimum": 6.4, "power_handling": np.nan,
    "low_limit": 60.0, "low_limit_drop": 3.0, "price": 500.0, "price_taxed": 1,
    "tax_rate": 20.0, "currency": 0, "sold": Sold.SINGLE, "usually_pairs": False, "life": Life.CURRENT,
    "available": np.nan,
}  # fmt: skip

KINDS: dict[str, Any] = {
    "axis_stated": np.bool_, "lying": np.bool_, "radiator": np.bool_, "bung": np.bool_, "bung_unknown": np.bool_,
    "usually_pairs": np.bool_,
    "port": np.int8, "basis": np.int8, "price_taxed": np.int8, "sold": np.int8, "life": np.int8, "currency": np.int16,
}  # fmt: skip


def box(**changed: Any) -> Boxes:
    """A sealed lying centre that passes everything plain, with some figures changed; arrays make several boxes."""
    values = {**PLAIN, **changed}
    count = max(np.size(value) for value in values.values())
    return Boxes(
        **{
            entry.name: np.array(np.broadcast_to(values[entry.name], count), dtype=KINDS.get(entry.name, np.float64))
            for entry in fields(Boxes)
        }
    )


def place(kind: str = "cavity", **changed: Any) -> PlaceFigures:
    """A closed bay of 640 x 210 x 380 mm, 340 mm up, or another kind of place, with some figures changed."""
    bay = PlaceFigures("bay", kind, 0.64, 0.21, 0.38, 0.34, 0.52, "closed", 40.0, "no", "", np.nan, 0.0)
    free = replace(bay, name=kind, width=np.nan, height=np.nan, depth=np.nan, back="open", front=0.6)
    return replace(bay if kind == "cavity" else free, **changed)


def seats(x: Any = (0.0,), distance: Any = 3.0, ear_height: Any = 1.02) -> Seats:
    """A row of regular seats, the first of them primary."""
    across = np.atleast_1d(np.asarray(x, dtype=np.float64))
    return Seats(
        tuple(f"seat {number}" for number in range(len(across))),
        across,
        np.broadcast_to(np.asarray(distance, dtype=np.float64), across.shape).copy(),
        np.nan_to_num(np.broadcast_to(np.asarray(ear_height, dtype=np.float64), across.shape), nan=1.0),
        ~np.isnan(np.broadcast_to(np.asarray(ear_height, dtype=np.float64), across.shape)),
        np.ones(len(across), dtype=np.bool_),
        0,
    )


def drive(**changed: Any) -> Drive:
    """95 W into 8 ohm, rated down to 6 ohm, 12 dB of trim; 95 dB wanted with 3 dB of room gain."""
    return replace(Drive(95.0, 8.0, 6.0, 12.0, 95.0, 3.0), **changed)


def purse(**changed: Any) -> Purse:
    """A cap of 700 with tax in it."""
    return replace(Purse(700.0, 0, True, np.nan), **changed)


def picture(**changed: Any) -> Picture:
    """A picture from 820 to 1629 mm above the floor, 1.44 m wide."""
    return replace(Picture(True, 0.82, 1.629, 1.439, False), **changed)


def stands(**changed: Any) -> Stands:
    """Towers 2.6 m apart with their axis at 920 mm."""
    plain = Stands(
        2.6, 12.0, np.array([0.45]), np.array([0.92]), np.array([True]), np.array([0.2]), np.zeros(1), wall_stated=True
    )
    return replace(plain, **changed)


def mains(sensitivity: float = 88.0) -> Mains:
    """Those towers, silent in every band."""
    level, no = np.array([sensitivity]), np.zeros(1, dtype=np.bool_)
    one = np.zeros(1, dtype=np.int64)
    kin = Kin(one, one, one, np.array([Loading.DOME], dtype=np.int8))
    flat = np.zeros((1, erb.BANDS), dtype=np.float32)
    room = InRoom(flat[:, None, None], flat[:, None], np.zeros(1), np.zeros(1), np.zeros(1), np.ones(1), np.ones(1))
    sound = Sound(flat, flat, kin, np.ones(1), ~no, no, no, no, room)
    return Mains(
        stands(), sound, level, level, level, np.array([600.0]), np.zeros(1, dtype=np.int16), np.full(1, np.nan)
    )
