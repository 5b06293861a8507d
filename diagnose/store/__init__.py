"""Visits kept: machines, visits whole as they were entered, what was said of them. The only importer of SQLAlchemy and Alembic.

Imported by the commands that keep and tell visits, and by nothing else: no other command pays for it. Without the extra
`store` importing it raises ModuleNotFoundError.
"""

from diagnose.store.arriving import Arrived, Version, already_here, arrived, latest, take
from diagnose.store.database import Store, open_store
from diagnose.store.entry import VisitEntry, as_kept, digest_as_json, entered, entry_of, examined
from diagnose.store.folder import export_folder, import_folder
from diagnose.store.keeping import (
    KeptMachine,
    KeptVisit,
    forget,
    keep,
    keep_result,
    looks_of,
    machine_named,
    machine_numbered,
    machines,
    machines_found,
    meant,
    visits_of,
)
from diagnose.store.people import SESSION_LASTS, add_person, people, remove_person, sign_in, sign_out, signed_in
