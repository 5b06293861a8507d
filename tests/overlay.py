"""A company's own rules, made for a test: one new finding, one new rule, four changes of the shipped book."""

from __future__ import annotations

from pathlib import Path

from diagnose.rulebook import load_rules
from diagnose.shipped import shipped

# What the shipped book says is asked of it, so that these tests stand when its figures are refined.
BOOK = load_rules(shipped("rules"))
POINTS = BOOK.by_id["low-charge/starved-and-empty"].points
NEW_POINTS = POINTS - 0.25
USUAL = BOOK.faults["low-charge"].usual
NEW_USUAL = USUAL + 0.5
_LIMITS = [str(limit) for limit in BOOK.findings["superheat"].scales[-1].limits_written]
LIMITS = ", ".join(_LIMITS)
NEW_LIMITS = ", ".join([*_LIMITS[:-1], "40 F"])
FILES = {
    "findings.yaml": """\
findings:
  - finding: coil corrosion
    what: whether the fins of the outdoor coil are corroded
    seen: true
    ask: Look at the outdoor coil.
    words: [present, none]
""",
    "rules.yaml": """\
rules:
  - id: harbour-cooling/salt
    fault: low-outdoor-airflow
    title: The fins are eaten by salt
    when: {coil corrosion: present}
    points: 2
    why: The coil corrosion is {coil corrosion}. Salt eats the fins and closes the coil.
    source: common-practice
    tests:
      - fires: {coil corrosion: present}
      - quiet: {coil corrosion: none}
""",
    "changes.yaml": f"""\
changes:
  - points: low-charge/starved-and-empty
    was: {POINTS:g}
    now: {NEW_POINTS:g}
    because: many long lines here
    date: "2026-05-01"
  - {{limits: superheat, was: [{LIMITS}], now: [{NEW_LIMITS}], because: our valves, date: "2026-05-02"}}
  - {{usual: low-charge, was: {USUAL:g}, now: {NEW_USUAL:g}, because: old machines, date: "2026-05-03"}}
  - {{off: low-charge/oil, because: we oil our joints, date: "2026-05-04"}}
""",
}


def overlay(parent: Path, **texts: str) -> Path:
    """The folder `harbour-cooling`; `rules="…"` gives rules.yaml another text, `changes=""` leaves changes.yaml out."""
    folder = parent / "harbour-cooling"
    folder.mkdir()
    for name, text in (FILES | {f"{key}.yaml": text for key, text in texts.items()}).items():
        if text:
            (folder / name).write_text(text, encoding="utf-8")
    return folder
