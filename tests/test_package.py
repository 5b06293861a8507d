"""The package as its users get it: names, types, the wheel, and Python without durable-rules."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import zipfile
from contextlib import redirect_stdout
from pathlib import Path

import pytest

import diagnose
from diagnose.shipped import shipped

ROOT = Path(__file__).parent.parent
LOW = shipped("cases") / "demo" / "low-charge-orifice.yaml"

SCRIPT = """
from pathlib import Path
from diagnose import Diagnosis, Rulebook, Visit, VisitError, examine, load_rules, read_visit

def told(path: Path) -> str:
    rules: Rulebook = load_rules()
    try:
        visit: Visit = read_visit(path)
        found: Diagnosis = examine(visit, rules)
    except VisitError as error:
        return str(error)
    first = found.faults[0]
    share: float = first.share
    whole: dict[str, object] = found.to_dict()
    return f"{first.fault} {share:.2f} {found.status} {found.matcher} {len(whole)}"

examine({"machine": {"refrigerant": "R-410A"}})
examine("visit.yaml")
"""


def test_public_names_are_listed_and_are_there() -> None:
    assert set(dir(diagnose)) >= {*diagnose.__all__, "__version__"}
    fresh = "import diagnose; print(*dir(diagnose)); [getattr(diagnose, name) for name in diagnose.__all__]"
    done = subprocess.run([sys.executable, "-c", fresh], capture_output=True, text=True, check=True)
    assert sorted(done.stdout.split()) == sorted([*diagnose.__all__, "__version__"])
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = diagnose.nonsense  # type: ignore[attr-defined]


def test_a_users_script_is_checked_against_our_types(tmp_path: Path) -> None:
    """By mypy --strict without this project's settings: nothing to say of the script, and something of each slip."""
    slips = ["diagnosis: int = examine(3)", "from diagnose import nonsense"]
    (tmp_path / "script.py").write_text("\n".join([SCRIPT, *slips]), encoding="utf-8")
    (tmp_path / "mypy.ini").write_text("[mypy]\n", encoding="utf-8")
    command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(ROOT / ".mypy_cache/user"), "script.py"]
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, cwd=tmp_path, env={**os.environ, "MYPYPATH": ""}
    )
    said = [line.partition("error: ")[2] for line in done.stdout.splitlines()]
    for wanted in (
        'Incompatible types in assignment (expression has type "Diagnosis"',
        'Argument 1 to "examine" has incompatible type "int"',
        'Module "diagnose" has no attribute "nonsense"',
    ):
        assert [one.startswith(wanted) for one in said].count(True) == 1, done.stdout + done.stderr
    assert said[3:] == [""], done.stdout  # the line that counts them


def test_the_wheel_holds_all_that_the_program_reads_and_runs_by_itself(tmp_path: Path) -> None:
    """Built by the build back end itself; run from its unpacked files alone, outside the checkout."""
    built = subprocess.run(
        [sys.executable, "-c", f"from hatchling.build import build_wheel; print(build_wheel({str(tmp_path)!r}))"],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    assert built.returncode == 0, built.stderr
    inside = tmp_path / "unpacked"
    with zipfile.ZipFile(tmp_path / built.stdout.split()[-1]) as wheel:
        names = set(wheel.namelist())
        wheel.extractall(inside)
    files = (path for part in ("diagnose", "rules", "cases") for path in (ROOT / part).rglob("*") if path.is_file())
    listed = [path.relative_to(ROOT).as_posix() for path in files if "__pycache__" not in path.parts]
    wanted = {name if name.startswith("diagnose/") else f"diagnose/shipped/{name}" for name in listed}
    assert {"diagnose/py.typed", "diagnose/shipped/rules/findings.yaml"} < wanted
    assert wanted <= names
    metadata = next(inside.glob("*.dist-info/METADATA")).read_text(encoding="utf-8")
    assert "License-Expression: MIT\n" in metadata
    assert "Requires-Dist: coolprop<9,>=8; extra == 'dev'" in metadata
    assert "Requires-Dist: durable-rules==2.0.28; python_version < '3.13' and sys_platform == 'linux'" in metadata

    path = inside / "diagnose/shipped/cases/demo/low-charge-orifice.yaml"
    program = "import runpy, diagnose as d\nprint(d.__file__, flush=True)\nrunpy.run_module('diagnose', None, '__main__', True)"
    done = subprocess.run(
        [sys.executable, "-c", program, "examine", str(path), "--as", "html"],
        capture_output=True, check=False, cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(inside), "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.decode("utf-8").startswith(f"{inside / 'diagnose/__init__.py'}\n<!doctype html>")


ANSWERS = """
import json, sys
from diagnose import examine
for path in sys.argv[1:]:
    found = examine(path).to_dict()
    charge = found["charge"]
    print(json.dumps([found["matcher"], found["status"], charge["verdict"], found["states"],
        [[fault["fault"], round(fault["share"], 9)] for fault in found["faults"]]]))
"""


def test_without_durable_rules_the_plain_matcher_gives_the_same_answers() -> None:
    paths = [str(path) for path in sorted(LOW.parent.glob("*.yaml"))[:3]]
    without = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.modules['durable'] = None\n{ANSWERS}", *paths],
        capture_output=True, text=True, check=True,
    ).stdout.splitlines()  # fmt: skip
    told = io.StringIO()
    with redirect_stdout(told), pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["-c", *paths])
        exec(ANSWERS, {})
    with_it = told.getvalue().splitlines()
    assert len(without) == len(paths) == 3
    assert all(line.startswith('["plain", ') for line in without)
    engines = ('["durable-rules", ', '["plain", ')  # the first where it can be installed
    assert all(line.startswith(engines) for line in with_it)
    assert [line.partition(", ")[2] for line in with_it] == [line.partition(", ")[2] for line in without]
