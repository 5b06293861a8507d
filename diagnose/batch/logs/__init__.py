"""Logs of data loggers and controllers: a table over time becomes pieces, runs, steady stretches, and a visit of each.

`heads.py` and `stamps.py` read a file's rows, head and clock, `reading.py` makes a log of them; `running.py` finds runs,
starts, stops and defrosts, and leaves out sensors that are broken; `steady.py` finds the stretches in which nothing moves;
`examining.py` makes the visits and examines them; `page.py`, `notes.py` and `chart.py` tell it; `tabling.py` makes rows of a
table of many logs.
"""
