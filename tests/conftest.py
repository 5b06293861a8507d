"""Shared by the tests of the pipeline."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings
from strategies import State, visit

from diagnose import load_rules
from diagnose.rulebook import Rulebook

# Every day the same examples, so that a failure belongs to the change and not to the day; `thorough` looks for new ones.
settings.register_profile(
    "quick", deadline=None, max_examples=40, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("thorough", deadline=None, max_examples=2000, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))


@pytest.fixture(scope="session")
def book() -> Rulebook:
    """The shipped rule book."""
    return load_rules()


@pytest.fixture
def right() -> dict:
    """A fixed orifice machine on which everything is as it should be, on a day with a target superheat of 13.5 °F."""
    return visit(State())
