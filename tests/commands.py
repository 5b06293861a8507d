"""The commands as a shell would run them, in this process."""

from __future__ import annotations

from typing import NamedTuple

from typer.testing import CliRunner

from diagnose.cli import app


class Ran(NamedTuple):
    """How a command ended and what it printed."""

    exit_code: int
    stdout: str
    stderr: str

    def fine(self) -> str:
        """What it printed; it must have ended well."""
        assert self.exit_code == 0, self.stderr
        return self.stdout

    def clean(self) -> str:
        """The same; nor was there anything to complain of."""
        assert self.stderr == ""
        return self.fine()

    def refused(self) -> str:
        """What it complained of, and did nothing else."""
        assert (self.exit_code, self.stdout) == (2, "")
        return self.stderr


def run(*words: object, stdin: str | bytes | None = None, charset: str = "utf-8", **env: str) -> Ran:
    """One command, with streams of this encoding. Anything but a clean exit fails."""
    done = CliRunner(charset).invoke(app, [str(word) for word in words], input=stdin, env=env)
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return Ran(done.exit_code, done.stdout, done.stderr)
