"""`python -m tests.frozen` writes all answers anew, `python -m tests.frozen stock plan` those of these."""

from __future__ import annotations

import sys

from tests.frozen.playing import write
from tests.frozen.scenarios import SCENARIOS

unknown = set(sys.argv[1:]) - SCENARIOS.keys()
if unknown:
    raise SystemExit(f"no scenario is named {', '.join(sorted(unknown))}; there are {', '.join(SCENARIOS)}")
for name in sys.argv[1:] or SCENARIOS:
    write(SCENARIOS[name], name)
