"""A machine over its visits: lines by least squares, told beyond 2.5 of their deviations, at like weather."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from judged import JUDGEMENT
from kept import looks, subcooled, told
from shared import examined
from strategies import State, visit

from diagnose import examine
from diagnose.diagnosis.story import FOLLOWED, Look, as_data, day, drifts, good_day, since_repair, story_from, tell
from diagnose.report import as_text
from diagnose.report.history import history_page

FIGURES = JUDGEMENT.drifts


def test_the_line_is_that_of_weighted_least_squares() -> None:
    offs, sigmas = [0.1, -0.4, -0.2, -1.6, -1.5, -2.4], [0.3, 0.5, 0.4, 0.3, 0.6, 0.4]
    seen = [subcooled(f"2026-{i + 3:02}-0{i + 1}", off, s) for i, (off, s) in enumerate(zip(offs, sigmas, strict=True))]
    [drift] = drifts(seen, FIGURES)
    days = np.array([day(look.date) for look in seen])
    whole = np.hypot(sigmas, 0.3)
    fit, covariance = np.polyfit(days - days.mean(), offs, 1, w=1 / whole, cov="unscaled")
    left = np.polyval(fit, days - days.mean()) - offs
    birge = max(1.0, float(((left / whole) ** 2).sum()) / 4)
    assert drift.slope == pytest.approx(fit[0], rel=1e-9)
    assert drift.sigma == pytest.approx(math.sqrt(birge * covariance[0][0]), rel=1e-9)
    assert (drift.name, drift.visits, drift.days, drift.sure) == ("subcooling", 6, days[-1] - days[0], True)


def test_scatter_makes_a_line_less_sure() -> None:
    [even] = drifts(looks([0.0, -0.5, -1.0, -1.5, -2.0]), FIGURES)
    [scattered] = drifts(looks([0.0, -2.5, 1.0, -3.5, -2.0]), FIGURES)
    assert (even.sure, scattered.sure) == (True, False)
    assert scattered.sigma > 2 * even.sigma
    [line] = drifts(looks([0.0, -1.0, -2.0, -3.0]), FIGURES)  # no scatter: its deviation is that of the instruments
    one = line.sigma / abs(line.slope)
    for deviations, sure in ((2.49, False), (-2.49, False), (2.51, True), (-2.51, True)):
        [drift] = drifts(looks([deviations * one * i for i in range(4)]), FIGURES)
        assert (drift.slope > 0, drift.sure) == (deviations > 0, sure)
    [still] = drifts(looks([0.3, -0.2, 0.1, -0.1]), FIGURES)
    assert not still.sure


def test_too_few_visits_or_days_make_no_line() -> None:
    assert drifts([], FIGURES) == []
    assert drifts(looks([0.0, -3.0]), FIGURES) == []
    assert drifts([subcooled(f"2026-05-{d:02}", -d) for d in (1, 7, 14)], FIGURES) == []
    assert len(drifts([subcooled(f"2026-05-{d:02}", -d) for d in (1, 7, 15)], FIGURES)) == 1


def test_only_visits_that_are_alike_are_compared() -> None:
    seen = looks([0.0, -0.6, -1.2, -1.8])
    within = subcooled("2026-04-15", 9.0, outdoor=302.0 + 15 / 1.8 - 0.1)
    assert drifts([seen[0], within, *seen[1:]], FIGURES) != drifts(seen, FIGURES)
    for other in (
        {"outdoor": 302.0 + 15 / 1.8 + 0.1}, {"outdoor": None}, {"mode": "heating"}, {"status": "not ready"}, {"figures": {}},
    ):  # fmt: skip
        odd = subcooled("2026-04-15", 9.0, **other)
        assert drifts([seen[0], odd, *seen[1:]], FIGURES) == drifts(seen, FIGURES)
    typical = Look(
        "x", "2026-04-15", told(figures={"subcooling": subcooled("2026-04-15", 9.0).story.figures["subcooling"]})
    )
    figure = typical.story.figures["subcooling"]
    moved = Look("x", "2026-04-15", told(figures={"subcooling": type(figure)(5.0, 0.4, 9.0, "typical", -4.0, 0.4)}))
    assert drifts([seen[0], moved, *seen[1:]], FIGURES) == drifts(seen, FIGURES)
    assert drifts([seen[0], subcooled("2026-04-15", 9.0), *seen[1:]], FIGURES) != drifts(seen, FIGURES)


def test_two_refrigerants_are_never_compared_and_one_that_is_not_remembered_is() -> None:
    gases = ("R-22", None, "R-410A", "R-410A", None, "R-410A")
    seen = [subcooled(f"2026-{i + 3:02}-01", -i, refrigerant=gas) for i, gas in enumerate(gases)]
    assert [drift.visits for drift in drifts(seen, FIGURES)] == [5]
    assert good_day([seen[0], subcooled("2026-09-01", 0.0, right=False, refrigerant="R-410A")]) is None
    text = as_text(history_page("pier kiosk", seen, FIGURES), 200)
    assert "R-22 before 2026-05-01, R-410A since: the two are not compared." in text


def test_a_repair_begins_a_new_line() -> None:
    leak = looks([0.0, -0.9, -1.8])
    found = subcooled("2026-06-01", -2.6, worked=True, right=False)
    after = subcooled("2026-06-01T16:00", 0.0, worked=True)
    later = [subcooled("2026-07-01", 0.1), subcooled("2026-08-01", -0.1)]
    assert since_repair([*leak, found]) == []
    assert since_repair([*leak, found, *later]) == later
    assert since_repair([*leak, found, after, *later]) == [after, *later]
    [drift] = drifts([*leak, found, after, *later], FIGURES)
    assert (drift.visits, drift.sure) == (3, False)


def test_the_good_day_is_the_last_on_which_all_was_right() -> None:
    seen = looks([0.0, 0.1, 0.0])
    assert good_day(seen) == seen[-1]
    wrong = [
        subcooled("2026-09-01", -3.0, right=False, verdict="low"),
        subcooled("2026-09-02", 0.0, verdict="do not judge"),
    ]
    assert good_day([*seen, *wrong]) == seen[-1]
    assert good_day(wrong) is None


def test_a_charge_that_is_right_only_by_all_readings_together_is_no_good_day() -> None:
    """Else each day of a slow leak would be the next day's baseline."""
    sure, near = (tell(examine(visit(State(metering="TXV", subcooling=s)))) for s in (10, 7.5))
    assert (sure.verdict, sure.together, near.verdict, near.together) == ("right", False, "right", True)
    seen = [Look("x", "2026-04-15", sure), Look("y", "2026-05-15", near)]
    assert good_day(seen) == seen[0]
    assert good_day(seen[1:]) is None


