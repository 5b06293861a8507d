# ruff: noqa: E501 - messages as they are printed
"""Every message about a mistake in a rule, case or overlay file, word for word: place, line, mark, and how to mend it.

When a message is bettered, better it here. What a message must have is checked of all of them at the end.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from test_rulebook import SMALL

from diagnose.rulebook import RuleError, load_rules
from diagnose.workshop.trials import read_case, run_case
from diagnose.yamlfile import InputProblems

FINDINGS, STATES, CHECKS, SOURCES = "findings.yaml", "states.yaml", "checks.yaml", "sources.yaml"
READINESS, CAUTIONS, RULES, CHANGES = "readiness.yaml", "cautions.yaml", "rules.yaml", "changes.yaml"
LOW_CHARGE, OVERCHARGE = "faults/low-charge.yaml", "faults/overcharge.yaml"
OVERCHARGE_RULES = SMALL[OVERCHARGE].split("rules:\n")[1]

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

# In each: (file, text, what stands in its place), further files, and everything that is printed.
BOOK_MISTAKES: dict[str, tuple[list[tuple[str, str, str]], dict[str, str], str]] = {
    'a finding that a fault makes, misspelt': ([(OVERCHARGE, 'rules:', 'brings:\n  - findings: {superheet: low}\n    source: book\nrules:')], {}, """\
rules/faults/overcharge.yaml:7:16: `superheet` is not a finding
    7 |   - findings: {superheet: low}
      |                ^^^^^^^^^
      Did you mean `superheat`?
"""),
    'a word that a fault makes, misspelt': ([(OVERCHARGE, 'rules:', 'brings:\n  - findings: {superheat: [low, lwo]}\n    source: book\nrules:')], {}, """\
rules/faults/overcharge.yaml:7:33: `lwo` is not a word of `superheat`
    7 |   - findings: {superheat: [low, lwo]}
      |                                 ^^^
      Did you mean `low`?
"""),
    'a finding misspelt': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheet: low}')], {}, """\
rules/faults/overcharge.yaml:9:12: `superheet` is not a finding or a state
    9 |     when: {superheet: low}
      |            ^^^^^^^^^
      Did you mean `superheat`?
"""),
    'a finding far from any': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {colour: low}')], {}, """\
rules/faults/overcharge.yaml:9:12: `colour` is not a finding or a state
    9 |     when: {colour: low}
      |            ^^^^^^
      Known: feed, superheat, air filter.
"""),
    'a word misspelt': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: lwo}')], {}, """\
rules/faults/overcharge.yaml:9:23: `lwo` is not a word of `superheat`
    9 |     when: {superheat: lwo}
      |                       ^^^
      Did you mean `low`?
"""),
    'one wrong word of a list': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: [low, nromal]}')], {}, """\
rules/faults/overcharge.yaml:9:29: `nromal` is not a word of `superheat`
    9 |     when: {superheat: [low, nromal]}
      |                             ^^^^^^
      Did you mean `normal`?
"""),
    'not, before a word that is none': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: not hihg}')], {}, """\
rules/faults/overcharge.yaml:9:23: `hihg` is not a word of `superheat`
    9 |     when: {superheat: not hihg}
      |                       ^^^^^^^^
      Did you mean `high`?
"""),
    'no where it is no word': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: no}')], {}, """\
rules/faults/overcharge.yaml:9:23: `no` is not a word of `superheat`
    9 |     when: {superheat: no}
      |                       ^^
      Known: low, normal, high.
"""),
    'true for a word': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: true}')], {}, """\
rules/faults/overcharge.yaml:9:23: `true` is not a word of `superheat`
    9 |     when: {superheat: true}
      |                       ^^^^
      Known: low, normal, high.
"""),
    'a number for a word': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: 12}')], {}, """\
rules/faults/overcharge.yaml:9:23: `12` is not a word of `superheat`
    9 |     when: {superheat: 12}
      |                       ^^
      Known: low, normal, high.
"""),
    'no word': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: }')], {}, """\
rules/faults/overcharge.yaml:9:23: `superheat` has no word here
    9 |     when: {superheat: }
      |                       ^
      Write one of: low, normal, high.
"""),
    'an empty list of words': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: []}')], {}, """\
rules/faults/overcharge.yaml:9:23: `superheat` has no word here
    9 |     when: {superheat: []}
      |                       ^^
      Write one of: low, normal, high.
"""),
    'a group for a word': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: {over: 12}}')], {}, """\
rules/faults/overcharge.yaml:9:23: a group is not a word of `superheat`
    9 |     when: {superheat: {over: 12}}
      |                       ^^^^^^^^^^
      Write one of: low, normal, high; or several as `[one, two]`.
"""),
    'when as a sentence': ([(OVERCHARGE, 'when: {superheat: low}', 'when: superheat is low')], {}, """\
