"""Rules as plain data, and the three sets that come with the tool."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Final

from triptych.recommender.money.budget.budget_lines import AUDIO_TOTAL, ROLES, SPEAKERS_AND_SUB
from triptych.recommender.money.budget.errors import BadRule
from triptych.recommender.money.budget.fitting import ABOUT_FITS, FITS_IN_WORDS, Fitting


class Form(Enum):
    """What a rule asks: at least, at most, that there is such a line at all, or that it fits the others."""

    FLOOR = "floor"
    CAP = "cap"
    PRESENCE = "presence"
    FITS = "fits"


class Duty(Enum):
    """Whether a broken rule fails the budget or is only pointed out."""

    MUST = "must"
    SHOULD = "should"


class Measure(Enum):
    """What of a role is measured: every single box, two of them, or all its lines together."""

    ONE = "one"
    PAIR = "pair"
    ALL = "all"


# What shares are shares of. 'money' is a plain sum: the factor is then an amount in the budget's currency.
DENOMINATORS: Final = {"audio_total": AUDIO_TOTAL, "speakers_and_sub": SPEAKERS_AND_SUB, "limit": (), "money": ()}
# What is left of the limit; it can stand on the left of a rule like a role.
CONTINGENCY: Final = "contingency"

IN_WORDS: Final = {
    "audio_total": "the audio total",
    "speakers_and_sub": "loudspeakers and subwoofer",
    "limit": "the limit",
    CONTINGENCY: "the contingency",
}


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: `measure` of `roles` is at least (floor) or at most (cap) `factor` times `of_measure` of `of`.

    Parameters
    ----------
    name : str
        Unique in its set.
    form : Form
        Floor, cap, presence or fits; a floor or cap whose `of` are roles is a ratio.
    kind : Duty
        Must or should.
    roles : tuple of str
        Roles on the left, or `contingency` alone.
    measure : Measure
        With `ONE` and `PAIR` the rule binds every line of the roles on the left ...
    factor : Decimal
        A share, a ratio, or with `of = ('money',)` a sum. [1 or the budget's currency]
    of : tuple of str
        One denominator, or roles on the right; of what fits, the name of a fitting.
    of_measure : Measure
        ... and every line of the roles on the right.
    why : str
        The reason, in a sentence.
    """

    name: str
    form: Form
    kind: Duty
    roles: tuple[str, ...]
    measure: Measure = Measure.ALL
    factor: Decimal = Decimal(1)
    of: tuple[str, ...] = ()
    of_measure: Measure = Measure.ALL
    why: str = ""

    def __post_init__(self) -> None:
        _check_roles(self)
        if self.form is Form.FITS:
            _check_fitting(self)
        if self.of_money:
            _check_right_side(self)

    @property
    def of_money(self) -> bool:
        """Whether it compares amounts of money."""
        return self.form in (Form.FLOOR, Form.CAP)

    @property
    def fitting(self) -> Fitting | None:
        """What it asks to fit, if it does."""
        return Fitting(self.of[0]) if self.form is Form.FITS else None

    @property
    def is_ratio(self) -> bool:
        """Whether it compares roles with roles."""
        return self.of_money and self.of[0] not in DENOMINATORS

    @property
    def ratio(self) -> Fraction:
        """The factor, exactly."""
        return Fraction(self.factor)

    @property
    def of_roles(self) -> tuple[str, ...]:
        """The roles whose amounts stand on the right."""
        return tuple(DENOMINATORS[self.of[0]]) if self.of and self.of[0] in DENOMINATORS else self.of


def _check_roles(rule: Rule) -> None:
    unknown = [role for role in rule.roles if role not in ROLES and rule.roles != (CONTINGENCY,)]
    if unknown or not rule.roles:
        named = f"'{unknown[0]}' is not a role" if unknown else "no role is named"
        raise BadRule(f"rule '{rule.name}': {named}; roles are {', '.join(ROLES)}, or contingency alone")
    if rule.roles == (CONTINGENCY,) and (rule.form is Form.PRESENCE or rule.measure is not Measure.ALL):
        raise BadRule(f"rule '{rule.name}': the contingency is measured as a whole, as a floor or a cap")


