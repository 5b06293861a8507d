"""The matcher on durable-rules 2.0.28, the only file that imports it.

durable-rules decides which alternatives hold; every number stays in Python. It is used inside fences, because each of
the following was seen to lose facts, fire wrong rules or crash: no host and no decorators (they start threads that
run rules too); no `none`, `any`, `$or`, comparison or number; explicit fact ids; one permanent session per ruleset,
emptied by retracting; consequents that only record; the limits of `plan.py`. The numbers of the pitfalls are those of
the notes on the rule engine.
"""

from __future__ import annotations

import functools
import math
import os
import threading
import weakref
from collections.abc import Callable, Iterable, Sequence
from importlib import import_module
from typing import Any

from diagnose.rulebook.matcher.patterns import Firing, Matched, MatcherError, Pattern, Words, check_words, concluded_by
from diagnose.rulebook.matcher.plan import Alternative, Plan, Word, encode, fact_id

_ATTEMPTS = 3


class InterruptedRunError(Exception):
    """durable-rules stopped in the middle without an error of its own."""


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

    def __init__(self, plan: Plan):
        if not importable():
            raise MatcherError(
                "durable-rules is not installed here, or does not load",
                'Install durable-rules 2.0.28 (Python 3.11 or 3.12, with a C compiler), or choose the "plain" matcher.',
            )
        self._patterns = plan.patterns
        self._levels = plan.levels
        self._plan = plan
        self._concluded_by = concluded_by(plan.patterns)
        self._concluding: dict[str, list[int]] = {}
        for number, pattern in enumerate(plan.patterns):
            if pattern.concludes:
                self._concluding.setdefault(pattern.concludes[0], []).append(number)
        self._rulesets: list[_Ruleset] | None = self._build()
        self._lock = threading.Lock()
        _alive.add(self)

    def run(self, words: Words) -> Matched:
        """Words in, fired rules out."""
        check_words(words, self._concluded_by)
        asserted = {
            finding: {word: p for word, p in of.items() if p > 0 and math.isfinite(p)} for finding, of in words.items()
        }
        with self._lock:
            for _ in range(_ATTEMPTS - 1):
                try:
                    return self._run(asserted)
                except InterruptedRunError:
                    continue  # harmless to repeat: a run changes nothing outside the rulesets just thrown away
            return self._run(asserted)

    def _build(self) -> list[_Ruleset]:
        return [_Ruleset(f"ruleset{i}", group) for i, group in enumerate(self._plan.rulesets)]

    def _run(self, measured: dict[str, dict[str, float]]) -> Matched:
        if self._rulesets is None:
            self._rulesets = self._build()
        known = dict(measured)
        fired = _Fired(self._patterns, known)
        try:
            self._push(known, fired)
            for level in self._levels:
                states = {name: found for name in level if (found := self._state(name, fired))}
                known.update(states)
                self._push(states, fired)
            for ruleset in self._rulesets:
                ruleset.clear()
        except BaseException:
            self._rulesets = None
            raise
        firings = [(self._patterns[number], f) for number in fired.numbers() if (f := fired.firing(number))]
        names = dict.fromkeys(p.concludes[0] for p, _ in firings if p.concludes)
        return Matched(tuple(f for _, f in firings), {name: known[name] for name in names})

    def _push(self, found: dict[str, dict[str, float]], fired: _Fired) -> None:
        facts = [(finding, word) for finding, of in found.items() for word in of]
        for ruleset in self._rulesets or ():
            fired.add(ruleset.push(facts))

    def _state(self, name: str, fired: _Fired) -> dict[str, float]:
        state: dict[str, float] = {}
        for number in self._concluding[name]:
            firing, concludes = fired.firing(number), self._patterns[number].concludes
            if firing and concludes:
                state[concludes[1]] = max(state.get(concludes[1], 0.0), firing.sure)
        return state

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


