"""Edits of what people wrote: comments, order, units, quotes and layout stay; only what was changed is another."""

from __future__ import annotations

import difflib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose import yamlfile
from diagnose.workshop import yamledit
from diagnose.workshop.yamledit import add, edited, flow, folded, fragment, node, paragraph, scalar, written
from diagnose.yamlfile import InputProblems

FILE = """\
# the first line
case:   street/one        # wide
story: >
  A warm shop
  on two lines.
numbers: [1.50, 0x1F, 1e3, 007, "12", '13', no, ~]
date: 2026-01-02
visit:
      # taken at noon
      machine: {refrigerant: R-410A,
                metering: "fixed orifice"}   # at the coil
      readings:
        suction pressure:    118 psig   # left gauge

        airflow:
# about the list
list:
- one   # first

- two
# the last line
"""


def changed(text: str, change: Any) -> list[str]:
    """The lines of the difference."""
    after = edited(text, change)
    return [line for line in difflib.ndiff(text.splitlines(), after.splitlines()) if line[0] in "+-"]


def test_what_is_not_changed_is_the_same_to_the_letter() -> None:
    assert edited(FILE, lambda data: None) == FILE


def test_one_value_changes_one_line() -> None:
    def change(data: Any) -> None:
        data["visit"]["readings"]["suction pressure"] = node("8 bar gauge")

    assert changed(FILE, change) == [
        "-         suction pressure:    118 psig   # left gauge",
        "+         suction pressure: 8 bar gauge   # left gauge",
    ]


def test_new_entries_stand_behind_the_others_and_before_the_comments_of_what_follows() -> None:
    def change(data: Any) -> None:
        data["visit"]["readings"]["drier inlet temperature"] = node("90 F")
        data["list"].append(node("three: 3"))
        data["new"] = flow({"value": 1.5, "words": ["a", "no"]})

    after = edited(FILE, change)
    assert "        airflow:\n        drier inlet temperature: 90 F\n# about the list\n" in after
    assert after.endswith("- two\n- 'three: 3'\nnew: {value: 1.5, words: [a, 'no']}\n# the last line\n")
    assert [line for line in FILE.splitlines() if line not in after.splitlines()] == []


def test_what_is_taken_out_takes_no_comment_of_what_follows() -> None:
    def change(data: Any) -> None:
        del data["visit"]
        del data["numbers"]

    after = edited(FILE, change)
    assert after.startswith(FILE[: FILE.index("numbers")] + "date: 2026-01-02\n# about the list\n")


def test_a_group_over_several_lines_that_is_changed_is_written_on_one() -> None:
    def change(data: Any) -> None:
        data["visit"]["machine"]["metering"] = node("TXV")

    after = edited(FILE, change)
    assert '      machine: {refrigerant: R-410A, metering: "TXV"} # at the coil\n' in after  # between quotes, as it was
    assert "# taken at noon" in after
    assert "suction pressure:    118 psig   # left gauge\n" in after


@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_the_byte_order_mark_are_kept(mark: str) -> None:
    def change(data: Any) -> None:
        data["list"].append(node("three"))

    after = edited(mark + FILE.replace("\n", "\r\n"), change)
    assert after == mark + edited(FILE, change).replace("\n", "\r\n")


def test_entries_written_beforehand_keep_their_comments() -> None:
    text = "rules:\n    - id: one   # ours\n      when: {a: b,\n             c: d}\n# end\n"
    entry = "- id: two\n  # FILL IN\n  why: >\n    Because\n    of this.\n  # and\n  points: 0.5\n"
    after = edited(text, lambda data: add(data, "rules", fragment(entry)))
    indented = "".join(f"    {line}\n" for line in entry.splitlines())
    assert after == text.replace("# end\n", indented + "# end\n")
    begun = edited("rules: []\n", lambda data: add(data, "rules", fragment(entry)))
    assert yamlfile.parse(begun, "").data == yamlfile.parse("rules:\n" + indented, "").data
    named = edited(
        "sources:\n  a:\n    title: A\n", lambda data: add(data, "sources", fragment("b:\n  # FILL IN\n  title: 'B'\n"))
    )
    assert named == "sources:\n  a:\n    title: A\n  b:\n    # FILL IN\n    title: 'B'\n"


@pytest.mark.parametrize("text", ["- a\n", "", "a: [\n", "a: 1\na: 2\n", "a: &x 1\n", "word\n"])
def test_what_cannot_be_edited_is_told(text: str) -> None:
    with pytest.raises(InputProblems):
        edited(text, lambda data: None, "file.yaml")


def test_a_new_file() -> None:
    data = {
        "a": {"b": "x: y", "c": "12 A", "d": []},
        "p": paragraph("It is so: " * 20),
        "q": paragraph("short"),
        "f": folded(["AB", "CD"]),
    }
    text = written(data)
    assert yamlfile.parse(text, "").data == {
        "a": {"b": "x: y", "c": "12 A", "d": []},
        "p": ("It is so: " * 20).strip() + "\n",
        "q": "short",
        "f": "AB CD\n",
    }
    assert max(map(len, text.splitlines())) <= yamledit.WIDTH + 2


NAMES = (
    st.text("abcdefgh xyz", min_size=1, max_size=8)
    .map(str.strip)
    .filter(bool)
    .filter(lambda name: name not in ("y", "n"))
)
TEXTS = st.text(max_size=12).filter(lambda text: not yamlfile.UNPRINTABLE.search(text) and "\r" not in text)
VALUES = st.one_of(TEXTS, st.integers(-999, 999), st.floats(0.01, 99).map(lambda x: float(f"{x:g}")), st.booleans())
DATA = st.dictionaries(
    NAMES,
    st.one_of(VALUES, st.lists(VALUES, max_size=3), st.dictionaries(NAMES, VALUES, max_size=3)),
    min_size=1,
    max_size=5,
)


@given(DATA)
def test_whatever_is_written_is_read_back_as_it_was(data: dict[str, Any]) -> None:
    assert yamlfile.parse(written(data), "").data == data
    assert yamlfile.parse(written({"all": flow(data)}), "").data == {"all": data}


@given(DATA, DATA)
def test_an_edit_says_what_was_asked_for_and_loses_no_comment(before: dict[str, Any], more: dict[str, Any]) -> None:
    text = "".join(f"# {i}\n{written({name: value})}" for i, (name, value) in enumerate(before.items()))

    def change(data: Any) -> None:
        for name, value in more.items():
            data[name] = node(value)

    after = edited(text, change)
    assert yamlfile.parse(after, "").data == before | more
    assert [line for line in after.splitlines() if line.startswith("# ")][: len(before)] == [
        f"# {i}" for i in range(len(before))
    ]


@given(TEXTS)
def test_any_text_is_read_back(text: str) -> None:
    assert yamlfile.parse(f"text: {scalar(text)}\n", "text").data == {"text": text}