def _check_fitting(rule: Rule) -> None:
    if len(rule.of) != 1 or rule.of[0] not in {one.value for one in Fitting}:
        known = ", ".join(one.value for one in Fitting)
        raise BadRule(f"rule '{rule.name}': of is {', '.join(rule.of) or 'empty'}; name one of {known}")
    if rule.measure is not Measure.ALL or rule.of_measure is not Measure.ALL or rule.factor != 1:
        raise BadRule(f"rule '{rule.name}': what fits has no measure and no factor; leave them out")


def _check_right_side(rule: Rule) -> None:
    denominators = [name for name in rule.of if name in DENOMINATORS]
    if not rule.of or (denominators and len(rule.of) > 1):
        raise BadRule(
            f"rule '{rule.name}': name one denominator or some roles; denominators: {', '.join(DENOMINATORS)}"
        )
    unknown = [name for name in rule.of if name not in ROLES and not denominators]
    if unknown:
        raise BadRule(f"rule '{rule.name}': '{unknown[0]}' is neither a role nor a denominator")
    if (
        denominators
        and (rule.measure is not Measure.ALL or rule.of_measure is not Measure.ALL)
        and rule.of != ("money",)
    ):
        raise BadRule(f"rule '{rule.name}': a share of {rule.of[0]} is measured over all lines of a role")
    most, unit = most_of(rule.of)
    if not rule.factor.is_finite() or not 0 <= rule.factor <= most:
        told = "1, or from 0 % to 100 %" if most == 1 else f"{most:,}{unit}"
        raise BadRule(f"rule '{rule.name}': factor {rule.factor:f} is out of range; write a number from 0 to {told}")


def most_of(of: Sequence[str]) -> tuple[int, str]:
    """The largest factor that a rule may have that compares with these, and what it counts."""
    if tuple(of) == ("money",):
        return 10**12, " of the budget's currency"
    return (1, "") if of and of[0] in DENOMINATORS else (1000, "")


def told_factor(rule: Rule) -> str:
    """A rule's factor in the unit in which it is told: a sum, percent, or times."""
    if rule.of == ("money",):
        return f"{rule.factor:f}"
    return f"{(rule.factor * 100).normalize():f} %" if rule.of[0] in DENOMINATORS else f"{rule.factor.normalize():f} ×"


def says(rule: Rule) -> str:
    """A rule in words."""
    roles = " or ".join(IN_WORDS.get(role, role) for role in rule.roles)
    if rule.form is Form.PRESENCE:
        return f"there is a line for {roles}"
    if rule.fitting is not None:
        return FITS_IN_WORDS[rule.fitting]
    counted = {Measure.ONE: "one of ", Measure.PAIR: "a pair of ", Measure.ALL: ""}
    bound = "at most" if rule.form is Form.CAP else "at least"
    left = f"{counted[rule.measure]}{roles}: {bound} "
    if rule.of == ("money",):
        return f"{left}{rule.factor:f} in the budget's currency"
    if not rule.is_ratio:
        return f"{left}{told_factor(rule)} of {IN_WORDS[rule.of[0]]}"
    return f"{left}{told_factor(rule)} {counted[rule.of_measure]}{' or '.join(rule.of)}"


