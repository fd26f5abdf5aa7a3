"""Can it be pointed at the ear? Tilt and height."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from triptych.recommender.judge.gates.fit import MILLIMETRE, SLACK, asking_sizes
from triptych.recommender.judge.verdicts import Case, GateVerdicts, Verdict, judge
from triptych.recommender.scene.aiming import LARGEST_TILT, Aim, aim_question, elevation_range, residual_range
from triptych.recommender.scene.arrays import Boxes

TILT_ENOUGH: Final = 0.5
"""An aim this close is on the ear [deg]; the smallest audible vertical angle is 3.65 deg (Perrott & Saberi 1990)."""

MISSING_ACCEPTABLE: Final = 15.0
"""So much of the tilt that it needs may be missing [deg]. Common practice: an elevation up to 15 deg is acceptable."""

ELEVATION_LIMIT: Final = 20.0
"""An axis higher or lower than this needs a cure [deg]. Common practice, no source."""


AIM_UNKNOWN: Final = "the height of the place isn't known"


def _at_every_end(likely: GateVerdicts, aim: Aim, ends: Sequence[GateVerdicts], name: str, case: str) -> GateVerdicts:
    """The answers where the ear or the distance was assumed: no better than at the worst that they may plausibly be.

    A box that is let in at every end is let in on that condition; one that is ruled out at some only waits.
    """
    if not ends:
        return likely
    verdicts = np.stack([end.verdict for end in ends])
    numbers = np.stack([end.numbers[name] for end in ends])
    open_ = aim.assumed & (likely.verdict != Verdict.UNKNOWN)
    let, out = (verdicts <= Verdict.CONDITIONAL).all(axis=0), (verdicts == Verdict.FAIL).all(axis=0)
    lacking = " and ".join(LACKING[one] for one in aim.missing if one in LACKING)
    why, question = f"{case}, as {lacking} isn't measured", aim_question(aim)
    codes = np.select(
        [open_ & let, open_ & ~out & (likely.verdict != Verdict.UNKNOWN)],
        [len(likely.cases), len(likely.cases) + 1],
        likely.case,
    )
    return replace(
        likely,
        cases=(*likely.cases, Case(Verdict.CONDITIONAL, why, question), Case(Verdict.UNKNOWN, why, question)),
        case=codes.astype(np.int8),
        margin=np.where(open_, np.nan, likely.margin),
        numbers={**likely.numbers, "least": numbers.min(axis=0), "most": numbers.max(axis=0)},
    )


LACKING: Final = {"the ear": "the height of the ear", "the front": "how far the place's front edge is from the wall"}
"""What is assumed until somebody measures it, as it is told."""


STEEP: Final = 10.0
"""A box tilted further stays put only on what is made to hold it [deg]. Common practice, no source."""


def tilt(boxes: Boxes, aim: Aim, *, hung: bool = False) -> GateVerdicts:
    """The tilt that the aim needs against the tilt that fits; the margin is the difference [deg].

    What is `hung` on a wall is tilted by its bracket, and no edge of it is raised.
    """
    ends = [_tilt_there(boxes, end, hung) for end in aim.ends]
    return _at_every_end(
        _tilt_there(boxes, aim, hung), aim, ends, "needed", "it needs {least:.1f} to {most:.1f} deg of tilt"
    )


def _tilt_there(boxes: Boxes, aim: Aim, hung: bool) -> GateVerdicts:
    needed, fits, residual = np.abs(aim.tilt_needed), np.abs(aim.tilt_fits), np.abs(aim.residual)
    used = np.abs(aim.tilt_used)
    best, worst = residual_range(boxes, aim, fits)
    upward = (aim.tilt_needed > 0).astype(np.intp)
    rest = "of the {needed:.1f} deg it needs {are}; it then points {residual:.1f} deg {past} the ear"
    # told apart only where the allowance is less than what would fit without it
    are = "fit" if aim.tilt_allowed >= LARGEST_TILT else "fit or are allowed"
    part = "{fits:.1f} deg " + rest.replace("{are}", are)
    raised = "tilt it {way} {used:.1f} deg: {lift:.0f} mm under its {edge} edge"
    verdicts = judge(
        "tilt", "deg", np.where(aim.axis_unknown | aim.unknown, np.nan, fits - needed),
        [
            (np.isnan(boxes.height) | np.isnan(boxes.depth),
             Case(Verdict.UNKNOWN, "the box's height or depth isn't stated",
                  "How much is the box's outside {sizes}, grille on?")),
            (aim.unknown, Case(Verdict.UNKNOWN, AIM_UNKNOWN, aim_question(aim))),
            (aim.untried & (needed > TILT_ENOUGH),
             Case(Verdict.CONDITIONAL, "it needs {needed:.1f} deg of tilt; how much fits isn't known until somebody "
                                       "measures the opening, or where the picture is")),
            (aim.axis_unknown & (best > MISSING_ACCEPTABLE),
             Case(Verdict.FAIL, "wherever its axis is, more than 15 deg are left of the tilt it needs")),
            (aim.axis_unknown & (worst > MISSING_ACCEPTABLE),
             Case(Verdict.UNKNOWN, "its acoustic axis isn't stated; {fits:.1f} deg of tilt fit",
                  "How high above its base is the middle of the tweeter?")),
            (aim.axis_unknown,
             Case(Verdict.CONDITIONAL, "its acoustic axis isn't stated; measure it and tilt it at the ear: "
                                       "{fits:.1f} deg fit")),
            (needed <= TILT_ENOUGH, Case(Verdict.PASS, "on the ear as it stands")),
            ((residual <= TILT_ENOUGH) & hung, Case(Verdict.PASS, "tilt it {way} {used:.1f} deg by its bracket")),
            ((residual <= TILT_ENOUGH) & (used <= STEEP), Case(Verdict.PASS, raised)),
            (residual <= TILT_ENOUGH, Case(Verdict.PASS, f"{raised}, on a cradle that holds it")),
            (needed - used <= MISSING_ACCEPTABLE, Case(Verdict.CONDITIONAL, part)),
            (True, Case(Verdict.FAIL, "only " + part)),
        ],
        needed=needed, fits=fits, residual=residual, used=used, lift=aim.lift / MILLIMETRE,
    )  # fmt: skip
    turned = dict.fromkeys(TURNED, upward)
    return asking_sizes(replace(verdicts, texts=turned, words=dict(TURNED)), boxes)


TURNED: Final = {"way": ("down", "up"), "edge": ("rear", "front"), "past": ("above", "below")}
"""What is said of a box that looks down, and of one that looks up."""


def height(boxes: Boxes, aim: Aim) -> GateVerdicts:
    """The elevation of the acoustic axis at the primary seat; the margin is what is left of 20 deg [deg]."""
    ends, case = [_height_there(boxes, end) for end in aim.ends], "{least:.1f} to {most:.1f} deg from the ear"
    return _at_every_end(_height_there(boxes, aim), aim, ends, "elevation", case)


def _height_there(boxes: Boxes, aim: Aim) -> GateVerdicts:
    elevation, residual = np.abs(aim.elevation), np.abs(aim.residual)
    lowest, highest = elevation_range(boxes, aim)
    return judge(
        "height", "deg", np.where(aim.axis_unknown | aim.unknown, np.nan, ELEVATION_LIMIT - elevation),
        [
            (aim.unknown, Case(Verdict.UNKNOWN, AIM_UNKNOWN, aim_question(aim))),
            (np.isnan(boxes.height) & aim.axis_unknown,
             Case(Verdict.UNKNOWN, "neither its height nor its acoustic axis is stated",
                  "How high above its base is the middle of the tweeter?")),
            (aim.axis_unknown & (highest <= ELEVATION_LIMIT),
             Case(Verdict.CONDITIONAL, "its acoustic axis isn't stated; wherever it is, it is within 20 deg of "
                                       "the ear")),
            (aim.axis_unknown & (lowest > ELEVATION_LIMIT) & (residual > TILT_ENOUGH),
             Case(Verdict.FAIL, "wherever its axis is, it is more than 20 deg from the ear")),
            (aim.axis_unknown, Case(Verdict.UNKNOWN, "its acoustic axis isn't stated",
                                    "How high above its base is the middle of the tweeter?")),
            (elevation <= ELEVATION_LIMIT + SLACK, Case(Verdict.PASS, "{elevation:.1f} deg from the ear")),
            (residual <= TILT_ENOUGH,
             Case(Verdict.CONDITIONAL, "{elevation:.1f} deg from the ear: its tilt points it there, but voices still "
                                       "come from where it is")),
            (True, Case(Verdict.FAIL, "{elevation:.1f} deg from the ear, and the tilt that would cure it doesn't fit")),
        ],
        elevation=elevation,
    )  # fmt: skip
