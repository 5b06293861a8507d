"""cases new, accept and run: what a person wrote is kept, nothing is written over, nothing is accepted in silence."""

from __future__ import annotations

import datetime
import os
import re
import shutil
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import commands
import pytest
from work import THOROUGH

from diagnose import yamlfile
from diagnose.shipped import shipped
from diagnose.workshop.trials import read_case, run_case
from diagnose.workshop.yamledit import scalar

DEMO = shipped("cases") / "demo"
TODAY = "2026-04-03"
KNOWN = (
    "--truth",
    "low-charge",
    "--from",
    "the leak was found: at the flare",
    "--story",
    "Warm shop. It's the 2nd time.",
)
VISIT = """\
# Tuesday, after the rain
machine:
  name: "chandler: roof unit"
  refrigerant: R-410A
  metering: fixed orifice   # seen at the coil
  mode: cooling

readings:
    minutes running: 20      # by the clock
    suction pressure: 118 psig
    liquid pressure: 2.2 MPa
    suction line temperature: 66 F
    liquid line temperature: 36.1 C
    outdoor air temperature: 84 F
    return air dry bulb: 75 F
    return air wet bulb: 63 F
    supply air dry bulb: 58 F
seen: {air filter: clean}
# last line
"""
CASE = """\
# first comment
case: street/one
story: A warm shop.
truth: low-charge
truth_from: found   # by hand
visit:
  # taken at noon
  machine: {refrigerant: R-410A, metering: fixed orifice, mode: cooling, factory charge: 5 lb}
  readings:
    minutes running: 20
    suction pressure: 118 psig
    liquid pressure: 318 psig
    suction line temperature: 66 F
    liquid line temperature: 97 F
    outdoor air temperature: 84 F
    return air dry bulb: 75 F
    return air wet bulb: 63 F
    supply air dry bulb: 58 F
# above what is expected
expect:
  # about the fault
  first: %s   # as we thought
  # about the charge
  charge: low   # surely
  cautions: [caution/gloves]
  quantities:
    superheat: {value: %s, within: 0.5 F}   # worked out by hand
    subcooling: {value: 3 F, within: 0.5 F}
"""

run = partial(commands.run, "cases")


@pytest.fixture
def on_that_day(monkeypatch: pytest.MonkeyPatch) -> None:
    class Day(datetime.date):
        @classmethod
        def today(cls) -> Day:
            return cls.fromisoformat(TODAY)

    monkeypatch.setattr("diagnose.cli.cases.datetime", SimpleNamespace(date=Day))


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    path = tmp_path / "visit.yaml"
    path.write_text(VISIT, encoding="utf-8")
    return path


def street(tmp_path: Path, first: str = "low-charge", superheat: str = "26.2 F", more: str = "") -> Path:
    path = tmp_path / "street" / "one.yaml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(CASE % (first, superheat) + more, encoding="utf-8")
    return path


# -- new -----------------------------------------------------------------------------------------------------------


def test_new_keeps_the_visit_as_it_was_written_and_passes(visit: Path, tmp_path: Path, on_that_day: None) -> None:
    path = tmp_path / "street" / "chandler.yaml"
    out = run("new", str(visit), "-o", str(path), *KNOWN).clean()
    assert out.startswith(f"Wrote {path}. ")
    text = path.read_text(encoding="utf-8")
    assert "visit:\n" + "".join(f"  {line}\n" if line else "\n" for line in VISIT.splitlines()) in text
    case = read_case(path)
    assert case.entry.case == "street/chandler"
    assert (case.entry.truth, case.entry.truth_from) == ("low-charge", KNOWN[3] + "\n")
    assert case.entry.story == KNOWN[5]
    assert case.entry.visit == yamlfile.read(visit).data
    assert case.entry.expect.first == "low-charge"
    assert set(case.entry.expect.quantities) == {"superheat", "subcooling"}
    assert run_case(case).passed
    comment = re.search(rf"# What came out on {TODAY}.*a person must judge every line.*\nexpect:", text, re.S)
    assert comment
    assert run("run", str(path)) == (0, run("run", str(path))[1], "")


