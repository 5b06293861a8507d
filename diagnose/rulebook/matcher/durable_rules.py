"""The matcher on durable-rules 2.0.28, the only file that imports it.

durable-rules decides which alternatives hold; every number stays in Python. It is used inside fences, because each of
the following was seen to lose facts, fire wrong rules or crash: no host and no decorators (they start threads that
run rules too); no `none`, `any`, `$or`, comparison or number; explicit fact ids; one permanent session per ruleset,
emptied by retracting; the limits of `plan.py`. What fires is read off the engine without calling back into Python,
which is quicker and leaves no place where an error or ten seconds by the clock are swallowed (3.9, 3.14). The numbers
of the pitfalls are those of the notes on the rule engine.
"""

from __future__ import annotations

import functools
import json
import os
import threading
import weakref
from collections.abc import Iterable, Sequence
from importlib import import_module
from typing import Any, NamedTuple

from diagnose.rulebook.matcher.compiled import Allowed, matched, state, surest, weigh
from diagnose.rulebook.matcher.patterns import Matched, MatcherError, Words, check_words
from diagnose.rulebook.matcher.plan import Alternative, MatcherPlan, encode, fact_id


def importable() -> bool:
    """Whether durable-rules is installed and loads (on Python 3.13 its C part installs, but does not load)."""
    try:
        import_module("durable.engine")
    except ImportError:
        return False
    return True


class DurableMatcher:
    """Compiled patterns on durable-rules.

    One lock, so threads take turns: a ruleset used by two threads at once gives wrong answers (3.16). After any error
    the rulesets are thrown away and built anew before the next run (3.2: what is left would fire in the next visit).
    A process that forks may go on using the matcher in the child.
    """

    name = "durable-rules"

    def __init__(self, plan: MatcherPlan):
        if not importable():
            raise MatcherError(
                "durable-rules is not installed here, or does not load",
                'Install durable-rules 2.0.28 (Python 3.11 or 3.12, with a C compiler), or choose the "plain" matcher.',
            )
        self._plan = plan
        self._book = plan.book
        self._concluded_by = {s: [self._book.patterns[n].id for n, _ in c] for s, c in self._book.concluding.items()}
        self._rulesets: list[_Ruleset] | None = self._build()
        self._lock = threading.Lock()
        _alive.add(self)

    def run(self, words: Words) -> Matched:
        """Words in, fired rules out."""
        check_words(words, self._concluded_by)
        with self._lock:
            return self._run(words)

    def _build(self) -> list[_Ruleset]:
        tests = self._book.tests
        return [_Ruleset(f"ruleset{i}", group, tests) for i, group in enumerate(self._plan.rulesets)]

    def _run(self, words: Words) -> Matched:
        if self._rulesets is None:
            self._rulesets = self._build()
        tests = [0.0] * len(self._book.tests)
        sures = [0.0] * len(self._book.patterns)
        states: dict[str, dict[str, float]] = {}
        for finding, of in words.items():
            weigh(self._book, finding, of, tests)
        try:
            self._push([number for number, sure in enumerate(tests) if sure > 0.0], tests, sures)
            for names, _ in self._book.levels:
                for name in names:
                    states[name] = state(self._book, name, sures)
                    weigh(self._book, name, states[name], tests)
                told = [number for name in names for number, _ in self._book.reading.get(name, ())]
                self._push([number for number in told if tests[number] > 0.0], tests, sures)
            for ruleset in self._rulesets:
                ruleset.clear()
        except BaseException:
            self._rulesets = None
            raise
        return matched(self._book, words, states, tests, sures)

    def _push(self, facts: Sequence[int], tests: Sequence[float], sures: list[float]) -> None:
        """Tell all rulesets that these tests hold, and note how sure the alternatives are that newly match."""
        for ruleset in self._rulesets or ():
            for hit in ruleset.push(facts):
                sure = surest((hit.tests,), tests)
                if sure > sures[hit.pattern]:
                    sures[hit.pattern] = sure

    def _after_fork(self) -> None:
        # Only the forking thread lives on in the child. If another one was in the middle of a run, its lock would
        # never be released and its rulesets are half run. If none was, the rulesets are good as they are.
        if self._lock.locked():
            self._lock = threading.Lock()
            self._rulesets = None


