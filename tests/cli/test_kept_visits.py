"""keep, history, export, import, forget as they are typed."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from commands import run
from judged import JUDGEMENT
from kept import NAME, looks, subcooled, told, visit_text
from shared import DEMO
from webpages import drawings_told_in_words, stands_by_itself

from diagnose.diagnosis.story import FOLLOWED, Drift
from diagnose.report import as_text, history
from diagnose.report.drawings import NoDrawing
from diagnose.report.drawings.over_visits import over_visits
from diagnose.report.history import Changed, drift_text, history_page

FIGURES = JUDGEMENT.drifts


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("DIAGNOSE_STORE", str(tmp_path / "visits.db"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def written(folder: Path, months: int = 4) -> list[Path]:
    paths = []
    for i in range(months):
        paths.append(folder / f"visit{i}.yaml")
        paths[-1].write_text(visit_text(f"2026-{4 + i:02}-03", liquid=93.5 + 1.7 * i), encoding="utf-8")
    return paths


def test_a_machine_that_must_be_stopped_is_told_when_its_visit_is_kept(folder: Path) -> None:
    bursting = visit_text().replace("liquid pressure: 326", "liquid pressure: 640")
    for done in ("Kept: ", "Kept already"):
        code, out, _ = run("keep", "-", stdin=bursting)
        assert (code, out.startswith("STOP: Switch the machine off"), done in out) == (0, True, True)


def test_a_report_is_made_of_a_kept_visit_as_of_its_file(folder: Path) -> None:
    first, last = written(folder, 2)
    for path in (first, last):
        run("keep", str(path)).fine()
    of_file = run("report", str(last), "--before", str(first), "--for", "office").fine()
    id = json.loads(run("history", NAME, "--as", "json").fine())["visits"][0]["visit"]
    store = str(folder / "visits.db")
    assert run("report", NAME, "--store", store, "--before", id, "--for", "office").fine() == of_file
    code, _, err = run("report", "no such machine", "--store", store)
    assert (code, "is neither a machine nor a visit here" in err) == (2, True)


def test_from_the_first_visit_to_the_last(folder: Path) -> None:
    for count, path in enumerate(written(folder), 1):
        code, out, _ = run("keep", str(path))
        assert (code, out.count(f"; {count} visit")) == (0, 1)
    assert run("keep", "-", stdin=path.read_text(encoding="utf-8"))[1].startswith("Kept already, nothing was changed: ")
    assert NAME in run("history")[1]
    out = run("history", NAME).fine()
    assert max(map(len, out.splitlines())) <= 80
    flat = " ".join(out.split())
    assert flat.startswith(
        f"{NAME}: 4 visits, 2026-04-03 to 2026-07-03. Subcooling falls against what it should be by 1.7 ±"
    )
    assert "°F a month, over 4 visits in like weather: a small leak would do that." in flat
    told_of = json.loads(run("history", NAME, "--as", "json")[1])
    assert [drift["quantity"] for drift in told_of["drifts"] if drift["told"]] == ["subcooling"]
    assert told_of["good_day"] == told_of["visits"][0]["visit"]
    assert run("history", NAME, "-o", "page.html")[0] == 0
    page = (folder / "page.html").read_text(encoding="utf-8")
    stands_by_itself(page)
    assert drawings_told_in_words(page) == 1
    assert run("history", NAME, "--good-day", "-o", "good.yaml")[0] == 0
    assert (folder / "good.yaml").read_text(encoding="utf-8") == (folder / "visit0.yaml").read_text(encoding="utf-8")
    (folder / "next.yaml").write_text(visit_text("2026-08-03", liquid=101) + "baseline: good.yaml\n", encoding="utf-8")
    assert run("keep", "next.yaml")[0] == 0
    assert run("export", "out")[1] == "out: 5 visits, 5 of them newly written.\n"
    assert (
        "# as it was written"
        in next(Path("out").rglob("2026-08-03*")).read_text(encoding="utf-8").partition("baseline:")[2]
    )
    assert run("import", "out", "--store", "other.db")[1] == "5 visits read, 5 of them new.\n"
    assert run("import", "out", "--store", "other.db")[1] == "5 visits read, 0 of them new.\n"
    code, _, said = run("forget", NAME)
    assert (code, said.splitlines()[0]) == (2, f"this would forget 5 visits of {NAME} for good, and the machine")
    assert run("forget", told_of["good_day"][:8], "--yes")[1].startswith(f"Forgotten: 1 visit of {NAME}.")
    assert run("forget", NAME, "--yes")[1].startswith("Forgotten: 4 visits")
    assert run("history")[1] == "0 machines.\n"


def test_again_tells_what_differs(folder: Path) -> None:
    from sqlalchemy import text

    from diagnose.store import open_store

    for path in written(folder, 3):
        run("keep", str(path))
    assert "3 visits, every answer as it was." in run("history", NAME, "--again")[1]
    with open_store() as store, store.writing() as c:
        old = "UPDATE results SET story = replace(story, :was, :now) WHERE visit = 1"
        c.execute(text(old), {"was": '"name": "Nothing wrong"', "now": '"name": "Dirty coil"'})
        c.execute(text(old), {"was": '"fault": "nothing-wrong"', "now": '"fault": "dirty-coil"'})
        c.execute(text("UPDATE visits SET text = 'machine: {colour: red}' WHERE number = 2"))
        c.execute(text("DELETE FROM results WHERE visit = 3"))
    out = " ".join(run("history", NAME, "--again")[1].split())
    assert "3 of 3 visits are answered otherwise." in out
    assert "was dirty coil, fair, charge right; now nothing wrong, fair, charge right." in out
    assert "now it cannot be read: `colour` is not a machine fact." in out
    assert "nothing was told of it; now low refrigerant charge" in out
    with open_store() as store, store.writing() as c:
        c.execute(text("DELETE FROM results"))
    out = " ".join(run("history", NAME)[1].split())
    assert "cannot be told: `colour` is not a machine fact." in out
    assert out.startswith(f"{NAME}: 3 visits, 2026-04-03 to 2026-06-03.")
    assert len(json.loads(run("history", NAME, "--again", "--as", "json")[1])["again"]) == 3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (visit_text(date=""), "the visit has no date"),
        (visit_text(date="14 July"), "`date`: `14 July` cannot be put in order"),
        (visit_text(date="2026-02-30"), "`date`: `2026-02-30` cannot be put in order"),
        (visit_text(name=""), "the machine has no name"),
        (visit_text(more="baseline: none.yaml\n"), "`baseline`: `none.yaml`"),
        (visit_text(more="baseline: {file: x}\n"), "`file`"),
        ("visit: [", "visit.yaml:1:9:"),
    ],
)
def test_what_cannot_be_kept_is_told_with_its_place(folder: Path, text: str, said: str) -> None:
    Path("visit.yaml").write_text(text, encoding="utf-8")
    err = run("keep", "visit.yaml").refused()
    assert said in err
    assert err.startswith("visit.yaml:")
    assert run("history")[1] == "0 machines.\n"


def test_a_baseline_that_would_mean_something_else_here_is_not_taken_in(folder: Path) -> None:
    """In its own file it was read with the usual instruments, here with this visit's."""
    Path("good.yaml").write_text(visit_text(), encoding="utf-8")
    more = "instruments: {gauges: 3 %}\nbaseline: good.yaml\n"
    Path("visit.yaml").write_text(visit_text("2026-06-01", more=more), encoding="utf-8")
    code, _, err = run("keep", "visit.yaml")
    assert (code, "cannot be taken into the kept visit" in err) == (2, True)


