"""Empty stores on both engines."""

from engines import new_place, place, server

__all__ = ["new_place", "place", "server"]
