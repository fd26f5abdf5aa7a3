"""What each module of the product defines, and what its code speaks of by name."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final, NamedTuple, TypeAlias

LONGEST: Final = 200
"""Longer strings are prose, which names nothing."""

ROOT: Final = "triptych"
Function: TypeAlias = ast.FunctionDef | ast.AsyncFunctionDef
Key: TypeAlias = tuple[str, str]


class Attribute(NamedTuple):
    """An attribute of whatever it may be, and whether it is called on the spot."""

    name: str
    called: bool


class Spoken(NamedTuple):
    """What some code speaks of: definitions, attributes, and the words in its strings."""

    names: frozenset[Key]
    attributes: frozenset[Attribute]
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
    plain: bool = False
    """Read like a field, as a property is."""


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
        kept = [each for each in methods if is_dunder(each.name)]
        self._add(node.name, *rest, *kept, line=node.lineno)
        for method in methods:
            if method not in kept:
                plain = any(word in PROPERTIES for word in _decorators(method))
                self._add(f"{node.name}.{method.name}", method, bound=_registers(method), plain=plain)
        for each in rest:
            if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name):
                self.fields[f"{node.name}.{each.target.id}"] = each.lineno

    def _add(self, name: str, *nodes: ast.AST, line: int = 0, bound: bool = False, plain: bool = False) -> None:
        spoken = self.spoken(nodes, "" if "." in name else name)
        made = Definition(self.name, name, line or getattr(nodes[0], "lineno", 0), spoken, bound, plain)
        self.definitions.setdefault(name, []).append(made)

    def spoken(self, nodes: Iterable[ast.AST], but: str = "") -> Spoken:
        """What some code speaks of, but for one name of its own."""
        names: set[Key] = set()
        attributes: set[Attribute] = set()
        said: set[str] = set()
        for node in nodes:
            local = _locals(node) if isinstance(node, Function) else set()
            late = _late_imports(node) if isinstance(node, Function) else {}
            called = {id(each.func) for each in ast.walk(node) if isinstance(each, ast.Call)}
            for each in ast.walk(node):
                if isinstance(each, ast.Name) and isinstance(each.ctx, ast.Load) and each.id not in local:
                    names |= {late[each.id]} if each.id in late else self._resolved(each.id)
                elif isinstance(each, ast.Attribute):
                    chain = _chain(each)
                    found = self._through(chain) if chain and chain[0] not in local else None
                    names |= {found} if found else set()
                    if isinstance(each.ctx, ast.Load):
                        attributes.add(Attribute(each.attr, id(each) in called))
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


PROPERTIES: Final = {"property", "cached_property", "hybrid_property"}
PLAIN: Final = PROPERTIES | {"staticmethod", "classmethod", "lru_cache", "cache", "contextmanager",
                "dataclass", "wraps", "overload", "override", "total_ordering", "abstractmethod"}  # fmt: skip
"""Decorators that change a function but hand it to nobody."""


def _registers(node: Function) -> bool:
    """Whether a decorator hands the function to somebody who calls it, as `@app.command()` does."""
    return any(name not in PLAIN for name in _decorators(node))


def _decorators(node: Function) -> list[str]:
    named = [each.func if isinstance(each, ast.Call) else each for each in node.decorator_list]
    return [each.attr if isinstance(each, ast.Attribute) else getattr(each, "id", "") for each in named]


def is_dunder(name: str) -> bool:
    return name.startswith("__") and name.endswith("__")
