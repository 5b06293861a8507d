"""A new rule to begin with: a commented example in a company's own folder that passes `rules check` as it is written."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from pathlib import Path

from diagnose import yamlfile
from diagnose.report.wording import upper_first
from diagnose.rulebook import Rule, Rulebook, holds_rules, is_whole, load_rules
from diagnose.rulebook.limits import MADE_IN
from diagnose.shipped import shipped
from diagnose.visit.fields import COOLING, HEATING
from diagnose.workshop import yamledit
from diagnose.workshop.own_folder import keep_schemas, schema_line, try_out
from diagnose.workshop.skeleton_texts import (
    WhenWords,
    against_text,
    check_text,
    copied_text,
    fault_text,
    finding_text,
    rule_text,
)
from diagnose.yamlfile import did_you_mean, files, refusal

NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
FINDING = re.compile(r"[a-z][a-z0-9]*([ -][a-z0-9]+)*")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the new rule shall be about. new_fault and new_findings are ids and names that the book does not have yet.

    like: a fault whose evidence the new one shares; the findings are then what parts the two.
    """

    rule: str
    fault: str = ""
    new_fault: str = ""
    findings: tuple[str, ...] = ()
    new_findings: tuple[str, ...] = ()
    like: str = ""


@dataclass(frozen=True, slots=True)
class Started:
    """The new rule's id, the files that were written or added to, and the rules that it contains.

    schemas: whether any was put into the folder.
    """

    rule: str
    written: tuple[Path, ...]
    added_to: tuple[Path, ...]
    contains: tuple[Rule, ...]
    schemas: bool = False


@dataclass
class _Draft:
    """Texts to be written, by path inside the folder; `sections` are added to a file that is there."""

    whole: dict[str, str] = field(default_factory=dict)
    sections: dict[str, tuple[str, str]] = field(default_factory=dict)  # path -> (section, entry without indentation)


def start(folder: Path, wanted: Wanted) -> Started:
    """Writes the skeleton. Raises InputProblems and writes nothing where the rule cannot be begun."""
    own = folder.resolve().name
    there = folder.is_dir() and holds_rules(folder)
    _refuse_folder(folder, own)
    rules = load_rules(folder) if there else load_rules(shipped("rules"))
    rule, fault = _names(wanted, own, rules)
    new = [_finding_name(name, rules) for name in wanted.new_findings]
    _refuse_like(wanted, rules)
    when = _when(fault, wanted, new, rules)
    draft = _Draft()
    for name in new:
        before = draft.sections.get("findings.yaml", ("", ""))[1]
        draft.sections["findings.yaml"] = ("findings", before + finding_text(name))
    mode = _mode({fault, wanted.like}, when, rules)
    contained = _contained(fault, when, rules.in_mode(mode))
    points = 3.0 if wanted.like else min(4.0, max((r.points for r in contained), default=0.5) + 0.5)
    entry = rule_text(rule, "" if wanted.new_fault else fault, when, points, rules, mode)
    if wanted.new_fault:
        against = against_text(f"{fault}/not-{rule.rpartition('/')[2]}", when, rules, mode)
        shared = rules.evidence(wanted.like) if wanted.like else ()
        copied = "".join(copied_text(each, fault) for each in shared if not set(each.findings) & set(when))
        draft.whole[f"faults/{fault}.yaml"] = fault_text(fault, own, entry + against + copied, wanted.like, when, rules)
    if wanted.like:
        name = f"{own}/not-{wanted.like}-but-{fault.removeprefix(f'{own}-')}"
        draft.sections["rules.yaml"] = ("rules", rule_text(name, wanted.like, when, -2.5, rules, mode))
        if new:
            draft.sections["checks.yaml"] = (
                "checks",
                check_text(f"{own}-look-for-{new[0].replace(' ', '-')}", fault, wanted.like, new),
            )
    if not wanted.new_fault:
        draft.sections["rules.yaml"] = ("rules", entry)
    texts = {path: _text(folder / path) for path in draft.sections if (folder / path).exists()}
    added = {path: _added(folder / path, texts[path], *draft.sections[path]) for path in texts}
    fresh = {path: _begun(folder, path, *part) for path, part in draft.sections.items() if path not in texts}
    fresh |= draft.whole
    try_out(folder, own, added | fresh)
    for path, text in fresh.items():
        files.make_folder((folder / path).parent)
        files.write(folder / path, text, over=False)
    for path, text in added.items():
        files.update(folder / path, text, texts[path])
    schemas = keep_schemas(folder, fresh)
    return Started(
        rule, tuple(folder / path for path in fresh), tuple(folder / path for path in added), tuple(contained), schemas
    )


