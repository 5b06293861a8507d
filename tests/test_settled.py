"""What is kept of simulated machines is what the simulator finds today."""

from __future__ import annotations

import pytest
import settled

from diagnose.simulator import draw


@pytest.mark.parametrize("how", [{}, {"families": "unseen"}, {"mode": "heating"}], ids=str)
def test_kept_and_searched_for_anew_it_is_the_same_machine(how: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    kept = [draw(8514, place, **how) for place in range(2)]
    assert max(one.state.evaluations for one in kept) <= 2, "nothing of it is kept: run python tests/settled.py"
    monkeypatch.setattr(settled, "used", False)
    for place, one in enumerate(kept):
        anew = draw(8514, place, **how)
        assert one.visit == anew.visit
        assert one.machine.right_charge == pytest.approx(anew.machine.right_charge, rel=1e-6)
        assert one.state.capacity == pytest.approx(anew.state.capacity, rel=1e-5)
        assert anew.state.evaluations > 2
