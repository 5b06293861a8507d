"""What phones send is kept once, version beside version, and shown; on both engines."""

from __future__ import annotations

import gzip
import json
import threading
from contextlib import ExitStack
from pathlib import Path

import pytest
from asked import PAGE, Client, asked, sent, small_site
from kept import NAME

from diagnose import yamlfile
from diagnose.diagnosis.record import Diagnosis
from diagnose.rulebook import Rulebook, digest_of
from diagnose.serve import pages, read_site
from diagnose.store import (
    entry,
    export_folder,
    forget,
    import_folder,
    latest,
    machine_named,
    machines,
    meant,
    open_store,
    visits_of,
)
from diagnose.visit import Visit
from diagnose.yamlfile import InputProblems


def test_sent_twice_is_kept_once_and_as_it_was_entered(place: str, book: Rulebook) -> None:
    visit = {**sent(), "notes": "no: 12\n  - é ❄ '\" #", "done": ["weighed in 4 oz", "0x10", "1:30", "yes"]}
    with asked(place, book) as client:
        first = client.send(1, visit)
        assert first.status_code == 200
        assert first.json()["new"] is True
        backwards = dict(reversed(visit.items()))  # the same, its keys in another order
        for again in (client.send(1, visit), client.send(1, backwards)):
            assert again.json() == {**first.json(), "new": False}
        assert client.send(2, visit).json()["visit"] == first.json()["visit"]  # another phone, the very same visit
        [kept] = visits_of(client.office.store, machine_named(client.office.store, NAME))
        assert yamlfile.parse(kept.text, "").data == visit
        assert kept.story is None  # examined when somebody looks
        assert "Nothing wrong, fair. Charge right." in client.page("/office/")
        [kept] = visits_of(client.office.store, machine_named(client.office.store, NAME))
        assert kept.story is not None


def test_versions_stand_beside_each_other_and_nothing_is_written_over(
    place: str, book: Rulebook, tmp_path: Path
) -> None:
    versions = [{**sent(), "notes": f"version {i}"} for i in range(4)]
    with asked(place, book) as client:
        first = client.send(1, versions[0]).json()
        second = client.send(1, versions[1], first["digest"]).json()
        store = client.office.store
        [stands] = latest(store, 9)
        assert (stands.visit.id, stands.versions, stands.rivals) == (second["visit"], 2, ())
        assert machine_named(store, NAME).count == 1
        assert f"/office/visits/{second['visit']}" in client.page(f"/office/visits/{first['visit']}")
        assert "1 visit," in client.page("/office/machines/1")
        # Two were made from the second: neither is the later one.
        third, rival = (client.send(1, versions[i], second["digest"]).json() for i in (2, 3))
        assert {each.visit.id: each.rivals for each in latest(store, 9)} == {
            third["visit"]: (rival["visit"],),
            rival["visit"]: (third["visit"],),
        }
        assert client.page("/office/").count("2 versions made from the same one") == 2
        assert f"/office/visits/{rival['visit']}" in client.page(f"/office/visits/{third['visit']}")
        # Changed back to what it was: that version stands again.
        client.send(1, versions[1], third["digest"])
        client.send(1, versions[1], rival["digest"])
        assert [each.visit.id for each in latest(store, 9)] == [second["visit"]]
        # And once more there and back: what the phone says last stands.
        again = client.send(1, versions[0], client.send(1, versions[1], third["digest"]).json()["digest"]).json()
        back = client.send(1, versions[1], again["digest"]).json()
        assert (back["new"], client.send(1, versions[1], again["digest"]).json()["new"]) == (True, False)
        # Every version is exported, and forgotten with its machine.
        assert export_folder(store, tmp_path / "out").visits == 4
        with open_store(str(tmp_path / "other.db")) as other:
            assert sum(each.new for each in import_folder(other, tmp_path / "out", book)) == 4
        forget(store, *meant(store, NAME))
        assert (machines(store), latest(store, 9)) == ([], [])
        assert client.send(1, versions[0]).json()["new"] is True


def test_a_version_with_another_machine_name_leaves_the_first_one(place: str, book: Rulebook) -> None:
    with asked(place, book) as client:
        first = client.send(1, sent(name="chandler")).json()
        client.send(1, sent(name="chandler, front"), first["digest"])
        assert [(m.name, m.count) for m in machines(client.office.store)] == [("chandler", 0), ("chandler, front", 1)]
        assert "1 machine." in client.page("/office/")
        assert client.page("/office/machines/1")  # whoever kept the address


