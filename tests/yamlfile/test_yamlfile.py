# ruff: noqa: E501 - one bad text and its message a line
"""Positions are exact, messages are exact, and no text whatever ends in anything but a Document or InputProblems."""

import io
import json
import os
import pickle
import re
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Annotated, Any, Literal

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from work import THOROUGH, calls

from diagnose import units, yamlfile
from diagnose.yamlfile import (
    Document,
    InputProblems,
    Problem,
    did_you_mean,
    events,
    from_data,
    model_problems,
    parse,
    read,
    slips,
)
from diagnose.yamlfile.problems import Mark

VISIT = """\
# a visit
machine:
  name: "unit 2"
  factory charge: 6 lb 4 oz   # a comment
readings:
  - {minutes running: 15, suction pressure: 130 psig}
  - minutes running: 30
seen: [clean,
  dirty]
why: >
  Some text
  on two lines.
none:
"""


@pytest.fixture(params=["libyaml", "python"])
def loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    if request.param == "python":
        monkeypatch.setattr(events, "LOADER", yaml.SafeLoader)
    return str(request.param)


def test_positions(loader: str) -> None:
    document = parse(VISIT, "visit.yaml")
    assert document.marks[("machine", "name")] == Mark(3, 9, 8)
    assert document.marks[("machine", "factory charge")] == Mark(4, 19, 9)
    assert document.marks[("readings", 0)] == Mark(6, 5, 49)
    assert document.marks[("readings", 0, "suction pressure")] == Mark(6, 45, 8)
    assert document.marks[("readings", 1, "minutes running")] == Mark(7, 22, 2)
    assert document.marks[("seen",)] == Mark(8, 7, 7)
    assert document.marks[("seen", 1)] == Mark(9, 3, 5)
    assert document.marks[("machine",)].line == 3
    assert (document.marks[("why",)].line, document.marks[("why",)].column) == (10, 6)
    assert document.keys[("machine",)] == Mark(2, 1, 7)
    assert document.keys[("readings", 0, "suction pressure")] == Mark(6, 27, 16)
    assert document.keys[("none",)] == Mark(13, 1, 4)
    assert set(document.keys) < set(document.marks)


def test_columns_count_characters_not_bytes(loader: str) -> None:
    document = parse("\ufeffnäme: {ä: ü, b: c}\n", "x")
    assert document.marks[("näme", "b")] == Mark(1, 17, 1)
    assert document.marks[("näme", "ä")] == Mark(1, 11, 1)


def test_values(loader: str) -> None:
    text = (
        "a: yes\nb: no\nc: true\nd: 12\ne: -1.5\nf: 1e3\ng: 017\nh: 12:30\ni: 2024-01-02\nj: 1_000\nk: 0x1F\n"
        "l: ~\nm: null\nn:\no: '12'\np: .5\nq: 3/8\"\nr: True\ns: .inf\nt: 0\nu: |\n  two\n  lines\nv: 50 %\nw: on\nx: '~'\n"
    )
    assert parse(text, "x").data == {
        "a": "yes", "b": "no", "c": True, "d": 12, "e": -1.5, "f": 1000.0, "g": "017", "h": "12:30", "i": "2024-01-02",
        "j": "1_000", "k": "0x1F", "l": None, "m": None, "n": None, "o": "12", "p": 0.5, "q": '3/8"', "r": "True",
        "s": ".inf", "t": 0, "u": "two\nlines\n", "v": "50 %", "w": "on", "x": "~",
    }  # fmt: skip
    assert type(parse("12", "x").data) is int
    assert parse("", "x").data is None
    assert parse("- 1\n- b", "x").data == [1, "b"]


