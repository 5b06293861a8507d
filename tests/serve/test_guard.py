"""Who is answered: nobody without an access code, nobody else's page, nothing too large; and no answer tells too much."""

from __future__ import annotations

import asyncio
import hashlib
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asked import PAGE, Client, asked, sent, small_site

from diagnose import store as keeping
from diagnose.rulebook import Rulebook
from diagnose.serve import Office, guard, make_app, pages
from diagnose.store import add_person, machines, open_store, people, remove_person, sign_in, signed_in
from diagnose.store.people import _hash
from diagnose.yamlfile import InputProblems

HTTPS = "https://office.example"
AT = "2026-07-14T10:00:00+00:00"


class Clock:
    """Seconds that pass when the test says so."""

    def __init__(self) -> None:
        self.at = 1_784_000_000.0

    def __call__(self) -> float:
        return self.at


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def office(tmp_path: Path, book: Rulebook, clock: Clock) -> Iterator[Client]:
    """One that demands that people sign in, by https."""
    site = small_site(tmp_path / "site", book)
    with asked(str(tmp_path / "v.db"), book, HTTPS, site=site, demands=True, secure=True, now=clock) as client:
        yield client


def code_of(client: Client, name: str = "Ana") -> str:
    return add_person(client.office.store, name, AT)


# -- signing in --------------------------------------------------------------------------------------------------------


def test_nothing_is_told_to_whom_is_not_signed_in(office: Client) -> None:
    for path in ("/", "/office/", "/office/machines/1", "/office/visits/" + "0" * 32, "/office/book", "/none"):
        to = office.get(path, headers=PAGE)
        assert (to.status_code, to.headers["location"].split("?")[0]) == (303, "/office/sign-in"), path
    for path in ("/book.json", "/office/book.json", "/sw.js", "/office/here", "/office/visits/x/file"):
        assert office.get(path).json() == {"problems": ["Sign in to the office first."]}, path
    assert office.send(1, sent()).status_code == 401
    assert office.get("/manifest.webmanifest").status_code == 200
    assert "Access code" in office.page("/office/sign-in")


def test_a_code_opens_until_it_is_removed_and_a_session_until_it_ends(office: Client, clock: Clock) -> None:
    code = code_of(office)
    back = office.sign_in(f"  {code.upper().replace('-', ' - ')} ")  # as a person types it
    assert (back.status_code, back.headers["location"]) == (303, "/office/")
    cookie = back.headers["set-cookie"]
    assert cookie.startswith("__Host-office=")
    for word in ("HttpOnly", "Secure", "SameSite=lax", "Path=/", f"Max-Age={keeping.SESSION_LASTS}"):
        assert word in cookie
    assert office.get("/office/here").json() == {"office": True, "person": "Ana"}
    assert office.send(1, sent()).status_code == 200
    assert "Sent by Ana, 2026-" in office.page("/office/visits/" + office.send(1, sent()).json()["visit"])
    remove_person(office.office.store, "Ana")
    assert office.send(2, sent()).status_code == 401  # at once
    assert office.sign_in(code).status_code == 403
    clock.at += 100
    office.sign_in(code_of(office))
    clock.at += keeping.SESSION_LASTS + 1
    assert office.get("/office/here").status_code == 401


def test_a_session_that_was_ended_is_not_taken_again(office: Client) -> None:
    office.sign_in(code_of(office))
    session = office.cookies["__Host-office"]
    out = office.ask("POST", "/office/sign-out")
    assert out.headers["location"] == "/office/sign-in"
    assert "Max-Age=0" in out.headers["set-cookie"]
    replayed = office.get("/office/here", headers={"cookie": f"__Host-office={session}"})
    assert replayed.status_code == 401


@pytest.mark.parametrize(
    "code", ["", "1", "1-", "-", "0-aaaa", "9" * 400, "1-" + "a" * 10_000, "1-\x00", "¹-abcd", "1-❄", "' OR 1=1 --"]
)
def test_codes_that_are_none(office: Client, code: str) -> None:
    code_of(office)
    refused = office.sign_in(code)
    assert refused.status_code == 403
    assert "This access code opens nothing." in refused.text
    assert "set-cookie" not in refused.headers


