"""The rule book: findings, states, rules, faults, checks and sources, read from YAML, checked and compiled.

pydantic and YAML stand at the door only (`models`, `reading`, `checking`): a compiled book is plain frozen values.
"""

from diagnose.rulebook.book import Applying, Rule, Rulebook, RuleError
from diagnose.rulebook.data import NotABook, digest_of, from_data, to_data
from diagnose.rulebook.entries import Conditions
from diagnose.rulebook.facts import MACHINE_FACTS, applies, check_for, in_its_mode, machine_facts, steps_for
from diagnose.rulebook.folders import holds_rules, is_whole
from diagnose.rulebook.load import load_rules, usable_rules
