"""How well the invented datasheets are read: `python -m tests.catalog.datasheet.score [FOLDER [NAME ...]]`.

The folders are those of `corpus_check.FOLDERS`, and lines; a reader may be tuned on all but aside3.

A figure is *stated* where the truth has it and no honest reader may refuse it. What is read of a loudspeaker is held
against the one of the truth whose name it shares, or else whose place.
"""

import re
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import isclose
from pathlib import Path
from time import perf_counter

from tests.catalog.datasheet.corpus_check import CORPUS, UNITS, Sheet, sheets
from triptych.catalog.datasheet import Fate, ReadField, ReadStatus, SheetRecord, read_datasheet
from triptych.catalog.datasheet import ReadSheet as Read
from triptych.catalog.fields import COLUMNS as FIELDS

OUTCOMES = ("right", "silently wrong", "wrong with a note", "refused", "not read", "vanished")
SAME_WORDS = {"textile": "fabric", "cloth": "fabric", "aluminum": "aluminium", "coated": "", "doped": "", "soft": ""}
"""Words of a material that an English reader takes for one another, or that name none."""


@dataclass(frozen=True)
class Judged:
    """One column of one loudspeaker: what became of it, what it should be and what it is."""

    outcome: str
    column: str
    truth: str
    read: str
    stated: bool


@dataclass
class Score:
    """What became of the columns of one sheet."""

    name: str
    kind: str
    tidy: bool
    several: bool
    seconds: float = 0.0
    found: int = 0
    wanted: int = 0
    judged: list[Judged] = field(default_factory=list)


def score(sheet: Sheet) -> Score:
    """Return what becomes of every figure of a sheet."""
    truths = [who for who in sheet.truth["loudspeaker"] if isinstance(who, dict)]  # type: ignore[attr-defined]
    start = perf_counter()
    read = read_sheet(sheet)
    records = [record for record in read.records if record.fields]
    seconds = perf_counter() - start
    made = Score(sheet.name, str(sheet.truth["kind"]), bool(sheet.truth["tidy"]), len(truths) > 1, seconds)
    made.found, made.wanted = len(records), len(truths)
    pairs, rest = paired(truths, records)
    left_out = " ".join(one.text for one in read.numbers if one.fate in (Fate.NOT_READ, Fate.REFUSED))
    for truth, record in pairs:
        made.judged += judge(truth, record, left_out)
    for record in rest:
        made.judged += judge({}, record, left_out)
    return made


def read_sheet(sheet: Sheet) -> Read:
    """Read a sheet by the door that its file would come through."""
    pages = list(CORPUS.glob(f"**/{sheet.name}.html"))
    return read_datasheet(pages[0].read_text("utf-8") if pages else sheet.text)


def paired(
    truths: Sequence[dict[str, object]], records: Sequence[SheetRecord]
) -> tuple[list[tuple[dict[str, object], SheetRecord | None]], list[SheetRecord]]:
    """Truths with their records, and the records left over."""
    left = list(records)
    pairs: list[tuple[dict[str, object], SheetRecord | None]] = []
    for place, truth in enumerate(truths):
        best = max(left, key=lambda record: _alike(truth, record), default=None)
        if best is not None and _alike(truth, best) <= 0:
            same = len(truths) == len(records)
            best = records[place] if same and records[place] in left else (left[0] if len(truths) == 1 else None)
        if best is not None:
            left = [record for record in left if record is not best]
        pairs.append((truth, best))
    return pairs, left


def _alike(truth: dict[str, object], record: SheetRecord) -> float:
    """How much of a name is shared."""
    wanted = _words(" ".join(str(truth.get(key, "")) for key in ("maker", "series", "model")))
    found = _words(" ".join(str(record.values.get(key) or "") for key in ("maker", "series", "model")))
    own = _words(str(truth.get("model", "")))
    return len(own & found) + 0.1 * len(wanted & found) - 0.01 * len(found - wanted) if found & own else 0.0


def _words(text: str) -> set[str]:
    return set(re.findall(r"\w+", text.casefold()))


def judge(truth: dict[str, object], record: SheetRecord | None, left_out: str) -> Iterator[Judged]:
    """Judge every column that the truth or the reading has."""
    figures, also = _table(truth, "figures"), _table(truth, "also")
    optional = _table(truth, "may_refuse")
    fields = record.fields if record else {}
    unread = f"{' '.join(record.unread) if record else ''} {left_out}"
    yield from (_judge_name(name, truth, fields) for name in ("maker", "model"))
    for column in (*figures, *(c for c in fields if c not in figures)):
        if column in ("maker", "model", "series", "family", "status", "note"):
            continue
        right = [str(figures[column])] if column in figures else []
        right += [str(value) for value in also.get(column, ())]  # type: ignore[attr-defined]
        found = fields.get(column)
        stated = column in figures and column not in optional
        shown = "" if found is None or found.value is None else str(FIELDS[column].plain(found.value))
        outcome = _outcome(column, right, found, unread)
        if outcome in ("refused", "not read", "vanished") and not stated:
            continue
        yield Judged(outcome, column, " | ".join(right), shown, stated)


