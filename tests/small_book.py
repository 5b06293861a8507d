"""A book of two faults, as small as one can be, for tests that break it or lay something over it."""

import re
from collections.abc import Mapping
from pathlib import Path

from diagnose.shipped import shipped

_SHIPPED = (shipped("rules") / "judgement.yaml").read_text(encoding="utf-8")
JUDGED = re.sub(r"source: ([\w-]+|\[.*?\])}", "source: book}", _SHIPPED)
"""The shipped figures, from the small book's only source."""

SMALL = {
    "findings.yaml": """findings:
  - finding: superheat
    what: how far above boiling
    quantity: superheat
    words: [low, normal, high]
    scales:
      - by: value
        limits: [5 F, 20 F]
        source: book
        why: Judgement.
  - {finding: air filter, what: the filter, seen: true, ask: Look., words: [clean, dirty]}
""",
    "states.yaml": """states:
  - {state: feed, question: "Fed?", words: [starved, fed]}
rules:
  - id: state/starved
    title: Starved
    when: {superheat: high}
    concludes: {feed: starved}
    why: Superheat is {superheat}.
    source: book
    tests:
      - fires: {superheat: high}
      - quiet: {superheat: low}
""",
    "readiness.yaml": """charge: {sure: 0.75, leads_by: 0.05, finest_percent: 10, source: book, why: Judgement.}
rules: []
""",
    "cautions.yaml": """rules:
  - {id: caution/gloves, title: Gloves, rank: 30, why: It is cold., source: book}
""",
    "checks.yaml": """checks:
  - {check: look, ask: Look., why: To see., minutes: 5, gives: [air filter]}
""",
    "sources.yaml": """sources:
  book: {title: A book, confidence: read}
""",
    "judgement.yaml": JUDGED,
    "faults/low-charge.yaml": """fault: low-charge
name: Low charge
usual: 1
usual_source: book
charge: low
what: Refrigerant is missing.
looks_like: {overcharge: Both are wrong.}
rules:
  - id: low-charge/starved
    title: It is starved
    when: {feed: starved}
    points: 2
    why: The coil is {feed}.
    source: [book, p. 1]
    check: look
    tests:
      - fires: {superheat: high}
      - quiet: {superheat: normal}
""",
    "faults/overcharge.yaml": """fault: overcharge
name: Overcharge
usual: 0
usual_source: book
what: Too much.
rules:
  - id: overcharge/flooded
    title: It is flooded
    when: {superheat: low}
    points: 2
    why: Superheat is {superheat}.
    source: book
    tests:
      - fires: {superheat: low}
      - quiet: {superheat: high}
""",
}


def written(folder: Path, texts: Mapping[str, str] = SMALL) -> Path:
    """The folder with these files in it, by their names there."""
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder
