"""Which steps can be done with some readings and machine facts, and which follow from which; worked out once for each set."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from diagnose.quantities import STEPS
from diagnose.quantities.registry import EXPECTED, Step, dependents, leaves, own_steps
from diagnose.visit.own import OwnQuantity


class WorkPart(NamedTuple):
    """Some steps in their order, and the quantities whose value or expected value they make."""

    steps: tuple[Step, ...]
    names: tuple[str, ...]


class Work:
    """The steps that can be done with some readings and machine facts, and which of them follow from which."""

    def __init__(self, present: frozenset[str], own: tuple[OwnQuantity, ...]):
        there = set(present)
        steps = []
        for step in (*STEPS, *own_steps(own)):
            if there.issuperset(step.needs) and (not step.mode or step.mode in there):
                steps.append(step)
                there.add(step.name)
        self.steps = tuple(steps)
        self.by_name = {step.name: step for step in steps}
        self._follow = {word: {s.name for s in followers} for word, followers in dependents(steps).items()}
        self._parts: dict[tuple[str, ...], WorkPart] = {}
        self._shared: dict[tuple[tuple[str, ...], str], tuple[WorkPart, tuple[str, ...]]] = {}

    def following(self, words: tuple[str, ...]) -> WorkPart:
        """What follows from any of these."""
        found = self._parts.get(words)
        if found is None:
            names = set().union(*(self._follow.get(word, set()) for word in words))
            found = self._parts[words] = self._part(names)
        return found

    def shared(self, words: tuple[str, ...], reading: str) -> tuple[WorkPart, tuple[str, ...]]:
        """What follows both from these and from the reading; and the steps by name that follow from the reading alone."""
        found = self._shared.get((words, reading))
        if found is None:
            one = {step.name for step in self.following((reading,)).steps}
            other = {step.name for step in self.following(words).steps}
            found = self._shared[words, reading] = (self._part(one & other), tuple(sorted(one - other)))
        return found

    def _part(self, names: set[str]) -> WorkPart:
        steps = tuple(step for step in self.steps if step.name in names)
        return WorkPart(steps, tuple(dict.fromkeys(step.name.removeprefix(EXPECTED) for step in steps)))


@lru_cache(maxsize=256)
def work(present: frozenset[str], own: tuple[OwnQuantity, ...] = ()) -> Work:
    """The work that can be done with these readings and machine facts; own: quantities that a company has added."""
    return Work(present, own)


@lru_cache(maxsize=1024)
def origins(having: frozenset[str], own: tuple[OwnQuantity, ...] = ()) -> Mapping[str, tuple[str, ...]]:
    """Quantity -> the readings it comes from, where these values are there."""
    return leaves((*STEPS, *own_steps(own)), dict.fromkeys(having))