rules/faults/overcharge.yaml:9:11: `when` must be a group of fields, not `superheat is low`
    9 |     when: superheat is low
      |           ^^^^^^^^^^^^^^^^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'when as a list': ([(OVERCHARGE, 'when: {superheat: low}', 'when: [superheat]')], {}, """\
rules/faults/overcharge.yaml:9:11: `when` must be a group of fields, not a list
    9 |     when: [superheat]
      |           ^^^^^^^^^^^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'when without anything': ([(OVERCHARGE, 'when: {superheat: low}', 'when:')], {}, """\
rules/faults/overcharge.yaml:9:10: `when` must be a group of fields, not nothing
    9 |     when:
      |          ^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'no when': ([(OVERCHARGE, '    when: {superheat: low}\n', '')], {}, """\
rules/faults/overcharge.yaml:7:9: `overcharge/flooded` has no `when`
    7 |   - id: overcharge/flooded
      |         ^^^^^^^^^^^^^^^^^^
      A rule speaks only when something was found, for example `when: {superheat: high}`.
"""),
    'any without a list': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {any: {superheat: low}}')], {}, """\
rules/faults/overcharge.yaml:9:17: `any` must be a list of `finding: word` groups
    9 |     when: {any: {superheat: low}}
      |                 ^^^^^^^^^^^^^^^^
      For example `any: [{air filter: dirty}, {indoor coil: dirty}]`.
"""),
    'any of nothing': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: low, any: []}')], {}, """\
rules/faults/overcharge.yaml:9:33: `any` must be a list of `finding: word` groups
    9 |     when: {superheat: low, any: []}
      |                                 ^^
      For example `any: [{air filter: dirty}, {indoor coil: dirty}]`.
"""),
    'any with an empty way': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: low, any: [{}]}')], {}, """\
rules/faults/overcharge.yaml:9:33: `any` must be a list of `finding: word` groups
    9 |     when: {superheat: low, any: [{}]}
      |                                 ^^^^
      For example `any: [{air filter: dirty}, {indoor coil: dirty}]`.
"""),
    'any that contradicts': ([(OVERCHARGE, 'when: {superheat: low}', 'when: {superheat: low, any: [{superheat: high}]}')], {}, """\
rules/faults/overcharge.yaml:9:11: rule `overcharge/flooded` with map 1 of its `any:` leaves no word that `superheat` may have, so it can never hold
    9 |     when: {superheat: low, any: [{superheat: high}]}
      |           ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
      Allow at least one word of `superheat`, the same one wherever the rule names it.
"""),
    'a source misspelt': ([(OVERCHARGE, 'source: book\n    tests', 'source: bok\n    tests')], {}, """\
rules/faults/overcharge.yaml:12:13: `bok` is not a source
   12 |     source: bok
      |             ^^^
      Did you mean `book`?
"""),
    'a second source misspelt': ([(OVERCHARGE, 'source: book\n    tests', 'source: [book, p. 3, bok]\n    tests')], {}, """\
rules/faults/overcharge.yaml:12:26: `bok` is not a source
   12 |     source: [book, p. 3, bok]
      |                          ^^^
      Did you mean `book`?
"""),
    'no source': ([(OVERCHARGE, 'source: book\n    tests', 'source: []\n    tests')], {}, """\
rules/faults/overcharge.yaml:12:13: no source is named
   12 |     source: []
      |             ^^
      A name from sources.yaml; `common-practice` where nothing was read.
"""),
    'a source without anything': ([(OVERCHARGE, 'source: book\n    tests', 'source:\n    tests')], {}, """\
rules/faults/overcharge.yaml:12:12: no source is named
   12 |     source:
      |            ^
      A name from sources.yaml; `common-practice` where nothing was read.
"""),
    'a colon in the place in a source': ([(OVERCHARGE, 'source: book\n    tests', 'source: [book, p. 3: top]\n    tests')], {}, """\
rules/faults/overcharge.yaml:12:20: item 2 of the list must be a text, not a group of fields
   12 |     source: [book, p. 3: top]
      |                    ^^^^^^^^^
      Put a text with a colon, a comma or a bracket in it between quotes.
"""),
    'a check misspelt': ([(LOW_CHARGE, 'check: look', 'check: lok')], {}, """\
rules/faults/low-charge.yaml:15:12: `lok` is not a check
   15 |     check: lok
      |            ^^^
      Did you mean `look`?
"""),
    'a fault misspelt': ([(LOW_CHARGE, 'overcharge: Both', 'overchage: Both')], {}, """\
rules/faults/low-charge.yaml:7:14: `overchage` is not a fault
    7 | looks_like: {overchage: Both are wrong.}
      |              ^^^^^^^^^
      Did you mean `overcharge`?
"""),
    'a fault that looks like itself': ([(LOW_CHARGE, 'overcharge: Both', 'low-charge: Both')], {}, """\
rules/faults/low-charge.yaml:7:14: this is the fault itself
    7 | looks_like: {low-charge: Both are wrong.}
      |              ^^^^^^^^^^
      Name another fault.
"""),
    'a figure that the rule does not read': ([(OVERCHARGE, 'why: Superheat is {superheat}.', 'why: >\n      Superheat is low.\n      The filter is {air filter}.')], {}, """\
rules/faults/overcharge.yaml:13:21: `{air filter}` is not among the findings of this rule's `when`
   13 |       The filter is {air filter}.
      |                     ^^^^^^^^^^^^
      Known: superheat.
"""),
    'a figure misspelt': ([(OVERCHARGE, '{superheat}.', '{superhaet}.')], {}, """\
rules/faults/overcharge.yaml:11:23: `{superhaet}` is not among the findings of this rule's `when`
   11 |     why: Superheat is {superhaet}.
      |                       ^^^^^^^^^^^
      Did you mean `superheat`?
"""),
    'a figure without a name': ([(OVERCHARGE, '{superheat}.', '{}.')], {}, """\
rules/faults/overcharge.yaml:11:23: `{}` is not among the findings of this rule's `when`
   11 |     why: Superheat is {}.
      |                       ^^
      Known: superheat.
"""),
    'a brace that is not closed': ([(OVERCHARGE, '{superheat}.', '{superheat.')], {}, """\
rules/faults/overcharge.yaml:11:23: a `{` stands alone here
   11 |     why: Superheat is {superheat.
      |                       ^
      A figure is written `{superheat}`; other braces are not used.
"""),
    'a figure in a rule that reads nothing': ([(CAUTIONS, 'why: It is cold.', 'why: "It is {superheat}."')], {}, """\
rules/cautions.yaml:2:63: `{superheat}` is not among the findings of this rule's `when`
    2 |   - {id: caution/gloves, title: Gloves, rank: 30, why: "It is {superheat}.", source: book}
      |                                                               ^^^^^^^^^^^
      This rule reads nothing: write it without braces.
"""),
    'too many points': ([(OVERCHARGE, 'points: 2', 'points: 5')], {}, """\
rules/faults/overcharge.yaml:10:13: 5 points are out of range
   10 |     points: 5
      |             ^
      From -4 to 4 and not 0: each point doubles, or halves, the odds of the fault.
"""),
    'no points at all': ([(OVERCHARGE, 'points: 2', 'points: 0')], {}, """\
rules/faults/overcharge.yaml:10:13: 0 points are out of range
   10 |     points: 0
      |             ^
      From -4 to 4 and not 0: each point doubles, or halves, the odds of the fault.
"""),
    'points in words': ([(OVERCHARGE, 'points: 2', 'points: two')], {}, """\
rules/faults/overcharge.yaml:10:13: `points` must be a number, not `two`
   10 |     points: two
      |             ^^^
      Write the number alone, for example `1.5`.
"""),
    'points with a comma': ([(OVERCHARGE, 'points: 2', 'points: 1,5')], {}, """\
rules/faults/overcharge.yaml:10:13: `points` must be a number, not `1,5`
   10 |     points: 1,5
      |             ^^^
      Write a decimal point: `1.5`.
"""),
    'points that are a truth': ([(OVERCHARGE, 'points: 2', 'points: true')], {}, """\
rules/faults/overcharge.yaml:10:13: `true` is not a number
   10 |     points: true
      |             ^^^^
      Write the number alone, for example `1.5`.
"""),
    'points without a number': ([(OVERCHARGE, 'points: 2', 'points:')], {}, """\
rules/faults/overcharge.yaml:10:12: `points` must be a number, not nothing
   10 |     points:
      |            ^
      Write it after the colon.
"""),
    'usual out of range': ([(OVERCHARGE, 'usual: 0', 'usual: 9')], {}, """\
rules/faults/overcharge.yaml:3:8: `usual` cannot be 9
    3 | usual: 9
      |        ^
      From -4 to 4: each point doubles, or halves, the odds of the fault.
"""),
    'a charge that is none': ([(LOW_CHARGE, 'charge: low', 'charge: lwo')], {}, """\
rules/faults/low-charge.yaml:5:9: `lwo` is not known for `charge`
    5 | charge: lwo
      |         ^^^
      Did you mean `low`?
"""),
    'a field misspelt': ([(OVERCHARGE, 'points: 2', 'pionts: 2')], {}, """\
rules/faults/overcharge.yaml:7:5: `points` is missing
    7 |   - id: overcharge/flooded
      |     ^^^^^^^^^^^^^^^^^^^^^^
      Add it to this entry.

rules/faults/overcharge.yaml:10:5: `pionts` is not a field here
   10 |     pionts: 2
      |     ^^^^^^
      Did you mean `points`?
"""),
    'a field of another kind of rule': ([(OVERCHARGE, 'points: 2', 'points: 2\n    concludes: {feed: starved}')], {}, """\
rules/faults/overcharge.yaml:11:5: `concludes` is not a field here
   11 |     concludes: {feed: starved}
      |     ^^^^^^^^^
      Known here: applies, check, id, points, source, tests, title, when, why.
"""),
    'a title that is a number': ([(OVERCHARGE, 'title: It is flooded', 'title: 410')], {}, """\
rules/faults/overcharge.yaml:8:12: `title` must be a text, not the number 410
    8 |     title: 410
      |            ^^^
      Put it between quotes: "410".
"""),
    'an empty title': ([(OVERCHARGE, 'title: It is flooded', 'title: "  "')], {}, """\
rules/faults/overcharge.yaml:8:12: this text is empty
    8 |     title: "  "
      |            ^^^^
      Write a sentence.
"""),
    'an id with capitals': ([(OVERCHARGE, 'id: overcharge/flooded', 'id: overcharge/Flooded Coil')], {}, """\
rules/faults/overcharge.yaml:7:9: `overcharge/Flooded Coil` is not an id
    7 |   - id: overcharge/Flooded Coil
      |         ^^^^^^^^^^^^^^^^^^^^^^^
      Small letters, digits and hyphens, for example `find-the-leak`.
"""),
    'an id of another fault': ([(OVERCHARGE, 'id: overcharge/flooded', 'id: low-charge/flooded')], {}, """\
rules/faults/overcharge.yaml:7:9: `low-charge/flooded` must begin with `overcharge/`
    7 |   - id: low-charge/flooded
      |         ^^^^^^^^^^^^^^^^^^
      For example `overcharge/flooded`.
"""),
    "an id that is the fault's name": ([(OVERCHARGE, 'id: overcharge/flooded', 'id: overcharge')], {}, """\
rules/faults/overcharge.yaml:7:9: `overcharge` must begin with `overcharge/`
    7 |   - id: overcharge
      |         ^^^^^^^^^^
      For example `overcharge/what-is-seen`.
"""),
    'an id twice in a file': ([(OVERCHARGE, OVERCHARGE_RULES, '  - id: overcharge/flooded\n    title: It is flooded\n    when: {superheat: low}\n    points: 2\n    why: Superheat is {superheat}.\n    source: book\n    tests:\n      - fires: {superheat: low}\n      - quiet: {superheat: high}\n  - id: overcharge/flooded\n    title: It is flooded\n    when: {superheat: normal}\n    points: 2\n    why: Superheat is {superheat}.\n    source: book\n    tests:\n      - fires: {superheat: normal}\n      - quiet: {superheat: high}\n')], {}, """\
rules/faults/overcharge.yaml:16:9: `overcharge/flooded` is already the id of a rule in rules/faults/overcharge.yaml:7
   16 |   - id: overcharge/flooded
      |         ^^^^^^^^^^^^^^^^^^
      Rename one.
"""),
    'an id twice in two files': ([(CAUTIONS, 'id: caution/gloves', 'id: state/starved')], {}, """\
rules/cautions.yaml:2:10: `state/starved` is already the id of a rule in rules/states.yaml:4
    2 |   - {id: state/starved, title: Gloves, rank: 30, why: It is cold., source: book}
      |          ^^^^^^^^^^^^^
      Rename one.
"""),
    'two rules with the same when': ([(OVERCHARGE, OVERCHARGE_RULES, '  - id: overcharge/flooded\n    title: It is flooded\n    when: {superheat: low}\n    points: 2\n    why: Superheat is {superheat}.\n    source: book\n    tests:\n      - fires: {superheat: low}\n      - quiet: {superheat: high}\n  - id: overcharge/again\n    title: It is flooded\n    when: {superheat: low}\n    points: 2\n    why: Superheat is {superheat}.\n    source: book\n    tests:\n      - fires: {superheat: low}\n      - quiet: {superheat: high}\n')], {}, """\
rules/faults/overcharge.yaml:18:11: `overcharge/again` asks for the same as `overcharge/flooded` in rules/faults/overcharge.yaml:7
   18 |     when: {superheat: low}
      |           ^^^^^^^^^^^^^^^^
      Keep one of them.
"""),
    'a machine fact misspelt': ([(OVERCHARGE, 'points: 2', 'applies: {meterng: TXV}\n    points: 2')], {}, """\
rules/faults/overcharge.yaml:10:15: `meterng` is not a machine fact
   10 |     applies: {meterng: TXV}
      |               ^^^^^^^
      Did you mean `metering`?
"""),
    'a metering device that is none': ([(OVERCHARGE, 'points: 2', 'applies: {metering: [TXV, piston]}\n    points: 2')], {}, """\
rules/faults/overcharge.yaml:10:31: `piston` is not a word of `metering`
   10 |     applies: {metering: [TXV, piston]}
      |                               ^^^^^^
      Known: fixed orifice, TXV, EEV.
"""),
    'a refrigerant spelt otherwise': ([(OVERCHARGE, 'points: 2', 'applies: {refrigerant: R410A}\n    points: 2')], {}, """\
rules/faults/overcharge.yaml:10:28: `R410A` is not a word of `refrigerant`
   10 |     applies: {refrigerant: R410A}
      |                            ^^^^^
      Did you mean `R-410A`?
"""),
    'applies to nothing': ([(OVERCHARGE, 'points: 2', 'applies: {metering: []}\n    points: 2')], {}, """\
rules/faults/overcharge.yaml:10:25: `metering` has no word here
   10 |     applies: {metering: []}
      |                         ^^
      Write one of: fixed orifice, TXV, EEV.
"""),
    'no test that fires': ([(OVERCHARGE, '      - fires: {superheat: low}\n', '')], {}, """\
rules/faults/overcharge.yaml:7:9: `overcharge/flooded` has no test that makes it fire
    7 |   - id: overcharge/flooded
      |         ^^^^^^^^^^^^^^^^^^
      Add one under `tests:`, for example `- fires: {superheat: high}`.
"""),
    'no test that leaves it quiet': ([(OVERCHARGE, '      - quiet: {superheat: high}\n', '')], {}, """\
rules/faults/overcharge.yaml:7:9: `overcharge/flooded` has no test that leaves it quiet
    7 |   - id: overcharge/flooded
      |         ^^^^^^^^^^^^^^^^^^
      Add one under `tests:`, for example `- quiet: {superheat: high}`.
"""),
    'a test that says both': ([(OVERCHARGE, '- fires: {superheat: low}', '- fires: {superheat: low}\n        quiet: {superheat: high}')], {}, """\
rules/faults/overcharge.yaml:14:9: this test says both `fires` and `quiet`
   14 |       - fires: {superheat: low}
      |         ^^^^^^^^^^^^^^^^^^^^^^^
      Make two tests of it.
"""),
    'a test that says neither': ([(OVERCHARGE, '- fires: {superheat: low}', '- because: it is flooded\n      - fires: {superheat: low}')], {}, """\
rules/faults/overcharge.yaml:14:9: this test says neither `fires` nor `quiet`
   14 |       - because: it is flooded
      |         ^^^^^^^^^^^^^^^^^^^^^^
      Write one of them, for example `fires: {superheat: high}`.
"""),
    'a test with a list of words': ([(OVERCHARGE, '- fires: {superheat: low}', '- fires: {superheat: [low, normal]}')], {}, """\
rules/faults/overcharge.yaml:14:28: `superheat` must be a text, not a list
   14 |       - fires: {superheat: [low, normal]}
      |                            ^^^^^^^^^^^^^
      Write one alone: `low`.
"""),
    'a test with a word misspelt': ([(OVERCHARGE, '- fires: {superheat: low}', '- fires: {superheat: lo}')], {}, """\
rules/faults/overcharge.yaml:14:28: `lo` is not a word of `superheat`
   14 |       - fires: {superheat: lo}
      |                            ^^
      Did you mean `low`?
"""),
    'a test with a finding misspelt': ([(OVERCHARGE, '- fires: {superheat: low}', '- fires: {superhaet: low}')], {}, """\
rules/faults/overcharge.yaml:14:17: `superhaet` is not a finding
   14 |       - fires: {superhaet: low}
      |                 ^^^^^^^^^
      Did you mean `superheat`?
"""),
    'a test on a state': ([(LOW_CHARGE, '- fires: {superheat: high}', '- fires: {feed: starved}')], {}, """\
rules/faults/low-charge.yaml:17:17: `feed` is not a finding
   17 |       - fires: {feed: starved}
      |                 ^^^^
      It is a state: give the findings it is concluded from.
"""),
    'tests without hyphens': ([(OVERCHARGE, '      - fires: {superheat: low}\n      - quiet: {superheat: high}\n', '      fires: {superheat: low}\n      quiet: {superheat: high}\n')], {}, """\
rules/faults/overcharge.yaml:14:7: `tests` must be a list, not a group of fields
   14 |       fires: {superheat: low}
      |       ^^^^^^^^^^^^^^^^^^^^^^^
      Begin each of its entries with `- `.
"""),
    'a repair that is a sentence': ([(OVERCHARGE, 'what: Too much.', 'what: Too much.\nrepair: {do: Take some out., expect: Subcooling falls.}')], {}, """\
rules/faults/overcharge.yaml:6:14: `do` must be a list, not `Take some out.`
    6 | repair: {do: Take some out., expect: Subcooling falls.}
      |              ^^^^^^^^^^^^^^
      Write `[Take some out.]`.
"""),
    'a repair without steps': ([(OVERCHARGE, 'what: Too much.', 'what: Too much.\nrepair: {do: [], expect: Subcooling falls.}')], {}, """\
rules/faults/overcharge.yaml:6:14: this list is empty
    6 | repair: {do: [], expect: Subcooling falls.}
      |              ^^
      Write one entry at least.
"""),
    'rules without anything': ([(OVERCHARGE, OVERCHARGE_RULES, '')], {}, """\
rules/faults/overcharge.yaml:6:7: `rules` must be a list, not nothing
    6 | rules:
      |       ^
      Write its entries below, each beginning with `- `.
"""),
    'a rule that is a word': ([(OVERCHARGE, '  - id: overcharge/flooded', '  - flooded\n  - id: overcharge/flooded')], {}, """\
rules/faults/overcharge.yaml:7:5: item 1 of the list must be a group of fields, not `flooded`
    7 |   - flooded
      |     ^^^^^^^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'a file not named after its fault': ([(OVERCHARGE, 'fault: overcharge', 'fault: overfull'), (LOW_CHARGE, 'overcharge: Both', 'overfull: Both'), (OVERCHARGE, 'id: overcharge/', 'id: overfull/')], {}, """\
rules/faults/overcharge.yaml:1:8: the file is not named after the fault `overfull`
    1 | fault: overfull
      |        ^^^^^^^^
      Call the file `overfull.yaml`, or write `fault: overcharge`.
"""),
    'an empty file': ([(OVERCHARGE, SMALL[OVERCHARGE], '')], {}, """\
rules/faults/overcharge.yaml: there is nothing in this file
      It begins with `fault:`.
"""),
    'a file that is a list': ([(OVERCHARGE, SMALL[OVERCHARGE], '- fault: overcharge\n')], {}, """\
rules/faults/overcharge.yaml:1:1: the file must be a group of fields, not a list
    1 | - fault: overcharge
      | ^^^^^^^^^^^^^^^^^^^
      It begins with `fault:`.
"""),
    'a colon in a sentence': ([(OVERCHARGE, 'why: Superheat is {superheat}.', 'why: Look here: superheat is {superheat}.')], {}, """\
rules/faults/overcharge.yaml:11:19: this colon cannot stand here
   11 |     why: Look here: superheat is {superheat}.
      |                   ^
      Put a text with a colon in it between quotes, or indent this line like the ones above it.
"""),
    'a sentence that begins with a brace': ([(OVERCHARGE, 'why: Superheat is {superheat}.', 'why: {superheat} is low.')], {}, """\
rules/faults/overcharge.yaml:11:22: something stands after the end of the value
   11 |     why: {superheat} is low.
      |                      ^
      Put the whole text between quotes; a quote inside single quotes is written twice.
"""),
    'a quotation mark never closed': ([(OVERCHARGE, 'what: Too much.', 'what: "Too much.')], {}, """\
rules/faults/overcharge.yaml:5:7: a quotation mark is opened and not closed
    5 | what: "Too much.
      |       ^
      Close it; a quote inside single quotes is written twice.
"""),
    'an apostrophe between single quotes': ([(OVERCHARGE, 'what: Too much.', "what: 'It's too much.'")], {}, """\
rules/faults/overcharge.yaml:5:11: something stands after the end of the value
    5 | what: 'It's too much.'
      |           ^
      Put the whole text between quotes; a quote inside single quotes is written twice.
"""),
    'a quoted word first': ([(OVERCHARGE, 'what: Too much.', 'what: "Too" much.')], {}, """\
rules/faults/overcharge.yaml:5:13: something stands after the end of the value
    5 | what: "Too" much.
      |             ^
      Put the whole text between quotes; a quote inside single quotes is written twice.
"""),
    'curly quotes': ([(OVERCHARGE, 'what: Too much.', 'what: “Too much: a fault”')], {}, """\
rules/faults/overcharge.yaml:5:16: this colon cannot stand here
    5 | what: “Too much: a fault”
      |                ^
      The quotes here are curly ones, which do not count; type straight ones: "...".
"""),
    'a tab': ([(OVERCHARGE, '    points: 2', '\tpoints: 2')], {}, """\
rules/faults/overcharge.yaml:10:1: a tab stands before the first word
   10 |  points: 2
      | ^
      Indent with spaces.
"""),
    'a line out of line': ([(OVERCHARGE, '    points: 2', '   points: 2')], {}, """\
rules/faults/overcharge.yaml:10:4: this line does not line up with the list above it
   10 |    points: 2
      |    ^
      Indent what belongs together by the same number of spaces.
"""),
    'a colon left out': ([(OVERCHARGE, 'points: 2', 'points 2')], {}, """\
rules/faults/overcharge.yaml:10:5: this is not a name followed by a colon
   10 |     points 2
      |     ^^^^^^^^
      Write `name: value`, with a space after the colon.
"""),
    'no space after the colon': ([(OVERCHARGE, 'points: 2', 'points:2')], {}, """\
rules/faults/overcharge.yaml:10:5: this is not a name followed by a colon
   10 |     points:2
      |     ^^^^^^^^
      Write `name: value`, with a space after the colon.
"""),
    'a bracket left open': ([(CHECKS, 'gives: [air filter]}', 'gives: [air filter}')], {}, """\
rules/checks.yaml:2:75: a list that begins with `[` goes wrong here
    2 |   - {check: look, ask: Look., why: To see., minutes: 5, gives: [air filter}
      |                                                                           ^
      Write `[one, two]`, and close it with `]`.
"""),
    'a comma in a text between braces': ([(STATES, 'question: "Fed?"', 'question: Is it fed, or not')], {}, """\
rules/states.yaml:2:40: `or not` is not a field here
    2 |   - {state: feed, question: Is it fed, or not, words: [starved, fed]}
      |                                        ^^^^^^
      Put a text with a comma in it between quotes. Known here: means, question, state, words.
"""),
    'a name twice': ([(OVERCHARGE, 'points: 2', 'points: 2\n    points: 3')], {}, """\
rules/faults/overcharge.yaml:11:5: `points` is written twice here, first in line 10
   11 |     points: 3
      |     ^^^^^^
      Keep one of them.
"""),
    'a source twice': ([(SOURCES, 'sources:\n', 'sources:\n  book: {title: B, confidence: read}\n')], {}, """\
rules/sources.yaml:3:3: `book` is written twice here, first in line 2
    3 |   book: {title: A book, confidence: read}
      |   ^^^^
      Keep one of them.
"""),
    'anchors': ([(OVERCHARGE, 'points: 2', 'points: &much 2'), (OVERCHARGE, 'usual: 0', 'usual: *much')], {}, """\
rules/faults/overcharge.yaml:3:8: anchors are not used in these files
    3 | usual: *much
      |        ^^^^^
      Take out every word that begins with `&`, and write the value out in place of each `*`.
"""),
    'a tag': ([(OVERCHARGE, 'points: 2', 'points: !!python/name:os.system 2')], {}, """\
rules/faults/overcharge.yaml:10:13: tags are not used in these files
   10 |     points: !!python/name:os.system 2
      |             ^^^^^^^^^^^^^^^^^^^^^^^^^
      Take out the word that begins with `!`.
"""),
    'a second document': ([(OVERCHARGE, 'rules:\n', '---\nrules:\n')], {}, """\
rules/faults/overcharge.yaml:6:1: a second document begins here
    6 | ---
      | ^^^
      Keep one document in a file; take out the `---`.
"""),
    'a list item below a text': ([(CAUTIONS, 'rules:\n', 'rules: none\n')], {}, """\
rules/cautions.yaml:2:3: this list item is read as part of the text above it
    2 |   - {id: caution/gloves, title: Gloves, rank: 30, why: It is cold., source: book}
      |   ^
      Take out the text after the colon above, or put it between quotes.
"""),
    'one word only': ([(FINDINGS, 'words: [low, normal, high]', 'words: [low]')], {}, """\
rules/findings.yaml:5:12: there are fewer than two words
    5 |     words: [low]
      |            ^^^^^
      For example `words: [low, normal, high]`.
"""),
    'a word twice': ([(FINDINGS, 'words: [low, normal, high]', 'words: [low, low, high]')], {}, """\
rules/findings.yaml:5:12: `low` is there twice
    5 |     words: [low, low, high]
      |            ^^^^^^^^^^^^^^^^
      Each word once.
"""),
    'a word that means any other': ([(FINDINGS, 'words: [clean, dirty]', 'words: [clean, not clean]')], {}, """\
rules/findings.yaml:11:76: `not clean` cannot be a word beside `clean`
   11 |   - {finding: air filter, what: the filter, seen: true, ask: Look., words: [clean, not clean]}
      |                                                                            ^^^^^^^^^^^^^^^^^^
      `not` before a word means any other word.
"""),
    'words that are truths': ([(FINDINGS, 'words: [clean, dirty]', 'words: [true, false]')], {}, """\
rules/findings.yaml:11:77: item 1 of the list must be a text, not true
   11 |   - {finding: air filter, what: the filter, seen: true, ask: Look., words: [true, false]}
      |                                                                             ^^^^
      Put it between quotes: "true".

rules/findings.yaml:11:83: item 2 of the list must be a text, not false
   11 |   - {finding: air filter, what: the filter, seen: true, ask: Look., words: [true, false]}
      |                                                                                   ^^^^^
      Put it between quotes: "false".
"""),
    'a finding twice': ([(FINDINGS, 'finding: air filter', 'finding: superheat'), (CHECKS, 'gives: [air filter]', 'gives: [superheat]')], {}, """\
rules/findings.yaml:11:15: `superheat` is already a finding in rules/findings.yaml:2
   11 |   - {finding: superheat, what: the filter, seen: true, ask: Look., words: [clean, dirty]}
      |               ^^^^^^^^^
      Keep one of them, or give this one another name.
"""),
    'a finding called any': ([(FINDINGS, 'finding: air filter', 'finding: any')], {}, """\
rules/findings.yaml:11:15: `any` is not a name
   11 |   - {finding: any, what: the filter, seen: true, ask: Look., words: [clean, dirty]}
      |               ^^^
      One or a few words, for example `coil superheat`; without brackets, colons and commas, and not `any`.
"""),
    'a finding that is a number': ([(FINDINGS, 'finding: air filter', 'finding: 3')], {}, """\
rules/findings.yaml:11:15: `finding` must be a text, not the number 3
   11 |   - {finding: 3, what: the filter, seen: true, ask: Look., words: [clean, dirty]}
      |               ^
      Put it between quotes: "3".
"""),
    'neither seen nor worked out': ([(FINDINGS, '    quantity: superheat\n', '')], {}, """\
rules/findings.yaml:2:14: `superheat` is neither seen nor worked out
    2 |   - finding: superheat
      |              ^^^^^^^^^
      Write `seen: true`, or `quantity:` and its `scales:`.
"""),
    'seen and worked out': ([(FINDINGS, 'seen: true', 'seen: true, quantity: superheat')], {}, """\
rules/findings.yaml:11:51: `air filter` is seen, so it has no quantity and no scales
   11 |   - {finding: air filter, what: the filter, seen: true, quantity: superheat, ask: Look., words: [clean, dirty]}
      |                                                   ^^^^
      Take out `quantity` and `scales`, or `seen`.
"""),
    'seen, perhaps': ([(FINDINGS, 'seen: true', 'seen: maybe')], {}, """\
rules/findings.yaml:11:51: `seen` must be true or false, not `maybe`
   11 |   - {finding: air filter, what: the filter, seen: maybe, ask: Look., words: [clean, dirty]}
      |                                                   ^^^^^
      Write `true` or `false`.
"""),
    'a quantity misspelt': ([(FINDINGS, 'quantity: superheat', 'quantity: superheet')], {}, """\
rules/findings.yaml:4:15: `superheet` is not a quantity
    4 |     quantity: superheet
      |               ^^^^^^^^^
      Did you mean `superheat`?
"""),
    'a quantity far from any': ([(FINDINGS, 'quantity: superheat', 'quantity: colour')], {}, """\
rules/findings.yaml:4:15: `colour` is not a quantity
    4 |     quantity: colour
      |               ^^^^^^
      What is looked at is `seen: true`; DEVELOPERS.md says how to add a quantity.
"""),
    'no scale': ([(FINDINGS, '    scales:\n      - by: value\n        limits: [5 F, 20 F]\n        source: book\n        why: Judgement.\n', '')], {}, """\
rules/findings.yaml:2:14: `superheat` has no scale
    2 |   - finding: superheat
      |              ^^^^^^^^^
      Give its limits under `scales:`.
"""),
    'too few limits': ([(FINDINGS, 'limits: [5 F, 20 F]', 'limits: [5 F 20 F]')], {}, """\
rules/findings.yaml:8:17: 3 words have 2 limits between them, not 1
    8 |         limits: [5 F 20 F]
      |                 ^^^^^^^^^^
      The words are [low, normal, high]: one limit between each two of them.
"""),
    'limits without brackets': ([(FINDINGS, 'limits: [5 F, 20 F]', 'limits: 5 F, 20 F')], {}, """\
rules/findings.yaml:8:17: `limits` must be a list, not `5 F, 20 F`
    8 |         limits: 5 F, 20 F
      |                 ^^^^^^^^^
      Write `[5 F, 20 F]`.
"""),
    'limits that fall': ([(FINDINGS, 'limits: [5 F, 20 F]', 'limits: [20 F, 5 F]')], {}, """\
rules/findings.yaml:8:17: the limits do not rise
    8 |         limits: [20 F, 5 F]
      |                 ^^^^^^^^^^^
      Write them from low to high.
"""),
    'a limit without a unit': ([(FINDINGS, 'limits: [5 F, 20 F]', 'limits: [5, 20 F]')], {}, """\
rules/findings.yaml:8:17: `5` has no unit
    8 |         limits: [5, 20 F]
      |                 ^^^^^^^^^
      Write the unit, for example `5 F`.
"""),
    'a limit in the wrong unit': ([(FINDINGS, 'limits: [5 F, 20 F]', 'limits: [5 psig, 20 F]')], {}, """\
rules/findings.yaml:8:17: `psig` is a pressure; a temperature difference is wanted here
    8 |         limits: [5 psig, 20 F]
      |                 ^^^^^^^^^^^^^^
      Write a number and its unit, for example `10 F`.
"""),
    'a spread without a unit': ([(FINDINGS, 'by: value', 'by: difference\n        spread: 3')], {}, """\
rules/findings.yaml:8:17: `3` has no unit
    8 |         spread: 3
      |                 ^
      Write the unit, for example `3 F`.
"""),
    'by its value against a good day': ([(FINDINGS, 'by: value', 'by: value\n        target: baseline')], {}, """\
rules/findings.yaml:7:13: `by: value` does not compare with the good day
    7 |       - by: value
      |             ^^^^^
      Write `by: difference` or `by: share`.
"""),
    'a spread about a good day': ([(FINDINGS, 'by: value', 'by: difference\n        target: baseline\n        spread: 3 F')], {}, """\
rules/findings.yaml:9:17: the spread about a good day is worked out from its readings and the weather
    9 |         spread: 3 F
      |                 ^^^
      Take `spread` out; the limits may be set wider.
"""),
    'a good day of what has no law': ([(FINDINGS, 'by: value', 'by: difference\n        target: baseline'), (FINDINGS, 'quantity: superheat', 'quantity: suction line warming')], {}, """\
rules/findings.yaml:8:17: nothing says how `suction line warming` of a good day moves with the weather
    8 |         target: baseline
      |                 ^^^^^^^^
      Without it the limits hold with a baseline as well.
"""),
    'a scale by something unknown': ([(FINDINGS, 'by: value', 'by: valu')], {}, """\
rules/findings.yaml:7:13: `valu` is not known for `by`
    7 |       - by: valu
      |             ^^^^
      Did you mean `value`?
"""),
    'minutes below nothing': ([(FINDINGS, 'seen: true', 'seen: true, minutes: -1')], {}, """\
rules/findings.yaml:11:66: -1 minutes cannot be right
   11 |   - {finding: air filter, what: the filter, seen: true, minutes: -1, ask: Look., words: [clean, dirty]}
      |                                                                  ^^
      Above 0 and up to 480, a working day.
"""),
    "a finding's source misspelt": ([(FINDINGS, 'source: book', 'source: bok')], {}, """\
rules/findings.yaml:9:17: `bok` is not a source
    9 |         source: bok
      |                 ^^^
      Did you mean `book`?
"""),
    'a state misspelt': ([(STATES, 'concludes: {feed: starved}', 'concludes: {fed: starved}')], {}, """\
rules/states.yaml:7:17: `fed` is not a state
    7 |     concludes: {fed: starved}
      |                 ^^^
      Did you mean `feed`?
"""),
    "a state's word misspelt": ([(STATES, 'concludes: {feed: starved}', 'concludes: {feed: starvd}')], {}, """\
rules/states.yaml:7:23: `starvd` is not a word of `feed`
    7 |     concludes: {feed: starvd}
      |                       ^^^^^^
      Did you mean `starved`?
"""),
    'two states at once': ([(STATES, 'concludes: {feed: starved}', 'concludes: {feed: starved, other: big}')], {}, """\
rules/states.yaml:7:16: a rule concludes one state
    7 |     concludes: {feed: starved, other: big}
      |                ^^^^^^^^^^^^^^^^^^^^^^^^^^^
      For example `concludes: {evaporator feed: starved}`.
"""),
    'a finding concluded': ([(STATES, 'concludes: {feed: starved}', 'concludes: {superheat: high}')], {}, """\
rules/states.yaml:7:17: `superheat` is not a state
    7 |     concludes: {superheat: high}
      |                 ^^^^^^^^^
      It is a finding: only states are concluded.
"""),
    'a state that concludes itself': ([(STATES, 'when: {superheat: high}', 'when: {superheat: high, feed: fed}')], {}, """\
rules/states.yaml:6:11: states conclude each other in a loop: feed -> feed (rules state/starved)
    6 |     when: {superheat: high, feed: fed}
      |           ^^^^^^^^^^^^^^^^^^^^^^^^^^^^
      Let one of these rules read findings instead of a state of the loop.
"""),
    'a state with points': ([(STATES, 'source: book', 'points: 2\n    source: book')], {}, """\
rules/states.yaml:9:5: `points` is not a field here
    9 |     points: 2
      |     ^^^^^^
      Known here: applies, check, concludes, id, source, tests, title, when, why.
"""),
    'a state called like a finding': ([(STATES, 'rules:', '  - {state: air filter, question: Q, words: [a, b]}\nrules:')], {}, """\
rules/states.yaml:3:13: `air filter` is already a finding in rules/findings.yaml:11
    3 |   - {state: air filter, question: Q, words: [a, b]}
      |             ^^^^^^^^^^
      Give the state another name.
"""),
    'a check that brings nothing known': ([(CHECKS, 'gives: [air filter]', 'gives: [air filtr]')], {}, """\
rules/checks.yaml:2:65: `air filtr` is not a finding
    2 |   - {check: look, ask: Look., why: To see., minutes: 5, gives: [air filtr]}
      |                                                                 ^^^^^^^^^
      Did you mean `air filter`?
"""),
    'a check without a list': ([(CHECKS, 'gives: [air filter]', 'gives: air filter')], {}, """\
rules/checks.yaml:2:64: `gives` must be a list, not `air filter`
    2 |   - {check: look, ask: Look., why: To see., minutes: 5, gives: air filter}
      |                                                                ^^^^^^^^^^
      Write `[air filter]`.
"""),
    'a check that takes no time': ([(CHECKS, 'minutes: 5', 'minutes: 0')], {}, """\
rules/checks.yaml:2:54: 0 minutes cannot be right
    2 |   - {check: look, ask: Look., why: To see., minutes: 0, gives: [air filter]}
      |                                                      ^
      Above 0 and up to 480, a working day.
"""),
    'a check with a unit': ([(CHECKS, 'minutes: 5', 'minutes: 5 min')], {}, """\
rules/checks.yaml:2:54: `minutes` must be a number, not `5 min`
    2 |   - {check: look, ask: Look., why: To see., minutes: 5 min, gives: [air filter]}
      |                                                      ^^^^^
      Write the number alone, for example `1.5`.
"""),
    'a check without a time': ([(CHECKS, 'minutes: 5, ', '')], {}, """\
rules/checks.yaml:2:5: `minutes` is missing
    2 |   - {check: look, ask: Look., why: To see., gives: [air filter]}
      |     ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
      Add it to this entry.
"""),
    "a check's id with spaces": ([(CHECKS, 'check: look', 'check: Look At')], {}, """\
rules/checks.yaml:2:13: `Look At` is not an id
    2 |   - {check: Look At, ask: Look., why: To see., minutes: 5, gives: [air filter]}
      |             ^^^^^^^
      Small letters, digits and hyphens, for example `find-the-leak`.
"""),
    'a check twice': ([(CHECKS, 'checks:\n', 'checks:\n  - {check: look, ask: Look., why: To see., minutes: 1}\n')], {}, """\
rules/checks.yaml:3:13: `look` is already a check in rules/checks.yaml:2
    3 |   - {check: look, ask: Look., why: To see., minutes: 5, gives: [air filter]}
      |             ^^^^
      Keep one of them, or give this one another name.
"""),
    "a source's name with spaces": ([(SOURCES, 'book:', 'The book:')], {}, """\
rules/sources.yaml:2:3: `The book` is not an id
    2 |   The book: {title: A book, confidence: read}
      |   ^^^^^^^^
      Small letters, digits and hyphens, for example `find-the-leak`.
"""),
    'a source nobody is sure of': ([(SOURCES, 'confidence: read', 'confidence: from memry')], {}, """\
rules/sources.yaml:2:37: `from memry` is not known for `confidence`
    2 |   book: {title: A book, confidence: from memry}
      |                                     ^^^^^^^^^^
      Did you mean `from memory`?
"""),
    'sources as a list': ([(SOURCES, 'sources:\n  book:', 'sources:\n  - book:')], {}, """\
rules/sources.yaml:2:3: `sources` must be a group of fields, not a list
    2 |   - book: {title: A book, confidence: read}
      |   ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'a rank in words': ([(CAUTIONS, 'rank: 30', 'rank: first')], {}, """\
rules/cautions.yaml:2:47: `rank` must be a whole number, not `first`
    2 |   - {id: caution/gloves, title: Gloves, rank: first, why: It is cold., source: book}
      |                                               ^^^^^
      Write the number alone, for example `2`.
"""),
    'a rank of nothing': ([(CAUTIONS, 'rank: 30', 'rank: 0')], {}, """\
rules/cautions.yaml:2:47: `rank` cannot be 0
    2 |   - {id: caution/gloves, title: Gloves, rank: 0, why: It is cold., source: book}
      |                                               ^
      From 1, printed first, to 99.
"""),
    'a rank between two': ([(CAUTIONS, 'rank: 30', 'rank: 1.5')], {}, """\
rules/cautions.yaml:2:47: `rank` must be a whole number, not the number 1.5
    2 |   - {id: caution/gloves, title: Gloves, rank: 1.5, why: It is cold., source: book}
      |                                               ^^^
      Write the number alone, for example `2`.
"""),
    'surer than sure': ([(READINESS, 'sure: 0.75', 'sure: 75')], {}, """\
rules/readiness.yaml:1:16: 75 cannot be right here
    1 | charge: {sure: 75, leads_by: 0.05, finest_percent: 10, source: book, why: Judgement.}
      |                ^^
      A share above 0.5 and below 1: 0.75 means right three times of four.
"""),
    'sure in percent': ([(READINESS, 'sure: 0.75', 'sure: 75 %')], {}, """\
rules/readiness.yaml:1:16: `sure` must be a number, not `75 %`
    1 | charge: {sure: 75 %, leads_by: 0.05, finest_percent: 10, source: book, why: Judgement.}
      |                ^^^^
      Write the number alone, for example `1.5`.
"""),
    'faults in one doubt misspelt': ([(READINESS, 'sure: 0.75', 'sure: 0.75, one_doubt: [[low-charge, overchage]]')], {}, """\
rules/readiness.yaml:1:47: `overchage` is not a fault
    1 | charge: {sure: 0.75, one_doubt: [[low-charge, overchage]], leads_by: 0.05, finest_percent: 10, source: book, why: Judgem...
      |                                               ^^^^^^^^^
      Did you mean `overcharge`?
"""),
    'nothing about the charge': ([(READINESS, 'charge: {sure: 0.75, leads_by: 0.05, finest_percent: 10, source: book, why: Judgement.}\n', '')], {}, """\
rules/readiness.yaml: `charge` is missing
      Say there when the charge may be judged, with `sure`, `leads_by` and `finest_percent`.
"""),
    'a rule that holds everything': ([(READINESS, 'rules: []', 'rules:\n  - {id: readiness/x, title: X, holds: everything, why: x, source: book}')], {}, """\
rules/readiness.yaml:3:40: `everything` is not known for `holds`
    3 |   - {id: readiness/x, title: X, holds: everything, why: x, source: book}
      |                                        ^^^^^^^^^^
      Write one of: visit, charge.
"""),
    'many mistakes in many files': ([(STATES, 'source: book', 'source: bok'), (LOW_CHARGE, 'check: look', 'check: lok'), (FINDINGS, 'limits: [5 F, 20 F]', 'limits: [5 F]'), (OVERCHARGE, 'points: 2', 'points: 7'), (CAUTIONS, 'rank: 30', 'rank: *thirty')], {}, """\
rules/cautions.yaml:2:47: anchors are not used in these files
    2 |   - {id: caution/gloves, title: Gloves, rank: *thirty, why: It is cold., source: book}
      |                                               ^^^^^^^
      Write the value out.

rules/faults/low-charge.yaml:15:12: `lok` is not a check
   15 |     check: lok
      |            ^^^
      Did you mean `look`?

rules/faults/overcharge.yaml:10:13: 7 points are out of range
   10 |     points: 7
      |             ^
      From -4 to 4 and not 0: each point doubles, or halves, the odds of the fault.

rules/findings.yaml:8:17: 3 words have 2 limits between them, not 1
    8 |         limits: [5 F]
      |                 ^^^^^
      The words are [low, normal, high]: one limit between each two of them.

rules/states.yaml:9:13: `bok` is not a source
    9 |     source: bok
      |             ^^^
      Did you mean `book`?
"""),
}  # fmt: skip
OWN_MISTAKES: dict[str, tuple[list[tuple[str, str, str]], dict[str, str], str]] = {
    "an id without the folder's name": ([(RULES, 'id: harbour/salt', 'id: low-charge/salt')], {}, """\
harbour/rules.yaml:2:9: `low-charge/salt` must begin with the folder's name, `harbour/`
    2 |   - id: low-charge/salt
      |         ^^^^^^^^^^^^^^^
      For example `harbour/salt`.
"""),
    "a source without the folder's name": ([(SOURCES, 'harbour-notes:', 'notes:'), (RULES, 'source: harbour-notes', 'source: notes')], {}, """\
harbour/sources.yaml:2:3: `notes` must begin with the folder's name, `harbour-`
    2 |   notes: {title: Notes, confidence: no source}
      |   ^^^^^
      For example `harbour-notes`.
"""),
    "a check without the folder's name": ([(CHECKS, 'harbour-rinse', 'rinse')], {}, """\
harbour/checks.yaml:2:13: `rinse` must begin with the folder's name, `harbour-`
    2 |   - {check: rinse, ask: Rinse., why: To see., minutes: 5}
      |             ^^^^^
      For example `harbour-rinse`.
"""),
    'a fault misspelt': ([(RULES, 'fault: low-charge', 'fault: low-chrage')], {}, """\
harbour/rules.yaml:3:12: `low-chrage` is not a fault
    3 |     fault: low-chrage
      |            ^^^^^^^^^^
      Did you mean `low-charge`?
"""),
    'no fault': ([(RULES, '    fault: low-charge\n', '')], {}, """\
harbour/rules.yaml:2:5: `fault` is missing
    2 |   - id: harbour/salt
      |     ^^^^^^^^^^^^^^^^
      Add it to this entry.
"""),
    'a shipped finding again': ([(FINDINGS, 'finding: salt', 'finding: superheat')], {}, """\
harbour/findings.yaml:2:15: `superheat` is already a finding in rules/findings.yaml:2
    2 |   - {finding: superheat, what: salt, seen: true, ask: Look., words: [none, crusted]}
      |               ^^^^^^^^^
      Give this one another name. What is shipped is changed in changes.yaml only.
"""),
    'a shipped source again': ([(SOURCES, 'sources:\n', 'sources:\n  book: {title: B, confidence: read}\n')], {}, """\
harbour/sources.yaml:2:3: `book` is already a source in rules/sources.yaml:2
    2 |   book: {title: B, confidence: read}
      |   ^^^^
      Give this one another name. What is shipped is changed in changes.yaml only.
"""),
    'a shipped rule again': ([(RULES, 'when: {superheat: high}', 'when: {feed: starved}'), (RULES, 'Superheat is {superheat}', 'It is {feed}')], {}, """\
harbour/rules.yaml:5:11: `harbour/salt` asks for the same as `low-charge/starved` in rules/faults/low-charge.yaml:9
    5 |     when: {feed: starved}
      |           ^^^^^^^^^^^^^^^
      Take it out, or change the points of the shipped one in changes.yaml.
"""),
    'the charge figures again': ([], {'harbour/readiness.yaml': 'charge: {sure: 0.75, leads_by: 0.05, finest_percent: 10, source: book, why: Judgement.}\nrules: []\n'}, """\
harbour/readiness.yaml:1:1: `charge` is already set in rules/readiness.yaml:1
    1 | charge: {sure: 0.75, leads_by: 0.05, finest_percent: 10, source: book, why: Judgement.}
      | ^^^^^^
      Take it out: these figures are the book's own, and no folder changes them.
"""),
    'a rule that is not there': ([(CHANGES, 'low-charge/starved', 'low-charge/starvd')], {}, """\
harbour/changes.yaml:2:13: `low-charge/starvd` is not a rule
    2 |   - points: low-charge/starvd
      |             ^^^^^^^^^^^^^^^^^
      Did you mean `low-charge/starved`?
"""),
    'off, of a rule that is not there': ([(CHANGES, 'points: low-charge/starved\n    was: 2\n    now: 3', 'off: low-charge/starvd')], {}, """\
harbour/changes.yaml:2:10: `low-charge/starvd` is not a rule
    2 |   - off: low-charge/starvd
      |          ^^^^^^^^^^^^^^^^^
      Did you mean `low-charge/starved`?
"""),
    'off, with figures': ([(CHANGES, 'points: low', 'off: low')], {}, """\
harbour/changes.yaml:2:5: a rule that is switched off has no `was` and no `now`
    2 |   - off: low-charge/starved
      |     ^^^^^^^^^^^^^^^^^^^^^^^
      Take them out.
"""),
    'a change of two things': ([(CHANGES, 'points: low-charge/starved', 'points: low-charge/starved\n    usual: low-charge')], {}, """\
harbour/changes.yaml:2:5: this change names `points` and `usual`
    2 |   - points: low-charge/starved
      |     ^^^^^^^^^^^^^^^^^^^^^^^^^^
      Each change names one of `points`, `limits`, `usual` or `off`, and what it is of.
"""),
    'a change of nothing': ([(CHANGES, 'points: low-charge/starved\n    was', 'was')], {}, """\
harbour/changes.yaml:2:5: this change names nothing
    2 |   - was: 2
      |     ^^^^^^
      Each change names one of `points`, `limits`, `usual` or `off`, and what it is of.
"""),
    'a change without because': ([(CHANGES, '    because: We see it more.\n', '')], {}, """\
harbour/changes.yaml:2:5: `because` is missing
    2 |   - points: low-charge/starved
      |     ^^^^^^^^^^^^^^^^^^^^^^^^^^
      Add it to this entry.
"""),
    'a change with an empty because': ([(CHANGES, 'because: We see it more.', 'because: ""')], {}, """\
harbour/changes.yaml:5:14: this text is empty
    5 |     because: ""
      |              ^^
      Write a sentence.
"""),
    'a change without a date': ([(CHANGES, '    date: 2026-03-01\n', '')], {}, """\
harbour/changes.yaml:2:5: `date` is missing
    2 |   - points: low-charge/starved
      |     ^^^^^^^^^^^^^^^^^^^^^^^^^^
      Add it to this entry.
"""),
    'a date written otherwise': ([(CHANGES, '2026-03-01', '1 March 2026')], {}, """\
harbour/changes.yaml:6:11: `1 March 2026` is not a date
    6 |     date: 1 March 2026
      |           ^^^^^^^^^^^^
      Year-month-day, for example `2026-03-31`.
"""),
    'a date that is none': ([(CHANGES, '2026-03-01', '2026-02-30')], {}, """\
harbour/changes.yaml:6:11: `2026-02-30` is not a date
    6 |     date: 2026-02-30
      |           ^^^^^^^^^^
      Year-month-day, for example `2026-03-31`.
"""),
    'a change without was': ([(CHANGES, '    was: 2\n', '')], {}, """\
harbour/changes.yaml:2:5: a change of `points` needs `was` and `now`
    2 |   - points: low-charge/starved
      |     ^^^^^^^^^^^^^^^^^^^^^^^^^^
      Write what it is in the shipped book, and what it shall be, as `was: 2, now: 3`.
"""),
    'a change to the same': ([(CHANGES, 'now: 3', 'now: 2')], {}, """\
harbour/changes.yaml:2:5: `was` and `now` are the same, so nothing is changed
    2 |   - points: low-charge/starved
      |     ^^^^^^^^^^^^^^^^^^^^^^^^^^
      Write what it shall be after `now`.
"""),
    'a was that moved on': ([(CHANGES, 'was: 2', 'was: 1')], {}, """\
harbour/changes.yaml:3:10: `low-charge/starved`: the shipped book has moved on, `points` is now 2, not 1
    3 |     was: 1
      |          ^
      Look whether the change is still wanted, then write `was: 2`.
"""),
    'points out of range': ([(CHANGES, 'now: 3', 'now: 9')], {}, """\
harbour/changes.yaml:4:10: 9 points are out of range
    4 |     now: 9
      |          ^
      From -4 to 4 and not 0; to silence a rule write `off`.
"""),
    'points in words': ([(CHANGES, 'now: 3', 'now: three')], {}, """\
harbour/changes.yaml:4:10: `now` must be a number or a list, not `three`
    4 |     now: three
      |          ^^^^^
      Write a number alone, as `2`, or a list, as `[5 F, 20 F]`.
"""),
    'points of a rule that has none': ([(CHANGES, 'points: low-charge/starved', 'points: state/starved')], {}, """\
harbour/changes.yaml:2:13: `state/starved` has no points
    2 |   - points: state/starved
      |             ^^^^^^^^^^^^^
      Only rules for or against a fault have.
"""),
    'usual that moved on': ([(CHANGES, 'points: low-charge/starved\n    was: 2\n    now: 3', 'usual: low-charge\n    was: 2\n    now: 3')], {}, """\
harbour/changes.yaml:3:10: `low-charge`: the shipped book has moved on, `usual` is now 1, not 2
    3 |     was: 2
      |          ^
      Look whether the change is still wanted, then write `was: 1`.
"""),
    'usual of a fault misspelt': ([(CHANGES, 'points: low-charge/starved\n    was: 2\n    now: 3', 'usual: low-chrge\n    was: 2\n    now: 3')], {}, """\
harbour/changes.yaml:2:12: `low-chrge` is not a fault
    2 |   - usual: low-chrge
      |            ^^^^^^^^^
      Did you mean `low-charge`?
"""),
    'limits that moved on': ([(CHANGES, 'points: low-charge/starved\n    was: 2\n    now: 3', 'limits: superheat\n    was: [5 F, 21 F]\n    now: [6 F, 22 F]')], {}, """\
harbour/changes.yaml:3:10: `superheat`: the shipped book has moved on
    3 |     was: [5 F, 21 F]
      |          ^^^^^^^^^^^
      Its limits are [5 F, 20 F]. Look whether the change is still wanted, and write them into `was`.
"""),
    'limits that fall': ([(CHANGES, 'points: low-charge/starved\n    was: 2\n    now: 3', 'limits: superheat\n    was: [5 F, 20 F]\n    now: [26 F, 22 F]')], {}, """\
harbour/changes.yaml:4:10: the limits do not rise
    4 |     now: [26 F, 22 F]
      |          ^^^^^^^^^^^^
      Write them from low to high.
"""),
    'limits without a unit': ([(CHANGES, 'points: low-charge/starved\n    was: 2\n    now: 3', 'limits: superheat\n    was: [5 F, 20 F]\n    now: [6, 22 F]')], {}, """\
harbour/changes.yaml:4:10: `6` has no unit
    4 |     now: [6, 22 F]
      |          ^^^^^^^^^
      Write the unit, for example `6 F`.
"""),
    'limits of a finding misspelt': ([(CHANGES, 'points: low-charge/starved\n    was: 2\n    now: 3', 'limits: superheet\n    was: [5 F, 20 F]\n    now: [6 F, 22 F]')], {}, """\
harbour/changes.yaml:2:13: `superheet` is not a finding
    2 |   - limits: superheet
      |             ^^^^^^^^^
      Did you mean `superheat`?
"""),
    'limits without brackets': ([(CHANGES, 'points: low-charge/starved\n    was: 2\n    now: 3', 'limits: superheat\n    was: 5 F\n    now: 6 F')], {}, """\
harbour/changes.yaml:3:10: `was` must be a number or a list, not `5 F`
    3 |     was: 5 F
      |          ^^^
      Write a number alone, as `2`, or a list, as `[5 F, 20 F]`.

harbour/changes.yaml:4:10: `now` must be a number or a list, not `6 F`
    4 |     now: 6 F
      |          ^^^
      Write a number alone, as `2`, or a list, as `[5 F, 20 F]`.
"""),
    'one thing changed twice': ([(CHANGES, 'changes:\n', 'changes:\n  - {off: low-charge/starved, because: No use here., date: 2026-02-01}\n')], {}, """\
harbour/changes.yaml:3:13: `low-charge/starved` is already changed in harbour/changes.yaml:2
    3 |   - points: low-charge/starved
      |             ^^^^^^^^^^^^^^^^^^
      Agree on one of the two, and take one out.
"""),
    'two folders change the same': ([], {'quay/changes.yaml': 'changes:\n  - points: low-charge/starved\n    was: 2\n    now: 1\n    because: We see it more.\n    date: 2026-03-01\n'}, """\
quay/changes.yaml:2:13: `low-charge/starved` is already changed in harbour/changes.yaml:2
    2 |   - points: low-charge/starved
      |             ^^^^^^^^^^^^^^^^^^
      Agree on one of the two, and take one out.
"""),
    'two folders define the same': ([], {'quay/findings.yaml': 'findings:\n  - {finding: salt, what: salt, seen: true, ask: Look., words: [none, crusted]}\n'}, """\
quay/findings.yaml:2:15: `salt` is already a finding in harbour/findings.yaml:2
    2 |   - {finding: salt, what: salt, seen: true, ask: Look., words: [none, crusted]}
      |               ^^^^
      Keep one of them, or give this one another name.
"""),
    'two folders ask for the same': ([], {'quay/rules.yaml': 'rules:\n  - id: quay/salt\n    fault: low-charge\n    title: Salt\n    when: {superheat: high}\n    points: 1\n    why: Superheat is {superheat}.\n    source: quay-notes\n    tests:\n      - fires: {superheat: high}\n      - quiet: {superheat: low}\n'}, """\
quay/rules.yaml:5:11: `quay/salt` asks for the same as `harbour/salt` in harbour/rules.yaml:2
    5 |     when: {superheat: high}
      |           ^^^^^^^^^^^^^^^^^
      Keep one of them.
"""),
    'a file of another name': ([], {'harbour/rule.yaml': 'rules: []\n'}, """\
harbour/rule.yaml: no rules are read from a file of this name
      Did you mean `rules.yaml`?
"""),
    'a file ending in yml': ([], {'harbour/states.yml': 'states: []\n'}, """\
harbour/states.yml: no rules are read from a file of this name
      Did you mean `states.yaml`?
"""),
    'a folder of another name': ([], {'harbour/fault/x.yaml': 'fault: x\n'}, """\
harbour/fault: no rules are read from a folder of this name
      Did you mean `faults`?
"""),
    'an empty file': ([(RULES, 'rules:\n  - id: harbour/salt\n    fault: low-charge\n    title: Salt\n    when: {superheat: high}\n    points: 1\n    why: Superheat is {superheat}.\n    source: harbour-notes\n    tests:\n      - fires: {superheat: high}\n      - quiet: {superheat: low}\n', '# to come\n')], {}, """\
harbour/rules.yaml: there is nothing in this file
      It begins with `rules:`.
"""),
}  # fmt: skip
CASE_MISTAKES: dict[str, tuple[str, str, str]] = {
    'a field misspelt': ('story:', 'storie:', """\
demo/net-loft.yaml:1:1: `story` is missing
    1 | case: demo/net-loft
      | ^^^^^^^^^^^^^^^^^^^
      Add it to this entry.

demo/net-loft.yaml:2:1: `storie` is not a field here
    2 | storie: The net loft has cooled less and less since spring.
      | ^^^^^^
      Did you mean `story`?
"""),
    'no truth': ('truth: low-charge\n', '', """\
demo/net-loft.yaml:1:1: `truth` is missing
    1 | case: demo/net-loft
      | ^^^^^^^^^^^^^^^^^^^
      Add it to this entry.
"""),
    'a story that is a number': ('story: The net loft has cooled less and less since spring.', 'story: 2026', """\
demo/net-loft.yaml:2:8: `story` must be a text, not the number 2026
    2 | story: 2026
      |        ^^^^
      Put it between quotes: "2026".
"""),
    'a colon in the story': ('story: The', 'story: Look: the', """\
demo/net-loft.yaml:2:12: this colon cannot stand here
    2 | story: Look: the net loft has cooled less and less since spring.
      |            ^
      Put a text with a colon in it between quotes, or indent this line like the ones above it.
"""),
    'no visit': ('visit:\n  machine: {refrigerant: R-410A, metering: fixed orifice}\n  readings:\n    suction pressure: 130 psig\n    suction line temperature: 61 F\n', 'visit:\n', """\
demo/net-loft.yaml:5:7: `visit` must be a group of fields, not nothing
    5 | visit:
      |       ^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'a reading misspelt': ('suction pressure', 'suction presure', """\
demo/net-loft.yaml:8:5: `suction presure` is not a reading
    8 |     suction presure: 130 psig
      |     ^^^^^^^^^^^^^^^
      Did you mean `suction pressure`?
"""),
    'a reading without a unit': ('130 psig', '130', """\
demo/net-loft.yaml:8:23: `suction pressure`: `130` has no unit
    8 |     suction pressure: 130
      |                       ^^^
      Write the unit, for example `130 psig`.
"""),
    'a refrigerant misspelt': ('R-410A', 'R-401B', """\
demo/net-loft.yaml:6:26: There is no refrigerant 'R-401B' in the table.
    6 |   machine: {refrigerant: R-401B, metering: fixed orifice}
      |                          ^^^^^^
      The table holds R-410A, R-22, R-32, R-454B, R-407C, R-134a, R-404A, R-507A, R-290, R-600a, R-1234yf, R-513A, R-448A, R-449A, R-452B, R-407A, R-427A, R-422D, R-421A, R-422B, R-417A, R-466A, R-452A, R-454A, R-454C, R-455A, R-450A, R-407F, R-407H.
"""),
    'expect as a word': ('expect:\n  status: diagnosed\n', 'expect: low-charge\n', """\
demo/net-loft.yaml:10:9: `expect` must be a group of fields, not `low-charge`
   10 | expect: low-charge
      |         ^^^^^^^^^^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'expect without anything': ('expect:\n  status: diagnosed\n', 'expect:\n', """\
demo/net-loft.yaml:10:8: `expect` must be a group of fields, not nothing
   10 | expect:
      |        ^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'an expectation misspelt': ('  status: diagnosed', '  frist: low-charge', """\
demo/net-loft.yaml:11:3: `frist` is not a field here
   11 |   frist: low-charge
      |   ^^^^^
      Did you mean `first`?
"""),
    'a caution without a list': ('  status: diagnosed', '  cautions: caution/liquid-return', """\
demo/net-loft.yaml:11:13: `cautions` must be a list, not `caution/liquid-return`
   11 |   cautions: caution/liquid-return
      |             ^^^^^^^^^^^^^^^^^^^^^
      Write `[caution/liquid-return]`.
"""),
    'a figure without its group': ('  status: diagnosed', '  quantities: {superheat: 16 F}', """\
demo/net-loft.yaml:11:27: `superheat` must be a group of fields, not `16 F`
   11 |   quantities: {superheat: 16 F}
      |                           ^^^^
      Write `name: value`, each on a line of its own, or `{name: value, name: value}`.
"""),
    'an amount without within': ('  status: diagnosed', '  percent: {value: 10}', """\
demo/net-loft.yaml:11:3: `within` is missing
   11 |   percent: {value: 10}
      |   ^^^^^^^
      Add it to this entry.
"""),
    'an amount below nothing': ('  status: diagnosed', '  percent: {value: 10, within: -1}', """\
demo/net-loft.yaml:11:32: `within` must be at least 0, not -1
   11 |   percent: {value: 10, within: -1}
      |                                ^^
      Check the number.
"""),
    'an acceptance without a reason': ('expect:\n  status: diagnosed\n', 'expect:\n  status: diagnosed\naccepted:\n  - {date: 2026-03-01, changed: first}\n', """\
demo/net-loft.yaml:13:5: `because` is missing
   13 |   - {date: 2026-03-01, changed: first}
      |     ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
      Add it to this entry.
"""),
    'an acceptance without a date': ('expect:\n  status: diagnosed\n', 'expect:\n  status: diagnosed\naccepted:\n  - {date: yesterday, because: The rule is better., changed: first}\n', """\
demo/net-loft.yaml:13:12: `yesterday` is not a date
   13 |   - {date: yesterday, because: The rule is better., changed: first}
      |            ^^^^^^^^^
      Year-month-day, for example `2026-03-31`.
"""),
    'an empty file': (CASE, '', """\
demo/net-loft.yaml: there is nothing in this file
      It begins with `case:`.
"""),
    'a list': (CASE, '- low-charge\n', """\
demo/net-loft.yaml:1:1: the file must be a group of fields, not a list
    1 | - low-charge
      | ^^^^^^^^^^^^
      It begins with `case:`.
"""),
}  # fmt: skip


def replaced(texts: dict[str, str], changes: list[tuple[str, str, str]]) -> dict[str, str]:
    texts = dict(texts)
    for file, old, new in changes:
        assert old in texts[file], (file, old)
        texts[file] = texts[file].replace(old, new, 1)
    return texts


def written(folder: Path, texts: dict[str, str]) -> Path:
    for file, text in texts.items():
        (folder / file).parent.mkdir(exist_ok=True, parents=True)
        (folder / file).write_text(text, encoding="utf-8")
    return folder


def said(*folders: Path) -> str:
    with pytest.raises(RuleError) as caught:
        load_rules(*folders)
    return str(caught.value) + "\n"


@pytest.mark.parametrize("mistake", BOOK_MISTAKES)
def test_a_mistake_in_a_book(tmp_path: Path, mistake: str) -> None:
    changes, _, message = BOOK_MISTAKES[mistake]
    assert said(written(tmp_path / "rules", replaced(SMALL, changes))) == message


@pytest.mark.parametrize("mistake", OWN_MISTAKES)
def test_a_mistake_in_a_companys_own_rules(tmp_path: Path, mistake: str) -> None:
    changes, more, message = OWN_MISTAKES[mistake]
    folders = [
        written(tmp_path / "rules", SMALL),
        written(tmp_path / "harbour", replaced(OWN, changes)),
        written(tmp_path / "quay", QUAY),
    ]
    written(tmp_path, more)
    assert said(*folders) == message
    assert said(*reversed(folders)) == message  # whatever the order they are named in


def test_what_is_changed_was_right_before(tmp_path: Path) -> None:
    book = load_rules(
        written(tmp_path / "rules", SMALL), written(tmp_path / "harbour", OWN), written(tmp_path / "quay", QUAY)
    )
    assert {"harbour/salt", "quay/salt"} <= set(book.by_id)


@pytest.mark.parametrize("mistake", CASE_MISTAKES)
def test_a_mistake_in_a_case(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mistake: str) -> None:
    old, new, message = CASE_MISTAKES[mistake]
    assert old in CASE
    monkeypatch.chdir(tmp_path)
    written(tmp_path, {"demo/net-loft.yaml": CASE.replace(old, new, 1)})
    try:
        wrong = "\n\n".join(run_case(read_case(Path("demo/net-loft.yaml"))).wrong)
    except InputProblems as error:
        wrong = str(error)
    assert wrong + "\n" == message


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
    message = said(written(tmp_path / "rules", texts))
    assert re.match(r"rules/states\.yaml:[6-8]:\d+: states conclude each other in a loop: ", message)
    assert all(f"state/r{i}" in message for i in range(3))
    assert "Let one of these rules read findings instead of a state of the loop." in message


def test_one_broken_file_does_not_hide_the_others(tmp_path: Path) -> None:
    """A file that is no YAML at all is told beside the mistakes of the others, and nothing that follows from it."""
    changes = [(FINDINGS, "findings:", "findings: ["), (LOW_CHARGE, "check: look", "check: lok")]
    message = said(written(tmp_path / "rules", replaced(SMALL, changes)))
    assert re.findall(r"^rules/\S+: .*", message, re.M) == [
        "rules/faults/low-charge.yaml:15:12: `lok` is not a check",
        "rules/findings.yaml:2:3: something between brackets goes wrong here",
    ]


# -- what a message must have -------------------------------------------------------------------------------------------------

ALL = {
    **{f"book: {name}": message for name, (_, _, message) in BOOK_MISTAKES.items()},
    **{f"own: {name}": message for name, (_, _, message) in OWN_MISTAKES.items()},
    **{f"case: {name}": message for name, (_, _, message) in CASE_MISTAKES.items()},
}
# Words of the libraries and of programmers, which mean nothing to the writer of a rule.
JARGON = re.compile(
    r"\b(?:dict|dictionary|mapping|null|None|True|False|NaN|string|str|int|float|boolean|bool|token|scalar|sequence|"
    r"node|parse|schema|pydantic|yaml\.|regex|pattern|exception|traceback|validation|validator|input|extra|literal)\b"
)


@pytest.mark.parametrize("name", ALL)
def test_it_teaches(name: str) -> None:
    """Place, line, mark below what is meant, and a sentence that mends it, in words of the trade."""
    for problem in ALL[name].strip("\n").split("\n\n"):
        first, *rest = problem.split("\n")
        assert re.match(r"[a-z-]+/\S+(?::\d+:\d+)?: \S.*$", first), first
        if re.match(r"\S+:\d+:\d+:", first):
            shown, mark, *rest = rest
            assert re.match(r" *\d+ \| ", shown)
            assert re.match(r" {6}\| +\^+$", mark)
            assert mark.index("^") + mark.count("^") <= len(shown) + 1
        assert len(rest) == 1, "how to mend it"
        assert re.match(r" {6}\S.*[.?]$", rest[0]), rest[0]
        own_words = re.sub(r"`[^`]*`", "", f"{first} {rest[0]}")
        assert not JARGON.search(own_words), JARGON.findall(own_words)
