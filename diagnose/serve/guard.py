"""What stands before every request: who may ask, how often, how much, from where; and what every answer says of itself.

It knows nothing of visits. One line a request goes to the log: when, who, what was asked for by its pattern, the answer's
status. Never what somebody looked for, never a body.
"""

from __future__ import annotations

import asyncio
import ipaddress
import secrets
import threading
import traceback
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import SplitResult, urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import cookie_parser
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from diagnose import store
from diagnose.serve.models import (
    BROKEN,
    ELSEWHERE,
    NOT_HERE,
    NOT_SECRET,
    NOTHING_HERE,
    SIGN_IN_AGAIN,
    STORE_AWAY,
    TOO_OFTEN,
    answer,
)
from diagnose.serve.site import Office
from diagnose.yamlfile import InputProblems

MOST = 20_000  # buckets that are remembered


@dataclass(frozen=True, slots=True)
class RateLimit:
    """holds: requests at once; a_second: how many more each second."""

    holds: float
    a_second: float


ADDRESS = RateLimit(1500, 150)  # a whole workshop behind one address
PERSON = RateLimit(300, 30)
STRANGER = RateLimit(60, 2)
SIGNING_IN = RateLimit(10, 0.1)


class Limiter:
    """The buckets of one rate, by who asks."""

    def __init__(self, rate: RateLimit, now: Callable[[], float]) -> None:
        self._rate, self._now = rate, now
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait(self, who: str) -> float:
        """Takes one request; 0.0, or the seconds after which one would be answered."""
        with self._lock:
            at = self._now()
            left, before = self._left.pop(who, (self._rate.holds, at))
            left = min(self._rate.holds, left + max(0.0, at - before) * self._rate.a_second)
            self._left[who] = (left - 1 if left >= 1 else left, at)
            if len(self._left) > MOST:
                self._left.popitem(last=False)
            return 0.0 if left >= 1 else (1 - left) / self._rate.a_second


LARGEST = 1_000_000  # bytes of a body; a long visit has 20,000
PATIENCE = 30.0  # s for a whole body
SIGN_IN = "/office/sign-in"
OPEN = frozenset((SIGN_IN, "/manifest.webmanifest", "/icon.svg"))  # asked for by browsers without what signs them in
PLAIN = (
    "default-src 'none'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; form-action 'self'; base-uri 'none'"
)
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # `no-referrer` would make the origin of our own forms `null`
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}
_READS = frozenset(("GET", "HEAD"))