def test_a_problem_shows_the_line_and_marks_it() -> None:
    document = parse(VISIT, "visit.yaml")
    problem = document.problem(["machine", "factory charge"], "what is wrong", "Mend it.")
    assert str(problem) == (
        "visit.yaml:4:19: what is wrong\n"
        "    4 |   factory charge: 6 lb 4 oz   # a comment\n"
        "      |                   ^^^^^^^^^\n"
        "      Mend it."
    )
    assert document.problem(["readings", 0, "minutes running"], "x", key=True).column == 6
    # not written: the nearest entry around it, by its name where it has one
    assert (document.problem(["machine", "mode"], "x").line, document.problem(["machine", "mode"], "x").column) == (
        2,
        1,
    )
    assert document.problem(["readings", 1, "no", "such"], "x").line == 7
    assert document.problem([], "x").line == 2
    assert json.loads(json.dumps(problem.to_dict()))["fix"] == "Mend it."


def test_a_problem_without_a_place() -> None:
    assert str(Problem("f.yaml", 0, 0, "what")) == "f.yaml: what"
    assert str(Problem("", 0, 0, "what", "Fix.")) == "what\n      Fix."
    assert str(from_data({"a": 1}, "the visit").problem(["a"], "what")) == "the visit: what"
    assert str(from_data({"a": 1}).problem(["a"], "what")) == "what"


def test_a_long_line_is_cut_around_the_mark() -> None:
    with pytest.raises(InputProblems) as caught:
        parse("a: [" + "xxxxx yyyyy zzzzz, " * 15_000 + "&b c]", "f")
    shown = str(caught.value)
    assert len(shown) < 500
    line, mark = shown.splitlines()[1:3]
    assert line[mark.index("^") :].startswith("&b c")


