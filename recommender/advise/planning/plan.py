"""A whole system for a room and a sum of money, and how far it is proven to be the best."""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic
from typing import Final

from sqlalchemy.orm import Session

from catalog.records import RoomRecord
from catalog.store import Profile as StoredProfile
from recommender.advise.planning import account
from recommender.advise.planning.answer import NextMoney, PlanAnswer, WayOut
from recommender.advise.planning.choose import ANY, Choice, Found, best_systems, choices, shoulds_kept, with_more
from recommender.advise.planning.ground import Ground
from recommender.advise.planning.offers import LeftOut
from recommender.advise.planning.setting import Setting
from recommender.advise.planning.wanted import Wanted
from recommender.budget.rules import RuleSet
from recommender.planner.problem import Outcome
from recommender.planner.relax import relaxations
from recommender.planner.solve import solve

SYSTEMS: Final = 5
"""The best and the next best four."""

OUTCOME: Final = {
    Outcome.BEST: "optimal",
    Outcome.OUT_OF_TIME: "stopped_early",
    Outcome.IMPOSSIBLE: "impossible",
}

Say = Callable[[str], None]


def plan(
    session: Session,
    wanted: Wanted,
    room: RoomRecord | None,
    rule_set: RuleSet,
    in_stock: bool = False,
    time_limit: float = 60.0,
    say: Say = lambda words: None,
) -> tuple[PlanAnswer, list[StoredProfile]]:
    """Choose the best whole system of the catalogue, and the next best.

    Parameters
    ----------
    session : Session
        A transaction to read in.
    wanted : Wanted
        Roles and numbers, the limit, and the lines that stand.
    room : RoomRecord or None
        Where it stands; without one, headroom, places and gates are not judged.
    rule_set : RuleSet
        Its musts always hold; its shoulds hold if any system can keep them all.
    in_stock : bool
        Whether only what can be promised from stock now is chosen.
    time_limit : float
        For the search. [s]
    say : callable
        Told what is being done.

    Returns
    -------
    PlanAnswer and list of Profile
        The answer, and the acoustic profiles that had to be computed for it.
    """
    deadline = monotonic() + time_limit
    ground = Ground(session, wanted, Setting.of(room), in_stock)
    say("judging the catalogue in the room")
    among = choices(ground, rule_set)
    say("searching for the best system")
    found, among, given_up = _search(ground, among, rule_set, time_limit)
    if found.systems:
        say("seeing what a tenth more money would buy")
    elif found.outcome is Outcome.IMPOSSIBLE:
        say("looking for what stands in the way")
    more = _next_money(ground, found, among, deadline)
    ways_out = _ways_out(found, among[0], wanted.fixed.currency, deadline)
    return _answer(ground, found, among[0], rule_set, given_up, more, ways_out), ground.fresh


def _next_money(ground: Ground, found: Found, among: tuple[Choice, ...], deadline: float) -> NextMoney | None:
    if not found.systems:
        return None
    limit = with_more(ground.wanted.fixed.limit)
    richer = best_systems(ground, among, 1, max(1.0, deadline - monotonic()), limit)
    return account.next_money(ground, found.systems[0], richer, limit)


def _answer(
    ground: Ground,
    found: Found,
    choice: Choice,
    rule_set: RuleSet,
    given_up: tuple[str, ...],
    more: NextMoney | None,
    ways_out: tuple[WayOut, ...],
) -> PlanAnswer:
    fixed, room = ground.wanted.fixed, ground.setting.room
    systems = account.whole_systems(ground, found, rule_set)
    return PlanAnswer(
        outcome=OUTCOME[found.outcome],
        statement=_statement(found, given_up),
        gap=found.gap,
        room=room.name if room else "",
        rule_set=rule_set.name,
        currency=fixed.currency,
        limit=fixed.limit,
        tax_included=fixed.tax_included,
        fixed=fixed.total,
        weights=_weights(ground.wanted, choice),
        systems=systems,
        next_money=more,
        order=account.purchases(ground, systems[0].picks, rule_set) if systems else (),
        ways_out=ways_out,
        left_out=_left_out(ground),
        not_judged=(*_not_judged(ground, choice), *dict.fromkeys(ground.not_judged)),
        cautions=(*fixed.cautions, *_room_cautions(room)),
    )


