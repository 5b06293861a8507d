"""How good the rules are on machines of the simulator, beside two yardsticks: `running.evaluate`.

Floor: the charge-only protocol (superheat or subcooling alone). Ceiling: a classifier trained on other machines of the
same simulator. What counts as right, missed or harmful stands in `scoring`; what the words mean in `model`.
Nothing is imported here: tables share their work by `processes` as well, and need no simulator.
"""