class Guard:
    """Stands before `app`, which is given once it is made."""

    app: ASGIApp

    def __init__(self, office: Office) -> None:
        self.office = office
        self._addresses, self._people, self._strangers, self._signing = (
            Limiter(rate, office.now) for rate in (ADDRESS, PERSON, STRANGER, SIGNING_IN)
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        scope.setdefault("state", {})["person"] = ""
        begun = False
        status = 0

        async def sending(message: Message) -> None:
            nonlocal begun, status
            if message["type"] == "http.response.start":
                begun, status = True, message["status"]
                self._marked(MutableHeaders(scope=message))
            await send(message)

        try:
            refused = await self._refused(scope)
            if refused is not None:
                await refused(scope, receive, sending)
            else:
                await self.app(scope, _measured(Headers(scope=scope), receive), sending)
        except Exception as error:
            if not begun:  # else it was answered, and told in the log
                await self.said(error, Headers(scope=scope))(scope, receive, sending)
        finally:
            self._logged(scope, status)

    async def _refused(self, scope: Scope) -> Response | None:
        """The answer to a request that goes no further."""
        headers, method, path = Headers(scope=scope), scope["method"], scope["path"]
        client = str((scope.get("client") or ("",))[0])
        if not self.office.demands and not _of_this_machine(headers, client):
            return answer(headers, 421, [NOT_HERE])
        if self.office.secure and scope["scheme"] != "https":
            return answer(headers, 421, [NOT_SECRET])
        address = _neighbourhood(client)
        if wait := self._addresses.wait(address):
            return _often(headers, wait)
        if not path.isprintable():
            return answer(headers, 404, [NOTHING_HERE])
        if self.office.demands:
            session = cookies(headers).get(cookie_name(self.office), "")
            person = (
                await run_in_threadpool(store.signed_in, self.office.store, session, self.office.now())
                if session
                else None
            )
            scope["state"]["person"] = person or ""
            if wait := self._strangers.wait(address) if person is None else self._people.wait(person):
                return _often(headers, wait)
            if person is None and path not in OPEN:
                if method == "GET" and "text/html" in headers.get("accept", ""):
                    return RedirectResponse(f"{SIGN_IN}?to={'office' if path.startswith('/office') else 'page'}", 303)
                return answer(headers, 401, [SIGN_IN_AGAIN])
        if method not in _READS and not _from_here(headers):
            return answer(headers, 403, [ELSEWHERE])
        if method == "POST" and path == SIGN_IN and (wait := self._signing.wait(address)):
            return _often(headers, wait)
        return None

    def _marked(self, headers: MutableHeaders) -> None:
        for name, value in HEADERS.items():
            headers.setdefault(name, value)
        policy = headers.get("Content-Security-Policy", PLAIN)
        headers["Content-Security-Policy"] = f"{policy}; frame-ancestors 'none'"
        headers.setdefault("Cache-Control", "no-store")
        if self.office.secure:
            headers.setdefault("Strict-Transport-Security", "max-age=31536000")

    def said(self, error: Exception, asked: Headers) -> Response:
        """The answer where something broke, and more of it in the log: nothing that came with the request."""
        mark = secrets.token_hex(4)
        if isinstance(error, InputProblems):  # only the store's come here: no answer says where it lies
            self.office.log(f"{mark} the store: {error.problems[0].what}")
            return answer(asked, 503, [STORE_AWAY], {"Retry-After": "30"})
        last = traceback.extract_tb(error.__traceback__)[-1]
        self.office.log(f"{mark} {type(error).__name__} at {last.filename}:{last.lineno}")
        return answer(asked, 500, [BROKEN.format(mark=mark)])

    def _logged(self, scope: Scope, status: int) -> None:
        pattern = getattr(scope.get("route"), "path", "-")
        who = scope["state"]["person"] or "-"
        at = datetime.fromtimestamp(self.office.now(), UTC).isoformat(timespec="seconds")
        self.office.log(f"{at} {who!r} {scope['method'][:8]} {pattern} {status}")


def _measured(headers: Headers, receive: Receive) -> Receive:
    """The body as it comes, no more of it than may be and no longer than it may take."""
    said = headers.get("content-length", "0")
    too_large = not said.isdecimal() or len(said) > 12 or int(said) > LARGEST
    taken, ends = 0, asyncio.get_running_loop().time() + PATIENCE
    done = False

    async def measured() -> Message:
        nonlocal taken, done
        if too_large:
            raise HTTPException(413)
        if done:  # the whole body is here: what comes now is only that somebody left
            return await receive()
        try:
            async with asyncio.timeout_at(ends):
                message = await receive()
        except TimeoutError:
            raise HTTPException(408) from None
        taken += len(message.get("body", b""))
        done = not message.get("more_body", False)
        if taken > LARGEST:
            raise HTTPException(413)
        return message

    return measured


def _of_this_machine(headers: Headers, address: str) -> bool:
    """Whether a browser of this machine asks this machine by its own name: another name that leads here is a trick (DNS
    rebinding), and a proxy may bring anybody.
    """
    host = _address(f"//{headers.get('host', '')}").hostname or ""
    forwarded = any(name in headers for name in ("forwarded", "x-forwarded-for", "x-forwarded-host", "via"))
    return not forwarded and (host == "localhost" or _loopback(host)) and _loopback(address)


def _address(text: str) -> SplitResult:
    """Its parts; of what is no address, none."""
    try:
        return urlsplit(text)
    except ValueError:
        return urlsplit("")


def _loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def _neighbourhood(address: str) -> str:
    """By what an address is counted: one line has all of an IPv6 /64 (RFC 6177)."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return address
    return str(found.ipv4_mapped or ipaddress.IPv6Network((int(found), 64), strict=False))


def _from_here(headers: Headers) -> bool:
    """Whether a page of this office sent it, or no browser: that says from where (W3C Fetch Metadata, or `Origin`)."""
    if (site := headers.get("sec-fetch-site")) is not None:  # its own word, whatever a proxy made of the host's name
        return site == "same-origin"
    origin = headers.get("origin")
    return origin is None or (_address(origin).netloc.lower() == headers.get("host", "").lower() != "")


def cookies(headers: Headers) -> Mapping[str, str]:
    """What the browser holds of ours."""
    return cookie_parser(headers.get("cookie", ""))


def cookie_name(office: Office) -> str:
    """By https it is bound to this very host (RFC 6265bis, `__Host-`)."""
    return "__Host-office" if office.secure else "office"


def _often(headers: Headers, wait: float) -> Response:
    return answer(headers, 429, [TOO_OFTEN], {"Retry-After": f"{int(wait) + 1}"})
