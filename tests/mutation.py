"""How much the tests notice: figures and conditions are changed one at a time, and the tests that concern them are run.

    python tests/mutation.py                      everything (hours)
    python tests/mutation.py --sample 60 --seed 1   a sample
    python tests/mutation.py costs judgement        of these modules or rule files only

Mutated are the figures of judgement.yaml, the limits of findings.yaml and the charge policy of readiness.yaml (a tenth
more), what stands in any rule file for heating alone (`heating`: its limits, its points, that it is of heating), and in
`diagnosis/` comparisons, `and`/`or`, `not`, sums and constants. Each mutant is written into a temporary copy of the tree
and tested in a process of its own that loads everything anew; a survivor is one that no test of TESTS fails on.
Not collected by pytest and not run in CI.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import os
import random
import re
import shutil
import signal
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest

for heavy in ("hypothesis", "numpy", "pydantic", "ruamel.yaml", "yaml", "jinja2"):  # once, not for every mutant
    importlib.import_module(heavy)

ROOT = Path(__file__).parents[1]
LONGEST = 240  # s; a mutant that never ends is noticed

DIAGNOSIS = "tests/diagnosis/test_"
# Module or rule file -> the test files that concern it, quickest first.
TESTS: dict[str, tuple[str, ...]] = {
    "amount": ("figures", "charge", "amount"),
    "certainty": ("certainty", "figures", "charge"),
    "charge": ("charge_by_hand", "figures", "amount", "charge"),
    "costs": ("figures", "costs"),
    "dangers": ("dangers", "../report/test_danger_first"),
    "explanations": ("explanations",),
    "field": ("field",),
    "findings": ("figures", "findings", "../report/test_next"),
    "good_day": ("figures", "../quantities/test_baseline"),
    "next_checks": ("figures", "next_checks"),
    "pipeline": ("steps", "start_up", "figures", "../report/test_doubts", "../report/test_sentences", "pipeline"),
    "ranking": ("figures", "ranking"),
    "record": ("record", "pipeline"),
    "second_fault": ("explaining_away", "second_fault"),
    "sensitivity": ("figures", "sensitivity"),
    "commissioning": ("start_up",),
    "start_up": ("start_up",),
    "start_up_air": ("start_up",),
    "suppositions": ("value_of_information",),
    "value_of_information": ("figures", "value_of_information"),
    "judgement": ("figures", "explaining_away", "charge_by_hand", "../quantities/test_plausibility_limits",
                  "../quantities/test_quantities", "../quantities/test_baseline", "../quantities/test_start_up_figures",
                  "../batch/test_logs"),
    "findings.yaml": ("finding_limits",),
    "readiness": ("charge_by_hand", "figures", "charge"),
    "heating": ("finding_limits", "in_heating", "../rulebook/test_rules", "../quantities/test_baseline",
                "../workshop/test_cases", "../lessons/test_lessons"),
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change of one file: the module or rule file it is of, the line, what was changed, and the whole new text."""

    module: str
    file: Path
    line: int
    change: str
    text: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.change}"


# -- figures of the rule files -----------------------------------------------------------------------------------------

_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?")
# Where figures stand: after these names, alone or in brackets.
_FIGURES = {
    "judgement": re.compile(r"\b(?:value|low|high|below|above|orifice|valve|wander|error|differ): (\[[^\]]*\]|[^,}]*)"),
    "findings.yaml": re.compile(r"\b(?:limits|spread): (\[[^\]]*\]|[^,}\n]*)"),
    "readiness": re.compile(r"\b(?:sure|leads_by|least_share|finest_percent): ([^,}\n]*)"),
}


