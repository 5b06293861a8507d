"""Logs of data loggers and controllers: a table over time becomes pieces, runs, steady stretches, and a visit of each.

`rows.py`, `heads.py` and `stamps.py` read a file's rows, head and clock, `reading.py` makes a log of them, `sound.py` leaves
out sensors that are broken; `running.py` finds runs, starts, stops and defrosts; `steady.py` the stretches in which nothing
moves; `examining.py` makes the visits and examines them; `page.py`, `notes.py` and `chart.py` tell it, `following.py` while the
file still grows; `tabling.py` makes rows of a table of many logs.
"""
