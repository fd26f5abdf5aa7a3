"""A catalogue opened, and what it can be asked: what the commands call, and what other programs may.

Answers are frozen and detached from the database. `triptych` itself gives these names: `triptych.open_catalogue(...)`.
"""

from __future__ import annotations

import logging
import shlex
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from time import monotonic, perf_counter
from types import TracebackType
from typing import TYPE_CHECKING, Final, Self, TypeVar

from triptych.catalog.errors import BadInput
from triptych.catalog.inputs import is_file, read_toml
from triptych.recommender.givens import refusals, room_of, rules_of_file, weights_of

if TYPE_CHECKING:
    from sqlalchemy import Engine
    from sqlalchemy.orm import Session

    from triptych.catalog.records import RoomRecord
    from triptych.recommender.advise.advice import Advice
    from triptych.recommender.advise.compare import Comparison
    from triptych.recommender.advise.match import Question
    from triptych.recommender.advise.planning.plan_answer import PlanAnswer
    from triptych.recommender.advise.voices import Fresh
    from triptych.recommender.money.budget.check import Check
    from triptych.recommender.money.budget.mend import Mend
    from triptych.recommender.money.budget.rules import RuleSet

log = logging.getLogger("triptych")

Answer = TypeVar("Answer")

DEFAULT_RULES: Final = "film-first"
"""The name of the rule set that holds where none is named; a test holds it to `budget.rules.DEFAULT`."""


def _silent(words: str) -> None:
    """Tell nobody."""


def open_catalogue(url_or_path: str | Path | None = None, *, quiet: bool = False) -> Catalogue:
    """Open a catalogue: a SQLite file or a database URL, else TRIPTYCH_DB, else a file in the user's data folder.

    A missing one is created, and that is said through `logging` unless `quiet`; an older one is upgraded after a copy
    was laid beside it.

    Raises
    ------
    DatabaseProblem
        It cannot be opened, or holds something else.
    """
    from triptych.catalog.database import engine

    return Catalogue(engine.open_catalogue(None if url_or_path is None else str(url_or_path), quiet=quiet))