@pytest.mark.parametrize("path", sorted(DEMO.glob("*.yaml"))[:: 11 if THOROUGH else 22], ids=lambda p: p.stem)
def test_new_takes_every_shipped_visit(path: Path, tmp_path: Path) -> None:
    """Also those that are not ready: each becomes a case that passes, its visit unchanged."""
    lines = path.read_text(encoding="utf-8").splitlines()
    start = lines.index("visit:") + 1
    stop = next(i for i in range(start, len(lines)) if lines[i].startswith("expect:"))
    if (path.parent / "baseline-good-day-txv.yaml").exists():  # a baseline given as a path lies beside its visit
        shutil.copy(path.parent / "baseline-good-day-txv.yaml", tmp_path)
    visit = tmp_path / "visit.yaml"
    visit.write_text("\n".join(line[2:] for line in lines[start:stop]) + "\n", encoding="utf-8")
    out = tmp_path / "new.yaml"
    run("new", str(visit), "-o", str(out), *KNOWN).clean()
    case = read_case(out)
    assert case.entry.visit == read_case(path).entry.visit
    assert run_case(case).passed


@pytest.mark.parametrize(
    "written",
    [
        "---\nreadings:\n  suction pressure: 118 psig\n...\n",
        "\ufeffreadings: {suction pressure: 118 psig}\n",
        "{readings: {suction pressure: 118 psig}}\n",
        "# yaml-language-server: $schema=visit.json\nreadings: {suction pressure: 118 psig}\n\n\n",
        'machine:\r\n  name: "two\r\n    lines"\r\nreadings: {suction pressure: 118 psig}\r\n',
        "machine:\n  name: >\n    two\n\n    lines\nreadings: {suction pressure: 118 psig}\n",
        "readings: {suction pressure: 118 psig}",
    ],
    ids=["marks", "byte order mark", "flow", "schema", "CRLF", "folded", "no line end"],
)
def test_new_takes_a_visit_in_any_form(written: str, tmp_path: Path) -> None:
    visit, path = tmp_path / "v.yaml", tmp_path / "case.yaml"
    visit.write_bytes(written.encode())
    assert run("new", str(visit), "-o", str(path), *KNOWN)[::2] == (0, "")
    assert read_case(path).entry.visit == yamlfile.read(visit).data
    assert "$schema=visit" not in path.read_text(encoding="utf-8")


def test_new_says_when_today_s_result_is_not_the_truth(visit: Path, tmp_path: Path) -> None:
    path = tmp_path / "new.yaml"
    out = run("new", str(visit), "-o", str(path), *KNOWN[2:], "--truth", "overcharge").fine()
    assert "Today low-charge comes first, and you say that the truth is overcharge." in out
    assert run("run", str(path))[0] == 0
    bad = run("new", str(visit), "-o", str(tmp_path / "bad.yaml"), *KNOWN[2:], "--truth", "bad visit")
    assert (bad[0], "Today" in bad[1]) == (0, False)


def test_new_reads_standard_input(tmp_path: Path) -> None:
    path = tmp_path / "new.yaml"
    assert run("new", "-", "-o", str(path), *KNOWN, stdin=VISIT)[0] == 0
    assert "  # Tuesday, after the rain\n" in path.read_text(encoding="utf-8")


def test_new_asks_where_somebody_is_there(visit: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diagnose.cli.cases._somebody_there", lambda: True)
    path = tmp_path / "new.yaml"
    given = "low-chrge\n\nlow-charge\nfound at the flare\n A  warm shop. \n"
    code, _, err = run("new", str(visit), "-o", str(path), stdin=given)
    assert code == 0
    assert "`low-chrge` is not a fault. Did you mean `low-charge`?" in err
    entry = read_case(path).entry
    assert (entry.truth, entry.truth_from, entry.story) == ("low-charge", "found at the flare", "A warm shop.")


def test_new_ends_when_nobody_answers(visit: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diagnose.cli.cases._somebody_there", lambda: True)
    err = run("new", str(visit), "-o", str(tmp_path / "new.yaml"), stdin="low-charge\n").refused()
    assert err.endswith("--from was not answered\n      Nothing was written.\n")
    assert not (tmp_path / "new.yaml").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (KNOWN[2:], "--truth is missing\n      --truth: What was really wrong ("),
        ((), "--truth, --from and --story are missing\n      --truth: "),
        (KNOWN[:2], "--from and --story are missing\n      --from: How that is known"),
        (("--truth", "low-chrge", *KNOWN[2:]), "`low-chrge` is not a fault\n      Did you mean `low-charge`?\n"),
        (("--truth", "rust", *KNOWN[2:]), "`rust` is not a fault\n      Known: "),
        (("--truth", "bad vist", *KNOWN[2:]), "`bad vist` is not a fault\n      Did you mean `bad visit`?\n"),
    ],
)
def test_new_needs_to_know_the_truth(arguments: tuple[str, ...], said: str, visit: Path, tmp_path: Path) -> None:
    err = run("new", str(visit), "-o", str(tmp_path / "new.yaml"), *arguments).refused()
    assert err.startswith(said)
    assert list(tmp_path.iterdir()) == [visit]


