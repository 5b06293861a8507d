"""What is measured is the program: nothing is answered from a file, or from an earlier test."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import settled


@pytest.fixture(autouse=True, scope="module")
def nothing_kept() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settled, "used", False)
        yield
