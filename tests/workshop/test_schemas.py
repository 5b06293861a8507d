"""The JSON Schemas are those of the models, every shipped file holds to its own, and wrong files do not.

The files are checked with check-jsonschema, as an editor or a company's CI would; nothing may be fetched meanwhile.
"""

from __future__ import annotations

import json
import re
import socket
from collections import defaultdict
from collections.abc import Iterator
from contextlib import nullcontext
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
import shared
import yaml
from check_jsonschema import main as check_jsonschema
from check_jsonschema.schema_loader import main as schema_loader
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from small_book import SMALL
from test_rule_errors import CASE, CHANGES, OWN, RULES
from work import THOROUGH

import diagnose
from diagnose import units
from diagnose.rulebook.models import ReadinessFile
from diagnose.shipped import shipped
from diagnose.units.spelling import BY_SPELLING
from diagnose.visit import VisitError, visit_from
from diagnose.visit.fields import MACHINE, READINGS
from diagnose.workshop import schemas
from diagnose.workshop.schemas import build, main, schema_folder
from diagnose.workshop.trials import case_paths

ROOT = Path(__file__).parents[2]
FAULTS = sorted((shipped("rules") / "faults").glob("*.yaml"))
BOOK = sorted(shipped("rules").glob("*.yaml"))
CASES = case_paths()
built = cache(schemas.schemas)
NAMED = re.compile(r"# yaml-language-server: \$schema=(\S+)\n")


@pytest.fixture(scope="module", autouse=True)
def each_schema_once() -> Iterator[None]:
    """Whether it is a schema is looked at in a test of its own, not again for every file that is held to it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(schema_loader, "_check_schema", lambda *_, **__: None)
        yield


@pytest.fixture(autouse=True)
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a schema check went to the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)


def schema_of(path: Path) -> Path:
    """The schema that the file's first line names."""
    first = NAMED.match(path.read_text(encoding="utf-8"))
    assert first, path
    return (path.parent / first[1]).resolve()


def checked(schema: str, *files: Path) -> tuple[bool, str]:
    done = CliRunner().invoke(check_jsonschema, ["--schemafile", str(schema_folder() / schema), *map(str, files)])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code == 0, done.output


# -- the schemas themselves ---------------------------------------------------------------------------------------------------


def test_what_is_checked_in_is_what_the_models_give() -> None:
    there = {path.name: path.read_text(encoding="utf-8") for path in schema_folder().iterdir()}
    assert there == schemas.texts(), "run: python -m diagnose.workshop.schemas build"


