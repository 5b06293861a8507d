"""`diagnose lookup weigh-in` as it is typed: every option arrives where it belongs."""

from __future__ import annotations

import json
from functools import partial

import commands
import pytest

OUNCE = 0.45359237 / 16
ALL = (
    "--factory", "6 lb 4 oz", "--included", "15 ft", "--suction-line", "3/4", "--coil", "8 oz", "--drier", "3 oz",
    "--lift", "-10 ft",
)  # fmt: skip

run = partial(commands.run, "lookup", "weigh-in")


def kilograms(*words: str) -> float:
    out = run(*words, "--as", "json").fine()
    return float(json.loads(out)["kg"])


def test_all_at_once() -> None:
    out = run("R-410A", "3/8", "35 ft", *ALL).fine()
    assert out.startswith("Weigh in 7 lb 11 oz ± ")
    assert "indoor coil 8.0 oz, filter drier 3.0 oz" in " ".join(out.split())
    assert len(out.splitlines()) <= 24


def test_the_shell_may_part_a_figure_from_its_unit() -> None:
    apart = [part for word in ("R-410A", "3/8 in", "35 ft", *ALL) for part in word.split()]
    assert run(*apart)[:2] == run("R-410A", "3/8 in", "35 ft", *ALL)[:2]
    for words in (("saturation", "R-22", "-5 F"), ("target-superheat", "80 F", "63 F"), ("moist-air", "75 F", "50 %")):
        code, out, _ = commands.run("lookup", *(part for word in words for part in word.split()))
        assert (code, out) == commands.run("lookup", *words)[:2]
        assert code == 0


@pytest.mark.parametrize(
    ("more", "ounces"),
    [
        (("--allowance", "0.60 oz/ft"), 12.0 - 12.3), (("--metering-place", "outdoors"), -6.2),
        (("--included-line", "1/4"), 4.9),
        (("--suction-length", "45 ft"), 0.9), (("--liquid-at", "80 F"), 0.6), (("--suction-at", "150 psig"), 0.3),
        (("--superheat", "30 F"), -0.2), (("--coil", "10 oz"), 2.0),
    ],
)  # fmt: skip
def test_each_option_moves_the_whole(more: tuple[str, str], ounces: float) -> None:
    given = ALL if more[0] != "--coil" else tuple(word for word in ALL if word not in ("--coil", "8 oz"))
    moved = kilograms("R-410A", "3/8", "35 ft", *given, *more) - kilograms("R-410A", "3/8", "35 ft", *ALL)
    assert moved / OUNCE == pytest.approx(ounces, abs=0.15)


def test_what_cannot_be_is_told_with_how_to_mend_it() -> None:
    code, _, said = run("R-410A", "3/8", "0 ft")
    assert (code, said.splitlines()[0]) == (2, "`length`: `0 ft` is not possible here")
    said = run("R-410A", "10 mm", "35 ft").refused()
    assert "--allowance" in said