def test_forms_that_are_none(office: Client) -> None:
    for body in (b"", b"\xff\xfe", b"code=%ff%00&to=//evil.example", b"a=1&" * 4000, b"code=" + b"1" * 5000):
        assert office.ask("POST", "/office/sign-in", content=body).status_code in (403, 429)


def test_codes_are_kept_as_slow_hashes_alone(place: str) -> None:
    with open_store(place) as store:
        first, second = add_person(store, " Ana  B ", AT), add_person(store, "Ben", AT)
        assert re.fullmatch(r"\d+-([2-9a-hjkmnp-z]{4}-){4}[2-9a-hjkmnp-z]{4}", first)
        with store.reading() as c:
            rows = c.exec_driver_sql("SELECT * FROM people").all()
        letters = first.partition("-")[2].replace("-", "")
        assert letters not in str(rows)
        assert _hash("x", "00" * 16) == hashlib.scrypt(b"x", salt=bytes(16), n=16384, r=8, p=1, dklen=32).hex()
        assert [person.name for person in people(store)] == ["Ana B", "Ben"]
        mine = sign_in(store, first, 0.0)
        assert (signed_in(store, mine, 0.0), signed_in(store, mine[:-1], 0.0)) == ("Ana B", None)
        with store.reading() as c:
            assert mine not in str(c.exec_driver_sql("SELECT * FROM sessions").all())
        assert sign_in(store, f"{second.split('-')[0]}-{first.partition('-')[2]}", 0.0) is None
        remove_person(store, "Ana B")
        assert signed_in(store, mine, 0.0) is None
        for name, what in (
            ("Ben", "has an access code already"),
            ("  ", "needs a name"),
            ("a\nb\x1b", "needs a name"),
            ("a" * 81, "needs a name"),
        ):
            with pytest.raises(InputProblems, match=what):
                add_person(store, name, AT)
        with pytest.raises(InputProblems, match="`Bem` has no access code"):
            remove_person(store, "Bem")


# -- from where --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://evil.example"}, {"origin": "null"}, {"origin": "https://office.example.evil.example"},
        {"origin": "https://office.example:444"}, {"origin": ""}, {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site", "origin": HTTPS},
        {"sec-fetch-site": "", "origin": HTTPS}, {"sec-fetch-site": "none"}, {"origin": "office.example"},
    ],
)  # fmt: skip
def test_another_sites_page_can_change_nothing(office: Client, headers: dict[str, str]) -> None:
    office.sign_in(code_of(office))
    assert office.send(1, sent(), headers=headers).status_code == 403
    assert office.ask("POST", "/office/sign-out", headers=headers).status_code == 403
    assert office.ask("POST", "/office/sign-in", data={"code": "1-x"}, headers=headers).status_code == 403
    assert machines(office.office.store) == []
    assert office.send(1, sent(), headers={"origin": HTTPS, "sec-fetch-site": "same-origin"}).status_code == 200
    behind = {"host": "10.0.0.7:8765", "origin": HTTPS, "sec-fetch-site": "same-origin"}  # a proxy that names it anew
    assert office.send(2, sent(), headers=behind).status_code == 200


def test_a_code_is_never_taken_in_the_clear(office: Client) -> None:
    office.sign_in(code_of(office))
    session = {"cookie": f"__Host-office={office.cookies['__Host-office']}"}
    open_line = Client(office.office, office.app, office.log, base=HTTPS.replace("https", "http"))
    for answer in (open_line.get("/office/here", headers=session), open_line.sign_in("1-x"), open_line.get("/")):
        assert (answer.status_code, "by https only" in answer.text) == (421, True)
    open_line.close()


