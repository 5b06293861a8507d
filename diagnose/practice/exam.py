"""An exam: a paper for each learner, the key that only the examiner holds, and marks for each line of what was answered.

What a learner holds has readings and lines to fill in, and no answer in any form: no seal, no seed, no visit file. Every
learner has machines of their own with the same faults, so a neighbor's lines are of no use. The key is a JSON file with the
hidden visits, the time, and a secret with which marks are signed (HMAC, RFC 2104, with SHA-256).
"""

from __future__ import annotations

import hashlib
import hmac
import json
import random
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from diagnose.practice.exercise import Exercise, new
from diagnose.practice.scenario import SHOPS
from diagnose.rulebook import Rulebook
from diagnose.simulator import Mode, faults_of
from diagnose.yamlfile import did_you_mean, reason_of, refusal

FORMAT = "diagnose exam 1"
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"  # none that looks like another
LARGEST = 20_000_000  # bytes of a key
MOST = 200  # learners in one exam
SEED_BITS = 96  # of a machine: whoever has the program cannot try them all until one has the readings on the paper


@dataclass(frozen=True, slots=True)
class Paper:
    """One learner's machines. code: on the paper and on the form. started, ended: when it was handed out and in (ISO), once
    it was."""

    name: str
    code: str
    exercises: tuple[Exercise, ...]
    started: str | None = None
    ended: str | None = None


@dataclass(frozen=True, slots=True)
class Exam:
    """What the examiner holds. minutes: the time to work."""

    secret: str
    minutes: int
    rulebook: str
    papers: tuple[Paper, ...]

    def paper(self, name: str) -> Paper:
        """The paper of a learner. Raises InputProblems."""
        known = [one.name for one in self.papers]
        found = next((one for one in self.papers if one.name.casefold() == " ".join(name.split()).casefold()), None)
        if found is None:
            fix = did_you_mean(name, known) or f"The exam is for {', '.join(known)}."
            raise refusal(f"`{name}` has no paper in this exam", fix)
        return found


def make(
    names: Sequence[str],
    count: int,
    minutes: int,
    rules: Rulebook,
    seed: int | None = None,
    hard: bool = False,
    mode: Mode = "cooling",
) -> Exam:
    """An exam with `count` machines for each of these. Every learner has the same faults, in an order of their own.

    seed: for a trial run only; without it nobody can draw the papers again. Raises InputProblems.
    """
    learners = [" ".join(name.split()) for name in names if name.split()]
    folded = [name.casefold() for name in learners]
    if not learners or len(learners) > MOST:
        raise refusal(f"an exam needs 1 to {MOST} names", "Name who sits it: `--names 'Ann, Bob'`.")
    if len(set(folded)) < len(folded):
        twice = next(name for name in learners if folded.count(name.casefold()) > 1)
        raise refusal(f"`{twice}` is named twice", "Give each learner a name of their own, such as `Ann B.`.")
    chance: random.Random = random.SystemRandom() if seed is None else random.Random(f"exam {seed}")
    faults: list[str] = []
    while len(faults) < count:
        some = list(faults_of(mode))
        chance.shuffle(some)
        faults += some
    papers = []
    for name in learners:
        order = faults[:count]
        chance.shuffle(order)
        shops: list[str] = []
        made: list[Exercise] = []
        for fault in order:
            one = new(chance.getrandbits(SEED_BITS), rules, fault, hard, "basic", elsewhere=shops, mode=mode)
            shops = [*shops, str(one.machine["name"]).partition(",")[0]][-(len(SHOPS) - 1) :]
            made.append(one)
        code = "".join(chance.choice(LETTERS) for _ in range(6))
        papers.append(Paper(name, code, tuple(made)))
    secret = secrets.token_hex(32) if seed is None else hashlib.sha256(f"exam {seed}".encode()).hexdigest()
    return Exam(secret, minutes, rules.name, tuple(papers))


