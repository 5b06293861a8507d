"""The commands as a technician runs them: what is printed, in which form, with which exit code, and never a trace."""

from __future__ import annotations

import gc
import json
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import commands
import pytest
import typer.main
from hypothesis import given
from hypothesis import strategies as st
from shared import DEMO, PARTS, page, told
from strategies import State, visit
from work import examples

import diagnose
from diagnose import cli
from diagnose.cli import app
from diagnose.diagnosis import pipeline
from diagnose.rulebook import Rulebook
from diagnose.shipped import shipped
from diagnose.units import System
from diagnose.workshop.trials import case_paths, rule_trials

BIN = Path(sys.executable).parent
DIAGNOSE = str(BIN / "diagnose")
TREE = str(Path(diagnose.__file__).parents[1])  # the same program as in this process, wherever another is installed
SOME = PARTS[1]
LOW = str(DEMO / "low-charge-orifice.yaml")
# Every reading and machine fact there is, so that every quantity is worked out.
FULL = json.dumps(visit(State(), extra=True))

run = cache(commands.run)

ENVIRONMENT = {
    "PATH": f"{BIN}:/usr/bin:/bin",
    "PYTHONPATH": TREE,
    "PYTHONIOENCODING": "utf-8",
    "DIAGNOSE_CACHE": os.environ["DIAGNOSE_CACHE"],
}


