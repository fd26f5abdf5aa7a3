"""`triptych budget rules`: rule sets shown, copied, edited, and passed on as files."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triptych.catalog.cli.options import (
    DatabaseOption,
    Style,
    StyleOption,
    application,
    catalogue,
    print_csv,
    print_json,
    print_paragraph,
    print_table,
    tell,
)
from triptych.catalog.errors import BadInput, Refused
from triptych.recommender.api import Catalogue, open_catalogue
from triptych.recommender.givens import refusals, rules_of_file

if TYPE_CHECKING:
    from triptych.recommender.money.budget.rules import Rule, RuleSet

app = application("Rule sets: list, show, copy, edit, import, export, remove.")

NameArgument = Annotated[str, typer.Argument(help="The rule set's name, in any case.", show_default=False)]

RULES_HEAD = ("rule", "kind", "says", "why")


@app.command("list")
def list_(database: DatabaseOption = None, style: StyleOption = Style.TABLE) -> None:
    """List the rule sets: those that come with the tool, and your own.

    Example: triptych budget rules list
    """
    from triptych.catalog.database.engine import reading
    from triptych.recommender.advise import rulebook

    with open_catalogue(database) as opened:
        opened.keep_supplied_rules()
        with reading(opened.engine) as session:
            found = rulebook.all_sets(session)
    rows = [(one.name, "supplied" if rulebook.built_in(one.name) else "own", len(one.rules), one.why) for one in found]
    head = ("name", "origin", "rules", "for")
    if style is Style.JSON:
        print_json([dict(zip(head, row, strict=True)) for row in rows])
        return
    texts = [[str(cell) for cell in row] for row in rows]
    if style is Style.CSV:
        print_csv([head, *texts])
    else:
        print_table(head, texts, right=("rules",))


@app.command()
def show(name: NameArgument, database: DatabaseOption = None, style: StyleOption = Style.TABLE) -> None:
    """Show a rule set: each rule in words, and the order in which it spends.

    Example: triptych budget rules show film-first
    """
    from triptych.recommender.money.budget.rules import says
    from triptych.recommender.views import RULES

    with open_catalogue(database) as opened:
        found = opened.rule_set(name)
    if style is Style.JSON:
        print_json(found, RULES)
        return
    rows = [[rule.name, rule.kind.value, says(rule), rule.why] for rule in found.rules]
    if style is Style.CSV:
        print_csv([RULES_HEAD, *rows])
        return
    print_table(RULES_HEAD, rows, whole="rule")
    print_paragraph(f"{found.name}: {found.why}" if found.why else found.name)
    print_paragraph(f"Spends in this order: {', '.join(found.order)}.")


@app.command()
def copy(name: NameArgument, to: Annotated[str, typer.Argument(help="The copy's name.", show_default=False)],
         database: DatabaseOption = None) -> None:  # fmt: skip
    """Copy a rule set under another name, to be edited.

    Example: triptych budget rules copy film-first mine
    """
    with refusals(), open_catalogue(database) as opened:
        found = opened.rule_set(name)
        _refuse_known(opened, to)
        _keep(opened, replace(found, name=to.strip()))
    tell(f"copied {found.name} to {to}: change it with `triptych budget rules edit {to}`")


@app.command()
def edit(
    name: NameArgument,
    rule: Annotated[str, typer.Option("--rule", help="The rule to change, by its name.", show_default=False)],
    kind: Annotated[str, typer.Option("--kind", metavar="must|should", help="Whether it must hold.")] = "",
    factor: Annotated[
        str,
        typer.Option(
            "--factor", help="The new factor as the rule tells it: 20 % or 0.2, 1.5 × or 1.5, a sum of money."
        ),
    ] = "",
    why: Annotated[str, typer.Option("--why", help="The new reason.")] = "",
    remove: Annotated[bool, typer.Option("--remove", help="Take the rule out.")] = False,
    database: DatabaseOption = None,
) -> None:
    """Change one rule of a rule set of your own. Rules are added with export and import.

    A set that no budget could keep is refused, with the rules that contradict each other.

    Example: triptych budget rules edit mine --rule sub_cap --kind must --factor "30 %"
    """
    if not (kind or factor or why or remove):
        raise typer.BadParameter("say what to change: --kind, --factor, --why or --remove")
    with refusals(), open_catalogue(database) as opened:
        _refuse_supplied(name)
        found = opened.rule_set(name)
        _keep(opened, replace(found, rules=_edited(found, rule, kind, factor, why, remove)))
    tell(f"{found.name}: {rule} {'is removed' if remove else 'is changed'}")


def _edited(rules: RuleSet, name: str, kind: str, factor: str, why: str, remove: bool) -> tuple[Rule, ...]:
    from triptych.recommender.money.budget import toml_records
    from triptych.recommender.money.budget.errors import BadRule
    from triptych.recommender.money.budget.rule_file import refuse_no_sum
    from triptych.recommender.money.budget.rules import Duty, most_of

    names = [rule.name for rule in rules.rules]
    if name not in names:
        raise BadRule(f"{rules.name} has no rule named {name!r}; there are {', '.join(names)}")
    if remove:
        return tuple(rule for rule in rules.rules if rule.name != name)
    if kind and kind not in ("must", "should"):
        raise BadRule(f"--kind {kind!r}: write must or should")
    changes: dict[str, Any] = {"kind": Duty(kind)} if kind else {}
    changed = next(rule for rule in rules.rules if rule.name == name)
    refuse_no_sum(changed.of, factor, "--factor")
    most = Decimal(most_of(changed.of)[0])
    changes |= {"factor": toml_records.factor(factor, "--factor", most)} if factor else {}
    changes |= {"why": why} if why else {}
    return tuple(replace(rule, **changes) if rule.name == name else rule for rule in rules.rules)


@app.command("export")
def export(
    name: NameArgument,
    output: Annotated[Path | None, typer.Option("--output", "-o", help="The file; else stdout.")] = None,
    database: DatabaseOption = None,
) -> None:
    """Write a rule set as TOML, to be edited as text and imported again.

    Example: triptych budget rules export film-first -o mine.toml
    """
    from triptych.catalog.outputs import is_stream, refuse_no_file, write_file
    from triptych.recommender.money.budget.rule_file import rule_set_toml

    with open_catalogue(database) as opened:
        text = rule_set_toml(opened.rule_set(name))
    if output is None:
        typer.echo(text, nl=False)
        return
    if output.exists() and not is_stream(output):
        refuse_no_file(output)
        raise Refused(f"{output} exists already: name a new file, or remove it")
    write_file(output, text.encode(), replace=False)


@app.command("import")
def import_(
    file: Annotated[Path, typer.Argument(help="A rule set in TOML.", show_default=False)],
    name: Annotated[str, typer.Option("--name", help="Another name than the file's.")] = "",
    database: DatabaseOption = None,
) -> None:
    """Take a rule set from a TOML file; one of your own of the same name is replaced.

    Example: triptych budget rules import mine.toml --name mine
    """
    with refusals(), open_catalogue(database) as opened:
        found = rules_of_file(file)
        found = replace(found, name=name.strip() or found.name)
        _refuse_supplied(found.name)
        changed = _keep(opened, found)
    tell(f"{'saved' if changed else 'unchanged'}: {found.name}, {len(found.rules)} rules")


@app.command("remove")
def remove(name: NameArgument, database: DatabaseOption = None) -> None:
    """Remove a rule set of your own.

    Example: triptych budget rules remove mine
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.rule_sets import remove_rule_set

    _refuse_supplied(name)
    with catalogue(database) as engine, writing(engine) as session:
        remove_rule_set(session, name)
    tell(f"removed: {name}")


def _keep(opened: Catalogue, rules: RuleSet) -> bool:
    """Write a rule set that some budget can keep."""
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.rule_sets import save_rule_set
    from triptych.recommender.advise.rulebook import to_record
    from triptych.recommender.money.budget.contradictions import refuse_contradictions

    refuse_contradictions(rules)
    with writing(opened.engine) as session:
        return save_rule_set(session, to_record(rules))


def _refuse_supplied(name: str) -> None:
    from triptych.recommender.advise.rulebook import built_in

    if built_in(name):
        raise Refused(f"{name} comes with the tool and stays as it is: copy it under another name, and change that")


def _refuse_known(opened: Catalogue, name: str) -> None:
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.rows import name_key
    from triptych.catalog.database.rule_sets import rule_set_names
    from triptych.recommender.advise.rulebook import built_in

    if not name.strip():
        raise BadInput("the copy needs a name")
    with reading(opened.engine) as session:
        there = {name_key(known) for known in rule_set_names(session)}
    if built_in(name) or name_key(name) in there:
        raise Refused(f"there is a rule set named {name!r} already: name another")
