"""The texts of a new rule, a new fault, and what goes with them, with FILL IN where somebody must write."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from diagnose.report.wording import upper_first
from diagnose.rulebook import Rule, Rulebook
from diagnose.rulebook.data import as_written
from diagnose.visit.fields import HEATING
from diagnose.workshop import yamledit
from diagnose.workshop.own_folder import schema_line

WhenWords = dict[str, tuple[str, ...]]
SOURCE = "common-practice"


def _flow(pairs: Mapping[str, str]) -> str:
    return "{" + ", ".join(f"{name}: {_plain(word)}" for name, word in pairs.items()) + "}"


def _plain(word: str) -> str:
    return f'"{word}"' if word in ("no", "yes", "on", "off", "true", "false", "null", "~") else word


def rule_text(rule: str, fault: str, when: WhenWords, points: float, rules: Rulebook, mode: str) -> str:
    """The entry, a list item without indentation. mode: heating must be named."""
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
        *(["  applies: {mode: heating}"] if mode == HEATING else []),
        f"  when: {_flow(asked)}",
        "  # FILL IN the points, -4 to 4: one point doubles the odds of this fault, minus one halves them.",
        f"  points: {points:g}",
        "  # FILL IN why, for an apprentice: one to three short sentences. {…} prints the figure of this visit.",
        "  why: >",
        f"    {_said(when)}.",
        "    This is evidence for the fault because of what the fault does to the machine.",
        "  # FILL IN where this is known from: a name in sources.yaml, or common-practice.",
        f"  source: {SOURCE}",
        "  # FILL IN the tests: findings that must make the rule fire, and a near case that must leave it quiet.",
        "  tests:",
        f"    - fires: {_flow(fires)}",
        f"    - quiet: {_flow(quiet)}",
        "      because: this one finding is missing",
    ]
    return "\n".join(lines) + "\n"


def against_text(rule: str, when: WhenWords, rules: Rulebook, mode: str) -> str:
    """The same the other way round: one of the findings has another word, and that speaks against."""
    known = {name: rules.findings[name].words if name in rules.findings else ("present", "none") for name in when}
    other = next(name for name in reversed(list(when)) if set(known[name]) - set(when[name]))
    words = tuple(word for word in known[other] if word not in when[other])
    return rule_text(rule, "", {other: words}, -2.0, rules, mode)


def copied_text(rule: Rule, fault: str) -> str:
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


def check_text(check: str, fault: str, like: str, gives: Sequence[str]) -> str:
    """A check that brings the new findings."""
    return (
        f"- check: {check}\n"
        f"  # FILL IN how it is looked at or measured, as one instruction.\n"
        f"  ask: Look for {' and '.join(gives)}.\n"
        f"  why: It tells {fault} from {like}.\n"
        f"  minutes: 5\n"
        f"  gives: [{', '.join(gives)}]\n"
    )


def _said(when: WhenWords) -> str:
    """`The superheat is {superheat} and the …`: braces stay, a visit fills them."""
    # `{superheat target}` would print what superheat should be, so a finding of such a name is said by its words.
    figures = {n: " or ".join(words) if n.endswith(" target") else f"{{{n}}}" for n, words in when.items()}
    text = " and ".join(f"the {name} is {figure}" for name, figure in figures.items())
    return upper_first(text)


def _title(when: WhenWords) -> str:
    said = [f"{name} is {' or '.join(words)}" for name, words in when.items()]
    return " and ".join([upper_first(said[0]), *said[1:]])


def finding_text(name: str) -> str:
    """A finding that is looked at."""
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


def fault_text(fault: str, own: str, evidence: str, like: str, when: WhenWords, rules: Rulebook) -> str:
    """evidence: its rules, list items without indentation. like: the fault that it shares with; when: what parts them."""
    name = fault.removeprefix(f"{own}-").replace("-", " ")
    twin = ""
    if like:
        entry = rules.faults[like]
        parting = {
            "findings": yamledit.flow({n: w[0] if len(w) == 1 else list(w) for n, w in when.items()}),
            "source": SOURCE,
        }
        brings = [parting, *(_brings(as_written(each)) for each in entry.brings)]
        twin = f"looks_like:\n  # FILL IN how the two are told apart.\n  {like}: They read alike at the gauges.\n"
        twin += "# FILL IN what it makes of the readings: first what tells them apart, then what the other one does.\n"
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
usual_source: {SOURCE}
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
    return schema_line(f"faults/{fault}.yaml") + head + textwrap.indent(evidence, "  ")


def _brings(told: Mapping[str, Any]) -> dict[str, object]:
    """One entry of `brings`, with its groups on one line each."""
    kept = {n: told[n] for n in ("applies", "findings", "shows", "source") if told.get(n)}
    return {n: yamledit.flow(v) if isinstance(v, Mapping | list) else v for n, v in kept.items()}