def process(*words: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    """A process of its own, with nothing of this one's environment but what is given."""
    return subprocess.run(
        [DIAGNOSE, *words], capture_output=True, check=False, stdin=subprocess.DEVNULL,
        env={**ENVIRONMENT, **env},
    )  # fmt: skip


def widest(text: str) -> str:
    return max(text.splitlines(), key=len)


# -- the page on a terminal ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("name", SOME[::9])
def test_the_command_prints_the_page(name: str, units: System) -> None:
    assert run("examine", str(DEMO / f"{name}.yaml"), "--units", units, "--full") == (
        0,
        page(f"demo/{name}", units),
        "",
    )


@pytest.mark.parametrize(("name", "units"), [*((name, "us") for name in SOME), *((name, "si") for name in SOME[::3])])
def test_every_page_fits_80_columns_and_begins_with_the_answer(name: str, units: System) -> None:
    """Only dangers stand before it."""
    out = page(f"demo/{name}", units)
    assert len(widest(out)) <= 80
    charge = r"No charge verdict yet\.|The charge is (low|right|high) by (su|all|weight)"
    dangers = r"((STOP|Danger): .*?)?" if out.startswith(("STOP: ", "Danger: ")) else ""
    assert re.match(
        rf"{dangers}((Not ready to judge|Outside what the rules were written for)\. \S|"
        rf"(Apart from the danger, most|Most) likely: [^.]+ \((strong|fair|weak) evidence\)\. ({charge}))",
        " ".join(out.split()),
    )
    assert "\x1b" not in out
    assert out.endswith("\n")


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("name", ["non-condensables-txv", "iced-coil"])
def test_why_of_every_fault_fits_80_columns(name: str, units: str, book: Rulebook) -> None:
    faults = book.about({"mode": "cooling"}).faults
    for place, fault in enumerate(faults):
        out = run("why", str(DEMO / f"{name}.yaml"), fault, "--units", units).clean()
        assert len(widest(out)) <= 80
        assert out.startswith(f"{faults[fault].name}: ")
        assert f" of {len(faults)}." in out.splitlines()[0], place


def test_si_prints_no_fahrenheit_but_beside_its_celsius_or_kelvin() -> None:
    for name in SOME[::3]:
        out = " ".join(page(f"demo/{name}", "si").split())
        for found in re.finditer(r"[\d.]+ °F", out):
            assert re.match(r"[\d.]+ °F \([\d. to]+ (K|°C)\)", out[found.start() :]), out[found.start() - 60 :][:120]
        assert not re.search(r"± [\d.]+ (psi|psig|psia|cfm|oz|ton|gr/lb)\b", out)


def test_units_of_the_visit_unless_said() -> None:
    assert "14.8 ± 0.8 K" in run("examine", str(DEMO / "si-low-charge.yaml"))[1]
    assert "°F" in run("examine", str(DEMO / "si-low-charge.yaml"), "--units", "us")[1]
    assert "24.9 ± 1.5 °F" in run("examine", LOW)[1]


COLOURED = {"TERM": "xterm-256color", "FORCE_COLOR": "1", "CLICOLOR_FORCE": "1"}


def test_console_script_prints_the_same_as_the_function() -> None:
    """On a terminal that knows only ASCII; on others in test_ending.py and test_package.py."""
    done = process("why", LOW, "low-charge", COLUMNS="80", LANG="C", PYTHONIOENCODING="ascii", **COLOURED)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.decode("ascii") == run("why", LOW, "low-charge", charset="ascii")[1]


def test_a_terminal_that_knows_only_ascii() -> None:
    for words in (("why", LOW, "low-charge"), ("examine", LOW, "--as", "markdown")):
        text = run(*words, charset="ascii").clean()
        assert text.isascii()
        assert "24.9 +/- 1.5 F" in text
        assert "?" not in text.replace("Is the evaporator fed?", "")


def test_json_loses_nothing_on_an_ascii_output() -> None:
    wide = json.loads(run("examine", LOW, "--as", "json")[1])
    assert json.loads(run("examine", LOW, "--as", "json", charset="ascii").fine()) == wide


def test_a_narrow_terminal_is_obeyed_and_a_wide_one_is_not() -> None:
    narrow, wide = (run("examine", LOW, COLUMNS=columns) for columns in ("60", "300"))
    assert 40 < len(widest(narrow.stdout.partition("The figures")[0])) <= 60
    assert 60 < len(widest(wide.stdout)) <= 80


def test_a_dash_reads_standard_input() -> None:
    text = Path(LOW).read_text(encoding="utf-8")
    assert run("examine", "-", "--full", stdin=text)[:2] == run("examine", LOW, "--full")[:2]
    assert "More: diagnose examine FILE --full" in run("examine", "-", stdin=text)[1]
    assert run("why", "-", "low-charge", stdin=text)[:2] == run("why", LOW, "low-charge")[:2]


# -- JSON and Markdown ---------------------------------------------------------------------------------------------

KEYS = {
    "format", "status", "dangers", "loosened", "visit", "outside", "not_ready", "rulebook", "matcher", "charge", "faults",
    "also", "also_because", "costs", "quantities", "findings", "states", "checks", "would_change", "cautions", "problems",
    "without_baseline", "unfit_rules",
}  # fmt: skip
CHARGE = {"verdict", "method", "measured", "target", "tolerance", "unit", "estimate_percent", "why", "expect_after"}


@pytest.mark.parametrize("name", SOME[::5])
def test_json_is_the_result(name: str) -> None:
    out = run("examine", str(DEMO / f"{name}.yaml"), "--as", "json").clean()
    assert json.loads(out) == json.loads(json.dumps(told(f"demo/{name}")))


@pytest.mark.parametrize("name", SOME)
def test_json_is_one_document_with_the_agreed_keys(name: str) -> None:
    result = told(f"demo/{name}")
    assert set(result) == KEYS
    assert result["format"] == 2
    assert result["status"] in ("diagnosed", "not ready", "outside")
    assert set(result["charge"]) >= CHARGE
    assert result["charge"]["verdict"] in ("right", "low", "high", "do not judge")
    assert bool(result["faults"]) == (result["status"] == "diagnosed")
    for fault in result["faults"]:
        assert {"fault", "name", "score", "share", "strength", "for", "against", "missing"} <= set(fault)
        assert fault["strength"] in ("strong", "fair", "weak", "unlikely")
        for statement in (*fault["for"], *fault["against"]):
            assert {"rule", "points", "sure", "text", "source"} <= set(statement)
    shares = [fault["share"] for fault in result["faults"]]
    assert shares == sorted(shares, reverse=True)
    for quantity in result["quantities"].values():
        assert {"value", "sigma", "expected", "unit", "from"} <= set(quantity)
    for check in result["checks"]:
        assert {"check", "ask", "why", "minutes"} <= set(check)
    for reason in (
        *result["outside"],
        *result["not_ready"],
        *result["problems"],
        *result["cautions"],
        *result["charge"].get("caveats", []),
    ):
        assert reason["code"]
        assert reason["text"]
    assert all("readings" in problem for problem in result["problems"])


def test_json_does_not_depend_on_the_units_but_in_its_sentences() -> None:
    us, si = (json.loads(run("examine", LOW, "--as", "json", "--units", units)[1]) for units in ("us", "si"))
    assert us["quantities"] == si["quantities"]
    assert us["findings"] == si["findings"]


def test_why_as_json_and_as_markdown() -> None:
    result = json.loads(run("why", LOW, "low-charge", "--as", "json")[1])
    assert result["fault"] == "low-charge"
    assert any("24.9 ± 1.5 °F" in line["text"] for line in result["lines"])
    assert run("why", LOW, "low-charge", "--as", "markdown")[1].startswith("# Low refrigerant charge: strong")


@pytest.mark.parametrize("name", ["low-charge-orifice", "only-two-readings", "iced-coil"])
def test_markdown_has_a_title_headings_and_a_table(name: str) -> None:
    out = run("examine", str(DEMO / f"{name}.yaml"), "--full", "--as", "markdown")[1]
    assert out.startswith("# ")
    assert re.search(r"^## Take care$", out, re.M)
    assert "| figure | value | should be | in a word |\n| --- | --- | --- | --- |\n| " in out
    assert "\n\n\n" not in out
    for heading in re.findall(r"^##? .*$", out, re.M)[1:]:
        assert f"\n\n{heading}\n\n" in out


# -- bad input -----------------------------------------------------------------------------------------------------

EIGHT = """\
machine:
  refrigerant: R-410B
  metering: fixed orfice
  altitude: 250
readings:
  minutes running: soon
  suction presure: 130 psig
  liquid pressure: 306 C
  suction line temperature: 61 psig
  liquid line temperature: 89
"""
EIGHT_SAID = """\
visit.yaml:2:16: There is no refrigerant 'R-410B' in the table
    2 |   refrigerant: R-410B
      |                ^^^^^^
      Did you mean R-410A?
visit.yaml:3:13: `metering`: `fixed orfice` is not known
    3 |   metering: fixed orfice
      |             ^^^^^^^^^^^^
      Did you mean `fixed orifice`?
visit.yaml:4:13: `altitude`: `250` has no unit
    4 |   altitude: 250
      |             ^^^
      Write the unit, for example `250 ft`.
visit.yaml:6:20: `minutes running`: `soon` does not begin with a number
    6 |   minutes running: soon
      |                    ^^^^
      Write a number and its unit, for example `15 min`.
visit.yaml:7:3: `suction presure` is not a reading
    7 |   suction presure: 130 psig
      |   ^^^^^^^^^^^^^^^
      Did you mean `suction pressure`?
visit.yaml:8:20: `liquid pressure`: `C` is a temperature; a pressure is expected here
    8 |   liquid pressure: 306 C
      |                    ^^^^^
      Write a number and its unit, for example `306 psig`.
visit.yaml:9:29: `suction line temperature`: `psig` is a pressure; a temperature is expected here
    9 |   suction line temperature: 61 psig
      |                             ^^^^^^^
      Write a number and its unit, for example `61 F`.
visit.yaml:10:28: `liquid line temperature`: `89` has no unit
   10 |   liquid line temperature: 89
      |                            ^^
      Write the unit, for example `89 F`.

8 problems to mend.
"""


def test_eight_mistakes_are_all_told_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("visit.yaml").write_text(EIGHT, encoding="utf-8")
    run.cache_clear()
    assert run("examine", "visit.yaml") == (2, "", EIGHT_SAID)
    assert run("why", "visit.yaml", "low-charge") == (2, "", EIGHT_SAID)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "there is no such file\n      Check the name and the folder.\n"),
        (Path.mkdir, "this is a folder\n      Give the name of a file in it.\n"),
        ("", "the visit is empty\n      Write at least `machine:` and `readings:`.\n"),
        ("# nothing yet\n", "the visit is empty\n      Write at least `machine:` and `readings:`.\n"),
    ],
    ids=["missing", "folder", "empty", "only a comment"],
)
def test_nothing_to_read(content: object, said: str, tmp_path: Path) -> None:
    path = tmp_path / "visit.yaml"
    if callable(content):
        content(path)
    elif isinstance(content, str):
        path.write_text(content, encoding="utf-8")
    assert run("examine", str(path)) == (2, "", f"{path}: {said}")


