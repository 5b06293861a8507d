"""Many visits at once: a table in, a table out, in chunks that share nothing, on one machine or many.

    from diagnose.batch import examine_table

Needs the extra `batch` (pyarrow), and for a cluster `cluster` (Dask); both are imported when they are used. Without them a call
raises InputProblems, which says what to install.
"""

from diagnose.batch.examining import examine_table

__all__ = ["examine_table"]