def of_figures(module: str) -> Iterator[Mutant]:
    """Each figure a tenth more; nought a little, a whole number of things one more."""
    file = Path("rules") / f"{module.removesuffix('.yaml')}.yaml"
    text = (ROOT / file).read_text(encoding="utf-8")
    for place in _FIGURES[module].finditer(text):
        line = text.count("\n", 0, place.start()) + 1
        if text.splitlines()[line - 1].lstrip().startswith("#"):
            continue
        for number in _NUMBER.finditer(place[1]):
            start = place.start(1) + number.start()
            whole = re.search(r"(listed|unplaced|named): \{value: $", text[: place.start(1)]) is not None
            was = float(number[0])
            now = f"{was + 1:g}" if whole else f"{was * 1.1:.6g}" if was else "0.2"
            changed = text[:start] + now + text[start + len(number[0]) :]
            name = text.splitlines()[line - 1].split(":")[0].strip()
            yield Mutant(module, file, line, f"{name}: {number[0]} → {now}", changed)


_OF_HEATING = re.compile(r"\bmode: heating\b")
_ENTRY = re.compile(r"(?m)^(?= *- (?:id|applies|finding): )")  # a rule, a scale, what a fault brings by itself


def of_heating(module: str) -> Iterator[Mutant]:
    """Of all rule files: what is said of heating said of cooling, its points turned round, its limits a tenth more."""
    for file in sorted((ROOT / "rules").rglob("*.yaml")):
        text = file.read_text(encoding="utf-8")
        ends = [0, *(found.start() for found in _ENTRY.finditer(text)), len(text)]
        for start, end in pairwise(ends):
            entry = text[start:end]
            if _OF_HEATING.search(entry) is None:
                continue
            for what in (_OF_HEATING, re.compile(r"\bpoints: (-?[\d.]+)"), _FIGURES["findings.yaml"]):
                for found in what.finditer(entry):
                    yield from _of_heating(module, file, text, start, found)
        for found in re.finditer(r"\b(?:heating differ|not good in heating): (?:\{value: )?([^,}]*)", text):
            yield from _of_heating(module, file, text, 0, found)


def _of_heating(module: str, file: Path, text: str, start: int, found: re.Match[str]) -> Iterator[Mutant]:
    if found.re is _OF_HEATING:
        changes = [(found.start(), found.end(), "mode: cooling")]
    elif found[0].startswith("points"):
        changes = [(found.start(1), found.end(1), f"{-float(found[1]):g}")]
    else:
        numbers = _NUMBER.finditer(found[1])
        changes = [
            (found.start(1) + n.start(), found.start(1) + n.end(), f"{float(n[0]) * 1.1 or 0.2:.6g}") for n in numbers
        ]
    for first, last, now in changes:
        at = start + first
        changed = text[:at] + now + text[start + last :]
        line = text.count("\n", 0, at) + 1
        yield Mutant(module, file.relative_to(ROOT), line, f"{text[at : start + last]} → {now}", changed)


# -- code --------------------------------------------------------------------------------------------------------------

_FLIPPED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE, ast.GtE: ast.Lt, ast.Gt: ast.LtE, ast.LtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip


def of_code(module: str) -> Iterator[Mutant]:
    """Comparisons turned round, `and` for `or`, `not` taken out, + for -, constants a tenth more."""
    file = Path("diagnose/diagnosis") / f"{module}.py"
    source = (ROOT / file).read_text(encoding="utf-8")
    count = len(list(_places(ast.parse(source))))
    for i in range(count):
        tree = ast.parse(source)
        node = list(_places(tree))[i]
        before = ast.unparse(node)
        after = _changed(node)
        yield Mutant(module, file, getattr(node, "lineno", 0), f"{before} → {after}", ast.unparse(tree))


def _places(tree: ast.AST) -> Iterator[ast.expr]:
    hints = {
        id(inside)
        for node in ast.walk(tree)
        for hint in (getattr(node, "annotation", None), getattr(node, "returns", None))
        if hint is not None
        for inside in ast.walk(hint)
    }
    guards = {id(word.value) for word in ast.walk(tree) if isinstance(word, ast.keyword) and word.arg == "strict"}
    for node in ast.walk(tree):
        if id(node) in hints | guards:  # `zip(…, strict=True)` changes nothing but how a mistake would fail
            continue
        number = isinstance(node, ast.Constant) and isinstance(node.value, bool | int | float)
        sum_ = isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Sub)
        negated = isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not)
        if number or sum_ or negated or isinstance(node, ast.Compare | ast.BoolOp):
            yield node  # type: ignore[misc]


