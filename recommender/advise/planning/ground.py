"""A catalogue and a room as candidates for every role: what each costs, what it is worth, what forbids it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from time import monotonic
from typing import Final, Self

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database.equipment_rows import equipment
from triptych.catalog.database.rows import name_key
from triptych.catalog.records import Role, RoomRecord
from triptych.recommender.advise.catalogue import Loudspeakers, loudspeakers_of
from triptych.recommender.advise.equipping import with_facts
from triptych.recommender.advise.planning import worth
from triptych.recommender.advise.planning.offers import OFFERED_AS, LeftOut, RoleOffer, offer, offered_as, sifted
from triptych.recommender.advise.planning.outfit import Article, articles_of
from triptych.recommender.advise.planning.read_in_time import NO_HURRY, Clock, InTime
from triptych.recommender.advise.planning.wanted import Wanted
from triptych.recommender.advise.planning.worth import RoleWorth, Unheard
from triptych.recommender.advise.pricing import named
from triptych.recommender.advise.setting import Setting
from triptych.recommender.advise.voices import VoiceBook
from triptych.recommender.judge.verdicts import GateVerdicts, Verdict, worst
from triptych.recommender.money.budget.budget_lines import BudgetLine
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.planner.relax import Bar, Barred
from triptych.recommender.scene.arrays import BoolArray, Drive, IndexArray

UNKNOWN_DRIVE: Final = Drive(np.nan, np.nan, np.nan, np.nan, np.nan, 0.0)


@dataclass(frozen=True, slots=True)
class Judged:
    """An offer with what each is worth, what single gates keep out of it, and all that was left out.

    `unheard` is the most that one is worth that there was no time to hear; 0 where all were.
    """

    offer: RoleOffer
    worth: RoleWorth
    barred: tuple[Barred, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    unheard: float = 0.0


NO_TIME: Final = "there was no time to judge it: more of it with --time-limit"


@dataclass(frozen=True, slots=True)
class Ground:
    """What a plan draws from the catalogue; `fixed` are the numbers of the mains and centre that stand on lines."""

    session: Session
    wanted: Wanted
    setting: Setting | None
    in_stock: bool
    fixed: Mapping[str, int]
    catalogue: Loudspeakers
    book: VoiceBook
    articles: tuple[Article, ...] = ()
    unsold: tuple[LeftOut, ...] = ()
    clock: Clock = NO_HURRY
    stock_first: bool = False
    unread: frozenset[str] = frozenset()
    unread_words: str = ""

    @classmethod
    def of(
        cls, session: Session, wanted: Wanted, room: RoomRecord | None, in_stock: bool, clock: Clock = NO_HURRY
    ) -> Self:
        """The ground of a question, in a room or in none."""
        wanted = replace(wanted, fixed=with_facts(session, wanted.fixed))
        fixed = _fixed(session, wanted)
        chosen = [role for role in wanted.roles if role not in fixed and role in OFFERED_AS]
        roles = {Role(offered) for role in chosen for offered in offered_as(role)}
        found = InTime.of_roles(session, roles, list(fixed.values()), clock, in_stock)
        unread = frozenset(role for role in chosen if any(Role(one) in found.unread for one in offered_as(role)))
        catalogue = loudspeakers_of(found.columns)
        setting, book = Setting.of(room) if room else None, VoiceBook(session, catalogue)
        articles, unsold = articles_of(equipment(session), wanted.basis)
        clock = replace(clock, read=monotonic())
        return cls(session, wanted, setting, in_stock, fixed, catalogue, book, articles, unsold, clock,
                   unread=unread, unread_words=found.words)  # fmt: skip

    @property
    def drive(self) -> Drive:
        """The amplifier and the target; nothing is known of them where no room is given."""
        return self.setting.drive if self.setting else UNKNOWN_DRIVE

    def unlimited(self) -> Self:
        """The same as if all could be ordered; where time is short, what is in stock is judged first."""
        return replace(self, in_stock=False, stock_first=self.in_stock)

    def offered(self, role: str, pieces: int) -> tuple[RoleOffer, tuple[LeftOut, ...]]:
        """What the catalogue offers for a role, or the one that stands on a line; and what is left out."""
        if role not in self.fixed:
            return offer(self.catalogue, role, pieces, self.wanted.basis, self.in_stock)
        _, line = self._line(role)
        row = np.array([self.catalogue.row(self.fixed[role])], dtype=np.intp)
        one = np.nan if line.one is None else float(line.one)
        return RoleOffer(role, row, line.pieces, np.zeros(1, dtype=np.int64), np.array([one]), fixed=True), ()

    def _line(self, role: str) -> tuple[int, BudgetLine]:
        """The line on which the mains or the centre stand, and its number."""
        numbered = enumerate(self.wanted.fixed.lines, start=1)
        return next((at, line) for at, line in numbered if line.role == role and line.item)

    def judged(self, role: str, pieces: int, with_sub: bool) -> Judged:
        """An offer for any role but the centre, with its worth; what cannot be judged or is forbidden is left out."""
        offered, left_out = self.offered(role, pieces)
        known = ~np.isnan(self.catalogue.boxes.low_limit[offered.rows]) | offered.fixed
        left_out += sifted(self.catalogue, offered, known, "how low it goes is not stated")
        offered = offered.take(known)
        if role == "sub":
            return self._sub(offered, left_out)
        offered, undescribed = self.described(offered)
        return self._through_gates(offered, left_out + undescribed, with_sub)

    def described(self, offered: RoleOffer) -> tuple[RoleOffer, tuple[LeftOut, ...]]:
        """Those of an offer that can be heard, and those that cannot.

        Raises
        ------
        BadBudget
            One that stands on a line cannot.
        """
        keep = self.book.audible(offered.rows)
        if offered.fixed and not keep.all():
            at, line = self._line(offered.role)
            raise BadBudget(
                f"line {at} ({line.role}): the drivers of {line.item} are not described, so nothing can be judged "
                "beside it; add what its datasheet says of them, or leave its item out"
            )
        return offered.take(keep), sifted(self.catalogue, offered, keep, "its drivers are not described")

    def in_time(self, offered: RoleOffer, rows: IndexArray) -> tuple[BoolArray, tuple[LeftOut, ...]]:
        """Which of those at some places of an offer can be heard in the time there is, and those that cannot."""
        there = offered.take(rows)
        first = self.catalogue.in_stock[there.rows] if self.stock_first else None
        ready = self.book.ready(there.rows, self.judged_by(offered.role), first) | there.fixed
        return ready, sifted(self.catalogue, there, ready, NO_TIME)

    def judged_by(self, role: str) -> float:
        """When a role is to be done."""
        roles = ["mains", "centre", *(one for one in self.wanted.roles if one not in ("mains", "centre"))]
        return self.clock.judged_by(roles.index(role) + 1, len(roles))

    def _sub(self, offered: RoleOffer, left_out: tuple[LeftOut, ...]) -> Judged:
        size, count = self.catalogue.drivers.woofer_size, self.catalogue.drivers.woofer_count
        if np.isfinite(self.drive.target_peak):
            keep = ~np.isnan(size[offered.rows])
            left_out += sifted(self.catalogue, offered, keep, "the size of its cone is not stated")
            offered = offered.take(keep)
        rows = offered.rows
        parts = (self.catalogue.boxes.take(rows), self.catalogue.sealed[rows], size[rows], count[rows])
        return Judged(offered, worth.of_sub(*parts, self.setting, self.drive, offered.pieces), (), left_out)

    def _through_gates(self, offered: RoleOffer, left_out: tuple[LeftOut, ...], with_sub: bool) -> Judged:
        """Those that the gates leave, which alone are heard; all where they stand on a line."""
        if not len(offered):
            return Judged(offered, RoleWorth(np.zeros(0), (), ()), (), left_out)
        boxes, sealed = self.catalogue.boxes.take(offered.rows), self.catalogue.sealed[offered.rows]
        unheard = Unheard.of(offered.role, boxes, sealed, self.setting, self.drive)
        keep, barred = np.arange(len(offered)), tuple[Barred, ...]()
        if unheard.gates and not offered.fixed:
            keep = np.flatnonzero(worst(unheard.gates) <= Verdict.CONDITIONAL)
            left_out += tuple(one for gate in unheard.gates for one in self._stopped(offered, gate))
            barred = tuple(_barred(offered, unheard.gates, self.catalogue.names))
        ready, _ = self.in_time(offered, keep)
        heard, found = unheard.heard_by(
            keep[ready], lambda some: self.book.of(offered.rows[some]), with_sub, self.judged_by(offered.role)
        )
        silent = np.setdiff1d(keep, heard)
        left_out += sifted(self.catalogue, offered.take(keep), np.isin(keep, heard), NO_TIME)
        most = float(unheard.most(silent, with_sub).max(initial=0.0))
        return Judged(offered.take(heard), found, barred, left_out, most)

    def _stopped(self, offered: RoleOffer, gate: GateVerdicts) -> tuple[LeftOut, ...]:
        """What one gate forbids, and what it can't answer for."""
        failing = sifted(self.catalogue, offered, gate.verdict != Verdict.FAIL, f"fails the {gate.gate} gate")
        open_questions: dict[str, list[str]] = {}
        for at in np.flatnonzero(gate.verdict == Verdict.UNKNOWN).tolist():
            open_questions.setdefault(gate.question(at), []).append(self.catalogue.names[offered.rows[at]])
        return failing + tuple(
            LeftOut(offered.role, f"the {gate.gate} gate waits for an answer: {question}", tuple(names))
            for question, names in open_questions.items()
        )


def _fixed(session: Session, wanted: Wanted) -> dict[str, int]:
    """The numbers of the loudspeakers of the catalogue that stand on lines as mains or centre, by role."""
    lines = wanted.fixed.lines
    known = named(session, [{"item": line.item} for line in lines if line.item])
    return {
        line.role: known[name_key(line.item)].id
        for line in reversed(lines)
        if line.item and line.role in ("mains", "centre") and name_key(line.item) in known
    }


def _barred(offered: RoleOffer, gates: tuple[GateVerdicts, ...], names: Sequence[str]) -> list[Barred]:
    """Those that one gate alone keeps out of a role, and by how little."""
    verdicts = np.vstack([gate.verdict for gate in gates])
    alone = (verdicts > Verdict.CONDITIONAL).sum(axis=0) == 1
    found = []
    for gate in gates:
        short = -gate.margin
        at = np.flatnonzero(alone & (gate.verdict == Verdict.FAIL) & np.isfinite(short) & (short > 0))
        if len(at):
            called = [names[row] for row in offered.rows[at]]
            found.append(Barred(Bar(gate.gate, gate.unit), offered.role, offered.cost[at], short[at], names=called))
    return found
