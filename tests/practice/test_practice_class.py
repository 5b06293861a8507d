"""A class: worksheet and key say the same, and results are summed up."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from functools import cache
from pathlib import Path

import pytest
from shared import exercise
from test_practice import run
from webpages import InBrowser, Page, no_wider_than

from diagnose.practice.exercise import GAVE_UP, fact, shown
from diagnose.practice.judging import SETTLED
from diagnose.practice.results import COLUMNS, Result, add_result, read_results, sum_up, summary_csv, summary_page
from diagnose.practice.worksheet import TO_WRITE, Set, chosen, key_blocks, key_page, make_set, sheet_page
from diagnose.report import as_text
from diagnose.rulebook import Rulebook, load_rules
from diagnose.simulator import FAULTS
from diagnose.yamlfile import InputProblems


@cache
def made() -> Set:
    return make_set(7, 10, load_rules())


@cache
def hard() -> Set:
    """Visits that other tests look at too: what would have settled one takes a hundred diagnoses."""
    asked = (12, None), (3, "low-indoor-airflow"), (3, "weak-compressor")
    return Set(1, True, tuple(exercise(seed, fault, True) for seed, fault in asked))


@cache
def sheet() -> str:
    return sheet_page(made(), "html")


@cache
def key() -> str:
    return key_page(made(), load_rules(), "text")


# -- the worksheet -------------------------------------------------------------------------------------------------


def test_every_fault_comes_as_often_as_the_next_and_no_shop_twice_in_a_row(book: Rulebook) -> None:
    truths = [one.truth for one in made().exercises]
    assert sorted(truths) == sorted(FAULTS)
    assert truths != list(FAULTS)
    shops = [str(one.machine["name"]).partition(",")[0] for one in made().exercises]
    assert len(set(shops)) == len(shops)
    two = make_set(3, 4, book, ("low-charge", "overcharge"))
    assert sorted(one.truth for one in two.exercises) == ["low-charge"] * 2 + ["overcharge"] * 2


def test_the_same_number_gives_the_same_set_and_the_same_key(book: Rulebook) -> None:
    assert make_set(3, 2, book) == make_set(3, 2, book)
    assert make_set(3, 2, book) != make_set(4, 2, book)


@pytest.mark.parametrize("style", ["html", "markdown", "text"])
def test_the_worksheet_tells_no_answer(style: str, book: Rulebook) -> None:
    text = sheet_page(made(), style).lower()
    for fault in FAULTS:
        assert fault not in text
        assert book.faults[fault].name.lower() not in text
    for one in made().exercises:
        assert str(one.seed) not in text


def test_readings_stand_in_it_in_both_systems() -> None:
    page = Page(sheet())
    said = page.said.replace("\u00a0", " ")
    for i, one in enumerate(made().exercises):
        assert f"{i + 1}. {str(one.machine['name']).capitalize()}" in said
        assert one.complaint in said
        for name in one.given:
            text = one.visit()["readings"][name]
            assert f"{name}{shown(name, text, 'us')}{shown(name, text, 'si')}" in said
    for what, _ in TO_WRITE:
        assert said.count(f"{what}:") == len(made().exercises)


def test_figures_in_both_systems() -> None:
    """By the definitions: 1 psi is 6.894757 kPa, 32 °F is 0 °C, 1 ton of refrigeration is 3.516853 kW."""
    assert shown("suction pressure", "100.0 psig", "si") == "689 kPa gauge"
    assert shown("suction line temperature", "50.0 F", "si") == "10.0 °C"
    assert shown("suction line temperature", "50.0 F", "us") == "50.0 °F"
    assert fact("rated subcooling", "9 F") == "9.0 °F (5.0 K)"
    assert fact("nominal capacity", "2.0 ton") == "2.0 ton (7.03 kW)"
    assert fact("metering", "TXV") == "TXV"


def test_the_page_can_be_used_by_anybody_without_a_network() -> None:
    page = Page(sheet())
    assert page.headings == [1] + [2] * 10
    assert not {tag for tag, _ in page.tags} & {"script", "link", "img", "iframe", "object", "form"}
    assert not re.search(r"https?:|url\(|@import", sheet())
    assert ("html", {"lang": "en"}) in page.tags
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids)) == 10
    assert all(a["aria-labelledby"] in ids for _, a in page.tags if "aria-labelledby" in a)
    assert all(attributes.get("scope") in ("col", "row") for tag, attributes in page.tags if tag == "th")
    assert sum(tag == "table" for tag, _ in page.tags) == sum(tag == "caption" for tag, _ in page.tags) == 20
    assert "break-inside: avoid" in sheet()


def test_it_fits_a_narrow_phone(in_browser: InBrowser) -> None:
    no_wider_than(360, {"sheet": sheet()}, in_browser)


# -- the key -------------------------------------------------------------------------------------------------------


def test_the_key_has_the_fault_of_every_visit_of_the_worksheet(book: Rulebook) -> None:
    for which in (made(), hard()):
        heads = [block.text for block in key_blocks(which, book) if block.kind == "heading"]
        assert len(heads) == len(which.exercises)
        for i, (head, one) in enumerate(zip(heads, which.exercises, strict=True)):
            assert head.startswith(f"{i + 1}. {str(one.machine['name']).capitalize()}: ")
            for truth in one.truths:
                assert book.faults[truth].name[1:] in head


def test_the_arithmetic_of_the_key_adds_up_as_it_is_printed(book: Rulebook) -> None:
    sums = [block.text for block in key_blocks(made(), book) if block.kind == "sum"]
    assert len(sums) == 2 * 2 * len(made().exercises)
    for text in sums:
        printed = [n.replace("−", "-").replace(",", "") for n in re.findall(r"−?[\d,]+\.?\d*(?= [°K])", text)]
        assert len(printed) == 3, text
        decimals = len(printed[2].partition(".")[2])
        warm, cool, result = map(float, printed)
        assert abs(warm - cool - result) <= 0.5 * 10**-decimals + 1e-9, text


def test_the_lines_that_the_key_reckons_with_are_the_worksheets(book: Rulebook) -> None:
    sections = re.split(r"\n(?=\d+\. )", key())[1:]
    for text, one in zip(sections, made().exercises, strict=True):
        for name in ("suction line temperature", "liquid line temperature"):
            assert shown(name, one.visit()["readings"][name], "us") in text


def test_the_key_says_what_to_do_next_where_the_sheet_leaves_it_open() -> None:
    said = " ".join(key().split())
    assert said.count("The readings on the sheet settle it.") + said.count("To measure or look at next:") == 10
    assert 0 < SETTLED < 1


# -- the command ---------------------------------------------------------------------------------------------------


def test_worksheet_and_key_belong_together(tmp_path: Path, book: Rulebook) -> None:
    page, answers, faults = tmp_path / "sheet.html", tmp_path / "key.md", ("low-charge", "overcharge")
    code, out, err = run(
        "set", "--count", 3, "--seed", 5, "--faults", ", ".join(faults), "-o", page, "--key", answers
    )  # fmt: skip
    assert (code, out) == (0, "")
    assert err.count("Wrote ") == 2
    text, key_text = page.read_text(encoding="utf-8").replace("\u00a0", " "), answers.read_text(encoding="utf-8")
    for i, one in enumerate(make_set(5, 3, book, faults).exercises):
        assert one.truth in faults
        name = str(one.machine["name"]).capitalize()
        assert f"{i + 1}. {name}</h2>" in text
        assert shown("suction pressure", one.readings["suction pressure"], "us") in text
        assert (
            f"## {i + 1}. {name}: {book.faults[one.truth].name[0].lower()}{book.faults[one.truth].name[1:]}" in key_text
        )


def test_the_key_can_be_had_later_by_the_number(tmp_path: Path) -> None:
    code, out, err = run("set", "--count", 1, "--seed", 5, "--as", "text")
    assert code == 0
    assert "--seed 5 --count 1" in err
    key_file = tmp_path / "key.txt"
    again = run("set", "--count", 1, "--seed", 5, "--as", "text", "--key", key_file)
    assert again[1] == out
    assert key_file.read_text(encoding="utf-8").startswith("Answer key of set 5\n")


def test_bad_requests_for_a_set_write_nothing(tmp_path: Path) -> None:
    page = tmp_path / "sheet.html"
    for words, message in (
        (("--faults", "low-charg"), "Did you mean `low-charge`?"),
        (("--faults", ", "), "no fault is named"),
        (("--key", page), "the same name"),
        (("--key", tmp_path / "none" / "key.html"), "there is no such folder"),
    ):
        err = run("set", "--count", 1, "-o", page, *words).refused()
        assert message in err
    assert not list(tmp_path.iterdir())
    assert chosen(None) is None


# -- results -------------------------------------------------------------------------------------------------------

HEAD = ",".join(COLUMNS)
ROWS = f"""{HEAD}
2026-05-01,Ann,a.yaml,1,low-charge,low-charge,yes,1,5,low,no
2026-05-01,ann,b.yaml,2,low-charge,liquid-line-restriction,no,0,0,leave,no
2026-05-02,Ann,c.yaml,3,overcharge,overcharge,yes,2,15,high,no
2026-05-02,Bob,a.yaml,1,liquid-line-restriction,low-charge,no,0,0,low,yes
2026-05-02,Bob,d.yaml,4,low-charge,{GAVE_UP},no,0,0,leave,no
"""


def table(folder: Path, text: str | bytes, name: str = "class.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def test_a_class_is_counted(tmp_path: Path) -> None:
    """Counted by hand from the rows above."""
    summary = sum_up(read_results([table(tmp_path, ROWS)]))
    ann, bob = summary.pupils
    assert (ann.name, ann.answers, ann.right, ann.gave_up, ann.harmful, ann.minutes) == ("Ann", 3, 2, 0, 0, 10.0)
    assert (bob.name, bob.answers, bob.right, bob.gave_up, bob.harmful, bob.minutes) == ("Bob", 2, 0, 1, 1, None)
    assert summary.faults["low-charge"] == ((GAVE_UP, 1), ("liquid-line-restriction", 1), ("low-charge", 1))
    assert summary.faults["liquid-line-restriction"] == (("low-charge", 1),)
    assert summary.right_of == {"low-charge": 1, "overcharge": 1, "liquid-line-restriction": 0}
    page = as_text(summary_page(summary))
    assert page.startswith("2 of 5 answers right; 1 would have done harm.\n")
    rows = list(csv.DictReader(io.StringIO(summary_csv(summary))))
    assert [row["name"] for row in rows if row["kind"] == "apprentice"] == ["Ann", "Bob"]
    assert sum(int(row["answers"]) for row in rows if row["kind"] == "fault") == 5


def test_sum_from_the_command_line(tmp_path: Path) -> None:
    path, out = table(tmp_path, ROWS), tmp_path / "sum.csv"
    assert run("sum", path)[1].startswith("2 of 5 answers right")
    assert run("sum", path, path)[1] == run("sum", path)[1]  # the same table named twice is one table
    assert run("sum", path, "--as", "markdown")[1].startswith("# 2 of 5 answers right")
    assert run("sum", path, "-o", out)[0] == 0
    assert out.read_text(encoding="utf-8").startswith("kind,name,truth,answer,")


@pytest.mark.parametrize(
    "text", [ROWS.replace(",", ";"), "\ufeff" + ROWS, ROWS.replace("\n", "\r\n"), ROWS + "\n,,,,,,,,,,\n"]
)
def test_what_spreadsheets_make_of_the_table_is_read_alike(text: str, tmp_path: Path) -> None:
    assert read_results([table(tmp_path, text)]) == read_results([table(tmp_path, ROWS, "plain.csv")])


def test_columns_in_another_order_and_more_of_them(tmp_path: Path) -> None:
    rows = [row.split(",") for row in ROWS.splitlines()]
    turned = "\n".join(",".join(["x", *reversed(row)]) for row in rows)
    assert read_results([table(tmp_path, turned)]) == read_results([table(tmp_path, ROWS, "plain.csv")])


@pytest.mark.parametrize(
    ("old", "new", "line", "message"),
    [
        ("2026-05-01,Ann", "May 1st,Ann", 2, "`when`: `May 1st` is not a date"),
        ("b.yaml,2", "b.yaml,two", 3, "`seed`: `two` is not a number"),
        ("2,15,high", "2,nan,high", 4, "`minutes`: `nan` is not a number"),
        ("no,0,0,low,yes", "no,0,0,low,maybe", 5, "`harmful`: `maybe` is neither yes nor no"),
        ("no,0,0,low,yes", "no,0,0,more,yes", 5, "`charge`: `more` is not known"),
        (f",{GAVE_UP},", ",,", 6, "`answer` is empty"),
        ("yes,2,15,high,no", "yes,2", 4, "this line has 8 cells, and the head has 11"),
        ("2026-05-02,Bob,a", '2026-05-02,"Bob,a', 6, "a quote in this line is not closed"),
        ("when,", "date,", 1, "the table lacks when"),
    ],
)
def test_bad_rows_are_told_with_their_line(old: str, new: str, line: int, message: str, tmp_path: Path) -> None:
    assert old in ROWS
    path = table(tmp_path, ROWS.replace(old, new, 1))
    err = run("sum", path).refused()
    assert message in err
    assert re.search(rf"class\.csv:{line}:\d+: ", err)


def test_tables_that_are_none(tmp_path: Path) -> None:
    for content, message in (
        (b"", "there is no result here"),
        (b"\xff\xfe\x00", "not written in UTF-8"),
        (HEAD, "no result here"),
    ):
        code, _, err = run("sum", table(tmp_path, content))
        assert code == 2
        assert message in err
    assert "cannot be read" in run("sum", tmp_path / "none.csv")[2]
    with pytest.raises(InputProblems):
        read_results([tmp_path])


def test_rows_are_added_and_read_back(tmp_path: Path) -> None:
    path = tmp_path / "new.csv"
    rows = [
        Result(
            date(2026, 5, 1), name, "a, b.yaml", 5, "low-charge+overcharge", "bad visit", True, 1, 2.5, "leave", False
        )
        for name in ("=1+1", 'Ann "the eye"', "Bö")
    ]
    for row in rows:
        add_result(path, row)
    assert read_results([path]) == rows
    assert path.read_text(encoding="utf-8").count("when,") == 1
    assert "\n2026-05-01,=1" not in path.read_text(encoding="utf-8")  # no spreadsheet reckons with a name


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@sum", "'=1+1", "''@x"])
def test_every_cell_of_text_stays_text_in_a_spreadsheet(text: str, tmp_path: Path) -> None:
    row = Result(date(2026, 5, 1), text, text, 3, text, text, False, 4, 12.0, "leave", False)
    table = tmp_path / "class.csv"
    add_result(table, row)
    for written in (table.read_text(encoding="utf-8"), summary_csv(sum_up([row]))):
        cells = [cell for line in csv.reader(io.StringIO(written)) for cell in line]
        assert f"'{text}" in cells
        assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert read_results([table]) == [row]


def test_a_quote_that_belongs_to_a_name_is_kept(tmp_path: Path) -> None:
    row = Result(date(2026, 5, 1), "'t Hart", "a.yaml", 3, "low-charge", "low-charge", True, 4, 12.0, "leave", False)
    add_result(tmp_path / "class.csv", row)
    assert read_results([tmp_path / "class.csv"]) == [row]