def _judge_name(column: str, truth: dict[str, object], fields: object) -> Judged:
    found = fields.get(column) if isinstance(fields, dict) or hasattr(fields, "get") else None
    value = str(found.value) if found is not None and found.value is not None else ""
    whole = " ".join(str(truth.get(key, "")) for key in ("series", "model") if truth.get(key))
    wanted = {str(truth.get(column, ""))} | ({whole} if column == "model" else set())
    if value and any(_words(value) == _words(one) for one in wanted):
        return Judged("name right", column, "", value, stated=False)
    noted = found is not None and (found.flags or found.status is not ReadStatus.READ)
    outcome = "name missing" if not value else "name noted wrong" if noted else "name silently wrong"
    return Judged(outcome, column, "/".join(sorted(wanted)), value, stated=False)


def _outcome(column: str, right: Sequence[str], found: ReadField | None, unread: str) -> str:
    if found is None:
        numbers = [number for value in right for number in re.findall(r"\d+", value)]
        return "not read" if any(number in unread for number in numbers) else "vanished"
    if found.value is None:
        return "refused"
    if any(same_value(column, value, FIELDS[column].plain(found.value)) for value in right):
        return "right"
    return "wrong with a note" if found.flags or found.status is not ReadStatus.READ else "silently wrong"


def same_value(column: str, truth: str, value: object) -> bool:
    """Return whether a value is what a truth says, within what rounding leaves."""
    if column in UNITS:
        wanted = [float(number) for number in re.findall(r"\d+(?:\.\d+)?", truth)]
        got = [float(str(number)) for number in (value if isinstance(value, list) else [value])]
        close = 0.03 if column == "sensitivity" else 0.0
        return len(wanted) == len(got) and all(
            isclose(one, other, rel_tol=1e-3, abs_tol=close) for one, other in zip(wanted, got, strict=True)
        )
    if column == "bung":
        return (truth == "yes") is value
    if column == "roles":
        return set(truth.split(";")) == set(value if isinstance(value, list) else [str(value)])
    if column == "tweeter_material":
        return bool(_material(truth) & _material(str(value))) or truth == str(value)
    return truth.casefold() == str(value).casefold()


def _material(text: str) -> set[str]:
    return {SAME_WORDS.get(word, word) for word in _words(text)} - {""}


def _table(truth: dict[str, object], key: str) -> dict[str, object]:
    found = truth.get(key, {})
    return found if isinstance(found, dict) else {}


def lines() -> Iterator[Sheet]:
    """The single lines of the trade, each as a sheet."""
    for number, line in enumerate(tomllib.loads((CORPUS / "lines.toml").read_text("utf-8"))["line"], 1):
        who = {key: line[key] for key in ("figures", "also", "may_refuse") if key in line}
        yield Sheet(f"line {number:02}", line["text"], {"kind": "line", "tidy": True, "loudspeaker": [who]})


def report(scores: Sequence[Score], listed: bool) -> Iterator[str]:
    """Lines that tell a score: by kind, tidy, several; with `listed`, each sheet with all that isn't right."""
    groups: dict[str, list[Score]] = {"all": list(scores)}
    for one in scores:
        groups.setdefault("several loudspeakers" if one.several else "one loudspeaker", []).append(one)
        groups.setdefault("tidy" if one.tidy else "untidy", []).append(one)
        groups.setdefault(one.kind, []).append(one)
    for one in scores if listed else ():
        yield f"== {one.name}: {one.found} of {one.wanted} loudspeakers"
        for judged in one.judged:
            if judged.outcome not in ("right", "name right"):
                yield f"   {judged.outcome}: {judged.column} = {judged.read!r}, not {judged.truth!r}"
    yield f"{'':22}{'stated':>8}{'read':>8}" + "".join(f"{outcome:>19}" for outcome in OUTCOMES)
    for name, some in groups.items():
        every = [one for each in some for one in each.judged]
        stated = sum(one.stated for one in every)
        got = sum(one.stated and one.outcome == "right" for one in every)
        counts = Counter(one.outcome for one in every)
        share = f"{100 * got / max(stated, 1):.1f}%"
        yield f"{name:22}{stated:8}{share:>8}" + "".join(f"{counts[outcome]:19}" for outcome in OUTCOMES)
    names = Counter(one.outcome for each in scores for one in each.judged if one.outcome.startswith("name"))
    counted = sum(one.found == one.wanted for one in scores)
    yield f"names: {dict(names)}; sheets with the right number of loudspeakers: {counted} of {len(scores)}"
    yield f"{60 * len(scores) / sum(one.seconds for one in scores):.0f} sheets a minute"


def main(arguments: Sequence[str]) -> None:
    """Print the score of a folder, or of the sheets of it whose names hold one of the words."""
    folder, *words = arguments or ["open"]
    source = lines() if folder == "lines" else sheets(folder)
    chosen = [sheet for sheet in source if not words or any(word in sheet.name for word in words)]
    told = report([score(sheet) for sheet in chosen], listed=folder != "aside3")
    sys.stdout.write("\n".join(told) + "\n")


if __name__ == "__main__":
    assert Path(CORPUS).is_dir()
    main(sys.argv[1:])
