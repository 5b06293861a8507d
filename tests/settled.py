"""Where simulated machines settle, kept between runs: the search for it is most of a draw, and most tests only read the visit.

A search made before is answered from `settled.txt`, but only where the three disagreements are closed there today as
well, or are just what they were where nothing closes them: a change of the simulator costs time and no truth.
`test_settled.py` searches for some of them anew, and the tests of the search itself for all. `python tests/settled.py`
runs the tests and writes the file anew; with tests named, it adds to it.
"""

from __future__ import annotations

import sys
from base64 import b85decode, b85encode
from hashlib import blake2b
from pathlib import Path
from struct import iter_unpack, pack

from diagnose.simulator import Practice, draw, heating_solver, newton, solver
from diagnose.simulator.newton import Equations, Guess

FILE = Path(__file__).with_suffix(".txt")
_SEARCH = newton.newton_from_several

known: dict[
    bytes, tuple[float, ...]
] = {}  # by the problem: its answer and, in heating, the Jacobian that others begin with; what was left open, if anything
used = True


def key(problem: Equations) -> bytes:
    return blake2b(repr(problem).encode(), digest_size=8).digest()


def search(problem: Equations) -> Guess | None:
    """`newton_from_several`, answered from the file where it can be."""
    if not used:
        return _SEARCH(problem)
    asked = key(problem)
    if asked in known:
        a, b, c, *slopes = known[asked]
        left = problem.at((a, b, c))
        if max(map(abs, left)) < problem.closed or slopes == list(left):
            if len(slopes) > 3:
                problem.jacobian = tuple(zip(*[iter(slopes)] * 3, strict=True))
            return a, b, c
    found, more = _SEARCH(problem), ()
    if isinstance(problem, solver.OperatingPoint):
        found = found or newton.bracketing(problem)
        left = problem.at(found)
        more = () if max(map(abs, left)) < problem.closed else left
    elif found is not None:
        more = sum(problem.jacobian or (), ())
    if found is not None:
        known[asked] = (*found, *more)
    return found


def read() -> None:
    for line in FILE.read_text(encoding="ascii").splitlines() if FILE.exists() else ():
        whole = b85decode(line)
        known[whole[:8]] = tuple(value for (value,) in iter_unpack("<d", whole[8:]))


def write() -> None:
    lines = [b85encode(name + pack(f"<{len(of)}d", *of)).decode() + "\n" for name, of in sorted(known.items())]
    FILE.write_text("".join(lines), encoding="ascii")


LOOKED_AT: list[dict[str, str]] = [{}, {"families": "unseen"}, {"mode": "heating"}]
"""How the machines are drawn that `test_settled.py` searches for anew."""


def drawn(how: dict[str, str]) -> list[Practice]:
    return [draw(8514, place, **how) for place in range(2)]  # type: ignore[arg-type]


solver.newton_from_several = heating_solver.newton_from_several = search
read()

if __name__ == "__main__":
    import pytest
    import settled  # as the tests know it

    if not sys.argv[1:]:
        settled.known.clear()
    for how in settled.LOOKED_AT:
        settled.drawn(how)
    code = pytest.main(["-n", "0", *sys.argv[1:]])
    settled.write()
    sys.exit(code)