class Catalogue:
    """An open catalogue; as a context manager it lets go of the database at the end."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, where: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def import_demo(self) -> None:
        """Put the invented loudspeakers and rooms of the seed data into the catalogue."""
        from importlib.resources import as_file, files

        from triptych.catalog.database.engine import writing
        from triptych.catalog.database.equipment_rows import save_equipment
        from triptych.catalog.database.writes import save_loudspeakers, save_room
        from triptych.catalog.files.equipment_files import read_equipment
        from triptych.catalog.files.loudspeakers import read_loudspeakers
        from triptych.catalog.files.rooms import read_room

        with as_file(files("triptych.seed_data")) as folder, writing(self.engine) as session:
            save_loudspeakers(session, read_loudspeakers(folder / "loudspeakers.csv").records)
            save_equipment(session, read_equipment(folder / "equipment.csv").records)
            for room in sorted(folder.glob("*.toml")):
                save_room(session, read_room(room))

    def match(
        self,
        room: str | Path | RoomRecord,
        mains: str = "",
        *,
        cap: float | None = None,
        currency: str | None = None,
        in_stock: bool = False,
        weights: str | Mapping[str, float] = "",
        surround_price: float | None = None,
        surround_currency: str | None = None,
        first: int | None = None,
    ) -> Advice:
        """Rank the centres of the catalogue for two mains and a room.

        Parameters
        ----------
        room : str, Path or RoomRecord
            A room of the catalogue by name, a room file, or a room.
        mains : str
            Maker, series and model; else the mains that the room names.
        cap : float or None
            The most a centre may cost; else the room's. [`currency`, else the room's]
        in_stock : bool
            Whether only what can be promised from stock now is ranked.
        weights : str or mapping
            What each criterion counts: a profile by name, a TOML file, or the weights themselves.
        surround_price : float or None
            What one surround costs: a centre within that is within its share. [`surround_currency`, else the mains']
        first : int or None
            How many of the ranking are wanted: of a large catalogue the others are worked out when somebody looks.

        Raises
        ------
        NotFound
            There is no such room, mains or weights; the nearest names are told.
        BadInput
            No mains are named anywhere, or a file or a weight cannot be taken.
        """
        from triptych.recommender.advise import match as matching

        question = self.question(
            room, mains, cap=cap, currency=currency, in_stock=in_stock, weights=weights,
            surround_price=surround_price, surround_currency=surround_currency,
        )  # fmt: skip
        return self.answer(lambda session: matching.match(session, replace(question, first=first)))

    def explain(
        self,
        centre: str,
        room: str | Path | RoomRecord,
        mains: str = "",
        *,
        place: str | None = None,
        cap: float | None = None,
        currency: str | None = None,
        in_stock: bool = False,
        weights: str | Mapping[str, float] = "",
        surround_price: float | None = None,
        surround_currency: str | None = None,
    ) -> Advice:
        """Account for one centre at every place, or at one, whether it passes there or not; else as `match`."""
        from triptych.recommender.advise import match as matching

        question = self.question(
            room, mains, cap=cap, currency=currency, in_stock=in_stock, weights=weights,
            surround_price=surround_price, surround_currency=surround_currency,
        )  # fmt: skip
        return self.answer(lambda session: matching.explain(session, question, centre, place))

    def compare(
        self,
        centres: Sequence[str],
        room: str | Path | RoomRecord,
        mains: str = "",
        *,
        place: str | None = None,
        cap: float | None = None,
        currency: str | None = None,
        in_stock: bool = False,
        weights: str | Mapping[str, float] = "",
        surround_price: float | None = None,
        surround_currency: str | None = None,
    ) -> Comparison:
        """Set two or three centres side by side, each where it does best or all at one place; else as `match`."""
        from triptych.recommender.advise import compare as comparing

        question = self.question(
            room, mains, cap=cap, currency=currency, in_stock=in_stock, weights=weights,
            surround_price=surround_price, surround_currency=surround_currency,
        )  # fmt: skip
        return self.answer(lambda session: comparing.compare(session, question, list(centres), place))

    def check_budget(self, file: str | Path, rules: str = DEFAULT_RULES) -> tuple[Check, Mend]:
        """Judge a budget file by a rule set, and find the change that mends it.

        A line that names a loudspeaker of the catalogue and no price takes the catalogue's.

        Raises
        ------
        BadInput
            The file cannot be read, or a line or a rule cannot be taken.
        """
        rule_set = self.rule_set(rules)
        with refusals(Path(file)):
            return judged_budget(self, read_toml(Path(file)), rule_set)

    def plan(
        self,
        file: str | Path,
        room: str | Path | RoomRecord = "",
        *,
        rules: str = DEFAULT_RULES,
        in_stock: bool = False,
        time_limit: float = 60.0,
        say: Callable[[str], None] = _silent,
        began: float | None = None,
    ) -> PlanAnswer:
        """Choose the best whole system for a plan file, in a room or in the one that the file names.

        Parameters
        ----------
        time_limit : float
            For all of it. [s]
        say : callable
            Told what is being done.
        began : float, optional
            When the time began, by the monotonic clock; now if not given. [s]

        Raises
        ------
        BadInput
            The file cannot be read, or a line, a rule or a wish cannot be taken.
        """
        rule_set = self.rule_set(rules)
        with refusals(Path(file)):
            table = read_toml(Path(file))
            named = room or table.get("room", "")
            found = _beside(Path(file), named) if named else None
            return chosen_system(self, table, found, rule_set, in_stock=in_stock, time_limit=time_limit, say=say,
                                 began=monotonic() if began is None else began)  # fmt: skip

    def rule_set(self, name: str) -> RuleSet:
        """A rule set of the catalogue by name, or from a TOML file.

        Raises
        ------
        NotFound
            There is none of that name; those that there are are told.
        BadInput
            The file cannot be read, or its rules cannot be taken or contradict each other.
        """
        from triptych.catalog.database.engine import reading
        from triptych.recommender.advise import rulebook
        from triptych.recommender.money.budget.contradictions import refuse_contradictions

        path = Path(name)
        with refusals():
            if path.suffix == ".toml":
                found = rules_of_file(path)
            else:
                self.keep_supplied_rules()
                with reading(self.engine) as session:
                    found = rulebook.stored(session, name)
            if not rulebook.built_in(found.name) or path.suffix == ".toml":
                refuse_contradictions(found)
        return found

    def keep_supplied_rules(self) -> None:
        """Write the rule sets that come with the tool into the catalogue, once, where the user may write."""
        from sqlalchemy.exc import DBAPIError

        from triptych.catalog.database.engine import reading, writing
        from triptych.catalog.errors import DatabaseProblem
        from triptych.recommender.advise import rulebook

        with reading(self.engine) as session:
            if rulebook.complete(session):
                return
        try:
            with writing(self.engine) as session:
                rulebook.seed(session)
        except (DBAPIError, DatabaseProblem) as problem:
            log.info("the rule sets that come with the tool were not written down: %s", problem)

    def room(self, room: str | Path | RoomRecord) -> RoomRecord:
        """A room of the catalogue by name, or from a file."""
        from triptych.catalog.database.engine import reading

        with reading(self.engine) as session:
            return room_of(session, room)

    def question(
        self,
        room: str | Path | RoomRecord,
        mains: str = "",
        *,
        cap: float | None = None,
        currency: str | None = None,
        in_stock: bool = False,
        weights: str | Mapping[str, float] = "",
        surround_price: float | None = None,
        surround_currency: str | None = None,
    ) -> Question:
        """What `match`, `explain` and `compare` ask, with the room and the weights looked up."""
        from triptych.catalog.database.engine import reading
        from triptych.catalog.money import refuse_beyond
        from triptych.recommender.advise.match import Question

        with reading(self.engine) as session:
            surveyed = room_of(session, room)
            chosen = weights_of(session, weights) if weights else None
        named = mains or surveyed.mains.speaker
        if not named:
            raise BadInput(
                f"{surveyed.name} names no mains: give them with --mains, or as speaker under [mains] in its file, or,"
                f" if it is stored, by triptych room edit {shlex.quote(surveyed.name)} --set mains.speaker=..."
            )
        if surround_price is not None:
            refuse_beyond(Decimal(repr(surround_price)), "the price of a surround")
            if surround_price == 0:
                raise BadInput("the price of a surround is 0: write an amount above 0")
        return Question(named, surveyed, cap, currency, "centre", in_stock, chosen, surround_price, surround_currency)

    def answer(self, ask: Callable[[Session], tuple[Answer, Fresh]]) -> Answer:
        """Ask in a reading transaction, then keep the profiles that were computed, where the user may write."""
        from triptych.catalog.database.engine import reading

        began = perf_counter()
        with reading(self.engine) as session:
            given, fresh = ask(session)
        log.info("answered in %.2f s; acoustic profiles computed: %d", perf_counter() - began, len(fresh))
        if fresh:
            from triptych.recommender.advise.ahead import keep

            keep(self.engine, fresh)
        return given


def judged_budget(catalogue: Catalogue, table: Mapping[str, object], rule_set: RuleSet) -> tuple[Check, Mend]:
    """Judge a budget that was read already, as `check_budget` does; what is wrong raises `BudgetError`."""
    from triptych.catalog.database.engine import reading
    from triptych.recommender.advise.equipping import cautions, with_facts
    from triptych.recommender.advise.mending import with_products
    from triptych.recommender.advise.pricing import with_catalogue_prices
    from triptych.recommender.money.budget.budget_lines import Head, read_headed
    from triptych.recommender.money.budget.check import check
    from triptych.recommender.money.budget.mend import mend

    with reading(catalogue.engine) as session:
        data, notes = with_catalogue_prices(session, table)
        head, budget = read_headed(Head, data)
        told = (*notes, *budget.cautions, *cautions(budget))
        judged = check(with_facts(session, replace(budget, cautions=told)), rule_set)
        mended = mend(judged.budget, judged.rule_set)
        return judged, with_products(session, judged.budget, head, judged.rule_set, mended)


def chosen_system(
    catalogue: Catalogue,
    table: Mapping[str, object],
    room: str | Path | RoomRecord | None,
    rule_set: RuleSet,
    *,
    in_stock: bool = False,
    time_limit: float = 60.0,
    say: Callable[[str], None] = _silent,
    began: float | None = None,
) -> PlanAnswer:
    """Choose the best whole system for a plan that was read already, as `plan` does."""
    from triptych.catalog.database.engine import reading
    from triptych.recommender.advise.planning import plan as planning
    from triptych.recommender.advise.planning.wanted import read_wanted
    from triptych.recommender.advise.pricing import with_catalogue_prices

    with reading(catalogue.engine) as session:
        wanted = read_wanted(*with_catalogue_prices(session, table))
        place = room_of(session, room) if room else None
    return catalogue.answer(
        lambda session: planning.plan(session, wanted, place, rule_set, in_stock, time_limit, say, began)
    )


def _beside(file: Path, room: str | Path | RoomRecord) -> str | Path | RoomRecord:
    """A room file that lies beside a plan, if one of that name does."""
    beside = file.parent / room if isinstance(room, str | Path) else None
    return beside if beside and is_file(beside) else room
