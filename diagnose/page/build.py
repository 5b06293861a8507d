"""Builds the page's folder: the package, the compiled book and the runtime, for any web server.

The runtime (Pyodide, Mozilla Public License 2.0) is fetched by npm, pinned by its digest, or taken from a folder. The
compiled book needs neither pydantic nor YAML; PyYAML's own Python files go along for visit files.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import shutil
import subprocess
import tarfile
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from importlib.resources import files as resources
from io import BytesIO
from pathlib import Path

from diagnose.rulebook import Rulebook
from diagnose.rulebook.data import to_data
from diagnose.yamlfile import files, refusal
from diagnose.yamlfile.events import library

PYODIDE = "314.0.7"
PACKED = "66b7949e5a0cba2250b586d7e368bf12fb482800748d182c4618254b685ffaa0"
"""SHA-256 of the npm package's archive."""
RUNTIME = {
    "pyodide.mjs": "6f1d60f7bf529beb300f0f47983c921d3982363640ba20af0e38efdddbc66109",
    "pyodide.asm.mjs": "f7cdc8ece80678ceb712f8e65ebe6d3a83203a180c399865f49612a051693635",
    "pyodide.asm.wasm": "cc36e3cab04fdfc9a63ff13eb52eae2b911bf46c025cc7b281f394bd3de1d5e6",
    "python_stdlib.zip": "fa1957e5777068fc4f7437f96d860ae2fbe9c19732ba06c84e004ec16dd7dd7a",
    "pyodide-lock.json": "5dc2fc119108bc148c7457dc86e7675b5c87e1cafd420b9c34c1eaef7b36c010",
}
"""The files of it that are used, with their SHA-256."""
LEFT_OUT = (
    "batch/", "properties/columnwise.py", "quantities/plausibility/columnwise.py", "properties/targets/columnwise.py",
    "report/tables.py",
    "__main__.py", "cli/", "evaluation/", "workshop/", "page/build.py", "page/static/", "serve/", "shipped/", "store/",
    "report/html.py",
    "report/webpage.py", "report/slides.py", "yamlfile/files.py", "lessons/poster.py", "page/paper.py", "practice/exam.py",
    "practice/exam_pages.py", "practice/files.py", "practice/marking.py", "practice/results.py",
    "practice/worksheet.py", "properties/__main__.py", "properties/fitting.py",
    "properties/table.py", "rulebook/change_model.py", "rulebook/changing.py", "rulebook/checking.py",
    "rulebook/compiling.py", "rulebook/fault_model.py", "rulebook/fields.py", "rulebook/finding_checks.py",
    "rulebook/judging.py", "rulebook/known.py", "rulebook/limits.py", "rulebook/models.py",
    "rulebook/reading.py", "rulebook/rule_checks.py",
)  # fmt: skip
"""Parts of the package that the page never asks for: what writes files, and what checks a book before it is compiled."""
ALL_THE_SAME = ("workshop/__init__.py", "workshop/showing.py")  # what the lessons take from there
UNUSED = (
    "test/", "unittest/", "idlelib/", "tkinter/", "turtle", "ensurepip/", "venv/", "lib2to3/", "_pyrepl/", "pdb.py",
    "pydoc", "doctest.py", "xml/dom/", "xml/etree/", "mailbox.py", "imaplib.py", "multiprocessing/", "sqlite3/", "curses/",
    "dbm/", "wsgiref/", "xmlrpc/", "smtplib.py", "ftplib.py", "poplib.py", "optparse.py", "cProfile.py", "profiling/",
    "profile.py", "pstats.py", "zipapp.py", "ctypes/", "plistlib.py", "socketserver.py", "pickletools.py", "_pydatetime.py",
    "_pydecimal.py", "_pyio.py", "html/parser.py", "trace.py", "tracemalloc.py", "logging/handlers.py", "logging/config.py",
    "http/cookiejar.py", "http/cookies.py", "http/server.py", "pyclbr.py", "cmd.py", "code.py", "fileinput.py",
    "filecmp.py", "getpass.py", "nturl2path.py", "rlcompleter.py", "sched.py", "symtable.py", "tabnanny.py",
    "webbrowser.py", "antigravity.py", "this.py", "config-3.14", "sysconfig/", "_sysconfigdata", "string/templatelib.py",
    "argparse.py", "zoneinfo/", "tomllib/", "shelve.py", "wave.py", "colorsys.py", "compileall.py", "configparser.py",
    "concurrent/futures/process.py", "email/_header_value_parser.py", "email/headerregistry.py", "email/contentmanager.py",
    "email/mime/", "bdb.py", "getopt.py", "modulefinder.py", "netrc.py", "pty.py", "tty.py", "py_compile.py", "runpy.py",
    "statistics.py", "timeit.py", "uuid.py", "pprint.py", "mimetypes.py", "urllib/robotparser.py", "_ast_unparse.py",
    "__hello__", "__phello__", "xml/parsers/", "xml/sax/expatreader.py", "_markupbase.py", "encodings/cp", "encodings/mac_",
    "encodings/iso", "encodings/koi8", "encodings/kz", "encodings/big5", "encodings/euc", "encodings/gb", "encodings/hz",
    "encodings/johab", "encodings/shift", "encodings/tis", "encodings/ptcp", "encodings/palmos", "encodings/hp_",
    "encodings/rot_13", "encodings/uu_codec", "encodings/bz2", "encodings/zlib", "encodings/quopri", "encodings/charmap",
    "encodings/mbcs", "encodings/oem", "encodings/undefined", "encodings/punycode", "encodings/idna",
)  # fmt: skip
"""Parts of Python's own library that neither the package nor the runtime's start imports: how their names begin."""
NEEDED = ("encodings/cp437.py", "encodings/iso8859_1.py")  # fmt: skip
"""Names that begin so too, and are needed."""


