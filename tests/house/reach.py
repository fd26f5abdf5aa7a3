"""What of the product nothing reaches, by name: `python -m tests.house.reach` prints it.

From the roots (the commands, what `import triptych` states as public, the migrations) every name that reached code
speaks is followed: a plain name or `module.name` to where it is defined or imported from; any `.name` to every method,
property and field of that name in the modules that its own module brings in, a `.name()` to methods alone. A field or
a property counts as read, too, where a string holds its name, as `getattr` and SQL do. Naming something in an
annotation reaches it; in `__all__` or in its own body it does not. Members of enumerations are data and are not looked
at; neither are methods that Python or a base from outside calls.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import Final, NamedTuple

from tests.house.names import ROOT, Definition, Key, Module, is_dunder

HOUSE: Final = Path(__file__).parents[2]
PACKAGES: Final = ("catalog", "recommender", "migrations", "seed_data")


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
class _Walk:
    """What has been reached, by identity, and the attributes and strings that it speaks of, by module."""

    seen: set[int] = field(default_factory=set)
    members: list[Definition] = field(default_factory=list)
    spoken: dict[str, set[tuple[str, bool]]] = field(default_factory=dict)
    words: set[str] = field(default_factory=set)


@dataclass
class House:
    """All modules of the product, and what is reached in them."""

    folder: Path = HOUSE
    packages: tuple[str, ...] = PACKAGES
    roots: tuple[Key, ...] = ()
    _knowledge: dict[str, frozenset[str]] = field(default_factory=dict)

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
    def _walked(self) -> _Walk:
        """What the roots reach."""
        walk = _Walk()
        waiting: list[Definition | Module] = [each for key in self.roots for each in self._found(key)]
        while waiting:
            while waiting:
                one = waiting.pop()
                if id(one) not in walk.seen:
                    walk.seen.add(id(one))
                    waiting += self._led_to(one, walk)
            waiting += [each for each in walk.members if id(each) not in walk.seen and self._is_meant(each, walk)]
        return walk

    def _led_to(self, one: Definition | Module, walk: _Walk) -> Iterator[Definition | Module]:
        """What a definition or a module leads to by itself; what it says of attributes goes into the walk."""
        if isinstance(one, Module):
            home, speaks = one.name, one.spoken(one.runs)
            yield from (each for group in one.definitions.values() for each in group if _runs_by_itself(each))
            yield from (self.modules[name] for name in one.brought if name in self.modules)
        else:
            home, speaks = one.module, one.speaks
            walk.members += self._methods(one)
            yield from self._called_from_outside(one)
        walk.words |= speaks.words
        for attribute in speaks.attributes:
            walk.spoken.setdefault(attribute.name, set()).add((home, attribute.called))
        for key in speaks.names:
            yield from self._found(key)

    def _is_meant(self, member: Definition, walk: _Walk) -> bool:
        """Whether some code may mean this method or property where it speaks of an attribute of that name."""
        word = member.name.split(".")[1]
        if word in self.templates or (member.plain and word in walk.words):
            return True
        return any(
            member.module in self._known_to(module) and self._fits(member, word, called)
            for module, called in walk.spoken.get(word, ())
        )

    def _fits(self, member: Definition, word: str, called: bool) -> bool:
        if called:
            return not member.plain
        return member.plain or word not in self._data

    @cached_property
    def _data(self) -> frozenset[str]:
        """Names of fields and properties: read, and not called, they mean those and no method."""
        fields = {name.split(".")[1] for module in self.modules.values() for name in module.fields}
        groups = (group for module in self.modules.values() for group in module.definitions.values())
        return frozenset(fields | {one.name.split(".")[1] for group in groups for one in group if one.plain})

    def _known_to(self, name: str) -> frozenset[str]:
        """The modules that a module brings in, and those that they do, and so on; and itself."""
        if name not in self._knowledge:
            known, waiting = {name}, [name]
            while waiting:
                new = {each for each in self.modules[waiting.pop()].brought if each in self.modules} - known
                known |= new
                waiting += new
            self._knowledge[name] = frozenset(known)
        return self._knowledge[name]

    def _called_from_outside(self, owner: Definition) -> list[Definition]:
        """Methods that a decorator handed on, or that a base from outside the product calls."""
        answers = self._inherited(owner)
        return [each for each in self._methods(owner) if each.bound or each.name.split(".")[1] in answers]

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

    def _is_read(self, home: str, word: str, walk: _Walk) -> bool:
        """Whether some code reads a field: by its name, or in a string as `getattr` and SQL do."""
        spoken = any(home in self._known_to(module) for module, _ in walk.spoken.get(word, ()))
        return spoken or word in walk.words | self.templates or is_dunder(word)

    def unreached(self) -> list[Unreached]:
        """What nothing reaches: once for each name; of a class that nothing reaches, the class alone."""
        walk, found = self._walked, []
        for module in self.modules.values():
            alive = {name for name, group in module.definitions.items() if any(id(one) in walk.seen for one in group)}
            for name, group in module.definitions.items():
                if name not in alive and ("." not in name or name.split(".")[0] in alive):
                    found.append(Unreached(module.name, name, group[0].line))
            for name, line in module.fields.items():
                if name.split(".")[0] in alive and not self._is_read(module.name, name.split(".")[1], walk):
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
    made = House(roots=commands())
    made.roots += tuple(made.public_methods(made.roots))
    return made


def main() -> None:
    """Print what nothing reaches, a line each."""
    for one in house().unreached():
        print(f"{one.line:5} {one.title}")


if __name__ == "__main__":
    main()
