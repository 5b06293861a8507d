"""What the READMEs quote of shipped files stands there, line for line; points and sums they speak of are those of the book.

A block below a line that ends with "From `file`:" is a quote of that file of rules/ or cases/: its lines stand there in this
order and at this depth. A line of dots stands for lines left out, and a line that breaks off with … for its beginning.
Any other block is an example of its writer's own, and may not show a rule under the id of a shipped one; three are the
beginning of what stands in a shipped file, with notes beside the lines.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from shared import examined

from diagnose.diagnosis.ranking import Ranked, rank
from diagnose.lessons import lesson_page
from diagnose.report import as_text
from diagnose.rulebook import Rulebook
from diagnose.rulebook.matcher import matcher_for
from diagnose.shipped import shipped
from diagnose.workshop.trials import Expected

ROOT = Path(__file__).parent.parent
TEXTS = {
    name: (ROOT / name).read_text(encoding="utf-8")
    for name in ("README.md", "rules/README.md", "cases/README.md", "DEVELOPERS.md")
}
BLOCK = re.compile(r"^(?:[^\n]*\b[Ff]rom `([\w/.-]+\.yaml)`:\n+)?```yaml\n(.*?)^```$", re.M | re.S)
BLOCKS = [(name, *found) for name, text in TEXTS.items() for found in BLOCK.findall(text)]
QUOTES = [(name, file, block) for name, file, block in BLOCKS if file]
EXAMPLES = [(name, block) for name, file, block in BLOCKS if not file]
WORTH = re.compile(r"`([a-z-]+/[a-z-]+)`\)?\s+(?:is worth|has|gives)\s+(−?[\d.]+\d|\d)\s+points?")


def missing(block: str, text: str) -> str | None:
    """The first line of a quote that does not come next in the text; None where all do."""
    lines, at, gap = text.splitlines(), 0, True
    for quoted in block.splitlines():
        if quoted.strip() in ("...", "…"):
            gap = True
            continue
        whole = not quoted.rstrip('"}').endswith("…")
        wanted = quoted if whole else quoted.rstrip('"}').removesuffix("…").rstrip()
        places = range(at, len(lines) if gap else min(at + 1, len(lines)))
        found = next((i for i in places if (lines[i] == wanted if whole else lines[i].startswith(wanted))), None)
        if found is None:
            return quoted
        at, gap = found + 1, False
    return None


@pytest.mark.parametrize(("name", "file", "block"), QUOTES, ids=[f"{name} {file}" for name, file, _ in QUOTES])
def test_a_quote_stands_in_its_file(name: str, file: str, block: str) -> None:
    places = [path for path in (shipped("rules") / file, shipped("cases") / file, ROOT / file) if path.is_file()]
    assert places, f"{name}: there is no {file}"
    assert missing(block, places[0].read_text(encoding="utf-8")) is None


def test_a_rule_and_a_list_of_what_a_fault_brings_are_quoted() -> None:
    quoted = [file for name, file, _ in QUOTES if name == "rules/README.md"]
    assert quoted == ["faults/non-condensables.yaml", "faults/low-outdoor-airflow.yaml"]


@pytest.mark.parametrize(("name", "block"), EXAMPLES, ids=range(len(EXAMPLES)))
def test_a_shipped_rule_is_shown_only_as_a_quote(name: str, block: str, book: Rulebook) -> None:
    assert not set(re.findall(r"\bid: ([a-z/-]+)", block)) & set(book.by_id)


@pytest.mark.parametrize("name", TEXTS)
def test_points_that_are_spoken_of_are_those_of_the_book(name: str, book: Rulebook) -> None:
    for rule, points in WORTH.findall(TEXTS[name]):
        assert book.by_id[rule].points == float(points.replace("−", "-")), rule


def test_the_lesson_shown_is_part_of_one() -> None:
    shown = re.search(r"```text\n(.*?)```", TEXTS["cases/README.md"], re.S)
    assert shown[1] in as_text(lesson_page(examined("demo/low-charge-orifice")))


@pytest.mark.parametrize(
    ("block", "first"),
    [
        ("a: 1\nb: 2\n", None),
        ("b: 2\n", None),
        ("a: 2\n", "a: 2"),
        ("a: 1\nc: a long text\n", "c: a long text"),
        ("a: 1\n…\nc: a long text\n", None),
        ("b: 2\nc: a long …\n", None),
        ("b: 2\n…\na: 1\n", "a: 1"),
    ],
)
def test_lines_stand_in_their_order(block: str, first: str | None) -> None:
    assert missing(block, "a: 1\nb: 2\nc: a long text\n") == first


def begins(shown: object, real: object) -> bool:
    """Whether what is shown is there: a text may break off with …; a group, a list of groups or of such texts may lack some."""
    if isinstance(shown, str) and isinstance(real, str):
        text = shown.rstrip()
        return real.startswith(text.removesuffix("…").rstrip()) if text.endswith("…") else real.rstrip() == text
    if isinstance(shown, dict) and isinstance(real, dict):
        return all(key in real and begins(value, real[key]) for key, value in shown.items())
    if isinstance(shown, list) and isinstance(real, list) and any(isinstance(p, dict) or "…" in str(p) for p in shown):
        return all(any(begins(part, whole) for whole in real) for part in shown)
    return shown == real


def test_the_lesson_the_scale_and_the_case_shown_are_the_beginning_of_real_ones() -> None:
    rules = TEXTS["rules/README.md"]
    lesson = yaml.safe_load(re.search(r"```yaml\n(lesson:\n.*?)```", rules, re.S)[1])
    assert all(lesson["lesson"][name] for name in ("source", "story", "readings", "confirm", "questions"))
    assert begins(lesson, yaml.safe_load((shipped("rules") / "faults/low-charge.yaml").read_text(encoding="utf-8")))
    block = re.search(r"For `([a-z ]+)`:\n```yaml\n(.*?)```", rules, re.S)
    (shown,) = yaml.safe_load(block[2])
    findings = yaml.safe_load((shipped("rules") / "findings.yaml").read_text(encoding="utf-8"))["findings"]
    (scale,) = [s for f in findings if f["finding"] == block[1] for s in f["scales"] if s.get("target") == "baseline"]
    assert begins(shown, scale)
    assert shown.keys() == scale.keys()
    text = re.search(r"```yaml\n(case: .*?)```", TEXTS["cases/README.md"], re.S)[1]
    case = yaml.safe_load(text.replace(", …}", "}"))
    real = yaml.safe_load((shipped("cases") / f"{case['case']}.yaml").read_text(encoding="utf-8"))
    assert begins({name: case[name] for name in ("story", "truth", "truth_from", "visit")}, real)
    assert set(case["expect"]) == set(Expected.model_fields)


def ranked(book: Rulebook, fault: str, **found: float) -> Ranked:
    """The fault on a valve machine, on a warm day, of which only these words are known, each with how sure it is."""
    applying = book.applying({"mode": "cooling", "metering": "TXV"})
    words = {name.replace("_", " "): {"high": sure} for name, sure in found.items()}
    words["head pressure control"] = {"not needed": 1.0}
    firings = matcher_for(applying.patterns).run(words).firings
    return next(place for place in rank(book, firings) if place.fault == fault)


def test_the_sum_of_two_rules_is_what_the_program_works_out(book: Rulebook) -> None:
    fault, special, plain = "non-condensables", "non-condensables/hot-and-full", "non-condensables/hot"
    sure = {e.rule.id: e for e in ranked(book, fault, condensing_over_ambient=1.0, subcooling=1.0).evidence}
    assert sum(sure[rule].weight for rule in (special, plain)) == 2.5
    assert sure[special].rule.points + sure[plain].rule.points == 4.5
    part = {e.rule.id: e for e in ranked(book, fault, condensing_over_ambient=0.95, subcooling=0.6).evidence}
    weights = [part[rule].weight for rule in (special, plain)]
    assert [f"{weight:.3f}" for weight in (*weights, sum(weights))] == ["1.500", "0.700", "2.200"]
    text = " ".join(TEXTS["rules/README.md"].split())
    for told in (
        "the two rules together give 2.5 points, not 4.5.",
        "with 0.95 and subcooling is high with 0.60, then `hot-and-full` is 0.60 sure and gives 2.5 × 0.60 = 1.5.",
        "2 × (0.95 − 0.60) = 0.7. Together they give 2.2.",
    ):
        assert told in text
