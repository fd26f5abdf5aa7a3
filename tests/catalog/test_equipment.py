"""Equipment in and out of files and tables, and what is refused of it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from triptych.catalog.cell_readings import CellReader
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.equipment_rows import (
    edit_equipment,
    equipment,
    equipment_by_key,
    equipment_named,
    remove_equipment,
    save_equipment,
)
from triptych.catalog.equipment_record import (
    EQUIPMENT,
    EquipmentRecord,
    equipment_faults,
    equipment_of,
    equipment_texts,
)
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.files.equipment_files import read_equipment, write_equipment
from triptych.catalog.words import EquipmentKind, Role, SaleUnit

SEED = Path(__file__).parents[2] / "seed_data" / "equipment.csv"
RECEIVER = EquipmentRecord(
    "Tallow", "Seven", EquipmentKind.RECEIVER, channels=7, processed_channels=9, power=100.0, power_into=8.0,
    lowest_load=4.0, price=Decimal("900.50"), currency="EUR",
)  # fmt: skip


def written(folder: Path, text: str, name: str = "racks.csv") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def complaints(file: Path, **options: Any) -> str:
    return "\n".join(map(str, read_equipment(file, **options).problems))


@st.composite
def records(draw: st.DrawFn) -> EquipmentRecord:
    """Any piece that the rules allow."""
    kind = draw(st.sampled_from(EquipmentKind))
    values: dict[str, Any] = {
        "maker": "Tallow",
        "model": draw(st.sampled_from(["Seven", "é 4", "A;B", "=1+1"])),
        "kind": kind,
    }
    blank = EquipmentRecord("Tallow", "x", kind)
    for name, column in EQUIPMENT.items():
        if name in values or not blank.has(name) or not draw(st.booleans()):
            continue
        if column.quantity is not None:
            low, high = column.quantity.low, column.quantity.high
            whole = column.type is int
            values[name] = draw(st.integers(int(low), int(high)) if whole else st.floats(max(low, 1e-3), high))
        elif name == "serves":
            values[name] = frozenset(draw(st.sets(st.sampled_from(Role), min_size=1)))
        elif name == "price":
            values |= {"price": Decimal(draw(st.integers(1, 10**8))).scaleb(-2), "currency": "EUR"}
        elif column.choices:
            values[name] = draw(st.sampled_from(list(column.type)))
        elif name == "note":
            values[name] = "turns, and tilts"
    if values.get("power") is None or values.get("power_into") is None:
        values |= {"power": None, "power_into": None}
    for name, _ in equipment_faults({one: values.get(one) for one in EQUIPMENT}):
        values.pop(name, None)
    return EquipmentRecord(**values)


@given(records())
def test_every_piece_reads_back_from_its_texts(record: EquipmentRecord) -> None:
    assert equipment_of(equipment_texts(record), CellReader(columns=EQUIPMENT)) == (record, [])


@pytest.mark.parametrize("name", ["racks.csv", "racks.xlsx", "racks.toml"])
def test_every_kind_of_file_reads_back_to_the_identical_pieces(tmp_path: Path, name: str) -> None:
    seed = read_equipment(SEED).records
    assert {one.kind for one in seed} == set(EquipmentKind)
    write_equipment(tmp_path / name, seed)
    found = read_equipment(tmp_path / name)
    assert (found.records, found.problems) == (seed, ())


def test_pieces_are_stored_changed_renamed_and_removed(engine: sa.Engine) -> None:
    seed = read_equipment(SEED).records
    with writing(engine) as session:
        kept = save_equipment(session, (*seed, RECEIVER))
        again = save_equipment(session, seed)
    assert (kept.added, again.added, again.unchanged) == (len(seed) + 1, 0, len(seed))
    with reading(engine) as session:
        assert set(equipment(session)) == {*seed, RECEIVER}
        assert equipment_named(session, "TALLOW seven") == RECEIVER
        assert {one.kind for one in equipment(session, EquipmentKind.STAND)} == {EquipmentKind.STAND}
        with pytest.raises(NotFound, match="the nearest: 'Tallow Seven'"):
            equipment_named(session, "Tallow Sevne")
    other = replace(RECEIVER, model="Eight", note="new")
    with writing(engine) as session:
        edit_equipment(session, "tallow seven", other)
        assert equipment_by_key(session, [RECEIVER.key]) == {}
        with pytest.raises(BadInput, match="in the catalogue already"):
            edit_equipment(session, "tallow eight", replace(other, maker=seed[0].maker, model=seed[0].model))
        assert remove_equipment(session, "tallow eight") == other


def test_two_of_one_name_are_refused_whole(engine: sa.Engine) -> None:
    with pytest.raises(BadInput, match="stands twice"), writing(engine) as session:
        save_equipment(session, [RECEIVER, replace(RECEIVER, maker="TALLOW")])
    with reading(engine) as session:
        assert equipment(session) == []


WRONG = {
    "channels,12,stand": "stands beside the kind 'stand', which has none",
    "power,100,receiver": "power_into is empty beside power",
    "price,900,receiver": "currency is empty beside a price",
    "channels,0,receiver": "outside the plausible range",
    "channels,2.5,receiver": "no whole number",
    "kind2,x,receiver": "is no column",
    "length,5,speaker_cable": "if it is 5 m, write that",
    "bears,9 m,mount": "no unit of this quantity",
    "conductor_area,900,speaker_cable": "outside the plausible range 0.2 to 25 mm2",
    "price_per,metre,stand": "only cables are sold by the metre",
    "serves,mains,receiver": "stands beside the kind 'receiver'",
    "tax_rate,99,receiver": "outside the plausible range",
    "price,1e400,receiver": "",
}


@pytest.mark.parametrize("case", WRONG)
def test_what_cannot_be_is_told_with_its_place(tmp_path: Path, case: str) -> None:
    column, text, kind = case.split(",")
    told = complaints(written(tmp_path, f"maker,model,kind,{column}\nTallow,Seven,{kind},{text}\n"))
    assert told.startswith("racks.csv, line ")
    assert WRONG[case].partition(" is empty")[0] in told


def test_a_cross_section_may_carry_its_unit(tmp_path: Path) -> None:
    file = written(tmp_path, "maker,model,kind,conductor_area\nW,A,speaker_cable,2.5 mm²\nW,B,speaker_cable,4 mm2\n")
    assert [one.conductor_area for one in read_equipment(file).records] == [2.5, 4.0]


def test_a_file_changes_what_it_has_columns_for_alone(tmp_path: Path, engine: sa.Engine) -> None:
    with writing(engine) as session:
        save_equipment(session, [RECEIVER])

        def known(keys: Any) -> Any:
            return equipment_by_key(session, keys)

        file = written(tmp_path, "maker,model,channels\ntallow,seven,9\n")
        (record,) = read_equipment(file, known=known).records
        assert record == replace(RECEIVER, maker="tallow", model="seven", channels=9)
        file = written(tmp_path, "maker,model,channels,power\nTallow,Seven,,100\n")
        assert "would clear '7' of 'Tallow Seven'" in complaints(file, known=known)
        assert read_equipment(file, known=known, clear=True).records[0].channels is None
        file = written(tmp_path, '[[equipment]]\nmaker = "Tallow"\nmodel = "Seven"\nchannels = 8\n', "racks.toml")
        assert read_equipment(file, known=known).records == (replace(RECEIVER, channels=8),)


BAD_FILES = {
    "maker,model\nTallow,New\n": "the column kind is not there",
    "maker,kind\nTallow,stand\n": "the column model is not there",
    "maker,model,kind\nT,S,stand\nt,s,stand\n": "stands on line 3 too",
    "maker,model,kind\nT,S,stand,9\n": "4 cells under 3 headers",
}


@pytest.mark.parametrize("text", BAD_FILES)
def test_a_file_that_is_no_table_of_equipment_is_told(tmp_path: Path, text: str) -> None:
    assert BAD_FILES[text] in complaints(written(tmp_path, text))


@pytest.mark.parametrize("text", ["x = 1\n", "[[equipment]]\nmaker = {a = 1}\n", "equipment = []\n", ""])
def test_a_toml_file_of_something_else_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadInput, match=r"racks.toml: .*write "):
        read_equipment(written(tmp_path, text, "racks.toml"))


def test_the_words_of_sales_are_read(tmp_path: Path) -> None:
    file = written(tmp_path, "maker,model,kind,price,price_per\nW,A,loudspeaker cable,€3.20,m\n")
    (record,) = read_equipment(file).records
    assert (record.kind, record.price_per, record.currency) == (EquipmentKind.SPEAKER_CABLE, SaleUnit.METRE, "EUR")