def test_many_phones_at_once_lose_and_double_nothing(place: str, book: Rulebook) -> None:
    visits = [sent(liquid=90 + i / 10) for i in range(6)]
    told: list[int] = []
    with asked(place, book) as client, ExitStack() as offices:
        same = client.office.store.engine.url.render_as_string(hide_password=False)

        def phone(own: Client) -> None:
            told.extend(own.send(i, visit).status_code for i, visit in enumerate(visits))

        # Opened one by one: what a web framework hides of its own warnings while it opens is not kept apart by threads.
        own = [offices.enter_context(asked(same, book)) for _ in range(4)]
        phones = [threading.Thread(target=phone, args=[each]) for each in own]
        for each in phones:
            each.start()
        for each in phones:
            each.join()
        assert told == [200] * 24
        assert machine_named(client.office.store, NAME).count == 6


def test_dangers_stand_first(tmp_path: Path, book: Rulebook) -> None:
    hot = sent()
    hot["readings"]["liquid pressure"] = "640 psig"
    with asked(str(tmp_path / "v.db"), book) as client:
        id = client.send(1, hot).json()["visit"]
        first = client.page("/office/")
        assert 0 < first.index("The high side pressure is over its limit.") < first.index("No charge verdict")
        assert "STOP:" in client.page(f"/office/visits/{id}")
        assert "STOP" in client.page(f"/office/visits/{id}/report/office")


def test_every_page_of_a_visit(tmp_path: Path, book: Rulebook) -> None:
    with asked(str(tmp_path / "v.db"), book) as client:
        for i, liquid in enumerate((93.5, 95.0, 97.0), 4):
            id = client.send(i, sent(date=f"2026-0{i}-03", liquid=liquid)).json()["visit"]
        machine = client.page("/office/machines/1")
        assert "<svg" in machine
        assert f"/office/visits/{id}" in machine
        assert 'Good day: <span class="whole">2026-04-03</span>' in machine
        assert "diagnose history" not in machine
        for path, words in (
            ("", "As it was entered"),
            ("/report/customer", "signed"),
            ("/report/office", "signed"),
        ):
            page = client.page(f"/office/visits/{id}{path}")
            assert NAME in page
            assert words in page
        file = client.get(f"/office/visits/{id}/file")
        assert file.headers["content-disposition"] == f'attachment; filename="visit-{id[:8]}.yaml"'
        assert yamlfile.parse(file.content, "").data == sent(date="2026-06-03", liquid=97.0)
        assert "Low refrigerant charge" in client.page("/office/book")
        assert client.page("/office/?name=bäckerei").count("/office/machines/1") == 1
        assert "0 machines." in client.page("/office/?name=bakery")


def test_the_first_page_reads_no_more_machines_than_it_shows(
    tmp_path: Path, book: Rulebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "LISTED", 2)
    with asked(str(tmp_path / "v.db"), book) as client:
        for i, name in enumerate(("net loft", "Bakery 100%", "bookshop")):
            visit = sent()
            client.send(i + 4, {**visit, "machine": {**visit["machine"], "name": name}})
        first = client.page("/office/")
        assert "3 machines." in first
        assert "2 of them stand here" in first
        assert first.count("/office/machines/") == 2
        assert "1 machine." in client.page("/office/?name=0%25")
        assert "0 machines." in client.page("/office/?name=o%25t")  # no pattern is read out of it


def test_what_cannot_be_kept_is_refused_in_words_without_a_path(tmp_path: Path, book: Rulebook) -> None:
    (tmp_path / "secret.yaml").write_text("machine: {name: secret}\nreadings: {suction pressure: 1 psig}\n")
    whole = sent()
    bad = {
        "no name": ({**whole, "machine": {}}, "the machine has no name. Write one"),
        "no date": ({k: v for k, v in whole.items() if k != "date"}, "the visit has no date. Write year"),
        "odd date": ({**whole, "date": "yesterday"}, "`date`: `yesterday` cannot be put in order"),
        "no unit": ({**whole, "readings": {"suction pressure": "118"}}, "unit"),
        "a file": ({**whole, "baseline": "secret.yaml"}, "`baseline` is a path, which can be followed from"),
        "a far file": ({**whole, "baseline": "../../etc/passwd"}, "`baseline` is a path"),
        "a file in a case": ({"case": "x", "visit": {**whole, "baseline": "/etc/passwd"}}, "`baseline` is a path"),
        "nothing": ({}, ""),
    }
    with asked(str(tmp_path / "v.db"), book) as client:
        for name, (visit, words) in bad.items():
            refused = client.send(1, visit)
            assert refused.status_code == 422, name
            text = " ".join(refused.json()["problems"])
            assert words in text, (name, text)
            assert str(tmp_path) not in text
            assert "root:" not in text
        many = client.send(1, {**whole, "readings": {f"reading {i}": "1 psig" for i in range(900)}})
        assert (many.status_code, len(many.json()["problems"])) == (422, 8)
        assert machines(client.office.store) == []


