"""A fleet on one page: shares are summed, small groups have wide limits, and what cannot be told is said."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_fleet import FAULTS, MANY, row, text_of
from webpages import (
    InBrowser,
    contrast_is_enough,
    drawings_told_in_words,
    no_wider_than,
    sheets,
    stands_by_itself,
    tables_have_heads_and_can_be_scrolled,
)

from diagnose.batch.fleet.page import fleet_page, summary
from diagnose.batch.fleet.sums import INDOOR, OUTDOOR, UNTOLD, FleetSums, electricity, reached, sum_up, wrong
from diagnose.batch.fleet.table import read_table
from diagnose.diagnosis.costs import charge_costs
from diagnose.report import as_markdown, as_text
from diagnose.report.webpage import web_page
from diagnose.rulebook import Rulebook
from diagnose.yamlfile import InputProblems


def without_shares(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    return [{name: value for name, value in each.items() if not name.startswith("share: ")} for each in rows]


def summed(rows: list[dict[str, object]], book: Rulebook, folder: Path) -> FleetSums:
    path = folder / "out.csv"
    path.write_text(text_of(rows), encoding="utf-8")
    return sum_up(read_table(path), book)


# -- sums --------------------------------------------------------------------------------------------------------------


def test_a_doubtful_visit_never_counts_as_certain(book: Rulebook, tmp_path: Path) -> None:
    sums = summed([row(f"shop {i}", low=0.6) for i in range(10)], book, tmp_path)
    assert sums.whole.faults["low-charge"] == pytest.approx(6.0)  # not 10, though it is first on every one
    assert sums.whole.wrong == pytest.approx(6.0)
    low, high = sums.whole.interval
    # 95 % limits of 6 of 10, with z = 2: Agresti and Coull 1998 have 0.313 to 0.832 at z = 1.96 (Wilson's score interval)
    assert (low, high) == pytest.approx((0.313, 0.832), abs=0.01)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_shares_add_up_whatever_they_are(lows: list[float]) -> None:
    from diagnose.batch.fleet.sums import group
    from diagnose.batch.fleet.table import _visit

    visits = [_visit(row(f"shop {i}", low), i)[0] for i, low in enumerate(lows)]
    found = group("all", visits)
    assert sum(found.faults.values()) == pytest.approx(len(lows))
    assert found.wrong == pytest.approx(sum(lows), abs=1e-6)
    low, high = found.interval
    assert 0 <= low <= found.wrong / len(lows) + 1e-9
    assert found.wrong / len(lows) - 1e-9 <= high <= 1


def test_each_machine_counts_once_by_its_last_visit(book: Rulebook, tmp_path: Path) -> None:
    rows = [
        row("shop 1", 0.9, date="2026-05-01"),
        row("shop 1", 0.0, date="2026-06-01"),
        row("shop 2", 0.5, date="2026-05-20"),
    ]
    sums = summed(rows, book, tmp_path)
    assert sums.whole.machines == 2
    assert sums.whole.wrong == pytest.approx(0.5)
    assert [(each.label, each.machines, round(each.wrong, 2)) for each in sums.months] == [
        ("2026-05", 2, 1.4), ("2026-06", 1, 0.0)
    ]  # fmt: skip


def test_a_machine_is_one_however_its_name_is_typed_and_its_last_visit_is_the_last_of_the_day(
    book: Rulebook, tmp_path: Path
) -> None:
    rows = [
        row("Bäckerei, dach", 0.9, date="2026-06-01 15:20"),
        row("Ba\u0308ckerei,  Dach", 0.1, date="2026-06-01 9:05"),
        row("bäckerei, dach", 0.0, date="2026-06-01"),
    ]
    sums = summed(rows, book, tmp_path)
    assert [(each.machines, each.wrong) for each in (sums.whole, *sums.months)] == [(1, pytest.approx(0.9))] * 2


def test_groups_of_few_machines_have_wide_limits(book: Rulebook, tmp_path: Path) -> None:
    rows = [row(f"a {i}", 1.0, kind="split") for i in range(40)] + [
        row(f"b {i}", 1.0, kind="ductless") for i in range(2)
    ]
    sums = summed(rows, book, tmp_path)
    many, few = sums.kinds
    assert (many.label, few.label) == ("split", "ductless")
    assert many.interval[0] > 0.85
    assert few.interval[0] < 0.4
    assert "compare no two groups whose limits overlap" in " ".join(as_text(fleet_page(sums, book)).split())


def test_without_all_shares_the_rest_is_untold_and_said(book: Rulebook, tmp_path: Path) -> None:
    rows = without_shares([row(f"shop {i}", low=0.6) for i in range(10)])
    sums = summed(rows, book, tmp_path)
    assert sums.whole.faults == pytest.approx({"low-charge": 6.0, UNTOLD: 4.0})
    page = " ".join(as_text(fleet_page(sums, book)).split())
    assert "at least 6.0 of the 10" in page
    assert "What falls to the others cannot be told" in page


def test_what_could_not_be_judged_is_in_no_sum(book: Rulebook, tmp_path: Path) -> None:
    cold = row(
        "cold", status="not ready", fault="", share="", problems="ready/cold-outdoors", charge_verdict="do not judge"
    )
    cold |= {f"share: {fault}": "" for fault in FAULTS}
    sums = summed([row("shop 1", 0.9), cold], book, tmp_path)
    assert (sums.whole.machines, sums.whole.judged) == (2, 1)
    assert sums.verdicts == {"right": 0, "low": 1, "high": 0, "do not judge": 1}
    assert [visit.machine for visit in sums.unjudged] == ["cold"]
    assert "ready/cold-outdoors" in as_text(fleet_page(sums, book))


# -- the worst first, and what that saves ------------------------------------------------------------------------------


def test_what_must_be_stopped_goes_first(book: Rulebook, tmp_path: Path) -> None:
    rows = [
        row("likely", 0.99),
        row("stopped", 0.3, dangers="caution/hot-pipe,high-side-pressure"),
        row("warm", 0.5, dangers="caution/hot-pipe"),
    ]
    sums = summed(rows, book, tmp_path)
    assert [visit.machine for visit in sums.worst] == ["stopped", "likely", "warm"]
    page = " ".join(as_text(fleet_page(sums, book)).split())
    assert "STOP: the high side pressure is over its limit." in page
    assert "hot pipes" not in page.lower()


def test_hours_are_saved_by_going_where_faults_are_likely(book: Rulebook, tmp_path: Path) -> None:
    """Ten machines surely ill among a hundred: half of them are reached after 5 visits, and by chance after 50."""
    sums = summed([row(f"shop {i}", low=float(i < 10)) for i in range(100)], book, tmp_path)
    half = next(each for each in reached(sums.worst) if each.share == 0.5)
    assert (half.faults, half.in_order, half.anyhow) == (5.0, 5, 50.0)
    assert "50 %           5.0       5                    50.0          90" in as_text(
        fleet_page(sums, book, hours=2.0)
    )
    same = summed([row(f"shop {i}", low=0.4) for i in range(100)], book, tmp_path)
    assert all(each.in_order == pytest.approx(each.anyhow, abs=1) for each in reached(same.worst))
    assert reached(summed([row("shop", 0.0)], book, tmp_path).worst) == ()


def test_electricity_is_what_costs_say_times_how_likely_it_is(book: Rulebook, tmp_path: Path) -> None:
    sums = summed([row("sure", 1.0), row("likely", 0.9), row("right", 0.0)], book, tmp_path)
    found = electricity(sums.worst, book)
    cost = charge_costs("low-charge", (-20, -5), INDOOR, OUTDOOR, "TXV", book.judgement.costs)
    assert (found.low, found.high) == pytest.approx((1.9 * cost.running[0], 1.9 * cost.running[1]))
    assert found.half == 1
    assert found.source == "nist-charge-correlations"
    assert electricity(summed([row("right", 0.0)], book, tmp_path).worst, book) is None
    winter = [row("sure", 1.0) | {"air rise [K]": 12.0}]
    assert electricity(summed(winter, book, tmp_path).worst, book) is None  # the curves are of cooling
    page = " ".join(as_text(fleet_page(sums, book)).split())
    assert f"they use {found.low / 2:.0f} to {found.high / 2:.0f} % more" in page
    assert "NIST" in page


def test_the_air_of_the_rating_test() -> None:
    """AHRI 210/240, test A: 95 °F outdoors, 80 °F indoors, from memory."""
    assert pytest.approx(35.0, abs=0.01) == OUTDOOR - 273.15
    assert pytest.approx(26.67, abs=0.01) == INDOOR - 273.15


def test_a_stop_is_told_first_though_nothing_could_be_judged(book: Rulebook, tmp_path: Path) -> None:
    held = row("held", status="not ready", fault="", share="", dangers="high-side-pressure")
    held |= {f"share: {fault}": "" for fault in FAULTS}
    sums = summed([row("shop 1", 0.9), held], book, tmp_path)
    assert [visit.machine for visit in sums.worst] == ["held", "shop 1"]
    assert as_text(fleet_page(sums, book)).startswith("STOP: 1 machine, on the last visit: held.")


def test_a_charge_that_hangs_on_a_check_says_so_where_somebody_is_sent(book: Rulebook, tmp_path: Path) -> None:
    rows = [row("firm", low=0.9), row("to be confirmed", low=0.95, charge_check="read-subcooling-again")]
    told = " ".join(as_text(fleet_page(summed(rows, book, tmp_path), book)).split())
    assert told.count("charge low by 5 to 20 %, but first read subcooling again.") == 1
    assert told.count("charge low by 5 to 20 %.") == 1


def test_one_machine_is_told_as_one(book: Rulebook, tmp_path: Path) -> None:
    told = summary(summed([row("alone", 0.9)], book, tmp_path))
    assert told == "1 machine, 1 visit: the one that could be judged is about 90 % likely to have a fault."


def test_what_a_sound_machine_leaves_is_some_fault_also_without_all_shares(book: Rulebook, tmp_path: Path) -> None:
    sums = summed(without_shares([row("a", right=0.5), row("b", right=0.6)]), book, tmp_path)
    assert [round(wrong(visit), 9) for visit in sums.worst] == [0.5, 0.4]
    assert "at least 0.9 of the 2 that could be judged" in summary(sums)


def test_the_list_ends_where_faults_do(book: Rulebook, tmp_path: Path) -> None:
    page = " ".join(
        as_text(fleet_page(summed([row(f"s{i}", i / 100) for i in range(10)], book, tmp_path), book)).split()
    )
    assert "1 s9 2026-07-14 9 %" in page
    assert " s4 " not in page
    assert "And 5 more, 5 of them less than 5 % likely to have any fault" in page


# -- drifts ------------------------------------------------------------------------------------------------------------


def over_months(machine: str, slope: float, metering: str = "TXV") -> list[dict[str, object]]:
    return [
        row(machine, date=f"2026-{4 + i:02}-15", metering=metering)
        | {"condensing temperature [C]": 42.0, "condensing over ambient [K]": 12.0, "subcooling [K]": 6.0 + slope * i,
           "subcooling ± [K]": 0.8, "superheat [K]": 6.0 - slope * i, "superheat ± [K]": 0.8}
        for i in range(5)
    ]  # fmt: skip


def test_a_drift_is_told_beyond_the_scatter(book: Rulebook, tmp_path: Path) -> None:
    sums = summed(
        [*over_months("leaks", -1.5), *over_months("steady", 0.05), *over_months("orifice", -1.5, "fixed orifice")],
        book,
        tmp_path,
    )
    assert {name: {d.name for d in each} for name, each in sums.drifting.items()} == {
        "leaks": {"subcooling", "superheat"}, "orifice": {"subcooling"}  # an orifice's superheat follows the weather
    }  # fmt: skip
    assert sums.drifting["leaks"][-1].slope * 30.4 == pytest.approx(-1.5, rel=0.05)
    thrice = summed([each for each in over_months("leaks", -1.5) for _ in range(3)], book, tmp_path)
    assert thrice.drifting["leaks"] == sums.drifting["leaks"]  # three stretches of one day are one look
    seasons = [each | {"air rise [K]": 12.0 if i < 2 else ""} for i, each in enumerate(over_months("leaks", -1.5))]
    assert not summed(seasons, book, tmp_path).drifting.get("leaks")  # three visits of one mode are too few
    page = " ".join(as_text(fleet_page(sums, book)).split())
    assert "Leaks: Subcooling falls by 2.7" in page
    assert "No drift can be told" in as_text(fleet_page(summed(MANY, book, tmp_path), book))


# -- the table ---------------------------------------------------------------------------------------------------------


def test_names_that_differ_at_their_end_are_two_machines(book: Rulebook, tmp_path: Path) -> None:
    long = "the shop behind the old customs house on harbor street, second door on the left, machine "
    names = [f"{long}{i}" for i in range(3)] + ["Shop 1", "shop  1 ", "SHOP 1"]
    sums = summed([row(name, 0.5) for name in names], book, tmp_path)
    assert sums.whole.machines == 4
    assert "machine 2" in " ".join(as_text(fleet_page(sums, book)).split())


def test_a_table_saved_by_a_spreadsheet_with_decimal_commas(book: Rulebook, tmp_path: Path) -> None:
    text = text_of(MANY)
    path = tmp_path / "saved.csv"
    path.write_text(text.replace(",", ";").replace("0.", "0,"), encoding="utf-8")
    whole = summed(MANY, book, tmp_path).whole
    assert sum_up(read_table(path), book).whole == whole


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "lacks the columns status, fault, share, charge verdict"),
        ("machine,suction pressure [psig]\nshop,118\n", "Examine the visits first"),
        (text_of([row("shop")]).splitlines()[0] + "\n", "this table has no rows"),
        ("status,fault,share,charge verdict,status\nx,x,1,low,x\n", "the column `status` stands there twice"),
        ('{"status": "diagnosed"}', "lacks the columns"),
        (b"status,fault,share,charge verdict\n\xff\xfe\n", "not UTF-8"),
        (b"PAR1 and no more", "arquet"),
    ],
)
def test_what_is_no_table_is_said(tmp_path: Path, text: str | bytes, said: str) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputProblems) as error:
        read_table(path)
    assert said in str(error.value)
    assert error.value.problems[0].fix
    with pytest.raises(InputProblems, match="no such file"):
        read_table(tmp_path / "none.csv")


def test_odd_rows_are_counted_and_spoil_no_other(book: Rulebook, tmp_path: Path) -> None:
    odd = [
        row("", 0.5), row("no date", 0.5, date="14 July"), row("share", 0.5, share="many"),
        row("formula", 0.9) | {"machine": "'=1+1"},
        row("estimate", 0.9) | {"charge estimate low [%]": "9e99"}, row("nan", 0.2) | {"share: low-charge": "nan"},
        row("unknown", 0.2, fault="loose-belt") | {"share: loose-belt": 0.5}, row("dangers", dangers=",, no-such , "),
        row("<b>bold</b> | x\x07", 0.3), row("x" * 500, 0.3),
    ]  # fmt: skip
    sums = summed([*odd, *MANY], book, tmp_path)
    assert sums.whole.machines == 80
    assert (sums.table.unnamed, sums.table.undated, sums.table.odd) == (1, 1, 1)
    assert "=1+1" in {visit.machine for visit in sums.worst}
    page = web_page(fleet_page(sums, book, full=True, drawn=True))
    assert "<b>bold" not in page
    assert "loose-belt" in page
    tables_have_heads_and_can_be_scrolled(page)
    assert all(0 <= wrong(visit) <= 1 + 1e-9 for visit in sums.worst)


# -- the page ----------------------------------------------------------------------------------------------------------


def test_the_page_is_whole_and_tells_all_in_words(book: Rulebook, tmp_path: Path) -> None:
    sums = summed([*MANY, *over_months("leaks", -1.5)], book, tmp_path)
    page = web_page(fleet_page(sums, book, drawn=True))
    stands_by_itself(page)
    tables_have_heads_and_can_be_scrolled(page)
    contrast_is_enough(page)
    assert drawings_told_in_words(page) == 5
    for told in (page, as_markdown(fleet_page(sums, book)), as_text(fleet_page(sums, book))):
        for words in ("By refrigerant", "R-22", "Worst first", "low refrigerant charge", "2026-04", "hours saved"):
            assert words in told
    assert summary(sums).startswith("71 machines, 75 visits: about 32 of the 71")
    assert max(len(line) for line in as_text(fleet_page(sums, book)).splitlines()) <= 80


def test_the_page_fits_a_phone_and_paper(book: Rulebook, tmp_path: Path, in_browser: InBrowser) -> None:
    page = web_page(fleet_page(summed(MANY, book, tmp_path), book, drawn=True))
    no_wider_than(320, {"fleet": page}, in_browser)
    assert 3 <= sheets(page, "Letter", in_browser) <= 8