def test_new_looks_at_the_visit_before_it_asks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diagnose.cli.cases._somebody_there", lambda: True)
    code, _, err = run("new", str(tmp_path / "none.yaml"), "-o", str(tmp_path / "new.yaml"), stdin="")
    assert (code, err) == (2, f"{tmp_path}/none.yaml: there is no such file\n      Check the name and the folder.\n")


def test_new_writes_over_nothing(visit: Path, tmp_path: Path) -> None:
    path = tmp_path / "there.yaml"
    path.write_text("mine\n", encoding="utf-8")
    code, _, err = run("new", str(visit), "-o", str(path), *KNOWN)
    assert (code, path.read_text(encoding="utf-8")) == (2, "mine\n")
    assert err == f"{path}: there is a file of this name already\n      Name another: a case is never written over.\n"
    (tmp_path / "link.yaml").symlink_to(tmp_path / "nowhere.yaml")
    assert run("new", str(visit), "-o", str(tmp_path / "link.yaml"), *KNOWN)[0] == 2
    assert not (tmp_path / "nowhere.yaml").exists()


def test_new_refuses_what_can_be_no_case(visit: Path, tmp_path: Path) -> None:
    def err(source: Path | str, out: str) -> str:
        return run("new", str(source), "-o", str(tmp_path / out), *KNOWN).refused()

    assert "a case file must end in .yaml" in err(visit, "new.txt")
    assert "this is already a case" in err(DEMO / "settled.yaml", "new.yaml")
    assert "there is no such file" in err(tmp_path / "none.yaml", "new.yaml")
    assert "the folder cannot be made (file exists)" in err(visit, "visit.yaml/new.yaml")
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text("readings: {suction pressure: 118 psj}\n", encoding="utf-8")
    assert "`psj`" in err(wrong, "new.yaml")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["visit.yaml", "wrong.yaml"]


def test_new_names_the_schema_only_where_it_can_be_reached(visit: Path, tmp_path: Path, monkeypatch: object) -> None:
    path = tmp_path / "new.yaml"
    run("new", str(visit), "-o", str(path), *KNOWN)
    assert "yaml-language-server" not in path.read_text(encoding="utf-8")


# -- accept --------------------------------------------------------------------------------------------------------


def accept(path: Path, because: str = "we looked again: it is right") -> tuple[int, str, str]:
    return run("accept", str(path), "--because", because)


def test_accept_changes_only_what_no_longer_holds(tmp_path: Path, on_that_day: None) -> None:
    path = street(tmp_path, "overcharge", "20 F")
    before = path.read_text(encoding="utf-8").splitlines()
    out = accept(path).clean()
    assert out.splitlines() == [
        "street/one: accepted",
        "  first was overcharge, is low-charge",
        "  quantities superheat value was 20 F, is 26.2 F",
        *(["  quantities subcooling value was 3 F, is 2.7 F"] if "subcooling" in out else []),
    ]
    after = path.read_text(encoding="utf-8").splitlines()
    changed = [(old, new) for old, new in zip(before, after, strict=False) if old != new]
    assert changed[:2] == [
        ("  first: overcharge   # as we thought", "  first: low-charge   # as we thought"),
        (
            "    superheat: {value: 20 F, within: 0.5 F}   # worked out by hand",
            "    superheat: {value: 26.2 F, within: 0.5 F}   # worked out by hand",
        ),
    ]
    assert after[len(before) : len(before) + 3] == [
        "accepted:",
        f"  - date: {TODAY}",
        "    because: 'we looked again: it is right'",
    ]
    assert run("run", str(path))[0] == 0
    entry = read_case(path).entry.accepted[0]
    assert entry.changed.startswith(
        "first was overcharge, is low-charge; quantities superheat value was 20 F, is 26.2 F"
    )


