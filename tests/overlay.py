"""A company's own rules, made for a test: one new finding, one new rule, four changes of the shipped book."""

from __future__ import annotations

from pathlib import Path

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
    "changes.yaml": """\
changes:
  - {points: low-charge/starved-and-empty, was: 4, now: 3.5, because: many long lines here, date: "2026-05-01"}
  - {limits: superheat, was: [2 F, 4 F, 25 F, 32 F], now: [2 F, 4 F, 20 F, 32 F], because: our valves, date: "2026-05-02"}
  - {usual: low-charge, was: 1.5, now: 2, because: old machines, date: "2026-05-03"}
  - {off: low-charge/oil, because: we oil our joints, date: "2026-05-04"}
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