BAD: list[tuple[str | bytes, str]] = [
    ("a: 1\na: 2", "f:2:1: `a` is written twice here, first in line 1 | Keep one of them, or put the second in a file of its own."),
    ("a: b: c", "f:1:5: this colon cannot stand here | Put a text with a colon in it between quotes, or indent this line like the ones above it."),
    ("a: 1\n  b: 2", "f:2:4: this colon cannot stand here | Put a text with a colon in it between quotes, or indent this line like the ones above it."),
    ("a: 1\nfoo\n", "f:2:1: this is not a name followed by a colon | Write `name: value`, with a space after the colon."),
    ("why: {superheat} is", "f:1:18: something stands after the end of the value | Put the whole text between quotes; a quote inside single quotes is written twice."),
    ("a: 'it's'", "f:1:8: something stands after the end of the value | Put the whole text between quotes; a quote inside single quotes is written twice."),
    ("a: 'x\nb: 1", "f:1:4: a quotation mark is opened and not closed | Close it; a quote inside single quotes is written twice."),
    ('a: "\\q"', "f:1:5: this `\\` does not stand before a letter that it can change | Use single quotes around a text with `\\` in it."),
    ("a: [1, 2", "f:1:4: this `[` is not closed | Write `]` where the list ends."),
    ("a: {b: 1", "f:1:4: this `{` is not closed | Write `}` where the group ends."),
    ("a: {b: 1\nc: 2", "f:1:4: this `{` is not closed | Write `}` where the group ends."),
    ("a: {b: 1]", "f:1:9: a group that begins with `{` goes wrong here | Write `{name: value}`, or put a text that begins with `{` between quotes."),
    ("- a: 1\n  b: 2\n  a: 3", "f:3:3: `a` is written twice here, first in line 1 | Keep one of them. Or, if a new entry of the list begins here, put `- ` before it."),
    ("- a: 1\n\u2013 a: 2", "f:2:1: `\u2013` does not begin a list item | Type `-`, the hyphen of the keyboard, and a space."),
    ("l:\n  \u2022 a: 2\n    b: 3", "f:2:3: `\u2022` does not begin a list item | Type `-`, the hyphen of the keyboard, and a space."),
    ("l:\n  \u2014 rinse it\n  \u2014 dry it", "f:2:3: `\u2014` does not begin a list item | Type `-`, the hyphen of the keyboard, and a space."),
    ("l:\n  -a: 2\n   b: 3", "f:2:3: no space stands after this `-` | Put a space between the `-` of a list item and its text."),
    ("name: Blower #2 is caked", "f:1:14: the rest of this line, from `#2 is caked` on, is not read: `#` begins a comment | Put the whole text between quotes. A comment of your own has a space after the `#`."),
    ("a: 1\n<<<<<<< ours\nb: 1", "f:2:1: this is the mark of a merge | Two versions of a file met here: keep one of the two, and take out the lines of <, = and >."),
    ("a: 1\nb\uff1a 2", "f:2:1: the colon here is not the colon of the keyboard | Type `:` and a space."),
    ("a: {b\u00a0: 1, c: 2]", "f:1:16: something goes wrong here, and a no-break space stands in this line | Type plain spaces in it."),
    ("a: \u2018b: c\u2019", 'f:1:6: this colon cannot stand here | The quotes here are curly ones, which do not count; type straight ones: "...".'),
    ("a: [", "f:1:5: something between brackets goes wrong here | Write `[one, two]` or `{name: value}`, and close it."),
    ("a:\n\tb: 1", "f:2:1: a tab stands before the first word | Indent with spaces."),
    ("a:\n  b: 1\n c: 2", "f:3:2: this line does not line up with those above it | Indent what belongs together by the same number of spaces."),
    ("- a\nb: 1", "f:2:1: this line does not line up with the list above it | Indent what belongs together by the same number of spaces. A new entry of the list begins with `- `."),
    ("a: text\n  - b", "f:2:3: this list item is read as part of the text above it | Take out the text after the colon above, or put it between quotes."),
    ("a: - b", "f:1:4: a list item cannot begin here | Begin it on a line of its own. Leave the value empty where nothing was "
     "measured."),
    ("a: ?", "f:1:4: a `?` cannot stand alone | Leave the value empty where nothing was measured."),
    ("a: @x", "f:1:4: a value cannot begin with @ | Put the value between quotes."),
    ("a: &x 1", "f:1:4: anchors are not used in these files | Take out the word that begins with `&`."),
    ("a: *x", "f:1:4: anchors are not used in these files | Write the value out."),
    ("*a : b", "f:1:1: anchors are not used in these files | Write the value out."),
    ("a: !!python/object:os.x 1", "f:1:4: tags are not used in these files | Take out the word that begins with `!`."),
    ("a: !mine {b: 1}", "f:1:4: tags are not used in these files | Take out the word that begins with `!`."),
    ("a: 1\n---\nb: 2", "f:2:1: a second document begins here | Take out the `---`, or put what follows it in a file of its own."),
    ("%YAML 3\n---\na: 1", "f:1:8: lines that begin with `%` are not used in these files | Take this line out."),
    ("1: a", "f:1:1: `1` stands where a name is expected | Put it between quotes if it is a name."),
    ("true: a", "f:1:1: `true` stands where a name is expected | Put it between quotes if it is a name."),
    ("? [a]\n: b", "f:1:3: a list stands where a name is expected | Put a text that begins with `{` or `[` between quotes."),
    ("a: {{x}: 2}", "f:1:5: a group stands where a name is expected | Put a text that begins with `{` or `[` between quotes."),
    ("[" * 50, "f:1:41: lists and groups are nested deeper than 40 | Check the brackets."),
    ("a: " + "9" * 50, "f:1:4: this number is too long | Check it, or put it between quotes if it is a name."),
    ("a: 1e999", "f:1:4: this number is too long | Check it, or put it between quotes if it is a name."),
    ('a: "\\e[2J"', "f:1:4: an escape in this text stands for a character that cannot be printed | Take it out."),
    ("a: b\x07", "f:1:5: a character that cannot be printed stands here (U+0007) | Take it out."),
    ("a: \ud800", "f:1:4: a character that cannot be printed stands here (U+D800) | Take it out."),
    ("a\0b", "f: this is not a text file | Give a YAML file saved as UTF-8."),
    (b"a: 1\nb: \xe9", "f:2:4: byte 9 of the file is not UTF-8 | Save the file as UTF-8."),
    ("a: 1".encode("utf-16"), "f: the file is saved as UTF-16 | Save it as UTF-8."),
    ("a" * 2_000_001, "f: the file is larger than 2 MB | Split it, or check that this is the right file."),
    ("]", "f:1:1: this is not valid YAML | Check the indentation, the colons and the quotes here and just above."),
]  # fmt: skip


