"""Edits of YAML files that people wrote, and new ones: the only door to ruamel.yaml.

What a person wrote stays as it is: comments, order, units, quotes, and the layout of every line that the edit does not change.
ruamel.yaml keeps all but the layout (it has one indentation for a whole file, and joins what stands on several lines); so the
file is written twice, as it is and edited, and only the difference of the two is brought over. What comes out is read back by
`yamlfile`, which reads the program's files, and must say what the edit says.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Callable, Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import YAMLError
from ruamel.yaml.resolver import VersionedResolver
from ruamel.yaml.scalarstring import (
    DoubleQuotedScalarString,
    FoldedScalarString,
    ScalarString,
    SingleQuotedScalarString,
)

from diagnose import yamlfile
from diagnose.yamlfile import InputProblems, refusal

WIDTH = 110
BOM = "\ufeff"
# What comes out of ruamel.yaml for a layout that it cannot keep: errors of its own, and of Python from inside it.
_CANNOT_EDIT = (YAMLError, AssertionError, AttributeError, NotImplementedError, TypeError, ValueError)
# Other readers of YAML take these for truth values; `yamlfile` does not.
_ELSEWHERE = frozenset(("yes", "no", "on", "off", "y", "n"))
_KEY = r"^( *)(?:- +)?[^\s#-][^\n]*:[ \t]*(?:#[^\n]*)?\n(?:[ \t]*(?:#[^\n]*)?\n)*"


class _AsWritten(VersionedResolver):
    """Nothing is a number or a date: every plain word is written back letter by letter."""

    @property
    def versioned_resolver(self) -> dict[str, Any]:
        return {}


def edited(text: str, change: Callable[[CommentedMap], None], name: str = "") -> str:
    """The text of a file after `change` was made to what it says; line ends and a byte order mark are kept.

    Texts are what stands there, numbers too. Raises InputProblems where the file is no YAML, or is laid
    out so that it cannot be edited.
    """
    before = text.removeprefix(BOM).replace("\r\n", "\n")
    yamlfile.parse(before, name)
    fix = "Write one name on each line, without `{` and `[`."
    refused = refusal("this file cannot be edited by the program", fix, name)
    try:
        yaml = _yaml(before)
        data = yaml.load(before)
        normal = _dump(yaml, data)
    except _CANNOT_EDIT:
        raise refused from None
    if not isinstance(data, CommentedMap):
        raise refused
    change(data)
    try:
        after = _dump(yaml, data)
        wanted = yamlfile.parse(after, name).data
    except _CANNOT_EDIT:
        raise refused from None
    merged = _merged(before, normal, after)
    result = merged if _says(merged, wanted) else after
    if "\r\n" in text:
        result = result.replace("\n", "\r\n")
    return BOM + result if text.startswith(BOM) else result


def written(data: Mapping[str, Any]) -> str:
    """The text of a new file; values made by `node`, `flow` and `paragraph` are laid out as these say."""
    return _dump(_yaml(""), node(data))


def node(value: object) -> Any:
    """A value to be put into a file: groups and lists one entry a line, texts in quotes only where they need them."""
    if isinstance(value, ScalarString | CommentedMap | CommentedSeq):
        return value
    if isinstance(value, str):
        if any(sign in value for sign in "\x85\u2028\u2029"):  # line ends, unless they are written as escapes
            return DoubleQuotedScalarString(value)
        return value if yamlfile.is_text(value) and value.lower() not in _ELSEWHERE else SingleQuotedScalarString(value)
    if isinstance(value, Mapping):
        return CommentedMap((node(name), node(item)) for name, item in value.items())
    if isinstance(value, list | tuple):
        made = CommentedSeq(node(item) for item in value)
        if not made:
            made.fa.set_flow_style()
        return made
    if value is None:
        return ""
    return str(value).lower() if isinstance(value, bool) else f"{value:g}" if isinstance(value, float) else str(value)


def flow(value: object) -> Any:
    """The same on one line: `{value: 23 F, within: 0.5 F}`."""
    made = node(value)
    if isinstance(made, CommentedMap | CommentedSeq):
        made.fa.set_flow_style()
    return made


def paragraph(text: str) -> Any:
    """A text of words, folded over lines where it is long or needs quotes; it then ends with a line end."""
    words = " ".join(text.split())
    if len(words) <= WIDTH - 14 and scalar(words) == words:
        return words
    return folded(textwrap.wrap(words, WIDTH))


def folded(lines: Sequence[str]) -> Any:
    """Lines that are read as one text with spaces between."""
    made = FoldedScalarString(" ".join(lines) + "\n")
    ends, at = [], -1
    for line in lines[:-1]:
        at += len(line) + 1
        ends.append(at)
    made.fold_pos = ends
    return made


def scalar(text: str) -> str:
    """A text as it stands behind a colon or in a list, in quotes where it needs them."""
    return _dump(_yaml(""), flow([node(text)])).rstrip("\n")[1:-1]


def fragment(text: str) -> Any:
    """Entries of a list or a group written beforehand, with their comments, to be put into a file."""
    return _yaml(text).load(text)


def add(data: CommentedMap, section: str, entries: Any) -> None:
    """Puts the entries of a fragment behind those of a section; a section that holds nothing is begun with them."""
    there = data.get(section)
    if not there:
        data[section] = entries
    elif isinstance(there, CommentedSeq):
        there.extend(entries)
    else:
        for name, item in entries.items():
            there[name] = item


def rename(group: Any, at: int, old: str, new: str) -> None:
    """Another name for the entry in this place of a group; what it holds and its comments stay."""
    group.insert(at, new, group.pop(old))
    if old in group.ca.items:
        group.ca.items[new] = group.ca.items.pop(old)


# -- writing -------------------------------------------------------------------------------------------------------


def _yaml(text: str) -> YAML:
    """Set to the indentation that the text begins with."""
    yaml = YAML()
    yaml.Resolver = _AsWritten
    yaml.preserve_quotes = True
    yaml.width = 1_000_000
    group = re.search(_KEY + r"( *)[^\s#-]", text, re.M)
    listed = re.search(_KEY + r"( *)-( +)\S", text, re.M)
    mapping = len(group[2]) - len(group[1]) if group and len(group[2]) > len(group[1]) else 2
    offset = len(listed[2]) - len(listed[1]) if listed and len(listed[2]) >= len(listed[1]) else 2
    yaml.indent(mapping=mapping, sequence=offset + 1 + (len(listed[3]) if listed else 1), offset=offset)
    return yaml


def _dump(yaml: YAML, data: Any) -> str:
    stream = io.StringIO()
    yaml.dump(data, stream)
    return stream.getvalue()


def _says(text: str, wanted: object) -> bool:
    try:
        return yamlfile.parse(text, "").data == wanted
    except InputProblems:
        return False


# -- only what was changed -----------------------------------------------------------------------------------------


def _merged(before: str, normal: str, after: str) -> str:
    """The lines as they were, with what lies between `normal` and `after` brought over."""
    ours, same, new = (text.removesuffix("\n").split("\n") for text in (before, normal, after))
    place = _places(same, ours)
    out: list[str] = []
    done = 0
    for tag, i1, i2, j1, j2 in SequenceMatcher(None, same, new, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        while place[i1] is None:
            i1, j1 = i1 - 1, j1 - 1
        while place[i2] is None:
            i2, j2 = i2 + 1, j2 + 1
        lines = new[j1:j2]
        if tag == "insert":  # comments in front of the next entry stay with it
            while i1 > 0 and place[i1 - 1] is not None and _is_comment(same[i1 - 1]):
                i1 = i2 = i1 - 1
            lines = _comments_aligned(lines)
        begin, end = place[i1] or 0, place[i2] or 0
        beside = i1 if tag == "replace" else i1 - 1
        if beside >= 0 and (at := place[beside]) is not None:
            lines = _shifted(lines, _indent(ours[at]) - _indent(same[beside]))
        if end - begin == len(lines):
            lines = [_gap_kept(line, was) for line, was in zip(lines, ours[begin:end], strict=True)]
        kept = end
        while kept > begin and _is_comment(ours[kept - 1]) and ours[kept - 1] not in lines:
            kept -= 1
        out += [*ours[done:begin], *lines, *ours[kept:end]]
        done = max(done, end)
    return "\n".join([*out, *ours[done:]]) + "\n"


def _places(same: Sequence[str], ours: Sequence[str]) -> list[int | None]:
    """For each line of `same`, and for its end, which of ours it is; None within what was laid out otherwise."""
    place: list[int | None] = [None] * (len(same) + 1)
    for _, i1, i2, j1, j2 in SequenceMatcher(
        None, [x.strip() for x in same], [x.strip() for x in ours], autojunk=False
    ).get_opcodes():
        if i2 - i1 == j2 - j1:
            place[i1:i2] = range(j1, j2)
        elif i2 > i1:
            place[i1] = j1
    place[len(same)] = len(ours)
    return place


def _comments_aligned(lines: Sequence[str]) -> list[str]:
    """Comments of an entry written beforehand stand where they stood there: put over what they speak of."""
    made: list[str] = []
    at = 0
    for line in reversed(lines):
        if line.lstrip().startswith("#"):
            line = " " * at + line.lstrip()
        elif line.strip():
            at = _indent(line)
        made.append(line)
    return made[::-1]


def _gap_kept(line: str, was: str) -> str:
    """As far from its comment as it was."""
    new, old = (re.fullmatch(r"(.*?\S)([ \t]+)(#.*)", text) for text in (line, was))
    return f"{new[1]}{old[2]}{new[3]}" if new and old and new[3].rstrip() == old[3].rstrip() else line


def _is_comment(line: str) -> bool:
    return line.lstrip()[:1] in ("", "#")


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _shifted(lines: Sequence[str], by: int) -> list[str]:
    """Indented further, or less."""
    if by < 0 and any(_indent(line) < -by for line in lines if line.strip()):
        return list(lines)
    return [(" " * by + line if by > 0 else line[-by:]) if line.strip() else line for line in lines]