def _text(path: Path) -> str:
    yamlfile.read(path)  # says in words what is wrong with a file that is no YAML
    return files.text_of(path)


# -- names ---------------------------------------------------------------------------------------------------------


def _refuse_folder(folder: Path, own: str) -> None:
    if not NAME.fullmatch(own):
        fix = "Small letters, digits and hyphens, for example `harbour-cooling`."
        raise refusal(f"the folder's name `{own}` cannot begin an id", fix, folder)
    if folder.exists() and not folder.is_dir():
        raise refusal("this is a file, not a folder", "Name a folder for your own rules.", folder)
    if folder.is_dir() and is_whole(folder):
        fix = "Add the rule to the fault's file by hand, or name a folder of your own to be laid over it."
        raise refusal("this folder holds a whole rule book", fix, folder)


def _names(wanted: Wanted, own: str, rules: Rulebook) -> tuple[str, str]:
    """The rule's whole id, and its fault."""
    if bool(wanted.fault) == bool(wanted.new_fault):
        raise refusal("a rule is about one fault", "Give either `--fault` or `--new-fault`.")
    if wanted.fault and (found := rules.fault_called(wanted.fault)) is not None:
        wanted = replace(wanted, fault=found)
    elif wanted.fault:
        fix = did_you_mean(wanted.fault, rules.faults) or f"Known: {', '.join(rules.faults)}."
        raise refusal(f"`{wanted.fault}` is not a fault", f"{fix} A fault of your own: `--new-fault`.")
    fault = wanted.fault or own + "-" + wanted.new_fault.removeprefix(f"{own}-")
    if not NAME.fullmatch(fault):
        raise refusal(f"`{wanted.new_fault}` is not an id", "Small letters, digits and hyphens: `txv-hunting`.")
    if wanted.new_fault and fault in rules.faults:
        raise refusal(f"`{fault}` is already a fault", f"Write `--fault {fault}` to add a rule to it.")
    before = fault if wanted.new_fault else own
    name = wanted.rule.removeprefix(f"{before}/")
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
        fix = f"Small letters, digits and hyphens; `{before}/` is put before it."
        raise refusal(f"`{wanted.rule}` is not an id for a rule of {own}", fix)
    rule = f"{before}/{name}"
    if rule in rules.by_id:
        raise refusal(f"there is a rule `{rule}` already", "Choose another id.", rules.by_id[rule].file)
    return rule, fault


def _refuse_like(wanted: Wanted, rules: Rulebook) -> None:
    """`like` names a fault, and something parts the two."""
    if not wanted.like:
        return
    if not wanted.new_fault:
        raise refusal("`--like` is for a fault of your own", "Give `--new-fault` as well.")
    if wanted.like not in rules.faults:
        fix = did_you_mean(wanted.like, rules.faults) or f"Known: {', '.join(rules.faults)}."
        raise refusal(f"`{wanted.like}` is not a fault", fix)
    if not wanted.findings and not wanted.new_findings:
        fix = (
            "Name what is seen or measured where only one of them is there: `--new-finding NAME`, or `--finding NAME`."
        )
        raise refusal(f"nothing tells the new fault from {wanted.like}", fix)


