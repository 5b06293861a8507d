"""Logs of data loggers and controllers: a table over time becomes pieces, runs, steady stretches, and a visit of each.

`reading.py` reads the file and says what is wrong with it, `stamps.py` its clock; `running.py` finds runs, starts, stops and
defrosts; `steady.py` the stretches in which nothing moves; `examining.py` makes the visits and examines them; `page.py`,
`notes.py` and `chart.py` tell it, `following.py` while the file still grows.
"""
