"""Reasons as values; `visit`, which lies below this room, makes some as well, so the type stands in `diagnose.reason`."""

from diagnose.reason import Reason

__all__ = ["Reason"]
