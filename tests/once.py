"""A visit that an earlier test examined by the shipped book is not examined again by a later one, while it is among the latest.

A test that examines it twice gets a second run, so two runs can be compared; so does one that has patched anything below
the room of tables, which examines nothing itself.
"""

from __future__ import annotations

import pickle
from collections import OrderedDict
from collections.abc import Mapping
from pathlib import Path
from weakref import WeakSet

import pytest

from diagnose.diagnosis import pipeline
from diagnose.diagnosis.record import Diagnosis
from diagnose.rulebook import Rulebook, usable_rules
from diagnose.visit import Visit

LATEST = 1000
_EXAMINE = pipeline.examine
_INIT = pytest.MonkeyPatch.__init__
_FOUND: OrderedDict[bytes, tuple[str, Diagnosis]] = OrderedDict()  # with the test that asked last

book: Rulebook | None = None
test = ""
patches: WeakSet[pytest.MonkeyPatch] = WeakSet()


def examine(visit: Visit | Mapping[str, object] | Path | str, rules: Rulebook | None = None) -> Diagnosis:
    """As the program does it."""
    rules = rules if rules is not None else usable_rules()
    if rules is not book or any(map(_touches, patches)):
        return _EXAMINE(visit, rules)
    visit = pipeline.as_visit(visit, rules)
    asked = pickle.dumps(visit)
    before, found = _FOUND.pop(asked, (test, None))
    if found is None or before == test:
        found = _EXAMINE(visit, rules)
    _FOUND[asked] = test, found
    if len(_FOUND) > LATEST:
        _FOUND.popitem(last=False)
    return found


def _touches(patch: pytest.MonkeyPatch) -> bool:
    return bool(patch._setitem) or any(
        not getattr(one, "__name__", "").startswith("diagnose.batch") for one, *_ in patch._setattr
    )


def _known(patch: pytest.MonkeyPatch) -> None:
    _INIT(patch)
    patches.add(patch)


pytest.MonkeyPatch.__init__ = _known  # type: ignore[method-assign]
pipeline.examine = examine
