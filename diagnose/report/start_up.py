"""A start-up in words: a sentence for every item, what to do where it failed, the list on one screen, and with all figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.start_up_items import Item, ItemName
from diagnose.report.blocks import Block, brief, deeper, heading, item, line
from diagnose.report.dangers import first_sentence, opening
from diagnose.report.field import odd_text
from diagnose.report.layout import WIDTH, as_text
from diagnose.report.start_up_sentences import SENTENCES, item_text
from diagnose.report.wording import cite, lower_first, upper_first

LINES = 24
NITROGEN = (
    "nitrogen only through a regulator with a relief valve, never oxygen or air, never above the plate’s test pressure; "
    "lock out and verify zero voltage before a panel is opened"
)
_MARKS = {"failed": "FAILED", "cannot be told": "?", "done": "ok", "left out": "-"}
_LEADS = {"failed": "Failed,", "cannot be told": "Cannot be told,", "done": "Done,"}
TITLES: Mapping[ItemName, str] = {"charge by weight": "charge by weight", "customer": "the customer"}


def title(name: ItemName) -> str:
    """What an item is called."""
    return TITLES.get(name, name)


# Where each item's limits stand: figures of judgement.yaml, and sources beside them.
_LIMITS: Mapping[ItemName, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "line set": ((), ("common-practice",)),
    "pressure test": (("least held", "least pressure", "shows", "gas temperature"), ("virial-nitrogen",)),
    "evacuation": (("depth",), ()),
    "decay test": (("decay", "stays", "levels"), ()),
    "airflow": (("airflow",), ("ashrae-fundamentals-2017",)),
    "static pressure": ((), ("rating-plate",)),
    "charge by weight": ((), ("rating-plate", "astm-b280", "coolprop-8", "judgement")),
    "running readings": ((), ("ra3-2008",)),
    "customer": ((), ("common-practice",)),
}


def found_text(d: Diagnosis, one: Item) -> str:
    """What was found, in a sentence or two; empty where it was left out."""
    return item_text(SENTENCES[one.code][0], d, one.figures)


def to_do(d: Diagnosis, one: Item) -> str:
    """What to do about it; empty where nothing is."""
    return item_text(SENTENCES[one.code][1], d, one.figures)


def source_of(d: Diagnosis, one: Item) -> str:
    """Where the limits of an item come from, in words."""
    figures, sources = _LIMITS[one.item]
    own = [d.rules.figures[f"start up/{each}"].source for each in figures]
    return "; ".join(dict.fromkeys(cite(tuple(each), d.rules) for each in (*own, *((source,) for source in sources))))


# -- pages -------------------------------------------------------------------------------------------------------------


def summary(d: Diagnosis) -> str:
    """`Start-up: 6 of 9 done, 1 failed, 2 left out.`"""
    assert d.start_up is not None
    counts = [f"{len(d.start_up.having('done'))} of {len(d.start_up.items)} done"]
    counts += [
        f"{len(those)} {word}"
        for word in ("failed", "cannot be told", "left out")
        if (those := d.start_up.having(word))
    ]
    return f"Start-up: {', '.join(counts)}."


def baseline_text(d: Diagnosis) -> str:
    """Whether the readings of this day are worth keeping as the machine's good day."""
    assert d.start_up is not None
    if d.start_up.keeps:
        return "found right. Keep this file, and name it as `baseline:` in later visits to this machine."
    failed = [title(one.item) for one in d.start_up.having("failed")]
    if failed:
        return f"not yet: {', '.join(failed)} must come right first."
    return "not yet: no running readings were found right."


def start_up_screen(d: Diagnosis, more: str) -> list[Block]:
    """The whole start-up in 24 lines: dangers, what failed, what cannot be told, what is done, what was left out.

    Where it would be too long, what is done gives way first, and then what to do, which stands on the full page.
    """
    for done, doing, cut in (
        (150, True, 0),
        (72, True, 0),
        (0, True, 0),
        (0, True, 160),
        (0, False, 110),
        (0, False, 74),
    ):
        blocks = list(_screen(d, more, done, doing, cut))
        if len(as_text(blocks, WIDTH).splitlines()) <= LINES:
            break
    return blocks


