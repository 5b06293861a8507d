"""What the ranking would be if one more thing were known: a finding with a word taken as certain.

Only the rules that read the new finding, by itself or through a state, are matched again, and only the faults they
speak of are scored again; the rest stands as it was. The plain matcher does it, which gives the same as durable-rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import score, shares
from diagnose.rulebook import Applying, Rulebook
from diagnose.rulebook.matcher import Firing, Matched, Matcher, Pattern, compile_patterns


class Supposing:
    """One visit's findings and fired rules, ready to be asked "and if …?" as often as wanted.

    Keeps what it has worked out for the next question about the same findings; belongs to one thread.
    """

    def __init__(self, rules: Rulebook, applying: Applying, findings: Mapping[str, Finding], matched: Matched):
        self._rules = rules
        self._words = {name: finding.words for name, finding in findings.items()}
        self._fired = {firing.rule: firing for firing in matched.firings}
        self._fault = {rule.id: rule.fault for rule in applying.rules if rule.kind == "evidence"}
        self._patterns = applying.patterns
        self._readers: dict[str, list[Pattern]] = {}
        self._concluding: dict[str, list[Pattern]] = {}
        for pattern in applying.patterns:
            for name in dict.fromkeys(_reads(pattern)):
                self._readers.setdefault(name, []).append(pattern)
            if pattern.concludes:
                self._concluding.setdefault(pattern.concludes[0], []).append(pattern)
        self._scores = {fault: score(rules, fault, self._fired) for fault in rules.faults}
        self._matchers: dict[frozenset[str], tuple[Matcher, frozenset[str]]] = {}

    def speaks(self, finding: str) -> frozenset[str]:
        """The faults about which some rule reads this finding, by itself or through a state."""
        return frozenset(self._fault[p.id] for p in self._touched({finding}) if p.id in self._fault)

    def shares(self, words: Mapping[str, str]) -> dict[str, float]:
        """Each fault's share of the odds, 0 to 1, if each of these findings had its word for certain."""
        if not words:
            return shares(self._scores)
        matcher, touched = self._matcher(frozenset(words))
        now = matcher.run({**self._words, **{name: {word: 1.0} for name, word in words.items()}})
        fired: dict[str, Firing] = {name: f for name, f in self._fired.items() if name not in touched}
        fired.update((f.rule, f) for f in now.firings if f.rule in touched)
        faults = {self._fault[rule] for rule in touched if rule in self._fault}
        scores = {f: score(self._rules, f, fired) if f in faults else old for f, old in self._scores.items()}
        return shares(scores)

    def _matcher(self, findings: frozenset[str]) -> tuple[Matcher, frozenset[str]]:
        found = self._matchers.get(findings)
        if found is None:
            touched = self._touched(findings)
            wanted = {pattern.id: pattern for pattern in touched}
            queue = list(touched)
            while queue:  # what the touched rules read of states must be concluded again, whole
                for name in _reads(queue.pop()):
                    for pattern in self._concluding.get(name, ()):
                        if pattern.id not in wanted:
                            wanted[pattern.id] = pattern
                            queue.append(pattern)
            ordered = [pattern for pattern in self._patterns if pattern.id in wanted]
            found = compile_patterns(ordered, "plain"), frozenset(pattern.id for pattern in touched)
            self._matchers[findings] = found
        return found

    def _touched(self, findings: Iterable[str]) -> list[Pattern]:
        """The rules that may fire otherwise once these findings are known."""
        found: dict[str, Pattern] = {}
        queue = list(findings)
        while queue:
            for pattern in self._readers.get(queue.pop(), ()):
                if pattern.id not in found:
                    found[pattern.id] = pattern
                    if pattern.concludes:
                        queue.append(pattern.concludes[0])
        return list(found.values())


def _reads(pattern: Pattern) -> list[str]:
    return [name for name, _ in (*pattern.when, *(test for branch in pattern.either for test in branch))]