def test_build(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(schemas, "schema_folder", lambda: tmp_path / "schema")
    monkeypatch.setattr(schemas, "schemas", built)
    main(["build"])
    assert "findings.json" in capsys.readouterr().out
    changed = tmp_path / "schema" / "checks.json"
    changed.write_text(changed.read_text(encoding="utf-8").replace('"gives"', '"brings"'), encoding="utf-8")
    assert build(tmp_path / "schema") == ["checks.json"]
    main(["build"])
    assert "nothing to change" in capsys.readouterr().out


@pytest.mark.parametrize("name", schemas.TITLES)
def test_a_schema_is_one_and_every_field_is_described(name: str) -> None:
    schema = built()[name]
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == schemas.DIALECT
    parts = {name: schema, **schema.get("$defs", {})}
    for part, one in parts.items():
        for field, said in one.get("properties", {}).items():
            assert said.get("description"), f"{part}.{field}: say what it is where its model names it"
        if "properties" in one:
            assert one["additionalProperties"] is False, part
    assert "http" not in json.dumps(schema).replace(schemas.DIALECT, "")
    assert all(ref.startswith("#/$defs/") for ref in re.findall(r'"\$ref": "([^"]*)"', json.dumps(schema)))


# -- every shipped file -------------------------------------------------------------------------------------------------------


def test_the_first_line_names_a_schema_that_is_there() -> None:
    for path in (*BOOK, *FAULTS, *CASES):
        name = "fault" if path in FAULTS else "case" if path in CASES else path.stem
        assert schema_of(path) == (schema_folder() / f"{name}.json").resolve(), path
        assert schema_of(path).is_file(), path


@pytest.mark.parametrize("path", BOOK, ids=lambda path: path.name)
def test_the_book(path: Path) -> None:
    fine, said = checked(f"{path.stem}.json", path)
    assert fine, said


def test_the_faults() -> None:
    """A third of them; all hold to the models that the schema is made of, or no book could be loaded."""
    fine, said = checked("fault.json", *FAULTS[:: 1 if THOROUGH else 3])
    assert fine, said


# An editor proposes one name of each line; these are written in the other words of `visit/trade_words.py`.
TYPED = [path for path in CASES if path.stem.startswith("typed-")]
OFFERED = [path for path in CASES if path not in TYPED]


def test_the_cases() -> None:
    """A fourth of them as an editor would; what stands under `visit` is looked at in all below."""
    fine, said = checked("case.json", *OFFERED[:: 1 if THOROUGH else 4])
    assert fine, said


def test_a_schema_knows_no_second_word_for_a_line() -> None:
    assert TYPED
    fine, said = checked("case.json", TYPED[0])
    assert not fine
    assert "low pressure" in said or "low side" in said


def test_the_visits_of_the_cases() -> None:
    """What stands under `visit` of a case may be a file of its own."""
    for path in OFFERED:
        visit = shared.case(f"{path.parent.name}/{path.stem}").document.data["visit"]
        assert [error.message for error in VISIT.iter_errors(visit)] == [], path


@pytest.mark.parametrize("name", SMALL)
def test_the_small_book_of_the_tests(tmp_path: Path, name: str) -> None:
    file = tmp_path / Path(name).name
    file.write_text(SMALL[name], encoding="utf-8")
    fine, said = checked("fault.json" if "/" in name else f"{file.stem}.json", file)
    assert fine, said


@pytest.mark.parametrize("name", OWN)
def test_a_companys_own_rules(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text(OWN[name], encoding="utf-8")  # with a date that is not between quotes
    fine, said = checked(f"{Path(name).stem}.json", tmp_path / name)
    assert fine, said


# -- wrong files --------------------------------------------------------------------------------------------------------------

O_, L_ = "faults/overcharge.yaml", "faults/low-charge.yaml"
TEXTS = {**SMALL, RULES: OWN[RULES], CHANGES: OWN[CHANGES], "case.yaml": CASE}
WRONG: list[tuple[str, str, str]] = [
    (O_, "points: 2", "pionts: 2"),
    (O_, "points: 2", "points: 5"),
    (O_, "points: 2", "points: 0"),
    (O_, "points: 2", "points: two"),
    (O_, "points: 2", "points: true"),
    (O_, "usual: 0", "usual: 9"),
    (O_, "id: overcharge/flooded", "id: Overcharge Flooded"),
    (O_, "title: It is flooded", "title: '  '"),
    (O_, "    when: {superheat: low}\n", ""),
    (O_, "when: {superheat: low}", "when: {superheat: 12}"),
    (O_, "when: {superheat: low}", "when: {superheat: []}"),
    (O_, "when: {superheat: low}", "when: {any: {superheat: low}}"),
    (O_, "      - quiet: {superheat: high}\n", ""),
    (O_, "- fires: {superheat: low}", "- fires: {superheat: []}"),
    (O_, "- fires: {superheat: low}", "- because: it is so"),
    (O_, "source: book\n    tests", "source: []\n    tests"),
    (O_, "points: 2", "applies: {metering: piston}\n    points: 2"),
    (O_, "points: 2", "applies: {colour: red}\n    points: 2"),
    (L_, "charge: low", "charge: lowish"),
    ("findings.yaml", "words: [low, normal, high]", "words: [low]"),
    ("findings.yaml", "words: [low, normal, high]", "words: [low, low]"),
    ("findings.yaml", "quantity: superheat", "quantity: superheet"),
    ("findings.yaml", "    quantity: superheat\n", ""),
    ("findings.yaml", "seen: true", "seen: true, quantity: superheat"),
    ("findings.yaml", "by: value", "by: valu"),
    ("findings.yaml", "finding: air filter", "finding: any"),
    ("states.yaml", "concludes: {feed: starved}", "concludes: {feed: starved, other: big}"),
    ("states.yaml", "concludes: {feed: starved}", "concludes: starved"),
    ("readiness.yaml", "sure: 0.75", "sure: 75"),
    ("readiness.yaml", "rules: []", "rules: [{id: a/b, title: T, holds: all, why: W, source: book}]"),
    ("cautions.yaml", "rank: 30", "rank: 1.5"),
    ("checks.yaml", "minutes: 5", "minutes: 5 min"),
    ("checks.yaml", "minutes: 5, ", ""),
    ("sources.yaml", "confidence: read", "confidence: sure"),
    ("sources.yaml", "book:", "The Book:"),
    (RULES, "    fault: low-charge\n", ""),
    (CHANGES, "    because: We see it more.\n", ""),
    (CHANGES, "date: 2026-03-01", "date: 1 March"),
    (CHANGES, "    was: 2\n", ""),
    (CHANGES, "points: low-charge/starved", "points: low-charge/starved\n    usual: low-charge"),
    (CHANGES, "points: low-charge/starved", "off: low-charge/starved"),
    (CHANGES, "points: low-charge/starved", "limits: superheat"),
    ("case.yaml", "truth: low-charge\n", ""),
    ("case.yaml", "status: diagnosed", "frist: low-charge"),
    ("case.yaml", "suction pressure: 130 psig", "suction presure: 130 psig"),
    ("case.yaml", "130 psig", "130"),
    ("case.yaml", "fixed orifice", "orfice"),
]


@pytest.fixture(scope="module")
def refused(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """The places in WRONG of the files that hold to no schema; those of one schema are checked together."""
    folder, files = tmp_path_factory.mktemp("wrong"), defaultdict[str, list[str]](list)
    for place, (name, old, new) in enumerate(WRONG):
        file = folder / f"{place}.yaml"
        file.write_text(TEXTS[name].replace(old, new, 1), encoding="utf-8")
        files["fault.json" if "/" in name else f"{Path(name).stem}.json"].append(str(file))
    found = set()
    for schema, some in files.items():
        words = ["--schemafile", str(schema_folder() / schema), "--output-format", "json", *some]
        said = json.loads(CliRunner().invoke(check_jsonschema, words).output)
        assert said["parse_errors"] == []
        found |= {Path(error["filename"]).stem for error in said["errors"]}
    return found


@pytest.mark.parametrize("place", range(len(WRONG)), ids=lambda place: WRONG[place][1].strip()[:40])
def test_a_wrong_file_does_not_pass(refused: set[str], place: int) -> None:
    name, old, _ = WRONG[place]
    assert old in TEXTS[name]
    assert str(place) in refused


# -- the visit schema and the reader of visits --------------------------------------------------------------------------------

VISIT = Draft202012Validator(schemas.visit_schema())
WRONG_VISITS: list[dict[str, Any]] = [
    {"machin": {}},
    {"machine": []},
    {"machine": {"metering": "orfice"}},
    {"machine": {"mode": 3}},
    {"machine": {"altitude": 250}},
    {"machine": {"colour": "red"}},
    {"machine": {"line set": {"length": "35 ft"}}},
    {"readings": {"suction presure": "130 psig"}},
    {"readings": {"suction pressure": 130}},
    {"readings": {"suction pressure": "130"}},
    {"readings": {"suction pressure": ["130 psig"]}},
    {"readings": {"minutes running": "soon"}},
    {"readings": [{"suction pressure": "130 psig"}]},
    {"instruments": {"gages": "1 %"}},
    {"seen": {"air filter": 3}},
    {"baseline": 3},
    {"baseline": {"readings": {"suction pressure": "130"}}},
    {"baseline": {"reading": {}}},
]
RIGHT_VISITS: list[dict[str, Any]] = [
    {"machine": None, "readings": None},
    {"machine": {"metering": "piston", "mode": "AC", "name": 7, "refrigerant": "r410a"}},
    {"machine": {"metering": "Txv", "line set": {"liquid line": '3/8"', "length": "35 ft", "included": "15 ft"}}},
    {"readings": {"suction pressure": None, "minutes running": 15}},
    {"readings": [{"minutes running": "10 min"}, {"minutes running": "1 h 15 min", "airflow": "1,180 cfm"}]},
    {"instruments": {"gauges": "2 psi", "pipe clamps": "1 F", "humidity meter": "3 %"}},
    {"seen": {"air filter": "clean", "blower": None}, "baseline": {"readings": {}}},
    {"baseline": {"machine": {"altitude": "250 ft"}, "readings": {"suction pressure": "130 psig"}, "seen": None}},
]


@pytest.mark.parametrize("visit", WRONG_VISITS, ids=str)
def test_what_the_reader_refuses_the_schema_refuses(visit: dict[str, Any]) -> None:
    assert not VISIT.is_valid(visit)
    if "readings" not in visit or not isinstance(visit["readings"], list):  # one round may leave its minutes out
        with pytest.raises(VisitError):
            visit_from(visit)


@pytest.mark.parametrize("visit", RIGHT_VISITS, ids=str)
def test_what_the_reader_takes_the_schema_takes(visit: dict[str, Any]) -> None:
    visit_from(visit)
    assert [error.message for error in VISIT.iter_errors(visit)] == []


@cache
def shipped_readiness() -> dict[str, Any]:
    return yaml.safe_load((shipped("rules") / "readiness.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("sure", "taken"), [(0.5, False), (0.5005, True), (0.9995, True), (1, False)])
def test_how_sure_a_verdict_must_be_is_one_rule_for_reader_and_schema(sure: float, taken: bool) -> None:
    written = shipped_readiness()
    readiness = written | {"charge": written["charge"] | {"sure": sure}}
    schema = json.loads((schema_folder() / "readiness.json").read_text(encoding="utf-8"))
    assert Draft202012Validator(schema).is_valid(readiness) is taken
    with nullcontext() if taken else pytest.raises(ValueError, match="cannot be right"):
        ReadinessFile.model_validate(readiness)


def test_every_reading_and_machine_fact_is_in_the_schema_with_an_example_that_can_be_read() -> None:
    defs = schemas.visit_schema()["$defs"]
    assert set(defs["Readings"]["properties"]) == {"minutes running", "minutes since defrost", *READINGS}
    assert set(MACHINE) <= set(defs["Machine"]["properties"])
    for names, part in ((READINGS, "Readings"), (MACHINE, "Machine")):
        for name in names:
            kind = (READINGS if part == "Readings" else MACHINE)[name].kind
            for example in defs[part]["properties"][name]["examples"]:
                units.parse(example, kind)


KIND = st.sampled_from(list(get_args(units.Kind)))
NUMBER = st.one_of(
    st.integers(1, 9999).map(str),
    st.floats(0.01, 999).map(lambda x: f"{x:.2f}"),
    st.sampled_from(["1,180", "3/8", "1-1/8", "1 1/2", "½", "2½", ".5", "5.", "+3", "\u221212", "6 lb 4", "12 ft 6"]),
)


@given(kind=KIND, number=NUMBER, space=st.sampled_from(["", " ", "  ", "\u00a0", "\u2009"]), data=st.data())
def test_a_value_that_can_be_read_passes_the_schema(
    kind: units.Kind, number: str, space: str, data: st.DataObject
) -> None:
    spelling = data.draw(st.sampled_from(sorted(BY_SPELLING[kind])))
    for unit in (spelling, spelling.upper(), f"°{spelling}", f"({spelling})", f"{spelling}."):
        text = f"{number}{space}{unit}"
        try:
            units.parse(text, kind)
        except units.UnitError:
            continue
        assert Draft202012Validator(schemas._value(kind)).is_valid(text), text


def test_no_two_choices_hold_the_same_words_in_another_order() -> None:
    """typing takes them for one and keeps the order that was imported first, which the `enum` of a schema would follow."""
    said: dict[frozenset[str], set[str]] = defaultdict(set)
    for file in Path(diagnose.__file__).parent.rglob("*.py"):
        for words in re.findall(r"Literal\[([^\]]*)\]", file.read_text(encoding="utf-8")):
            in_order = re.findall(r'"[^"]*"', words)
            said[frozenset(in_order)].add(" ".join(in_order))
    assert len(said) > 20
    assert [orders for orders in said.values() if len(orders) > 1] == []
