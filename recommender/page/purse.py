"""Money: lines against a limit, shares as a picture, rules with their numbers, a mend that is taken and taken back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from starlette.responses import Response

from triptych.catalog.database.engine import reading
from triptych.catalog.errors import CatalogError, NotFound
from triptych.catalog.money import money as told_money
from triptych.catalog.money import to_amount
from triptych.catalog.names import name_key
from triptych.catalog.numerals import ordinal
from triptych.recommender.advise import rulebook
from triptych.recommender.api import DEFAULT_RULES, judged_budget
from triptych.recommender.givens import refusals
from triptych.recommender.money.budget.budget_lines import ROLES, Per
from triptych.recommender.money.budget.check import Check
from triptych.recommender.money.budget.mend import Mend
from triptych.recommender.money.budget.rules import RuleSet
from triptych.recommender.page.asked import Pairs, Visit, address
from triptych.recommender.page.rendering import shown
from triptych.recommender.report.client_report import budget_values

Purse = dict[str, str]
"""The texts of the form, by name: those of the head, and `line.3.price`."""

HEAD_KEYS: Final = ("limit", "currency", "tax_included", "tax_rate", "rules")
LINE_KEYS: Final = (
    "role",
    "item",
    "price",
    "per",
    "quantity",
    "pieces",
    "serves",
    "run",
    "currency",
    "tax_included",
    "owned",
    "fixed",
)
YES_OR_NO_KEYS: Final = ("tax_included", "owned", "fixed")

WAS: Final = "was."
"""What the name of a field begins with that holds a line as it was before a mend."""

MOST_BUDGET_LINES: Final = 40
"""More lines than a system has."""

NEW_LINES: Final = ("mains", "centre", "surrounds", "sub", "electronics", "accessories")
"""The roles that a new budget begins with."""

CHOSEN_ROLES: Final = (("mains", "2"), ("centre", "1"), ("surrounds", "2"), ("heights", "0"), ("sub", "1"))
"""The roles that a plan chooses, and how many it is offered to choose."""

CHOSEN_TOO: Final = (
    ("electronics", "a receiver or amplifiers that fit, where no line has one"),
    ("accessories", "stands, mounts and cables, where no line has them"),
)
"""What a plan chooses to go with the loudspeakers, unless it is told not to."""

_FILES_WORDS: Final = {
    "a [[line]]": "a line",
    "owned = true": "owned already",
    " under [rates]": "",
    "under [runs]": "in How long the cables are",
}
"""What is told of the keys of a budget file, and what the form calls it."""

PASSES_WORDS: Final = {"pass": "passes", "fail": "fails", "incomplete": "is incomplete"}


def money(asked: Visit) -> Response:
    """A budget as a form, judged as `budget check` judges its file."""
    texts = purse_in(asked.query)
    fresh = not any(key.startswith("line.") for key in texts)
    judged, problem = None, ""
    rule_sets = known_rules(asked)
    if not fresh:
        try:
            judged = _judged(asked, texts)
        except CatalogError as refused:
            problem = in_form(str(refused))
    if fresh:
        texts |= _new(asked)
    values: dict[str, Any] = {
        "lines": _lines(texts),
        "head": {key: texts.get(key, "") for key in HEAD_KEYS} | {"rules": texts.get("rules") or DEFAULT_RULES},
        "roles": ROLES,
        "pers": [per.value for per in Per],
        "rule_sets": rule_sets,
        "problem": problem,
        "wish": wished(asked),
        "mended": [(key, value) for key, value in asked.query if key.startswith(WAS)],
        "back": _as_it_was(asked) if any(key.startswith(WAS) for key, _ in asked.query) else "",
        **_told(asked, texts, judged),
    }
    if asked.fragment:
        return shown("money_judged.html.j2", asked, 422 if problem else 200, **values)
    return shown("money.html.j2", asked, 422 if problem else 200, step="money", **values)


def wished(asked: Visit) -> dict[str, Any]:
    """What stands in the form of a plan."""
    return {
        "limit": asked.word("limit"),
        "currency": asked.word("currency"),
        "rules": asked.word("rules") or DEFAULT_RULES,
        "seconds": asked.word("seconds") or "60",
        "tax_included": asked.word("tax_included") or "yes",
        "tax_rate": asked.word("tax_rate"),
        "want": [(role, asked.word(f"want.{role}") or number) for role, number in CHOSEN_ROLES],
        "chosen": [(role, words, asked.word(f"want.{role}") != "0") for role, words in CHOSEN_TOO],
        "runs": [(role, asked.word(f"run.{role}")) for role, _ in CHOSEN_ROLES],
        "kept": kept_lines(asked.form or asked.query),
    }


def kept_lines(pairs: Pairs) -> list[tuple[str, Purse]]:
    """The lines that a plan keeps as they are, since they are owned or their price stays: in words, and as fields."""
    found: list[tuple[str, Purse]] = []
    for line in _lines(purse_in(pairs)):
        if "yes" not in (line["owned"], line["fixed"]):
            continue
        number = len(found) + 1
        paid = "owned" if line["owned"] == "yes" else line["price"] or "at the catalogue's price"
        words = ", ".join(filter(None, (line["role"], line["item"], f"{line['quantity'] or 1} × {paid}")))
        fields = {f"line.{number}.{name}": line[name] for name in LINE_KEYS if line[name]}
        found.append((words, fields))
    return found


def purse_in(pairs: Pairs) -> Purse:
    """What stands in the fields of a budget, its lines numbered from one without gaps."""
    texts = {key: value.strip() for key, value in pairs if key in HEAD_KEYS and value.strip()}
    lines: dict[int, dict[str, str]] = {}
    removed = next((value for key, value in pairs if key == "remove"), "")
    for key, value in pairs:
        start, _, rest = key.partition(".")
        number, _, name = rest.partition(".")
        if start == "line" and name in LINE_KEYS and ordinal(number, MOST_BUDGET_LINES):
            lines.setdefault(int(number), {})[name] = value.strip()
    kept = [line for number, line in sorted(lines.items()) if _says(line) and str(number) != removed]
    for row, line in enumerate(kept, 1):
        texts |= {f"line.{row}.{name}": value for name, value in line.items() if value}
    if any(key == "add" for key, _ in pairs):
        texts[f"line.{len(kept) + 1}.role"] = NEW_LINES[0]
    return texts


def _says(line: Mapping[str, Any]) -> bool:
    """Whether a line has more than its role: one that was just added is not judged yet."""
    return any(line.get(name) for name in ("item", "price", "owned"))


def _new(asked: Visit) -> Purse:
    """The lines that a new budget begins with; mains and centre as they are chosen."""
    found: Purse = {"currency": "", "tax_included": "yes"}
    for number, role in enumerate(NEW_LINES, 1):
        found |= {f"line.{number}.role": role, f"line.{number}.quantity": "1", f"line.{number}.per": "each"}
    found |= {"line.1.quantity": "2", "line.1.item": asked.word("mains"), "line.2.item": asked.word("name")}
    return found


def budget_table(texts: Purse) -> dict[str, Any]:
    """The texts of the form as the table of a budget file."""
    data: dict[str, Any] = {key: _value(key, texts[key]) for key in HEAD_KEYS if key != "rules" and texts.get(key)}
    lines: list[dict[str, Any]] = []
    for key, value in texts.items():
        start, _, rest = key.partition(".")
        number, _, name = rest.partition(".")
        if start == "line" and value:
            lines += [{} for _ in range(int(number) - len(lines))]
            lines[int(number) - 1][name] = _value(name, value)
    return {**data, "line": [line for line in lines if _says(line)]}


def in_form(words: str) -> str:
    """What is told of a budget file, for somebody who has a form."""
    for key, field in _FILES_WORDS.items():
        words = words.replace(key, field)
    return words


def _value(name: str, text: str) -> Any:
    if name in YES_OR_NO_KEYS:
        return text == "yes"
    if name in ("quantity", "pieces") and text.isdecimal() and len(text) < 10:
        return int(text)
    return text


def known_rules(asked: Visit) -> list[str]:
    """The names of the rule sets that there are."""
    with reading(asked.catalogue.engine) as session:
        return [one.name for one in rulebook.all_sets(session)]


def rules_named(asked: Visit, name: str) -> RuleSet:
    """A rule set of the catalogue by name: no file, whatever the name says.

    Raises
    ------
    NotFound
        There is none of that name.
    """
    there = {name_key(one): one for one in known_rules(asked)}
    if name_key(name) not in there:
        raise NotFound(f"no rule set is named {name!r}; there are {', '.join(there.values())}")
    return asked.catalogue.rule_set(there[name_key(name)])


def _judged(asked: Visit, texts: Purse) -> tuple[Check, Mend]:
    rule_set = rules_named(asked, texts.get("rules") or DEFAULT_RULES)
    with refusals():
        return judged_budget(asked.catalogue, budget_table(texts), rule_set)


def _lines(texts: Purse) -> list[dict[str, str]]:
    numbers = sorted({int(key.split(".")[1]) for key in texts if key.startswith("line.")})
    return [
        {"number": str(number)} | {name: texts.get(f"line.{number}.{name}", "") for name in LINE_KEYS}
        for number in numbers
    ]


def _told(asked: Visit, texts: Purse, judged: tuple[Check, Mend] | None) -> dict[str, Any]:
    if judged is None:
        return {"judged": None}
    checked, mended = judged
    currency = checked.budget.currency
    rules = [(one.rule.name, one.rule.kind.value, one.judged, one.holds, one.why) for one in checked.results]
    return {
        "judged": budget_values(checked, mended),
        "verdict": PASSES_WORDS[checked.verdict.value],
        "passes": checked.verdict.value == "pass",
        "left": told_money(checked.budget.limit - checked.budget.total, currency),
        "over": checked.over > 0,
        "rules": rules,
        "mend_words": mended.words,
        "changes": [change.words for change in mended.changes],
        "products": [product.words for product in mended.products],
        "take": _taken(asked, texts, checked, mended) if mended.changes else "",
    }


def _taken(asked: Visit, texts: Purse, checked: Check, mended: Mend) -> str:
    """The address of the budget with the mend in it, and with what it changed as it was."""
    new, was = dict(texts), dict[str, str]()
    for number, (line, after) in enumerate(zip(checked.budget.lines, mended.amounts, strict=True), 1):
        if after == line.amount:
            continue
        prefix = f"line.{number}."
        whole = after % line.quantity == 0
        price = after // line.quantity if whole else after
        changed = {
            "price": str(to_amount(price, checked.budget.currency)),
            "currency": checked.budget.currency,
            "tax_included": "yes" if checked.budget.tax_included else "no",
            "quantity": str(line.quantity) if whole else "1",
            "pieces": str(line.pieces),
            "per": texts.get(f"{prefix}per") or "each",
        }  # fmt: skip
        was |= {f"{WAS}{prefix}{name}": texts.get(f"{prefix}{name}", "-") or "-" for name in changed}
        new |= {f"{prefix}{name}": value for name, value in changed.items()}
    return address("/money", (*asked.state, *new.items(), *was.items()))


def _as_it_was(asked: Visit) -> str:
    """The address of the budget before a mend."""
    was = {key.removeprefix(WAS): value for key, value in asked.query if key.startswith(WAS)}
    kept = {key: value for key, value in asked.query if not key.startswith(WAS)}
    return address("/money", {**kept, **{key: "" if value == "-" else value for key, value in was.items()}}.items())
