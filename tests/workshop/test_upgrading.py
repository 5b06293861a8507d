"""A company's folder over a later book: names, changes that fit no longer, clashes; every comment stays."""

from __future__ import annotations

from pathlib import Path

import pytest
from commands import run
from small_book import SMALL, written

from diagnose import examine, load_rules
from diagnose.rulebook import RuleError, from_data, to_data
from diagnose.workshop.own_folder import upgrade
from diagnose.yamlfile import InputProblems

OWN = {
    "rules.yaml": """\
# since 2024
rules:
  - id: quay/salt   # seen often
    fault: overcharge
    title: Salt
    when: {air filter: dirty, superheat: high}
    points: 2       # by vote
    why: >
      The filter is {air filter}, and superheat is {superheat}; on the quay both go together, and the air
      stops.
    source: book
    check: look
    tests:
      - fires: {air filter: dirty, superheat: high}
      - quiet: {air filter: clean, superheat: high}
""",
    "changes.yaml": """\
changes:
  - points: overcharge/flooded   # long lines
    was: 2
    now: 3
    because: long lines
    date: 2026-03-02
  - {usual: low-charge, was: 1, now: 1.5, because: leaks, date: 2026-03-02}
  - {limits: superheat, was: [5 F, 20 F], now: [6 F, 21 F], because: ours, date: 2026-03-02}
  - off: low-charge/starved
    because: we know
    date: 2026-03-02
""",
}
NEXT = SMALL | {
    "findings.yaml": SMALL["findings.yaml"]
    .replace("{finding: air filter,", "{finding: return filter, renamed: [air filter],")
    .replace("[5 F, 20 F]", "[4 F, 20 F]"),
    "checks.yaml": SMALL["checks.yaml"]
    .replace("check: look,", "check: look-inside, renamed: [look],")
    .replace("air filter", "return filter"),
    "faults/low-charge.yaml": SMALL["faults/low-charge.yaml"]
    .replace("usual: 1\n", "usual: 1.5\n")
    .replace("check: look", "check: look-inside")
    .replace("overcharge:", "too-much:"),
    "faults/too-much.yaml": SMALL["faults/overcharge.yaml"]
    .replace("fault: overcharge\n", "fault: too-much\nrenamed: [overcharge]\n")
    .replace("id: overcharge/", "id: too-much/")
    .replace("points: 2", "points: 2.5"),
}
del NEXT["faults/overcharge.yaml"]


def test_it_fits_its_own_book(tmp_path: Path) -> None:
    found = upgrade(written(tmp_path / "quay", OWN), written(tmp_path / "old", SMALL))
    assert not found.texts
    assert not found.notes
    assert not found.left


def test_what_the_next_book_renamed_and_changed(tmp_path: Path) -> None:
    own, book = written(tmp_path / "quay", OWN), written(tmp_path / "next", NEXT)
    with pytest.raises(RuleError, match="It is called `too-much` now"):
        load_rules(book, own)
    found = upgrade(own, book)
    assert not found.left
    assert (own / "rules.yaml").read_text(encoding="utf-8") == OWN["rules.yaml"]  # nothing is written unasked
    found.write()
    names = (
        ("air filter", "return filter"),
        ("fault: overcharge", "fault: too-much"),
        ("check: look", "check: look-inside"),
    )
    wanted = OWN["rules.yaml"]
    for old, new in names:
        wanted = wanted.replace(old, new)
    assert (own / "rules.yaml").read_text(encoding="utf-8") == wanted  # comments and folds too
    assert (own / "changes.yaml").read_text(encoding="utf-8") == OWN["changes.yaml"].replace(
        "points: overcharge/flooded ", "points: too-much/flooded "
    ).replace("was: 2\n", "was: 2.5\n").replace("[5 F, 20 F], now", "[4 F, 20 F], now").replace(
        "because: leaks, date: 2026-03-02}", "because: leaks, date: 2026-03-02, status: retired}"
    )
    told = " ".join(found.notes[Path("changes.yaml")])
    assert "Decide again: `points: too-much/flooded` was made for 2, and the book says 2.5 now. Yours stays 3." in told
    assert "`usual: low-charge` is retired: the book says 1.5 by itself now." in told
    after = load_rules(book, own)
    assert after.by_id["too-much/flooded"].points == 3
    assert not upgrade(own, book).texts  # once is enough
    assert from_data(to_data(after)) == after


def test_a_rule_that_is_gone_and_a_name_that_clashes(tmp_path: Path) -> None:
    low = SMALL["faults/low-charge.yaml"]
    later = SMALL | {
        "faults/low-charge.yaml": low.replace("id: low-charge/starved", "id: low-charge/hungry"),
        "findings.yaml": SMALL["findings.yaml"]
        + "  - {finding: salt, what: s, seen: true, ask: Look., words: [near, far]}\n",
    }
    own = OWN | {
        "findings.yaml": "findings:\n  - {finding: salt, what: s, seen: true, ask: Look., words: [on, off the]}\n"
    }
    folder = written(tmp_path / "quay", own)
    found = upgrade(folder, written(tmp_path / "later", later))
    assert "`off: low-charge/starved` is retired" in found.notes[Path("changes.yaml")][0]
    (left,) = found.left
    assert "`salt` is already a finding in later/findings.yaml" in left.what
    ran = run("rules", "upgrade", str(folder), "--to", str(tmp_path / "later"))
    assert ran.exit_code == 2
    assert "+    status: retired" in ran.stdout
    assert "as it was in before/quay: diagnose rules compare OLD+before/quay " in ran.stdout
    assert "`salt` is already a finding" in ran.stderr


def test_a_branch_is_brought_over_its_firm(tmp_path: Path) -> None:
    """Its `was` is the firm's `now`, in the next book as well."""
    book, firm = written(tmp_path / "old", SMALL), written(tmp_path / "firm", {"changes.yaml": OWN["changes.yaml"]})
    over = OWN["changes.yaml"].splitlines()[:6]
    branch = written(
        tmp_path / "branch", {"changes.yaml": "\n".join(over).replace("was: 2", "was: 3").replace("now: 3", "now: 1")}
    )
    assert not upgrade(branch, book, [firm]).notes
    assert upgrade(branch, book).notes


def test_an_old_visit_is_read_under_the_new_names(tmp_path: Path) -> None:
    book = load_rules(written(tmp_path / "next", NEXT))
    d = examine({"machine": {"mode": "cooling"}, "seen": {"air filter": "dirty"}}, book)
    assert d.visit.seen == {"return filter": "dirty"}


@pytest.mark.parametrize("former", ["superheat", "air filter"])
def test_a_name_is_not_given_twice(tmp_path: Path, former: str) -> None:
    text = NEXT["findings.yaml"].replace("renamed: [air filter]", f"renamed: [{former}]")
    text = text.replace("  - finding: superheat\n", "  - finding: superheat\n    renamed: [air filter]\n")
    with pytest.raises(RuleError, match=r"is the name of a finding|became `superheat` already"):
        load_rules(written(tmp_path / "next", NEXT | {"findings.yaml": text}))


def test_what_is_no_folder_or_no_book(tmp_path: Path) -> None:
    book = written(tmp_path / "old", SMALL)
    own = written(tmp_path / "quay", OWN)
    for folder, to in ((tmp_path / "none", book), (book, book), (own, own), (own, tmp_path / "none")):
        with pytest.raises(InputProblems):
            upgrade(folder, to)
