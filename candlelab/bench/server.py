"""The bench by itself: a small server for the browser of this computer, or of a phone beside it."""

from __future__ import annotations

import asyncio
import errno
import hmac
import json
import os
import secrets
import socket
import time
from collections.abc import Callable
from pathlib import Path

import psutil
from tornado import web
from tornado.httpserver import HTTPServer
from tornado.ioloop import PeriodicCallback
from tornado.netutil import bind_sockets

from candlelab.bench.alarm import LOOK_EVERY_MS, Alarm
from candlelab.bench.desk import Desk
from candlelab.bench.handlers import ANSWERS, HANDLERS, MOST_BYTES, policy

PORT = 8765
_PORTS = 20  # tried one after the other
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another one
_TOKEN = 16  # letters: 31**16, some 79 bits
_KEPT_S = 24 * 3600
_CATCH_UP_MS = 60_000
LOOPBACK = "127.0.0.1"
NOBODY = "There is no bench at this address. Open the address that the computer shows."
PLAIN_HTTP = (
    "Anybody in this network who gets the address can read and write this batch, and the way to "
    "the phone is not encrypted. Use it in your own network only."
)


class Door(web.RequestHandler):
    """Lets in who has the address, from this host and from a page of ours."""

    def prepare(self) -> None:
        given = self.request.path.split("/")[1]
        known = hmac.compare_digest(given.encode(), self.settings["token"].encode())
        if not known or self.request.host not in self.settings["hosts"]:
            raise web.HTTPError(403)
        self.current_user = "bench"

    def set_default_headers(self) -> None:
        self.set_header("Content-Security-Policy", policy("'none'"))
        self.clear_header("Server")

    def desk_of(self) -> Callable[[], Desk]:
        return lambda: self.settings["desk"]

    def foreign(self) -> bool:
        return self.request.headers.get("Origin") != f"http://{self.request.host}"

    def write_error(self, status_code: int, **_) -> None:
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(NOBODY if status_code in (403, 404) else self._reason)


class Nobody(Door):
    """Every other address."""

    def prepare(self) -> None:
        raise web.HTTPError(403)


def application(desk: Desk, token: str, hosts: set[str], port: int) -> web.Application:
    """The bench of one desk. ``hosts`` are the names that a browser may call it by."""
    routes = [
        (rf"/[^/]+/{path}", type(handler.__name__, (handler, Door), {}))
        for path, handler in HANDLERS.items()
    ]
    return web.Application(
        routes,
        default_handler_class=Nobody,
        desk=desk,
        token=token,
        hosts=hosts,
        xsrf_cookies=True,
        xsrf_cookie_name=f"_xsrf_{port}",  # cookies do not tell the ports of a host apart
        xsrf_cookie_kwargs={"path": f"/{token}/", "samesite": "Strict", "httponly": True},
        log_function=lambda _: None,  # the address is a secret
    )


def serve(
    folder: Path,
    *,
    keep: Path,
    phone: bool = False,
    port: int = 0,
    say: Callable[[str], object] = print,
    ring: Callable[[str], object] = print,
) -> None:
    """Serve the bench of a folder until it is stopped.

    Parameters
    ----------
    folder : pathlib.Path
        The batch folder.
    keep : pathlib.Path
        The file that keeps the address for a day, so that a page that is open finds a bench that
        was started again.
    phone : bool
        Whether other devices in the network may come in.
    port : int
        The port; the kept one, or else the first free one from 8765 on, when not given.
    say : callable
        Gets each line for the person at the computer.
    ring : callable
        Gets each line that the computer should ring for.
    """
    asyncio.run(_serve(folder.resolve(), keep, phone, port, say, ring))


async def _serve(folder: Path, keep: Path, phone: bool, port: int, say, ring) -> None:
    desk = Desk(folder)
    desk.reader.reading()  # says at once what the bench cannot go by
    for line in desk.catch_up():
        say(line)
    token, kept_port = _kept(keep, folder)
    sockets, port = _bound("" if phone else LOOPBACK, port or kept_port, exact=bool(port))
    names = [LOOPBACK, "localhost", *(_own_addresses() if phone else [])]
    hosts = {f"{name}:{port}" for name in names}
    server = HTTPServer(application(desk, token, hosts, port), max_body_size=MOST_BYTES)
    server.add_sockets(sockets)
    _keep(keep, folder, token, port)
    for line in _welcome(folder, names, port, token, phone=phone):
        say(line)
    alarm = Alarm(desk, ring)
    PeriodicCallback(alarm.look, LOOK_EVERY_MS).start()
    PeriodicCallback(lambda: _catch_up(desk), _CATCH_UP_MS).start()
    try:
        await asyncio.Event().wait()
    finally:
        server.stop()


def _catch_up(desk: Desk) -> None:
    """Try again what a table did not take."""
    if desk.behind:
        ANSWERS.submit(desk.catch_up)


def _welcome(folder: Path, names: list[str], port: int, token: str, *, phone: bool) -> list[str]:
    lines = [f"The bench of {folder.name}", f"  here:  http://{names[0]}:{port}/{token}/"]
    lines += [f"  phone: http://{name}:{port}/{token}/" for name in names[2:]]
    lines += [PLAIN_HTTP] if phone else []
    return [*lines, "It rings here when something is due. Stop it with Ctrl-C."]


def _bound(address: str, port: int, *, exact: bool) -> tuple[list[socket.socket], int]:
    """Sockets on a port, or on the first free one after it."""
    first = port or PORT
    for one in range(first, first + (1 if exact else _PORTS)):
        try:
            return bind_sockets(one, address or "0.0.0.0", socket.AF_INET), one
        except OSError as error:
            if error.errno not in (errno.EADDRINUSE, errno.EACCES):
                raise
    raise OSError(f"no free port from {first} on; give another one with --port")


def _own_addresses() -> list[str]:
    """The addresses of this computer in its networks."""
    found = [
        one.address
        for addresses in psutil.net_if_addrs().values()
        for one in addresses
        if one.family == socket.AF_INET and not one.address.startswith("127.")
    ]
    return list(dict.fromkeys(found))


def _kept(keep: Path, folder: Path) -> tuple[str, int]:
    """The address that a folder had within the last day, or a new one."""
    one = _read(keep).get(str(folder), {})
    if isinstance(one, dict) and time.time() - one.get("at", 0) < _KEPT_S:
        return one["token"], one["port"]
    return "".join(secrets.choice(_LETTERS) for _ in range(_TOKEN)), 0


def _read(keep: Path) -> dict:
    try:
        data = json.loads(keep.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return data if isinstance(data, dict) else {}


def _keep(keep: Path, folder: Path, token: str, port: int) -> None:
    """Keep an address where only this account can read it; without such a place it is not kept."""
    all_ = _read(keep) | {str(folder): {"token": token, "port": port, "at": time.time()}}
    new = keep.with_name(f"{keep.name}.{os.getpid()}")
    try:
        keep.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as file:
            json.dump(all_, file)
        os.replace(new, keep)
    except OSError:
        new.unlink(missing_ok=True)