def about(rule: Rule) -> str:
    """What a rule asks within a sentence: 'the sub at least 15 % of the audio total'."""
    if rule.fitting is not None:
        return ABOUT_FITS[rule.fitting]
    left = "what is left" if rule.roles == (CONTINGENCY,) else _named_side(rule.roles, rule.measure)
    if rule.form is Form.PRESENCE:
        return f"a line for {left}"
    bound = f"{left} at {'most' if rule.form is Form.CAP else 'least'}"
    if rule.of == ("money",):
        return f"{bound} {rule.factor:f}"
    if not rule.is_ratio:
        return f"{bound} {told_factor(rule)} of {IN_WORDS[rule.of[0]]}"
    right = _named_side(rule.of, rule.of_measure)
    return f"{bound} as much as {right}" if rule.factor == 1 else f"{bound} {told_factor(rule)} {right}"


def in_sentences(rule_set: RuleSet) -> dict[str, str]:
    """What each rule asks within a sentence, by its name."""
    return {rule.name: about(rule) for rule in rule_set.rules}


def _named_side(roles: Sequence[str], measure: Measure) -> str:
    whole = " or ".join(f"the {role}" for role in roles)
    if measure is Measure.ALL or (measure is Measure.ONE and set(roles) <= {"centre", "sub"}):
        return whole
    return f"{'one' if measure is Measure.ONE else 'a pair'} of {whole}"


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Rules under one name, and the order in which its money is spent when it comes in steps.

    Parameters
    ----------
    name : str
        What it is called on the command line.
    rules : tuple of Rule
        Judged and shown in this order.
    order : tuple of str
        Roles, first bought first.
    why : str
        Whom it is for.
    """

    name: str
    rules: tuple[Rule, ...]
    order: tuple[str, ...] = ROLES
    why: str = ""

    def __post_init__(self) -> None:
        names = [rule.name for rule in self.rules]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice:
            raise BadRule(f"rule set '{self.name}': '{twice}' stands twice; give each rule its own name")

    def of_kind(self, kind: Duty) -> tuple[Rule, ...]:
        """Its musts, or its shoulds."""
        return tuple(rule for rule in self.rules if rule.kind is kind)


def presence(role: str, kind: Duty, why: str) -> Rule:
    """The rule that a role has a line."""
    return Rule(f"{role}_present", Form.PRESENCE, kind, (role,), why=why)


def fit(kind: Duty, role: str, fitting: Fitting, why: str) -> Rule:
    """The rule that what a role's lines hold fits the others."""
    return Rule(f"{fitting.value}_fit", Form.FITS, kind, (role,), of=(fitting.value,), why=why)


def share(name: str, form: Form, kind: Duty, role: str, factor: str, of: str, why: str) -> Rule:
    """The rule that a role takes at least, or at most, a share of a denominator."""
    return Rule(name, form, kind, (role,), Measure.ALL, Decimal(factor), (of,), Measure.ALL, why)


def one_not_below_one(name: str, kind: Duty, role: str, factor: str, of: Iterable[str], why: str) -> Rule:
    """The rule that every box of a role costs at least `factor` times any box of the others."""
    return Rule(name, Form.FLOOR, kind, (role,), Measure.ONE, Decimal(factor), tuple(of), Measure.ONE, why)


_ACCESSORIES = presence("accessories", Duty.MUST, "cables, stands and mounts are what a list forgets")
_MAINS = presence("mains", Duty.MUST, "the front is judged against its mains; list them as owned if they are there")
_CENTRE = presence("centre", Duty.MUST, "it carries most of the dialogue; list it as owned if it is there")
_CONTINGENCY = share(
    "contingency", Form.FLOOR, Duty.SHOULD, CONTINGENCY, "0.05", "limit", "something always turns up on the day"
)
_FITS = (
    fit(Duty.MUST, "electronics", Fitting.CHANNELS, "a loudspeaker without a channel is silent"),
    fit(Duty.MUST, "electronics", Fitting.LOAD, "an amplifier below its lowest load overheats or switches off"),
    fit(Duty.SHOULD, "electronics", Fitting.POWER, "too little power is driven into clipping"),
    fit(Duty.SHOULD, "electronics", Fitting.INPUTS, "a source without an input is not heard"),
    fit(Duty.MUST, "accessories", Fitting.BEARING, "what falls hurts somebody"),
    fit(Duty.MUST, "accessories", Fitting.CABLES, "a cable that does not reach is no cable"),
)
_AROUND = ("surrounds", "wides", "heights")
_CENTRE_AND_MAINS = one_not_below_one(
    "centre_at_least_one_main", Duty.SHOULD, "centre", "1", ("mains",), "the loudest single channel is the centre"
)
_CENTRE_AND_AROUND = one_not_below_one(
    "centre_at_least_any_surround", Duty.SHOULD, "centre", "1", _AROUND, "the centre is not starved for effects"
)