@pytest.mark.parametrize(("text", "message"), BAD, ids=range(len(BAD)))
def test_messages(text: str | bytes, message: str) -> None:
    with pytest.raises(InputProblems) as caught:
        parse(text, "f")
    (problem,) = caught.value.problems
    place = f"{problem.file}:{problem.line}:{problem.column}" if problem.line else problem.file
    assert f"{place}: {problem.what} | {problem.fix}" == message


def test_all_problems_at_once_in_the_order_of_the_file() -> None:
    with pytest.raises(InputProblems) as caught:
        parse("a: &x 1\nb: !t 2\na: 3\nc: [", "f")
    assert [problem.line for problem in caught.value.problems] == [1, 2, 3, 4]
    assert str(caught.value).count("\n\nf:") == 3


def test_problems_are_not_counted_without_end() -> None:
    with pytest.raises(InputProblems) as caught:
        parse("- !x 1\n" * 10_000, "f")
    assert len(caught.value.problems) == yamlfile.MOST_PROBLEMS


def test_anchors_are_told_once_in_a_file() -> None:
    with pytest.raises(InputProblems) as caught:
        parse("a: &a [x]\nb: &b [*a, *a]\nc: [*b, *b]\nd: !t 1\n", "f")
    assert [(p.line, p.column, p.what, p.fix) for p in caught.value.problems] == [
        (1, 4, "anchors are not used in these files",
         "Take out every word that begins with `&`, and write the value out in place of each `*`."),
        (4, 4, "tags are not used in these files", "Take out the word that begins with `!`."),
    ]  # fmt: skip
    assert len(outcome("- *x\n" * 30_000).problems) == 1  # type: ignore[union-attr]


def test_problems_travel_between_processes() -> None:
    with pytest.raises(InputProblems) as caught:
        parse("a: &x 1", "f")
    again = pickle.loads(pickle.dumps(caught.value))
    assert again.problems == caught.value.problems
    assert str(again) == str(caught.value)


def test_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    good = tmp_path / "good.yaml"
    good.write_bytes(b"\xef\xbb\xbfa: \xc3\xa4\r\nb: 2\r\n")
    document = read(good)
    assert document.data == {"a": "ä", "b": 2}
    assert document.marks[("b",)] == Mark(2, 4, 1)
    assert document.name == str(good)
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for name, what in {
        "missing.yaml": "there is no such file",
        "": "this is a folder",
        "loop": "this is a link that leads back to itself",
        "good.yaml/x": "the file cannot be read (not a directory)",
        "a\0b": "the file cannot be read (the name cannot be used)",
    }.items():
        with pytest.raises(InputProblems) as caught:
            read(os.path.join(tmp_path, name))
        assert caught.value.problems[0].what == what
        assert caught.value.problems[0].line == 0
        assert "\n\n" not in str(caught.value)
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(b"a: 1")))
    document = read("-")
    assert (document.name, document.data) == ("standard input", {"a": 1})
    monkeypatch.setattr(sys, "stdin", io.StringIO("a: 1"))
    assert read("-").data == {"a": 1}


# --- anything at all ---

PIECES = st.sampled_from(
    ["a", "b: ", "- ", "? ", ": ", "\n", "\n  ", "\t", "[", "]", "{", "}", ",", "'", '"', "|", ">", "&x ", "*x", "!t ", "%",
     "---", "...", "#", "~", "true", "1", "-1.5e3", "\\", "\\ud800", "<<", "é", "\u2028", "\x85", "\r", "@", "`", "\ufeff", "\x00"]
)  # fmt: skip


