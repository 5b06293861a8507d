"""Reads the rule files, checks them one by one and across files, and makes a Rulebook. Lists every mistake at once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from diagnose import yamlfile
from diagnose.matcher import MatcherError, Pattern, strata
from diagnose.rulebook.book import MACHINE_FACTS, Conditions, Rule, Rulebook, RuleKind
from diagnose.rulebook.limits import KINDS, limits_of
from diagnose.rulebook.models import (
    CautionsFile,
    ChargePolicy,
    ChecksFile,
    Cited,
    EvidenceRule,
    FaultEntry,
    FindingEntry,
    FindingsFile,
    ReadinessFile,
    RuleEntry,
    SourcesFile,
    StatesFile,
    Words,
    near,
)
from diagnose.shipped import shipped
from diagnose.yamlfile import Document, InputProblems, Problem, did_you_mean

FILES: Mapping[str, type[BaseModel]] = {
    "findings.yaml": FindingsFile,
    "states.yaml": StatesFile,
    "readiness.yaml": ReadinessFile,
    "cautions.yaml": CautionsFile,
    "checks.yaml": ChecksFile,
    "sources.yaml": SourcesFile,
}
PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
M = TypeVar("M", bound=BaseModel)


class RuleError(InputProblems):
    """The rule files cannot be used. `problems` lists every mistake."""


def load_rules(folder: Path | str | None = None) -> Rulebook:
    """The shipped rule book, or the one in a folder laid out like the shipped `rules/`. Cached.

    Raises RuleError with every mistake in the files.
    """
    return rulebook_in(shipped("rules") if folder is None else Path(folder).resolve())


@lru_cache(maxsize=8)
def rulebook_in(folder: Path) -> Rulebook:
    """The same by absolute folder; a folder is read once in the life of the process."""
    return _Loader(folder).book()


class _Loader:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.problems: list[Problem] = []
        self.documents: dict[str, Document] = {}
        self.where: dict[str, tuple[Document, tuple[str | int, ...]]] = {}

    # -- reading -------------------------------------------------------------------------------------------------
    def read(self, path: Path, model: type[M]) -> tuple[M | None, Document | None]:
        try:
            document = yamlfile.read(path)
        except InputProblems as error:
            self.problems += error.problems
            return None, None
        document = Document(_short(path, self.folder), document.data, document.lines, document.marks, document.keys)
        try:
            return model.model_validate(document.data), document
        except ValidationError as error:
            self.problems += yamlfile.model_problems(document, error, known=_fields(model))
            return None, document

    def file(self, name: str, model: type[M]) -> tuple[M | None, Document | None]:
        return self.read(self.folder / name, model)

    def book(self) -> Rulebook:
        findings, findings_at = self.file("findings.yaml", FindingsFile)
        states, states_at = self.file("states.yaml", StatesFile)
        readiness, readiness_at = self.file("readiness.yaml", ReadinessFile)
        cautions, cautions_at = self.file("cautions.yaml", CautionsFile)
        checks, checks_at = self.file("checks.yaml", ChecksFile)
        sources, _ = self.file("sources.yaml", SourcesFile)
        faults: list[tuple[FaultEntry, Document]] = []
        for path in sorted((self.folder / "faults").glob("*.yaml")):
            entry, document = self.read(path, FaultEntry)
            if entry is not None and document is not None:
                faults.append((entry, document))
        if self.problems:
            self.stop()
        assert findings
        assert states
        assert readiness
        assert cautions
        assert checks
        assert sources
        assert findings_at
        assert states_at
        assert readiness_at
        assert cautions_at
        assert checks_at
        self.words = {f.finding: tuple(f.words) for f in findings.findings}
        self.states = {s.state: tuple(s.words) for s in states.states}
        self.checks = [c.check for c in checks.checks]
        self.sources = list(sources.sources)
        self.unique(findings_at, "findings", [f.finding for f in findings.findings])
        self.unique(states_at, "states", [s.state for s in states.states])
        self.unique(checks_at, "checks", self.checks)
        for i, finding in enumerate(findings.findings):
            self.finding(finding, findings_at, ("findings", i))
        for i, check in enumerate(checks.checks):
            for j, name in enumerate(check.gives):
                if name not in self.words:
                    self.bad(
                        checks_at, ("checks", i, "gives", j), f"`{name}` is not a finding", near(name, list(self.words))
                    )
        rules = [
            *self.rules("state", states.rules, states_at),
            *self.rules("readiness", readiness.rules, readiness_at),
            *self.rules("caution", cautions.rules, cautions_at),
        ]
        for fault, document in faults:
            rules += self.fault(fault, document, [f.fault for f, _ in faults])
        if readiness.charge is None:
            self.bad(readiness_at, (), "`charge` is missing", "Say when the charge may be judged; see rules/README.md.")
        self.across(rules)
        if self.problems:
            self.stop()
        assert isinstance(readiness.charge, ChargePolicy)
        return Rulebook(
            name="shipped" if self.folder == shipped("rules") else self.folder.name,
            findings={f.finding: f for f in findings.findings},
            states={s.state: s for s in states.states},
            rules=tuple(rules),
            faults={f.fault: f for f, _ in sorted(faults, key=lambda pair: -pair[0].usual)},
            checks={c.check: c for c in checks.checks},
            sources=sources.sources,
            charge=readiness.charge,
            by_id={r.id: r for r in rules},
        )

    def stop(self) -> None:
        raise RuleError(sorted(self.problems, key=lambda p: (p.file, p.line, p.column)))

    def bad(self, document: Document, at: Sequence[str | int], what: str, fix: str = "", key: bool = False) -> None:
        self.problems.append(document.problem(tuple(at), what, fix, key))

    def unique(self, document: Document, section: str, names: Sequence[str]) -> None:
        for i, name in enumerate(names):
            if name in names[:i]:
                self.bad(document, (section, i), f"`{name}` is written twice", "Keep one of them.")

    # -- findings --------------------------------------------------------------------------------------------------
    def finding(self, entry: FindingEntry, document: Document, at: tuple[str | int, ...]) -> None:
        if entry.seen:
            if entry.quantity or entry.scales:
                self.bad(document, at, f"`{entry.finding}` is seen, so it has no quantity and no scales")
            return
        if entry.quantity not in KINDS:
            name = entry.quantity or ""
            self.bad(
                document,
                (*at, "quantity"),
                f"`{name}` is not a quantity",
                did_you_mean(name, KINDS) or "DEVELOPERS.md says how to add one.",
            )
            return
        if not entry.scales:
            self.bad(document, at, f"`{entry.finding}` has no scale", "Give its limits under `scales:`.")
        for i, scale in enumerate(entry.scales):
            here = (*at, "scales", i)
            self.applies_of(scale.applies, document, (*here, "applies"))
            self.cited(scale.source, document, (*here, "source"))
            if scale.by == "target":
                continue
            if len(scale.limits) != len(entry.words) - 1:
                self.bad(
                    document,
                    (*here, "limits"),
                    f"{len(entry.words)} words have {len(entry.words) - 1} limits between them, not {len(scale.limits)}",
                )
                continue
            try:
                limits = limits_of(entry.quantity, scale)
            except ValueError as error:
                self.bad(
                    document, (*here, "limits"), str(getattr(error, "what", error)), str(getattr(error, "fix", ""))
                )
                continue
            if any(a >= b for a, b in pairwise(limits)):
                self.bad(document, (*here, "limits"), "the limits do not rise", "Write them from low to high.")

    # -- rules -----------------------------------------------------------------------------------------------------
    def fault(self, entry: FaultEntry, document: Document, faults: Sequence[str]) -> list[Rule]:
        if Path(document.name).stem != entry.fault:
            self.bad(document, ("fault",), f"the file is not named after the fault `{entry.fault}`", "Rename one.")
        self.cited(entry.usual_source, document, ("usual_source",))
        for other in entry.looks_like:
            if other not in faults:
                self.bad(
                    document, ("looks_like", other), f"`{other}` is not a fault", near(other, list(faults)), key=True
                )
        for i, rule in enumerate(entry.rules):
            if not rule.id.startswith(f"{entry.fault}/"):
                self.bad(document, ("rules", i, "id"), f"`{rule.id}` must begin with `{entry.fault}/`")
        return self.rules("evidence", entry.rules, document, entry.fault)

    def rules(self, kind: RuleKind, entries: Sequence[RuleEntry], document: Document, fault: str = "") -> list[Rule]:
        found = []
        for i, entry in enumerate(entries):
            at = ("rules", i)
            self.where[entry.id] = (document, at) if entry.id not in self.where else self.twice(entry.id, document, at)
            when, either = self.condition(entry.when, document, (*at, "when"))
            applies = self.applies_of(entry.applies, document, (*at, "applies"))
            if not when and not either and kind in ("evidence", "state"):
                self.bad(document, at, f"`{entry.id}` has no `when`", "A rule speaks only when something was found.")
            self.cited(entry.source, document, (*at, "source"))
            if entry.check is not None and entry.check not in self.checks:
                self.bad(document, (*at, "check"), f"`{entry.check}` is not a check", near(entry.check, self.checks))
            self.placeholders(entry, when, either, document, at)
            self.trials(entry, bool(when or either), document, at)
            extra: dict[str, Any] = {}
            if isinstance(entry, EvidenceRule):
                extra["points"] = entry.points
            concludes = getattr(entry, "concludes", None)
            if concludes is not None:
                extra["concludes"] = self.concludes(concludes, document, (*at, "concludes"))
            extra["holds"] = getattr(entry, "holds", "")
            extra["rank"] = getattr(entry, "rank", 0)
            found.append(Rule(kind, entry, when, either, applies, fault, file=document.name, **extra))
        return found

    def twice(self, rule: str, document: Document, at: tuple[str | int, ...]) -> tuple[Document, tuple[str | int, ...]]:
        first = self.where[rule]
        problem = first[0].problem((*first[1], "id"), "")
        self.bad(
            document,
            (*at, "id"),
            f"`{rule}` is already the id of a rule in {problem.file}:{problem.line}",
            "Rename one.",
        )
        return first

    def condition(
        self, when: Mapping[str, Any], document: Document, at: tuple[str | int, ...]
    ) -> tuple[Conditions, tuple[Conditions, ...]]:
        plain = self.all_of({k: v for k, v in when.items() if k != "any"}, document, at)
        branches = when.get("any", [])
        if not isinstance(branches, list) or not all(isinstance(b, Mapping) for b in branches):
            self.bad(document, (*at, "any"), "`any` must be a list of `finding: word` groups")
            return plain, ()
        return plain, tuple(self.all_of(b, document, (*at, "any", i)) for i, b in enumerate(branches))

    def all_of(self, when: Mapping[str, Any], document: Document, at: tuple[str | int, ...]) -> Conditions:
        known = {**self.words, **self.states}
        found = []
        for name, value in when.items():
            if name not in known:
                self.bad(
                    document, (*at, name), f"`{name}` is not a finding or a state", near(name, list(known)), key=True
                )
                continue
            words = self.words_of(value, known[name], document, (*at, name), name)
            if words:
                found.append((name, words))
        return tuple(found)

    def words_of(
        self, value: object, known: tuple[str, ...], document: Document, at: tuple[str | int, ...], name: str
    ) -> frozenset[str]:
        items = value if isinstance(value, list) else [value]
        found: set[str] = set()
        for item in items:
            text = str(item)
            negated = text.startswith("not ") and text not in known
            word = text.removeprefix("not ") if negated else text
            if word not in known:
                self.bad(document, at, f"`{word}` is not a word of `{name}`", near(word, list(known)))
            else:
                found |= set(known) - {word} if negated else {word}
        return frozenset(found)

    def applies_of(self, value: Mapping[str, Words], document: Document, at: tuple[str | int, ...]) -> Conditions:
        found = []
        for name, words in value.items():
            if name not in MACHINE_FACTS:
                self.bad(
                    document, (*at, name), f"`{name}` is not a machine fact", near(name, list(MACHINE_FACTS)), key=True
                )
                continue
            known = MACHINE_FACTS[name]
            listed = [words] if isinstance(words, str) else words
            for word in listed:
                if known is not None and word not in known:
                    self.bad(document, (*at, name), f"`{word}` is not a word of `{name}`", near(word, list(known)))
            found.append((name, frozenset(listed)))
        return tuple(found)

    def concludes(self, value: Mapping[str, str], document: Document, at: tuple[str | int, ...]) -> tuple[str, str]:
        if len(value) != 1:
            self.bad(document, at, "a rule concludes one state", "For example `concludes: {evaporator feed: starved}`.")
            return ("", "")
        state, word = next(iter(value.items()))
        if state not in self.states:
            self.bad(document, (*at, state), f"`{state}` is not a state", near(state, list(self.states)), key=True)
        elif word not in self.states[state]:
            self.bad(
                document, (*at, state), f"`{word}` is not a word of `{state}`", near(word, list(self.states[state]))
            )
        return (state, word)

    def cited(self, source: Cited, document: Document, at: tuple[str | int, ...]) -> None:
        """A source's key, then places in it, then perhaps another key; the first must be a key."""
        for i, item in enumerate(source):
            if item in self.sources or (i > 0 and " " in item):
                continue
            close = did_you_mean(item, self.sources)
            if i == 0 or close:
                self.bad(document, at, f"`{item}` is not a source", close or "Add it to sources.yaml.")

    def placeholders(
        self,
        entry: RuleEntry,
        when: Conditions,
        either: tuple[Conditions, ...],
        document: Document,
        at: tuple[str | int, ...],
    ) -> None:
        read = {name for name, _ in when} | {name for branch in either for name, _ in branch}
        for name in PLACEHOLDER.findall(entry.why):
            finding = name.removesuffix(" target")
            if finding not in read:
                self.bad(
                    document,
                    (*at, "why"),
                    f"`{{{name}}}` is not among the findings of this rule's `when`",
                    near(finding, sorted(read)),
                )

    def trials(self, entry: RuleEntry, conditional: bool, document: Document, at: tuple[str | int, ...]) -> None:
        for i, trial in enumerate(entry.tests):
            here = (*at, "tests", i)
            if (trial.fires is None) == (trial.quiet is None):
                self.bad(document, here, "a test says either `fires` or `quiet`", "Write two tests.")
            which = "fires" if trial.fires is not None else "quiet"
            for name, word in (trial.fires or trial.quiet or {}).items():
                if name not in self.words:
                    fix = "It is a state: give the findings it is concluded from." if name in self.states else ""
                    self.bad(
                        document,
                        (*here, which, name),
                        f"`{name}` is not a finding",
                        fix or near(name, list(self.words)),
                        key=True,
                    )
                elif word not in self.words[name]:
                    self.bad(
                        document,
                        (*here, which, name),
                        f"`{word}` is not a word of `{name}`",
                        near(word, list(self.words[name])),
                    )
            self.applies_of(dict(trial.machine), document, (*here, "machine"))
        for which in ("fires", "quiet"):
            if conditional and not any(getattr(t, which) is not None for t in entry.tests):
                self.bad(document, at, f"`{entry.id}` has no test that {_SAYS[which]}", "Add one under `tests:`.")

    def across(self, rules: Sequence[Rule]) -> None:
        same: dict[Any, str] = {}
        for rule in rules:
            if not rule.when and not rule.either:
                continue
            key = (rule.kind, rule.fault, rule.concludes, frozenset(rule.when), rule.either, rule.applies)
            if key in same:
                document, at = self.where[rule.id]
                self.bad(
                    document, (*at, "when"), f"`{rule.id}` asks for the same as `{same[key]}`", "Keep one of them."
                )
            same.setdefault(key, rule.id)
        try:
            strata([Pattern(r.id, r.when, r.either, r.concludes) for r in rules if r.when or r.either])
        except MatcherError as error:
            document, at = self.where[error.rules[0]] if error.rules else next(iter(self.where.values()))
            self.bad(document, (*at, "when"), error.what, error.fix)


_SAYS = {"fires": "makes it fire", "quiet": "leaves it quiet"}


def _short(path: Path, folder: Path) -> str:
    """How a file is named in messages: from the folder of the rules on."""
    return str(Path(folder.name) / path.relative_to(folder))


def _fields(model: type[BaseModel]) -> Any:
    """Names that may stand at a path of the model, for did-you-mean."""

    def known(path: Sequence[str | int]) -> Iterator[str]:
        at: Any = model
        for step in path:
            if isinstance(step, int):
                continue
            if isinstance(at, type) and issubclass(at, BaseModel) and step in at.model_fields:
                at = _inner(at.model_fields[step].annotation)
            else:
                return iter(())
        return iter(at.model_fields) if isinstance(at, type) and issubclass(at, BaseModel) else iter(())

    return known


def _inner(annotation: Any) -> Any:
    arguments = [a for a in getattr(annotation, "__args__", ()) if a is not type(None)]
    while arguments:
        annotation = arguments[-1]
        arguments = [a for a in getattr(annotation, "__args__", ()) if a is not type(None)]
    return annotation