@pytest.mark.parametrize(
    ("headers", "address"),
    [
        ({"host": "evil.example"}, "127.0.0.1"), ({"host": "127.0.0.1.evil.example:8765"}, "127.0.0.1"),
        ({"host": ""}, "127.0.0.1"), ({"host": "192.0.2.7:8765"}, "192.0.2.7"), ({"host": "localhost"}, "192.0.2.7"),
        ({"x-forwarded-for": "192.0.2.7"}, "127.0.0.1"), ({"via": "1.1 proxy"}, "127.0.0.1"), ({"host": "[::1"}, "127.0.0.1"),
        ({"host": "localhost@evil.example"}, "::1"),
    ],
)  # fmt: skip
def test_without_listen_only_this_machine_is_answered(
    tmp_path: Path, book: Rulebook, headers: dict[str, str], address: str
) -> None:
    with asked(str(tmp_path / "v.db"), book) as client:
        other = Client(client.office, client.app, client.log, address)
        assert other.get("/office/", headers=headers).status_code == 421
        other.close()
        for host in ("localhost:8765", "127.0.0.1", "[::1]:8765", "LOCALHOST"):
            assert client.get("/office/", headers={"host": host}).status_code == 200


# -- how much, how often -----------------------------------------------------------------------------------------------


def nested(depth: int) -> Any:
    found: Any = "x"
    for _ in range(depth):
        found = [found]
    return found


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"x" * 10_000_000, 413),
        (json.dumps({"visit": {str(i): "1 psig" for i in range(10_000)}}).encode(), 422),
        (json.dumps({"visit": {"notes": nested(40)}}).encode(), 422),
        (b'{"visit":' + b"[" * 200_000, 422),
        (b'{"visit": {"notes": "' + b"a" * 30_000 + b'"}}', 422),
        (b'{"visit": {"notes": "\\ud800"}}', 422),
        (b'{"visit": {"machine": {"name": "a\\u0000b"}}}', 422),
        (b'{"visit": {"machine": {"name": "a\\u001b[2Jb"}}}', 422),
        (b'{"visit": {"readings": {"suction pressure": NaN}}}', 422),
        (b'{"visit": {"readings": {"suction pressure": 1e999}}}', 422),
        (b'{"visit": {"readings": {"suction pressure": ' + b"9" * 5000 + b"}}}", 422),
        (b'{"visit": {}, "based_on": "../../etc/passwd"}', 422),
        (b'{"visit": {}, "based_on": "' + b"0" * 64 + b'\\n"}', 422),
        (b'{"visit": {}, "more": 1}', 422),
        (b'{"visit": [1]}', 422),
        (b"[]", 422),
        (b"", 422),
        (b"\xff\xfe{\x00", 422),
        ('{"visit": {}}'.encode("utf-16"), 422),
        (b"visit: {}", 422),
        (b'{"visit": {"__proto__": {"x": 1}, "machine": "!!python/object/apply:os.system [id]"}}', 422),
    ],
)  # fmt: skip
def test_bodies_that_are_no_visit(tmp_path: Path, book: Rulebook, body: bytes, status: int) -> None:
    with asked(str(tmp_path / "v.db"), book) as client:
        path = "/office/sent/00000000-0000-0000-0000-000000000001"
        refused = client.ask("PUT", path, content=body, headers={"content-type": "application/json"})
        assert (refused.status_code, len(refused.content) < 3000) == (status, True), refused.text[:300]
        for word in ("Traceback", "pydantic", str(tmp_path), "/diagnose/"):
            assert word not in refused.text
        assert refused.json()["problems"][0]
        assert machines(client.office.store) == []
        assert client.send(1, sent()).status_code == 200  # and goes on


def test_a_body_of_unknown_length_ends_where_it_is_too_long(tmp_path: Path, book: Rulebook) -> None:
    read = 0

    async def endless() -> Any:
        nonlocal read
        while True:
            read += 1
            yield b"x" * 100_000

    with asked(str(tmp_path / "v.db"), book) as client:
        path = "/office/sent/00000000-0000-0000-0000-000000000001"
        headers = {"content-type": "application/json"}
        assert client.ask("PUT", path, content=endless(), headers=headers).status_code == 413
        assert read <= 13
        for length in ("-5", "1e9", "999999999999999999"):
            broken = {**headers, "content-length": length}
            assert client.ask("PUT", path, content=endless(), headers=broken).status_code == 413


