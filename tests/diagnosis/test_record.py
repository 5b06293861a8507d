"""The one record of a visit, and the values it is made of."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
from dataclasses import replace
from typing import Any

import pytest
from strategies import State, visit

from diagnose import diagnosis, examine
from diagnose.rulebook.matcher import Firing, Matched

MODULES = [
    importlib.import_module(f"diagnose.diagnosis.{each.name}") for each in pkgutil.iter_modules(diagnosis.__path__)
]
VALUES = {
    kind
    for module in MODULES
    for kind in vars(module).values()
    if (dataclasses.is_dataclass(kind) or hasattr(kind, "_fields")) and kind.__module__ == module.__name__
}


def test_a_record_that_was_told_is_the_same_as_one_that_was_not() -> None:
    told, untold = examine(visit(State())), examine(visit(State()))
    told.to_dict()
    assert (told.kept != untold.kept, told == untold) == (True, True)


def test_every_value_of_a_diagnosis_is_frozen_and_holds_nothing_but_its_fields() -> None:
    """So one record may be told in two unit systems, by two threads, and be compared with another."""
    assert len(VALUES) > 30
    for kind in VALUES:
        assert issubclass(kind, tuple) or kind.__dataclass_params__.frozen, kind  # type: ignore[arg-type, union-attr]
        assert "__slots__" in vars(kind), kind


@pytest.mark.parametrize(("sure", "held"), [(0.51, True), (0.5, False)])
def test_a_rule_holds_where_it_is_more_likely_true_than_not(sure: float, held: bool) -> None:
    d = examine(visit(State()))
    rule = next(rule for rule in d.applying.rules if rule.kind == "readiness" and rule.when)
    fired: Any = replace(d, matched=Matched((Firing(rule.id, sure, {}),), {}))
    assert (rule in fired.holding("readiness")) is held


def test_a_rule_without_conditions_always_holds() -> None:
    d = replace(examine(visit(State())), matched=Matched((), {}))
    assert [rule.id for rule in d.holding("caution") if rule.when or rule.either] == []
    assert "caution/electric" in [rule.id for rule in d.holding("caution")]


def test_what_is_looked_at_in_a_notebook_is_one_line() -> None:
    """A diagnosis holds a whole rule book: told field by field it would be a million characters."""
    d = examine(visit(State()))
    told = [repr(d), *map(repr, d.faults), *map(repr, d.findings.values())]
    assert told[0].startswith(f"Diagnosis({d.visit.machine.name}: {d.faults[0].fault} ")
    assert all("\n" not in text and len(text) < 150 for text in told)
    assert (
        repr(d.faults[0])
        == f"<Ranked {d.faults[0].fault}: {d.faults[0].score:.1f} points, {d.faults[0].share:.2f}, strong>"
    )
    assert repr(d.findings["superheat"]).startswith("<Finding superheat: ")
    stopped = examine(visit(State(condensing=150)))
    assert (stopped.stop, repr(stopped).split(": ")[1][:6]) == (True, "STOP, ")
    assert stopped._repr_html_().startswith("<p><strong>STOP: Switch the machine off")
    html = d._repr_html_()
    assert html.startswith("<")
    assert d.rules.faults[d.faults[0].fault].name.lower() in html.lower()
