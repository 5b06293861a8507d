"""Shared by the tests of the pipeline."""

from __future__ import annotations

import atexit
import gc
import os
import signal
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pprint import pformat
from typing import Any
from weakref import WeakKeyDictionary

import forks
import pytest
import settled  # noqa: F401 - searches of the simulator are answered from a file from now on
import typer.testing
from hypothesis import HealthCheck, settings
from pydantic import BaseModel
from strategies import State, visit
from webpages import CHROMIUM, InBrowser

from diagnose import load_rules
from diagnose.practice import judging
from diagnose.practice.exercise import Exercise
from diagnose.rulebook import Rule, Rulebook, checking, matcher, rule_checks, store
from diagnose.rulebook.entries import JudgedFigure
from diagnose.rulebook.judging import TellMistake
from diagnose.rulebook.known import Known, Placed
from diagnose.rulebook.matcher import Pattern
from diagnose.workshop import trials

# No test reads or writes the compiled books of whoever runs it; set here, for modules load books while they are collected.
_CACHE = tempfile.TemporaryDirectory(prefix="diagnose-tests-")
os.environ["DIAGNOSE_CACHE"] = _CACHE.name
atexit.register(_CACHE.cleanup)

# Where the environment forbids bytecode, each command that is started would compile the whole program again.
if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
    os.environ["PYTHONPYCACHEPREFIX"] = os.path.join(_CACHE.name, "bytecode")

# A run in the background (`pytest &`) ignores Ctrl+C, and so would every command that it starts.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# Millions of frozen values are made, and few of them in rings: nothing is looked through for those few.
gc.set_threshold(0)

# A run meets hundreds of books and kinds of machines: every test has the engine that it would have alone.
matcher.MOST_COMPILED = 1_000_000

# Some hundred tests lay a folder of their own over the shipped book, or change one file of a copy or of a small book. Each
# rule that was found sound is so once for a book of the same names and words.
_CHECK_RULE = checking.check_rule
_SOUND: dict[tuple[int, str, str, str, int], tuple[object, Rule]] = {}
_NAMES: WeakKeyDictionary[Known, int] = WeakKeyDictionary()
_NUMBERS: dict[object, int] = {}


def _check_rule(known: Known, placed: Placed[Any], fault: str) -> Rule:
    if known not in _NAMES:
        said = known.words, known.states, known.facts, {0: known.by_value, 1: known.seen}
        names = (*(tuple(one.items()) for one in said), tuple(known.checks), tuple(known.sources))
        _NAMES[known] = _NUMBERS.setdefault(names, len(_NUMBERS))
    entry = placed.entry
    key = id(entry), fault, placed.own, placed.spot.document.name, _NAMES[known]
    if key in _SOUND and entry.id not in known.rules:
        known.rules[entry.id] = placed.spot
        return _SOUND[key][1]
    told = len(known.problems)
    rule = _CHECK_RULE(known, placed, fault)
    if len(known.problems) == told and entry.id not in known.broken:
        if len(_SOUND) > 20_000:
            _SOUND.clear()
        _SOUND[key] = entry, rule
    return rule


# And the figures of judgement, and what the matcher is to hold: where there is nothing to tell of them.
_FIGURES_OF, _MATCHING = checking.figures_of, rule_checks._matching
_FIGURES: dict[int, tuple[BaseModel, dict[str, JudgedFigure]]] = {}
_MATCHABLE: set[tuple[Pattern, ...]] = set()


def _figures_of(entry: BaseModel, told: TellMistake) -> dict[str, JudgedFigure]:
    if id(entry) not in _FIGURES:
        problems: list[object] = []
        found = _FIGURES_OF(entry, lambda *what, **how: problems.append(told(*what, **how)))
        if problems:
            return found
        _FIGURES[id(entry)] = entry, found
    return dict(_FIGURES[id(entry)][1])


def _matching(known: Known, patterns: Sequence[Pattern]) -> None:
    if (asked := tuple(patterns)) not in _MATCHABLE:
        told = len(known.problems)
        _MATCHING(known, patterns)
        if len(known.problems) == told:
            _MATCHABLE.add(asked)