def _screen(d: Diagnosis, more: str, done: int, doing: bool, cut: int) -> Iterator[Block]:
    """done, cut: characters of what is done, and of the rest; 0: it is only named, and all of it."""
    assert d.start_up is not None
    yield from opening(d, summary(d))
    for status in ("failed", "cannot be told"):
        for one in d.start_up.having(status):
            text = f"{found_text(d, one)} {to_do(d, one) if doing else ''}".strip()
            yield brief(f"{_LEADS[status]} {title(one.item)}:", _cut(text, cut))
    right = d.start_up.having("done")
    if done:
        yield from (_brief_of(f"Done, {title(one.item)}:", found_text(d, one), done) for one in right)
    elif right:
        yield brief("Done:", f"{'; '.join(title(one.item) for one in right)}.")
    if out := d.start_up.having("left out"):
        yield brief("Left out:", f"{'; '.join(title(one.item) for one in out)}.")
    yield brief("As a baseline:", baseline_text(d))
    if odd := odd_text(d):
        yield brief("Machine:", odd)
    burns = any("flammable" in danger.code for danger in d.dangers)
    yield brief("Care:", f"{NITROGEN}{'; no flame or spark, ventilate' if burns else ''}.")
    yield brief("More:", more)


def _brief_of(lead: str, text: str, most: int) -> Block:
    """Its first sentence where all of it would be too long."""
    return brief(lead, text if len(text) <= most else _cut(first_sentence(text), max(most - len(lead), 20)))


def _cut(text: str, most: int) -> str:
    if not most or len(text) <= most:
        return text
    return f"{text[:most].rsplit(' ', 1)[0]} …"


def start_up_in_short(d: Diagnosis) -> Iterator[Block]:
    """Every item in one paragraph, for a sheet of paper; nothing where the visit is no start-up."""
    if d.start_up is None:
        return
    yield heading("Start-up")
    for status in ("failed", "cannot be told", "done"):
        for one in d.start_up.having(status):
            text = f"{found_text(d, one)} {to_do(d, one) if status == 'failed' else ''}".strip()
            yield brief(f"{upper_first(title(one.item))}, {status}:", text)
    if out := d.start_up.having("left out"):
        yield brief("Left out:", f"{'; '.join(title(one.item) for one in out)}.")


def start_up_blocks(d: Diagnosis) -> Iterator[Block]:
    """Every item with what was found, what to do and where its limits come from; nothing where the visit is no start-up."""
    if d.start_up is None:
        return
    yield heading("The start-up, step by step")
    for one in d.start_up.items:
        found = found_text(d, one)
        yield item(f"{upper_first(title(one.item))}: {one.status}. {found}".strip(), _MARKS[one.status])
        if one.status == "left out":
            continue
        if (doing := to_do(d, one)) and one.status != "done":
            yield deeper(doing)
        yield deeper(f"Source: {source_of(d, one)}.")
    yield line(f"As a baseline: {baseline_text(d)}")
    yield line(f"Take care: {lower_first(NITROGEN)}.")


def start_up_steps(d: Diagnosis) -> Iterator[Block]:
    """What is next in the order of the work: what must come right, and what was left out; nothing where it is no start-up."""
    if d.start_up is None:
        return
    yield heading("Next in the start-up")
    open_ = [one for one in d.start_up.items if one.status in ("failed", "cannot be told")]
    for i, one in enumerate(open_):
        yield item(f"{upper_first(title(one.item))}. {to_do(d, one) or found_text(d, one)}", f"{i + 1}.")
    if out := d.start_up.having("left out"):
        yield item(f"Left out so far: {'; '.join(title(one.item) for one in out)}.")
    elif not open_:
        yield item("Nothing: every step was done.")


def start_up_dict(d: Diagnosis) -> dict[str, Any]:
    """The items for JSON, figures in SI, and whether the readings can be a baseline; nothing where the visit is no start-up."""
    if d.start_up is None:
        return {}
    items = [
        {
            "item": one.item,
            "status": one.status,
            "code": one.code,
            "figures": {name: _plain(value) for name, value in one.figures.items()},
            "text": f"{found_text(d, one)} {to_do(d, one) if one.status != 'done' else ''}".strip(),
            "source": source_of(d, one),
        }
        for one in d.start_up.items
    ]
    return {"start_up": items, "keeps_as_baseline": d.start_up.keeps}


def _plain(value: Any) -> Any:
    """Ready for JSON: six significant digits, names as lists."""
    if isinstance(value, float):
        return float(f"{value:.6g}")
    if isinstance(value, Mapping):
        return {name: _plain(each) for name, each in value.items()}
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return getattr(value, "code", value)
