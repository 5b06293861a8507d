"""Visits kept: machines, visits whole as they were entered, what was said of them. The only importer of SQLAlchemy and Alembic.

Imported by the commands that keep and tell visits, and by nothing else: no other command pays for it. Without the extra
`store` importing it raises ModuleNotFoundError.
"""

from diagnose.store.database import Store, open_store
from diagnose.store.entry import Entry, entry_of, examined, story_of
from diagnose.store.folder import export_folder, import_folder
from diagnose.store.keeping import (
    Kept,
    KeptMachine,
    KeptVisit,
    forget,
    keep,
    keep_result,
    machine_named,
    machines,
    meant,
    visits_of,
)

__all__ = [
    "Entry",
    "Kept",
    "KeptMachine",
    "KeptVisit",
    "Store",
    "entry_of",
    "examined",
    "export_folder",
    "forget",
    "import_folder",
    "keep",
    "keep_result",
    "machine_named",
    "machines",
    "meant",
    "open_store",
    "story_of",
    "visits_of",
]
