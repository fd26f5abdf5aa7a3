"""The check after installing as JSON and CSV. Rounding happens here."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from triptych.recommender.cli.as_json import rounded

if TYPE_CHECKING:
    from triptych.catalog.database.as_built import AsBuiltRecord
    from triptych.recommender.verify.verification import Verification


def as_json(room: str, record: AsBuiltRecord, found: Verification) -> dict[str, Any]:
    """The check as JSON."""
    return {
        "room": room,
        "mains": record.mains,
        "speaker": record.speaker,
        "place": record.place,
        "trim_set_db": rounded(record.trim_set, 2),
        "trim_db": rounded(found.trim, 2),
        "timbre_rms_db": rounded(found.timbre, 2),
        "seats": [
            {
                "seat": seat.seat,
                "trim_db": rounded(seat.trim, 2),
                "bands": [
                    {
                        "band": band.band,
                        "low_hz": rounded(band.low, 0),
                        "high_hz": rounded(band.high, 0),
                        "rms_db": rounded(band.rms, 2),
                        "mean_db": rounded(band.mean, 2),
                        "worst_db": rounded(band.worst, 2),
                        "worst_hz": rounded(band.at, 0),
                        "verdict": band.verdict,
                    }
                    for band in seat.bands
                ],
            }
            for seat in found.seats
        ],
        "correction": _correction(found),
        "not_correctable": [
            {
                "seat": dip.seat,
                "frequency_hz": rounded(dip.frequency, 0),
                "depth_db": rounded(dip.depth, 1),
                "width_octave": rounded(dip.width, 2),
                "moves_with_seat": dip.moves,
                "absent_at": None if dip.elsewhere is None else list(dip.elsewhere),
            }
            for dip in found.dips
        ],
        "placement": [
            {
                "what": sign.what,
                "predicted_hz": rounded(sign.predicted, 1),
                "shows": sign.shows,
                "found_hz": rounded(sign.found, 1),
                "size_db": rounded(sign.size, 1),
                "mains_too": sign.mains_too,
            }
            for sign in found.signs
        ],
        "promises": [
            {
                "what": promise.what,
                "predicted_db": rounded(promise.predicted, 2),
                "low_db": rounded(promise.low, 2),
                "high_db": rounded(promise.high, 2),
                "measured_db": rounded(promise.measured, 2),
                "met": promise.met,
            }
            for promise in found.promises
        ],
    }


def _correction(found: Verification) -> dict[str, Any]:
    fit = found.correction
    return {
        "filters": [
            {
                "kind": one.kind.value.replace(" ", "_"),
                "frequency_hz": rounded(one.frequency, 0),
                "gain_db": rounded(one.gain, 2),
                "quality": rounded(one.quality, 2) if one.kind.value == "bell" else None,
            }
            for one in fit.filters
        ],
        "trim_db": rounded(fit.level, 2),
        "rms_before_db": rounded(fit.rms_before, 2),
        "rms_after_db": rounded(fit.rms_after, 2),
    }


def as_csv(found: Verification) -> list[list[str]]:
    """One line a seat and band."""
    head = ["seat", "trim_db", "band", "low_hz", "high_hz", "rms_db", "mean_db", "worst_db", "worst_hz", "verdict"]
    return [
        head,
        *(
            [
                seat.seat, f"{seat.trim:.2f}", band.band, f"{band.low:.0f}", f"{band.high:.0f}", f"{band.rms:.2f}",
                f"{band.mean:.2f}", f"{band.worst:.2f}", f"{band.at:.0f}", band.verdict,
            ]
            for seat in found.seats
            for band in seat.bands
        ),
    ]  # fmt: skip
