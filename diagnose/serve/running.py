"""An office on a socket, until it is told to stop."""

from __future__ import annotations

import asyncio
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from diagnose.serve.app import make_app
from diagnose.serve.site import Office
from diagnose.yamlfile import reason_of, refusal

CONNECTIONS = 400  # at once; who comes then is told to come again
IDLE, LEAVING = 20, 10  # s: a connection that asks nothing is closed; requests that are under way when it must stop
ASKING = 20.0  # s, for what a request says before its body


@dataclass(frozen=True, slots=True)
class Place:
    """Where an office listens. certificate, key: files for https; proxy: the address whose word is taken for who asks."""

    host: str = "127.0.0.1"
    port: int = 8765
    certificate: Path | None = None
    key: Path | None = None
    proxy: str = ""


def run(office: Office, place: Place, ready: Callable[[str, int], None]) -> None:
    """Serves until Ctrl-C or a signal. ready: told host and port once it listens. Raises InputProblems."""
    _checked(place)
    try:
        listening = socket.create_server(
            (place.host, place.port), family=socket.AF_INET6 if ":" in place.host else socket.AF_INET, backlog=256
        )
    except (OSError, OverflowError) as error:
        what = f"the office cannot listen at {place.host}, port {place.port} ({reason_of(error, 'no such address')})"
        raise refusal(what, "Name another with `--port`, or stop what listens there.") from None
    with listening:
        config = uvicorn.Config(
            make_app(office),
            log_config=None,
            access_log=False,
            server_header=False,
            lifespan="off",
            ws="none",
            proxy_headers=bool(place.proxy),
            forwarded_allow_ips=place.proxy or None,
            ssl_certfile=place.certificate,
            ssl_keyfile=place.key,
            limit_concurrency=CONNECTIONS,
            timeout_keep_alive=IDLE,
            timeout_graceful_shutdown=LEAVING,
            h11_max_incomplete_event_size=32_768,
            http=_Prompt,
        )
        ready(place.host, listening.getsockname()[1])
        uvicorn.Server(config).run(sockets=[listening])


class _Prompt(H11Protocol):
    """Uvicorn's, which would wait for ever on a connection that says nothing, or says it letter by letter."""

    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        self._wait()

    def _answering(self) -> bool:
        return self.cycle is not None and not self.cycle.response_complete

    def _wait(self) -> None:
        """Begins to wait for a request, or goes on waiting; one that is here is waited for by the office itself."""
        if self._waiting is not None and self._answering():
            self._waiting.cancel()
            self._waiting = None
        elif self._waiting is None and not self._answering():
            self._waiting = self.loop.call_later(ASKING, self._enough)

    def _enough(self) -> None:
        self._waiting = None
        if not self._answering():
            self.transport.close()


def _checked(place: Place) -> None:
    """That the certificate and its key can be read, and belong together. Raises InputProblems."""
    if place.certificate is None:
        return
    try:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(place.certificate, place.key, password=lambda: "")
    except (OSError, ssl.SSLError, ValueError) as error:
        what = f"the certificate or its key cannot be used ({reason_of(error, str(error))})"
        fix = "Give PEM files that belong together: `--certificate chain.pem --key key.pem`; the key without a passphrase."
        raise refusal(what, fix, place.certificate) from None