checking.check_rule, checking.figures_of, rule_checks._matching = _check_rule, _figures_of, _matching

# A book with something laid over it is read once while tests of one file ask for the same, and never stored; only those tests
# that have a cache folder of their own store it. The shipped one is the same object whenever it is asked for.
_KEEP, _FETCH = store.keep, store.fetch
_LAID_OVER: dict[str, Rulebook] = {}  # by its digest, the latest few
_FIRST: dict[str, Rulebook] = {}


def _keep(key: str, book: Rulebook) -> None:
    if os.environ.get("DIAGNOSE_CACHE") != _CACHE.name:
        _KEEP(key, book)
    elif " + " not in book.name:
        _KEEP(key, book)
        _FIRST.update({} if _FIRST else {key: book})
    else:
        _LAID_OVER[key] = book
        while len(_LAID_OVER) > 8:
            del _LAID_OVER[next(iter(_LAID_OVER))]


def _fetch(key: str) -> Rulebook | None:
    mine = os.environ.get("DIAGNOSE_CACHE") == _CACHE.name
    found = (_LAID_OVER.get(key) or _FIRST.get(key)) if mine else None
    return found or _FETCH(key)


store.keep, store.fetch = _keep, _fetch

# A process that multiprocessing starts would import pytest first, for it is the program that runs here.
vars(sys.modules["__main__"]).update(__spec__=None, __file__=None)

# The tree of commands is made once a process, not for each command that a test runs.
typer.testing._get_command = cache(typer.testing._get_command)

# A shipped case is run against the shipped book once, whichever command or test asks for it.
_RUN_CASE = trials.run_case
_RUN: dict[str, trials.CaseResult] = {}
_SHIPPED_BOOK = load_rules()


def _run_case(case: trials.Case, rules: Rulebook = _SHIPPED_BOOK) -> trials.CaseResult:
    if rules is not _SHIPPED_BOOK:
        return _RUN_CASE(case, rules)
    if case.name not in _RUN or _RUN[case.name].case != case:
        _RUN[case.name] = _RUN_CASE(case, rules)
    return _RUN[case.name]


trials.run_case = _run_case

# What settles a practice visit soonest takes a hundred diagnoses: worked out once for each, not for every answer to it.
_QUICKEST = judging.quickest
_SETTLED: dict[tuple[str, str], judging.Quickest] = {}


def _quickest(exercise: Exercise, rules: Rulebook) -> judging.Quickest:
    key = (pformat(exercise), rules.name)  # which sorts: in a file that is read back the readings have another order
    if key not in _SETTLED:
        _SETTLED[key] = _QUICKEST(exercise, rules)
    return _SETTLED[key]


judging.quickest = _quickest

# Every day the same examples, so that a failure belongs to the change and not to the day; `thorough` looks for new ones.
settings.register_profile(
    "quick", deadline=None, max_examples=10, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("thorough", deadline=None, max_examples=2000, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))


@pytest.fixture(scope="session")
def book() -> Rulebook:
    """The shipped rule book."""
    return load_rules()


@pytest.fixture(scope="session")
def in_browser() -> Iterator[InBrowser]:
    """A page of Chromium, started once, in a thread of its own because Playwright keeps the loop of its thread busy."""
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with ThreadPoolExecutor(1) as thread:
        started = thread.submit(lambda: playwright.sync_playwright().start()).result()
        options = {"executable_path": CHROMIUM, "args": ["--no-sandbox", "--disable-gpu"]}
        page = thread.submit(lambda: started.chromium.launch(**options).new_page()).result()
        yield lambda work: thread.submit(work, page).result()
        thread.submit(page.context.browser.close).result()
        thread.submit(started.stop).result()


@pytest.fixture
def right() -> dict:
    """A fixed orifice machine on which everything is as it should be, on a day with a target superheat of 13.5 °F."""
    return visit(State())


def pytest_sessionfinish() -> None:
    forks.end()


def pytest_unconfigure() -> None:
    """What a run has made is not looked through once more as it ends."""
    gc.freeze()