# Musts are what a dealer would refuse to sell: a list without the front three, or without cables and stands. What the
# trade says of shares and ratios is a rule of thumb, so a should: it costs a plan worth, and yields to a better match.
FILM_FIRST = RuleSet(
    "film-first",
    (
        _CENTRE_AND_MAINS,
        _CENTRE_AND_AROUND,
        share("sub_floor", Form.FLOOR, Duty.SHOULD, "sub", "0.15", "audio_total", "film needs a subwoofer"),
        share("sub_cap", Form.CAP, Duty.SHOULD, "sub", "0.35", "audio_total", "bass is not the whole of the sound"),
        _MAINS, _CENTRE, _ACCESSORIES, _CONTINGENCY, *_FITS,
    ),
    ("mains", "centre", "accessories", "electronics", "sub", "surrounds", "heights", "wides", "calibration", "display"),
    "dialogue first: the centre is favoured over everything around the listener",
)  # fmt: skip

MUSIC_FIRST = RuleSet(
    "music-first",
    (
        share("mains_floor", Form.FLOOR, Duty.SHOULD, "mains", "0.40", "speakers_and_sub",
              "two loudspeakers play the music"),
        one_not_below_one(
            "main_at_least_any_surround", Duty.SHOULD, "mains", "1", _AROUND, "the mains are not starved for effects"
        ),
        one_not_below_one(
            "centre_at_least_half_a_main", Duty.SHOULD, "centre", "0.5", ("mains",), "a poorer one is better left out"
        ),
        one_not_below_one(
            "centre_at_least_any_surround", Duty.SHOULD, "centre", "1", _AROUND, "dialogue still comes before effects"
        ),
        share("sub_cap", Form.CAP, Duty.SHOULD, "sub", "0.30", "audio_total", "the mains reach low by themselves"),
        _MAINS, _ACCESSORIES, _CONTINGENCY, *_FITS,
    ),
    ("mains", "electronics", "accessories", "sub", "centre", "surrounds", "heights", "wides", "calibration", "display"),
    "two-channel music first: the mains are favoured, and a phantom centre is no fault",
)  # fmt: skip

SMALL_ROOM = RuleSet(
    "small-room",
    (
        _CENTRE_AND_MAINS,
        _CENTRE_AND_AROUND,
        share(
            "mains_cap", Form.CAP, Duty.SHOULD, "mains", "0.50", "speakers_and_sub", "small rooms waste large mains"
        ),
        share("sub_floor", Form.FLOOR, Duty.SHOULD, "sub", "0.10", "audio_total", "small loudspeakers need help below"),
        share("sub_cap", Form.CAP, Duty.SHOULD, "sub", "0.25", "audio_total", "a small room lifts the bass by itself"),
        _MAINS, _CENTRE, _ACCESSORIES, _CONTINGENCY, *_FITS,
    ),
    ("centre", "mains", "accessories", "electronics", "sub", "surrounds", "calibration", "heights", "wides", "display"),
    "a small room close to the screen: less bass, smaller mains, the same centre",
)  # fmt: skip

RULE_SETS: Final = {rules.name: rules for rules in (FILM_FIRST, MUSIC_FIRST, SMALL_ROOM)}
DEFAULT: Final = FILM_FIRST
