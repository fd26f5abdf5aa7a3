"""What a browser prints as a PDF reads as the page itself does."""

from __future__ import annotations

import subprocess
from pathlib import Path

from tests.catalog.datasheet.test_doors import EXPECTED, PAGE, figures
from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.datasheet.pdf import is_pdf, pdf_text


def test_a_printed_page_reads_as_the_page(tmp_path: Path) -> None:
    (tmp_path / "wren.html").write_text(f'<meta charset="utf-8">{PAGE}', "utf-8")
    printed = tmp_path / "wren.pdf"
    command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
    subprocess.run(
        [*command, f"--print-to-pdf={printed}", (tmp_path / "wren.html").as_uri()],
        check=True,
        capture_output=True,
        timeout=120,
    )
    content = printed.read_bytes()
    assert is_pdf(content)
    assert figures(read_datasheet(pdf_text(content, "wren.pdf"))) == EXPECTED
