"""A visit whose lines stand without their headings is the visit with them."""

from __future__ import annotations

import pytest
from shared import PATHS, case

from diagnose import examine, yamlfile
from diagnose.visit import VisitError, visit_from, visit_in

VISITS = {name: case(name).entry.visit for name in sorted(PATHS)[::6]}


def flat(visit):
    parts = ("machine", "readings", "seen", "instruments")
    lines = {word: item for part in parts for word, item in (visit.get(part) or {}).items()}
    return {part: item for part, item in visit.items() if part not in parts} | lines


@pytest.mark.parametrize(
    "name",
    [
        n
        for n, v in VISITS.items()
        if isinstance(v.get("readings"), dict)
        and not {"baseline", "refrigerant"} & v.keys()
        and "capacitor" not in v["readings"]  # may stand under two headings, so it needs its own
    ],
)
def test_each_line_finds_its_part(name):
    assert visit_from(flat(VISITS[name])) == visit_from(VISITS[name])


def test_a_machine_that_is_only_named_has_its_name():
    found = visit_from({"machine": "net loft", "refrigerant": "R-410A", "low side": "118 psig"})
    assert found == visit_from(
        {"machine": {"name": "net loft", "refrigerant": "R-410A"}, "readings": {"low side": "118 psig"}}
    )


def test_a_line_is_told_of_where_it_is_written():
    text = "refrigerant: R-410A\nreadings:\nsuction pressure: 118 psgi\nsubcool: 10 F\npower: off\n"
    with pytest.raises(VisitError) as caught:
        visit_in(yamlfile.parse(text, "pasted"))
    assert [(p.line, p.column, p.fix) for p in caught.value.problems] == [
        (3, 19, "Did you mean `118 psig`?"),
        (4, 1, "It belongs under `machine:`, as `rated subcooling`, or under `readings:`, as `gauge subcooling`."),
    ]


def test_what_was_looked_at_is_known_to_the_rule_book():
    with pytest.raises(VisitError) as caught:
        examine({"refrigerant": "R-410A", "outdoor coil": "dirty", "power": "absent", "filtre": "dirty"})
    assert [problem.what for problem in caught.value.problems] == [
        "seen: `filtre` is not something this rule book asks for"
    ]


@pytest.mark.parametrize(
    "top",
    [
        {"suction pressure": "118 psig", "readings": [{"minutes running": 15}]},
        {"suction pressure": "118 psig", "readings": {"suction pressure": "117 psig"}},
        {"refrigerant": "12 oz"},
        {"complain": "no cooling"},
    ],
)
def test_no_place_is_guessed(top):
    with pytest.raises(VisitError):
        visit_from(top)