@pytest.mark.parametrize("name", ["low-charge-orifice", "baseline-own-subcooling-txv", "iced-coil", "heating-mode"])
def test_what_is_remembered_is_what_the_diagnosis_says(name: str) -> None:
    d = examined(f"demo/{name}")
    story = tell(d)
    assert story_from(json.loads(json.dumps(as_data(story)))) == story
    assert (story.status, story.verdict) == (d.status, d.charge.verdict)
    assert story.fault == (d.faults[0].fault if d.faults else None)
    assert set(story.figures) == {name for name in FOLLOWED if name in d.estimates}
    for quantity, figure in story.figures.items():
        assert figure.difference is not None or figure.wander * 1.8 == pytest.approx(2.0)  # no law moves it
        e = d.estimates[quantity]
        assert (figure.value, figure.expected) == (e.value, e.target.value if e.target else None)
        finding = d.findings.get(quantity)
        if figure.low is not None and figure.high is not None and finding is not None:
            inside = figure.low <= figure.value <= figure.high
            assert inside == (finding.word in ("normal", "slightly high") or 0.3 < finding.words.get("normal", 0) < 0.7)


def test_a_machine_that_was_to_be_stopped_is_no_good_day_and_is_told_first() -> None:
    seen = [
        Look("x", "2026-04-15", told(right=True, verdict="right")),
        Look("y", "2026-05-15", told(right=True, verdict="right", stop=True)),
    ]
    assert good_day(seen) == seen[0]
    page = as_text(history_page("gate house", seen, FIGURES))
    assert page.startswith("STOP: On the last visit, 2026-05-15, the machine was to be switched off")
    assert "STOP; " in page.split("2026-05-15")[-1]
    assert not as_text(history_page("gate house", seen[:1], FIGURES)).startswith("STOP")
