"""The office from the command line: which options go together, and who gets an access code."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from asked import small_site
from test_kept_visits import folder, run

from diagnose.rulebook import Rulebook

__all__ = ["folder"]  # the fixture


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("--listen", "0.0.0.0"), "without https access codes and visits could be read on their way"),
        (("--listen", "127.0.0.1"), "nobody has an access code yet"),
        (("--listen", "127.0.0.1", "--key", "k.pem"), "a certificate and its key go together"),
        (("--listen", "::", "--certificate", "c.pem", "--key", "k.pem", "--proxy", "::1"), "https is either done here"),
        (("--listen", "127.0.0.1", "--proxy", "*"), "`*` is no address of a proxy"),
        (("--listen", "127.0.0.1", "--proxy", "proxy.example"), "Give it as a number"),
        (("--certificate", "c.pem", "--key", "k.pem"), "these options are for an office that others come to"),
        (("--proxy", "127.0.0.1"), "these options are for an office that others come to"),
        (("none",), "the page cannot be read (no such file or directory)"),
        (("site", "--rules", "own"), "the phone page brings its own rule book"),
    ],
)
def test_what_does_not_go_together(folder: Path, book: Rulebook, words: tuple[str, ...], what: str) -> None:
    small_site(folder / "site", book)
    err = run("serve", *words).refused()
    assert what in err
    assert len(err.splitlines()) >= 2  # and how to mend it


def test_access_codes_are_shown_once(folder: Path) -> None:
    out = run("people", "add", " Ana  B ").fine()
    assert out.startswith("Access code of Ana B: 1-")
    assert out.splitlines()[1] == "It is shown this once. Hand it over by voice or on paper."
    assert run("people", "list")[1].startswith("Ana B, since 20")
    assert "`Ana B` has an access code already" in run("people", "add", "Ana B")[2]
    assert "Did you mean `Ana B`?" in run("people", "remove", "Ana")[2]
    assert "every browser of theirs is signed out" in run("people", "remove", "Ana B")[1]
    assert run("people", "list")[1] == "Nobody has an access code.\n"
    assert "nobody has one" in run("people", "remove", "Ana")[2].lower()


def test_without_the_extra_one_sentence_says_what_to_install(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [name for name in sys.modules if name.partition(".")[0] == "fastapi" or "diagnose.serve" in name]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "fastapi", None)
    code, _, err = run("serve")
    assert (code, err) == (
        2,
        "the office needs FastAPI and uvicorn\n      Install them: `pip install 'diagnose[serve]'`.\n",
    )