def _finding_name(name: str, rules: Rulebook) -> str:
    if name in rules.findings or name in rules.states:
        raise refusal(f"`{name}` is in the rule book already", f'Write `--finding "{name}"` to use it.')
    if not FINDING.fullmatch(name) or name in ("no", "yes", "on", "off", "any", "null", "true", "false", "y", "n"):
        raise refusal(f"`{name}` cannot name a finding", "Small letters, digits and spaces: `coil corrosion`.")
    return name


# -- what the example asks for -------------------------------------------------------------------------------------


def _when(fault: str, wanted: Wanted, new: Sequence[str], rules: Rulebook) -> WhenWords:
    """Conditions that no rule of this fault has yet."""
    for name in wanted.findings:
        if name not in rules.findings:
            near = did_you_mean(name, rules.findings)
            fix = f"{near} One of your own: `--new-finding`." if near else "One of your own: `--new-finding`."
            raise refusal(f"`{name}` is not a finding", fix)
    own: WhenWords = dict.fromkeys(new, ("present",))
    evidence = rules.evidence(fault)
    taken = {frozenset(rule.when) for rule in evidence if not rule.either}

    def free(when: WhenWords) -> bool:
        return frozenset((name, frozenset(words)) for name, words in when.items()) not in taken

    if wanted.findings:
        ways: Iterator[WhenWords] = (
            dict(zip(wanted.findings, words, strict=True)) | own
            for words in product(*(_choices(name, evidence, rules) for name in wanted.findings))
        )
    else:
        first = _strongest(evidence)
        ways = ({**first, **own} for _ in (0,)) if own else ({**first, n: (e.words[0],)} for n, e in rules.seen.items())
    found = next((when for when in ways if when and free(when)), None)
    if found is None:
        raise refusal(f"{fault} has a rule for every word of this already", "Name another finding as well.")
    return found


def _mode(faults: set[str], when: WhenWords, rules: Rulebook) -> str:
    """Heating, where what is asked for is made then alone, or one of the faults is met then alone."""
    made = {MADE_IN.get(rules.findings[name].quantity or "") for name in when if name in rules.findings}
    heats = HEATING in made or faults & rules.faults.keys() - rules.in_mode(COOLING).faults.keys()
    return HEATING if heats else COOLING


def _choices(name: str, evidence: Sequence[Rule], rules: Rulebook) -> list[tuple[str, ...]]:
    """Words to ask for: those that already speak for this fault, then each single word, the unusual end first."""
    order = rules.findings[name].words
    used = [words for rule in evidence if rule.points > 0 for n, words in rule.conditions if n == name]
    grouped = [tuple(word for word in order if word in words) for words in used]
    return [*dict.fromkeys([*grouped, *((word,) for word in reversed(order))])]


def _strongest(evidence: Sequence[Rule]) -> WhenWords:
    """What the weightiest plain rule for this fault asks for, to build upon; nothing for a new fault."""
    plain = [rule for rule in evidence if rule.points > 0 and len(rule.when) == 1 and not rule.either]
    if not plain:
        return {}
    rule = max(plain, key=lambda r: (not r.applies, r.points))
    return {name: tuple(sorted(words)) for name, words in rule.when}


def _contained(fault: str, when: WhenWords, rules: Rulebook) -> list[Rule]:
    """Plain rules for the fault that ask for part of this."""
    words = {name: frozenset(chosen) for name, chosen in when.items()}
    return [
        rule
        for rule in rules.evidence(fault)
        if rule.points > 0 and not rule.either and all(n in words and words[n] <= allowed for n, allowed in rule.when)
    ]


# -- texts ---------------------------------------------------------------------------------------------------------


def _begun(folder: Path, path: str, section: str, entry: str) -> str:
    """A new file with this entry."""
    schema = schema_line(path)
    about = f"# {upper_first(section)} of {folder.resolve().name}. What stands below a line with FILL IN is yours.\n"
    return f"{schema}{about}{section}:\n{textwrap.indent(entry, '  ')}"


def _added(path: Path, before: str, section: str, entry: str) -> str:
    """The file with the entry at the end of its section: nothing that stands there is changed."""
    return yamledit.edited(before, lambda data: yamledit.add(data, section, yamledit.fragment(entry)), str(path))