_alive: weakref.WeakSet[DurableMatcher] = weakref.WeakSet()


def _after_fork_in_child() -> None:
    for matcher in _alive:
        matcher._after_fork()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_after_fork_in_child)


class _Fact(NamedTuple):
    """A fact as the engine is told it, and as it is told to forget it: JSON."""

    whole: str
    name: str


class _Ruleset:
    """One durable ruleset with its permanent session."""

    def __init__(self, name: str, alternatives: Sequence[Alternative], tests: Sequence[Allowed]):
        self._facts: dict[int, _Fact] = {}
        self._in: list[_Fact] = []
        self._alternatives = {f"r{i}": alternative for i, alternative in enumerate(alternatives)}
        definition = {}
        for rule, alternative in self._alternatives.items():
            conditions = []
            for place, number in enumerate(alternative.tests):
                finding, words = tests[number]
                says = {"finding": encode(finding), "is": "=".join(map(encode, words))}
                called = {"id": fact_id(tests[number])}
                self._facts[number] = _Fact(json.dumps(called | says), json.dumps(called))
                conditions.append({f"c{place}": {"$and": [{key: text} for key, text in says.items()]}})
            definition[rule] = {"all": conditions, "run": _nothing}
        self._rules = _quiet_ruleset()(name, None, definition)

    def push(self, tests: Iterable[int]) -> list[Alternative]:
        """Assert those of these tests that the ruleset reads, and return the alternatives that newly match."""
        facts = [self._facts[number] for number in tests if number in self._facts]
        if not facts:
            return []
        self._in += facts
        return [self._alternatives[rule] for rule in self._rules.fired_by(fact.whole for fact in facts)]

    def clear(self) -> None:
        """Retract everything, which keeps the session; deleting it crashes where nothing had fired (3.10)."""
        if self._in:
            self._rules.retract(fact.name for fact in self._in)
            self._in = []


def _nothing(_: Any) -> None:
    """What a rule does when it fires: it is never called, but the engine wants a plain function of one argument."""


@functools.cache
def _quiet_ruleset() -> Any:
    engine = import_module("durable.engine")
    start, go_on = (
        engine.durable_rules_engine.start_action_for_state,
        engine.durable_rules_engine.complete_and_start_action,
    )

    class Quiet(engine.Ruleset):  # type: ignore[misc, name-defined]
        """A ruleset for which a fact that completes no rule is no error (3.2); a repeated id is one."""

        def _handle_result(self, result: Any, message: Any) -> Any:
            if result[0] == 2:
                raise engine.MessageObservedException(message)
            return result[1]

        def retract(self, names: Iterable[str]) -> None:
            """Retract facts, which is `retract_facts` of what is JSON already: making it took a seventh of a run."""
            self._handle_result(engine.durable_rules_engine.retract_facts(self._handle, f"[{','.join(names)}]"), None)

        def fired_by(self, facts: Iterable[str]) -> list[str]:
            """Assert facts and run to quiescence in this thread: the names of the rules that fire, one a match.

            The engine's own loop (`do_actions`) makes objects of every match and writes the state back after each;
            neither is needed here, and both together took more than half of the time.
            """
            text = f"[{','.join(facts)}]"
            offset = self._handle_result(engine.durable_rules_engine.assert_facts(self._handle, text), text)
            first = start(self._handle, offset)
            match: str | None = first[1] if first else None
            fired = []
            while match:  # {"name of the rule":{…the facts…}}
                fired.append(match[2 : match.index('"', 2)])
                match = go_on(self._handle, offset)
            return fired

    return Quiet
