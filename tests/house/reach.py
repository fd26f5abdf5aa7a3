"""What of the product nothing reaches, by name: `python -m tests.house.reach` prints it.

From the roots (the commands, what `import triptych` states as public, the migrations) every name that reached code
speaks is followed: a plain name or `module.name` to where it is defined or imported from, any `.name` to every method
and field of that name, whoever's it is. A field counts as read, too, where a string holds its name, as `getattr` and
SQL do. Naming something in an annotation reaches it; in `__all__` or in its own body it does not. Members of
enumerations are data and are not looked at; neither are methods that Python or a base from outside calls.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import Final, NamedTuple, TypeAlias

HOUSE: Final = Path(__file__).parents[2]
PACKAGES: Final = ("catalog", "recommender", "migrations", "seed_data")
ROOT: Final = "triptych"

LONGEST: Final = 200
"""Longer strings are prose, which names nothing."""

Function: TypeAlias = ast.FunctionDef | ast.AsyncFunctionDef
Key: TypeAlias = tuple[str, str]


class Spoken(NamedTuple):
    """What some code speaks of: definitions, attributes of whatever, and the words in its strings."""

    names: frozenset[Key]
    attributes: frozenset[str]
    words: frozenset[str]


@dataclass(frozen=True)
class Definition:
    """Something with a name: a function, class, method or constant, and what its own text speaks of."""

    module: str
    name: str
    line: int
    speaks: Spoken
    bound: bool = False
    """Called by whoever decorated it, such as a command."""


class Unreached(NamedTuple):
    """Something that nothing reaches, and where it is."""

    module: str
    name: str
    line: int

    @property
    def title(self) -> str:
        """Its full name, from the package on."""
        return f"{self.module.removeprefix(ROOT + '.')}.{self.name}"


@dataclass
class Module:
    """One file: what it defines, what it brings in, and what runs when it is imported."""

    name: str
    tree: ast.Module
    imports: dict[str, Key] = field(default_factory=dict)
    brought: set[str] = field(default_factory=set)
    definitions: dict[str, list[Definition]] = field(default_factory=dict)
    fields: dict[str, int] = field(default_factory=dict)
    runs: list[ast.AST] = field(default_factory=list)

    def __post_init__(self) -> None:
        for node in ast.walk(self.tree):
            if isinstance(node, ast.ImportFrom) and node.module:
                self.brought.add(node.module)
                for alias in node.names:
                    self.imports[alias.asname or alias.name] = (node.module, alias.name)
                    self.brought.add(f"{node.module}.{alias.name}")
            elif isinstance(node, ast.Import):
                for alias in node.names:
                    self.brought.add(alias.name)
                    if alias.asname:
                        self.imports[alias.asname] = (alias.name, "")
        self._define()

    def _define(self) -> None:
        own = {name for node in self.tree.body for name in _names_of(node)}
        self.own = own
        for node in self.tree.body:
            names = _names_of(node)
            if isinstance(node, Function):
                self._add(node.name, node, bound=bool(node.decorator_list) and _registers(node))
            elif isinstance(node, ast.ClassDef):
                self._add_class(node)
            elif names and "__all__" not in names:
                for name in names:
                    self._add(name, node)
            elif not names and not isinstance(node, ast.Import | ast.ImportFrom):
                self.runs.append(node)

    def _add_class(self, node: ast.ClassDef) -> None:
        methods = [each for each in node.body if isinstance(each, Function)]
        rest = [each for each in ast.iter_child_nodes(node) if each not in methods]
        kept = [each for each in methods if _is_dunder(each.name)]
        self._add(node.name, *rest, *kept, line=node.lineno)
        for method in methods:
            if method not in kept:
                self._add(f"{node.name}.{method.name}", method, bound=_registers(method))
        for each in rest:
            if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name):
                self.fields[f"{node.name}.{each.target.id}"] = each.lineno

    def _add(self, name: str, *nodes: ast.AST, line: int = 0, bound: bool = False) -> None:
        spoken = self.spoken(nodes, "" if "." in name else name)
        made = Definition(self.name, name, line or getattr(nodes[0], "lineno", 0), spoken, bound)
        self.definitions.setdefault(name, []).append(made)

    def spoken(self, nodes: Iterable[ast.AST], but: str = "") -> Spoken:
        """What some code speaks of, but for one name of its own."""
        names: set[Key] = set()
        attributes: set[str] = set()
        said: set[str] = set()
        for node in nodes:
            local = _locals(node) if isinstance(node, Function) else set()
            late = _late_imports(node) if isinstance(node, Function) else {}
            for each in ast.walk(node):
                if isinstance(each, ast.Name) and isinstance(each.ctx, ast.Load) and each.id not in local:
                    names |= {late[each.id]} if each.id in late else self._resolved(each.id)
                elif isinstance(each, ast.Attribute):
                    chain = _chain(each)
                    found = self._through(chain) if chain and chain[0] not in local else None
                    names |= {found} if found else set()
                    if isinstance(each.ctx, ast.Load):
                        attributes.add(each.attr)
                elif isinstance(each, ast.Constant) and isinstance(each.value, str) and len(each.value) < LONGEST:
                    said |= set(re.findall(r"\w+", each.value))
                    names |= {key for key in self._resolved(each.value) if key[0] == self.name}
        return Spoken(frozenset(names - {(self.name, but)}), frozenset(attributes), frozenset(said))

    def _resolved(self, name: str) -> set[Key]:
        if name in self.own:
            return {(self.name, name)}
        return {self.imports[name]} if name in self.imports else set()

    def _through(self, chain: list[str]) -> Key | None:
        """`module.name`, through an imported module."""
        if chain[0] not in self.imports or len(chain) != 2:
            return None
        module, name = self.imports[chain[0]]
        return (f"{module}.{name}".rstrip("."), chain[1])


def _chain(node: ast.expr) -> list[str] | None:
    parts: list[str] = []
    while isinstance(node, ast.Attribute):
        parts.append(node.attr)
        node = node.value
    return [node.id, *reversed(parts)] if isinstance(node, ast.Name) else None


def _names_of(node: ast.stmt) -> list[str]:
    if isinstance(node, Function | ast.ClassDef):
        return [node.name]
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    return [each.id for target in targets for each in ast.walk(target) if isinstance(each, ast.Name)]


def _locals(function: Function) -> set[str]:
    """Names that a function binds itself, and which therefore mean nothing outside."""
    outer = {name for node in ast.walk(function) if isinstance(node, ast.Global) for name in node.names}
    bound = {node.arg for node in ast.walk(function) if isinstance(node, ast.arg)}
    stored = {n.id for n in ast.walk(function) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
    return (bound | stored) - outer


def _late_imports(function: Function) -> dict[str, Key]:
    """What a function imports itself, which hides what the module has of the same name."""
    found = [node for node in ast.walk(function) if isinstance(node, ast.ImportFrom) and node.module]
    return {alias.asname or alias.name: (str(node.module), alias.name) for node in found for alias in node.names}


PLAIN: Final = {"property", "cached_property", "staticmethod", "classmethod", "lru_cache", "cache", "contextmanager",
                "dataclass", "wraps", "overload", "override", "total_ordering", "abstractmethod"}  # fmt: skip
"""Decorators that change a function but hand it to nobody."""


def _registers(node: Function) -> bool:
    """Whether a decorator hands the function to somebody who calls it, as `@app.command()` does."""
    named = [each.func if isinstance(each, ast.Call) else each for each in node.decorator_list]
    last = [each.attr if isinstance(each, ast.Attribute) else getattr(each, "id", "") for each in named]
    return any(name not in PLAIN for name in last)


def _is_dunder(name: str) -> bool:
    return name.startswith("__") and name.endswith("__")


@dataclass
class House:
    """All modules of the product, and what is reached in them."""

    folder: Path = HOUSE
    packages: tuple[str, ...] = PACKAGES
    roots: tuple[Key, ...] = ()

    @cached_property
    def modules(self) -> dict[str, Module]:
        """Every module of the product by its full name."""
        found = {}
        for package in self.packages:
            for path in sorted((self.folder / package).rglob("*.py")):
                name = ".".join((ROOT, *path.relative_to(self.folder).with_suffix("").parts)).removesuffix(".__init__")
                found[name] = Module(name, ast.parse(path.read_text(encoding="utf-8")))
        return found

    @cached_property
    def templates(self) -> frozenset[str]:
        """Every word in a template, which may be the name of a method."""
        texts = (path.read_text(encoding="utf-8") for p in self.packages for path in (self.folder / p).rglob("*.j2"))
        return frozenset(word for text in texts for word in re.findall(r"\.(\w+)", text))

    def _found(self, key: Key) -> Iterator[Definition | Module]:
        """What a key stands for: a definition, a module, or either through a package that passes it on."""
        module, name = key
        if f"{module}.{name}".rstrip(".") in self.modules:
            yield self.modules[f"{module}.{name}".rstrip(".")]
        home = self.modules.get(module)
        if home is None:
            return
        yield home
        if name in home.definitions:
            yield from home.definitions[name]
        elif name in home.imports and home.imports[name] != key:
            yield from self._found(home.imports[name])

    @cached_property
    def _walked(self) -> tuple[set[int], set[str]]:
        """What the roots reach, by identity, and the names of fields that it reads."""
        seen: set[int] = set()
        spoken, read = set(self.templates), set(self.templates)
        methods: dict[str, list[Definition]] = {}
        waiting: list[Definition | Module] = [each for key in self.roots for each in self._found(key)]
        while waiting:
            one = waiting.pop()
            if id(one) in seen:
                continue
            seen.add(id(one))
            if isinstance(one, Module):
                speaks = one.spoken(one.runs)
                waiting += [each for group in one.definitions.values() for each in group if _runs_by_itself(each)]
                waiting += [self.modules[name] for name in one.brought if name in self.modules]
            else:
                speaks = one.speaks
                if "." not in one.name:
                    for method in self._methods(one):
                        methods.setdefault(method.name.split(".")[1], []).append(method)
                        if method.bound or method.name.split(".")[1] in spoken | self._inherited(one):
                            waiting.append(method)
            spoken |= speaks.attributes
            read |= speaks.attributes | speaks.words
            waiting += [each for key in speaks.names for each in self._found(key)]
            waiting += [method for name in speaks.attributes for method in methods.get(name, ())]
        return seen, read

    def _methods(self, owner: Definition) -> list[Definition]:
        groups = self.modules[owner.module].definitions.items()
        return [each for name, group in groups if name.startswith(f"{owner.name}.") for each in group]

    def _inherited(self, owner: Definition) -> set[str]:
        """Names that a class answers to because a base from outside the product calls them."""
        if not self._methods(owner):
            return set()
        kind = getattr(import_module(owner.module), owner.name)
        bases = [base for base in kind.__mro__[1:] if not base.__module__.startswith(f"{ROOT}.")]
        return {name for base in bases if base is not object for name in dir(base)}

    def public_methods(self, roots: Iterable[Key]) -> Iterator[Key]:
        """What whoever is given a class of the roots may call."""
        for module, owner in roots:
            home = self.modules.get(module)
            for name in home.definitions if home else ():
                if name.startswith(f"{owner}.") and not name.startswith(f"{owner}._"):
                    yield (module, name)

    def unreached(self) -> list[Unreached]:
        """What nothing reaches: once for each name; of a class that nothing reaches, the class alone."""
        reached, read = self._walked
        found = []
        for module in self.modules.values():
            alive = {name for name, group in module.definitions.items() if any(id(one) in reached for one in group)}
            for name, group in module.definitions.items():
                if name not in alive and ("." not in name or name.split(".")[0] in alive):
                    found.append(Unreached(module.name, name, group[0].line))
            for name, line in module.fields.items():
                owner, word = name.split(".")
                if owner in alive and word not in read and not _is_dunder(word):
                    found.append(Unreached(module.name, name, line))
        return sorted(found)


def _runs_by_itself(each: Definition) -> bool:
    return each.bound and "." not in each.name


def commands() -> tuple[Key, ...]:
    """Where the commands live, and what else is called from outside."""
    from triptych.recommender.cli import COMMANDS

    return (
        ("triptych.recommender.cli", "main"),
        *((f"{ROOT}.{entry.module}", entry.name) for entry in COMMANDS.values()),
        *_stated(),
        *_migrations(),
    )


def _stated() -> Iterator[Key]:
    """What `import triptych` gives: the public interface."""
    module = import_module(ROOT)
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from ((node.module, alias.name) for alias in node.names)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.startswith(f"{ROOT}."):
            yield (node.value.replace(":", ".").rpartition(".")[0], node.value.replace(":", ".").rpartition(".")[2])


def _migrations() -> Iterator[Key]:
    """What Alembic calls and reads in every step, and the steps that it imports by their file."""
    yield ("triptych.migrations.env", "")
    for path in sorted((HOUSE / "migrations" / "versions").glob("*.py")):
        name = f"{ROOT}.migrations.versions.{path.stem}"
        for part in ("upgrade", "downgrade", "revision", "down_revision", "branch_labels", "depends_on"):
            yield (name, part)


def house() -> House:
    """The product with everything that is called from outside as roots."""
    roots = commands()
    return House(roots=(*roots, *House().public_methods(roots)))


def main() -> None:
    """Print what nothing reaches, a line each."""
    for one in house().unreached():
        print(f"{one.line:5} {one.title}")


if __name__ == "__main__":
    main()
