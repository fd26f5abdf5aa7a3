"""What the amplifier, the money and the subwoofer make of a centre: headroom, balance, reach."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Final

import numpy as np

from triptych.recommender.judge.criteria.definitions import BALANCE, HEADROOM, REACH
from triptych.recommender.judge.criterion import LEAST_TOLD, CriterionValues, at_most_middle, criterion_values
from triptych.recommender.scene.arrays import Boxes, Drive, FloatArray, SensitivityCode
from triptych.recommender.scene.levels import (
    PLAUSIBLE_ROOM_GAIN,
    PLAUSIBLE_TARGET,
    Peaks,
    impedance,
    lost_unrated,
    room_gains,
    under_load,
)

LOWEST_CROSSOVER: Final = 80.0
"""The crossover of bass management that any centre gets [Hz]. Common practice, no source."""

CROSSOVER_TO_F3: Final = 1.3
"""The crossover stays this far above F3. Common practice, no source."""

PLAUSIBLE_F3: Final = (60.0, 92.0, 138.0)
"""Low, likely and high F3 of a centre where nothing is stated [Hz]: datasheets of centres claim 50 to 120 Hz, the
middle 80, mostly without a drop, and at 6 dB that is 1.15 times as high. Common practice, no source."""

OVERSTATED: Final = 3.0
"""So much less sensitive than claimed a loudspeaker may measure [dB]: a gap of 3 dB between claim and a third party's
measurement is ordinary, says a review magazine (trade practice)."""

UNTOLD_RATIO: Final = (0.5, 1.5, 2.0)
"""Low, likely and high price against a main's where one of the two isn't known [1]: within the share, the middle of the
scale, its end. Beyond either end nothing changes in the score."""


def headroom(boxes: Boxes, drive: Drive, peaks: Peaks) -> CriterionValues:
    """Peak level at the farthest regular seat over the target [dB].

    Where nobody told how much the amplifier gives, or how much is wanted, it is the middle of what that may be, as far
    as it is enough. So it is of what a room adds: that is one for all candidates, and the harsh end of it would take
    most from those that are just loud enough, and nothing from a horn.
    """
    if drive.untold:
        least, most = PLAUSIBLE_TARGET if np.isnan(drive.target_peak) else (drive.target_peak,) * 2
        low = np.maximum(peaks.low - most, 0.0) - lost_unrated(boxes, drive)
        high = np.maximum(peaks.high - least, 0.0)
        return criterion_values(
            HEADROOM,
            at_most_middle(HEADROOM, high, low, high),
            low,
            high,
            0.0,
            "assumed",
            f"not given: {', '.join(drive.untold)}",
        )
    stated = np.where(np.isnan(boxes.sensitivity), 0.0, np.where(boxes.basis == SensitivityCode.ANECHOIC, 1.0, 0.5))
    claimed = np.where(np.isnan(boxes.sensitivity), 0.0, OVERSTATED)
    bare, unrated = peaks.likely - drive.target_peak, lost_unrated(boxes, drive)
    least, likely, most = room_gains(drive)
    rated = at_most_middle(HEADROOM, *(bare + gain - least for gain in (likely, least, most))) if most > least else bare
    value = np.where(unrated > 0, at_most_middle(HEADROOM, rated, rated - unrated, rated), rated)
    loaded = under_load(boxes, drive)
    heavy = loaded >= LEAST_TOLD
    value = np.where(heavy, at_most_middle(HEADROOM, value, value - loaded, value + loaded), value)
    values = criterion_values(
        HEADROOM,
        value,
        peaks.low - claimed - unrated - drive.target_peak,
        peaks.high - drive.target_peak,
        stated * np.where(heavy, 0.5, 1.0) * (0.5 if np.isnan(drive.room_gain) else 1.0),
        "stated",
        "peaks of {peak:.1f} dB at the farthest seat, {value:+z.1f} dB against the target",
        peak=value + drive.target_peak,
        off=rated - value,
        room=rated - bare,
        load=impedance(boxes, drive),
        loaded=2 * loaded,
    )
    said = ((rated - value >= LEAST_TOLD) & ~heavy) + 2 * (rated - bare >= LEAST_TOLD)
    said = said + 4 * ((boxes.basis == SensitivityCode.TAKEN) & ~np.isnan(boxes.sensitivity)) + 8 * heavy
    return replace(values, remark=said.astype(np.intp), remarks=SAID_OF_PEAK)


UNRATED: Final = "; {off:.1f} dB is taken off, as how much power it bears isn't stated"

GAINED: Final = (
    "; {room:.1f} dB of that is the middle of what a room may add, "
    f"{PLAUSIBLE_ROOM_GAIN[0]:.0f} to {PLAUSIBLE_ROOM_GAIN[-1]:.0f} dB"
)

BASELESS: Final = "; its sensitivity is taken for anechoic, as nobody said: of one measured in a room take 3 dB off"

LOADED: Final = "; the amplifier isn't rated for {load:.0f} ohm, so up to {loaded:.1f} dB may be missing, half taken"

SAID_OF_PEAK: Final = tuple(
    "".join(words) for words in product(("", LOADED), ("", BASELESS), ("", GAINED), ("", UNRATED))
)
"""What is said of a peak, numbered by what applies: unrated 1, gained 2, without a basis 4, under load 8."""


def _of_share(price: FloatArray, main_price: FloatArray, surround: FloatArray) -> FloatArray:
    """The price of one centre against its share [1], mains x centres; NaN where that isn't known.

    Its share is the price of one main, or of one surround where that is dearer: so up to a surround's price it is
    within its share, whatever a main costs.
    """
    unsettled = np.isnan(main_price)[:, None] & ~(price <= surround[:, None])
    return np.where(unsettled, np.nan, price / np.fmax(main_price, surround)[:, None])


def price_ratio(
    price: FloatArray, main_price: FloatArray, surround: FloatArray, open_tax: FloatArray | float = 0.0
) -> FloatArray:
    """The likely price of one centre against its share [1], mains x centres; a middle one where unknown.

    `open_tax` is the part of each price that may come on top of it.
    """
    ratio = _of_share(price, main_price, surround)
    taxed = at_most_middle(BALANCE, ratio, ratio, _of_share(price * (1 + open_tax), main_price, surround))
    return np.where(np.isnan(ratio), UNTOLD_RATIO[1], np.where(np.asarray(open_tax) > 0, taxed, ratio))


def balance(
    price: FloatArray, main_price: FloatArray, surround: FloatArray, open_tax: FloatArray | float = 0.0
) -> CriterionValues:
    """The price of what must be bought for one centre against its share: one of every main, or one surround [1]."""
    untaxed, taxed = (_of_share(price * (1 + part), main_price, surround) for part in (0.0, open_tax))
    unknown = np.isnan(untaxed)
    ratio = price_ratio(price, main_price, surround, open_tax)
    values = criterion_values(
        BALANCE,
        ratio,
        np.where(unknown, UNTOLD_RATIO[0], untaxed),
        np.where(unknown, UNTOLD_RATIO[2], taxed),
        np.where(unknown, 0.0, 1.0),
        "stated",
        "",
    )
    untold = np.broadcast_to(np.isnan(main_price)[:, None], ratio.shape) & unknown
    dearer = np.broadcast_to(~(surround <= main_price)[:, None] & ~np.isnan(surround)[:, None], ratio.shape)
    own = np.broadcast_to(np.isnan(price), ratio.shape) | (unknown & ~untold)
    words = (
        "{value:.2f} of the price of one main",
        "the price of one main isn't known",
        "its price in the mains' currency isn't known",
        "{value:.2f} of the price of one surround, which is its share here",
    )
    told = {"main_price": main_price, "surround_price": surround}
    numbers = {name: np.broadcast_to(one[:, None], ratio.shape) for name, one in told.items()}
    return replace(
        values,
        numbers={} if np.isnan(surround).all() else numbers,
        remark=np.select([untold, own, dearer], [1, 2, 3], 0).astype(np.intp),
        remarks=words,
    )


def f3_range(low_limit: FloatArray, drop: FloatArray, sealed: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Low, likely and high F3 [Hz] from a limit stated at some drop.

    A sealed box is taken to fall as a Butterworth high-pass of order 2, another one of order 4 (Small, JAES 1972 and
    1973, from memory). A limit with no drop stated could be at any of 3 to 10 dB.
    """
    order = np.where(sealed == 1, 2.0, 4.0)
    at_drop = low_limit * f3_factor(drop, order)
    at_ten = low_limit * f3_factor(np.full_like(order, 10.0), order)
    at_six = low_limit * f3_factor(np.full_like(order, 6.0), order)
    silent, unsaid = np.isnan(low_limit), np.isnan(drop)
    likely = np.select([silent, unsaid], [np.full_like(order, PLAUSIBLE_F3[1]), at_six], at_drop)
    low = np.select([silent, unsaid], [np.full_like(order, PLAUSIBLE_F3[0]), low_limit], at_drop)
    high = np.select([silent, unsaid], [np.full_like(order, PLAUSIBLE_F3[2]), at_ten], at_drop)
    return low, likely, high


