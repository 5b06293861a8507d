"""The rule book: findings, states, rules, faults, checks and sources, read from YAML and checked."""

from diagnose.rulebook.book import MACHINE_FACTS, Applying, Conditions, Rule, Rulebook, applies, machine_facts
from diagnose.rulebook.load import RuleError, is_whole, load_rules, rulebook_in

__all__ = [
    "MACHINE_FACTS",
    "Applying",
    "Conditions",
    "Rule",
    "RuleError",
    "Rulebook",
    "applies",
    "is_whole",
    "load_rules",
    "machine_facts",
    "rulebook_in",
]
