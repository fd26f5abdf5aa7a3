"""Constants of the air and of lengths, each with its unit and source."""

from __future__ import annotations

from typing import Final

SPEED_OF_SOUND: Final = 343.2
"""In dry air at 20 °C [m/s]. ISO 9613-1:1993 (from memory)."""

NANOMETRE: Final = 1e-9
"""What two equal lengths may differ by after a sum of their parts [m]. Our choice."""
