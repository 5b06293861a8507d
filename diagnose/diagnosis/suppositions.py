"""What the ranking would be if one more thing were known: a finding with a word taken as certain.

Only the rules that read the new finding, by itself or through a state, are matched again, and only the faults they
speak of are scored again; the rest stands as it was. The plain matcher does it, which gives the same as durable-rules.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import points, shares
from diagnose.rulebook import Applying, Rulebook


class Posteriors:
    """One visit's findings and its fired rules, ready to be asked "and if …?" as often as wanted."""

    def __init__(self, rules: Rulebook, applying: Applying, findings: Mapping[str, Finding]):
        self._applying = applying
        self._usual = {fault: entry.usual for fault, entry in rules.faults.items()}
        self._certain = applying.plain.certainties({name: finding.words for name, finding in findings.items()})
        self._scores = self._scored(self._usual, self._certain.patterns)
        self._faults_of: dict[int, list[str]] = {}
        for fault, evidence in applying.weighed.items():
            for pattern, _, special in evidence:
                for number in (pattern, *special):
                    self._faults_of.setdefault(number, []).append(fault)

    def speaks(self, findings: Collection[str]) -> frozenset[str]:
        """The faults about which some rule reads one of these findings, by itself or through a state."""
        numbers = self._applying.plain.touched(findings)
        return frozenset([fault for number in numbers for fault in self._faults_of.get(number, ())])

    def shares(self, words: Mapping[str, str], faults: Collection[str] | None = None) -> dict[str, float]:
        """Each fault's share of the odds, 0 to 1, if each of these findings had its word for certain."""
        return shares(self.scores(words, faults))

    def scores(self, words: Mapping[str, str], faults: Collection[str] | None = None) -> dict[str, float]:
        """Each fault's score, points, if each of these findings had its word for certain.

        faults: those that these findings speak of, where that is known already.
        """
        if not words:
            return dict(self._scores)
        certain = self._applying.plain.again(self._certain, {name: {word: 1.0} for name, word in words.items()})
        touched = self.speaks(words) if faults is None else faults
        return {**self._scores, **self._scored(touched, certain.patterns)}

    def _scored(self, faults: Collection[str], certainties: list[float]) -> dict[str, float]:
        weighed = self._applying.weighed
        return {fault: self._usual[fault] + points(weighed.get(fault, ()), certainties) for fault in faults}