class _Fired:
    """The alternatives that matched in one run, merged by rule."""

    def __init__(self, patterns: Sequence[Pattern], known: dict[str, dict[str, float]]):
        self._patterns = patterns
        self._known = known
        self._held: dict[int, dict[int, dict[str, set[str]]]] = {}  # pattern -> branch -> finding -> words

    def add(self, alternatives: Iterable[Alternative]) -> None:
        for alternative in alternatives:
            held = self._held.setdefault(alternative.pattern, {}).setdefault(alternative.branch, {})
            for finding, word in alternative.words:
                held.setdefault(finding, set()).add(word)

    def numbers(self) -> list[int]:
        """The rules that fired, in the order of the book."""
        return sorted(self._held)

    def firing(self, number: int) -> Firing | None:
        """The rule's best alternative of `either`; the first one where several are as sure. None: it did not fire."""
        best = None
        for _, held in sorted(self._held.get(number, {}).items()):
            words = tuple((f, tuple((w, self._known[f][w]) for w in sorted(held[f]))) for f in held)
            # fsum: the exact sum, whatever the order of the words
            sure = min(1.0, *(math.fsum(min(1.0, p) for _, p in of) for _, of in words))
            if best is None or sure > best.sure:
                best = Firing(self._patterns[number].id, sure, words)
        return best


class _Ruleset:
    """One durable ruleset with its permanent session."""

    def __init__(self, name: str, alternatives: Sequence[Alternative]):
        self._reads: dict[Word, dict[str, str]] = {}
        self._in: list[dict[str, str]] = []
        self._hits: list[Alternative] = []
        self._error: BaseException | None = None
        definition = {}
        for number, alternative in enumerate(alternatives):
            conditions = []
            for place, (finding, word) in enumerate(alternative.words):
                fact = {"finding": encode(finding), "is": encode(word)}
                self._reads[finding, word] = {"id": fact_id((finding, word)), **fact}
                conditions.append({f"c{place}": {"$and": [{key: text} for key, text in fact.items()]}})
            definition[f"r{alternative.pattern}#{number}"] = {"all": conditions, "run": self._recorder(alternative)}
        self._rules = _quiet_ruleset()(name, None, definition)

    def push(self, words: Iterable[Word]) -> list[Alternative]:
        """Assert the words this ruleset reads, run to quiescence in this thread, and return what newly matched."""
        facts = [self._reads[word] for word in words if word in self._reads]
        if not facts:
            return []
        self._hits.clear()
        self._error = None
        ended: list[tuple[Any, dict[str, Any] | None]] = []
        self._in += facts
        self._rules.do_actions(self._rules.assert_facts(facts), lambda error, state: ended.append((error, state)))
        self._raise_swallowed(ended)
        return list(self._hits)

    def clear(self) -> None:
        """Retract everything, which keeps the session; deleting it crashes where nothing had fired (3.10)."""
        if self._in:
            self._rules.retract_facts([{"id": fact["id"]} for fact in self._in])
            self._in = []

    def _recorder(self, alternative: Alternative) -> Callable[[Any], None]:
        def record(_: Any) -> None:  # a plain function of one argument: the engine looks into its code object
            try:
                self._hits.append(alternative)
            except BaseException as error:  # the engine would swallow it and go on (3.9)
                self._error = self._error or error

        return record

    def _raise_swallowed(self, ended: list[tuple[Any, dict[str, Any] | None]]) -> None:
        if self._error is not None:
            raise self._error
        if not ended:  # a rule that takes 10 s by the wall clock (a computer asleep, a clock set) is dropped (3.14)
            raise InterruptedRunError("durable-rules stopped before the end")
        for error, state in ended:
            if isinstance(error, BaseException):
                raise error
            if error or (state and "exception" in state):
                raise InterruptedRunError(f"durable-rules: {error or (state or {})['exception']}")


@functools.cache
def _quiet_ruleset() -> Any:
    engine = import_module("durable.engine")

    class Quiet(engine.Ruleset):  # type: ignore[misc, name-defined]
        """A ruleset for which a fact that completes no rule is no error (3.2); a repeated id is one."""

        def _handle_result(self, result: Any, message: Any) -> Any:
            if result[0] == 2:
                raise engine.MessageObservedException(message)
            return result[1]

    return Quiet
