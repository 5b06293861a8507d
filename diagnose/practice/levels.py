"""What a learner should practise next: what was answered wrongly soon, what was right later and later, and harder.

Boxes after Leitner (So lernt man lernen, 1972, from memory): a right answer moves a fault one box on, a wrong one back to the
first, and with it what it was taken for. The days between are our judgement.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from diagnose.practice.results import Result

DAYS = (1, 2, 4, 8, 16, 32)
"""Days until a fault of each box comes again."""
HARD_FROM = 2
"""The box from which it comes mild or hidden."""


@dataclass(frozen=True, slots=True)
class Turn:
    """What comes next. box: 0 to 5; due: when it should have come (today for what was never practised)."""

    fault: str
    box: int
    due: date

    @property
    def hard(self) -> bool:
        """Whether it comes mild or hidden."""
        return self.box >= HARD_FROM


def next_turn(results: Sequence[Result], name: str, today: date, faults: Sequence[str], chance: random.Random) -> Turn:
    """The fault that is longest due for this learner; among equals the lower box, then by chance."""
    turns = list(all_turns(results, name, today, faults))
    chance.shuffle(turns)
    return min(turns, key=lambda turn: (turn.due > today, turn.due, turn.box))


def all_turns(results: Sequence[Result], name: str, today: date, faults: Sequence[str]) -> tuple[Turn, ...]:
    """Where each fault stands for this learner."""
    boxes = dict.fromkeys(faults, 0)
    due = dict.fromkeys(faults, today)
    mine = [result for result in results if result.name.casefold() == " ".join(name.split()).casefold()]
    for result in sorted(mine, key=lambda one: one.when):
        good = result.right and not result.harmful and result.sound is not False
        truths = [fault for fault in result.truth.split("+") if fault in boxes]
        taken = [result.answer] if result.answer in boxes and not result.right else []
        for fault in (*truths, *taken):
            boxes[fault] = min(boxes[fault] + 1, len(DAYS) - 1) if good else 0
            due[fault] = result.when + timedelta(days=DAYS[boxes[fault]])
    return tuple(Turn(fault, boxes[fault], due[fault]) for fault in faults)
