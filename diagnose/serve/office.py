"""What one office is made of, as every part of it needs it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from diagnose.rulebook import Rulebook
from diagnose.serve.site import Site
from diagnose.store import Store


@dataclass(frozen=True, slots=True)
class Office:
    """store, book: what is kept, and by which book it is examined. site: the phone page; None: it is not handed out here.

    demands: whoever comes must sign in; else only this machine's own browsers are answered. secure: browsers come by https.
    log: takes one line a request. now: s since 1970.
    """

    store: Store
    book: Rulebook
    site: Site | None = None
    demands: bool = False
    secure: bool = False
    log: Callable[[str], None] = lambda line: None
    now: Callable[[], float] = time.time