def test_an_empty_mapping_is_not_an_error_but_not_ready() -> None:
    out = run("examine", "-", stdin="{}").clean()
    assert out.startswith("Not ready to judge. There is too little to go on")
    assert json.loads(run("examine", "-", "--as", "json", stdin="{}")[1])["status"] == "not ready"


def test_unknown_fault() -> None:
    said = "`low-chage` is not a fault of this rule book\n      Did you mean `low-charge`?\n"
    assert run("why", LOW, "low-chage") == (2, "", said)
    assert run("why", LOW, "Low refrigerant  charge") == run("why", LOW, "low-charge")
    _, _, err = run("why", LOW, "leaking reversing valve")
    assert "It is looked for where a visit says `mode: heating`." in err
    err = run("why", LOW, "zzzzzz").refused()
    assert "Known: " in err
    assert "nothing-wrong" in err


@pytest.mark.parametrize(
    "words",
    [("examine",), ("exmine", LOW), ("examine", LOW, "--as", "pdf"), ("examine", LOW, "--units", "imperial"), ("why",)],
    ids=" ".join,
)
def test_wrong_usage_is_bad_input(words: tuple[str, ...]) -> None:
    err = run(*words).refused()
    assert err.startswith("Usage: ")


FRAGMENTS = st.sampled_from(
    [
        "machine:\n", "readings:\n", "seen:\n", "instruments:\n", "baseline:\n", "  refrigerant: R-410A\n",
        "  metering: TXV\n", "  suction pressure: 130 psig\n", "  suction line temperature: ", "  - ", "[", "{", "}",
        "&a ", "*a", "<<: *a\n", "!!python/object:os.system\n", ": ", "\n", "\t", "  line set: {", "1e999", "61 F",
        ".nan", "-.inf", "0x10", "2026-01-01", "'", '"', "|\n", "? ", "---\n", "...\n", "%YAML 9\n", "\ufeff", "\x00",
        "  liquid pressure: 306 psig\n", "  liquid line temperature: 89 F\n", "  minutes running: 15\n", "visit:\n",
        "case: a\n", "expect: {}\n",
    ]
)  # fmt: skip
CONTENTS = st.one_of(
    st.text(), st.binary(), st.lists(st.one_of(FRAGMENTS, st.text(max_size=5)), max_size=12).map("".join)
)