def f3_factor(drop: FloatArray, order: FloatArray) -> FloatArray:
    """F3 over the frequency at which a Butterworth high-pass of `order` has fallen by `drop` dB."""
    return np.asarray(((10 ** (drop / 10) - 1) / (10**0.3 - 1)) ** (1 / (2 * order)))


def crossover_needed(f3: FloatArray) -> FloatArray:
    """The lowest crossover of bass management a centre bears [Hz]."""
    return np.maximum(LOWEST_CROSSOVER, CROSSOVER_TO_F3 * f3)


def crossover_advised(needed: FloatArray, step: float = 10.0) -> FloatArray:
    """The next step of a processor's menu at or above `needed` [Hz]."""
    return np.ceil(np.round(needed / step, 6)) * step


PLUGGED: Final = (1.3, 1.6, 1.9)
"""F3 of a ported box with a bung in its port over its own: low, likely, high [1]. At most that of a driver for a fourth
order Butterworth response, whose closed box has 1.55 times the resonance and a Q of 0.60 (Small, JAES 1972 and 1973,
from memory); drivers of a higher Q lose less."""

WITH_BUNG: Final = f"; with its bung in, F3 is {PLUGGED[1]:.1f} times its own (assumed)"


CLAIMED_F3: Final = 1.25
"""So many times as high as claimed F3 may be measured [1]: a box of fourth order is 8 dB down where that says 3. Our
own figure; the trade calls catalogues' limits unreliable."""


