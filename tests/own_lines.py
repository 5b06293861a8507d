"""A firm with facts, readings and quantities of its own, and a rule that uses them."""

from __future__ import annotations

from pathlib import Path

OWN = """\
facts:
  - fact: duct run
    about: Where the supply ducts lie.
    words: [attic, crawl space, indoors]
  - fact: rated shell rise
    about: How far the shell may stand above the suction line, from our own list.
    kind: difference
    example: [60 F, 33 K]
    between: [5 F, 150 F]
readings:
  - reading: shell temperature
    where: on the shell of the compressor, a hand's breadth above the oil
    kind: temperature
    example: [120 F, 49 C]
    between: [-20 F, 350 F]
    instrument: pipe clamps
  - reading: shaking
    where: on the cabinet, at the corner post
    kind: number
    example: 3
    between: [0, 100]
    instrument: vibration meter
    error: 5 %
quantities:
  - quantity: share of the shell rise
    what: the shell rise against the list
    formula: shell rise / rated shell rise
    source: common-practice
  - quantity: shell rise
    what: how far the shell is warmer than the gas that cools it
    formula: shell temperature - suction line temperature
    source: common-practice
"""
FINDINGS = """\
findings:
  - finding: shell
    what: how warm the shell runs
    quantity: shell rise
    words: [normal, high]
    scales:
      - {applies: {duct run: attic}, limits: [90 F], source: common-practice, why: Ours.}
      - {limits: [60 F], source: common-practice, why: Ours.}
  - finding: unrest
    what: how much it shakes
    quantity: shaking
    words: [calm, strong]
    scales: [{limits: [10], source: common-practice, why: Ours.}]
"""
RULES = """\
rules:
  - id: quay/hot-shell
    fault: weak-compressor
    title: The shell of the compressor runs hot
    when: {shell: high}
    points: 2.5
    why: The shell is {shell} warmer than the suction gas.
    source: common-practice
    check: quay-shell
    tests:
      - fires: {shell: high}
      - quiet: {shell: normal}
"""
CHECKS = "checks:\n  - {check: quay-shell, ask: Clamp it., why: It shows., minutes: 4, gives: [shell]}\n"
MACHINE = {
    "refrigerant": "R-410A",
    "metering": "TXV",
    "mode": "cooling",
    "duct run": "Indoors",
    "rated shell rise": "40 F",
}
READINGS = {
    "suction line temperature": "66 F",
    "suction pressure": "130 psig",
    "shell temperature": "150 F",
    "shaking": 12,
}


def folder(parent: Path, **texts: str) -> Path:
    made = parent / "quay"
    made.mkdir()
    files = {"own": OWN, "findings": FINDINGS, "rules": RULES, "checks": CHECKS} | texts
    for name, text in files.items():
        if text:
            (made / f"{name}.yaml").write_text(text, encoding="utf-8")
    return made
