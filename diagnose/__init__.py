"""Says what is wrong with a running air conditioner or heat pump, why, and what to measure next.

    from diagnose import examine
    print(examine("visit.yaml").to_dict()["faults"][0]["name"])

Names are imported when they are first used, so that `diagnose --help` need not load the pipeline.
"""

from diagnose.shipped import VERSION

# Not from `typing`: importing it takes longer than the rest of this file, and type checkers know the name.
TYPE_CHECKING = False

if TYPE_CHECKING:
    from diagnose.diagnosis.pipeline import examine
    from diagnose.diagnosis.record import Diagnosis
    from diagnose.rulebook.book import Rulebook, RuleError
    from diagnose.rulebook.load import load_rules
    from diagnose.visit import Visit, VisitError, read_visit

__all__ = ["Diagnosis", "RuleError", "Rulebook", "Visit", "VisitError", "examine", "load_rules", "read_visit"]
__version__ = VERSION

_HOME = {
    "Diagnosis": "diagnose.diagnosis.record",
    "examine": "diagnose.diagnosis.pipeline",
    "RuleError": "diagnose.rulebook",
    "Rulebook": "diagnose.rulebook",
    "load_rules": "diagnose.rulebook",
    "Visit": "diagnose.visit",
    "VisitError": "diagnose.visit",
    "read_visit": "diagnose.visit",
}


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


if not TYPE_CHECKING:  # a type checker reads the imports above; of this it would believe any name

    def __getattr__(name):
        if name not in _HOME:
            raise AttributeError(f"module 'diagnose' has no attribute {name!r}")
        from importlib import import_module

        value = getattr(import_module(_HOME[name]), name)
        globals()[name] = value
        return value
