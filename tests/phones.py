"""Phones that send to an office on loopback and read there, each in a thread of its own."""

from __future__ import annotations

import http.client
import json
import random
import threading
from collections.abc import Callable, Sequence
from uuid import UUID

from asked import sent
from offices import Running

AWAY = (429, 503)  # asked to come again


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
    """Sends its visits one after the other, each until an office says it is kept, and reads between them.

    offices: it asks one after the other. sending: released for each visit that is kept. kept: ids of the store. wrong: answers
    that nobody should get. pause: s between two requests, at most.
    """

    ask: Callable[..., tuple[int, bytes]] = staticmethod(asked)

    def __init__(
        self, offices: Sequence[Running], number: int, visits: int, sending: threading.Semaphore, pause: float = 0.0
    ) -> None:
        super().__init__()
        self.offices, self.number, self.visits, self.sending, self.pause = offices, number, visits, sending, pause
        self.kept: list[str] = []
        self.wrong: list[object] = []

    def run(self) -> None:
        before = ""
        for i in range(self.visits):
            visit = sent(name=f"machine {self.number}", liquid=90 + i)
            body = {"visit": visit, "based_on": before if i == 1 else ""}  # the second is a later version of the first
            uuid = UUID(int=1000 * self.number + (i if i > 1 else 0))
            status, answer = self._until("PUT", f"/office/sent/{uuid}", body)
            if status != 200:
                self.wrong.append((status, answer[:300]))
                return
            receipt = json.loads(answer)
            before = receipt["digest"]
            self.kept.append(receipt["visit"])
            self.sending.release()
            status, answer = self._until("GET", f"/office/visits/{receipt['visit']}/file")
            if status != 200 or visit["machine"]["name"].encode() not in answer:
                self.wrong.append((status, answer[:300]))

    def _until(self, method: str, path: str, body: object = None) -> tuple[int, bytes]:
        threading.Event().wait(self.pause * random.random())
        while True:
            office = random.choice(self.offices)
            try:
                found = self.ask(office.port, method, path, body)
                if found[0] not in AWAY:
                    return found
            except (OSError, http.client.HTTPException):
                pass  # it was killed just now
            threading.Event().wait(0.05 * random.random())
