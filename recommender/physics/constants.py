"""Constants of the air, each with its unit and source."""

from __future__ import annotations

from typing import Final

SPEED_OF_SOUND: Final = 343.2
"""In dry air at 20 °C [m/s]. ISO 9613-1:1993 (from memory)."""
