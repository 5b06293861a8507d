"""Ctrl-C and the three standard streams of a command, at every moment of its life.

Ctrl-C ends it with 130 and nothing said. A standard output that nobody reads any more (`| head -1`) or that is closed
swallows the rest; one that is full is said in a sentence. Standard error never stops a command. Nothing that takes time
is imported here: only after `begin` is Ctrl-C quiet.
"""

import io
import os
import signal
import sys
from types import FrameType

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any, Literal, TextIO

    from _typeshed import ReadableBuffer


class Interrupted(BaseException):
    """Ctrl-C. Not a KeyboardInterrupt: typer answers those itself, in words and codes that change with its version."""


class OutputError(Exception):
    """Standard output cannot be written. The text is the sentence for the user."""


_ending = False


def begin() -> None:
    """Readies this process, which belongs to one command: the streams, and Ctrl-C unless the caller ignores it."""
    # A file that is opened while a standard stream is closed would take its number, and answers would go into it.
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    sys.stdin = sys.stdin or _nothing("r")
    sys.stdout = _guarded(sys.stdout, must=True)
    sys.stderr = _guarded(sys.stderr, must=False)
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        sys.unraisablehook = _unraisable
        signal.signal(signal.SIGINT, _interrupt)


def end() -> None:
    """All is written: from here on Ctrl-C has nothing to stop."""
    global _ending
    sys.stderr.flush()
    _ending = True


def _interrupt(number: int, frame: FrameType | None) -> None:
    global _ending
    if _ending:  # a second time, or while Python itself shuts down
        os._exit(130)
    _ending = True
    if "multiprocessing.process" in sys.modules:  # they leave Ctrl-C to this process, and may be long at work
        for child in sys.modules["multiprocessing.process"].active_children():
            child.terminate()
    raise Interrupted


def _unraisable(found: "sys.UnraisableHookArgs") -> None:
    if found.exc_type is Interrupted:  # raised where Python can only print it: in a finalizer or a callback from C
        os._exit(130)
    sys.__unraisablehook__(found)


class _Guarded(io.RawIOBase):
    """The raw stream below a standard one. Once it fails, all that follows is swallowed.

    must: the user misses what cannot be written. A reader who left misses nothing.
    """

    def __init__(self, raw: io.RawIOBase, must: bool):
        self._raw = raw
        self._must = must
        self._lost = False

    def write(self, data: "ReadableBuffer", /) -> int | None:
        # After Ctrl-C nothing more: what an interrupted write had in hand would come out a second time.
        # Nor an empty try, with which typer feels its way and takes any error for another kind of stream.
        if memoryview(data).nbytes and not (self._lost or _ending):
            try:
                return self._raw.write(data)
            except BrokenPipeError:
                self._lost = True
            except OSError as error:
                self._lost = True
                if self._must:
                    why = (error.strerror or "unknown reason").lower()
                    raise OutputError(
                        f"The answer cannot be written to standard output ({why}). Make room, or write it elsewhere."
                    ) from None
        return memoryview(data).nbytes

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._raw.fileno()

    def isatty(self) -> bool:
        return self._raw.isatty()


def _guarded(stream: "TextIO | None", must: bool) -> "TextIO":
    """The same stream, guarded; one that swallows all where it is closed."""
    if not isinstance(stream, io.TextIOWrapper):
        return _nothing("w")
    buffer: Any = stream.buffer
    if hasattr(buffer, "raw"):
        buffer = io.BufferedWriter(_Guarded(buffer.raw, must))
    else:  # with PYTHONUNBUFFERED nothing stands between
        buffer = _Guarded(buffer, must)
    return io.TextIOWrapper(
        buffer,
        encoding=stream.encoding,
        errors=stream.errors,
        line_buffering=stream.line_buffering,
        write_through=stream.write_through,
    )


def _nothing(mode: 'Literal["r", "w"]') -> "TextIO":
    return open(os.devnull, mode, encoding="utf-8")