def test_a_body_that_does_not_come_is_not_waited_for(
    tmp_path: Path, book: Rulebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(guard, "PATIENCE", 0.0)

    async def raw(app: Any) -> list[Any]:
        said: list[Any] = []

        async def receive() -> Any:
            await asyncio.Event().wait()

        async def send(message: Any) -> None:
            said.append(message)

        scope = {
            "type": "http", "method": "PUT", "path": "/office/sent/00000000-0000-0000-0000-000000000001", "query_string": b"",
            "headers": [(b"host", b"localhost"), (b"content-type", b"application/json")], "client": ("127.0.0.1", 1),
            "http_version": "1.1", "scheme": "http", "server": ("127.0.0.1", 8765), "root_path": "",
        }  # fmt: skip
        await app(scope, receive, send)
        return said

    with open_store(str(tmp_path / "v.db")) as store:
        assert asyncio.run(raw(make_app(Office(store, book))))[0]["status"] == 408


def test_buckets_fill_again(clock: Clock) -> None:
    limiter = guard.Limiter(guard.RateLimit(3, 0.5), clock)
    assert [limiter.wait("a") for _ in range(5)] == [0, 0, 0, 2.0, 2.0]
    assert limiter.wait("b") == 0
    clock.at += 1.0
    assert limiter.wait("a") == 1.0
    clock.at += 1.0
    assert limiter.wait("a") == 0
    clock.at -= 500  # a clock that was set back opens nothing
    assert limiter.wait("a") == 2.0
    clock.at += 9999
    assert [limiter.wait("a") for _ in range(4)] == [0, 0, 0, 2.0]
    for i in range(guard.MOST + 5):
        limiter.wait(str(i))
    assert len(limiter._left) == guard.MOST


def test_a_line_with_many_addresses_is_one(office: Client) -> None:
    found = []
    for i in range(12):
        other = Client(office.office, office.app, office.log, f"2001:db8:1:2::{i:x}", HTTPS)
        found.append(other.sign_in("1-x").status_code)
        other.close()
    assert found == [403] * 10 + [429] * 2
    for address in ("2001:db8:1:3::1", "::ffff:192.0.2.7", "::ffff:192.0.2.8"):
        other = Client(office.office, office.app, office.log, address, HTTPS)
        assert other.sign_in("1-x").status_code == 403
        other.close()


def test_guessing_is_slow_and_holds_up_nobody_else(office: Client, clock: Clock) -> None:
    code = code_of(office)
    tries = [office.sign_in(f"1-{i}") for i in range(12)]
    assert [each.status_code for each in tries] == [403] * 10 + [429] * 2
    assert int(tries[-1].headers["retry-after"]) >= 10
    other = Client(office.office, office.app, office.log, "192.0.2.8", HTTPS)
    assert other.sign_in(code).status_code == 303
    other.close()
    clock.at += 11
    assert office.sign_in(code).status_code == 303
    found = [office.get("/office/here").status_code for _ in range(int(guard.PERSON.holds) + 3)]
    assert found[-1] == 429
    assert found.count(200) == guard.PERSON.holds


# -- what answers and the log tell -------------------------------------------------------------------------------------


def test_every_answer_has_its_headers(office: Client) -> None:
    office.sign_in(code_of(office))
    id = office.send(1, sent()).json()["visit"]
    for path in (
        "/",
        "/sw.js",
        "/office/",
        f"/office/visits/{id}",
        f"/office/visits/{id}/file",
        "/none",
        "/office/sign-in",
    ):
        headers = office.get(path, headers=PAGE).headers
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["strict-transport-security"] == "max-age=31536000"
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "script-src 'unsafe" not in policy
        assert "server" not in headers
    assert office.get("/office/").headers["cache-control"] == "no-store"
    assert "script-src" not in office.get("/office/").headers["content-security-policy"]


def test_what_people_typed_is_never_markup(tmp_path: Path, book: Rulebook) -> None:
    mark = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'&{{7*7}}"
    visit = {**sent(), "notes": mark, "complaint": mark, "technician": mark, "done": [mark]}
    visit["machine"]["name"] = mark
    with asked(str(tmp_path / "v.db"), book) as client:
        id = client.send(1, visit).json()["visit"]
        for path in (
            "/office/", "/office/machines/1", f"/office/visits/{id}", f"/office/visits/{id}/report/customer",
            f"/office/visits/{id}/report/office", "/office/?name=%3Cscript%3Ealert(1)",
        ):  # fmt: skip
            page = client.page(path)
            assert "<script" not in page, path
            assert "<img" not in page, path
            assert "49" not in re.findall(r"\{\{.*?\}\}|49", page.split("onerror")[-1][:60])
        assert client.page(f"/office/visits/{id}").count("&lt;script&gt;") >= 1


def test_what_breaks_is_told_without_its_reason(
    tmp_path: Path, book: Rulebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> str:
        raise RuntimeError("suction pressure 118 psig of the bakery in /srv/secret")

    monkeypatch.setattr(pages, "first_page", broken)
    with asked(str(tmp_path / "v.db"), book) as client:
        for headers in (PAGE, {}):
            found = client.get("/office/", headers=headers)
            assert found.status_code == 500
            assert found.headers["content-security-policy"]
            mark, *_ = re.findall(r"Its log has more under ([0-9a-f]{8})", found.text)
            assert any(line.startswith(f"{mark} RuntimeError at ") for line in client.log)
            for word in ("psig", "secret", "Traceback", "RuntimeError"):
                assert word not in found.text
            assert "psig" not in "".join(client.log)


def test_a_store_that_is_away_says_so_and_the_phone_keeps_its_visit(tmp_path: Path, book: Rulebook) -> None:
    with asked(str(tmp_path / "v.db"), book) as client:
        client.send(1, sent())
        with client.office.store.writing() as c:
            c.exec_driver_sql("ALTER TABLE sent RENAME TO gone")
        client.office.store.engine.dispose()
        (tmp_path / "v.db").write_bytes(b"no store at all" * 999)
        for beside in tmp_path.glob("v.db-*"):
            beside.unlink()
        away = client.send(2, sent(liquid=95))
        assert away.status_code == 503
        assert away.headers["retry-after"] == "30"
        assert str(tmp_path) not in away.text
        assert "nothing was changed" in away.text


def test_the_log_says_who_and_what_and_nothing_of_visits(office: Client) -> None:
    office.sign_in(code_of(office, "Ana"))
    id = office.send(1, sent(name="secret bakery")).json()["visit"]
    office.page(f"/office/visits/{id}")
    office.page("/office/?name=secret")
    office.get("/office/visits/%0a2026-01-01 forged", headers={"user-agent": "forged"})
    assert [line.split(" ", 1)[1] for line in office.log] == [
        "'-' POST /office/sign-in 303", "'Ana' PUT /office/sent/{uuid} 200", "'Ana' GET /office/visits/{id} 200",
        "'Ana' GET /office/ 200", "'-' GET - 404",
    ]  # fmt: skip
    assert all(re.match(r"2026-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00 ", line) for line in office.log)


def test_other_protocols_are_not_spoken(tmp_path: Path, book: Rulebook) -> None:
    async def knock(app: Any) -> list[Any]:
        said: list[Any] = []

        async def send(message: Any) -> None:
            said.append(message)

        async def receive() -> Any:
            return {"type": "websocket.connect"}

        await app({"type": "websocket", "path": "/office/", "headers": []}, receive, send)
        return said

    with open_store(str(tmp_path / "v.db")) as store:
        assert asyncio.run(knock(make_app(Office(store, book)))) == []