def test_accept_twice_lists_both_and_then_there_is_nothing_to_accept(tmp_path: Path) -> None:
    path = street(tmp_path, "overcharge", more="\n# the end\n")
    assert accept(path, "first time")[0] == 0
    path.write_text(path.read_text(encoding="utf-8").replace("charge: low ", "charge: high "), encoding="utf-8")
    assert accept(path, "second time")[0] == 0
    assert [one.because for one in read_case(path).entry.accepted] == ["first time", "second time"]
    assert "# the end" in path.read_text(encoding="utf-8")
    before = path.read_bytes()
    code, out, _ = accept(path, "third time")
    assert (code, out) == (0, "street/one: nothing to accept, it passes as it is\n")
    assert path.read_bytes() == before


@pytest.mark.parametrize("because", [(), ("--because", " ")])
def test_accept_refuses_without_a_reason(because: tuple[str, ...], tmp_path: Path) -> None:
    path = street(tmp_path, "overcharge")
    before = path.read_bytes()
    code, out, err = run("accept", str(path), *because)
    assert (code, out, path.read_bytes()) == (2, "", before)
    assert err.startswith("a result is accepted only with a reason\n")


def test_accept_writes_nothing_where_one_of_several_cannot_be_read(tmp_path: Path) -> None:
    path, bad = street(tmp_path, "overcharge"), tmp_path / "bad.yaml"
    bad.write_text("case: bad\n", encoding="utf-8")
    before = path.read_bytes()
    code, _, err = run("accept", str(path), str(bad), str(tmp_path / "none.yaml"), "--because", "all of them")
    assert (code, path.read_bytes()) == (2, before)
    assert "bad.yaml:1:1: `expect` is missing" in err
    assert "there is no such file" in err


def test_accept_minds_the_truth(tmp_path: Path) -> None:
    path = street(tmp_path, "overcharge")
    path.write_text(
        path.read_text(encoding="utf-8").replace("truth: low-charge", "truth: overcharge"), encoding="utf-8"
    )
    assert "Mind: the truth of this case is overcharge, and low-charge now comes first." in accept(path)[1]


EXPECTATIONS = {
    "flow": "expect: {first: overcharge, charge: high, quantities: {superheat: {value: 3 F, within: 1 F}}}\n",
    "lists": "expect:\n  first:\n    - overcharge\n    - nothing-wrong   # or so\n  charge: [high, right]\n",
    "gone": "expect:\n  cautions: [caution/flammable-a3]\n  checks: [weigh-the-charge]\n  problems: [swapped]\n",
    "partly gone": "expect:\n  cautions: [caution/flammable-a3, caution/gloves]\n  charge: low\n",
    "status": "expect:\n  status: not ready\n  charge: do not judge\n",
    "second": "expect: {first: low-charge, second: overcharge}\n",
    "amounts": "expect:\n  percent: {value: 10, within: 2}\n  kg:\n    value: 0.2\n    within: 0.1\n",
    "above": "expect:\n  first: nothing-wrong\n  not_above: [low-charge]\n",
    "target": "expect:\n  quantities:\n    superheat:\n      target: 5 F   # by the table\n      within: 0.5 F\n",
    "ratio": "expect:\n  quantities:\n    compression ratio: {value: 9, within: 0.1}\n",
    "no such quantity": (
        "expect:\n  quantities:\n    compressor efficiency: {value: 9, within: 0.1}\n"
        "    superheat: {value: 26.2 F, within: 1 F}\n"
    ),
}


@pytest.mark.parametrize(
    ("place", "expect"), [*enumerate(EXPECTATIONS.values()), *enumerate(EXPECTATIONS.values(), 1)][:13]
)
def test_accept_can_rewrite_every_kind_of_expectation(place: int, expect: str, tmp_path: Path) -> None:
    """Whatever is expected and wherever it stands, the case then passes and the rest of the file is the same.

    Before the visit and after it in turn; two of them in both places.
    """
    before = place % 2 == 0
    head, rest = (CASE % ("low-charge", "26 F")).split("visit:\n")
    body = rest.split("# above what")[0]
    text = f"{head}{expect}# between\nvisit:\n{body}" if before else f"{head}visit:\n{body}# between\n{expect}"
    path = street(tmp_path)
    path.write_text(text, encoding="utf-8")
    assert run("run", str(path))[0] == 1
    assert accept(path)[::2] == (0, "")
    assert run("run", str(path))[0] == 0
    after = path.read_text(encoding="utf-8")
    assert f"visit:\n{body}" in after
    assert after.startswith(head)
    assert "\n# between\n" in after


