"""`triptych match`, `explain` and `demo` through what they print."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from triptych.recommender.cli import COMMANDS, app

pytestmark = pytest.mark.whole

QUANTITIES = {
    "elevation_deg", "tilt_needed_deg", "tilt_fits_deg", "tilt_used_deg", "residual_deg", "lift_mm",
    "envelope_height_mm", "envelope_depth_mm", "rear_clearance_mm", "setback_mm", "setback_max_mm", "bounce_notch_hz",
    "cavity_resonance_hz",
    "peak_level_db", "trim_db", "timbre_rms_db", "crossover_hz", "seats",
}  # fmt: skip
STANDING = {
    "rank", "speaker", "place", "pose", "score", "confidence", "score_low", "score_high", "price", "currency",
    "available", "gates", "criteria", "quantities", "other_places",
}  # fmt: skip
GATES = [
    "envelope", "tilt", "port", "sight", "load", "amplifier", "level", "trim", "height", "money", "supply", "hazard",
    "seats",
]  # fmt: skip
MAINS = "Bramble Thatch Trivet Tower"


def run(*words: str) -> Result:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": "100", "TERM": "dumb"})


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("demo") / "demo.db"
    assert run("demo", "--keep", str(path)).exit_code == 0
    return str(path)


@pytest.fixture(scope="module")
def answer(demo: str) -> dict[str, Any]:
    done = run("match", "--mains", MAINS, "--room", "Mill House", "--format", "json", "--db", demo)
    assert done.exit_code == 0, done.output
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def test_the_answer_has_exactly_the_shape_of_the_contract(answer: dict[str, Any]) -> None:
    assert set(answer) >= {"mains", "room", "ranked", "pending", "excluded", "advice", "cautions"}
    assert answer["mains"]["name"] == MAINS
    for entry in answer["ranked"]:
        assert set(entry) >= STANDING
        assert set(entry["quantities"]) == QUANTITIES
        assert [gate["gate"] for gate in entry["gates"]] == GATES
        assert {gate["verdict"] for gate in entry["gates"]} <= {"pass", "conditional"}
        assert all(set(gate) >= {"gate", "verdict", "why", "margin", "unit"} for gate in entry["gates"])
        assert sum(criterion["weight"] for criterion in entry["criteria"]) == pytest.approx(1.0)
        assert all(one["low"] <= one["value"] <= one["high"] for one in entry["criteria"])
        assert len(entry["quantities"]["seats"]) == 5
    assert all({"speaker", "place", "question", "gate", "score_if_passed"} <= set(one) for one in answer["pending"])
    assert all(reason["why"] for one in answer["excluded"] for reason in one["reasons"])
    assert {one["kind"] for one in answer["advice"]} <= {
        "phantom",
        "change_place",
        "third_main",
        "raise_budget",
        "none",
    }


def test_ranks_count_up_and_scores_go_down(answer: dict[str, Any]) -> None:
    assert [entry["rank"] for entry in answer["ranked"]] == list(range(1, len(answer["ranked"]) + 1))
    scores = [entry["score"] for entry in answer["ranked"]]
    assert scores == sorted(scores, reverse=True)
    assert all(entry["score_low"] <= entry["score"] <= entry["score_high"] for entry in answer["ranked"])


def test_top_cuts_only_the_ranking(demo: str, answer: dict[str, Any]) -> None:
    words = ("match", "--mains", MAINS, "--room", "Mill House", "--format", "json", "--db", demo, "--top", "2")
    cut = json.loads(run(*words).stdout)
    assert cut["ranked"] == answer["ranked"][:2]
    assert cut["pending"] == answer["pending"]


def test_a_cap_moves_what_costs_more_into_the_excluded(demo: str, answer: dict[str, Any]) -> None:
    words = ("match", "--mains", MAINS, "--room", "Mill House", "--format", "json", "--db", demo, "--budget", "600")
    cheap = json.loads(run(*words).stdout)
    assert all(entry["price"] <= 600 for entry in cheap["ranked"])
    assert len(cheap["ranked"]) < len(answer["ranked"])


def test_a_few_that_are_ruled_out_are_named_and_no_draw_is_a_certainty(demo: str, answer: dict[str, Any]) -> None:
    told = " ".join(run("match", "--mains", MAINS, "--room", "Mill House", "--db", demo).stdout.split())
    assert "100%" not in told
    assert 0 < max(entry["confidence"] for entry in answer["ranked"]) <= 0.5
    out = " ".join(told.split("Ruled out everywhere")[1].split("Advice")[0].split())
    named = [one["speaker"] in out for one in answer["excluded"]]
    assert all(named) if len(named) <= 3 else not any(named)


def test_csv_gives_one_row_a_loudspeaker(demo: str, answer: dict[str, Any]) -> None:
    done = run("match", "--mains", MAINS, "--room", "Mill House", "--format", "csv", "--db", demo)
    lines = done.stdout.strip().splitlines()
    assert len(lines) == len(answer["ranked"]) + 1
    assert lines[0].startswith("rank,speaker,place,pose")


@pytest.mark.parametrize("columns", ["80", "160"])
def test_the_table_fits_the_terminal(demo: str, columns: str) -> None:
    done = CliRunner().invoke(
        app, ["match", "--room", "Mill House", "--db", demo], env={"COLUMNS": columns, "TERM": "dumb"}
    )
    assert done.exit_code == 0
    assert max(len(line) for line in done.stdout.splitlines()) <= int(columns)
    assert "One answer away" in done.stdout


@pytest.mark.parametrize("columns", ["30", "40", "58", "71"])
def test_a_narrow_terminal_loses_nothing(demo: str, answer: dict[str, Any], columns: str) -> None:
    def told(*words: str) -> str:
        done = CliRunner().invoke(app, [*words, "--db", demo], env={"COLUMNS": columns, "TERM": "dumb"})
        assert done.exit_code == 0
        assert max(len(line) for line in done.stdout.splitlines()) <= int(columns)
        return " ".join(done.stdout.split())

    first, wide = answer["ranked"][0], "Bramble Thatch Trivet Wide Centre"
    ranking = told("match", "--room", "Mill House")
    account = told("explain", wide, "--room", "Mill House", "--place", "top of the unit")
    beside = told("compare", first["speaker"], wide, "--room", "Mill House")
    if int(columns) < 60:
        assert f"1 {first['speaker']} place {first['place']}; score" in ranking
        assert f"{wide} {first['place']} verdict" in beside
    assert "woofers' null [Hz]" in account
    assert "asin(x / √(x² + y² + z²))" in account


def test_explain_gives_formulas_and_sources(demo: str) -> None:
    words = ("explain", "bramble thatch trivet wide centre", "--mains", MAINS, "--room", "Mill House", "--db", demo)
    done = run(*words)
    assert done.exit_code == 0
    for word in ("max(80 Hz, 1.3 × F3)", "source:", "woofers' null", "top of the unit", "media unit bay"):
        assert word in done.stdout
    told = json.loads(run(*words, "--format", "json").stdout)
    assert {entry["speaker"] for entry in told["ranked"]} == {"Bramble Thatch Trivet Wide Centre"}
    for entry in told["ranked"]:
        assert {one["quantity"] for one in entry["derivations"]} == QUANTITIES - {"seats"}
        assert all(one["formula"] and one["evidence"] and one["source"] for one in entry["derivations"])
    assert {entry["place"] for entry in told["ranked"]} == {
        "media unit bay",
        "top of the unit",
        "shelf over the picture",
    }


def test_what_a_surround_costs_is_in_the_account(demo: str) -> None:
    words = ("explain", "Bramble Thatch Trivet Wide Centre", "--mains", MAINS, "--room", "Mill House", "--db", demo)
    done = run(*words, "--surround-price", "5000 EUR", "--format", "json")
    (told, *_) = json.loads(done.stdout)["ranked"]
    (money,) = (one for one in told["criteria"] if one["criterion"] == "balance")
    assert money["inputs"]["surround_price"] == 5000
    assert money["why"] in " ".join(run(*words, "--surround-price", "5000").stdout.split())
    refused = run(*words, "--surround-price", "none")
    assert refused.exit_code == 1
    assert "--surround-price" in refused.output


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("match", "--mains", "Bramble Thatch Trivet Towr", "--room", "Mill House"), MAINS),
        (("match", "--mains", MAINS, "--room", "Mill Hose"), "Mill House"),
        (("match", "--mains", MAINS, "--room", "nowhere.toml"), "nowhere.toml"),
        (("match", "--mains", MAINS, "--room", "Mill House", "--budget", "much"), "--budget"),
        (("match", "--mains", MAINS, "--room", "Mill House", "--budget", "-5"), "--budget"),
        (("match", "--mains", MAINS, "--room", "Mill House", "--weights", "no such"), "no such"),
        (("explain", "Trivet Wide", "--mains", MAINS, "--room", "Mill House"), "Bramble Thatch Trivet Wide Centre"),
        (
            ("explain", "Bramble Thatch Trivet Wide Centre", "--room", "Mill House", "--place", "attic"),
            "top of the unit",
        ),
    ],
)
def test_what_cannot_be_is_told_in_one_line(demo: str, words: tuple[str, ...], told: str) -> None:
    done = run(*words, "--db", demo)
    assert done.exit_code == 1
    assert not done.stdout
    assert told in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_weights_from_a_file_change_the_scores(demo: str, tmp_path: Path, answer: dict[str, Any]) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("coverage = 1\nheadroom = 1\n")
    words = ("match", "--room", "Mill House", "--format", "json", "--db", demo, "--weights", str(path))
    told = json.loads(run(*words).stdout)
    weights = {one["criterion"]: one["weight"] for one in told["ranked"][0]["criteria"]}
    assert weights["coverage"] == weights["headroom"] == 0.5
    assert weights["timbre"] == 0.0
    assert told["ranked"][0]["score"] != answer["ranked"][0]["score"]
    path.write_text("loudness = 1\n")
    assert "loudness" in run(*words).stderr


def test_demo_never_overwrites(tmp_path: Path) -> None:
    path = tmp_path / "mine.db"
    path.write_text("mine")
    done = run("demo", "--keep", str(path))
    assert done.exit_code == 1
    assert path.read_text() == "mine"


HEAVY = ("sqlalchemy", "alembic", "pandas", "numpy", "scipy", "openpyxl", "rich", "jinja2", "pydantic")


def test_help_loads_nothing_heavy_and_is_quick() -> None:
    code = (
        "import sys, resource\n"
        "from triptych.recommender.cli import main\n"
        "sys.argv = ['triptych', '--help']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
        "used = resource.getrusage(resource.RUSAGE_SELF)\n"
        "print(used.ru_utime + used.ru_stime, file=sys.stderr)\n"
    )
    # the first of two may compile what nobody has run yet
    runs = [subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True) for _ in range(2)]
    found = [run.stderr.strip().splitlines() for run in runs]
    assert {heavy for heavy, _ in found} == {"[]"}
    assert min(float(seconds) for _, seconds in found) < 0.25


@pytest.mark.parametrize("name", list(COMMANDS))
def test_every_command_is_there_and_says_what_the_list_says_of_it(name: str) -> None:
    done = run(name, "--help")
    assert done.exit_code == 0
    words = COMMANDS[name].help.rstrip(".").split(":")[-1].replace(",", " ").split()
    assert words[0].casefold() in done.stdout.casefold()
