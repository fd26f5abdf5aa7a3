"""The criteria with their units, their end points and their default weights."""

from __future__ import annotations

from typing import Final

from triptych.recommender.judge.criterion import Criterion

TIMBRE: Final = Criterion(
    "timbre", "dB", 0.5, 5.0, 0.30,
    "root of (direct² + sound power²)/2 + voicing², each the rms difference centre − mains, level-aligned at the "
    "primary seat, 200 Hz–8 kHz in ERB steps; direct sound with its images in floor and front wall, filled by as much "
    "from elsewhere, the primary seat counting half and the other regular seats half; sound power so near to both; "
    "mean square over floors of the kind that the room tells, or from none to rigid; voicing² loses half for each of "
    "the two parts that was measured on both sides; raised to the middle of what datasheets leave open",
    "ERB scale: Glasberg & Moore 1990. Piston and crossover model: Kinsler et al. ch. 7, Linkwitz 1976. Images: "
    "Kuttruff, Room Acoustics. Power near a surface: Waterhouse 1955, Allison 1974, from memory. Voicing figures and "
    "end points: assumed",
    beside_mains=True,
)  # fmt: skip
COVERAGE: Final = Criterion(
    "coverage", "dB", 0.0, 8.0, 0.20,
    "half of the rms difference and half of the deepest dip against its own axis, at the worst regular seat",
    "Piston and crossover model: Kinsler et al. ch. 7, Linkwitz 1976. End points: common practice",
)  # fmt: skip
HEADROOM: Final = Criterion(
    "headroom", "dB", 6.0, 0.0, 0.15,
    "S + 20 log10(V/2.83) − 20 log10 r + room gain − target, at the farthest regular seat",
    "IEC 60268-5 for sensitivity; spherical spreading. End points: common practice",
)  # fmt: skip
AIM: Final = Criterion(
    "aim", "deg", 0.0, 20.0, 0.10,
    "root of residual² + difference², residual elevation after the tilt that fits, and height difference of the "
    "centre's and the mains' axes seen from the primary seat, or four times what the centre's elevation has beyond "
    "15 deg, if that is more: no tilt cures where voices come from",
    "Geometry. Elevation up to 15 deg acceptable with a tilt, beyond 20 deg none to choose: common practice, no "
    "source. End points: common practice",
    beside_mains=True,
)  # fmt: skip
SURROUNDINGS: Final = Criterion(
    "surroundings", "dB", 0.0, 8.0, 0.10,
    "root of bounce² + bay² + front² + screen²: the largest deviation that the surface in front makes, what the port "
    "rouses in the bay's resonance, what the front around the box adds, what a fabric takes from the centre alone",
    "Image source: Kuttruff, Room Acoustics. Duct and cavity: Kinsler et al. ch. 10. Step of the front: Olson 1969, "
    "from memory. Excitation: assumed",
)  # fmt: skip
LEAST_OF_MONEY: Final = 0.25
"""What money takes from a score at most, to the power of its weight [1]: an eighth by the design's weights. It has
rules and caps of its own, and no ear hears it: a step of 0.02 at the end of its scale took a third. Our own figure."""

BALANCE: Final = Criterion(
    "balance", "1", 1.0, 2.0, 0.10,
    "price of one centre / its share of the money, the price of one main, or of one surround where that is told and "
    "dearer; up to 1 no price counts",
    "Budget rule: the centre's share is at least one main, and at least what a surround gets. Common practice, no "
    "source",
    beside_mains=True,
    falls_on=False,
    least=LEAST_OF_MONEY,
)  # fmt: skip
REACH: Final = Criterion(
    "reach", "Hz", 80.0, 150.0, 0.05,
    "max(80 Hz, 1.3 × F3)",
    "Common practice, no source",
)  # fmt: skip

CRITERIA: Final = (TIMBRE, COVERAGE, HEADROOM, AIM, SURROUNDINGS, BALANCE, REACH)

DEFAULT_WEIGHTS: Final = {criterion.name: criterion.weight for criterion in CRITERIA}
"""The weights of the design; they sum to 1."""
