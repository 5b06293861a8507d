"""The sealed answer of a practice visit: not to be read by accident, and no more than that.

It is packed, mixed with a fixed stream of bytes and written in letters, with a checksum. Whoever has this program can
open it; `diagnose practice reveal` is the honest way to. It keeps an eye from catching the answer, and it notices when
a letter was changed. Nothing here is meant to withstand anybody who wants to cheat.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import zlib
from itertools import count
from typing import Any

_KEY = b"diagnose practice 1"
_SUM = 8  # bytes of the checksum
LARGEST = 200_000  # bytes of an opened seal; a visit has some two thousand


class SealBroken(ValueError):  # noqa: N818 - what happened to it
    """The sealed text is not as it was written."""


def seal(answer: dict[str, Any]) -> str:
    """Letters, digits and a few other characters, no space; equal answers give equal text."""
    packed = zlib.compress(json.dumps(answer, ensure_ascii=False, sort_keys=True).encode(), 9)
    return base64.b64encode(_checksum(packed) + _mixed(packed)).decode("ascii")


def unseal(text: str) -> dict[str, Any]:
    """What was sealed; spaces and line breaks do not matter. Raises SealBroken."""
    try:
        whole = base64.b64decode("".join(text.split()).encode("ascii"), validate=True)
    except (binascii.Error, UnicodeEncodeError) as error:
        raise SealBroken("letters are missing or were changed") from error
    checksum, packed = whole[:_SUM], _mixed(whole[_SUM:])
    if _checksum(packed) != checksum:
        raise SealBroken("letters were changed")
    try:
        opener = zlib.decompressobj()
        found = json.loads(opener.decompress(packed, LARGEST))
    except (zlib.error, ValueError) as error:
        raise SealBroken("it was sealed by another program") from error
    if not isinstance(found, dict):
        raise SealBroken("it was sealed by another program")
    return found


def _checksum(packed: bytes) -> bytes:
    return hashlib.blake2b(packed, digest_size=_SUM, key=_KEY).digest()


def _mixed(data: bytes) -> bytes:
    """The bytes under a fixed stream; done twice, they are as before."""
    stream = bytearray()
    for number in count():
        if len(stream) >= len(data):
            break
        stream += hashlib.sha256(_KEY + number.to_bytes(4, "big")).digest()
    return bytes(a ^ b for a, b in zip(data, stream, strict=False))
