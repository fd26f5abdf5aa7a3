from __future__ import annotations

import csv
import functools
import io
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
import typer
from typer.testing import CliRunner

from tests.catalog.filling import untouched
from triptych.catalog.cli import options, room, speaker
from triptych.catalog.database.engine import open_catalogue, writing
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.fields import COLUMNS
from triptych.catalog.records import LoudspeakerRecord, Role

HEADER = "maker,model,roles,width,height,depth,enclosure,port_location,price,currency,price_per,note\n"
SHOP = HEADER + (
    'Oatfell,Wren,centre,"17,8 cm",165,200,sealed,none,520,EUR,each,\n'
    "Oatfell,Tower,main,200,1000,300,ported,rear,1300,EUR,pair,\n"
    "Bramble,Low,centre;surround,450,120,,ported,front,,,,quiet\n"
)
HEAVY = {"sqlalchemy", "alembic", "pandas", "numpy", "scipy", "openpyxl", "rich", "pydantic"}

Run = Callable[..., Any]


@functools.cache
def application() -> typer.Typer:
    app = options.application("Both groups, as the whole program mounts them.")
    app.add_typer(speaker.app, name="speaker")
    app.add_typer(room.app, name="room")
    return app


@pytest.fixture
def run(sqlite_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("TRIPTYCH_DB", str(sqlite_path))
    monkeypatch.setenv("COLUMNS", "80")
    app = application()

    def invoke(*arguments: str) -> Any:
        result = CliRunner().invoke(app, ["speaker", *arguments])
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        return result

    return invoke


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    path = tmp_path / "shop.csv"
    path.write_text(SHOP, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def imported(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """What is in a catalogue's file once the shop's is imported."""
    folder = tmp_path_factory.mktemp("imported")
    (folder / "shop.csv").write_text(SHOP, encoding="utf-8")
    path = shutil.copy(sqlite_template, folder / "catalogue.db")
    done = CliRunner().invoke(application(), ["speaker", "import", str(folder / "shop.csv"), "--db", str(path)])
    assert done.exit_code == 0, done.output
    return Path(path).read_bytes()


@pytest.fixture
def stocked(run: Run, imported: bytes, sqlite_path: Path) -> Run:
    """Commands on a catalogue into which the shop's file was imported."""
    sqlite_path.write_bytes(imported)
    return run


def names(run: Run, *arguments: str) -> list[str]:
    result = run("list", "--format", "json", *arguments)
    assert result.exit_code == 0
    return [found["name"] for found in json.loads(result.stdout)["loudspeakers"]]


def test_importing_twice_changes_nothing(run: Run, shop: Path) -> None:
    first, second = run("import", str(shop)), run("import", str(shop))
    assert (first.exit_code, first.stdout, first.stderr) == (0, "", "added 3, changed 0, unchanged 0\n")
    assert second.stderr == "added 0, changed 0, unchanged 3\n"


def test_one_bad_cell_changes_nothing(run: Run, shop: Path) -> None:
    shop.write_text(SHOP.replace("1000", "1 stone").replace("quiet", "a\x07"), encoding="utf-8")
    result = run("import", str(shop))
    assert result.exit_code == 1
    assert "shop.csv, line 3, column height: '1 stone'" in result.stderr
    assert "shop.csv, line 4, column note: 'a\\x07'" in result.stderr
    assert "error: shop.csv: 2 problems, 2 rows refused, nothing changed; mend the file or take the" in result.stderr
    assert "Traceback" not in result.stderr
    assert names(run) == []


def test_a_dry_run_says_what_would_happen_and_changes_nothing(run: Run, shop: Path) -> None:
    result = run("import", str(shop), "--dry-run")
    assert (result.exit_code, result.stderr) == (0, "would have added 3, changed 0, unchanged 0\n")
    assert names(run) == []


def test_keep_good_takes_the_good_rows_and_writes_the_others(run: Run, shop: Path) -> None:
    shop.write_text(SHOP.replace("1000", "1 stone"), encoding="utf-8")
    result = run("import", str(shop), "--keep-good")
    assert result.exit_code == 0
    assert "added 2" in result.stderr
    refused = shop.with_name("shop.csv.refused.csv")
    assert str(refused) in result.stderr
    rows = list(csv.DictReader(io.StringIO(refused.read_text(encoding="utf-8"))))
    assert [(row["model"], row["refused_because"][:23]) for row in rows] == [("Tower", "column height '1 stone'")]
    assert names(run) == ["Bramble Low", "Oatfell Wren"]


def test_keep_good_takes_nothing_where_the_refused_file_is_in_the_way(run: Run, shop: Path) -> None:
    shop.write_text(SHOP.replace("1000", "1 stone"), encoding="utf-8")
    shop.with_name("shop.csv.refused.csv").write_text("mine", encoding="utf-8")
    result = run("import", str(shop), "--keep-good")
    assert result.exit_code == 1
    assert "is there already" in result.stderr
    assert names(run) == []


def test_keep_good_of_a_bad_header_takes_nothing(run: Run, shop: Path) -> None:
    shop.write_text(SHOP.replace("width", "widht"), encoding="utf-8")
    result = run("import", str(shop), "--keep-good")
    assert result.exit_code == 1
    assert "'widht' is no column; did you mean 'width'?" in result.stderr


def test_columns_of_theirs_are_mapped(run: Run, shop: Path) -> None:
    shop.write_text(SHOP.replace("model", "Product").replace("note", "Colour"), encoding="utf-8")
    result = run("import", str(shop), "--map", "product=model", "--map", "Colour=")
    assert result.stderr == "added 3, changed 0, unchanged 0\n"


def test_a_map_that_is_no_pair_is_a_wrong_command_line(run: Run, shop: Path) -> None:
    assert run("import", str(shop), "--map", "product").exit_code == 2


def test_a_file_that_is_not_there(run: Run) -> None:
    result = run("import", "nowhere.csv")
    assert result.exit_code == 1
    assert result.stderr.startswith("error: nowhere.csv: No such file")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["out.csv", "out.xlsx"])
def test_an_export_imports_to_the_identical_catalogue(stocked: Run, tmp_path: Path, name: str) -> None:
    before = stocked("export").stdout
    assert stocked("export", str(tmp_path / name)).exit_code == 0
    other = ("--db", str(tmp_path / "other.db"))
    assert stocked("import", str(tmp_path / name), *other).stderr == "added 3, changed 0, unchanged 0\n"
    assert stocked("export", "-", *other).stdout == before
    assert stocked("import", str(tmp_path / name)).stderr == "added 0, changed 0, unchanged 3\n"


def test_every_column_is_an_option_of_add(run: Run) -> None:
    text = run("add", "--help").stdout
    assert [name for name in COLUMNS if f"--{name.replace('_', '-')} " not in text] == []


def test_add_takes_the_units_of_the_file(run: Run) -> None:
    result = run("add", "--maker", "Oatfell", "--model", "Wren", "--roles", "center", "--width", "7 1/2 in")
    assert (result.exit_code, result.stderr) == (0, "added Oatfell Wren\n")
    shown = json.loads(run("show", "oatfell wren", "-f", "json").stdout)
    assert (shown["width"], shown["units"]["width"], shown["height"]) == (190.5, "mm", None)
    assert shown["figures"]["width"] == {"raw": "7 1/2 in", "source": "speaker add", "evidence": "stated", "flags": []}


def test_add_refuses_with_every_option_named(run: Run) -> None:
    result = run("add", "--maker", "Oatfell", "--roles", "boss", "--low-limit", "deep")
    assert result.exit_code == 1
    assert [line.split(":")[0] for line in result.stderr.splitlines()] == ["error", "--low-limit", "--model"]
    assert "error: --roles: 'boss' is none of" in result.stderr


def test_add_never_changes_what_is_there(stocked: Run) -> None:
    result = stocked("add", "--maker", "OATFELL", "--model", "wren", "--roles", "main")
    assert result.exit_code == 1
    assert "in the catalogue already; change it with speaker edit" in result.stderr


def test_edit_changes_figures_and_clears_them(stocked: Run) -> None:
    result = stocked("edit", "oatfell WREN", "--set", "weight=27 lb 8 oz", "--set", "height=", "--set", "note=a = b")
    assert result.stderr == "--set height= clears '165 mm'\nOatfell Wren: added 0, changed 1, unchanged 0\n"
    shown = json.loads(stocked("show", "oatfell wren", "-f", "json").stdout)
    assert (shown["weight"], shown["height"], shown["note"]) == (12.473790175, None, "a = b")
    assert shown["figures"]["weight"]["source"] == "speaker edit"
    assert shown["figures"]["width"] == {
        "raw": "17,8 cm", "source": "shop.csv, line 2", "evidence": "stated", "flags": [],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("widht=3", "'widht' is no column; did you mean 'width'?"),
        ("model=Robin", "triptych speaker rename"),
        ("width=3 m", "column width: '3 m' is outside the plausible range 0.04 to 2 m"),
        ("currency=", "column currency: is empty beside a price"),
    ],
)
def test_edit_refuses(stocked: Run, sqlite_path: Path, change: str, said: str) -> None:
    with untouched(sqlite_path):
        result = stocked("edit", "Oatfell Wren", "--set", change)
    assert result.exit_code == 1
    assert said in result.stderr


@pytest.mark.parametrize(
    "command", [("show", "Oatfell Wrn"), ("retire", "Oatfell Wrn"), ("edit", "Oatfell Wrn", "--set", "note=a")]
)
def test_an_unknown_name_is_answered_with_the_nearest(stocked: Run, command: tuple[str, ...]) -> None:
    result = stocked(*command)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "Oatfell Wren" in result.stderr


def test_show_tells_figures_sources_and_what_is_unknown(stocked: Run) -> None:
    lines = stocked("show", "oatfell wren").stdout.splitlines()
    assert max(map(len, lines)) <= 80
    width = next(line for line in lines if line.startswith("width"))
    assert width.split(maxsplit=1)[1].split("  ")[0] == "178 mm"
    assert "shop.csv, line 2: 17,8 cm" in width
    assert "Unknown: " in "\n".join(lines)


def test_show_as_csv_is_a_row_of_an_export(stocked: Run) -> None:
    (row,) = csv.DictReader(io.StringIO(stocked("show", "oatfell wren", "--format", "csv").stdout))
    assert (row["width"], row["height"], row["feet"]) == ("178", "165", "")


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        ((), ["Bramble Low", "Oatfell Tower", "Oatfell Wren"]),
        (("--role", "centre"), ["Bramble Low", "Oatfell Wren"]),
        (("--maker", "oatfell"), ["Oatfell Tower", "Oatfell Wren"]),
        (("--text", "tow"), ["Oatfell Tower"]),
        (("--max-price", "650"), ["Oatfell Tower", "Oatfell Wren"]),
        (("--max-price", "600 eur"), ["Oatfell Wren"]),
        (("--max-width", "8 in"), ["Oatfell Tower", "Oatfell Wren"]),
        (("--max-height", "165"), ["Bramble Low", "Oatfell Wren"]),
        (("--max-depth", "30 cm"), ["Oatfell Tower", "Oatfell Wren"]),
        (("--enclosure", "ported"), ["Bramble Low", "Oatfell Tower"]),
        (("--port", "front"), ["Bramble Low"]),
        (("--in-stock",), []),
        (("--page-size", "2"), ["Bramble Low", "Oatfell Tower"]),
        (("--page-size", "2", "--page", "2"), ["Oatfell Wren"]),
        (("--page-size", "2", "--page", "3"), []),
    ],
)
def test_lists_are_filtered_and_paged(stocked: Run, arguments: tuple[str, ...], found: list[str]) -> None:
    assert names(stocked, *arguments) == found


