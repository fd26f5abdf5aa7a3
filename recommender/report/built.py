"""A check after installing in words; the same for the terminal and for the report."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from triptych.recommender.report.on_paper import frequency, plain, signed
from triptych.recommender.verify.dips import BAY_NEAR, NOTCH_NEAR, Dip, Sign
from triptych.recommender.verify.filters import Filter, Fit, Shape
from triptych.recommender.verify.verification import ROOM_TIMBRE, Closeness, PromisedFigure, Verification

BAND_WORDS: Final = {"speech": "Speech band", "above": "Above it", "below": "Below it"}
NEARNESS: Final = {"alike": "alike", "fair": "fairly near", "apart": "apart"}
STANDARD: Final = (
    "Speech band: 300 Hz to 3.4 kHz, the telephone band of ITU-T G.712 (from memory). Alike is up to 1 dB rms, fairly "
    "near up to 2 dB, each smoothed by a third of an octave (common practice). Below 300 Hz the room rules."
)


@dataclass(frozen=True, slots=True)
class BandRow:
    """One band at one seat, in words."""

    seat: str
    band: str
    reach: str
    rms: str
    mean: str
    worst: str
    verdict: str


def band_rows(found: Verification) -> list[BandRow]:
    """How near the centre is, band by band and seat by seat."""
    return [_band_row(seat.seat, band) for seat in found.seats for band in seat.bands]


def _band_row(seat: str, band: Closeness) -> BandRow:
    return BandRow(
        seat=plain(seat),
        band=BAND_WORDS[band.band],
        reach=f"{frequency(band.low)} to {frequency(band.high)}",
        rms=signed(band.rms, 1, "dB"),
        mean=signed(band.mean, 1, "dB"),
        worst=f"{signed(band.worst, 1, 'dB')} at {frequency(band.at)}",
        verdict=NEARNESS[band.verdict],
    )


def settings_lines(found: Verification) -> Iterator[str]:
    """The trim, and the correction that is worth making."""
    first = found.seats[0]
    yield (
        f"Trim: {_change(found.trim, 'the centre')} to match the mains in the speech band at {plain(first.seat)}; "
        f"amplifiers take steps of 0.5 dB."
    )
    yield correction_line(found.correction, len(found.seats))


def correction_line(found: Fit, seats: int) -> str:
    """The broad correction in words."""
    where = "" if seats == 1 else f", fitted to the mean of {seats} seats"
    if not found.filters:
        return f"Correction: none; no broad filter brings the centre nearer by a quarter of a decibel{where}."
    filters = " and ".join(filter_words(one) for one in found.filters)
    return (
        f"Correction of the centre: {filters}{where}; then {_change(found.level, 'the centre')} in place of the trim "
        f"above. It takes the difference from {found.rms_before:.1f} to {found.rms_after:.1f} dB rms."
    )


def filter_words(one: Filter) -> str:
    """One filter in words."""
    if one.kind is Shape.TILT:
        return f"a tilt of {signed(one.gain, 2, 'dB')} an octave about 1 kHz"
    gain = f"{signed(one.gain, 1, 'dB')}"
    if one.kind is Shape.BELL:
        return f"a bell of {gain} at {frequency(one.frequency)}, Q {one.quality:.1f}"
    return f"a {one.kind.value} of {gain} at {frequency(one.frequency)}"


def _change(level: float, what: str) -> str:
    if abs(level) < 0.05:
        return f"leave {what} as it is"
    return f"{'raise' if level > 0 else 'lower'} {what} by {abs(level):.1f} dB"


def dip_lines(found: Verification) -> list[str]:
    """What cannot be corrected."""
    return [_dip_line(dip) for dip in found.dips]


def _dip_line(dip: Dip) -> str:
    size = f"{frequency(dip.frequency)}: {dip.depth:.0f} dB deep, {dip.width:.2f} octave wide at {plain(dip.seat)}"
    if dip.moves is None:
        return f"{size}. Don't fill it; measure another seat to see whether it moves."
    if dip.moves:
        others = ", ".join(plain(name) for name in dip.elsewhere or ())
        return f"{size}, not at {others}: it moves with the seat, and no equaliser mends it."
    return f"{size}, at every seat measured: two sounds cancel there. Don't fill it; change the place or the aim."


def sign_lines(found: Verification) -> list[str]:
    """Whether what the placement was predicted to do shows."""
    return [_sign_line(sign) for sign in found.signs]


def _sign_line(sign: Sign) -> str:
    near = NOTCH_NEAR if sign.what == "bounce notch" else BAY_NEAR
    lead = f"{sign.what.capitalize()} predicted at {frequency(sign.predicted)}"
    if sign.shows is None or sign.found is None or sign.size is None:
        return f"{lead}: the curves don't reach there."
    if sign.shows:
        return f"{lead}: it shows, {sign.size:.0f} dB at {frequency(sign.found)}."
    too = " The mains have something there too, so that is the room." if sign.mains_too else ""
    return f"{lead}: it does not show within {near:.2g} octave (3 dB against the mains would).{too}"


def promise_lines(found: Verification) -> list[str]:
    """Whether it meets what was promised."""
    return [_promise_line(promise) for promise in found.promises]


def _promise_line(one: PromisedFigure) -> str:
    kept = "kept" if one.met else "not kept"
    if one.what == "trim":
        return (
            f"Trim: promised {signed(one.predicted, 1, 'dB')}, measured {signed(one.measured, 1, 'dB')}: {kept} "
            f"(within 1 dB counts)."
        )
    return (
        f"Timbre: promised {one.predicted:.1f} dB rms, at most {one.high - ROOM_TIMBRE:.1f}; "
        f"measured {one.measured:.1f}: {kept} "
        f"({ROOM_TIMBRE:g} dB more is the room's, since the three stand at different places)."
    )
