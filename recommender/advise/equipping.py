"""What the catalogue states of the loudspeakers and the equipment on lines, as the rules on what fits take it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from math import isnan, nan
from typing import Any, Final

from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.equipment_rows import equipment_by_key, equipment_meant
from triptych.catalog.equipment_record import CAUTION, EquipmentRecord
from triptych.catalog.names import name_key
from triptych.catalog.records import LoudspeakerRecord, Role
from triptych.catalog.words import EquipmentKind, SaleUnit
from triptych.recommender.money.budget.budget_lines import SPEAKERS_AND_SUB, Budget, BudgetLine
from triptych.recommender.money.budget.fitting import Asks, Gives
from triptych.recommender.scene.levels import MINIMUM_TO_NOMINAL

EQUIPPED: Final = ("electronics", "accessories")
"""The roles whose lines may name equipment of the catalogue."""

SERVED: Final[Mapping[str, Role]] = {
    "mains": Role.MAIN,
    "centre": Role.CENTRE,
    "surrounds": Role.SURROUND,
    "wides": Role.SURROUND,
    "heights": Role.HEIGHT,
    "sub": Role.SUB,
}
"""What the catalogue calls what a piece is for, by the role of a budget."""


def pieces_named(session: Session, lines: Iterable[Mapping[str, Any]]) -> dict[str, EquipmentRecord]:
    """The equipment that lines of TOML name as their item, by the key of its name."""
    meant = (row for row in lines if str(row.get("role", "")).strip().casefold() in (*EQUIPPED, "accessory"))
    return equipment_by_key(session, {name_key(str(row["item"])) for row in meant if row.get("item")})


def cautions(budget: Budget) -> tuple[str, ...]:
    """Say what can hurt, beside lines that bear loudspeakers or drive them."""
    return (CAUTION,) if {line.role for line in budget.lines} & {"electronics", "accessories"} else ()


def with_facts(session: Session, budget: Budget) -> Budget:
    """A budget whose lines know what the catalogue states of what they name."""
    named = [line.item for line in budget.lines if line.item]
    loudspeakers = reads.stored_by_key(session, {name_key(item) for item in named})
    rows = [{"role": line.role, "item": line.item} for line in budget.lines]
    pieces = pieces_named(session, rows)
    lines = tuple(_known(line, loudspeakers, pieces) for line in budget.lines)
    unknown = _mistyped(session, lines, {*loudspeakers, *pieces})
    return replace(budget, lines=lines, cautions=(*budget.cautions, *unknown, *_not_judged(lines)))


def _mistyped(session: Session, lines: Sequence[BudgetLine], known: Collection[str]) -> Iterator[str]:
    """What is named on a line that nothing in the catalogue is named, where something is named nearly so."""
    for at, line in enumerate(lines, start=1):
        if not line.item or name_key(line.item) in known or line.role not in (*SPEAKERS_AND_SUB, *EQUIPPED):
            continue
        near = (equipment_meant if line.role in EQUIPPED else reads.meant)(session, line.item)
        if near is not None:
            yield (
                f"line {at} ({line.role}): nothing in the catalogue is named {line.item!r}, so only its price is "
                f"judged; write {near!r} if that is meant"
            )


_JOINS: Final = ("speaker_cable", "sub_cable")
_BEARS: Final = ("stand", "mount")


def _not_judged(lines: Sequence[BudgetLine]) -> Iterator[str]:
    """What a stand or a cable on a line leaves out, so that no rule judges it."""
    for at, line in enumerate(lines, start=1):
        kind = line.gives.kind if line.gives is not None else ""
        if kind not in (*_JOINS, *_BEARS):
            continue
        does = "joins" if kind in _JOINS else "bears"
        if not line.serves:
            yield (
                f"line {at} ({line.role}) does not say what {line.item} {does}, so that it is not judged: "
                "write serves = 'mains', or another role"
            )
        elif kind in _JOINS and _without_run(lines, line.serves):
            yield (
                f"line {at} ({line.role}): whether {line.item} is long enough is not judged: "
                f"write run on the line of the {line.serves}, the length to one box"
            )


def _without_run(lines: Sequence[BudgetLine], role: str) -> bool:
    """Whether a role is on lines, none of which says how long its cable is."""
    runs = [one.run for one in lines if one.role == role]
    return bool(runs) and not any(runs)


def _known(
    line: BudgetLine, loudspeakers: Mapping[str, reads.Stored], pieces: Mapping[str, EquipmentRecord]
) -> BudgetLine:
    key = name_key(line.item) if line.item else ""
    if line.role in SPEAKERS_AND_SUB and key in loudspeakers:
        return replace(line, asks=asks_of(loudspeakers[key].record))
    if line.role in EQUIPPED and key in pieces:
        piece = pieces[key]
        return replace(line, gives=gives_of(piece), serves=line.serves or _only_role(piece))
    return line


def _only_role(piece: EquipmentRecord) -> str:
    """The role that a piece is for, where it is for one only."""
    if piece.kind is EquipmentKind.SUB_CABLE:
        return "sub"
    roles = [role for role, word in SERVED.items() if piece.serves and word in piece.serves]
    return roles[0] if len(roles) == 1 else ""


def load_of(nominal: float, minimum: float) -> float:
    """The highest load that an amplifier may be rated down to and still drive it [ohm]; NaN where neither is stated."""
    stated = [one for one in (nominal, minimum / MINIMUM_TO_NOMINAL) if not isnan(one)]
    return min(stated, default=nan)


def asks_of(record: LoudspeakerRecord) -> Asks:
    """What a loudspeaker asks of what drives and bears it."""
    nominal, minimum = _stated(record.impedance_nominal), _stated(record.impedance_minimum)
    return Asks(
        load=load_of(nominal, minimum),
        minimum=minimum,
        nominal=nominal,
        least_power=_stated(record.amplifier_min),
        weight=_stated(record.weight),
        width=_stated(record.width),
        depth=_stated(record.depth),
    )


def gives_of(record: EquipmentRecord) -> Gives:
    """What a piece of equipment gives."""
    return Gives(
        kind=record.kind.value,
        channels=_stated(record.channels),
        processed=_stated(record.processed_channels),
        outputs=_stated(record.preamplifier_outputs),
        sub_outputs=_stated(record.sub_outputs),
        inputs=_stated(record.inputs),
        power=_stated(record.power),
        power_into=_stated(record.power_into),
        lowest_load=_stated(record.lowest_load),
        bears=_stated(record.bears),
        width=_stated(record.box_width),
        depth=_stated(record.box_depth),
        length=_stated(record.length),
        area=_stated(record.conductor_area),
        by_metre=record.price_per is SaleUnit.METRE,
    )


def _stated(value: float | None) -> float:
    return nan if value is None else float(value)
