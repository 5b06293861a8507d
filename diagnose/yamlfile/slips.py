"""Slips of the hand that YAML takes for something else: where they stand, and how each is mended."""

import re
from collections.abc import Iterator, Sequence

from diagnose.yamlfile.problems import Problem, line_of

_SPACES = "\u00a0\u2007\u202f\u3000"
# What text programs and chats put in the place of a space; read as one outside of quotes.
SPACES = dict.fromkeys(map(ord, _SPACES), " ")
SPACED = re.compile(f"[{_SPACES}]")
_LAYOUT = re.compile(
    rf"^[ {_SPACES}]*(?:-[ {_SPACES}]+)*(?=[A-Za-z]|$)(?:[A-Za-z][\w ]*:[{_SPACES}]+)?|(?<=[:,{{\[])[{_SPACES}]+", re.M
)
# The minus and the dashes that stand before a number in print; read as the hyphen of the keyboard.
MINUS = re.compile(r"[\u2212\u2010-\u2013](?=[0-9.])")
DASHES = frozenset("-\u2010\u2011\u2012\u2013\u2014\u2015\u2212\u2022\u00b7\u2023\u25e6")
"""What a list item, or a number below zero, may begin with by mistake."""
_BULLET = re.compile(r"([\u2010-\u2015\u2212\u2022\u00b7\u2023\u25e6])(?=\s)")
_TIGHT = re.compile(r"-[A-Za-z]")
_MERGE = re.compile(r"^(?:<{7}|={7}|>{7}|\|{7})(?: .*)?$", re.M)
_BLOCK = re.compile(r"(?:^|[:-]\s)\s*[>|][-+0-9]*\s*(?:#.*)?$")
_ITEMS = re.compile(r"\s*(?:-\s+)*")
COMMENT = re.compile(r"(?<!\s)\s+#(?=\w)")  # begun once a gap: a great one is not searched from each of its places
_CURLY = re.compile(r"[\u201c\u201d\u201e]|(?<=[:\-,{\[] )[\u2018\u2019\u201a]")
_WIDE = re.compile("[\uff1a\ufe55]")
CURLY = 'The quotes here are curly ones, which do not count; type straight ones: "...".'


def laid_out(text: str) -> str:
    """The text with plain spaces where its layout depends on them: before and after names, and after `-`, `{`, `[`, `,`."""
    return _LAYOUT.sub(lambda found: found.group().translate(SPACES), text)


def merge_marks(text: str, name: str, lines: tuple[str, ...]) -> list[Problem]:
    """What a program for versions leaves where two people changed the same lines."""
    if not any(sign * 7 in text for sign in "<>|="):
        return []
    found = []
    for number, line in enumerate(lines, 1):
        if _MERGE.match(line):
            fix = "Two versions of a file met here: keep one of the two, and take out the lines of <, = and >."
            found.append(Problem(name, number, 1, "this is the mark of a merge", fix, len(line), line))
    return found if any(not problem.text.startswith("=") for problem in found) else []


def bad_dash(text: str) -> tuple[str, str] | None:
    """What is wrong with the beginning of a list item, as what and fix; None where nothing is."""
    if bullet := _BULLET.match(text):
        sign = bullet.group(1)
        return f"`{sign}` does not begin a list item", "Type `-`, the hyphen of the keyboard, and a space."
    if _TIGHT.match(text):
        return "no space stands after this `-`", "Put a space between the `-` of a list item and its text."
    return None


def comment_in_text(line: str, column: int) -> int | None:
    """Where `#2` stands that ends a text and was hardly meant to; column: from 0, where the text ends."""
    found = COMMENT.match(line, len(line[:column].rstrip()))
    return found.end() - 1 if found else None


def behind(lines: Sequence[str], upto: int, name: str) -> Problem | None:
    """The slip in a line before the one where reading failed that explains it; None where no usual one is found."""
    for number, line in _outside_texts(lines[:upto]):
        start = len(line) - len(line.lstrip())
        if told := bad_dash(line[start:]):
            return Problem(name, number, start + 1, *told, 1, line)
    return None


def in_line(text: str) -> tuple[str, str] | None:
    """What a line holds that looks like a sign of the keyboard and is none; as what and fix."""
    if _WIDE.search(text):
        return "the colon here is not the colon of the keyboard", "Type `:` and a space."
    if SPACED.search(text):
        return "something goes wrong here, and a no-break space stands in this line", "Type plain spaces in it."
    return None


def curly(text: str) -> bool:
    """Whether curly quotes stand where straight ones are meant."""
    return bool(_CURLY.search(text))


def _outside_texts(lines: Sequence[str]) -> Iterator[tuple[int, str]]:
    """The lines that are not of a text after `>` or `|`, with their numbers."""
    block: int | None = None  # how far the name of the text is indented
    for number, line in enumerate(lines, 1):
        indent = len(line) - len(line.lstrip())
        if block is not None and (not line.strip() or indent > block):
            continue
        block = None
        if line.strip() and not line.lstrip().startswith("#"):
            yield number, line_of(tuple(lines), number)
            if _BLOCK.search(line):
                block = _ITEMS.match(line).end()  # type: ignore[union-attr]
