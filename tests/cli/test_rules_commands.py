"""rules new, test, table, book, show and the overlay in reports, as a technician calls them."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import yaml
from commands import run
from overlay import FILES, LIMITS, NEW_LIMITS, NEW_POINTS, NEW_USUAL, POINTS, USUAL, overlay
from small_book import SMALL, written
from work import THOROUGH

from diagnose import examine
from diagnose.report import as_text
from diagnose.report.pages import diagnosis_page
from diagnose.report.trace import why_page
from diagnose.rulebook import Rulebook, load_rules
from diagnose.shipped import shipped
from diagnose.workshop import advice
from diagnose.workshop.trials import case_paths

LOW = shipped("cases") / "demo" / "low-charge-orifice.yaml"
HOT = shipped("cases") / "demo" / "low-outdoor-airflow-orifice.yaml"


# -- test ----------------------------------------------------------------------------------------------------------


def test_the_closing_line_stands_alone(book: Rulebook) -> None:
    out = run("rules", "test").clean()
    every = sum(len(list(trial.each())) for rule in book.rules for trial in rule.entry.tests)
    assert out.splitlines()[-1] == f"{every} passed, 0 failed"
    assert "No shipped case fires these rules (" in out
    assert "No rule asks for these words" in out
    assert "idle:" not in out


def test_idle_is_a_warning(tmp_path: Path) -> None:
    folder = overlay(tmp_path, changes="")
    rule = (folder / "rules.yaml").read_text(encoding="utf-8")
    either = "any: [{coil corrosion: present}, {outdoor fan: slow or stopped}]"
    rule = rule.replace("when: {coil corrosion: present}", f"when:\n      {either}")
    (folder / "rules.yaml").write_text(rule.replace("{coil corrosion}", "present"), encoding="utf-8")
    out = run("rules", "test", "harbour-cooling/salt", "--rules", folder).clean()
    assert out == (
        "idle: harbour-cooling/salt: `outdoor fan: slow or stopped` is idle: no test fires because of it. Add a test that "
        "fires by it and falls quiet without it.\n2 passed, 0 failed\n"
    )


def test_a_folder_is_named_as_a_shell_completes_it(tmp_path: Path) -> None:
    folder = overlay(tmp_path, changes="")
    assert run("rules", "test", f"{folder}/", "--rules", folder).clean() == "2 passed, 0 failed\n"
    told = run("rules", "check", folder / "rules.yaml").stderr
    assert told.endswith(f"there is no such folder of rules\n      This is a file: give the folder, `{folder}`.\n")


def test_watch_runs_again_when_a_file_is_saved(tmp_path: Path) -> None:
    folder = written(tmp_path / "small")
    rule = folder / "faults" / "overcharge.yaml"
    rule.write_text(SMALL["faults/overcharge.yaml"].replace("fires: {superheat: low}", "fires: {superheat: high}"))
    log = tmp_path / "log"
    command = [sys.executable, "-m", "diagnose", "rules", "test", "overcharge", "--rules", str(folder), "--watch"]
    with log.open("wb") as into:
        watching = subprocess.Popen(command, stdout=into, stderr=into, start_new_session=True)
        try:
            waits_for(log, "1 passed, 1 failed\nWaiting for a file to be saved; Ctrl-C ends.", 1)
            rule.write_text(SMALL["faults/overcharge.yaml"].replace("points: 2", "points: 20"))
            waits_for(log, "20 points are out of range", 1)
            waits_for(log, "Waiting", 2)
            os.killpg(watching.pid, signal.SIGINT)
            assert watching.wait(120) == 0
        finally:
            if watching.poll() is None:
                watching.kill()
                watching.wait()
    assert "Traceback" not in log.read_text(encoding="utf-8")


def waits_for(log: Path, text: str, times: int) -> None:
    """Until it is said; the only limit is one against hanging for ever, as long as any machine may take."""
    for _ in range(6000):
        if log.read_text(encoding="utf-8").count(text) >= times:
            return
        time.sleep(0.05)
    raise AssertionError(log.read_text(encoding="utf-8"))


def test_watch_of_no_folder(tmp_path: Path) -> None:
    said = f"{tmp_path / 'none'}: there is no such folder of rules\n      Check the name.\n"
    assert run("rules", "test", "--watch", "--rules", tmp_path / "none") == (2, "", said)


# -- new -----------------------------------------------------------------------------------------------------------


def passes(folder: Path, rule: str) -> None:
    assert run("rules", "check", folder)[0] == 0
    assert run("rules", "test", rule, "--rules", folder) == (0, "2 passed, 0 failed\n", "")


@pytest.mark.parametrize("fault", list(load_rules().faults)[:: 1 if THOROUGH else 3])
def test_a_new_rule_passes_as_written(fault: str, tmp_path: Path) -> None:
    folder = tmp_path / "harbour-cooling"
    assert run("rules", "new", folder, "mine", "--fault", fault)[0] == 0
    passes(folder, "harbour-cooling/mine")


@pytest.mark.parametrize("finding", list(load_rules().findings)[:: 12 if THOROUGH else 24])
def test_about_any_finding(finding: str, tmp_path: Path) -> None:
    folder = tmp_path / "harbour-cooling"
    code, _, err = run("rules", "new", folder, "mine", "--fault", "weak-compressor", "--finding", finding)
    if code == 2:  # the fault may have a rule for each of its words
        assert err == "weak-compressor has a rule for every word of this already\n      Name another finding as well.\n"
        return
    assert (code, err) == (0, "")
    passes(folder, "harbour-cooling/mine")


def test_with_a_finding_of_ones_own_and_then_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        advice, "case_paths", lambda where: case_paths(where)[::30]
    )  # to see what a fault of its own takes
    folder = tmp_path / "harbour-cooling"
    code, out, _ = run(
        "rules", "new", folder, "salt", "--fault", "low-outdoor-airflow", "--finding", "condensing over ambient",
        "--new-finding", "coil corrosion",
    )  # fmt: skip
    assert code == 0
    assert re.search(
        r"It asks for all that low-outdoor-airflow/hot \(\+[\d.]+\) asks for; its points replace those\.\n", out
    )
    assert sorted(path.name for path in folder.glob("*.yaml")) == ["findings.yaml", "rules.yaml"]
    passes(folder, "harbour-cooling/salt")
    before = (folder / "rules.yaml").read_text(encoding="utf-8")
    out = run("rules", "new", folder, "harbour-cooling/wind", "--fault", "overcharge", "--new-finding", "wind").fine()
    assert out.startswith(f"Added to: {folder / 'findings.yaml'}\nAdded to: {folder / 'rules.yaml'}\n")
    assert (folder / "rules.yaml").read_text(encoding="utf-8").startswith(before)
    passes(folder, "harbour-cooling/wind")
    run("rules", "new", folder, "eaten", "--new-fault", "rotten-coil", "--finding", "coil corrosion").fine()
    fault = (folder / "faults" / "harbour-cooling-rotten-coil.yaml").read_text(encoding="utf-8")
    assert "name: Rotten coil\n" in fault
    passes(folder, "harbour-cooling-rotten-coil/eaten")


def test_added_to_a_file_that_is_indented_otherwise(tmp_path: Path) -> None:
    text = FILES["rules.yaml"].replace("\n  ", "\n").rstrip("\n")
    folder = overlay(tmp_path, rules=text, changes="")
    assert run("rules", "new", folder, "mine", "--fault", "overcharge")[0] == 0
    passes(folder, "harbour-cooling/mine")


def test_what_is_to_be_filled_in_is_marked_and_the_schema_is_named(tmp_path: Path) -> None:
    folder = tmp_path / "harbour-cooling"
    run("rules", "new", folder, "salt", "--fault", "overcharge", "--new-finding", "wind")
    schema = shipped("rules") / "schema"
    for path in folder.glob("*.yaml"):
        lines = path.read_text(encoding="utf-8").splitlines()
        assert any("FILL IN" in line for line in lines)
        assert not re.search("TODO|FIXME", "\n".join(lines))
        if schema.is_dir():
            named = re.fullmatch(r"# yaml-language-server: \$schema=(.*)", lines[0])
            assert named[1] == f"schema/{path.stem}.json"  # in the folder: it holds wherever that is copied to
            assert (folder / named[1]).read_text(encoding="utf-8") == (schema / f"{path.stem}.json").read_text(
                encoding="utf-8"
            )


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["harbour-cooling", "mine"], "a rule is about one fault\n      Give either `--fault` or `--new-fault`."),
        (["harbour-cooling", "mine", "--fault", "overchrge"],
         "`overchrge` is not a fault\n      Did you mean `overcharge`? A fault of your own: `--new-fault`."),
        (["harbour-cooling", "mine", "--fault", "overcharge", "--finding", "superheet"],
         "`superheet` is not a finding\n      Did you mean `superheat`? One of your own: `--new-finding`."),
        (["harbour-cooling", "mine", "--fault", "overcharge", "--new-finding", "superheat"],
         "`superheat` is in the rule book already\n      Write `--finding \"superheat\"` to use it."),
        (["harbour-cooling", "mine", "--fault", "overcharge", "--new-finding", "no"],
         "`no` cannot name a finding\n      Small letters, digits and spaces: `coil corrosion`."),
        (["harbour-cooling", "Mine Own", "--fault", "overcharge"],
         "`Mine Own` is not an id for a rule of harbour-cooling\n"
         "      Small letters, digits and hyphens; `harbour-cooling/` is put before it."),
        (["Harbour", "mine", "--fault", "overcharge"],
         "Harbour: the folder's name `Harbour` cannot begin an id\n"
         "      Small letters, digits and hyphens, for example `harbour-cooling`."),
        (["harbour-cooling", "salt", "--fault", "overcharge"],
         "harbour-cooling/rules.yaml: there is a rule `harbour-cooling/salt` already\n      Choose another id."),
    ],
)  # fmt: skip
def test_what_cannot_be_begun(arguments: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    overlay(tmp_path)
    monkeypatch.chdir(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*.yaml")}
    assert run("rules", "new", *arguments) == (2, "", f"{said}\n")
    assert {path: path.read_bytes() for path in tmp_path.rglob("*.yaml")} == before


def test_nothing_is_added_to_a_folder_with_mistakes_or_to_a_whole_book(tmp_path: Path) -> None:
    folder = overlay(tmp_path, rules=FILES["rules.yaml"].replace("points: 2", "points: 20"))
    err = run("rules", "new", folder, "mine", "--fault", "overcharge").refused()
    assert "20 points are out of range" in err
    assert (
        "this folder holds a whole rule book" in run("rules", "new", shipped("rules"), "x", "--fault", "overcharge")[2]
    )


# -- table and book ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["text", "json", "markdown", "html"])
def test_table(how: str) -> None:
    out = run("rules", "table", "--as", how).clean()
    assert "low-charge" in out
    if how == "json":
        json.loads(out)
    if how == "text":
        assert max(map(len, out.splitlines())) <= 80


def test_book_cannot_be_written(tmp_path: Path) -> None:
    err = run("rules", "book", "-o", tmp_path).refused()
    assert "this file cannot be written" in err


# -- the overlay in what is shown ----------------------------------------------------------------------------------


def shown(name: str, folder: Path) -> str:
    out = run("rules", "show", name, "--rules", folder).fine()
    return " ".join(out.split())


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("harbour-cooling/salt", "Added by harbour-cooling."),
        ("coil corrosion", "Added by harbour-cooling."),
        (
            "low-charge/starved-and-empty",
            f"Points changed by harbour-cooling on 2026-05-01 from {POINTS:g} to {NEW_POINTS:g}: many long lines here.",
        ),
        (
            "superheat",
            f"Limits changed by harbour-cooling on 2026-05-02 from {LIMITS} to {NEW_LIMITS}: our valves.",
        ),
        (
            "low-charge",
            f"Usual changed by harbour-cooling on 2026-05-03 from {USUAL:g} to {NEW_USUAL:g}: old machines.",
        ),
        (
            "low-charge/oil",
            "this rule is switched off. Switched off by harbour-cooling on 2026-05-04: we oil our joints.",
        ),
        (
            "find-the-leak",
            f"low-charge/starved-and-empty: {NEW_POINTS:g} points for low refrigerant charge (points changed by",
        ),
        (
            "common-practice",
            "harbour-cooling/salt: 2 points for low outdoor airflow (rule of harbour",
        ),
        ("evaporator feed", "concludes evaporator feed: starved (limits of superheat changed by harbour-cooling)"),
    ],
)
def test_show_says_who_added_and_who_changed(name: str, said: str, tmp_path: Path) -> None:
    assert said in shown(name, overlay(tmp_path))


def test_own_checks_sources_and_states_say_so(tmp_path: Path) -> None:
    folder = overlay(
        tmp_path,
        checks="checks:\n  - {check: harbour-cooling-look, ask: Look., why: To see., minutes: 1}\n",
        sources="sources:\n  harbour-cooling-notes: {title: Notes, confidence: from memory}\n",
        states="states:\n  - {state: salt, question: Is there salt?, words: [much, little]}\n",
    )
    for name in ("harbour-cooling-look", "harbour-cooling-notes", "salt"):
        assert "Added by harbour-cooling." in shown(name, folder)


def test_show_as_json_gives_what_counts(tmp_path: Path) -> None:
    data = json.loads(
        run("rules", "show", "low-charge/starved-and-empty", "--as", "json", "--rules", overlay(tmp_path))[1]
    )
    assert data["points"] == NEW_POINTS
    assert data["book"] == "shipped"
    assert data["changes"][0]["because"] == "many long lines here"


def test_reports_say_which_book_spoke(tmp_path: Path) -> None:
    rules = load_rules(overlay(tmp_path))
    visit = yaml.safe_load(HOT.read_text(encoding="utf-8"))["visit"]
    visit["seen"] = {**visit.get("seen", {}), "coil corrosion": "present"}
    d = examine(visit, rules)
    page = " ".join(as_text(diagnosis_page(d)).split())
    assert "Salt eats the fins and closes the coil. (rule of harbour-cooling)" in page
    assert "Changes to the shipped book: low-charge/starved-and-empty: points changed by harbour-cooling;" in page
    assert "low-charge/oil: switched off by harbour-cooling." in page
    why = " ".join(as_text(why_page(d, "low-outdoor-airflow")).split())
    assert "a rule of harbour-cooling" in why
    data = d.to_dict()
    spoken = {s["rule"]: s for fault in data["faults"] for s in (*fault["for"], *fault["against"])}
    assert (spoken["harbour-cooling/salt"]["book"], spoken["harbour-cooling/salt"]["note"]) == (
        "harbour-cooling",
        "rule of harbour-cooling",
    )
    assert {s["book"] for name, s in spoken.items() if name != "harbour-cooling/salt"} == {"shipped"}


def test_a_changed_rule_says_who_changed_it(tmp_path: Path) -> None:
    rules = load_rules(overlay(tmp_path))
    d = examine(yaml.safe_load(LOW.read_text(encoding="utf-8"))["visit"], rules)
    page = " ".join(as_text(diagnosis_page(d)).split())
    assert "(points changed by harbour-cooling; limits of superheat changed by harbour-cooling)" in page
    why = " ".join(as_text(why_page(d, "low-charge")).split())
    assert (
        f"points changed by harbour-cooling on 2026-05-01 from {POINTS:g} to {NEW_POINTS:g}: many long lines here"
        in why
    )
    assert "limits changed by harbour-cooling on 2026-05-02" in why
    assert (
        f"How usual it is: usual changed by harbour-cooling on 2026-05-03 from {USUAL:g} to {NEW_USUAL:g}: old" in why
    )