@dataclass(frozen=True, slots=True)
class Built:
    """What lies in the folder now. size, packed: bytes as they lie, and as a server that compresses sends them."""

    folder: Path
    files: tuple[str, ...]
    size: int
    packed: int
    version: str


def build(folder: Path, rules: Rulebook, runtime: Path | None = None) -> Built:
    """Writes the page into a folder, which is made, or was made by this before. Raises InputProblems.

    runtime: a folder that holds Pyodide's files; None: they are fetched by npm.
    """
    unfinished = folder / "page.unfinished"
    ours = (folder / "sw.js").is_file() or unfinished.is_file()
    if folder.exists() and any(folder.iterdir()) and not ours:
        raise refusal(f"{folder} holds other files", "Name an empty folder, or one that was built by this command.")
    files.make_folder(folder)
    with tempfile.TemporaryDirectory() as spare:
        source = runtime if runtime is not None else _fetched(Path(spare))
        made: dict[str, bytes] = {name: _checked(source / name, digest) for name, digest in RUNTIME.items()}
    made["pyodide-lock.json"] = json.dumps(
        json.loads(made["pyodide-lock.json"]) | {"packages": {}}
    ).encode()  # none is taken
    made["python_stdlib.zip"] = _trimmed(made["python_stdlib.zip"])
    made["app.zip"] = _app()
    made["book.json"] = json.dumps(to_data(_without_examples(rules)), separators=(",", ":")).encode()
    static = resources("diagnose.page").joinpath("static")
    for one in static.iterdir():
        made[one.name] = one.read_bytes()
    version = hashlib.sha256(b"".join(name.encode() + made[name] for name in sorted(made))).hexdigest()[:16]
    listed = " ".join(["./", *sorted(name for name in made if name != "sw.js")])
    made["sw.js"] = made["sw.js"].replace(b"@VERSION@", version.encode()).replace(b"@FILES@", listed.encode())
    files.put(unfinished, b"")  # else a build that is ended could not be begun anew
    for name, content in sorted(
        made.items(), key=lambda one: one[0] == "sw.js"
    ):  # last: it tells phones of a new version
        files.put(folder / name, content)
    unfinished.unlink(missing_ok=True)
    size = sum(map(len, made.values()))
    packed = sum(len(gzip.compress(content, 6)) for content in made.values())
    return Built(folder, tuple(sorted(made)), size, packed, version)


def _fetched(folder: Path) -> Path:
    """Pyodide's files, by npm. Raises InputProblems where that cannot be."""
    name = f"pyodide-{PYODIDE}.tgz"
    how = f"Fetch `npm pack pyodide@{PYODIDE}` elsewhere, unpack it, and give its folder as --from."
    npm = shutil.which("npm")
    if npm is None:
        raise refusal("npm is not installed, which fetches the browser runtime", how)
    done = subprocess.run(
        [npm, "pack", "--silent", f"pyodide@{PYODIDE}"], cwd=folder, capture_output=True, text=True, check=False
    )
    archive = folder / name
    if done.returncode or not archive.is_file():
        last = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise refusal(f"npm could not fetch pyodide {PYODIDE}: {last[:200]}", how)
    _checked(archive, PACKED)
    with tarfile.open(archive) as packed:
        for name in RUNTIME:
            held = packed.extractfile(f"package/{name}")
            if held is not None:
                (folder / name).write_bytes(held.read())
    return folder


def _checked(path: Path, digest: str) -> bytes:
    """A file that is what was pinned. Raises InputProblems."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise refusal(f"{path} cannot be read: {error.strerror}", f"It must be that of pyodide {PYODIDE}.") from None
    if hashlib.sha256(content).hexdigest() != digest:
        raise refusal(
            f"{path} is not the file of pyodide {PYODIDE} that was pinned", "Fetch it again from the package index."
        )
    return content


def _trimmed(stdlib: bytes) -> bytes:
    """Python's own library without what nothing imports."""
    into = BytesIO()
    with (
        zipfile.ZipFile(BytesIO(stdlib)) as whole,
        zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as kept,
    ):
        for entry in whole.infolist():
            if entry.filename in NEEDED or not entry.filename.startswith(UNUSED):
                kept.writestr(_dated(entry.filename), whole.read(entry))
    return into.getvalue()


def _without_examples(rules: Rulebook) -> Rulebook:
    """The book without the examples beside its rules, which nobody runs on a phone: a quarter of it."""
    return replace(rules, rules=tuple(replace(rule, entry=rule.entry._replace(tests=())) for rule in rules.rules))


def _app() -> bytes:
    """The package, and PyYAML's Python files, as one archive; the same bytes from the same files."""
    into = BytesIO()
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed:
        for name, content in sorted(_package()):
            packed.writestr(_dated(name), content)
    return into.getvalue()


def _package() -> Iterator[tuple[str, bytes]]:
    home = Path(__file__).resolve().parent.parent
    for path in home.rglob("*"):
        inside = path.relative_to(home).as_posix()
        if (
            path.is_file()
            and path.suffix in (".py", ".json")
            and (inside in ALL_THE_SAME or not inside.startswith(LEFT_OUT))
        ):
            yield f"diagnose/{inside}", path.read_bytes()
    yield from library()


def _dated(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, (2020, 1, 1, 0, 0, 0))
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry
