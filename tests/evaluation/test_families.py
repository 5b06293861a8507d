"""Measuring by leaving families of machines out."""

from __future__ import annotations

import pytest

from diagnose.evaluation import classifier, evaluate, evaluation_page
from diagnose.report import as_text
from diagnose.simulator import draw


def test_unseen_machines_have_two_ceilings_and_the_page_says_which(monkeypatch: pytest.MonkeyPatch) -> None:
    """One learned from the seen families, as points may; the other from the unseen ones."""
    monkeypatch.setattr(classifier, "LEAST", 10)
    found = evaluate(4, 5, readings=["basic"], baseline=True, families="unseen", train=24, jobs=1)
    only = found.measured[0]
    assert only.classifier is not None
    assert only.classifier_with_baseline is not None
    assert only.at_home is not None
    assert only.at_home_with_baseline is not None
    assert only.at_home.first.of == only.classifier.first.of == only.rules.score.first.of == 5
    page = as_text(evaluation_page(found))
    assert max(map(len, page.splitlines())) <= 80
    assert page.startswith("5 simulated machines of unseen families, seed 4.")
    assert "It learned from 24 machines, all of seen families." in page
    assert "The best that is possible: the same, trained on unseen families" in page
    assert found.to_dict()["families"] == "unseen"


def test_other_families_are_other_machines_with_the_same_faults() -> None:
    plain = evaluate(4, 5, readings=["basic"], train=0, jobs=1)
    seen = evaluate(4, 5, readings=["basic"], train=0, jobs=1, families="seen")
    assert plain.families == "plain"
    assert plain.measured[0].at_home is None
    assert "trained on unseen" not in as_text(evaluation_page(seen))
    assert as_text(evaluation_page(seen)).startswith("5 simulated machines of seen families, seed 4.")
    for place in range(5):
        assert draw(4, place, families="seen").truth == draw(4, place).truth
        assert draw(4, place, families="seen").machine != draw(4, place).machine


def test_a_family_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="families must be one of plain, seen, unseen, all, not strange"):
        evaluate(1, 1, families="strange")  # type: ignore[arg-type]