@settings(max_examples=1500 if THOROUGH else 150, deadline=None)
@given(text=st.one_of(st.text(), st.binary(), st.lists(PIECES, max_size=30).map("".join)))
def test_any_text_gives_a_document_or_problems(text: str | bytes) -> None:
    check_anything(text)


@settings(max_examples=500 if THOROUGH else 50, deadline=None)
@given(text=st.lists(PIECES, max_size=30).map("".join))
def test_also_without_libyaml(text: str) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(events, "LOADER", yaml.SafeLoader)
        check_anything(text)


def outcome(text: str | bytes) -> Document | InputProblems:
    try:
        return parse(text, "f")
    except InputProblems as caught:
        return caught


def check_anything(text: str | bytes) -> None:
    result = outcome(text)
    if isinstance(result, Document):
        for mark in [*result.marks.values(), *result.keys.values()]:
            assert min(mark.line, mark.column, mark.width) >= 1
        return
    assert result.problems
    for problem in result.problems:
        assert problem.what
        assert problem.fix
        assert problem.line <= len(str(text).splitlines()) + 2
        str(problem).encode()  # printable, no lone surrogates


@pytest.mark.parametrize("bomb", ["[", "{a: ", "- ", "? ", "- [", "{? "])
def test_deep_nesting_is_refused_quickly(bomb: str) -> None:
    """After some dozens of them, whatever the length."""
    text = bomb * 100_000
    problems = outcome(text)
    assert calls(lambda: outcome(text)) < 2000
    assert isinstance(problems, InputProblems)
    if bomb == "[":
        assert "nested deeper" in str(problems)


WORD = st.from_regex(r"[a-z][a-z ]{0,10}[a-z]", fullmatch=True).filter(
    lambda word: word not in ("yes", "no", "on", "off", "true", "false", "null")
)
# Read otherwise on purpose: no-break spaces as spaces, the dashes of print as minus or bullet; and "1e3" is a number here.
OURS = frozenset(map(chr, slips.SPACES)) | slips.DASHES - {"-"}
VALUES = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(10**9), 10**9),
        st.text().filter(lambda text: not re.fullmatch(r"[-+]?[0-9]+[eE][-+]?[0-9]+", text) and OURS.isdisjoint(text)),
        WORD,
        st.floats(-1e6, 1e6).map(lambda x: round(x, 3)),
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(WORD, inner, max_size=4)),
    max_leaves=20,
)


@settings(max_examples=300 if THOROUGH else 30, deadline=None)
@given(data=VALUES, flow=st.booleans())
def test_agrees_with_safe_load(data: Any, flow: bool) -> None:
    text = yaml.safe_dump(data, default_flow_style=flow, allow_unicode=True)
    result = outcome(text)
    if isinstance(result, Document):
        assert result.data == yaml.safe_load(text)
    else:
        # safe_dump writes a repeated list once, and unprintable characters as escapes: both are refused on purpose
        assert all("anchors" in problem.what or "printed" in problem.what for problem in result.problems)


def test_a_long_rules_file_is_read_quickly() -> None:
    rule = "  - id: x/y\n    when: {evaporator feed: starved, condenser liquid: short}\n    points: 3\n    why: >\n      Some {text}.\n"
    few, many = (calls(lambda n=n: parse("rules:\n" + rule * n, "f")) for n in (60, 600))
    assert many < 10.1 * few  # ten times the length is ten times the work
    if yaml.__with_libyaml__:  # without it the scanner is Python, and each of its steps a call
        assert many < 25 * 600 * 12  # twelve names and values a rule


def test_signs_of_print_are_read_as_those_of_the_keyboard() -> None:
    assert parse("points: \u22123.5\n\u00a0\u00a0\nnear\u00a0by: 3\u202fton", "f").data == {
        "points": -3.5,
        "near by": "3 ton",
    }
    assert parse("a:\n\u00a0\u00a0b: \u20132", "f").data == {"a": {"b": -2}}
    assert parse("when: {superheat:\u00a0high, air filter:\u00a0[\u00a0clean,\u00a0dirty]}", "f").data == {
        "when": {"superheat": "high", "air filter": ["clean", "dirty"]}
    }


