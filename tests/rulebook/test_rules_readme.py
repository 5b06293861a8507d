"""What rules/README.md and cases/README.md quote of the shipped files, and the sum they work out, is what the files say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from diagnose.diagnosis.ranking import Ranked, rank
from diagnose.rulebook import load_rules
from diagnose.rulebook.matcher import matcher_for
from diagnose.workshop.trials import Expected

ROOT = Path(__file__).parents[2]
RULES = (ROOT / "rules" / "README.md").read_text(encoding="utf-8")
CASES = (ROOT / "cases" / "README.md").read_text(encoding="utf-8")
QUOTES = re.findall(r"From `([\w/.-]+)`:\n```yaml\n(.*?)```", RULES, re.S)


def ranked(fault: str, **found: float) -> Ranked:
    """The fault on a valve machine, on a warm day, of which only these words are known, each with how sure it is."""
    rules = load_rules()
    applying = rules.applying({"mode": "cooling", "metering": "TXV"})
    words = {name.replace("_", " "): {"high": sure} for name, sure in found.items()}
    words["head pressure control"] = {"not needed": 1.0}
    firings = matcher_for(applying.patterns).run(words).firings
    return next(place for place in rank(rules, firings) if place.fault == fault)


@pytest.mark.parametrize(("file", "quoted"), QUOTES, ids=[file for file, _ in QUOTES])
def test_what_is_quoted_stands_in_the_file(file: str, quoted: str) -> None:
    first, rest = quoted.split("\n", 1)
    text = (ROOT / "rules" / file).read_text(encoding="utf-8")
    assert rest in text
    assert first in text


def test_a_rule_and_a_list_of_what_a_fault_brings_are_quoted() -> None:
    assert [file for file, _ in QUOTES] == ["faults/non-condensables.yaml", "faults/low-outdoor-airflow.yaml"]


def test_the_lesson_shown_is_the_beginning_of_the_real_one() -> None:
    block = re.search(r"```yaml\n(lesson:\n.*?)```", RULES, re.S)
    shown = yaml.safe_load(block[1])["lesson"]
    real = yaml.safe_load((ROOT / "rules/faults/low-charge.yaml").read_text(encoding="utf-8"))["lesson"]
    assert shown["source"] == real["source"]

    def begins(part: object, whole: object) -> bool:
        if isinstance(part, str) and isinstance(whole, str):
            return whole.startswith(part.removesuffix("…").rstrip())
        if isinstance(part, dict) and isinstance(whole, dict):
            return all(key in whole and begins(value, whole[key]) for key, value in part.items())
        return part == whole

    for name in ("story", "readings", "confirm", "questions"):
        assert shown[name]
        for part in shown[name]:
            assert any(begins(part, whole) for whole in real[name]), part


def test_the_scale_of_a_good_day_shown_is_the_real_one() -> None:
    block = re.search(r"For `([a-z ]+)`:\n```yaml\n(.*?)```", RULES, re.S)
    (shown,) = yaml.safe_load(block[2])
    real = yaml.safe_load((ROOT / "rules/findings.yaml").read_text(encoding="utf-8"))["findings"]
    (scale,) = [s for f in real if f["finding"] == block[1] for s in f["scales"] if s.get("target") == "baseline"]
    why = shown.pop("why").removesuffix("…").rstrip()
    assert scale.pop("why").startswith(why)
    assert shown == scale


def test_the_sum_of_two_rules_is_what_the_program_works_out() -> None:
    special, plain = "non-condensables/hot-and-full", "non-condensables/hot"
    sure = {e.rule.id: e for e in ranked("non-condensables", condensing_over_ambient=1.0, subcooling=1.0).evidence}
    assert sum(sure[rule].weight for rule in (special, plain)) == 2.5
    assert sure[special].rule.points + sure[plain].rule.points == 4.5
    part = {e.rule.id: e for e in ranked("non-condensables", condensing_over_ambient=0.95, subcooling=0.6).evidence}
    weights = [part[rule].weight for rule in (special, plain)]
    assert [f"{weight:.3f}" for weight in (*weights, sum(weights))] == ["1.500", "0.700", "2.200"]
    text = " ".join(RULES.split())
    assert "the two rules together give 2.5 points, not 4.5." in text
    assert (
        "with 0.95 and subcooling is high with 0.60, then `hot-and-full` is 0.60 sure and gives 2.5 × 0.60 = 1.5."
        in text
    )
    assert "2 × (0.95 − 0.60) = 0.7. Together they give 2.2." in text


def test_the_case_shown_is_one_of_the_shipped_cases_with_all_that_can_be_expected() -> None:
    block = re.search(r"```yaml\n(case: .*?)```", CASES, re.S)
    shown = yaml.safe_load(block[1].replace(", …}", "}"))
    real = yaml.safe_load((ROOT / "cases" / f"{shown['case']}.yaml").read_text(encoding="utf-8"))
    assert real["story"].startswith(shown["story"].rstrip(" …\n"))
    assert (shown["truth"], shown["truth_from"]) == (real["truth"], real["truth_from"])
    for name in ("machine", "readings"):
        assert shown["visit"][name].items() <= real["visit"][name].items()
    assert set(shown["expect"]) == set(Expected.model_fields)
