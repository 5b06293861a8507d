"""How often somebody may ask: a bucket that fills at a steady rate and holds so much."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

MOST = 20_000  # buckets that are remembered


@dataclass(frozen=True, slots=True)
class RateLimit:
    """holds: requests at once; a_second: how many more each second."""

    holds: float
    a_second: float


ADDRESS = RateLimit(1500, 150)  # a whole workshop behind one address
PERSON = RateLimit(300, 30)
STRANGER = RateLimit(60, 2)
SIGN_IN = RateLimit(10, 0.1)


class Limiter:
    """The buckets of one rate, by who asks."""

    def __init__(self, rate: RateLimit, now: Callable[[], float]) -> None:
        self._rate, self._now = rate, now
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait(self, who: str) -> float:
        """Takes one request; 0.0, or the seconds after which one would be answered."""
        with self._lock:
            at = self._now()
            left, before = self._left.pop(who, (self._rate.holds, at))
            left = min(self._rate.holds, left + max(0.0, at - before) * self._rate.a_second)
            self._left[who] = (left - 1 if left >= 1 else left, at)
            if len(self._left) > MOST:
                self._left.popitem(last=False)
            return 0.0 if left >= 1 else (1 - left) / self._rate.a_second
