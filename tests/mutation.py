"""How much the tests notice: figures and conditions are changed one at a time, and the tests that concern them are run.

    python tests/mutation.py                      everything (hours)
    python tests/mutation.py --sample 60 --seed 1   a sample
    python tests/mutation.py costs judgement        of these modules or rule files only

Mutated are the figures of judgement.yaml, the limits of findings.yaml and the charge policy of readiness.yaml (a tenth
more), and in `diagnosis/` comparisons, `and`/`or`, `not`, sums and constants. Each mutant is written into a temporary
copy of the tree; a survivor is one that no test of TESTS fails on. Not collected by pytest and not run in CI.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue

ROOT = Path(__file__).parents[1]
LONGEST = 240  # s; a mutant that never ends is noticed
PROCESSES = 2

DIAGNOSIS = "tests/diagnosis/test_"
# Module or rule file -> the test files that concern it, quickest first.
TESTS: dict[str, tuple[str, ...]] = {
    "amount": ("figures", "charge", "amount"),
    "certainty": ("certainty", "figures", "charge"),
    "charge": ("figures", "charge", "certainty"),
    "costs": ("figures", "costs"),
    "dangers": ("dangers", "../report/test_danger_first"),
    "explanations": ("explanations",),
    "field": ("field",),
    "findings": ("figures", "findings"),
    "good_day": ("figures", "../quantities/test_baseline"),
    "next_checks": ("figures", "next_checks"),
    "pipeline": ("../report/test_doubts", "../report/test_sentences", "pipeline"),
    "ranking": ("figures", "ranking"),
    "record": ("pipeline",),
    "second_fault": ("figures", "second_fault"),
    "sensitivity": ("figures", "sensitivity"),
    "commissioning": ("start_up",),
    "start_up": ("start_up",),
    "start_up_air": ("start_up",),
    "suppositions": ("value_of_information",),
    "value_of_information": ("figures", "value_of_information"),
    "judgement": ("figures", "../quantities/test_plausibility_limits", "../quantities/test_quantities",
                  "../quantities/test_baseline"),
    "findings.yaml": ("finding_limits",),
    "readiness": ("charge",),
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change of one file: the module or rule file it is of, the line, what was changed, and the whole new text."""

    module: str
    file: Path
    line: int
    change: str
    text: str


# -- figures of the rule files -----------------------------------------------------------------------------------------

_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?")
# Where figures stand: after these names, alone or in brackets.
_FIGURES = {
    "judgement": re.compile(r"\b(?:value|low|high|below|above|orifice|valve|wander|differ): (\[[^\]]*\]|[^,}]*)"),
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
    for node in ast.walk(tree):
        if id(node) in hints:
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
        found += of_figures(module) if module in _FIGURES else of_code(module)
    return found


# -- running -----------------------------------------------------------------------------------------------------------


def copy_of_the_tree(place: Path) -> Path:
    """What tests need, without what was compiled."""
    for name in ("diagnose", "rules", "tests", "cases"):
        shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, place)
    return place


def passes(tree: Path, module: str) -> bool:
    """Whether the tests of a module pass in this copy of the tree."""
    files = [
        os.path.normpath(f"{DIAGNOSIS}{name}.py" if "/" not in name else f"tests/diagnosis/{name}.py")
        for name in TESTS[module]
    ]
    # Compiled files may stay: a mutant lives longer than the second by which Python tells a changed file.
    environment = {
        **os.environ,
        "PYTHONPATH": str(tree),
        "DIAGNOSE_CACHE": str(tree / ".cache"),
    }
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-n", "0", "-p", "no:cacheprovider", *files]
    try:
        return subprocess.run(command, cwd=tree, env=environment, capture_output=True, timeout=LONGEST).returncode == 0
    except subprocess.TimeoutExpired:
        return False


def survives(mutant: Mutant, trees: Queue[Path]) -> bool:
    """Whether no test of its module notices it."""
    tree = trees.get()
    original = (tree / mutant.file).read_text(encoding="utf-8")
    try:
        (tree / mutant.file).write_text(mutant.text, encoding="utf-8")
        return passes(tree, mutant.module)
    finally:
        (tree / mutant.file).write_text(original, encoding="utf-8")
        trees.put(tree)


def unharmed(module: str, trees: Queue[Path]) -> bool:
    """Whether the tests of a module pass as it is."""
    tree = trees.get()
    try:
        return passes(tree, module)
    finally:
        trees.put(tree)


def main() -> int:
    """Prints each survivor, then the score; 1 where a module's tests fail without any mutant."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("modules", nargs="*", choices=[*TESTS, []], help="all of them unless named")
    parser.add_argument("--sample", type=int, help="so many mutants, drawn at random")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    found = mutants(asked.modules or list(TESTS))
    if asked.sample is not None and asked.sample < len(found):
        found = random.Random(asked.seed).sample(found, asked.sample)
    with tempfile.TemporaryDirectory() as place, ThreadPoolExecutor(PROCESSES) as pool:
        trees: Queue[Path] = Queue()
        for i in range(PROCESSES):
            trees.put(copy_of_the_tree(Path(place) / str(i)))
        red = [name for name in dict.fromkeys(m.module for m in found) if not unharmed(name, trees)]
        if red:
            print(f"the tests of {', '.join(red)} fail without any mutant: nothing can be measured there")
            return 1
        killed = 0
        for mutant, alive in zip(found, pool.map(lambda m: survives(m, trees), found), strict=True):
            killed += not alive
            if alive:
                print(f"survives: {mutant.file}:{mutant.line}: {mutant.change}", flush=True)
    print(f"{killed} of {len(found)} killed ({100 * killed / max(1, len(found)):.0f} %)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
