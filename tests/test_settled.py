"""What is kept of simulated machines is what the simulator finds today."""

from __future__ import annotations

import pytest
import settled


@pytest.mark.parametrize("how", settled.LOOKED_AT, ids=str)
def test_kept_and_searched_for_anew_it_is_the_same_machine(
    how: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = settled.drawn(how)
    assert max(one.state.evaluations for one in kept) <= 2, "nothing of it is kept: run python tests/settled.py"
    monkeypatch.setattr(settled, "used", False)
    for one, anew in zip(kept, settled.drawn(how), strict=True):
        assert one.visit == anew.visit
        assert one.machine.right_charge == pytest.approx(anew.machine.right_charge, rel=1e-6)
        assert one.state.capacity == pytest.approx(anew.state.capacity, rel=1e-5)
        assert anew.state.evaluations > 2