def test_nothing_kept_yet_and_names_that_are_none(folder: Path) -> None:
    for words in (("history",), ("history", NAME), ("export", "out"), ("forget", NAME, "--yes")):
        code, _, err = run(*words)
        assert (code, "no visits are kept here yet" in err) == (2, True)
    run("keep", str(written(folder, 1)[0]))
    assert "Did you mean `Bäckerei, dach`?" in run("history", "Backerei")[2]
    assert "`2026` is neither a machine nor a visit here" in run("forget", "2026")[2]
    Path("wrong.yaml").write_text(visit_text("2026-04-09", "other", liquid=103), encoding="utf-8")
    run("keep", "wrong.yaml")
    assert "no visit of this machine found nothing wrong" in run("history", "other", "--good-day")[2]


def test_without_the_extra_one_sentence_says_what_to_install(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [
        name for name in sys.modules if name.partition(".")[0] in ("sqlalchemy",) or name.startswith("diagnose.store")
    ]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "sqlalchemy", None)
    code, _, err = run("keep", str(DEMO / "low-charge-orifice.yaml"))
    assert (code, err) == (
        2,
        "keeping visits needs SQLAlchemy and Alembic\n      Install them: `pip install 'diagnose[store]'`.\n",
    )


# -- the page by itself ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FOLLOWED)
def test_every_drift_says_what_would_do_that(name: str) -> None:
    for slope, word in ((0.01, "rises"), (-0.01, "falls")):
        said = drift_text(Drift(name, slope, 0.002, 4, 90.0, True), "si")
        assert f"{word} against what it should be by 0.3 ± 0.1 K a month, over 4 visits" in said
        assert said.endswith((" would do that.", "wears.", "clogs.", "much.", "blower."))
    assert len({history._MEANS[name, up] for up in (True, False)}) == 2


def test_the_page_without_much_to_tell() -> None:
    alone = " ".join(as_text(history_page("shop", looks([0.0])[:1], FIGURES)).split())
    assert alone.startswith("shop: 1 visit, 2026-03-01. date")
    assert "Good day: 2026-03-01" in alone
    assert "No slow drift" in as_text(history_page("shop", looks([0.0, 0.1, -0.1]), FIGURES))
    held = replace(looks([0.0])[0], story=told(status="outside", name=None, right=False, figures={}))
    assert "outside its field" in " ".join(as_text(history_page("shop", [held], FIGURES)).split())
    assert "none can be the good day" in " ".join(as_text(history_page("shop", [held], FIGURES)).split())
    untold = [Changed(None, None, "ab" * 16, "2026-03-01", "it is no visit.")]
    assert "cannot be told: it is no visit." in as_text(history_page("shop", [], FIGURES, untold=untold))


def test_the_chart_shows_every_visit_against_its_band() -> None:
    seen = looks([0.0, -1.0, -2.0, -3.0])
    chart = over_visits("<shop>", seen, "us")
    assert chart.svg.count("<circle") == 4
    assert chart.svg.count('class="band"') == 1
    assert "&lt;shop&gt;" in chart.svg
    assert "Subcooling, last 4.5 °F on 2026-06-01 where 9.9 °F was expected, first 9.9 °F." in chart.words
    one = over_visits("shop", [subcooled("2026-03-01", -9.0)], "si")
    assert one.svg.count("<circle") == 1
    assert isinstance(over_visits("shop", [replace(seen[0], story=told())], "us"), NoDrawing)
