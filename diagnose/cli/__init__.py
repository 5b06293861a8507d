"""The commands: read options, call one function, print. Exit codes: 0 fine, 1 a rule or case failed, 2 bad input.

Also 1 where standard output cannot be written, and 130 after Ctrl-C. Nothing heavy is imported here: `main` must stand
ready for Ctrl-C before the commands are imported.
"""

import gc
import os
import sys

from diagnose.cli import standard

TYPE_CHECKING = False
if TYPE_CHECKING:
    import typer

    app: typer.Typer


def main() -> None:
    """The console script: no stack trace ever reaches a technician; DIAGNOSE_TRACE=1 shows it to a developer."""
    try:
        standard.begin()
        code = _run()
        standard.end()
    except (KeyboardInterrupt, standard.Interrupted):
        code = 130  # as a shell counts it: 128 and the number of the signal
    sys.exit(code)


def _run() -> int:
    """Runs the command that was asked for; returns its exit code."""
    # A command lives for a fraction of a second: collecting garbage, and pydantic's search of every installed package
    # for plug-ins (there are none here), are a seventh of it. pydantic is imported after this, by the commands.
    gc.disable()
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        from diagnose.cli.commands import asked_for

        try:
            asked_for("".join(sys.argv[1:2]))()
        except SystemExit as end:
            sys.stdout.flush()
            return int(end.code or 0)
        sys.stdout.flush()
    except standard.OutputError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    except Exception as error:
        if os.environ.get("DIAGNOSE_TRACE"):
            raise
        sys.stderr.write(
            f"This is a mistake in the program, not in your visit: {type(error).__name__}: {error}\n"
            "Please report it with the visit file. DIAGNOSE_TRACE=1 shows where it happened.\n"
        )
        return 1
    return 0


def __getattr__(name: str) -> object:
    if name != "app":
        raise AttributeError(f"module 'diagnose.cli' has no attribute {name!r}")
    from diagnose.cli.commands import asked_for

    globals()[name] = asked_for("")
    return globals()[name]