def begun(exam: Exam, now: str, name: str | None = None) -> Exam:
    """The same with the time at which papers were handed out: to one learner, or to all who have none. Raises InputProblems."""
    only = None if name is None else exam.paper(name)
    if only is not None and only.started is not None:
        raise refusal(f"{only.name} has had the paper since {only.started}", "A paper is handed out once.")
    if only is None and all(paper.started is not None for paper in exam.papers):
        raise refusal("every paper has been handed out already", "Mark what comes back with `exam mark`.")
    papers = (
        replace(paper, started=now) if paper.started is None and (only is None or paper is only) else paper
        for paper in exam.papers
    )
    return replace(exam, papers=tuple(papers))


def ended(exam: Exam, now: str, name: str | None = None) -> Exam:
    """The same with the time at which papers came back: from one learner, or from all still out. Raises InputProblems."""
    only = None if name is None else exam.paper(name)
    out = [paper for paper in exam.papers if paper.started is not None and paper.ended is None]
    if only is not None and only.started is None:
        raise refusal(f"{only.name} has had no paper yet", "Note with `exam start` when it is handed out.")
    if only is not None and only.ended is not None:
        raise refusal(f"{only.name} handed the paper in at {only.ended}", "A paper comes back once.")
    if not out:
        raise refusal("nobody has a paper", "Note with `exam start` when papers are handed out.")
    papers = (replace(paper, ended=now) if paper in out and only in (None, paper) else paper for paper in exam.papers)
    return replace(exam, papers=tuple(papers))


# -- the key -----------------------------------------------------------------------------------------------------------


def as_key(exam: Exam) -> str:
    """The text of the key."""
    return json.dumps({"format": FORMAT, **asdict(exam)}, ensure_ascii=False, indent=1) + "\n"


def read_key(path: Path) -> Exam:
    """The exam in a key. Raises InputProblems."""
    fix = "Name the file that `practice exam set --key` wrote."
    data = read_json(path, fix)
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise refusal("this is not the key of an exam", fix, path)
    try:
        papers = tuple(
            Paper(p["name"], p["code"], tuple(_exercise(one) for one in p["exercises"]), p["started"], p["ended"])
            for p in data["papers"]
        )
        exam = Exam(str(data["secret"]), int(data["minutes"]), str(data["rulebook"]), papers)
        bytes.fromhex(exam.secret)
    except (KeyError, TypeError, ValueError):
        what = "the key is damaged, or another version of the program wrote it"
        raise refusal(what, "Take a copy of the key that was not edited.", path) from None
    return exam


def _exercise(data: Mapping[str, Any]) -> Exercise:
    if data.keys() != {one.name for one in fields(Exercise)}:
        raise ValueError("another version")
    return Exercise(**{**data, "given": tuple(data["given"])})


def read_json(path: Path, fix: str) -> object:
    """What a JSON file holds. Raises InputProblems."""
    try:
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        raise refusal(f"the file cannot be read ({reason_of(error)})", fix, path) from None
    if len(raw) > LARGEST:
        raise refusal("the file is larger than 20 MB", fix, path)
    try:
        return json.loads(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise refusal("this is no JSON file", fix, path) from None


# -- signing -----------------------------------------------------------------------------------------------------------


def signed(marks: Mapping[str, Any], exam: Exam) -> dict[str, Any]:
    """The same with a signature over all of it, which only the holder of the key can make."""
    return {**marks, "signature": _signature(marks, exam)}


def is_genuine(marks: Mapping[str, Any], exam: Exam) -> bool:
    """Whether nothing of these marks was changed since they were signed with this key."""
    rest = {name: value for name, value in marks.items() if name != "signature"}
    return hmac.compare_digest(_signature(rest, exam).encode(), str(marks.get("signature", "")).encode())


def _signature(marks: Mapping[str, Any], exam: Exam) -> str:
    text = json.dumps(marks, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hmac.new(bytes.fromhex(exam.secret), text.encode(), hashlib.sha256).hexdigest()
