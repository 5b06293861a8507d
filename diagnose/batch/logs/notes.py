"""What is odd about a log, a sentence each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from diagnose.batch.logs.model import Log
from diagnose.batch.logs.stamps import day_of, shown
from diagnose.visit.reason import Figures, Reason

MOST_ALIKE = 4  # notes of one code that are told one by one
_TOLD_BY = {
    "switch": "its own switch",
    "compressor current": "the compressor current",
    "electric power": "the electric power",
    "pressures": "the pressures",
    "air temperature split": "the air temperature split",
}


def told_by(by: str) -> str:
    """What shows whether it runs."""
    return _TOLD_BY.get(by, "nothing")


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
    return _SENTENCES[note.code](log, note.figures)


def moment(log: Log, time: float) -> str:
    """`14:05`, with the date where the log has several days."""
    several = day_of(log.times[0]) != day_of(log.times[-1])
    return shown(time, date=several)


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
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def _number(count: int, thing: str) -> str:
    return f"{count:,} {thing}{'' if count == 1 else 's'}"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _unused(log: Log, f: Figures) -> str:
    told = [f"`{name}`{f' ({hint})' if hint else ''}" for name, hint in f["columns"][:12]]
    rest = len(f["columns"]) - len(told)
    return f"Not used, because no reading has this name: {', '.join(told)}{f' and {rest} more' if rest else ''}."


def _new_units(log: Log, f: Figures) -> str:
    return (
        f"From {moment(log, f['at'])} on {_listed(f['readings'])} {'is' if len(f['readings']) == 1 else 'are'} logged in "
        "another unit, as the log itself says. Each part is read in its own unit, and no stretch crosses the change."
    )


_SENTENCES: Mapping[str, Callable[[Log, Figures], str]] = {
    "log-no-refrigerant": lambda log, f: (
        "Neither the log nor a file beside it names the refrigerant, so that neither superheat nor the charge is judged. Give "
        "a visit file that says what the machine is with `--machine VISIT`, or a column `refrigerant`."
    ),
    "log-preamble": lambda log, f: (
        f"{_number(f['lines'], 'line')} above the names of the columns {'is' if f['lines'] == 1 else 'are'} not read."
    ),
    "log-not-utf-8": lambda log, f: (
        "The file is not UTF-8 and is read as Windows-1252: look at names with unusual letters."
    ),
    "log-day-or-month": lambda log, f: (
        f"`{f['stamp']}` is read with the {'month' if f['first'] else 'day'} first; nothing in "
        "the log shows whether that is right."
    ),
    "log-clock-forward": lambda log, f: (
        f"The clock jumps {span(log, f['from'], f['to'])}, as when daylight saving time "
        "begins; or nothing was logged for an hour. Nothing is taken across it."
    ),
    "log-clock-back": lambda log, f: (
        f"At {moment(log, f['at'])} the clock goes back by an hour, as when daylight saving time "
        "ends. Times after it are told by the clock before it, an hour later than they are written. Nothing is taken across it."
    ),
    "log-gap": lambda log, f: (
        f"Nothing was logged {span(log, f['from'], f['to'])} ({time_text(f['to'] - f['from'])}). "
        "Whether the machine ran meanwhile is not known: its running time is counted anew."
    ),
    "log-short-gaps": lambda log, f: (
        f"Records are missing in {_number(f['count'], 'place')}, up to {time_text(f['longest'])} "
        "long; the machine is taken to have gone on as before."
    ),
    "log-newest-first": lambda log, f: "The newest record stands first: the log was turned round.",
    "log-midnight": lambda log, f: (
        "The stamps have no date: where the time of day falls back to zero, midnight is assumed."
    ),
    "log-repeated": lambda log, f: (
        f"{_number(f['count'], 'record')} repeat{'s' if f['count'] == 1 else ''} the stamp before "
        f"{'it' if f['count'] == 1 else 'them'}: only the first of each is taken."
    ),
    "log-out-of-order": lambda log, f: (
        f"{_number(f['count'], 'record')} {'is' if f['count'] == 1 else 'are'} older than the one before, and left out."
    ),
    "log-bad-stamps": lambda log, f: (
        f"{_number(f['count'], 'row')} left out, the first in line {f['line']}: the time stamp is "
        "not written like the others."
    ),
    "log-no-stamps": lambda log, f: (
        f"{_number(f['count'], 'row')} left out, the first in line {f['line']}: no time stamp."
    ),
    "log-long-row": lambda log, f: f"Line {f['line']} is left out: it is far too long for a record.",
    "log-wide-rows": lambda log, f: (
        f"{_number(f['count'], 'row')} left out, the first in line {f['line']}: more cells than columns "
        "are named, as where a comma stands in a figure."
    ),
    "log-new-units": _new_units,
    "log-new-head": lambda log, f: (
        f"At {moment(log, f['at'])} the names of the columns are written again: the logger was "
        "started anew. No stretch crosses it."
    ),
    "log-no-figures": lambda log, f: (
        f"{f['reading']}: {_number(f['count'], 'record')} {'holds' if f['count'] == 1 else 'hold'} "
        f"no figure but, for example, `{f['text']}`: taken as missing."
    ),
    "log-own-units": lambda log, f: (
        f"{f['reading']}: {_number(f['count'], 'cell')} {'says' if f['count'] == 1 else 'say'} another unit than the column "
        f"(`{f['unit']}`), and {'is' if f['count'] == 1 else 'are'} read in it."
    ),
    "log-impossible": lambda log, f: (
        f"{f['reading']}: {_number(f['count'], 'record')} {'holds' if f['count'] == 1 else 'hold'} a "
        "figure that no such reading can have (a broken sensor, or another unit): taken as missing."
    ),
    "log-empty-columns": lambda log, f: f"No figure at all: {', '.join(f['readings'])}.",
    "log-unused": _unused,
    "log-unit-jumps": lambda log, f: (
        f"At {moment(log, f['at'])} the {f['reading']} jumps as if it were logged in {f['to']} from "
        f"there on, though the column says {f['from']}. It is left out from there on: write a new row of names where "
        "units change."
    ),
    "log-stuck": lambda log, f: (
        f"The {f['reading']} shows one and the same figure {span(log, f['from'], f['to'])}: a sensor that "
        "is stuck. It is left out there."
    ),
    "log-defrosts-unseen": lambda log, f: (
        "It heats, and no defrost could be seen: log a column `defrost`, or return air dry bulb "
        "with the vapor line temperature or the supply air."
    ),
    "log-too-coarse": lambda log, f: (
        f"A record every {time_text(f['step'])} does not show whether anything has settled: log at "
        f"least every {time_text(f['most'])}, better every minute. No stretch is examined."
    ),
    "log-running-unknown": lambda log, f: (
        "No column shows when the machine runs (a switch `running`, current, power, both "
        "pressures, or return and supply air): it is taken to run all the time, and the running time is left open."
    ),
    "log-never-runs": lambda log, f: f"By {told_by(f['by'])} the machine never ran.",
    "log-never-steady": lambda log, f: (
        f"No stretch was steady for five minutes after {time_text(f['least'])} of running; the "
        f"longest run took {time_text(f['longest'])}."
    ),
    "log-running-by-pressures": lambda log, f: (
        "When it runs is told by the two pressures, which come together slowly after a "
        "stop: stops are seen late. A current, or a switch, shows them at once."
    ),
    "log-fact-twice": lambda log, f: (
        f"{_listed(f['facts'])}: said by the log and by the file beside it; the file holds."
    ),
    "log-readings-unused": lambda log, f: "The readings in the file beside the log are not used.",
}
