"""A whole system for a room and a sum of money, and how far it is proven to be the best."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from time import monotonic
from typing import Final, Self

from sqlalchemy.orm import Session

from triptych.catalog.equipment_record import CAUTION
from triptych.catalog.money import in_words, money, to_minor
from triptych.catalog.records import RoomRecord
from triptych.recommender.advise.planning import told
from triptych.recommender.advise.planning.agreement import unlike_match
from triptych.recommender.advise.planning.cheaper import cheaper
from triptych.recommender.advise.planning.choose import Choice, Searched, best_systems, choices
from triptych.recommender.advise.planning.fitted import demand
from triptych.recommender.advise.planning.from_stock import Unlimited, otherwise, to_receive, unlimited
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.advise.planning.judgement import Judgement
from triptych.recommender.advise.planning.offers import LeftOut
from triptych.recommender.advise.planning.outfit import BORNE_BY, ELECTRONICS
from triptych.recommender.advise.planning.plan_answer import NextMoney, PlanAnswer, WayOut
from triptych.recommender.advise.planning.read_in_time import Clock
from triptych.recommender.advise.planning.wanted import Wanted
from triptych.recommender.advise.planning.worth import AROUND
from triptych.recommender.advise.voices import Fresh
from triptych.recommender.money.budget.check import Check
from triptych.recommender.money.budget.rules import RuleSet, in_sentences
from triptych.recommender.money.planner.problem import Outcome, System
from triptych.recommender.money.planner.relax import relaxations

TENTH: Final = Fraction(1, 10)
"""The part of the limit for which it is told what more money would gain, and less would lose."""

SYSTEMS: Final = 5
"""The best and the next best four."""

LOOKED: Final = 0.2
"""So long some system is looked for at least among what was judged, though the time is up [s]."""

GRACE: Final = 1.0
"""So long it is looked for what stands in the way at least, where nothing is possible and the time is up [s]."""

STOPPED: Final = "what is cheaper, and what other limits would change, for want of time: more of it with --time-limit"

NOT_SEEN: Final = (
    "what would be chosen if all could be ordered: its search was stopped; give it more time with --time-limit"
)

Say = Callable[[str], None]


def plan(
    session: Session,
    wanted: Wanted,
    room: RoomRecord | None,
    rule_set: RuleSet,
    in_stock: bool = False,
    time_limit: float = 60.0,
    say: Say = lambda words: None,
    began: float | None = None,
) -> tuple[PlanAnswer, Fresh]:
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
        Its musts always hold; its shoulds cost worth where they are broken.
    in_stock : bool
        Whether only what can be promised from stock now is chosen; what would be otherwise is told beside it.
    time_limit : float
        For all of it. A third of what is left once the modules are there may go into reading, three quarters of what is
        left then into judging; what is not read or judged by then is left out and told. [s]
    say : callable
        Told what is being done.
    began : float, optional
        When the time began, by the monotonic clock; now if not given. [s]

    Returns
    -------
    PlanAnswer and list of Profile
        The answer, and the acoustic profiles that had to be computed for it.
    """
    clock = Clock(monotonic() if began is None else began, time_limit)
    deadline = clock.deadline
    ground = Ground.of(session, wanted, room, in_stock, clock)
    say("judging the catalogue in the room")
    # all is judged, as what would be chosen if it could be ordered is told too
    judgement = Judgement.of(ground.unlimited() if in_stock else ground, rule_set)
    among = choices(ground, rule_set, judgement.in_stock(ground) if in_stock else judgement)
    say("searching for the best system")
    left = max(LOOKED, deadline - monotonic())
    searched = Searched(best_systems(ground, among, SYSTEMS, left), among)
    free = None
    if in_stock and not _up(searched, deadline):
        say("seeing what would be chosen if all could be ordered")
        free = unlimited(ground, rule_set, judgement, max(0.0, deadline - monotonic()))
    if searched.found.systems:
        say("seeing what a tenth more money would buy, and a tenth less lose")
    elif searched.found.outcome is Outcome.IMPOSSIBLE:
        say("looking for what stands in the way")
    beside = Beside.of(ground, searched, deadline)
    ways_out = _ways_out(ground, searched, rule_set, deadline)
    return _answer(ground, searched, rule_set, beside, ways_out, free, deadline), ground.book.fresh


