"""More true readings never make the answer worse on the average: each optional reading is added to the usual eight.

Machines of the seen families with noisy instruments. Worse is a smaller share of the true fault, in nats; restriction and
underfeeding count as one. 500 machines in the thorough profile. Every day a few, where chance alone may cost a little.
"""

from __future__ import annotations

import math
from collections import defaultdict
from functools import cache

import pytest
from work import THOROUGH

from diagnose import examine
from diagnose.evaluation.drawing import with_only
from diagnose.evaluation.model import READINGS, merged
from diagnose.simulator import draw
from diagnose.simulator.readings import VisitMapping
from diagnose.visit import visit_from

MACHINES, CHANCE = (500, 0.005) if THOROUGH else (16, 0.1)
NAMES = ("discharge line temperature", "compressor current", "airflow", "standing pressure", "supply air wet bulb",
         "condenser leaving air temperature", "metering inlet pressure", "metering inlet temperature",
         "drier inlet temperature", "coil outlet temperature")  # fmt: skip
TOGETHER = {
    "standing pressure": ("standing air temperature",),
    "drier inlet temperature": ("drier outlet temperature",),
}


def share_of_the_truth(visit: VisitMapping, truth: str) -> float:
    ranked = examine(visit_from(visit)).ranked
    return math.log(max(sum(place.share for place in ranked if merged(place.fault) == merged(truth)), 1e-4))


@cache
def gained() -> dict[str, float]:
    """Reading -> nats by which it raised the share of the true fault, in the mean."""
    found: dict[str, list[float]] = defaultdict(list)
    for place in range(MACHINES):
        practice = draw(8300, place, families="seen")
        usual = share_of_the_truth(with_only(practice.visit, READINGS["basic"]), practice.truth)
        readings = practice.visit["readings"]
        assert isinstance(readings, dict)
        for name in readings.keys() & NAMES:
            more = (*READINGS["basic"], name, *TOGETHER.get(name, ()))
            found[name].append(share_of_the_truth(with_only(practice.visit, more), practice.truth) - usual)
    return {name: sum(each) / len(each) for name, each in found.items()}


@pytest.mark.parametrize("name", NAMES)
def test_a_true_reading_makes_no_answer_worse(name: str) -> None:
    assert gained()[name] >= -CHANCE


def test_the_readings_that_tell_most_do() -> None:
    assert gained()["discharge line temperature"] > 0
    assert gained()["standing pressure"] > 0
