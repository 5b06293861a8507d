# ruff: noqa: E501 - one mistake a line
"""Every mistake in a rule, case or overlay file: where it is told, as what kind, and how it is fixed.

What is said of each kind stands once, in wording.py: a message is bettered there. Here stand the edit that makes the
mistake, and then `line:column`, the text above the mark, the kind, and what fills the gaps of its sentences.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from small_book import SMALL, written
from wording import WORDING

from diagnose.properties import REFRIGERANTS
from diagnose.rulebook import RuleError, load_rules
from diagnose.workshop.trials import read_case, run_case
from diagnose.yamlfile import InputProblems

FINDINGS, STATES, CHECKS, SOURCES = "findings.yaml", "states.yaml", "checks.yaml", "sources.yaml"
READINESS, CAUTIONS, RULES, CHANGES = "readiness.yaml", "cautions.yaml", "rules.yaml", "changes.yaml"
LOW_CHARGE, OVERCHARGE = "faults/low-charge.yaml", "faults/overcharge.yaml"
LOFT = "demo/net-loft.yaml"

# A company's own rules over the small book, and another company's beside it.
OWN = {
    RULES: """rules:
  - id: harbour/salt
    fault: low-charge
    title: Salt
    when: {superheat: high}
    points: 1
    why: Superheat is {superheat}.
    source: harbour-notes
    tests:
      - fires: {superheat: high}
      - quiet: {superheat: low}
""",
    SOURCES: "sources:\n  harbour-notes: {title: Notes, confidence: no source}\n",
    CHANGES: """changes:
  - points: low-charge/starved
    was: 2
    now: 3
    because: We see it more.
    date: 2026-03-01
""",
    CHECKS: "checks:\n  - {check: harbour-rinse, ask: Rinse., why: To see., minutes: 5}\n",
    FINDINGS: "findings:\n  - {finding: salt, what: salt, seen: true, ask: Look., words: [none, crusted]}\n",
}
QUAY = {
    RULES: OWN[RULES].replace("harbour", "quay").replace("superheat: high", "superheat: normal"),
    SOURCES: OWN[SOURCES].replace("harbour", "quay"),
}
CASE = """case: demo/net-loft
story: The net loft has cooled less and less since spring.
truth: low-charge
truth_from: made up for the demo
visit:
  machine: {refrigerant: R-410A, metering: fixed orifice}
  readings:
    suction pressure: 130 psig
    suction line temperature: 61 F
expect:
  status: diagnosed