def test_accept_keeps_the_line_ends_of_the_file(tmp_path: Path) -> None:
    path = street(tmp_path, "overcharge")
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert accept(path)[0] == 0
    content = path.read_bytes()
    assert content.count(b"\r\n") == content.count(b"\n")


@pytest.mark.parametrize(
    "accepted",
    [
        "accepted: []\n",
        "accepted: [{date: 2026-01-02, because: old, changed: first}]\n",
        "accepted:\n- date: 2026-01-02\n  because: old\n  changed: first\n",
        "accepted:   # what was accepted\n    - {date: 2026-01-02, because: old, changed: first}\n",
    ],
)
def test_accept_adds_to_what_was_accepted_before(accepted: str, tmp_path: Path) -> None:
    for place, more in (("end", accepted), ("front", "")):
        path = street(tmp_path, "overcharge", more=more)
        if place == "front":
            path.write_text(accepted + path.read_text(encoding="utf-8"), encoding="utf-8")
        assert accept(path, "new")[::2] == (0, "")
        assert [one.because for one in read_case(path).entry.accepted][-1] == "new"
        assert len(read_case(path).entry.accepted) == (1 if "[]" in accepted else 2)


def test_accept_refuses_what_a_person_must_mend(tmp_path: Path) -> None:
    path = street(tmp_path, superheat="26 psig")
    before = path.read_bytes()
    code, _, err = accept(path)
    assert (code, path.read_bytes()) == (2, before)
    assert "quantity superheat: " in err
    path = street(tmp_path)
    path.write_text(path.read_text(encoding="utf-8").replace("118 psig", "118 psj"), encoding="utf-8")
    err = accept(path).refused()
    assert "`psj`" in err


def test_accept_says_when_it_may_not_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = street(tmp_path, "overcharge")
    real = os.access  # the superuser would be told that it may
    monkeypatch.setattr(os, "access", lambda path, mode, **more: mode != os.W_OK and real(path, mode, **more))
    err = accept(path).refused()
    assert "this file cannot be written (permission denied)" in err


# -- run -----------------------------------------------------------------------------------------------------------


def test_run_counts_each_folder_alone(tmp_path: Path) -> None:
    for folder, name in (("demo", "low-charge-orifice"), ("demo", "swapped-pressures"), ("attic", "settled")):
        (tmp_path / folder).mkdir(exist_ok=True)
        shutil.copy(DEMO / f"{name}.yaml", tmp_path / folder)
    out = run("run", str(tmp_path)).clean()
    head, demo, attic, last = out.splitlines()
    assert " ".join(head.split()) == "folder passed failed true fault first charge advice right harmful"
    assert " ".join(demo.split()) == "demo 2 0 1 of 1 1 of 1 0"
    assert attic.split()[:3] == ["attic", "1", "0"]
    assert last == "3 passed, 0 failed"
    assert all(len(line) <= 80 for line in out.splitlines())


def test_run_with_own_rules(tmp_path: Path) -> None:
    own = tmp_path / "quay"
    own.mkdir()
    (own / "changes.yaml").write_text(
        "changes:\n  - {usual: low-charge, was: 1.2, now: 1, because: fewer here, date: 2026-01-02}\n", encoding="utf-8"
    )
    code, out, err = run("run", str(DEMO / "low-charge-orifice.yaml"), "--rules", str(own))
    moved = "the shipped book has moved on" in err
    assert code == (2 if moved else 0)
    assert moved or out.endswith("1 passed, 0 failed\n")


def test_run_lists_the_mistakes_of_all_files(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / f"{name}.yaml").write_text(f"case: {name}\nexpct: {{}}\n", encoding="utf-8")
    err = run("run", str(tmp_path)).refused()
    assert "one.yaml:2:1: `expct` is not a field here" in err
    assert "two.yaml:2:1: `expct` is not a field here" in err


# -- texts ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "plain words",
        "it's: so",
        "# no",
        "true",
        "null",
        "12",
        "1.5e3",
        "- item",
        "2026-01-02",
        "a #b",
        "{x}",
        "",
        "~",
        "ends ",
        "°F",
    ],
)
def test_a_text_is_read_back_as_it_was(text: str) -> None:
    assert yamlfile.parse(f"text: {scalar(text)}\n", "text").data == {"text": text}
    assert yamlfile.parse(f"text: [{scalar(text)}, b]\n", "text").data == {"text": [text, "b"]}
