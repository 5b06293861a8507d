"""Tables in lines of any width. The rule is our own: no source."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from diagnose import examine
from diagnose.report import Block, as_text
from diagnose.report.pages import diagnosis_page
from diagnose.shipped import shipped

WORDS = st.lists(st.text("abcdefghij0123456789.-", min_size=1, max_size=24), max_size=6).map(" ".join)
ROWS = st.integers(1, 5).flatmap(lambda n: st.lists(st.tuples(*[WORDS] * n), min_size=2, max_size=5))


@given(ROWS, st.integers(40, 80))
def test_no_word_of_a_table_is_broken_and_no_line_too_long(rows: list[tuple[str, ...]], width: int) -> None:
    lines = as_text([Block("rows", rows=tuple(rows))], width).splitlines()
    assert max(map(len, lines)) <= width
    shown = {word for line in lines for word in line.split()}
    assert {word for row in rows[1:] for cell in row for word in cell.split()} <= shown


def test_figures_stay_whole_on_a_narrow_terminal() -> None:
    d = examine(shipped("cases") / "demo" / "low-charge-orifice.yaml")
    lines = as_text([block for block in diagnosis_page(d) if block.kind == "rows"], 40).splitlines()
    assert max(map(len, lines)) <= 40
    assert "  evaporator temperature difference" in lines
    assert "    value: 39.0 ± 1.2 °F" in lines
