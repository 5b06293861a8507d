"""The simulator is tested as it is: no search is answered from a file."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import settled


@pytest.fixture(autouse=True, scope="module")
def all_searched() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settled, "used", False)
        yield
