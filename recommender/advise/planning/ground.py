"""A catalogue and a room as candidates for every role: what each costs, what it is worth, what forbids it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.rows import name_key
from triptych.catalog.database.writes import Profile as StoredProfile
from triptych.catalog.errors import BadInput
from triptych.recommender.advise import gather
from triptych.recommender.advise.evaluate import Scene
from triptych.recommender.advise.gather import Columns, family_keys, floats
from triptych.recommender.advise.planning import worth
from triptych.recommender.advise.planning.offers import LeftOut, Offer, offer, sift
from triptych.recommender.advise.planning.pairing import Kin
from triptych.recommender.advise.planning.setting import Setting
from triptych.recommender.advise.planning.wanted import Wanted
from triptych.recommender.advise.planning.worth import Worth
from triptych.recommender.advise.pricing import named
from triptych.recommender.advise.voices import VoiceBook
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS
from triptych.recommender.judge.verdicts import GateVerdicts, Verdict
from triptych.recommender.money.planner.relax import Barred
from triptych.recommender.scene.arrays import Boxes, FloatArray, Purse
from triptych.recommender.scene.hearing import Voices

NO_ROOM_WEIGHTS: Final = {name: DEFAULT_WEIGHTS[name] for name in ("timbre", "coverage", "balance", "reach")}
"""The criteria of a centre that need no room, with their weights of the design."""


@dataclass(frozen=True, slots=True)
class Judged:
    """An offer with what each is worth, and what gates alone keep out of it."""

    offer: Offer
    worth: Worth
    barred: tuple[Barred, ...] = ()


@dataclass
class Ground:
    """Everything that a plan draws from the catalogue, each part found once and kept."""

    session: Session
    wanted: Wanted
    setting: Setting
    in_stock: bool
    left_out: list[LeftOut] = field(default_factory=list)
    not_judged: list[str] = field(default_factory=list)

    @cached_property
    def fixed_items(self) -> Mapping[str, reads.Stored]:
        """The loudspeakers of the catalogue that stand on lines as mains or centre, by role."""
        known = named(self.session, [{"item": line.item} for line in self.wanted.fixed.lines if line.item])
        return {
            line.role: known[name_key(line.item)]
            for line in reversed(self.wanted.fixed.lines)
            if line.item and line.role in ("mains", "centre") and name_key(line.item) in known
        }

    @cached_property
    def columns(self) -> Columns:
        """The catalogue, with what is on the lines."""
        return reads.candidate_columns(self.session, also=[item.id for item in self.fixed_items.values()])

    @cached_property
    def own(self) -> Boxes:
        """The boxes of the catalogue; their prices are not used."""
        return gather.boxes(self.columns, gather.Currencies.of(self.columns))

    @cached_property
    def sealed(self) -> FloatArray:
        """1 where a box is sealed."""
        return gather.sealed(self.columns)

    @cached_property
    def book(self) -> VoiceBook:
        """How all of them sound."""
        return VoiceBook(self.session, self.columns, np.zeros(len(self.columns["id"]), dtype=np.int8))

    @property
    def fresh(self) -> list[StoredProfile]:
        """Profiles that were computed just now and belong into the catalogue."""
        return self.book.fresh

    @cached_property
    def kin(self) -> Kin:
        """Maker, family, model and tweeter of all of them as codes."""
        families = np.array(family_keys(self.columns))
        maker = np.unique(np.array(self.columns["maker"]), return_inverse=True)[1]
        family = np.where(families == "", -1, np.unique(families, return_inverse=True)[1])
        return Kin(maker, family, np.array(self.columns["id"], dtype=np.int64), gather.loading(self.columns))

    def unlimited(self) -> Ground:
        """The same as if all could be ordered; what was found out about the catalogue is shared."""
        other = replace(self, in_stock=False, left_out=[], not_judged=[])
        for name in ("fixed_items", "columns", "own", "sealed", "book", "kin"):
            setattr(other, name, getattr(self, name))
        return other

    def offered(self, role: str, pieces: int) -> Offer:
        """What the catalogue offers for a role, or the one that stands on a line."""
        item = self.fixed_items.get(role)
        if item is None:
            return offer(self.columns, role, pieces, self.wanted.basis, self.in_stock, self.left_out)
        line = next(line for line in self.wanted.fixed.lines if line.role == role and line.item)
        row = np.array([self.columns["id"].index(item.id)], dtype=np.intp)
        one = np.nan if line.one is None else float(line.one)
        return Offer(role, row, line.pieces, np.zeros(1, dtype=np.int64), np.array([one]), fixed=True)

    def judged(self, role: str, pieces: int, with_sub: bool) -> Judged:
        """An offer for any role but the centre, with its worth; what cannot be judged or is forbidden is left out."""
        offered = self.offered(role, pieces)
        known = ~np.isnan(self.own.low_limit[offered.rows]) | offered.fixed
        offered = offered.take(sift(self.columns, offered, known, "how low it goes is not stated", self.left_out))
        if role == "sub":
            return Judged(*self._sub(offered))
        if len(offered):
            offered, voices = self.heard(offered)
        if not len(offered):
            return Judged(offered, Worth(np.zeros(0), (), ()))
        found = worth.of_loudspeaker(
            role, self.own.take(offered.rows), self.sealed[offered.rows], voices, self.setting, with_sub
        )
        return self._through_gates(offered, found)

    def heard(self, offered: Offer) -> tuple[Offer, Voices]:
        """Those of an offer that can be modelled, and how they sound."""
        voices = self.book.of(offered.rows)
        keep = sift(
            self.columns, offered, voices.usable | voices.measured.whole, "its drivers are not described", self.left_out
        )
        return (offered, voices) if keep.all() else self._usable(offered.take(keep))

    def _usable(self, offered: Offer) -> tuple[Offer, Voices]:
        return offered, self.book.of(offered.rows)

    def _sub(self, offered: Offer) -> tuple[Offer, Worth]:
        size, count = (floats(self.columns[f"woofer_{what}"]) for what in ("size", "count"))
        if np.isfinite(self.setting.drive.target_peak):
            keep = ~np.isnan(size[offered.rows])
            offered = offered.take(
                sift(self.columns, offered, keep, "the size of its cone is not stated", self.left_out)
            )
        rows = offered.rows
        parts = (self.own.take(rows), self.sealed[rows], size[rows], count[rows])
        return offered, worth.of_sub(*parts, self.setting, offered.pieces)

    def _through_gates(self, offered: Offer, found: Worth) -> Judged:
        if not found.gates or offered.fixed:
            return Judged(offered, found)
        verdict = np.max(np.vstack([gate.verdict for gate in found.gates]), axis=0)
        for gate in found.gates:
            self._tell_gate(offered, gate)
        keep = np.flatnonzero(verdict <= Verdict.CONDITIONAL)
        barred = tuple(self._barred(offered, found.gates))
        criteria = tuple(
            replace(
                one,
                value=one.value[keep],
                low=one.low[keep],
                high=one.high[keep],
                stated=one.stated[keep],
                numbers={name: values[keep] for name, values in one.numbers.items()},
                measured=None,
                remark=None,
            )
            for one in found.criteria
        )
        return Judged(offered.take(keep), Worth(found.own[keep], criteria, found.gates), barred)

    def _tell_gate(self, offered: Offer, gate: GateVerdicts) -> None:
        failing = gate.verdict == Verdict.FAIL
        sift(self.columns, offered, ~failing, f"fails the {gate.gate} gate", self.left_out)
        open_questions: dict[str, list[str]] = {}
        for at in np.flatnonzero(gate.verdict == Verdict.UNKNOWN):
            name = str(self.columns["name"][offered.rows[at]])
            open_questions.setdefault(gate.question(int(at)), []).append(name)
        self.left_out += [
            LeftOut(offered.role, f"the {gate.gate} gate waits for an answer: {question}", tuple(names))
            for question, names in open_questions.items()
        ]

    @staticmethod
    def _barred(offered: Offer, gates: tuple[GateVerdicts, ...]) -> list[Barred]:
        verdicts = np.vstack([gate.verdict for gate in gates])
        alone = (verdicts > Verdict.CONDITIONAL).sum(axis=0) == 1
        found = []
        for gate in gates:
            short = -gate.margin
            at = np.flatnonzero(alone & (gate.verdict == Verdict.FAIL) & np.isfinite(short) & (short > 0))
            if len(at):
                found.append(Barred(f"{gate.gate} [{gate.unit}]", offered.role, offered.cost[at], short[at]))
        return found

    def scene(self, offered: Offer, mains_row: int) -> Scene:
        """The room's question about some centres, with mains of which nothing is known."""
        room = self.setting.room
        if room is None or self.setting.seats is None:
            raise BadInput("a scene needs a room")
        if not room.places:
            raise BadInput(f"{room.name} has no place for a centre: add at least one [[place]]")
        anyone = gather.mains(self.columns, mains_row, self.own, room)
        unknown = replace(anyone, sensitivity=np.nan, sensitivity_range=(np.nan, np.nan), price=np.nan)
        return Scene(
            boxes=self.own.take(offered.rows),
            relation=np.zeros(len(offered), dtype=np.int8),
            voices_of=lambda places: self.book.of(offered.rows[places]),
            sealed=self.sealed[offered.rows],
            mains=unknown,
            mains_voice=self.book.of(np.array([mains_row], dtype=np.intp)),
            main_price=np.nan,
            main_currency=-1,
            seats=self.setting.seats,
            places=self.setting.places,
            picture=self.setting.picture,
            drive=self.setting.drive,
            purse=Purse(np.nan, -1, self.wanted.fixed.tax_included, np.nan),
            in_stock=self.in_stock and not offered.fixed,
            weights=DEFAULT_WEIGHTS,
        )
