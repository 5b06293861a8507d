"""Says what is wrong with a running air conditioner or heat pump, why, and what to measure next.

from diagnose import examine
print(examine("visit.yaml").to_dict()["faults"][0]["name"])
"""

from diagnose.examine import Diagnosis, examine
from diagnose.rulebook import Rulebook, RuleError, load_rules
from diagnose.visit import Visit, VisitError, read_visit

__all__ = ["Diagnosis", "RuleError", "Rulebook", "Visit", "VisitError", "examine", "load_rules", "read_visit"]
__version__ = "0.1.0"