def test_a_page_says_what_more_there_is(stocked: Run) -> None:
    assert stocked("list", "--page-size", "2").stderr == "1 to 2 of 3; --page 2 shows more\n"
    assert stocked("list", "--page-size", "2", "--page", "2").stderr == "3 to 3 of 3\n"
    assert stocked("list", "--page-size", "2", "--page", "9").stderr == "none of 3 on page 9\n"
    assert stocked("list", "--maker", "nobody").stderr == "no loudspeaker is like that\n"


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("--max-width", "1,200"), 1, "--max-width: '1,200' could be 1200 mm or 1.2 mm"),
        (("--max-price", "cheap"), 1, "'cheap' is no number"),
        (("--role", "boss"), 2, "boss"),
        (("--page", "0"), 2, "Invalid value for '--page'"),
        (("--frmat", "json"), 2, "frmat"),
    ],
)
def test_a_bad_filter(run: Run, arguments: tuple[str, ...], code: int, said: str) -> None:
    result = run("list", *arguments)
    assert (result.exit_code, result.stdout) == (code, "")
    assert said in result.stderr


@pytest.mark.parametrize(("columns", "also"), [("80", []), ("160", ["layout", "ohm"])])
def test_a_table_fits_its_terminal(
    stocked: Run, monkeypatch: pytest.MonkeyPatch, columns: str, also: list[str]
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    text = stocked("list").stdout
    assert max(map(len, text.splitlines())) <= int(columns)
    assert all(
        word in text for word in ["Bramble Low", "450×120×–", "ported, front", "520.00 EUR", "1300.00 EUR/pair", *also]
    )


@pytest.mark.slow
def test_a_retired_loudspeaker_is_hidden_and_can_come_back(run: Run, shop: Path) -> None:
    run("import", str(shop))
    assert run("retire", "oatfell wren").stderr == "retired: oatfell wren\n"
    assert "Oatfell Wren" not in names(run)
    assert "Oatfell Wren" in names(run, "--retired")
    assert "Wren" not in run("export").stdout
    assert "Wren" in run("export", "--retired").stdout
    assert "hidden from lists" in run("show", "oatfell wren").stdout
    assert "1 of them retired, so hidden" in run("import", str(shop)).stderr
    run("retire", "oatfell wren", "--undo")
    assert "Oatfell Wren" in names(run)


def test_text_that_people_typed_commands_no_terminal(run: Run, sqlite_path: Path) -> None:
    engine = open_catalogue(str(sqlite_path))
    nasty = LoudspeakerRecord("[bold]Orchard", "Wren", roles=frozenset({Role.MAIN}))
    with writing(engine) as session:
        save_loudspeakers(session, [nasty])
        # what an older program let in
        session.execute(sa.text("UPDATE loudspeaker SET model = :model"), {"model": "Wr\x1b[31m\u202e\x9b2Jen"})
    engine.dispose()
    listed, shown = run("list").stdout, run("show", nasty.name).stdout
    assert not {"\x1b", "\x9b", "\u202e"} & set(listed + shown + run("list", "-f", "json").stdout)
    assert "[bold]Orchard" in listed
    assert "Wr\\x1b[31m" in listed


@pytest.mark.parametrize("hidden", ["\x1b", "\x07", "\t", "\n", "\x9b", "\u202e", "\u200b", "\u2066", "\xad", "\ufe0f"])
@pytest.mark.parametrize("column", ["maker", "model", "series", "family"])
def test_what_hides_in_a_name_is_refused(run: Run, sqlite_path: Path, shop: Path, column: str, hidden: str) -> None:
    named = {"maker": "Oatfell", "series": "Linden", "model": "Wren", "family": "Birds"} | {column: f"W{hidden}ren"}
    shop.write_text(",".join(["roles", *named]) + "\n" + ",".join(["centre", *(f'"{one}"' for one in named.values())]))
    with untouched(sqlite_path):
        result = run("import", str(shop))
    assert result.exit_code == 1
    assert f"column {column}" in result.stderr
    assert "characters that do not print" in result.stderr


@pytest.mark.parametrize("group", ["speaker", "room"])
def test_every_command_has_help_with_an_example(group: str) -> None:
    app = application()
    listing = CliRunner().invoke(app, [group, "--help"]).stdout
    commands = [line.split()[0] for line in listing.split("Commands:")[1].splitlines() if line.strip()]
    assert len(commands) >= 5
    for command in commands:
        text = CliRunner().invoke(app, [group, command, "--help"]).stdout
        assert f"Example: triptych {group} {command}" in text
        assert "--db" in text


def test_commands_load_nothing_heavy_before_they_run() -> None:
    script = "import sys, triptych.catalog.cli.speaker, triptych.catalog.cli.room; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout.split()
    assert HEAVY & set(loaded) == set()


def script(body: str) -> list[str]:
    return [sys.executable, "-c", f"from triptych.catalog.cli import options, speaker\n{body}"]


@pytest.mark.processes
def test_a_closed_pipe_is_no_traceback() -> None:
    command = script("options.run(lambda: [print('x' * 10_000) for _ in range(100)])")
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        said = process.stderr.read()
    assert said == b""
    assert process.returncode == 1


@pytest.mark.processes
@pytest.mark.parametrize(
    ("raised", "code", "said"),
    [("KeyboardInterrupt", 130, ""), ("options.CatalogError('no')", 1, "error: no\n"), ("SystemExit(0)", 0, "")],
)
def test_how_a_program_ends(raised: str, code: int, said: str) -> None:
    command = script(f"def app(): raise {raised}\noptions.run(app)")
    result = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (result.returncode, result.stdout, result.stderr) == (code, "", said)


@pytest.mark.processes
def test_a_bug_keeps_its_traceback() -> None:
    command = script("options.run(lambda: 1 / 0)")
    assert "ZeroDivisionError" in subprocess.run(command, capture_output=True, text=True, check=False).stderr