def _changed(node: ast.expr) -> str:
    """Changes the node in its tree; says what it is now."""
    if isinstance(node, ast.Compare):
        node.ops[0] = _FLIPPED[type(node.ops[0])]()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.BinOp):
        node.op = ast.Sub() if isinstance(node.op, ast.Add) else ast.Add()
    elif isinstance(node, ast.UnaryOp):
        node.operand, node.op = ast.UnaryOp(ast.Not(), node.operand), ast.Not()
    elif isinstance(node, ast.Constant):
        value = node.value
        whole = isinstance(value, int) and not isinstance(value, bool)
        node.value = not value if isinstance(value, bool) else value + 1 if whole else value * 1.1 or 0.1  # type: ignore[operator]
    return ast.unparse(node)


def mutants(modules: Sequence[str]) -> list[Mutant]:
    """Every mutant of these."""
    found: list[Mutant] = []
    for module in modules:
        of = of_heating if module == "heating" else of_figures if module in _FIGURES else of_code
        found += of(module)
    return found


# -- running -----------------------------------------------------------------------------------------------------------


def copy_of_the_tree(place: Path) -> Path:
    """What tests need, without what was compiled."""
    for name in ("diagnose", "rules", "tests", "cases"):
        shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, place)
    return place


def files_of(module: str) -> list[str]:
    """The test files that concern a module, and the one that holds that the values of all modules are frozen."""
    return [
        os.path.normpath(f"{DIAGNOSIS}{name}.py" if "/" not in name else f"tests/diagnosis/{name}.py")
        for name in (*TESTS[module], "record")
    ]


QUIET = ["-q", "-x", "-n", "0", "-p", "no:cacheprovider", "-W", "ignore::pytest.PytestAssertRewriteWarning"]


def passes(tree: Path, files: Sequence[str]) -> bool:
    """Whether these tests pass in this copy of the tree, in a silent child that loads all that is ours anew."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            signal.alarm(LONGEST)
            silent = os.open(os.devnull, os.O_RDWR)
            for stream in range(3):
                os.dup2(silent, stream)
            os.chdir(tree)  # what the tests leave behind goes with it
            sys.path[0] = str(tree)  # instead of the folder of this file
            os.environ |= {"PYTHONPATH": str(tree), "TMPDIR": str(tree), "DIAGNOSE_CACHE": str(tree / ".cache")}
            tempfile.tempdir = None
            code = int(pytest.main([*QUIET, *files]))
        finally:
            os._exit(code)
    return os.waitpid(child, 0)[1] == 0


def survives(mutant: Mutant, tree: Path) -> bool:
    """Whether no test of its module notices it."""
    place = tree / mutant.file
    original = place.read_text(encoding="utf-8")
    try:
        _write(place, mutant.text)
        return passes(tree, files_of(mutant.module))
    finally:
        _write(place, original)


def _write(place: Path, text: str) -> None:
    """Ten seconds newer than it was: Python tells a changed file from a compiled one by the second."""
    then = place.stat().st_mtime + 10
    place.write_text(text, encoding="utf-8")
    os.utime(place, (then, then))


def main() -> int:
    """Prints each survivor, then the score; 1 where the tests fail without any mutant."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("modules", nargs="*", choices=[*TESTS, []], help="all of them unless named")
    parser.add_argument("--sample", type=int, help="so many mutants, drawn at random")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    found = mutants(asked.modules or list(TESTS))
    if asked.sample is not None and asked.sample < len(found):
        found = random.Random(asked.seed).sample(found, asked.sample)
    with tempfile.TemporaryDirectory() as place:
        tree = copy_of_the_tree(Path(place) / "tree")
        for module in dict.fromkeys(mutant.module for mutant in found):
            if not passes(tree, files_of(module)):
                print(f"the tests of {module} fail without any mutant: nothing can be measured")
                return 1
        alive = 0
        for mutant in found:
            if survives(mutant, tree):
                alive += 1
                print(f"survives: {mutant}", flush=True)
    killed = len(found) - alive
    print(f"{killed} of {len(found)} killed ({100 * killed / max(1, len(found)):.0f} %)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