KEPT = """\
why: >
  \u2013 first
  <<<<<<< is a mark
note: 'Blower #2'   # a comment
charge: -6 F  #
dash: \u2013
"""


def test_what_is_no_slip_stays() -> None:
    assert parse(KEPT, "f").data == {
        "why": "\u2013 first <<<<<<< is a mark\n", "note": "Blower #2", "charge": "-6 F", "dash": "\u2013",
    }  # fmt: skip


# --- words ---


def test_did_you_mean() -> None:
    assert did_you_mean("pionts", ["points", "why"]) == "Did you mean `points`?"
    assert did_you_mean("Superheat", ["superheat"]) == "Did you mean `superheat`?"
    assert did_you_mean("qqq", ["points"]) == ""
    assert did_you_mean("undercharge", ["overcharge"]) == did_you_mean("superheat high", ["superheat swing"]) == ""
    assert did_you_mean("x" * 100_000, ["points"]) == ""


class Test(BaseModel):
    __test__ = False
    model_config = ConfigDict(extra="forbid")
    fires: dict[str, str | list[str]]


class Rule(BaseModel):
    model_config = ConfigDict(extra="forbid")
    id: str
    points: float = Field(ge=-4, le=4)
    why: str
    metering: Literal["fixed orifice", "TXV", "EEV"] | None = None
    charge: Annotated[object, BeforeValidator(lambda value: units.parse(value, "mass"))] = None
    tests: list[Test] = []


class Book(BaseModel):
    rules: list[Rule]


def problems_of(text: str) -> list[str]:
    document = parse(text, "f")
    with pytest.raises(ValidationError) as caught:
        Book.model_validate(document.data)
    found = model_problems(document, caught.value, Book)
    return [f"{problem.line}:{problem.column}: {problem.what} | {problem.fix}" for problem in found]


def test_model_problems() -> None:
    assert problems_of(
        "rules:\n"
        "  - id: 3\n"
        "    pionts: 3\n"
        "    points: 7\n"
        "    metering: tvx\n"
        "    charge: 1.5.5 kg\n"
        "    tests:\n"
        "      - fires: {superheat: 3}\n"
        "      - fire: {}\n"
        "      - 4\n"
    ) == [
        "2:5: `why` is missing | Add it to this entry.",
        '2:9: `id` must be a text, not the number 3 | Put it between quotes: "3".',
        "3:5: `pionts` is not a field here | Did you mean `points`?",
        "4:13: `points` must be at most 4, not 7 | Check the number.",
        "5:15: `tvx` is not known for `metering` | Did you mean `TXV`?",
        "6:13: `1.5.5` is not a number | Write digits with one decimal point at most, such as `1180` or `1.5`.",
        '8:28: `superheat` must be a text or a list, not the number 3 | Put it between quotes: "3".',
        "9:9: `fires` is missing | Add it to this entry.",
        "9:9: `fire` is not a field here | Did you mean `fires`?",
        "10:9: item 3 of the list must be a group of fields, not the number 4 | Write `name: value`, each on a line of its own, or `{name: value, name: value}`.",
    ]


def test_model_problems_of_python_data() -> None:
    with pytest.raises(ValidationError) as caught:
        Rule.model_validate({"id": "a", "points": [], "why": None, "metering": 4, "other": 1})
    data = from_data({"id": "a", "points": [], "why": None, "metering": 4, "other": 1})
    assert [str(problem) for problem in model_problems(data, caught.value, Rule)] == [
        "`points` must be a number, not a list\n      Write the number alone, for example `1.5`.",
        "`why` must be a text, not nothing\n      Write it after the colon.",
        "`metering` must be one of its words, not the number 4\n      Write one of: fixed orifice, TXV, EEV.",
        "`other` is not a field here\n      Known here: charge, id, metering, points, tests, why.",
    ]