def _search(
    ground: Ground, among: tuple[Choice, ...], rule_set: RuleSet, time_limit: float
) -> tuple[Found, tuple[Choice, ...], tuple[str, ...]]:
    """With musts and shoulds; where that is impossible, with the shoulds that some system can keep."""
    found = best_systems(ground, among, SYSTEMS, time_limit)
    if found.outcome is not Outcome.IMPOSSIBLE:
        return found, among, ()
    loose, given_up = shoulds_kept(ground, among, rule_set, time_limit)
    return best_systems(ground, loose, SYSTEMS, time_limit), loose, given_up


def _statement(found: Found, given_up: tuple[str, ...]) -> str:
    names = ", ".join(given_up)
    held = f"every must holds, but no system here can keep {names}" if given_up else "every rule holds"
    if found.outcome is Outcome.IMPOSSIBLE:
        return "no system keeps the musts within the limit"
    if not found.systems:
        return f"stopped after {found.seconds:.1f} s before any system was found; give it more time with --time-limit"
    if found.outcome is Outcome.OUT_OF_TIME:
        return f"stopped after {found.seconds:.1f} s: a better one would be worth {found.gap:.2f} more at most; {held}"
    return f"optimal: of {found.of:,} systems none is worth more; {held}"


def _weights(wanted: Wanted, choice: Choice) -> dict[str, float]:
    judged = {"front" if role == "centre" else role for role in choice.offers}
    return {role: weight for role, weight in wanted.weights.items() if role in judged}


def _ways_out(found: Found, choice: Choice, currency: str, deadline: float) -> tuple[WayOut, ...]:
    if found.outcome is not Outcome.IMPOSSIBLE:
        return ()
    if solve(choice.problem, 1, max(1.0, deadline - monotonic()), ANY).systems:
        words = "every system within the limit takes more boxes of one model than there are: receive more of it"
        return (WayOut("stock", (), (), "", words),)
    ways = relaxations(choice.problem, choice.barred, max(5.0, deadline - monotonic()))
    return tuple(account.way_out(one, choice, currency) for one in ways)


def _left_out(ground: Ground) -> tuple[LeftOut, ...]:
    """Each reason once, with every name that it holds for; what is left out at one number of boxes counts."""
    names: dict[tuple[str, str], dict[str, None]] = {}
    for one in ground.left_out:
        names.setdefault((one.role, one.reason), {}).update(dict.fromkeys(one.speakers))
    return tuple(LeftOut(role, reason, tuple(some)) for (role, reason), some in names.items())


def _not_judged(ground: Ground, choice: Choice) -> list[str]:
    told = []
    room = ground.setting.room
    if room is None:
        told.append("no room is given: places, gates, headroom and the seats' angles are not judged")
    else:
        told.append("where surrounds, heights and wides stand: they are taken to be as far away as the mains")
        if room.amplifier is None or room.listening.target_peak is None:
            told.append(f"{room.name} names no amplifier or no target level: headroom is not judged")
    if choice.front.centre is not None and choice.front.mains is None:
        told.append("no mains of the catalogue are wanted or on a line: the centre's match with them is not judged")
    told.append("electronics, cables and stands: their lines are taken as they are")
    return told


def _room_cautions(room: RoomRecord | None) -> list[str]:
    if room is None or room.money is None or room.money.centre is None:
        return []
    cap = f"{room.money.centre} {room.money.currency or ''}".strip()
    return [f"the cap on the centre in {room.name} ({cap}) is not applied: the plan's limit and rules take its place"]
