"""The pages of the office: the latest visits and all machines, one machine's story, one visit, its reports."""

from __future__ import annotations

from contextlib import suppress

from diagnose import store
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, line
from diagnose.report.handover import TEMPLATES, Whose, handover_page
from diagnose.report.history import SHOWN, answer_text, history_page
from diagnose.report.illustrated import figure, illustrated_page
from diagnose.report.webpage import web_page
from diagnose.report.wording import but_first, counted, upper_first
from diagnose.serve.models import office_page
from diagnose.serve.site import Office
from diagnose.store import Arrived, KeptMachine
from diagnose.visit import VisitError, visit_in
from diagnose.visit.reading import place_of
from diagnose.yamlfile import InputProblems, parse, printable

LATEST, LISTED = 20, 60  # visits, machines on the first page
LONGEST = 200  # characters of a machine's name
_VERDICTS = {
    "do not judge": "No charge verdict",
    "right": "Charge right",
    "low": "Charge low",
    "high": "Charge high",
}


def first_page(office: Office, person: str, name: str) -> str:
    """What came last, dangers first, and every machine whose name holds these words."""
    words = name[:200].split()
    count, found = store.machines_found(office.store, words, LISTED)
    known = bool(count) or store.machines_found(office.store, (), 1)[0] > 0
    blocks = [Block("answer", f"{counted(count, 'machine')}.")]
    if count > LISTED:
        blocks.append(line(f"{LISTED} of them stand here; find the others by name."))
    if not known:
        blocks.append(line("No visit is kept yet. Each one that a phone sends stands here as soon as it arrives."))
    return office_page(
        blocks,
        person,
        site=office.site is not None,
        find=name[:200] if known else None,
        latest=[] if words else [_in_short(visit) for visit in _latest(office)],
        machines=[
            {
                "href": f"/office/machines/{m.number}",
                "name": printable(m.name, LONGEST),
                "count": m.count,
                "last": m.last[:10],
            }
            for m in found
        ],
    )


def _latest(office: Office) -> list[Arrived]:
    found = store.latest(office.store, LATEST)
    new = [each.visit for each in found if each.visit.story is None]
    if new:
        with suppress(InputProblems):  # nothing can be kept just now: what is kept can be looked at all the same
            store.looks_of(office.store, new, lambda: office.book)
        found = store.latest(office.store, LATEST)
    return found


def _in_short(arrived: Arrived) -> dict[str, object]:
    visit, story = arrived.visit, arrived.visit.story
    notes = [f"{len(arrived.rivals) + 1} versions made from the same one."] if arrived.rivals else []
    return {
        "href": f"/office/visits/{visit.id}",
        "name": printable(arrived.name, LONGEST),
        "date": visit.date.replace("T", " "),
        "person": arrived.sent[-1].person if arrived.sent else "",
        "dangers": [f"{title}." for title in arrived.dangers],
        "answer": f"{upper_first(answer_text(story))}. {_VERDICTS.get(story.verdict, '')}{but_first(story.check)}."
        if story
        else "Open it for its answer.",
        "notes": notes,
    }


def machine_page(office: Office, person: str, machine: KeptMachine) -> str:
    """A machine's story over its visits, each of which leads to its own page."""
    from diagnose.report.drawings import Drawing
    from diagnose.report.drawings.over_visits import over_visits

    visits = [visit for visit in store.visits_of(office.store, machine) if not visit.replaced]
    looks, _, untold = store.looks_of(office.store, visits, lambda: office.book)
    chart = over_visits(machine.name, looks, looks[-1].story.system) if looks else None
    drawn = [figure(chart)] if isinstance(chart, Drawing) else []
    blocks = history_page(machine.name, looks, office.book.judgement.drifts, untold=untold, drawn=drawn, commands=False)
    hrefs = ("", *(f"/office/visits/{look.id}" for look in looks))
    blocks = [block._replace(hrefs=hrefs) if block.kind == "rows" else block for block in blocks]
    count = blocks[0].text.removeprefix(f"{printable(machine.name)}: ")
    blocks = [Block("answer", printable(machine.name, LONGEST)), line(count), *blocks[1:]]
    return office_page(blocks, person, site=office.site is not None)


def visit_page(office: Office, person: str, arrived: Arrived) -> str:
    """All that is said of one visit, how it came here, and what lies beside it."""
    visit, address = arrived.visit, f"/office/visits/{arrived.visit.id}"
    try:
        blocks = illustrated_page(_examined(office, visit.text))
    except VisitError as error:
        title = Block("answer", "This visit cannot be read by this version of the program.")
        blocks = [title, line(f"{error.problems[0].what}.")]
    return office_page(
        blocks,
        person,
        site=office.site is not None,
        fold=True,
        back=[
            {"href": f"/office/machines/{arrived.machine}", "text": f"All visits of {printable(arrived.name, LONGEST)}"}
        ],
        ways=[
            {"href": f"{address}/report/customer", "text": "Customer’s report"},
            {"href": f"{address}/report/office", "text": "Office report"},
            {"href": f"{address}/file", "text": "Visit file"},
        ],
        notes=list(_notes(arrived)),
        entered=visit.text,
    )


def _notes(arrived: Arrived) -> list[dict[str, str]]:
    """How it came, what replaced it, what stands beside it."""
    found = []
    for version in arrived.sent[-1:]:
        who = f" by {version.person}" if version.person else ""
        more = f", one of {arrived.versions} versions" if arrived.versions > 1 else ""
        found.append({"href": "", "text": f"Sent{who}, {version.at.replace('T', ' ')[:16]} UTC{more}."})
    linked = [(id, "A later version of this visit is here:") for id in arrived.later] + [
        (id, "Another version was made from the same one; neither replaced the other:") for id in arrived.rivals
    ]
    found += [{"text": text, "href": f"/office/visits/{id}", "link": f"visit {id[:SHOWN]}"} for id, text in linked]
    return found


def report_page(office: Office, arrived: Arrived, whose: Whose) -> str:
    """The report to hand over, ready to print. Raises VisitError where this version cannot read the visit."""
    d = _examined(office, arrived.visit.text)
    return web_page(handover_page(d, whose, drawn=True), contents=False, template=TEMPLATES[whose])


def _examined(office: Office, text: str) -> Diagnosis:
    document = parse(text, "")
    return examine(visit_in(document, place_of(document), office.book.own), office.book)


def sign_in_page(to: str, problem: str = "") -> str:
    """Where an access code is given. to: where that leads, `page` or `office`."""
    blocks = [Block("answer", "Sign in")]
    blocks += [Block("brief", problem)] if problem else []
    blocks.append(line("The office gave you an access code. This browser then stays signed in for half a year."))
    return office_page(blocks, "", signing={"to": to})
