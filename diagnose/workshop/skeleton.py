"""A new rule to begin with: a commented example in a company's own folder that passes `rules check` as it is written."""

from __future__ import annotations

import re
import shutil
import tempfile
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

from diagnose import yamlfile
from diagnose.report.wording import upper_first
from diagnose.rulebook import Rule, Rulebook, holds_rules, is_whole, load_rules
from diagnose.rulebook.written import as_written
from diagnose.shipped import shipped
from diagnose.workshop import yamledit
from diagnose.workshop.coverage import conditions
from diagnose.yamlfile import did_you_mean, files, refusal

NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
FINDING = re.compile(r"[a-z][a-z0-9]*([ -][a-z0-9]+)*")
ROOM = "schema"  # in a company's folder: what its editors complete and check by
When = dict[str, tuple[str, ...]]


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
    source: str = ""
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
    source = "common-practice"
    draft = _Draft()
    if wanted.source:
        source = f"{own}-{rule.rpartition('/')[2]}"
        draft.sections["sources.yaml"] = ("sources", _source(source, wanted.source))
    for name in new:
        before = draft.sections.get("findings.yaml", ("", ""))[1]
        draft.sections["findings.yaml"] = ("findings", before + _finding(name))
    contained = _contained(fault, when, rules)
    points = 3.0 if wanted.like else min(4.0, max((r.points for r in contained), default=0.5) + 0.5)
    entry = _rule(rule, "" if wanted.new_fault else fault, when, points, source, rules)
    if wanted.new_fault:
        against = _against(f"{fault}/not-{rule.rpartition('/')[2]}", "", when, -2.0, source, rules)
        shared = rules.evidence(wanted.like) if wanted.like else ()
        copied = "".join(_copied(each, fault) for each in shared if not set(each.findings) & set(when))
        draft.whole[f"faults/{fault}.yaml"] = _fault(
            fault, own, source, entry + against + copied, wanted.like, when, rules
        )
    if wanted.like:
        name = f"{own}/not-{wanted.like}-but-{fault.removeprefix(f'{own}-')}"
        draft.sections["rules.yaml"] = ("rules", _rule(name, wanted.like, when, -2.5, source, rules))
        if new:
            draft.sections["checks.yaml"] = (
                "checks",
                _check(f"{own}-{rule.rpartition('/')[2]}", fault, wanted.like, new),
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
    if wanted.fault and wanted.fault not in rules.faults:
        fix = did_you_mean(wanted.fault, rules.faults) or f"Known: {', '.join(rules.faults)}."
        raise refusal(f"`{wanted.fault}` is not a fault", f"{fix} A fault of your own: `--new-fault`.")
    fault = wanted.fault or own + "-" + wanted.new_fault.removeprefix(f"{own}-")
    if not NAME.fullmatch(fault):
        raise refusal(f"`{wanted.new_fault}` is not an id", "Small letters, digits and hyphens.")
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
        raise refusal(f"nothing parts the new fault from {wanted.like}", fix)


def _finding_name(name: str, rules: Rulebook) -> str:
    if name in rules.findings or name in rules.states:
        raise refusal(f"`{name}` is in the rule book already", f'Write `--finding "{name}"` to use it.')
    if not FINDING.fullmatch(name) or name in ("no", "yes", "on", "off", "any", "null", "true", "false", "y", "n"):
        raise refusal(f"`{name}` cannot name a finding", "Small letters, digits and spaces: `coil corrosion`.")
    return name


# -- what the example asks for -------------------------------------------------------------------------------------


def _when(fault: str, wanted: Wanted, new: Sequence[str], rules: Rulebook) -> When:
    """Conditions that no rule of this fault has yet."""
    for name in wanted.findings:
        if name not in rules.findings:
            near = did_you_mean(name, rules.findings)
            fix = f"{near} One of your own: `--new-finding`." if near else "One of your own: `--new-finding`."
            raise refusal(f"`{name}` is not a finding", fix)
    own: When = dict.fromkeys(new, ("present",))
    evidence = rules.evidence(fault)
    taken = {frozenset(rule.when) for rule in evidence if not rule.either}

    def free(when: When) -> bool:
        return frozenset((name, frozenset(words)) for name, words in when.items()) not in taken

    if wanted.findings:
        ways: Iterator[When] = (
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


def _choices(name: str, evidence: Sequence[Rule], rules: Rulebook) -> list[tuple[str, ...]]:
    """Words to ask for: those that already speak for this fault, then each single word, the unusual end first."""
    order = rules.findings[name].words
    used = [words for rule in evidence if rule.points > 0 for n, words in conditions(rule) if n == name]
    grouped = [tuple(word for word in order if word in words) for words in used]
    return [*dict.fromkeys([*grouped, *((word,) for word in reversed(order))])]


def _strongest(evidence: Sequence[Rule]) -> When:
    """What the weightiest plain rule for this fault asks for, to build upon; nothing for a new fault."""
    plain = [rule for rule in evidence if rule.points > 0 and len(rule.when) == 1 and not rule.either]
    if not plain:
        return {}
    rule = max(plain, key=lambda r: (not r.applies, r.points))
    return {name: tuple(sorted(words)) for name, words in rule.when}


def _contained(fault: str, when: When, rules: Rulebook) -> list[Rule]:
    """Plain rules for the fault that ask for part of this."""
    words = {name: frozenset(chosen) for name, chosen in when.items()}
    return [
        rule
        for rule in rules.evidence(fault)
        if rule.points > 0 and not rule.either and all(n in words and words[n] <= allowed for n, allowed in rule.when)
    ]


# -- texts ---------------------------------------------------------------------------------------------------------


def _flow(pairs: Mapping[str, str]) -> str:
    return "{" + ", ".join(f"{name}: {_plain(word)}" for name, word in pairs.items()) + "}"


def _plain(word: str) -> str:
    return f'"{word}"' if word in ("no", "yes", "on", "off", "true", "false", "null", "~") else word


def _rule(rule: str, fault: str, when: When, points: float, source: str, rules: Rulebook) -> str:
    """The entry, a list item without indentation."""
    asked = {n: w[0] if len(w) == 1 else f"[{', '.join(w)}]" for n, w in when.items()}
    known = {name: rules.findings[name].words if name in rules.findings else ["present", "none"] for name in when}
    fires = {name: words[0] for name, words in when.items()}
    other = next((n for n in when if set(known[n]) - set(when[n])), next(iter(when)))
    quiet = fires | {other: next(word for word in reversed(known[other]) if word not in when[other])}
    lines = [
        f"- id: {rule}",
        *([f"  fault: {fault}"] if fault else []),
        "  # FILL IN the title: what is the case, as a sentence without a full stop.",
        f"  title: {_title(when)}",
        "  # FILL IN when: all of these must hold. A list in [ ] means any of these words.",
        *(f"  # Words of {name}: {', '.join(words)}." for name, words in known.items()),
        f"  when: {_flow(asked)}",
        "  # FILL IN the points, -4 to 4: one point doubles the odds of this fault, minus one halves them.",
        f"  points: {points:g}",
        "  # FILL IN why, for an apprentice: one to three short sentences. {…} prints the figure of this visit.",
        "  why: >",
        f"    {_said(when)}.",
        "    This is evidence for the fault because of what the fault does to the machine.",
        "  # FILL IN where this is known from: a name in sources.yaml, or common-practice.",
        f"  source: {source}",
        "  # FILL IN the tests: findings that must make the rule fire, and a near case that must leave it quiet.",
        "  tests:",
        f"    - fires: {_flow(fires)}",
        f"    - quiet: {_flow(quiet)}",
        "      because: this one finding is missing",
    ]
    return "\n".join(lines) + "\n"


def _against(rule: str, fault: str, when: When, points: float, source: str, rules: Rulebook) -> str:
    """The same the other way round: one of the findings has another word, and that speaks against."""
    known = {name: rules.findings[name].words if name in rules.findings else ("present", "none") for name in when}
    other = next(name for name in reversed(list(when)) if set(known[name]) - set(when[name]))
    words = tuple(word for word in known[other] if word not in when[other])
    return _rule(rule, fault, {other: words}, points, source, rules)


def _copied(rule: Rule, fault: str) -> str:
    """A rule of another fault as one of this one, with a word to whoever fills it in."""
    told = as_written(rule)
    made: dict[str, object] = {"id": f"{fault}/{rule.id.partition('/')[2]}", "title": told["title"]}
    made |= {"applies": yamledit.flow(told["applies"])} if rule.applies else {}
    tests = [{n: yamledit.flow(v) if isinstance(v, Mapping) else v for n, v in t.items() if v} for t in told["tests"]]
    made |= {"when": yamledit.flow(told["when"]), "points": rule.points, "why": yamledit.paragraph(rule.entry.why)}
    made |= {"source": yamledit.flow(list(rule.entry.source)), "tests": tests}
    made |= {"check": rule.entry.check} if rule.entry.check else {}
    body = textwrap.indent(yamledit.written(made), "  ")
    return f"# FILL IN: this is a sign of {rule.fault}. Say why it is one here as well, or take it out.\n- {body[2:]}"


def _check(check: str, fault: str, like: str, gives: Sequence[str]) -> str:
    return (
        f"- check: {check}\n"
        f"  # FILL IN how it is looked at or measured, as one instruction.\n"
        f"  ask: Look for {' and '.join(gives)}.\n"
        f"  why: It parts {fault} from {like}.\n"
        f"  minutes: 5\n"
        f"  gives: [{', '.join(gives)}]\n"
    )


def _said(when: When) -> str:
    """`The superheat is {superheat} and the …`: braces stay, a visit fills them."""
    # `{superheat target}` would print what superheat should be, so a finding of such a name is said by its words.
    figures = {n: " or ".join(words) if n.endswith(" target") else f"{{{n}}}" for n, words in when.items()}
    text = " and ".join(f"the {name} is {figure}" for name, figure in figures.items())
    return upper_first(text)


def _title(when: When) -> str:
    said = [f"{name} is {' or '.join(words)}" for name, words in when.items()]
    return " and ".join([upper_first(said[0]), *said[1:]])


def _finding(name: str) -> str:
    return (
        f"- finding: {name}\n"
        f"  # FILL IN what it is, and how one sees it.\n"
        f"  what: {name}\n"
        f"  seen: true\n"
        f"  ask: Look for {name}.\n"
        f"  minutes: 2\n"
        f"  # FILL IN its words. The rule, its tests, and `seen:` in a visit use these.\n"
        f"  words: [present, none]\n"
    )


def _source(key: str, title: str) -> str:
    quoted = " ".join(title.split()).replace("'", "''")
    return (
        f"{key}:\n  title: '{quoted}'\n"
        f"  # FILL IN how sure it is: read, read second-hand, from memory, computed.\n"
        f"  confidence: from memory\n"
    )


def _fault(fault: str, own: str, source: str, evidence: str, like: str, when: When, rules: Rulebook) -> str:
    """evidence: its rules, list items without indentation. like: the fault that it shares with; when: what parts them."""
    name = fault.removeprefix(f"{own}-").replace("-", " ")
    twin = ""
    if like:
        entry = rules.faults[like]
        parting = {
            "findings": yamledit.flow({n: w[0] if len(w) == 1 else list(w) for n, w in when.items()}),
            "source": source,
        }
        brings = [parting, *(_brings(as_written(each)) for each in entry.brings)]
        twin = f"looks_like:\n  # FILL IN how the two are told apart.\n  {like}: They read alike at the gauges.\n"
        twin += "# FILL IN what it makes of the readings: first what parts them, then what the other one does.\n"
        twin += yamledit.written({"brings": brings})
        if entry.wrong_call is not None:
            twin += (
                "# FILL IN what acting on it costs where it was the other one: what a check may take to prevent that.\n"
            )
            twin += yamledit.written({"wrong_call": as_written(entry.wrong_call)})
    head = f"""\
fault: {fault}
# FILL IN the name, as it stands in a report.
name: {upper_first(name)}
# FILL IN how often it is met before anything was measured: 0 as most faults, each point more doubles it. A fault of your
# own takes its share from all others on every visit, so it begins at -3, an eighth as often.
usual: -3
usual_source: {source}
# FILL IN what it is: two or three sentences that a first-year apprentice understands.
what: >
  This fault is one of your own. Say here what it is and what it does to the machine.
{twin}# FILL IN the repair: what to do, what can hurt, and what the readings do afterwards.
repair:
  do:
    - Repair what was found.
  cautions:
    - Switch off and lock out the power before you open the machine.
  expect: The readings go back to where they should be.
rules:
"""
    return _schema(f"faults/{fault}.yaml") + head + textwrap.indent(evidence, "  ")


def _brings(told: Mapping[str, Any]) -> dict[str, object]:
    """One entry of `brings`, with its groups on one line each."""
    kept = {n: told[n] for n in ("applies", "findings", "shows", "source") if told.get(n)}
    return {n: yamledit.flow(v) if isinstance(v, Mapping | list) else v for n, v in kept.items()}


def _schema(path: str) -> str:
    """The line by which an editor finds the schema: in the folder itself, so that it holds on every machine it is copied to."""
    name = _schema_of(path)
    if name is None:
        return ""
    return f"# yaml-language-server: $schema={'../' * path.count('/')}{ROOM}/{name}\n"


def _schema_of(path: str) -> str | None:
    """The shipped schema of a file in a company's folder; None where there is none."""
    name = "fault.json" if path.startswith("faults/") else Path(path).name.replace(".yaml", ".json")
    return name if (shipped("rules") / "schema" / name).is_file() else None


def keep_schemas(folder: Path, paths: Iterable[str]) -> bool:
    """Puts the schemas of these files into a company's folder, as this version of the program has them; whether any changed."""
    changed = False
    for name in dict.fromkeys(filter(None, map(_schema_of, paths))):
        text = (shipped("rules") / "schema" / name).read_text(encoding="utf-8")
        there = folder / ROOM / name
        if not there.is_file() or there.read_text(encoding="utf-8") != text:
            files.make_folder(there.parent)
            files.write(there, text, over=True)
            changed = True
    return changed


def _begun(folder: Path, path: str, section: str, entry: str) -> str:
    """A new file with this entry."""
    schema = _schema(path)
    about = f"# {upper_first(section)} of {folder.resolve().name}. What stands below a line with FILL IN is yours.\n"
    return f"{schema}{about}{section}:\n{textwrap.indent(entry, '  ')}"


def _added(path: Path, before: str, section: str, entry: str) -> str:
    """The file with the entry at the end of its section: nothing that stands there is changed."""
    return yamledit.edited(before, lambda data: yamledit.add(data, section, yamledit.fragment(entry)), str(path))


def own_files(folder: Path) -> list[Path]:
    """The rule files in a company's folder, relative to it."""
    found = [path for place in ("*.yaml", "faults/*.yaml", "rules/*.yaml") for path in sorted(folder.glob(place))]
    return [path.relative_to(folder) for path in found]


def try_out(folder: Path, own: str, texts: Mapping[str, str], *others: Path) -> Rulebook:
    """Reads the book as it will be, somewhere else, before anything is written. Raises InputProblems.

    others: more folders of rules, or a whole book instead of the shipped one.
    """
    with tempfile.TemporaryDirectory() as elsewhere:
        copy = Path(elsewhere).resolve() / own
        for path in own_files(folder):
            if path.as_posix() not in texts:
                files.make_folder((copy / path).parent)
                shutil.copyfile(folder / path, copy / path)
        for name, text in texts.items():
            files.make_folder((copy / name).parent)
            files.write(copy / name, text, over=False)
        return load_rules(copy, *others)