def test_the_page_is_handed_out_of_one_build(tmp_path: Path, book: Rulebook) -> None:
    site = small_site(tmp_path / "site", book)
    assert digest_of(site.book) == digest_of(book)
    with asked(str(tmp_path / "v.db"), site.book, site=site) as client:
        (tmp_path / "site" / "sw.js").write_text("of the next build")
        page = client.get("/", headers=PAGE)
        assert (
            page.headers["content-security-policy"] == "default-src 'none'; script-src 'self'; frame-ancestors 'none'"
        )
        worker = client.get("/sw.js", headers={"accept-encoding": "gzip"})
        assert worker.text == "1;" * 900
        assert worker.headers["content-encoding"] == "gzip"
        assert client.get("/sw.js", headers={"accept-encoding": "identity"}).content == gzip.decompress(
            site.files["sw.js"].packed
        )
        same = client.get("/sw.js", headers={"if-none-match": worker.headers["etag"]})
        assert (same.status_code, same.content) == (304, b"")
        assert client.get("/notes.txt").status_code == 404
        assert client.get("/office/book.json").json() == json.loads((tmp_path / "site" / "book.json").read_text())
        assert client.get("/office/here").json() == {"office": True, "person": ""}
    with asked(str(tmp_path / "v.db"), book) as client:
        assert client.get("/").headers["location"] == "/office/"


@pytest.mark.parametrize("what", ["empty", "none", "another version", "a file"])
def test_a_folder_that_is_no_page(tmp_path: Path, book: Rulebook, what: str) -> None:
    folder = tmp_path / "site"
    if what == "empty":
        folder.mkdir()
    elif what == "another version":
        small_site(folder, book)
        (folder / "book.json").write_text("{}")
    elif what == "a file":
        folder.write_text("")
    with pytest.raises(InputProblems) as error:
        read_site(folder)
    assert "diagnose page build" in str(error.value)


def test_a_visit_on_which_the_program_fails_hides_no_other(
    tmp_path: Path, book: Rulebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = entry.examine

    def fails(visit: Visit, book: Rulebook) -> Diagnosis:
        if visit.machine.name == "odd":
            raise ZeroDivisionError
        return right(visit, book)

    monkeypatch.setattr(entry, "examine", fails)
    with asked(str(tmp_path / "v.db"), book) as client:
        client.send(1, sent())
        client.send(2, sent(name="odd"))
        assert "Nothing wrong, fair. Charge right." in client.page("/office/")
        assert "cannot be told: the program makes a mistake on it." in client.page("/office/machines/2")


def test_addresses_of_nothing(tmp_path: Path, book: Rulebook) -> None:
    with asked(str(tmp_path / "v.db"), book, site=small_site(tmp_path / "site", book)) as client:
        for path in (
            "/office/visits/" + "0" * 32, "/office/visits/..%2f..%2fetc%2fpasswd", "/office/visits/' OR 1=1", "/none",
            "/office/machines/99999999999999999999", "/office/machines/-1", "/%2e%2e/pyproject.toml", "/..%5c..%5cx",
            "/office/visits/" + "0" * 32 + "/report/nobody", "/sw.js%00.html", "/office/sign-in%0a", "/docs", "/openapi.json",
        ):  # fmt: skip
            found = client.get(path, headers=PAGE)
            assert found.status_code == 404, path
            assert "Nothing is here under this address." in found.text
            assert client.get(path).json() == {"problems": ["Nothing is here under this address."]}
        assert client.ask("DELETE", "/office/visits/" + "0" * 32).status_code == 405
