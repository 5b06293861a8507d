"""What holds of a company's own rules whatever they are: order makes no difference, and nothing else changes."""

from __future__ import annotations

import itertools
import re
import shutil
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import shared
import yaml
from hypothesis import given
from hypothesis import strategies as st
from small_book import written
from work import calls, examples

from diagnose import Diagnosis, yamlfile
from diagnose.diagnosis.pipeline import examine
from diagnose.rulebook import Applying, Rulebook, applies, load_rules
from diagnose.rulebook.limits import MADE_IN
from diagnose.rulebook.reading import read_book
from diagnose.shipped import shipped
from diagnose.visit import Visit
from diagnose.workshop.trials import read_case

SHIPPED = load_rules()
MATCHER = Applying.matcher
VISITS: dict[str, Visit] = {name: shared.visit_of(f"demo/{name}") for name in shared.PARTS[1]}

# Four companies: rules and findings, a check and a source, a fault and a state, and changes of the shipped book.
COMPANIES: dict[str, dict[str, str]] = {
    "harbour": {
        "findings.yaml": "findings:\n"
        "  - {finding: salt, what: salt on the coil, seen: true, ask: Look., words: [none, crusted]}\n",
        "rules.yaml": """rules:
  - id: harbour/salt
    fault: low-outdoor-airflow
    title: Salt closes the fins
    when: {salt: crusted, condensing over ambient: [high, very high]}
    points: 2
    why: The salt is {salt}.
    source: common-practice
    check: quay-rinse
    tests:
      - fires: {salt: crusted, condensing over ambient: high}
      - quiet: {salt: none, condensing over ambient: high}
""",
    },
    "quay": {
        "checks.yaml": "checks:\n  - {check: quay-rinse, ask: Rinse it., why: To see., minutes: 20, gives: [salt]}\n",
        "sources.yaml": "sources:\n  quay-notes: {title: Notes of ten years, confidence: no source}\n",
    },
    "net-loft": {
        "states.yaml": """states:
  - {state: outdoor coil condition, question: "Is the outdoor coil sound?", words: [sound, eaten]}
rules:
  - id: net-loft/eaten
    title: The coil is eaten
    when: {salt: crusted}
    concludes: {outdoor coil condition: eaten}
    why: The salt is {salt}.
    source: quay-notes
    tests:
      - fires: {salt: crusted}
      - quiet: {salt: none}
""",
        "cautions.yaml": "rules:\n"
        "  - {id: net-loft/edge, title: Stay off the edge, rank: 90, when: {salt: crusted}, why: It is wet., "
        "source: common-practice, tests: [{fires: {salt: crusted}}, {quiet: {salt: none}}]}\n",
    },
    "ferry": {
        "changes.yaml": f"""changes:
  - {{off: low-charge/oil, because: Our joints are always oily., date: 2026-03-01}}
  - {{usual: low-charge, was: {SHIPPED.faults["low-charge"].usual}, now: 2, because: We count., date: 2026-03-01}}
""",
    },
}


@pytest.fixture(autouse=True)
def plain_matcher(monkeypatch: pytest.MonkeyPatch) -> None:
    """Books are made by the dozen here, and durable-rules keeps the memory of each; both matchers give the same."""
    monkeypatch.setattr(Applying, "matcher", lambda self, engine="auto": self.plain)


def before(name: str) -> Diagnosis:
    """The result with the shipped book alone, by its own matcher: others look at it as well."""
    with pytest.MonkeyPatch.context() as own:
        own.setattr(Applying, "matcher", MATCHER)
        return shared.examined(f"demo/{name}")


@cache
def was(name: str) -> dict[str, Any]:
    return told(before(name).to_dict())


def write(parent: Path, companies: dict[str, dict[str, str]]) -> list[Path]:
    return [written(parent / company, files) for company, files in companies.items()]


def content(book: Rulebook) -> dict[str, Any]:
    """Everything a book says, whatever order it was read in."""
    return {
        "rules": {rule.id: rule for rule in book.rules},
        "findings": dict(book.findings),
        "states": dict(book.states),
        "faults": dict(book.faults),
        "checks": dict(book.checks),
        "sources": dict(book.sources),
        "charge": book.charge,
        "changes": sorted(book.changes, key=str),
    }


def result(visit: Visit, book: Rulebook) -> dict[str, Any]:
    return examine(visit, book).to_dict()


def test_companies_in_any_order_make_the_same_book(tmp_path: Path) -> None:
    folders = write(tmp_path, COMPANIES)
    first = load_rules(*folders)
    for order in itertools.permutations(folders):
        assert load_rules(*order) is first
    assert (
        re.sub(r"\([0-9a-f]{8}\)", "(…)", first.name)
        == "shipped (…) + ferry (…) + harbour (…) + net-loft (…) + quay (…)"
    )