@examples(12)
@given(CONTENTS)
def test_whatever_is_in_the_file_there_is_an_answer_or_a_problem_to_mend(content: str | bytes) -> None:
    raw = content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
    code, out, err = run("examine", "-", stdin=raw)
    assert (code == 0 and out and not err) or (code == 2 and err and not out)
    assert "Traceback" not in out + err
    assert "\x1b" not in out + err


def test_a_mistake_in_the_program_is_said_in_a_sentence_not_a_trace(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def examine(*_: object) -> None:
        raise KeyError("x")

    monkeypatch.setattr(pipeline, "examine", examine)
    monkeypatch.setattr(gc, "disable", lambda: None)  # of the process that belongs to one command
    monkeypatch.setattr(sys, "argv", ["diagnose", "examine", LOW])
    assert cli._run() == 1
    assert capsys.readouterr().err.startswith("This is a mistake in the program, not in your visit: KeyError")
    monkeypatch.setenv("DIAGNOSE_TRACE", "1")
    with pytest.raises(KeyError):
        cli._run()


# -- rules and cases -----------------------------------------------------------------------------------------------


@pytest.fixture
def rules(tmp_path: Path) -> Path:
    """A copy of the shipped rules, to spoil."""
    return Path(shutil.copytree(shipped("rules"), tmp_path / "rules"))


def spoil(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_rules_check_counts_what_there_is(book: Rulebook) -> None:
    assert run("rules", "check") == (
        0,
        f"Rule book {book.name}: {len(book.rules)} rules, {len(book.findings)} findings, {len(book.states)} states, "
        f"{len(book.faults)} faults, {len(book.checks)} checks, {len(book.sources)} sources. No mistakes.\n",
        "",
    )


def test_rules_check_of_a_folder_lists_every_mistake(rules: Path) -> None:
    spoil(rules / "faults" / "low-charge.yaml", "points: 3", "points: 40")
    spoil(rules / "faults" / "overcharge.yaml", "    title: ", "    titel: ")
    spoil(rules / "states.yaml", "words: [starved, fed, flooded]", "words: starved")
    told = listed(rules)
    assert told["low-charge.yaml"] == "40 points are out of range"
    assert told["overcharge.yaml"] == "`title` is missing"
    assert set(told) == {"low-charge.yaml", "overcharge.yaml", "states.yaml"}


def listed(rules: Path) -> dict[str, str]:
    """File name -> the first thing said about it; each with its line, and all of them counted."""
    err = run("rules", "check", str(rules)).refused()
    found = re.findall(r"^(\S+):\d+:\d+: (.*)$", err, re.M)
    assert err.endswith(f"\n{len(found)} problems to mend.\n")
    return {Path(file).name: what for file, what in reversed(found)}


def test_rules_check_of_no_folder(tmp_path: Path) -> None:
    said = f"{tmp_path / 'none'}: there is no such folder of rules\n      Check the name.\n"
    assert run("rules", "check", str(tmp_path / "none")) == (2, "", said)
    assert run("rules", "test", "--rules", str(tmp_path / "none")) == (2, "", said)


def test_rules_test_of_one_of_a_fault_and_of_none(book: Rulebook) -> None:
    """Of all: test_rules_commands.py."""
    one = "low-charge/starved-and-empty"
    examples = Counter(trial.rule for trial in rule_trials(book, "low-charge"))
    assert run("rules", "test", one) == (0, f"{examples[one]} passed, 0 failed\n", "")
    fault = examples.total()
    for only in ("low-charge", "low-charge.yaml"):
        assert run("rules", "test", only) == (0, f"{fault} passed, 0 failed\n", "")
    assert run("rules", "test", "low-chrge")[::2] == (
        2,
        "no rule with examples is called `low-chrge`, nor its fault, file or folder\n      Did you mean `low-charge`?\n",
    )


def test_a_broken_rule_test_fails_and_is_named(rules: Path) -> None:
    spoil(
        rules / "faults" / "low-charge.yaml",
        "- fires: {superheat: [high, very high], subcooling: [low, very low]}",
        "- fires: {superheat: high, subcooling: high}",
    )
    code, out, err = run("rules", "test", "low-charge", "--rules", str(rules))
    assert (code, err) == (1, "")
    first, *_, last = out.splitlines()
    assert first.startswith("failed: low-charge/starved-and-empty test 1: low-charge/starved-and-empty stays quiet on")
    assert "superheat: high, subcooling: high" in first
    assert re.fullmatch(r"\d+ passed, 1 failed", last)


def test_shipped_cases_pass() -> None:
    out = run("cases", "run").clean()
    assert out.splitlines()[-1] == f"{len(case_paths())} passed, 0 failed"
    for folder in ("demo", "lab", "textbook"):
        assert re.search(rf"^{folder} +\d+ +0 +\d+ of \d+ +\d+ of \d+ +0$", out, re.M)


def test_a_case_with_a_wrong_expectation_fails_and_says_what_differs(tmp_path: Path) -> None:
    path = tmp_path / "demo" / "wrong.yaml"
    path.parent.mkdir()
    shutil.copy(LOW, path)
    spoil(path, "first: low-charge", "first: overcharge")
    code, out, err = run("cases", "run", str(tmp_path))
    assert (code, err) == (1, "")
    assert out.startswith("failed: demo/wrong: place 1 is low-charge, not overcharge (low-charge 1.00")
    assert out.endswith("0 passed, 1 failed\n")


def test_no_cases(tmp_path: Path) -> None:
    assert run("cases", "run", str(tmp_path)) == (
        2,
        "",
        f"{tmp_path}: there is no case here\n      Case files end in .yaml.\n",
    )
    assert run("cases", "run", str(tmp_path / "none"))[0] == 2


# -- ask -----------------------------------------------------------------------------------------------------------

ANSWERS = (
    "it cools less than last year", "calling", "present", "closed", "clean", "normal", "normal", "running", *[""] * 4,
    "R410B", "R-410A", "TXV", "cooling", "10 F", "14", "2 ton", "5 lb 2 oz", "", "20", "52 F", "95", "95 F", "84 F", "75 F",
    "63 F", "57 F", "y", "121 psj", "121 psig", "311 psig", "n", "n",
)  # fmt: skip


def test_ask_ends_with_the_diagnosis_of_the_file_it_keeps(tmp_path: Path) -> None:
    path = tmp_path / "kept.yaml"
    code, out, err = run("ask", "--keep", str(path), "--as", "json", stdin="\n".join(ANSWERS) + "\n")
    assert code == 0
    assert json.loads(out) == json.loads(run("examine", str(path), "--as", "json")[1])
    assert json.loads(out)["faults"][0]["fault"] == "low-charge"
    assert "There is no refrigerant 'R410B' in the table. Did you mean R-410A?" in err
    assert "`psj`" in err
    assert "`95` has no unit" in err


def test_ask_prints_nothing_but_the_answer_on_standard_output() -> None:
    out = run("ask", stdin="\n".join(ANSWERS) + "\n").fine()
    assert out.startswith("Most likely: low refrigerant charge (fair evidence).\n")


def test_the_end_of_the_input_leaves_out_the_rest() -> None:
    out = run("ask", stdin="\n" * 12 + "R-410A\nTXV").fine()
    assert out.startswith("Not ready to judge. ")


@pytest.mark.parametrize("name", ["there.yaml", "no folder/visit.yaml"])
def test_ask_will_not_keep_over_another_file_and_says_so_before_it_asks(name: str, tmp_path: Path) -> None:
    (tmp_path / "there.yaml").write_text("mine", encoding="utf-8")
    err = run("ask", "--keep", str(tmp_path / name), stdin="R-410A\n").refused()
    assert err.startswith(f"{tmp_path / name}: ")
    assert "there is " in err
    assert (tmp_path / "there.yaml").read_text(encoding="utf-8") == "mine"


# -- help and start ------------------------------------------------------------------------------------------------


def commands() -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = [()]
    for name, command in typer.main.get_command(app).commands.items():  # type: ignore[attr-defined]
        found.append((name,))
        found += [(name, below) for below in getattr(command, "commands", {})]
    return found


@pytest.mark.parametrize("words", commands(), ids=lambda words: " ".join(words) or "diagnose")
def test_help(words: tuple[str, ...]) -> None:
    out = run(*words, "--help").clean()
    assert out.startswith("Usage: ")
    assert len(widest(out)) <= 80


def test_options_mean_the_same_in_every_command() -> None:
    """What prints a page writes it as well; units are those of a visit only where one is read; one name for the mode."""
    seen: set[str] = set()

    def look(command: Any, words: str) -> None:
        for name, below in getattr(command, "commands", {}).items():
            look(below, f"{words} {name}".strip())
        options = {option: one for one in command.params for option in one.opts}
        if "--as" in options and words not in ("batch", "cases run"):  # a table's head; counts
            assert "--output" in options, words
        if "--units" in options and "of the visit" in options["--units"].help:
            about = " ".join(str(one.metavar) for one in command.params)
            assert re.search("VISIT|AFTER|MACHINE", about) or words in ("ask", "practice answer", "practice reveal"), (
                words
            )
        assert not {"--heating", "--cooling", "--si", "--us", "--out"} & options.keys(), words
        seen.add(words)

    look(typer.main.get_command(app), "")
    assert {"lookup weigh-in", "practice exam set", "fleet"} <= seen


def test_a_look_up_is_written_to_a_file(tmp_path: Path) -> None:
    out = tmp_path / "target.html"
    assert run("lookup", "target-superheat", "80 F", "63 F", "-o", str(out))[0] == 0
    assert "13.5" in out.read_text(encoding="utf-8")


@pytest.mark.parametrize("words", [("next",), ("report",), ("why", "low-charge"), ("keep",)])
def test_a_log_given_as_a_visit_is_named(words: tuple[str, ...], tmp_path: Path) -> None:
    log = tmp_path / "day.csv"
    log.write_text("time\tsuction pressure [psig]\n2026-07-14 10:00\t118\n", encoding="utf-8")
    code, out, err = run(
        words[0], str(log), *words[1:], *(["--store", str(tmp_path / "s")] if words == ("keep",) else [])
    )
    assert (code, out) == (2, "")
    assert "this is a table" in err
    assert "diagnose examine LOG.csv" in err


def test_whatever_the_rules_cannot_do_is_said_by_every_command(tmp_path: Path) -> None:
    """On its page where it has a place for it, else beside it: nobody takes the answer of other rules for theirs."""
    folder = tmp_path / "broken-firm"
    folder.mkdir()
    (folder / "rules.yaml").write_text("rules: [{id: broken-firm/none}]\n", encoding="utf-8")
    for words in (["lesson", "low-charge"], ["glossary"], ["page", "form"], ["report", LOW], ["draw", LOW]):
        _, out, err = run(*words, "--rules", str(folder))
        assert err.startswith("The rules of broken-firm cannot be used as they are ("), words
    for words in (["examine", LOW], ["next", LOW], ["why", LOW, "overcharge"], ["report", LOW, "--for", "office"]):
        _, out, err = run(*words, "--rules", str(folder))
        assert (err, out.count("The rules of broken-firm cannot be used")) == ("", 1), words


def loaded_after(code: str) -> set[str]:
    """Which of the heavy packages a new interpreter holds after running this."""
    done = subprocess.run(
        [sys.executable, "-c", f"import sys\n{code}\nprint(*sys.modules, file=sys.stderr)"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stdout
    return {"CoolProp", "jinja2", "numpy", "pydantic", "rich", "scipy"} & set(done.stderr.split())


def test_help_loads_neither_the_property_library_nor_pydantic() -> None:
    """Nor is there a colour in it where colours are forced: an answer above, a complaint in test_ending.py."""
    forced = f"import os\nos.environ |= {COLOURED}\nsys.argv = ['diagnose', '--help']\nfrom diagnose.cli import main\n"
    assert loaded_after(f"{forced}try: main()\nexcept SystemExit: pass") == set()


def test_examining_loads_neither_coolprop_nor_numpy() -> None:
    """Nor what draws: a few cases, and a visit with every reading. So the page on a phone does without them."""
    code = (
        "from diagnose import examine\nfrom diagnose.report.drawings import pressure_enthalpy\nimport json\n"
        "from diagnose.workshop.trials import case_paths, read_case, run_case\n"
        f"full = examine(json.loads({FULL!r}))\npressure_enthalpy(full)\n"
        "found = [full, *(run_case(read_case(path)).diagnosis for path in case_paths()[::120])]\n"
        "told = [d.to_dict() for d in found if d is not None]\nassert len(told) > 2"
    )
    assert loaded_after(code) == {"pydantic"}