"""

# Pieces that several mistakes take out or put in.
OVERCHARGE_RULES = SMALL[OVERCHARGE].split("rules:\n")[1]
CHARGE = SMALL[READINESS].removesuffix("rules: []\n")
CHANGE = "points: low-charge/starved\n    was: 2\n    now: 3"
VISIT = CASE[CASE.index("visit:") : CASE.index("expect:")]
EXPECT = CASE[CASE.index("expect:") :]

# Three parts are an edit (file, what stands there, what is put in its place), two a further file; a text is what is
# told. Where it names no file, that of the first edit is meant; `file` alone is a message about a whole file.
Mistake = list[tuple[str, ...] | str]
Mistakes = dict[str, Mistake]

BOOK_MISTAKES: Mistakes = {
    "a finding that a fault makes, misspelt": [
        (OVERCHARGE, "rules:", "brings:\n  - findings: {superheet: low}\n    source: book\nrules:"), "7:16 `superheet` finding-near superheat",
    ],
    "a word that a fault makes, misspelt": [
        (OVERCHARGE, "rules:", "brings:\n  - findings: {superheat: [low, lwo]}\n    source: book\nrules:"), "7:33 `lwo` word-near superheat | low",
    ],
    "a finding misspelt": [(OVERCHARGE, "when: {superheat: low}", "when: {superheet: low}"), "9:12 `superheet` condition-near superheat"],
    "a finding far from any": [(OVERCHARGE, "when: {superheat: low}", "when: {colour: low}"), "9:12 `colour` condition-known feed, superheat, air filter"],
    "a machine fact among the findings": [(OVERCHARGE, "when: {superheat: low}", "when: {metering: TXV}"), "9:12 `metering` condition-is-fact"],
    "a reading among the findings": [(OVERCHARGE, "when: {superheat: low}", "when: {suction pressure: low}"), "9:12 `suction pressure` condition-is-figure"],
    "a finding and its word without a colon": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat low}"), "9:12 `superheat low` condition-without-word"],
    "braces in a title": [(OVERCHARGE, "title: It is flooded", "title: Superheat is {superheat}"), "8:12 `Superheat is {superheat}` braces-in-text"],
    "a word misspelt": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: lwo}"), "9:23 `lwo` word-near superheat | low"],
    "several words with a semicolon": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: low; normal}"), "9:23 `low; normal` words-not-a-list superheat"],
    "several words with or": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: low or normal}"), "9:23 `low or normal` words-not-a-list superheat"],
    "one wrong word of a list": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: [low, nromal]}"), "9:29 `nromal` word-near superheat | normal"],
    "not, before a word that is none": [
        (OVERCHARGE, "when: {superheat: low}", "when: {superheat: not hihg}"), "9:23 `not hihg` word-after-not-near hihg | superheat | high",
    ],
    "not, before a word far from any": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: not big}"), "9:23 `not big` word-after-not-known big | superheat | low, normal, high"],
    "no where it is no word": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: no}"), "9:23 `no` word-known superheat | low, normal, high"],
    "true for a word": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: true}"), "9:23 `true` word-known superheat | low, normal, high"],
    "a number for a word": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: 12}"), "9:23 `12` word-known superheat | low, normal, high"],
    "no word": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: }"), "9:23 `}` no-word superheat | low, normal, high"],
    "an empty list of words": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: []}"), "9:23 `[]` no-word superheat | low, normal, high"],
    "a group for a word": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: {over: 12}}"), "9:23 `{over: 12}` group-for-word superheat"],
    "when as a sentence": [(OVERCHARGE, "when: {superheat: low}", "when: superheat is low"), "9:11 `superheat is low` group-not-text when"],
    "when as a list": [(OVERCHARGE, "when: {superheat: low}", "when: [superheat]"), "9:11 `[superheat]` group-not-list when"],
    "when without anything": [(OVERCHARGE, "when: {superheat: low}", "when:"), "9:10 `` group-not-nothing when"],
    "no when": [(OVERCHARGE, "    when: {superheat: low}\n", ""), "7:9 `overcharge/flooded` no-when"],
    "every word of a finding": [
        (OVERCHARGE, "when: {superheat: low}", "when: {superheat: [low, not low]}"), "9:23 `[low, not low]` every-word superheat",
    ],
    "a fault of heating, and a rule of cooling": [
        (OVERCHARGE, "usual: 0", "usual: 0\napplies: {mode: heating}"), (OVERCHARGE, "points: 2", "applies: {mode: cooling}\n    points: 2"), "8:9 `overcharge/flooded` not-on-its-machines overcharge | `mode: heating`",
    ],
    "a figure of heating, and a rule that does not name the mode": [
        (OVERCHARGE, "when: {superheat: low}", "when: {superheat: low, rise: small}"),
        (FINDINGS, "finding: air filter, what: the filter, seen: true", 'finding: rise, what: the rise, quantity: air rise, scales: [{by: value, limits: [9 F], source: book, why: J}]'),
        (FINDINGS, "[clean, dirty]", "[small, large]"),
        (CHECKS, "gives: [air filter]", "gives: [rise]"),
        "7:9 `overcharge/flooded` not-on-its-machines rise | `mode: heating`",
    ],
    "a finding of valve machines, and a rule of orifice machines": [
        (OVERCHARGE, "points: 2", "applies: {metering: fixed orifice}\n    points: 2"),
        (FINDINGS, "- by: value", "- applies: {metering: [TXV, EEV]}\n        by: value"),
        "7:9 `overcharge/flooded` not-on-its-machines superheat | `metering: [TXV, EEV]`",
    ],
    "a hold of every visit": [
        (READINESS, "rules: []", "rules:\n  - {id: readiness/wait, title: Wait, holds: visit, why: W, source: book}"),
        "3:10 `readiness/wait` every-visit",
    ],
    "a danger of every visit": [(CAUTIONS, "rank: 30", "rank: 30, level: stop"), "2:10 `caution/gloves` every-visit"],
    "any without a list": [(OVERCHARGE, "when: {superheat: low}", "when: {any: {superheat: low}}"), "9:17 `{superheat: low}` any"],
    "any of nothing": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: low, any: []}"), "9:33 `[]` any"],
    "any with an empty way": [(OVERCHARGE, "when: {superheat: low}", "when: {superheat: low, any: [{}]}"), "9:33 `[{}]` any"],
    "any that contradicts": [
        (OVERCHARGE, "when: {superheat: low}", "when: {superheat: low, any: [{superheat: high}]}"),
        "9:11 `{superheat: low, any: [{superheat: high}]}` never-holds overcharge/flooded | 1 | superheat",
    ],
    "a source misspelt": [(OVERCHARGE, "source: book\n    tests", "source: bok\n    tests"), "12:13 `bok` source-near"],
    "a second source misspelt": [(OVERCHARGE, "source: book\n    tests", "source: [book, p. 3, bok]\n    tests"), "12:26 `bok` source-near"],
    "no source": [(OVERCHARGE, "source: book\n    tests", "source: []\n    tests"), "12:13 `[]` no-source"],
    "a source without anything": [(OVERCHARGE, "source: book\n    tests", "source:\n    tests"), "12:12 `` no-source"],
    "a colon in the place in a source": [
        (OVERCHARGE, "source: book\n    tests", "source: [book, p. 3: top]\n    tests"), "12:20 `p. 3: top` item-text-not-group 2",
    ],
    "a check misspelt": [(LOW_CHARGE, "check: look", "check: lok"), "15:12 `lok` check-near"],
    "a fault misspelt": [(LOW_CHARGE, "overcharge: Both", "overchage: Both"), "7:14 `overchage` fault-near overcharge"],
    "a fault that looks like itself": [(LOW_CHARGE, "overcharge: Both", "low-charge: Both"), "7:14 `low-charge` looks-like-itself"],
    "a figure that the rule does not read": [
        (OVERCHARGE, "why: Superheat is {superheat}.", "why: >\n      Superheat is low.\n      The filter is {air filter}."),
        "13:21 `{air filter}` figure-known",
    ],
    "a figure misspelt": [(OVERCHARGE, "{superheat}.", "{superhaet}."), "11:23 `{superhaet}` figure-near when | superheat"],
    "a figure without a name": [(OVERCHARGE, "{superheat}.", "{}."), "11:23 `{}` figure-known"],
    "a brace that is not closed": [(OVERCHARGE, "{superheat}.", "{superheat."), "11:23 `{` brace"],
    "a figure in a rule that reads nothing": [(CAUTIONS, "why: It is cold.", 'why: "It is {superheat}."'), "2:63 `{superheat}` figure-none"],
    "too many points": [(OVERCHARGE, "points: 2", "points: 5"), "10:13 `5` points"],
    "no points at all": [(OVERCHARGE, "points: 2", "points: 0"), "10:13 `0` points"],
    "points in words": [(OVERCHARGE, "points: 2", "points: two"), "10:13 `two` number points"],
    "points with a comma": [(OVERCHARGE, "points: 2", "points: 1,5"), "10:13 `1,5` number-comma points"],
    "points that are a truth": [(OVERCHARGE, "points: 2", "points: true"), "10:13 `true` truth-for-number"],
    "points without a number": [(OVERCHARGE, "points: 2", "points:"), "10:12 `` number-not-nothing points"],
    "usual out of range": [(OVERCHARGE, "usual: 0", "usual: 9"), "3:8 `9` range-usual usual"],
    "a charge that is none": [(LOW_CHARGE, "charge: low", "charge: lwo"), "5:9 `lwo` choice-near charge | low"],
    "a field misspelt": [(OVERCHARGE, "points: 2", "pionts: 2"), "7:5 `id: overcharge/flooded` missing points", "10:5 `pionts` field-near points"],
    "a field of another kind of rule": [
        (OVERCHARGE, "points: 2", "points: 2\n    concludes: {feed: starved}"),
        "11:5 `concludes` field-known applies, author, check, id, points, renamed, since, source, status, tests, title, when, why",
    ],
    "a title that is a number": [(OVERCHARGE, "title: It is flooded", "title: 410"), "8:12 `410` text-not-number title"],
    "an empty title": [(OVERCHARGE, "title: It is flooded", 'title: "  "'), '8:12 `"  "` empty-text'],
    "an id with capitals": [(OVERCHARGE, "id: overcharge/flooded", "id: overcharge/Flooded Coil"), "7:9 `overcharge/Flooded Coil` id overcharge/flooded-coil"],
    "an id of another fault": [(OVERCHARGE, "id: overcharge/flooded", "id: low-charge/flooded"), "7:9 `low-charge/flooded` id-of-fault overcharge/ | overcharge/flooded"],
    "an id that is the fault's name": [(OVERCHARGE, "id: overcharge/flooded", "id: overcharge"), "7:9 `overcharge` id-of-fault overcharge/ | overcharge/what-is-seen"],
    "an id with a space": [(OVERCHARGE, "id: overcharge/flooded", "id: Overcharge Flooded"), "7:9 `Overcharge Flooded` id overcharge-flooded"],
    "an id of a state's rule": [
        (LOW_CHARGE, "id: low-charge/starved", "id: state/starved"),
        "9:9 `state/starved` id-of-fault low-charge/ | low-charge/starved",
        "9:9 `state/starved` twice-id rules/states.yaml:4",
    ],
    "an id twice in a file": [
        (OVERCHARGE, OVERCHARGE_RULES, OVERCHARGE_RULES + OVERCHARGE_RULES.replace("superheat: low", "superheat: normal")),
        "16:9 `overcharge/flooded` twice-id rules/faults/overcharge.yaml:7",
    ],
    "an id twice in two files": [(CAUTIONS, "id: caution/gloves", "id: state/starved"), "2:10 `state/starved` twice-id rules/states.yaml:4"],
    "two rules with the same when": [
        (OVERCHARGE, OVERCHARGE_RULES, OVERCHARGE_RULES + OVERCHARGE_RULES.replace("/flooded", "/again")),
        "18:11 `{superheat: low}` same-when overcharge/again | overcharge/flooded | rules/faults/overcharge.yaml:7",
    ],
    "a machine fact misspelt": [(OVERCHARGE, "points: 2", "applies: {meterng: TXV}\n    points: 2"), "10:15 `meterng` machine-fact-near metering"],
    "a finding among the machine facts": [
        (OVERCHARGE, "points: 2", "applies: {superheat: low}\n    points: 2"), "10:15 `superheat` machine-fact-is-finding",
    ],
    "a reading among the machine facts": [
        (OVERCHARGE, "points: 2", "applies: {suction pressure: low}\n    points: 2"), "10:15 `suction pressure` machine-fact-is-finding",
    ],
    "a metering device that is none": [
        (OVERCHARGE, "points: 2", "applies: {metering: [TXV, piston]}\n    points: 2"), "10:31 `piston` word-known metering | fixed orifice, TXV, EEV",
    ],
    "a refrigerant spelt otherwise": [
        (OVERCHARGE, "points: 2", "applies: {refrigerant: R410A}\n    points: 2"), "10:28 `R410A` word-near refrigerant | R-410A",
    ],
    "applies to nothing": [(OVERCHARGE, "points: 2", "applies: {metering: []}\n    points: 2"), "10:25 `[]` no-word metering | fixed orifice, TXV, EEV"],
    "no test that fires": [(OVERCHARGE, "      - fires: {superheat: low}\n", ""), "7:9 `overcharge/flooded` no-firing-test"],
    "no test that leaves it quiet": [(OVERCHARGE, "      - quiet: {superheat: high}\n", ""), "7:9 `overcharge/flooded` no-quiet-test"],
    "a test that says both": [
        (OVERCHARGE, "- fires: {superheat: low}", "- fires: {superheat: low}\n        quiet: {superheat: high}"), "14:9 `fires: {superheat: low}` test-both",
    ],
    "a test that says neither": [
        (OVERCHARGE, "- fires: {superheat: low}", "- because: it is flooded\n      - fires: {superheat: low}"), "14:9 `because: it is flooded` test-neither",
    ],
    "a test with a list and a slip in it": [
        (OVERCHARGE, "- fires: {superheat: low}", "- fires: {superheat: [low, norml]}"), "14:34 `norml` word-near superheat | normal",
    ],
    "a test with two words": [(OVERCHARGE, "- fires: {superheat: low}", "- fires: {superheat: low/normal}"), "14:28 `low/normal` words-not-a-list superheat"],
    "a machine of a test with a list": [
        (OVERCHARGE, "- fires: {superheat: low}", "- fires: {superheat: low}\n        machine: {metering: [TXV, EEV]}"),
        "15:29 `[TXV, EEV]` text-not-list metering",
    ],
    "a test with a word misspelt": [(OVERCHARGE, "- fires: {superheat: low}", "- fires: {superheat: lo}"), "14:28 `lo` word-near superheat | low"],
    "a test with a finding misspelt": [(OVERCHARGE, "- fires: {superheat: low}", "- fires: {superhaet: low}"), "14:17 `superhaet` finding-near superheat"],
    "a test on a state": [(LOW_CHARGE, "- fires: {superheat: high}", "- fires: {feed: starved}"), "17:17 `feed` finding-is-state"],
    "tests without hyphens": [
        (OVERCHARGE, "      - fires: {superheat: low}\n      - quiet: {superheat: high}\n", "      fires: {superheat: low}\n      quiet: {superheat: high}\n"),
        "14:7 `fires: {superheat: low}` list-not-group tests",
    ],
    "a repair that is a sentence": [
        (OVERCHARGE, "what: Too much.", "what: Too much.\nrepair: {do: Take some out., expect: Subcooling falls.}"),
        "6:14 `Take some out.` list-not-text do | [Take some out.]",
    ],
    "a repair without steps": [(OVERCHARGE, "what: Too much.", "what: Too much.\nrepair: {do: [], expect: Subcooling falls.}"), "6:14 `[]` empty-list"],
    "rules without anything": [(OVERCHARGE, OVERCHARGE_RULES, ""), "6:7 `` list-not-nothing rules"],
    "a rule that is a word": [(OVERCHARGE, "  - id: overcharge/flooded", "  - flooded\n  - id: overcharge/flooded"), "7:5 `flooded` item-group 1"],
    "a file not named after its fault": [
        (OVERCHARGE, "fault: overcharge", "fault: overfull"),
        (LOW_CHARGE, "overcharge: Both", "overfull: Both"),
        (OVERCHARGE, "id: overcharge/", "id: overfull/"),
        "1:8 `overfull` file-of-fault",
    ],
    "a file and a rule not named after the fault": [
        (OVERCHARGE, "fault: overcharge", "fault: overfull"),
        (LOW_CHARGE, "overcharge: Both", "overfull: Both"),
        "1:8 `overfull` file-of-fault",
        "7:9 `overcharge/flooded` id-of-fault overfull/ | overfull/flooded",
    ],
    "an empty file": [(OVERCHARGE, SMALL[OVERCHARGE], ""), "file empty-file fault:"],
    "a file that is a list": [(OVERCHARGE, SMALL[OVERCHARGE], "- fault: overcharge\n"), "1:1 `- fault: overcharge` file-is-list fault:"],
    "a colon in a sentence": [(OVERCHARGE, "why: Superheat is {superheat}.", "why: Look here: superheat is {superheat}."), "11:19 `:` colon"],
    "a sentence that begins with a brace": [(OVERCHARGE, "why: Superheat is {superheat}.", "why: {superheat} is low."), "11:22 `i` after-the-end"],
    "a quotation mark never closed": [(OVERCHARGE, "what: Too much.", 'what: "Too much.'), '5:7 `"` quote-open'],
    "an apostrophe between single quotes": [(OVERCHARGE, "what: Too much.", "what: 'It's too much.'"), "5:11 `s` after-the-end"],
    "a quoted word first": [(OVERCHARGE, "what: Too much.", 'what: "Too" much.'), "5:13 `m` after-the-end"],
    "curly quotes": [(OVERCHARGE, "what: Too much.", "what: “Too much: a fault”"), "5:16 `:` colon-curly"],
    "a tab": [(OVERCHARGE, "    points: 2", "\tpoints: 2"), "10:1 ` ` tab"],
    "a line out of line": [(OVERCHARGE, "    points: 2", "   points: 2"), "10:4 `p` out-of-line"],
    "a colon left out": [(OVERCHARGE, "points: 2", "points 2"), "10:5 `points 2` no-colon"],
    "no space after the colon": [(OVERCHARGE, "points: 2", "points:2"), "10:5 `points:2` no-colon"],
    "a bracket left open": [(CHECKS, "gives: [air filter]}", "gives: [air filter}"), "2:75 `}` bracket"],
    "a comma in a text between braces": [
        (STATES, 'question: "Fed?"', "question: Is it fed, or not"), "2:40 `or not` field-comma author, means, question, renamed, since, state, status, words",
    ],
    "a name twice": [(OVERCHARGE, "points: 2", "points: 2\n    points: 3"), "11:5 `points` written-twice 10"],
    "a source twice": [(SOURCES, "sources:\n", "sources:\n  book: {title: B, confidence: read}\n"), "3:3 `book` written-twice 2"],
    "anchors": [(OVERCHARGE, "points: 2", "points: &much 2"), (OVERCHARGE, "usual: 0", "usual: *much"), "3:8 `*much` anchor"],
    "a tag": [(OVERCHARGE, "points: 2", "points: !!python/name:os.system 2"), "10:13 `!!python/name:os.system 2` tag"],
    "a second document": [(OVERCHARGE, "rules:\n", "---\nrules:\n"), "6:1 `---` second-document"],
    "a list item below a text": [(CAUTIONS, "rules:\n", "rules: none\n"), "2:3 `-` item-below-text"],
    "one word only": [(FINDINGS, "words: [low, normal, high]", "words: [low]"), "5:12 `[low]` few-words"],
    "a word twice": [(FINDINGS, "words: [low, normal, high]", "words: [low, low, high]"), "5:12 `[low, low, high]` word-twice low"],
    "a word that means any other": [
        (FINDINGS, "words: [clean, dirty]", "words: [clean, not clean]"), "11:76 `[clean, not clean]` word-with-not not clean | clean",
    ],
    "words that are truths": [(FINDINGS, "words: [clean, dirty]", "words: [true, false]"), "11:77 `true` item-text 1", "11:83 `false` item-text 2"],
    "a finding twice": [
        (FINDINGS, "finding: air filter", "finding: superheat"),
        (CHECKS, "gives: [air filter]", "gives: [superheat]"),
        "11:15 `superheat` twice-finding rules/findings.yaml:2",
    ],
    "a finding called any": [(FINDINGS, "finding: air filter", "finding: any"), "11:15 `any` name"],
    "a finding that is a number": [(FINDINGS, "finding: air filter", "finding: 3"), "11:15 `3` text-not-number finding"],
    "neither seen nor worked out": [(FINDINGS, "    quantity: superheat\n", ""), "2:14 `superheat` neither-seen-nor-worked-out"],
    "seen and worked out": [(FINDINGS, "seen: true", "seen: true, quantity: superheat"), "11:51 `true` seen-and-worked-out air filter"],
    "seen, perhaps": [(FINDINGS, "seen: true", "seen: maybe"), "11:51 `maybe` truth seen"],
    "a quantity misspelt": [(FINDINGS, "quantity: superheat", "quantity: superheet"), "4:15 `superheet` quantity-near superheat"],
    "a quantity far from any": [(FINDINGS, "quantity: superheat", "quantity: colour"), "4:15 `colour` quantity-far"],
    "no scale": [
        (FINDINGS, "    scales:\n      - by: value\n        limits: [5 F, 20 F]\n        source: book\n        why: Judgement.\n", ""),
        "2:14 `superheat` no-scale",
    ],
    "too few limits": [(FINDINGS, "limits: [5 F, 20 F]", "limits: [5 F 20 F]"), "8:17 `[5 F 20 F]` limits-count"],
    "limits without brackets": [(FINDINGS, "limits: [5 F, 20 F]", "limits: 5 F, 20 F"), "8:17 `5 F, 20 F` list-not-text limits | [5 F, 20 F]"],
    "limits that fall": [(FINDINGS, "limits: [5 F, 20 F]", "limits: [20 F, 5 F]"), "8:17 `[20 F, 5 F]` limits-fall"],
    "a limit without a unit": [(FINDINGS, "limits: [5 F, 20 F]", "limits: [5, 20 F]"), "8:17 `[5, 20 F]` unit 5 | 5 F"],
    "a limit in the wrong unit": [(FINDINGS, "limits: [5 F, 20 F]", "limits: [5 psig, 20 F]"), "8:17 `[5 psig, 20 F]` wrong-unit psig"],
    "a spread without a unit": [(FINDINGS, "by: value", "by: difference\n        spread: 3"), "8:17 `3` unit-here"],
    "by its value against a good day": [(FINDINGS, "by: value", "by: value\n        target: baseline"), "7:13 `value` value-by-good-day"],
    "a spread about a good day": [(FINDINGS, "by: value", "by: difference\n        target: baseline\n        spread: 3 F"), "9:17 `3 F` spread-of-good-day"],
    "a good day of what has no law": [
        (FINDINGS, "by: value", "by: difference\n        target: baseline"),
        (FINDINGS, "quantity: superheat", "quantity: suction line warming"),
        "8:17 `baseline` no-law suction line warming",
    ],
    "a scale by something unknown": [(FINDINGS, "by: value", "by: valu"), "7:13 `valu` choice-near by | value"],
    "a scale of a machine that is none": [
        (FINDINGS, "      - by: value", "      - applies: {metering: piston}\n        by: value"), "7:29 `piston` word-known metering | fixed orifice, TXV, EEV",
    ],
    "minutes below nothing": [(FINDINGS, "seen: true", "seen: true, minutes: -1"), "11:66 `-1` minutes"],
    "a finding's source misspelt": [(FINDINGS, "source: book", "source: bok"), "9:17 `bok` source-near"],
    "a state misspelt": [(STATES, "concludes: {feed: starved}", "concludes: {fed: starved}"), "7:17 `fed` state-near feed"],
    "a state's word misspelt": [(STATES, "concludes: {feed: starved}", "concludes: {feed: starvd}"), "7:23 `starvd` word-near feed | starved"],
    "a word of what a state goes by, misspelt": [(STATES, "when: {superheat: high}", "when: {superheat: hihg}"), "6:23 `hihg` word-near superheat | high"],
    "two states at once": [(STATES, "concludes: {feed: starved}", "concludes: {feed: starved, other: big}"), "7:16 `{feed: starved, other: big}` one-state"],
    "a finding concluded": [(STATES, "concludes: {feed: starved}", "concludes: {superheat: high}"), "7:17 `superheat` state-is-finding"],
    "a state that concludes itself": [
        (STATES, "when: {superheat: high}", "when: {superheat: high, feed: fed}"), "6:11 `{superheat: high, feed: fed}` loop feed -> feed | state/starved",
    ],
    "a state with points": [
        (STATES, "source: book", "points: 2\n    source: book"), "9:5 `points` field-known applies, author, check, concludes, id, renamed, since, source, status, tests, title, when, why",
    ],
    "a state called like a finding": [
        (STATES, "rules:", "  - {state: air filter, question: Q, words: [a, b]}\nrules:"), "3:13 `air filter` twice-kind finding | rules/findings.yaml:11 | state",
    ],
    "a check after something unknown": [(CHECKS, "gives: [air filter]", "after: [air filtr], gives: [air filter]"), "2:65 `air filtr` finding-near air filter"],
    "a check that brings nothing known": [(CHECKS, "gives: [air filter]", "gives: [air filtr]"), "2:65 `air filtr` finding-near air filter"],
    "a check without a list": [(CHECKS, "gives: [air filter]", "gives: air filter"), "2:64 `air filter` list-not-text gives | [air filter]"],
    "a check that takes no time": [(CHECKS, "minutes: 5", "minutes: 0"), "2:54 `0` minutes"],
    "a check with a unit": [(CHECKS, "minutes: 5", "minutes: 5 min"), "2:54 `5 min` number minutes"],
    "a check without a time": [(CHECKS, "minutes: 5, ", ""), "2:5 `{check: look, ask: Look., why: To see., gives: [air filter]}` missing minutes"],
    "a check's id with spaces": [(CHECKS, "check: look", "check: Look At"), "2:13 `Look At` id look-at"],
    "a check twice": [
        (CHECKS, "checks:\n", "checks:\n  - {check: look, ask: Look., why: To see., minutes: 1}\n"), "3:13 `look` twice-check rules/checks.yaml:2",
    ],
    "a source's name with spaces": [(SOURCES, "book:", "The book:"), "2:3 `The book` id the-book"],
    "a source nobody is sure of": [(SOURCES, "confidence: read", "confidence: from memry"), "2:37 `from memry` choice-near confidence | from memory"],
    "sources as a list": [(SOURCES, "sources:\n  book:", "sources:\n  - book:"), "2:3 `- book: {title: A book, confidence: read}` group-not-list sources"],
    "a rank in words": [(CAUTIONS, "rank: 30", "rank: first"), "2:47 `first` whole-number rank"],
    "a rank of nothing": [(CAUTIONS, "rank: 30", "rank: 0"), "2:47 `0` range-rank rank"],
    "a rank between two": [(CAUTIONS, "rank: 30", "rank: 1.5"), "2:47 `1.5` whole-number-not-part rank"],
    "surer than sure": [(READINESS, "sure: 0.75", "sure: 75"), "1:16 `75` share"],
    "sure in percent": [(READINESS, "sure: 0.75", "sure: 75 %"), "1:16 `75 %` number sure"],
    "faults in one doubt misspelt": [(READINESS, "sure: 0.75", "sure: 0.75, one_doubt: [[low-charge, overchage]]"), "1:47 `overchage` fault-near overcharge"],
    "nothing about the charge": [(READINESS, CHARGE, ""), "file missing-charge charge"],
    "a rule that holds everything": [
        (READINESS, "rules: []", "rules:\n  - {id: readiness/x, title: X, holds: everything, why: x, source: book}"),
        "3:40 `everything` choice holds | visit, charge, outside, nothing",
    ],
    "a rule that silences something unknown": [
        (READINESS, "rules: []", "rules:\n  - {id: readiness/x, title: X, holds: nothing, silent: [superheet], applies: {kind: split}, why: x, source: book}"),
        "3:58 `superheet` finding-near superheat",
    ],
    "a rule that silences what was seen": [
        (READINESS, "rules: []", "rules:\n  - {id: readiness/x, title: X, holds: nothing, silent: [air filter], applies: {kind: split}, why: x, source: book}"),
        "3:58 `air filter` silent-seen air filter",
    ],
    "a rule about a machine that hangs on a reading": [
        (READINESS, "rules: []", "rules:\n  - {id: readiness/x, title: X, holds: nothing, when: {superheat: low}, why: x, source: book, tests: [{fires: {superheat: low}}, {quiet: {superheat: high}}]}"),
        "3:55 `{superheat: low}` machine-when readiness/x",
    ],
    "many mistakes in many files": [
        (STATES, "source: book", "source: bok"),
        (LOW_CHARGE, "check: look", "check: lok"),
        (FINDINGS, "limits: [5 F, 20 F]", "limits: [5 F]"),
        (OVERCHARGE, "points: 2", "points: 7"),
        (CAUTIONS, "rank: 30", "rank: *thirty"),
        "rules/cautions.yaml:2:47 `*thirty` anchor-one",
        "rules/faults/low-charge.yaml:15:12 `lok` check-near",
        "rules/faults/overcharge.yaml:10:13 `7` points",
        "rules/findings.yaml:8:17 `[5 F]` limits-count",
        "9:13 `bok` source-near",
    ],
}  # fmt: skip
OWN_MISTAKES: Mistakes = {
    "an id without the folder's name": [(RULES, "id: harbour/salt", "id: low-charge/salt"), "2:9 `low-charge/salt` id-of-folder harbour/ | harbour/salt"],
    "a source without the folder's name": [
        (SOURCES, "harbour-notes:", "notes:"), (RULES, "source: harbour-notes", "source: notes"), "2:3 `notes` id-of-folder harbour- | harbour-notes",
    ],
    "a check without the folder's name": [(CHECKS, "harbour-rinse", "rinse"), "2:13 `rinse` id-of-folder harbour- | harbour-rinse"],
    "a fault misspelt": [(RULES, "fault: low-charge", "fault: low-chrage"), "3:12 `low-chrage` fault-near low-charge"],
    "no fault": [(RULES, "    fault: low-charge\n", ""), "2:5 `id: harbour/salt` missing fault"],
    "a shipped finding again": [(FINDINGS, "finding: salt", "finding: superheat"), "2:15 `superheat` twice-finding-shipped rules/findings.yaml:2"],
    "a shipped fault again": [("harbour/" + LOW_CHARGE, SMALL[LOW_CHARGE]), "1:8 `low-charge` twice-fault-shipped rules/faults/low-charge.yaml:1"],
    "a finding named like a fault": [(FINDINGS, "finding: salt", "finding: low-charge"), "2:15 `low-charge` twice-kind fault | rules/faults/low-charge.yaml:1 | finding"],
    "a source named like a check": [
        (SOURCES, "sources:\n", "sources:\n  harbour-rinse: {title: B, confidence: read}\n"),
        "2:3 `harbour-rinse` twice-kind check | harbour/checks.yaml:2 | source",
    ],
    "a shipped source again": [
        (SOURCES, "sources:\n", "sources:\n  book: {title: B, confidence: read}\n"), "2:3 `book` twice-source-shipped rules/sources.yaml:2",
    ],
    "a shipped rule again": [
        (RULES, "when: {superheat: high}", "when: {feed: starved}"),
        (RULES, "Superheat is {superheat}", "It is {feed}"),
        "5:11 `{feed: starved}` same-when-shipped harbour/salt | low-charge/starved | rules/faults/low-charge.yaml:9",
    ],
    "the charge figures again": [("harbour/readiness.yaml", SMALL[READINESS]), "1:1 `charge` twice-charge rules/readiness.yaml:1"],
    "a rule that is not there": [(CHANGES, "low-charge/starved", "low-charge/starvd"), "2:13 `low-charge/starvd` rule-near"],
    "off, of a rule that is not there": [(CHANGES, CHANGE, "off: low-charge/starvd"), "2:10 `low-charge/starvd` rule-near"],
    "off, with figures": [(CHANGES, "points: low", "off: low"), "2:5 `off: low-charge/starved` off-with-figures"],
    "a change of two things": [
        (CHANGES, "points: low-charge/starved", "points: low-charge/starved\n    usual: low-charge"),
        "2:5 `points: low-charge/starved` change-of-two points | usual",
    ],
    "a change of nothing": [(CHANGES, "points: low-charge/starved\n    was", "was"), "2:5 `was: 2` change-of-nothing"],
    "a change without because": [(CHANGES, "    because: We see it more.\n", ""), "2:5 `points: low-charge/starved` missing because"],
    "a change with an empty because": [(CHANGES, "because: We see it more.", 'because: ""'), '5:14 `""` empty-text'],
    "a change without a date": [(CHANGES, "    date: 2026-03-01\n", ""), "2:5 `points: low-charge/starved` missing date"],
    "a date written otherwise": [(CHANGES, "2026-03-01", "1 March 2026"), "6:11 `1 March 2026` date"],
    "a date that is none": [(CHANGES, "2026-03-01", "2026-02-30"), "6:11 `2026-02-30` date"],
    "a change without was": [(CHANGES, "    was: 2\n", ""), "2:5 `points: low-charge/starved` was-and-now points"],
    "a change to the same": [(CHANGES, "now: 3", "now: 2"), "2:5 `points: low-charge/starved` change-to-the-same"],
    "a was that moved on": [(CHANGES, "was: 2", "was: 1"), "3:10 `1` moved-on low-charge/starved | points | 2 | was: 2"],
    "points out of range": [(CHANGES, "now: 3", "now: 9"), "4:10 `9` points-changed"],
    "points in words": [(CHANGES, "now: 3", "now: three"), "2:5 `points: low-charge/starved` was-numbers points"],
    "a pressure limit that is a number": [
        (CHANGES, CHANGE, "pressure_limit: R-410A\n    was: 2\n    now: 3"), "2:5 `pressure_limit: R-410A` was-pressures",
    ],
    "points of a rule that has none": [(CHANGES, "points: low-charge/starved", "points: state/starved"), "2:13 `state/starved` has-no-points"],
    "usual that moved on": [(CHANGES, CHANGE, "usual: low-charge\n    was: 2\n    now: 3"), "3:10 `2` moved-on low-charge | usual | 1 | was: 1"],
    "usual of a fault misspelt": [(CHANGES, CHANGE, "usual: low-chrge\n    was: 2\n    now: 3"), "2:12 `low-chrge` fault-near low-charge"],
    "limits that moved on": [
        (CHANGES, CHANGE, "limits: superheat\n    was: [5 F, 21 F]\n    now: [6 F, 22 F]"), "3:10 `[5 F, 21 F]` moved-on-limits superheat",
    ],
    "limits that fall": [(CHANGES, CHANGE, "limits: superheat\n    was: [5 F, 20 F]\n    now: [26 F, 22 F]"), "4:10 `[26 F, 22 F]` limits-fall"],
    "limits without a unit": [(CHANGES, CHANGE, "limits: superheat\n    was: [5 F, 20 F]\n    now: [6, 22 F]"), "4:10 `[6, 22 F]` unit 6 | 6 F"],
    "limits of a finding misspelt": [
        (CHANGES, CHANGE, "limits: superheet\n    was: [5 F, 20 F]\n    now: [6 F, 22 F]"), "2:13 `superheet` finding-near superheat",
    ],
    "limits without brackets": [
        (CHANGES, CHANGE, "limits: superheat\n    was: 5 F\n    now: 6 F"), "2:5 `limits: superheat` was-lists",
    ],
    "one thing changed twice": [
        (CHANGES, "changes:\n", "changes:\n  - {off: low-charge/starved, because: No use here., date: 2026-02-01}\n"),
        "3:13 `low-charge/starved` twice-changed",
    ],
    "two folders change the same": [("quay/changes.yaml", OWN[CHANGES].replace("now: 3", "now: 1")), "2:13 `low-charge/starved` twice-changed-by-another"],
    "two folders define the same": [("quay/findings.yaml", OWN[FINDINGS]), "2:15 `salt` twice-finding harbour/findings.yaml:2"],
    "two folders ask for the same": [
        ("quay/rules.yaml", OWN[RULES].replace("harbour", "quay")),
        "5:11 `{superheat: high}` same-when quay/salt | harbour/salt | harbour/rules.yaml:2",
    ],
    "a file of another name": [("harbour/rule.yaml", "rules: []\n"), "file file-name-near rules.yaml"],
    "a file ending in yml": [("harbour/states.yml", "states: []\n"), "file file-name-near states.yaml"],
    "a folder of another name": [("harbour/fault/x.yaml", "fault: x\n"), "harbour/fault folder-name-near faults"],
    "an empty file": [(RULES, OWN[RULES], "# to come\n"), "file empty-file rules:"],
}  # fmt: skip
CASE_MISTAKES: Mistakes = {
    "a field misspelt": [(LOFT, "story:", "storie:"), "1:1 `case: demo/net-loft` missing story", "2:1 `storie` field-near story"],
    "no truth": [(LOFT, "truth: low-charge\n", ""), "1:1 `case: demo/net-loft` missing truth"],
    "a story that is a number": [(LOFT, "story: The net loft has cooled less and less since spring.", "story: 2026"), "2:8 `2026` text-not-number story"],
    "a colon in the story": [(LOFT, "story: The", "story: Look: the"), "2:12 `:` colon"],
    "no visit": [(LOFT, VISIT, "visit:\n"), "5:7 `` group-not-nothing visit"],
    "a reading misspelt": [(LOFT, "suction pressure", "suction presure"), "8:5 `suction presure` reading-near suction pressure"],
    "a reading without a unit": [(LOFT, "130 psig", "130"), "8:23 `130` unit-of-reading suction pressure"],
    "a refrigerant misspelt": [(LOFT, "R-410A", "R-401B"), "6:26 `R-401B` refrigerant " + ", ".join(list(REFRIGERANTS)[1:])],
    "expect as a word": [(LOFT, EXPECT, "expect: low-charge\n"), "10:9 `low-charge` group-not-text expect"],
    "expect without anything": [(LOFT, EXPECT, "expect:\n"), "10:8 `` group-not-nothing expect"],
    "an expectation misspelt": [(LOFT, "  status: diagnosed", "  frist: low-charge"), "11:3 `frist` field-near first"],
    "a caution without a list": [
        (LOFT, "  status: diagnosed", "  cautions: caution/liquid-return"), "11:13 `caution/liquid-return` list-not-text cautions | [caution/liquid-return]",
    ],
    "a figure without its group": [(LOFT, "  status: diagnosed", "  quantities: {superheat: 16 F}"), "11:27 `16 F` group-not-text superheat"],
    "an amount without within": [(LOFT, "  status: diagnosed", "  percent: {value: 10}"), "11:3 `percent` missing within"],
    "an amount below nothing": [(LOFT, "  status: diagnosed", "  percent: {value: 10, within: -1}"), "11:32 `-1` at-least within | 0"],
    "an acceptance without a reason": [
        (LOFT, EXPECT, EXPECT + "accepted:\n  - {date: 2026-03-01, changed: first}\n"),
        "13:5 `{date: 2026-03-01, changed: first}` missing because",
    ],
    "an acceptance without a date": [
        (LOFT, EXPECT, EXPECT + "accepted:\n  - {date: yesterday, because: The rule is better., changed: first}\n"),
        "13:12 `yesterday` date",
    ],
    "an empty file": [(LOFT, CASE, ""), "file empty-file case:"],
    "a list": [(LOFT, CASE, "- low-charge\n"), "1:1 `- low-charge` file-is-list case:"],
}  # fmt: skip


# -- reading and comparing ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Told:
    """One message: where, the text above the mark (None where no line is shown), what is wrong, how to mend it."""

    at: str
    marked: str | None
    what: str
    fix: str


# The place; the line and the mark below it; how to mend it.
PRINTED = re.compile(
    r"(?P<at>[a-z-]+/[^:\s]+(?::(?P<line>\d+):(?P<column>\d+))?): (?P<what>\S.*)\n"
    r"(?:(?=.{5} \|) *(?P<number>\d+) \| (?P<text>.*)\n {6}\| (?P<mark> *\^+)\n)?"
    r" {6}(?P<fix>\S.*)"
)


def as_printed(message: str) -> Told:
    """The mark stands in the column that is named, below the line that is named, and within it."""
    found = PRINTED.fullmatch(message)
    assert found is not None, message
    if found["text"] is None:
        assert found["line"] is None, message
        return Told(found["at"], None, found["what"], found["fix"])
    assert found["number"] == found["line"]
    start = found["mark"].index("^")
    assert start == int(found["column"]) - 1
    assert len(found["mark"]) <= len(found["text"]) + 1
    return Told(found["at"], found["text"][start : len(found["mark"])], found["what"], found["fix"])


def wanted(mistake: Mistake, base: str) -> list[Told]:
    first = next(entry for entry in mistake if isinstance(entry, tuple))
    file = base + first[0] if len(first) == 3 else first[0]
    return [expected(entry, file) for entry in mistake if isinstance(entry, str)]


def expected(entry: str, file: str) -> Told:
    """What a text of the tables above stands for."""
    found = re.fullmatch(r"(?P<at>\S+)(?: `(?P<here>.*?)`)? (?P<kind>[a-z-]+)(?: (?P<gaps>.*))?", entry)
    assert found is not None, entry
    at = file if found["at"] == "file" else f"{file}:{found['at']}" if found["at"][0].isdigit() else found["at"]
    gaps = iter(found["gaps"].split(" | ") if found["gaps"] else ())
    what, fix = (
        re.sub(r"\{(here)?\}", lambda gap: found["here"] if gap[1] else next(gaps), sentence)
        for sentence in WORDING[found["kind"]]
    )
    assert next(gaps, None) is None, f"too much to fill in: {entry}"
    return Told(at, found["here"], what, fix)


def edited(texts: dict[str, str], mistake: Mistake) -> dict[str, str]:
    texts = dict(texts)
    for entry in mistake:
        if isinstance(entry, tuple) and len(entry) == 3:
            file, old, new = entry
            assert old in texts[file], (file, old)
            texts[file] = texts[file].replace(old, new, 1)
    return texts


def told(*folders: Path) -> list[Told]:
    with pytest.raises(RuleError) as caught:
        load_rules(*folders)
    return [as_printed(message) for message in str(caught.value).split("\n\n")]


@pytest.mark.parametrize("mistake", BOOK_MISTAKES)
def test_a_mistake_in_a_book(tmp_path: Path, mistake: str) -> None:
    made = BOOK_MISTAKES[mistake]
    assert told(written(tmp_path / "rules", edited(SMALL, made))) == wanted(made, "rules/")


@pytest.mark.parametrize("mistake", OWN_MISTAKES)
def test_a_mistake_in_a_companys_own_rules(tmp_path: Path, mistake: str) -> None:
    made = OWN_MISTAKES[mistake]
    folders = [
        written(tmp_path / "rules", SMALL),
        written(tmp_path / "harbour", edited(OWN, made)),
        written(tmp_path / "quay", QUAY),
    ]
    written(tmp_path, {entry[0]: entry[1] for entry in made if isinstance(entry, tuple) and len(entry) == 2})
    assert told(*folders) == wanted(made, "harbour/")
    assert told(*reversed(folders)) == wanted(made, "harbour/")  # whatever the order they are named in


def test_what_is_changed_was_right_before(tmp_path: Path) -> None:
    book = load_rules(
        written(tmp_path / "rules", SMALL), written(tmp_path / "harbour", OWN), written(tmp_path / "quay", QUAY)
    )
    assert {"harbour/salt", "quay/salt"} <= set(book.by_id)


@pytest.mark.parametrize("mistake", CASE_MISTAKES)
def test_a_mistake_in_a_case(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mistake: str) -> None:
    made = CASE_MISTAKES[mistake]
    monkeypatch.chdir(tmp_path)
    written(tmp_path, edited({LOFT: CASE}, made))
    try:
        wrong = list(run_case(read_case(Path(LOFT))).wrong)
    except InputProblems as error:
        wrong = str(error).split("\n\n")
    assert [as_printed(message) for message in wrong] == wanted(made, "")


def test_a_whole_loop_of_states(tmp_path: Path) -> None:
    """Three states that wait for each other: the loop is told in its order, with its rules."""
    texts = dict(SMALL)
    texts[STATES] = "states:\n" + "".join(f"  - {{state: s{i}, question: Q, words: [a, b]}}\n" for i in range(3))
    texts[STATES] += "rules:\n" + "".join(
        f"  - {{id: state/r{i}, title: T, when: {{s{i}: a}}, concludes: {{s{(i + 1) % 3}: a}}, why: W, source: book, "
        "tests: [{fires: {superheat: high}}, {quiet: {superheat: low}}]}\n"
        for i in range(3)
    )
    texts[LOW_CHARGE] = texts[LOW_CHARGE].replace("{feed: starved}", "{s0: a}").replace("{feed}", "{s0}")
    (message,) = told(written(tmp_path / "rules", texts))
    assert re.fullmatch(r"rules/states\.yaml:[6-8]:\d+", message.at)
    what, fix = WORDING["loop"]
    assert message.what.startswith(what.partition("{}")[0])
    assert all(f"state/r{i}" in message.what for i in range(3))
    assert message.fix == fix


def test_one_broken_file_does_not_hide_the_others(tmp_path: Path) -> None:
    """A file that is no YAML at all is told beside the mistakes of the others, and nothing that follows from it."""
    mistake: Mistake = [(FINDINGS, "findings:", "findings: ["), (LOW_CHARGE, "check: look", "check: lok")]
    assert [(one.at, one.what) for one in told(written(tmp_path / "rules", edited(SMALL, mistake)))] == [
        ("rules/faults/low-charge.yaml:15:12", "`lok` is not a check"),
        ("rules/findings.yaml:2:3", "something between brackets goes wrong here"),
    ]


# -- what a message must have -------------------------------------------------------------------------------------------------

# Words of the libraries and of programmers, which mean nothing to the writer of a rule.
JARGON = re.compile(
    r"\b(?:dict|dictionary|mapping|null|None|True|False|NaN|string|str|int|float|boolean|bool|token|scalar|sequence|"
    r"node|parse|schema|pydantic|yaml\.|regex|pattern|exception|traceback|validation|validator|input|extra|literal)\b"
)


@pytest.mark.parametrize("kind", WORDING)
def test_it_teaches(kind: str) -> None:
    """Two sentences: what is wrong, and one that mends it, in words of the trade."""
    what, fix = WORDING[kind]
    assert what
    assert re.fullmatch(r"\S.*[.?]", fix)
    own_words = re.sub(r"`[^`]*`|\{\w*\}", "", f"{what} {fix}")
    assert not JARGON.search(own_words), JARGON.findall(own_words)


def test_every_kind_is_met() -> None:
    met = [entry for table in (BOOK_MISTAKES, OWN_MISTAKES, CASE_MISTAKES) for made in table.values() for entry in made]
    kinds = {re.sub(r"^\S+(?: `.*?`)? ", "", entry).split(" ")[0] for entry in met if isinstance(entry, str)}
    assert kinds == set(WORDING)
