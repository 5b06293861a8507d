"""How often the ranking is right on machines of our own simulator: `python tests/benchmarks/simulated.py [CASES] [SEED]`.

Not a test: a measurement, whose figures the README quotes. It is `diagnose cases run --simulated CASES --seed SEED
--pairs --slips` by another name, and says first whether each promise about simulated machines is kept.
"""

import sys
import time

from diagnose.evaluation.model import Evaluation
from diagnose.evaluation.page import evaluation_page
from diagnose.evaluation.running import evaluate
from diagnose.report import as_text


def promises(e: Evaluation) -> list[tuple[str, bool]]:
    """What has been promised of simulated machines, and whether it holds in this run."""
    found = []
    for m in e.measured:
        bins = [*m.rules.reliability_first, *m.rules.reliability_all]
        bad = sum(one.bad for one in bins)
        found.append((f"{m.name}: shares within 0.07 of how often they are true ({bad} bins are not)", not bad))
        score = m.rules.score
        below = (score.harmful.share or 0.0) < (m.protocol.harmful.share or 0.0)
        found.append((f"{m.name}: less harmful advice ({score.harmful}) than the floor ({m.protocol.harmful})", below))
    return found


def main() -> None:
    """Prints the promises and the whole page."""
    cases, seed = (int(x) for x in (sys.argv[1:] + ["700", "2024"][len(sys.argv) - 1 :]))
    begun = time.perf_counter()
    found = evaluate(seed, cases, pairs=True, slips=True)
    print("".join(f"{'kept' if kept else 'BROKEN'}: {what}\n" for what, kept in promises(found)))
    print(as_text(evaluation_page(found)))
    print(f"{time.perf_counter() - begun:.0f} seconds")


if __name__ == "__main__":
    main()
