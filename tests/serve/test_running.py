"""A real office on loopback: under load, killed and started again, by https, behind a proxy, asked to stop."""

from __future__ import annotations

import asyncio
import http.client
import json
import random
import signal
import socket
import ssl
import subprocess
import threading
from pathlib import Path
from uuid import UUID

import pytest
import uvicorn
from asked import sent
from offices import Running, serving
from starlette.types import Receive, Scope, Send
from uvicorn.server import ServerState

from diagnose.serve import Office, Place, run, running
from diagnose.store import add_person, machines, open_store, visits_of
from diagnose.yamlfile import InputProblems

PHONES, EACH = 50, 4
WITH_BODY = b"PUT / HTTP/1.1\r\nHost: a\r\nContent-Length: 2\r\n\r\n{}"


def asked(port: int, method: str, path: str, body: object = None, **headers: str) -> tuple[int, bytes]:
    """One request on a connection of its own."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        given = {
            "content-type": "application/json",
            **{name.replace("_", "-"): value for name, value in headers.items()},
        }
        connection.request(method, path, None if body is None else json.dumps(body), given)
        answer = connection.getresponse()
        return answer.status, answer.read()
    finally:
        connection.close()


class Phone(threading.Thread):
    """Sends its visits one after the other, each until the office says it is kept; reads between them."""

    def __init__(self, office: Running, number: int, half: threading.Semaphore) -> None:
        super().__init__()
        self.office, self.number, self.half = office, number, half
        self.kept: dict[str, str] = {}
        self.wrong: list[object] = []

    def run(self) -> None:
        before = ""
        for i in range(EACH):
            visit = sent(name=f"machine {self.number}", liquid=90 + i)
            body = {"visit": visit, "based_on": before if i == 1 else ""}  # the second is a later version of the first
            uuid = UUID(int=1000 * self.number + (i if i > 1 else 0))
            while True:
                try:
                    status, answer = asked(self.office.port, "PUT", f"/office/sent/{uuid}", body)
                except (OSError, http.client.HTTPException):
                    threading.Event().wait(0.05 * random.random())
                    continue
                break
            if status != 200:
                self.wrong.append((status, answer[:300]))
                return
            receipt = json.loads(answer)
            before = receipt["digest"]
            self.kept[receipt["visit"]] = visit["readings"]["liquid line temperature"]
            self.half.release()
            try:
                status, answer = asked(self.office.port, "GET", f"/office/visits/{receipt['visit']}/file")
                if status != 200 or visit["machine"]["name"].encode() not in answer:
                    self.wrong.append((status, answer[:300]))
            except (OSError, http.client.HTTPException):
                pass  # it was killed just now; what counts is that the visit is there in the end


def test_fifty_phones_lose_and_double_nothing_though_the_office_is_killed(tmp_path: Path) -> None:
    half = threading.Semaphore(0)
    with serving(tmp_path / "v.db") as office:
        phones = [Phone(office, number, half) for number in range(1, PHONES + 1)]
        for phone in phones:
            phone.start()
        for _ in range(PHONES * EACH // 2):
            half.acquire()
        office.kill()
        office.again()
        for phone in phones:
            phone.join()
        assert [phone.wrong for phone in phones if phone.wrong] == []
        with open_store(str(tmp_path / "v.db")) as store:
            known = machines(store)
            assert len(known) == PHONES
            for machine in known:
                kept = visits_of(store, machine)
                phone = phones[int(machine.name.split()[1]) - 1]
                assert sorted(visit.id for visit in kept) == sorted(phone.kept)
                assert (len(kept), machine.count) == (EACH, EACH - 1)
                assert [visit.replaced for visit in kept].count(True) == 1


def test_people_sign_in_behind_a_proxy_and_are_told_apart_by_what_it_says(tmp_path: Path) -> None:
    with open_store(str(tmp_path / "v.db")) as store:
        code = add_person(store, "Ana", "2026-07-14T10:00:00+00:00")
    with serving(tmp_path / "v.db", "--listen", "127.0.0.1", "--proxy", "127.0.0.1") as office:
        said = {"content_type": "application/x-www-form-urlencoded", "x_forwarded_proto": "https"}
        for i in range(11):
            status, _ = asked(office.port, "POST", "/office/sign-in", "1-x", **said, x_forwarded_for="192.0.2.7")
            assert status == (403 if i < 10 else 429)
        connection = http.client.HTTPConnection("127.0.0.1", office.port)
        connection.request(
            "POST", "/office/sign-in", f"code={code}", {"x-forwarded-for": "192.0.2.8", "x-forwarded-proto": "https"}
        )
        answer = connection.getresponse()
        assert (answer.status, answer.read()) == (303, b"")
        assert answer.getheader("set-cookie", "").startswith("__Host-office=")
        assert answer.getheader("server") is None
        connection.close()
        assert asked(office.port, "GET", "/office/here", x_forwarded_proto="https")[0] == 401
        assert asked(office.port, "GET", "/office/here")[0] == 421  # past the proxy, in the clear


def certificate(folder: Path) -> tuple[Path, Path]:
    chain, key = folder / "chain.pem", folder / "key.pem"
    words = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    try:
        subprocess.run([*words, "-keyout", str(key), "-out", str(chain)], check=True, capture_output=True)
    except FileNotFoundError:
        pytest.skip("openssl is not installed")
    return chain, key


def test_https_by_certificate_files(tmp_path: Path) -> None:
    chain, key = certificate(tmp_path)
    with open_store(str(tmp_path / "v.db")) as store:
        add_person(store, "Ana", "2026-07-14T10:00:00+00:00")
    words = ("--listen", "127.0.0.1", "--certificate", str(chain), "--key", str(key))
    with serving(tmp_path / "v.db", *words) as office:
        trusting = ssl.create_default_context(cafile=str(chain))
        with (
            socket.create_connection(("127.0.0.1", office.port)) as plain,
            trusting.wrap_socket(plain, server_hostname="localhost") as secret,
        ):
            secret.sendall(b"GET /office/sign-in HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
            answer = b"".join(iter(lambda: secret.recv(65536), b""))
        assert answer.startswith(b"HTTP/1.1 200 ")
        assert b"strict-transport-security: max-age=31536000" in answer.lower()


def test_requests_that_are_none_end_nothing(tmp_path: Path) -> None:
    with serving(tmp_path / "v.db") as office:
        host = b"HTTP/1.1\r\nHost: localhost\r\n"
        chunked = b"Transfer-Encoding: chunked\r\nContent-Length: 4\r\n\r\nzz\r\n"
        for raw in (
            b"\x00\xff" * 500,
            b"GET / HTTP/9.9\r\n\r\n",
            b"PUT /office/sent/x " + host + b"Content-Length: -1\r\n\r\n",
            b"GET /" + b"a" * 60_000 + b" " + host + b"\r\n",
            b"GET / " + host + b"X: y\r\n" * 9000 + b"\r\n",
            b"POST /office/sign-in " + host + chunked,
        ):
            with socket.create_connection(("127.0.0.1", office.port)) as plain:
                try:
                    plain.sendall(raw)
                    plain.shutdown(socket.SHUT_WR)
                    answer = b"".join(iter(lambda: plain.recv(65536), b""))
                except OSError:
                    continue
                assert b"Traceback" not in answer
                assert b"diagnose/" not in answer
        assert asked(office.port, "GET", "/office/here")[0] == 200


@pytest.mark.parametrize(
    "said",
    [b"", b"GE", b"GET /office/here HTTP/1.1\r\nHost: a", b"GET / HTTP/1.1\r\nHost: a\r\n\r\nGET / HT", WITH_BODY],
)
def test_a_connection_on_which_nothing_is_asked_ends(said: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running, "ASKING", 0.0)

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["method"] == "PUT":  # its body comes later than any first line may, and is waited for
            while (await receive())["more_body"]:
                pass
        await send({"type": "http.response.start", "status": 204, "headers": []})
        await send({"type": "http.response.body"})

    async def knock() -> bytes:
        config = uvicorn.Config(app, log_config=None, lifespan="off", ws="none")
        there = await asyncio.get_running_loop().create_server(
            lambda: running._Prompt(config, ServerState(), {}), "127.0.0.1", 0
        )
        reading, writing = await asyncio.open_connection(*there.sockets[0].getsockname())
        for part in (said[:-2], said[-2:]) if said == WITH_BODY else (said,):
            writing.write(part)
            for _ in range(20):
                await asyncio.sleep(0)
        found = await reading.read()
        writing.close()
        there.close()
        return found

    answer = asyncio.run(knock())
    assert answer.count(b"HTTP/1.1 204 ") == (1 if said.startswith((b"GET / HTTP/1.1\r\n", b"PUT")) else 0)


def test_it_ends_when_it_is_asked_to(tmp_path: Path) -> None:
    with serving(tmp_path / "v.db") as office:
        asked(office.port, "GET", "/office/")
        office.process.send_signal(signal.SIGINT)
        assert office.process.wait(30) == 130
        office.kill()
        office.again()
        assert asked(office.port, "GET", "/office/here")[0] == 200


def test_a_place_where_it_cannot_listen(tmp_path: Path, book: object) -> None:
    (tmp_path / "wrong.pem").write_text("no certificate")
    with open_store(str(tmp_path / "v.db")) as store, socket.create_server(("127.0.0.1", 0)) as busy:
        office = Office(store, book)  # type: ignore[arg-type]
        for place, what in (
            (Place(port=busy.getsockname()[1]), "cannot listen at 127.0.0.1, port"),
            (Place("no.such.host.example", 0), "cannot listen at no.such.host.example"),
            (Place("a" * 300, 0), "cannot listen at"),
            (Place(certificate=tmp_path / "none.pem", key=tmp_path / "none.pem"), "no such file or directory"),
            (
                Place(certificate=tmp_path / "wrong.pem", key=tmp_path / "wrong.pem"),
                "certificate or its key cannot be used",
            ),
        ):
            with pytest.raises(InputProblems, match=what):
                run(office, place, lambda host, port: None)
