"""One class a failure of a budget; the command line turns each into one line and exit code 1."""

from __future__ import annotations


class BudgetError(ValueError):
    """A budget, or a rule set for it, cannot be used as it is."""


class BadBudget(BudgetError):
    """A budget holds something that cannot be taken, or lacks something it needs."""


class BadRule(BudgetError):
    """A rule does not say anything that can be judged."""


class ContradictingRules(BudgetError):
    """No budget at all could keep these rules together."""

    def __init__(self, rules: tuple[str, ...]) -> None:
        self.rules = rules
        names = " and ".join(f"'{name}'" for name in rules)
        cure = "loosen or remove one of them" if len(rules) > 1 else "loosen or remove it"
        super().__init__(f"no budget can keep {names}{' together' if len(rules) > 1 else ''}; {cure}")
