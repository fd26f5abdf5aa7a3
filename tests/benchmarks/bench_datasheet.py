"""How fast and how well datasheets are read, and what ten megabytes cost."""

from __future__ import annotations

import sys
import tracemalloc
from time import process_time

from tests.catalog.datasheet.corpus_check import sheets
from tests.catalog.datasheet.score import report, score
from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.errors import BadInput

LONG = 10_000_000
"""[characters]."""


def main() -> None:
    """Print sheets a minute on one core, the score of the open sheets, and the memory that a long text takes."""
    texts = [sheet.text for sheet in sheets("open")]
    start = process_time()
    for text in texts:
        read_datasheet(text)
    lines = [f"{60 * len(texts) / (process_time() - start):.0f} sheets a minute on one core"]
    long = "Width: 546 mm\n" * (LONG // 14)
    tracemalloc.start()
    try:
        read_datasheet(long)
    except BadInput as refusal:
        lines.append(f"{LONG} characters: {refusal}; {tracemalloc.get_traced_memory()[1] / 1e6:.1f} MB")
    lines += report([score(sheet) for sheet in sheets("open")], listed=False)
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
