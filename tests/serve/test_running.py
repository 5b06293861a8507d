"""A real office on loopback: under load, killed and started again, by https, behind a proxy, asked to stop."""

from __future__ import annotations

import asyncio
import http.client
import signal
import socket
import ssl
import subprocess
import threading
from pathlib import Path

import pytest
import uvicorn
from offices import serving
from phones import Phone, asked
from starlette.types import Receive, Scope, Send
from uvicorn.server import ServerState

from diagnose.serve import Office, Place, run, running
from diagnose.store import add_person, machines, open_store, visits_of
from diagnose.yamlfile import InputProblems

PHONES, EACH = 50, 4


def test_fifty_phones_lose_and_double_nothing_though_the_office_is_killed(tmp_path: Path) -> None:
    half = threading.Semaphore(0)
    with serving(tmp_path / "v.db") as office, serving(tmp_path / "v.db") as other:  # two on one store
        phones = [Phone((office, other), number, EACH, half) for number in range(1, PHONES + 1)]
        for phone in phones:
            phone.start()
        for _ in range(PHONES * EACH // 2):
            half.acquire()
        office.kill()
        other.kill()
        office.again()
        other.again()
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
    ("said", "answers"),
    [
        (b"", 0),
        (b"GE", 0),
        (b"GET /office/here HTTP/1.1\r\nHost: a", 0),
        (b"GET / HTTP/1.1\r\nHost: a\r\n\r\n", 1),
        (b"PUT / HTTP/1.1\r\nHost: a\r\nContent-Length: 9\r\n\r\n", None),  # the office waits for the body
    ],
)
def test_a_connection_on_which_nothing_is_asked_ends(said: bytes, answers: int | None) -> None:
    made: list[Watched] = []

    class Watched(running._Prompt):
        taken = 0

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            made.append(self)

        def data_received(self, data: bytes) -> None:
            super().data_received(data)
            self.taken += len(data)

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        while (await receive()).get("more_body"):
            pass
        await send({"type": "http.response.start", "status": 204, "headers": []})
        await send({"type": "http.response.body"})

    async def knock() -> bytes | None:
        config = uvicorn.Config(app, log_config=None, lifespan="off", ws="none")
        loop = asyncio.get_running_loop()
        async with await loop.create_server(lambda: Watched(config, ServerState(), {}), "127.0.0.1", 0) as there:
            reading, writing = await asyncio.open_connection(*there.sockets[0].getsockname())
            writing.write(said)
            while not made or made[0].taken < len(said):
                await asyncio.sleep(0)
            first = b""
            if answers:  # and then half a request
                first = await reading.readuntil(b"\r\n\r\n")
                writing.write(b"GE")
                while made[0].taken == len(said):
                    await asyncio.sleep(0)
            waits = made[0]._waiting is not None
            if waits:
                made[0]._enough()  # as when the time is over
                first += await reading.read()
            writing.close()
            return first if waits else None

    found = asyncio.run(knock())
    assert (None if found is None else found.count(b"HTTP/1.1 204 ")) == answers


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