def reach(boxes: Boxes, sealed: FloatArray, plugged: FloatArray | float = 0.0) -> CriterionValues:
    """The crossover the centre needs [Hz]; a box whose port is plugged reaches less low, as a sealed one does.

    `plugged` is 1 where it is, and less where it may be [1].
    """
    found = f3_range(boxes.low_limit, boxes.low_limit_drop, sealed)
    share = np.where(np.isfinite(boxes.low_limit), plugged, 0.0)
    risen = share > 0
    shares = (np.floor(share), share, np.ceil(share))
    low, likely, high = (
        value * (1 + (part - 1) * much) for value, part, much in zip(found, PLUGGED, shares, strict=True)
    )
    stated = np.where(np.isnan(boxes.low_limit), 0.0, np.where(boxes.low_limit_drop == 3.0, 1.0, 0.5))
    # what is assumed has a range that is wide enough
    claimed = np.where(np.isnan(boxes.low_limit) | risen, 1.0, CLAIMED_F3)
    values = criterion_values(
        REACH,
        crossover_needed(likely),
        crossover_needed(low),
        crossover_needed(high * claimed),
        np.where(risen, 0.0, stated),
        "stated",
        "needs a crossover at {value:.0f} Hz (F3 {f3:.0f} Hz)",
        f3=likely,
    )
    return replace(values, remark=(share == 1).astype(np.intp), remarks=("", WITH_BUNG))
