"""What `rules check` has to say of a book without mistakes: what it tells later, or not at all."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.report.dangers import loosened_text
from diagnose.rulebook import Rulebook, load_rules
from diagnose.shipped import shipped


def loosened_notes(rules: Rulebook) -> Iterator[str]:
    """Every danger, hold and limit that is told later than by the shipped book, or not at all; one sentence each."""
    for own, change in rules.loosened:
        yield loosened_text(own, change)
    if rules.base == "shipped":
        return
    for rule in load_rules(shipped("rules")).rules:
        if rule.kind in ("caution", "readiness") and rule.id not in rules.by_id:
            yield f"Less strict than the shipped rules: {rules.base} has no rule {rule.id}, “{rule.entry.title}”."