def test_and_that_is_not_only_because_they_are_sorted_first(tmp_path: Path) -> None:
    """Read in every order indeed: the same content, and on each visit the same findings, faults and verdict."""
    folders = write(tmp_path, COMPANIES)
    orders = list(itertools.permutations(folders))
    # Each folder comes first, last, before and after each other one in some of them.
    books = [read_book(shipped("rules"), orders[i]) for i in (0, 7, 16, 23)]
    for book in books[1:]:
        assert content(book) == content(books[0])
    for visit in list(VISITS.values())[::14]:
        first = result(visit, books[0])
        for book in (books[1], books[-1]):
            other = result(visit, book)
            assert other["charge"] == first["charge"]
            assert [f["fault"] for f in other["faults"]] == [f["fault"] for f in first["faults"]]
            assert [f["share"] for f in other["faults"]] == pytest.approx([f["share"] for f in first["faults"]])
            assert {c["check"] for c in other["checks"]} == {c["check"] for c in first["checks"]}
            for same in ("status", "findings", "states", "quantities", "problems", "cautions", "not_ready"):
                assert other[same] == first[same]


def test_where_the_folders_lie_makes_no_difference(tmp_path: Path) -> None:
    """The order of loading is that of the paths; here each company lies in a folder that sorts another way."""
    books = []
    for turn, numbers in enumerate(("abcd", "dcba", "bdac")):
        parents = [tmp_path / str(turn) / letter for letter in numbers]
        folders = [write(p, {c: f})[0] for p, (c, f) in zip(parents, COMPANIES.items(), strict=True)]
        books.append(load_rules(*folders))
    assert content(books[0]) == content(books[1]) == content(books[2])
    for visit in list(VISITS.values())[::6]:
        shares = [{f.fault: f.share for f in examine(visit, book).faults} for book in books]
        assert shares[0] == pytest.approx(shares[1])
        assert shares[0] == pytest.approx(shares[2])


# -- a visit that uses nothing of an overlay is judged as without it ----------------------------------------------------------

FAULTS = sorted(SHIPPED.faults)
GRADED = sorted(
    name for rule in SHIPPED.rules if rule.kind != "caution" for name in rule.findings if name in SHIPPED.findings
)
GRADED = [name for name in dict.fromkeys(GRADED) if not SHIPPED.findings[name].seen]


def made(mode: str) -> list[str]:
    """The findings that a valve machine gives in such a mode, and perhaps another machine as well."""
    facts, entries = {"mode": mode, "metering": "TXV"}, {name: SHIPPED.findings[name] for name in GRADED}
    return [
        name
        for name, entry in entries.items()
        if MADE_IN.get(entry.quantity or "", mode) == mode and any(applies(s.applies, facts) for s in entry.scales)
    ]


MADE = {mode: made(mode) for mode in ("cooling", "heating")}


@st.composite
def own_rules(draw: st.DrawFn) -> dict[str, str]:
    """A company with one to three findings of its own and one to six rules, each of which reads one of them."""
    seen = [f"own sight {i}" for i in range(draw(st.integers(1, 3)))]
    rules: dict[str, dict[str, Any]] = {}
    for i in range(draw(st.integers(1, 6))):
        fault, machines = draw(st.sampled_from(FAULTS)), draw(st.sampled_from([{}, {"metering": ["TXV", "EEV"]}]))
        mode = "heating" if SHIPPED.faults[fault].applies else "cooling"
        when = {draw(st.sampled_from(seen)): "yes indeed"}
        for name in draw(st.lists(st.sampled_from(MADE[mode]), max_size=2, unique=True)):
            when[name] = draw(st.sampled_from(SHIPPED.findings[name].words))
        quiet = {name: "not at all" for name in when if name in seen}
        rules[str((fault, sorted(when.items()), machines))] = {
            "id": f"harbour/rule-{i}", "fault": fault, "title": f"Rule {i}", "when": when, "why": "So we found.",
            "points": draw(st.sampled_from([-4, -1.5, -0.5, 0.5, 2, 4])), "source": "common-practice",
            "applies": machines | {"mode": mode},
            "tests": [{"fires": when}, {"quiet": quiet}],
        }  # fmt: skip
    findings = [
        {"finding": s, "what": "w", "seen": True, "ask": "Look.", "words": ["yes indeed", "not at all"]} for s in seen
    ]
    return {
        "findings.yaml": yaml.safe_dump({"findings": findings}),
        "rules.yaml": "rules:\n" + "".join(f"  - {_flow(rule)}\n" for rule in rules.values()),
    }


def _flow(value: object) -> str:
    """One line of YAML without anchors, which safe_dump writes for what is there twice."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    return str(value)


def told(found: dict[str, Any]) -> dict[str, Any]:
    """A result without the book's name, and without advice on what else could be looked at."""
    faults = [{k: v for k, v in fault.items() if k != "missing"} for fault in found["faults"]]
    return {k: v for k, v in found.items() if k not in ("rulebook", "checks", "matcher")} | {"faults": faults}


