"""Further readings of a practice visit: what can be asked, what it brings, and the minutes of work it costs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

from diagnose.practice.exercise import Exercise
from diagnose.quantities import STEPS, of_other_mode
from diagnose.report.wording import upper_first
from diagnose.rulebook import Rulebook
from diagnose.visit import READINGS
from diagnose.visit.trade_words import meant
from diagnose.yamlfile import did_you_mean, each, refusal

if TYPE_CHECKING:
    from diagnose.practice.files import Sitting

# Readings that a check of rules/checks.yaml takes, where its text says more, or less, than its findings need.
_TAKES: Mapping[str, tuple[str, ...]] = {
    "measure-the-return-air": ("return air dry bulb", "return air wet bulb", "outdoor air temperature"),
    "measure-the-capacity": (
        "airflow", "return air dry bulb", "return air wet bulb", "supply air dry bulb", "supply air wet bulb",
    ),
    "measure-the-split": ("supply air dry bulb",),
    "follow-the-liquid-line": ("metering inlet temperature",),
    "clamp-the-discharge": ("discharge line temperature",),
    "clamp-the-coil-outlet": ("coil outlet temperature",),
}  # fmt: skip
# What changes the machine, or waits for it, cannot be played on one steady state.
_NOT_PLAYED = ("note-the-minutes", "clean-what-is-dirty", "wait-and-read-again")
_SUM = "measure-the-capacity"  # as long as its readings one by one, so none of them is billed as the whole
SINGLE = 5.0  # minutes for a reading that no check takes (common practice, no source)


@dataclass(frozen=True, slots=True)
class Action:
    """Something that can be asked. names: the readings and things seen that it brings. minutes: of work, first time."""

    name: str
    kind: Literal["check", "reading", "seen"]
    ask: str
    minutes: float
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """What one question brought: each (name, value, what there is to say of it); minutes it cost."""

    action: Action
    lines: tuple[tuple[str, str, str], ...]
    minutes: float


def playable(exercise: Exercise, rules: Rulebook) -> tuple[Action, ...]:
    """Everything that can be asked on this machine: checks, then single readings, then single things to look at."""
    checks, elsewhere = [], of_other_mode(exercise.mode)
    for name, entry in rules.checks.items():
        gives = [one for one in entry.gives if rules.findings[one].quantity not in elsewhere]
        brings = tuple(n for n in (_brings(name, gives, rules) if gives else ()) if n in exercise.everything)
        if brings and name not in _NOT_PLAYED:
            checks.append(Action(name, "check", entry.ask, entry.minutes, brings))
    single = [
        Action(name, "reading", f"{upper_first(READINGS[name].where)}.",
               min((c.minutes for c in checks if name in c.names and c.name != _SUM), default=SINGLE), (name,))
        for name in exercise.readings
    ]  # fmt: skip
    looks = [
        Action(name, "seen", rules.seen[name].ask or "", rules.seen[name].minutes, (name,))
        for name in exercise.seen
        if name in rules.seen
    ]
    return (*checks, *single, *looks)


def _brings(check: str, gives: Iterable[str], rules: Rulebook) -> tuple[str, ...]:
    """Names of the readings and things seen behind the findings of a check."""
    found: dict[str, None] = {}
    for name in gives:
        entry = rules.findings[name]
        if entry.quantity is None:
            found[name] = None
        elif check not in _TAKES:
            found.update(dict.fromkeys(_needs(entry.quantity)))
    return (*_TAKES.get(check, ()), *found)


@cache
def _needs(name: str) -> tuple[str, ...]:
    """The readings without which a quantity cannot be worked out."""
    if name in READINGS:
        return (name,)
    step = next((step for step in STEPS if step.name == name), None)
    return tuple(dict.fromkeys(leaf for need in (step.needs if step else ()) for leaf in _needs(need)))


def opened(exercise: Exercise, asked: Sequence[str], rules: Rulebook) -> tuple[str, ...]:
    """All readings and things seen that these questions brought."""
    actions = {action.name: action for action in playable(exercise, rules)}
    found: dict[str, None] = {}
    for name in asked:
        if name in actions:
            found.update(dict.fromkeys(actions[name].names))
    return tuple(found)


def minutes_of(exercise: Exercise, asked: Sequence[str], rules: Rulebook) -> float:
    """Minutes of work for all that was asked.

    A check costs its minutes. Single readings are counted as the cheapest check that takes them, once for all of its
    readings: a gauge that hangs on the valve is read in no time.
    """
    actions = {action.name: action for action in playable(exercise, rules)}
    checks = [action for action in actions.values() if action.kind == "check"]
    paid: dict[str, float] = {}
    had: set[str] = set()
    for name in asked:
        action = actions.get(name)
        if action is None or (action.kind != "check" and name in had):
            continue
        had.update(action.names)
        if action.kind == "reading":
            takes = [check for check in checks if name in check.names and check.name != _SUM]
            bill = min(takes, key=lambda check: check.minutes, default=action)
            paid.setdefault(bill.name, bill.minutes)
        else:
            paid[action.name] = action.minutes
    return sum(paid.values())


def find_action(word: str, exercise: Exercise, rules: Rulebook) -> Action:
    """The action that a word means. Raises InputProblems with the nearest ones."""
    actions = playable(exercise, rules)
    text = " ".join(word.split()).lower()
    for wanted in (text, text.replace(" ", "-"), *meant("readings", text)):
        for action in actions:
            if action.name.lower() == wanted:
                return action
    names = [action.name for action in actions]
    listed = "`diagnose practice ask FILE --list` shows what can be asked."
    begin = [name for name in names if text and name.lower().startswith(text)]
    nowhere = text in rules.checks or text in rules.findings or text in READINGS
    if name := begin[0] if len(begin) == 1 else None if nowhere else meant_by(text, names):
        return next(action for action in actions if action.name == name)
    if nowhere:
        raise refusal(f"`{word}` is not available on this machine: nobody knows it", listed)
    fix = did_you_mean(word, names) or listed
    raise refusal(f"`{word}` cannot be asked", fix)


def meant_by(text: str, names: Iterable[str]) -> str | None:
    """The one name that holds all words of a text, or else the longest whose words the text holds all; None where several do.

    `drier` is `clamp-the-drier`, and `look at the air filter` is `air filter`.
    """
    words = set(_WORD.findall(text.lower()))
    parts = {name: set(_WORD.findall(name.lower())) for name in names}
    found = [name for name, own in parts.items() if words and words <= own]
    if not found:
        within = [name for name, own in parts.items() if own <= words]
        found = [name for name in within if len(parts[name]) == max(len(parts[each]) for each in within)]
    return found[0] if len(found) == 1 else None


_WORD = re.compile(r"[^\W_]+")


def ask(sitting: Sitting, words: Sequence[str], rules: Rulebook) -> tuple[tuple[Told, ...], str]:
    """What these questions bring, and the file's new text. Raises InputProblems; then nothing is brought."""
    from diagnose.practice.files import rewritten

    if sitting.answered is not None:
        what = "the answer has already been given: nothing more can be asked"
        raise refusal(what, "`diagnose practice new` makes another visit.", sitting.path)
    told, asked = ask_further(sitting.exercise, sitting.asked, words, rules)
    return told, rewritten(sitting, opened(sitting.exercise, asked, rules), asked, None)


def ask_further(
    exercise: Exercise, before: Sequence[str], words: Sequence[str], rules: Rulebook
) -> tuple[tuple[Told, ...], tuple[str, ...]]:
    """What these questions bring after those asked before, and everything asked by then. Raises InputProblems."""
    actions = each(lambda word: find_action(word, exercise, rules), words)
    asked, told = list(before), []
    for action in actions:
        had = opened(exercise, asked, rules)
        cost = minutes_of(exercise, asked, rules)
        if action.name not in asked and not set(action.names) <= set(had):
            asked.append(action.name)
        spent = minutes_of(exercise, asked, rules) - cost
        told.append(Told(action, tuple(_told(name, exercise, had) for name in action.names), spent))
    return tuple(told), tuple(asked)


def _told(name: str, exercise: Exercise, before: Sequence[str]) -> tuple[str, str, str]:
    value = exercise.readings.get(name) or exercise.seen[name]
    if name in before:
        return name, value, "known already"
    if name in exercise.slip:
        return name, value, f"taken again: it was written down as {exercise.slip[name]}"
    return name, value, "taken again, as before" if name in exercise.given else ""