def _up(searched: Searched, deadline: float) -> bool:
    """Whether the time is up; where nothing is possible the reason is looked for all the same."""
    return bool(searched.found.systems) and monotonic() >= deadline


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside the best: the cheapest that nobody could tell from it, and what other limits would change.

    `stopped`: there was no time to look for all of it.
    """

    cheaper: tuple[Choice, System] | None = None
    more: NextMoney | None = None
    less: NextMoney | None = None
    stopped: bool = False

    @classmethod
    def of(cls, ground: Ground, searched: Searched, deadline: float) -> Self:
        """All of it, for what was found."""
        if not searched.found.systems:
            return cls()
        if monotonic() >= deadline:
            return cls(stopped=True)
        limit = ground.wanted.fixed.limit
        step = int(limit * TENTH)
        more, less = (cls._at(ground, searched, other, deadline) for other in (limit + step, limit - step))
        band = ground.wanted.indifference
        cheapest = cheaper(ground, searched.among, searched.found, band, deadline)
        return cls(cheapest, more, less, monotonic() >= deadline)

    @staticmethod
    def _at(ground: Ground, searched: Searched, limit: int, deadline: float) -> NextMoney | None:
        best = searched.found.systems[0]
        other = best_systems(ground, searched.among, 1, max(0.0, deadline - monotonic()), limit, known=best)
        if not other.systems and limit < ground.wanted.fixed.limit:
            return None
        return told.next_money(ground, searched.found.systems[0], other, limit)


def _answer(
    ground: Ground,
    searched: Searched,
    rule_set: RuleSet,
    beside: Beside,
    ways_out: tuple[WayOut, ...],
    free: Unlimited | None,
    deadline: float,
) -> PlanAnswer:
    fixed, choice = ground.wanted.fixed, searched.among[0]
    room = ground.setting.room if ground.setting else None
    systems = told.whole_systems(ground, searched.found, rule_set)
    over = _over_cap(ground, searched, room)
    other = otherwise(searched, systems, free, rule_set) if free else None
    return PlanAnswer(
        outcome=told.OUTCOME[searched.found.outcome],
        statement=_statement(searched, rule_set, systems[0].check if systems else None, free),
        optimal=told.OUTCOME[searched.found.outcome] == "optimal",
        gap=searched.found.gap,
        room=room.name if room else "",
        rule_set=rule_set.name,
        currency=fixed.currency,
        limit=fixed.limit,
        tax_included=fixed.tax_included,
        fixed=fixed.total,
        weights=_weights(ground.wanted, choice),
        lacks=(*_lacks(ground, choice), *over),
        systems=systems,
        unlike_match=_unlike(ground, searched, deadline),
        indifference=ground.wanted.indifference,
        cheaper=told.beside_best(ground, beside.cheaper, searched.found, rule_set) if beside.cheaper else None,
        next_money=beside.more,
        less_money=beside.less,
        order=told.purchases(ground, systems[0], rule_set, _driven(ground, choice)) if systems else (),
        ways_out=ways_out,
        left_out=(*_left_out(searched.among), *ground.unsold),
        not_judged=(
            *_not_judged(room, choice),
            *choice.front.not_judged,
            *([NOT_SEEN] if free and free.stopped and other is None else []),
            *([STOPPED] if beside.stopped else []),
        ),
        cautions=(
            *fixed.cautions,
            *([] if over else _room_cautions(room)),
            *_outfit_cautions(choice),
            *([ground.unread_words] if ground.unread_words else _late(ground.clock)),
        ),
        otherwise=other,
    )


def _unlike(ground: Ground, searched: Searched, deadline: float) -> str:
    if not searched.found.systems or any(choice.cut for choice in searched.among):
        return ""
    return unlike_match(ground, *searched.found.systems[0], max(0.0, deadline - monotonic()))


def _statement(searched: Searched, rule_set: RuleSet, best: Check | None, free: Unlimited | None) -> str:
    misfits = [one.rule.name for one in best.fits if not one.holds] if best else []
    text = told.statement(searched, in_sentences(rule_set), best.missing if best else (), misfits)
    if free is None or searched.found.outcome is not Outcome.IMPOSSIBLE:
        return text
    if free.impossible:
        return f"{text}, neither from stock nor ordered"
    return f"{text} from stock" + ("" if free.stopped else "; one that could be ordered does")


def _driven(ground: Ground, choice: Choice) -> bool:
    """Whether something drives the loudspeakers."""
    return bool(choice.outfit.sets) or any(line.role == ELECTRONICS for line in ground.wanted.fixed.lines)


def _lacks(ground: Ground, choice: Choice) -> tuple[str, ...]:
    if any(line.role == ELECTRONICS for line in ground.wanted.fixed.lines):
        return ()
    mend = "add a [[line]] of electronics, owned = true if it is there"
    if choice.outfit.sets:
        return (f"nothing plays without a receiver or an amplifier, and no line has one: one is chosen; {mend}",)
    told = f"nothing plays without a receiver or an amplifier, and no line has one: {mend}"
    if ground.wanted.chooses(ELECTRONICS) and any(one.gives.drives for one in ground.articles):
        asked = demand(ground, choice.counts)
        room = ", as well as the room's amplifier" if ground.setting and ground.setting.room.amplifier else ""
        told += f"; none of the catalogue is known to drive {asked.boxes} loudspeakers{room}"
    return (told,)


def _weights(wanted: Wanted, choice: Choice) -> dict[str, float]:
    judged = {"front" if role == "centre" else role for role in choice.offers}
    return {role: weight for role, weight in wanted.weights.items() if role in judged}


def _ways_out(ground: Ground, searched: Searched, rule_set: RuleSet, deadline: float) -> tuple[WayOut, ...]:
    if searched.found.outcome is not Outcome.IMPOSSIBLE:
        return ()
    if short := to_receive(ground, searched.among, max(GRACE, deadline - monotonic())):
        return short
    choice = searched.among[0]
    ways = relaxations(choice.problem, choice.barred, max(GRACE, deadline - monotonic()))
    rules, currency = in_sentences(rule_set), ground.wanted.fixed.currency
    return tuple(told.way_out(one, choice, currency, rules) for one in ways)


def _left_out(among: Sequence[Choice]) -> tuple[LeftOut, ...]:
    """Each reason once, with every name that it holds for; what is left out at one number of boxes counts."""
    names: dict[tuple[str, str], dict[str, None]] = {}
    for one in (left_out for choice in among for left_out in choice.left_out):
        names.setdefault((one.role, one.reason), {}).update(dict.fromkeys(one.speakers))
    return tuple(LeftOut(role, reason, tuple(some)) for (role, reason), some in names.items())


def _not_judged(room: RoomRecord | None, choice: Choice) -> list[str]:
    told = []
    if room is None:
        told.append("no room is given: places, gates, headroom and the seats' angles are not judged")
    else:
        told.append("where surrounds, heights and wides stand: they are taken to be as far away as the mains")
        if room.amplifier is None or room.listening.target_peak is None:
            told.append(f"{room.name} names no amplifier or no target level: headroom is not judged")
    if choice.front.centre is not None and choice.front.mains is None:
        told.append("no mains of the catalogue are wanted or on a line: the centre's match with them is not judged")
    if any(role in AROUND for role in choice.judged) and choice.front.pairs is not None:
        told.append(
            "what the surrounds that are chosen add to the centre's share: in its score no price counts up to that of "
            "one main, or of a surround that stands on a line"
        )
    told += _equipment_not_judged(choice)
    return told


def _late(clock: Clock) -> list[str]:
    """What is told where the time was up before anything was judged."""
    if clock.began is None or clock.read < clock.deadline:
        return []
    return [
        f"the catalogue was read {clock.read - clock.began:.1f} s after the start, when the {clock.time_limit:g} s of "
        "--time-limit were up: a few of each role were judged all the same"
    ]


def _outfit_cautions(choice: Choice) -> list[str]:
    return [CAUTION] if choice.outfit.sets or choice.outfit.extras else []


def _equipment_not_judged(choice: Choice) -> list[str]:
    """What of the equipment nobody looked at."""
    outfit = choice.outfit
    told = [
        "how electronics sound: of what fits, the cheapest is taken, and headroom is judged with the room's amplifier"
    ]
    if not outfit.sets and not outfit.extras:
        return [
            "which electronics, cables and stands would do better: their lines are taken as they are, and the rules on "
            "what must fit look at those that the catalogue knows"
        ]
    if outfit.extras and not any((one.cable >= 0).any() for one in outfit.extras.values()):
        told.append("cables: state the length to one box of each role under [runs], and they are chosen too")
    without = [role for role, one in outfit.extras.items() if role in BORNE_BY and not (one.bearing >= 0).any()]
    if without:
        told.append(f"what bears the {', '.join(without)}: nothing was chosen for them")
    return told


def _over_cap(ground: Ground, searched: Searched, room: RoomRecord | None) -> list[str]:
    """What a centre costs over the room's cap, where both are in one currency and on one tax basis."""
    cap, fixed = room.money if room else None, ground.wanted.fixed
    if room is None or cap is None or cap.centre is None or not searched.found.systems:
        return []
    if "centre" not in searched.among[0].offers:
        return []
    if cap.currency not in (None, fixed.currency) or cap.tax_included != fixed.tax_included:
        return []
    choice, system = searched.found.systems[0]
    lines = sum(line.amount for line in fixed.lines if line.role == "centre")
    cost = lines + int(choice.offers["centre"].cost[system.chosen["centre"]])
    over = cost - to_minor(Decimal(cap.centre), fixed.currency)
    if over <= 0:
        return []
    return [
        f"the centre takes {money(cost, fixed.currency)}, {money(over, fixed.currency)} over the cap in {room.name}: a "
        "plan goes by its limit and rules; a rule of your own holds it, a cap on the centre in money that is a must"
    ]


def _room_cautions(room: RoomRecord | None) -> list[str]:
    if room is None or room.money is None or room.money.centre is None:
        return []
    cap = in_words(room.money.centre, room.money.currency)
    return [f"the cap on the centre in {room.name} ({cap}) is not applied: the plan's limit and rules take its place"]