@examples(3)
@given(files=own_rules(), names=st.lists(st.sampled_from(sorted(VISITS)), min_size=2, max_size=3, unique=True))
def test_own_rules_change_nothing_where_nothing_of_them_was_seen(
    tmp_path_factory: pytest.TempPathFactory, files: dict[str, str], names: list[str]
) -> None:
    folder = tmp_path_factory.mktemp("own")
    (own,) = write(folder, {"harbour": files})
    book = read_book(shipped("rules"), [own])
    for name in names:
        assert told(result(VISITS[name], book)) == was(name)
    shutil.rmtree(folder)


def test_an_own_rule_on_a_finding_of_the_cautions_silences_no_caution(tmp_path: Path) -> None:
    """What dangers read is told even of readings that were set aside; it must stay so."""
    rules = """rules:
  - id: harbour/head
    fault: overcharge
    title: The head is high
    when: {salt: crusted, discharge line: far too hot}
    points: 1
    why: So we found.
    source: common-practice
    tests:
      - fires: {salt: crusted, discharge line: far too hot}
      - quiet: {salt: none, discharge line: far too hot}
"""
    (own,) = write(tmp_path, {"harbour": COMPANIES["harbour"] | {"rules.yaml": rules}})
    visit: Any = read_case(shipped("cases") / "demo" / "wrong-refrigerant.yaml").entry.visit
    visit = visit | {"readings": visit["readings"] | {"discharge line temperature": "255 F"}}
    shown = [danger.code for danger in examine(visit, SHIPPED).dangers]
    assert "caution/discharge-far-too-hot" in shown
    assert [danger.code for danger in examine(visit, load_rules(own)).dangers] == shown


@pytest.mark.parametrize("name", list(VISITS)[::4])
def test_own_findings_rules_states_and_checks_change_nothing_either(
    tmp_path_factory: pytest.TempPathFactory, name: str
) -> None:
    own = _without_changes(tmp_path_factory)
    assert told(result(VISITS[name], own)) == was(name)


_KEPT: list[Rulebook] = []


def _without_changes(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    if not _KEPT:
        companies = {name: files for name, files in COMPANIES.items() if name != "ferry"}
        _KEPT.append(load_rules(*write(tmp_path_factory.mktemp("companies"), companies)))
    return _KEPT[0]


def test_an_own_fault_takes_a_share_and_leaves_every_score(tmp_path: Path) -> None:
    """Shares sum to one, so a fault more makes them smaller; scores and their order stay."""
    fault = (shipped("rules") / "faults" / "weak-compressor.yaml").read_text(encoding="utf-8").split("\nrules:\n")[0]
    fault = fault.replace("../schema/", "").replace("fault: weak-compressor", "fault: harbour-salt")
    rule = (
        COMPANIES["harbour"]["rules.yaml"].replace("    fault: low-outdoor-airflow\n", "").replace("quay-rinse", "wait")
    )
    rule = rule.replace("harbour/salt", "harbour-salt/crust").replace("    check: wait\n", "")
    findings = COMPANIES["harbour"]["findings.yaml"]
    files = {"findings.yaml": findings, "faults/harbour-salt.yaml": f"{fault}\n{rule}"}
    (own,) = write(tmp_path, {"harbour": files})
    book = load_rules(own)
    for name, visit in list(VISITS.items())[::2]:
        found = [(r.fault, r.score) for r in examine(visit, book).ranked if r.fault != "harbour-salt"]
        assert found == [(r.fault, r.score) for r in before(name).ranked], name


def test_changes_do_change(tmp_path: Path) -> None:
    """So that the tests above would notice."""
    (own,) = write(tmp_path, {"ferry": COMPANIES["ferry"]})
    book = load_rules(own)
    assert any(
        told(result(shared.visit_of(f"demo/{name}"), book)) != was(name) for name in ("low-charge-orifice", "settled")
    )
    assert "low-charge/oil" not in book.by_id
    assert book.faults["low-charge"].usual == 2


# -- how much work it is -------------------------------------------------------------------------------------------------------


def test_reading_a_book_takes_little_more_than_its_yaml(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Each file is opened once, and each thing that YAML finds in it costs some 24 calls, checks and all."""
    book = shutil.copytree(shipped("rules"), tmp_path / "rules")
    texts = {path: path.read_text(encoding="utf-8") for path in [*book.glob("*.yaml"), *book.glob("faults/*.yaml")]}
    for path, text in texts.items():
        path.write_text(f"{text}# no file that was read before\n", encoding="utf-8")
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    events = sum(len(list(yaml.parse(text, Loader=loader))) for text in texts.values())
    opened: list[Path] = []
    real = yamlfile.content_of
    monkeypatch.setattr(yamlfile, "content_of", lambda path: opened.append(Path(path)) or real(path))
    work = calls(lambda: load_rules(book))
    assert sorted(opened) == sorted(texts)
    if yaml.__with_libyaml__:  # without it the scanner is Python, and each of its steps a call
        assert work < 30 * events
