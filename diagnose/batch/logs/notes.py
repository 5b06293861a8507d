"""What is odd about a log, a sentence each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.batch.logs.model import Log
from diagnose.batch.logs.stamps import day_of, day_text, shown
from diagnose.report.wording import listed, lower_first, upper_first
from diagnose.visit.reason import Reason

MOST_ALIKE = 4  # notes of one code that are told one by one


def told_by(by: str) -> str:
    """What shows whether it runs."""
    return "its own switch" if by == "switch" else f"the {by}"


def note_texts(log: Log, notes: Sequence[Reason]) -> Iterator[tuple[Reason, str]]:
    """Each note with its sentence; of many alike the first, and how many more there are."""
    count: dict[str, int] = {}
    for note in notes:
        count[note.code] = count.get(note.code, 0) + 1
        if count[note.code] <= MOST_ALIKE:
            yield note, note_text(log, note)
    for code, many in count.items():
        if many > MOST_ALIKE:
            last = [note for note in notes if note.code == code][-1]
            yield (
                Reason(code, {"more": many - MOST_ALIKE}),
                f"{many - MOST_ALIKE} more of this kind, the last: {note_text(log, last)}",
            )


def note_text(log: Log, note: Reason) -> str:
    """The sentence of one note."""
    f = note.figures
    one = f.get("count", 1) == 1
    words = dict(f) | {"s": "" if one else "s", "v": "s" if one else "", "are": "is" if one else "are"}
    words |= {name: time_text(f[name]) for name in ("longest", "step", "least", "most") if name in f}
    words |= {"by": told_by(str(f["by"]))} if "by" in f else {}
    words |= {name: listed(f[name]) for name in ("readings", "facts") if name in f}
    if isinstance(f.get("by"), float):
        words["back"] = time_text(f["by"])
    if "what" in f:
        words["what"] = upper_first(f["what"])
    if "at" in f:
        words["at"] = moment(log, f["at"])
    if isinstance(f.get("from"), float):
        words |= {"span": span(log, f["from"], f["to"]), "lasting": time_text(f["to"] - f["from"])}
    if "columns" in f:
        meant = [f" ({lower_first(hint.rstrip('.'))})" if hint else "" for _, hint in f["columns"][:12]]
        words["columns"] = listed([f"`{name}`{hint}" for (name, _), hint in zip(f["columns"], meant, strict=False)])
        words["rest"] = f" and {len(f['columns']) - 12} more" if len(f["columns"]) > 12 else ""
    return _SENTENCES[note.code].format(**words)


def moment(log: Log, time: float) -> str:
    """`14:05`; `Jul 14, 14:05` where the log has several days."""
    several = day_of(log.times[0]) != day_of(log.times[-1])
    return f"{day_text(time)}, {shown(time)}" if several else shown(time)


def span(log: Log, begin: float, end: float) -> str:
    """`from 14:05 to 15:20`."""
    same = day_of(begin) == day_of(end)
    return f"from {moment(log, begin)} to {shown(end) if same else moment(log, end)}"


def time_text(seconds: float) -> str:
    """`40 s`, `25 minutes`, `3 h 20 min`."""
    if seconds < 120:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes < 100:
        return f"{minutes} minutes"
    hours, rest = divmod(minutes, 60)
    if hours >= 72:
        return f"{hours / 24:,.0f} days"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


_SENTENCES = {
    "log-no-refrigerant": (
        "Neither the log nor a file beside it names the refrigerant, so that neither superheat nor the charge is judged. "
        "Give a visit file that says what the machine is with `--machine VISIT`, or a column `refrigerant`."
    ),
    "log-not-utf-8": "The file is not UTF-8 and is read as Windows-1252: look at names with unusual letters.",
    "log-day-or-month": "`{stamp}` is read with the {first} first; nothing in the log shows whether that is right.",
    "log-clock-forward": (
        "The clock jumps {span}, as when daylight saving time begins; or nothing was logged for an hour. Nothing is taken"
        " across it."
    ),
    "log-clock-back": (
        "At {at} the clock goes back by an hour, as when daylight saving time ends. Times after it are told by the clock "
        "before it, an hour later than they are written. Nothing is taken across it."
    ),
    "log-clock-set-back": (
        "At {at} the clock goes back by {back}. Times after it are counted on by the clock before it. Nothing is taken "
        "across it."
    ),
    "log-in-turn": (
        "Written in turn, in rows of their own: {readings}. Each figure holds until the next, for {longest} at the most."
    ),
    "log-gap": (
        "Nothing was logged {span} ({lasting}). Whether the machine ran meanwhile is not known: its running time is "
        "counted anew."
    ),
    "log-short-gaps": (
        "Records are missing in {count:,} place{s}, up to {longest} long; the machine is taken to have gone on as before."
    ),
    "log-newest-first": "The newest record stands first: the log was turned round.",
    "log-midnight": "The stamps have no date: where the time of day falls back to zero, midnight is assumed.",
    "log-repeated": "{count:,} record{s} repeat{v} a stamp: only the first of each stamp is taken.",
    "log-out-of-order": "{count:,} record{s} {are} older than the one before, and left out.",
    "log-bad-stamps": (
        "{count:,} row{s} left out, the first in line {line}: the time stamp is not written like the others."
    ),
    "log-no-stamps": "{count:,} row{s} left out, the first in line {line}: no time stamp.",
    "log-long-row": "Line {line} is left out: it is far too long for a record.",
    "log-wide-rows": (
        "{count:,} row{s} left out, the first in line {line}: more cells than columns are named, as where a comma stands "
        "in a figure."
    ),
    "log-narrow-rows": (
        "{count:,} row{s} left out, the first in line {line}: fewer cells than other rows have, and nothing tells which are "
        "missing."
    ),
    "log-new-units": (
        "From {at} on another unit is logged for {readings}, as the log itself says. Each part is read in its own unit, "
        "and no stretch crosses the change."
    ),
    "log-new-head": (
        "At {at} the names of the columns are written again: the logger was started anew. No stretch crosses it."
    ),
    "log-no-figures": "{reading}: {count:,} record{s} with no figure but, for example, `{text}`: taken as missing.",
    "log-no-unit": ("{reading}: no unit stands in the head, and it is left out. Write the unit in brackets."),
    "log-left-out": "{what}. {fix} It is left out.",
    "log-impossible": (
        "{reading}: {count:,} record{s} with a figure that no such reading can have (a broken sensor, or another unit): "
        "taken as missing."
    ),
    "log-empty-columns": "No figure at all: {readings}.",
    "log-unused": "Not used, because no reading has such a name: {columns}{rest}.",
    "log-unit-jumps": (
        "At {at} the {reading} jumps as if it were logged in {to} from there on, though the column says {from}. It is "
        "left out from there on: write a new row of names where units change."
    ),
    "log-stuck": "The {reading} shows one and the same figure {span}: a sensor that is stuck. It is left out there.",
    "log-defrosts-unseen": (
        "It heats, and no defrost could be seen: log a column `defrost`, or return air dry bulb with the vapor line "
        "temperature or the supply air."
    ),
    "log-too-coarse": (
        "A record every {step} does not show whether anything has settled: log at least every {most}, better every "
        "minute. No stretch is examined."
    ),
    "log-running-unknown": (
        "No column shows when the machine runs (a switch `running`, current, power, both pressures, or return and supply "
        "air): it is taken to run all the time, and the running time is left open."
    ),
    "log-never-runs": "By {by} the machine never ran.",
    "log-never-steady": (
        "No stretch was steady for five minutes after {least} of running; the longest run took {longest}."
    ),
    "log-running-by-pressures": (
        "When it runs is told by the two pressures, which come together slowly after a stop: stops are seen late. A "
        "current, or a switch, shows them at once."
    ),
    "log-fact-twice": "Said by the log and by the file beside it: {facts}. The file holds.",
    "log-beside": "What the machine is comes from {file}.",
    "log-readings-unused": "The readings in the file beside the log are not used.",
}  # filled in by `note_text`
