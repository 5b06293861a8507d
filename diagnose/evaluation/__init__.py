"""How good the rules are on machines of the simulator, beside two yardsticks: `evaluate`.

Floor: the charge-only protocol (superheat or subcooling alone). Ceiling: a classifier trained on other machines of the
same simulator. What counts as right, missed or harmful stands in `scoring`; what the words mean in `model`.
"""

from diagnose.evaluation.model import READINGS, Evaluation
from diagnose.evaluation.page import evaluation_page
from diagnose.evaluation.running import evaluate

__all__ = ["READINGS", "Evaluation", "evaluate", "evaluation_page"]
