"""A bench for tests: candles to burn, a clock that is moved by hand, servers, entries."""

import asyncio
import http.client
import itertools
import json
import os
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from batches import candle, write
from places import ROOT

from candlelab.bench.desk import Desk

START = datetime(2026, 6, 1, 9, 0, tzinfo=UTC)
SEEN = {
    "flame_height_mm": "30", "wall_c": "45", "pool_diameter_mm": "50", "pool_depth_mm": "8",
    "soot": "0", "mushroom_mm": "1", "secondary_ignition_s": "0", "flame_on_vessel": "no",
    "vessel_damaged": "no", "surface_damaged": "no", "tipped": "no", "reignited": "no",
}  # fmt: skip
LIT = {"mass_before_g": "400.0", "room_c": "22.0", "wick_length_mm": "5.0"}


def folder_of(path, *names, burns=(), checks=(), **more) -> Path:
    """A batch folder with candles of 100 g in a jar of 300 g, and nothing burned unless given."""
    return write(path, [candle(name) for name in names or ("A1", "A2")], burns, checks, **more)


class Clock:
    """A clock that is moved by hand, and stands between or goes on as time does."""

    def __init__(self, now=START, *, goes=False):
        self.now, self._goes, self._since = now, goes, time.monotonic()

    def __call__(self):
        gone = time.monotonic() - self._since if self._goes else 0
        return self.now + timedelta(seconds=gone)

    def move(self, minutes=0, **more):
        self.now += timedelta(minutes=minutes, **more)
        return self()


class Bench:
    """A desk with a clock of its own, and entries as a page would send them."""

    def __init__(self, folder, now=START):
        self.folder, self.clock = Path(folder), Clock(now)
        self.desk = Desk(self.folder, self.clock)
        self._ids = itertools.count(1)

    def entry(self, kind, name="A1", burn=1, *, at=None, of=None, **values):
        data = {"id": f"entry-{next(self._ids):04d}", "kind": kind, "candle": name, "burn": burn}
        data |= {"at": (at or self.clock()).isoformat(), "values": values}
        return data | ({"of": of} if of else {})

    def send(self, kind, name="A1", burn=1, **more):
        """Record an entry; its answer."""
        return self.desk.record(self.entry(kind, name, burn, **more))

    def saved(self, kind, name="A1", burn=1, **more):
        """Record an entry that must be taken; its id."""
        answer = self.send(kind, name, burn, **more)
        assert answer.status == "saved", (answer.why, answer.problems)
        return answer.id

    def whole_burn(self, name="A1", burn=1, before=400.0, used=20.0):
        """A burn of four hours with its four checks, weighed."""
        self.saved("light", name, burn, **LIT | {"mass_before_g": str(before)})
        for _ in range(4):
            self.clock.move(60)
            self.saved("check", name, burn, **SEEN)
        self.saved("out", name, burn, ended_by="timer", aftersmoke_s="4")
        self.clock.move(180)
        self.saved("weigh", name, burn, mass_after_g=str(before - used))

    def text(self, table):
        return (self.folder / f"{table}.csv").read_bytes()


def journal_of(folder) -> list[dict]:
    """Every line of a journal."""
    path = Path(folder) / "bench.jsonl"
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


class Served:
    """A bench behind a server in this process, its clock moved by hand and going on."""

    TOKEN = "abcdefgh23456789"

    def __init__(self, folder, now=START, names=("127.0.0.1",)):
        from tornado.httpserver import HTTPServer
        from tornado.netutil import bind_sockets

        from candlelab.bench.server import application

        self.clock = Clock(now, goes=True)
        self.desk = Desk(Path(folder), self.clock)
        self._loop = asyncio.new_event_loop()
        ready = threading.Event()

        async def serve():
            sockets = bind_sockets(0, "127.0.0.1")
            self.port = sockets[0].getsockname()[1]
            hosts = {f"{name}:{self.port}" for name in names}
            self.server = HTTPServer(application(self.desk, self.TOKEN, hosts, self.port))
            self.server.add_sockets(sockets)
            ready.set()

        def run():
            asyncio.set_event_loop(self._loop)
            self._loop.create_task(serve())
            self._loop.run_forever()

        self._thread = threading.Thread(target=run, daemon=True)
        self._thread.start()
        ready.wait(10)
        self.url = f"http://127.0.0.1:{self.port}/{self.TOKEN}/"

    def close(self):
        async def end():
            self.server.stop()
            await self.server.close_all_connections()
            self._loop.stop()

        asyncio.run_coroutine_threadsafe(end(), self._loop)
        self._thread.join(10)
        self._loop.close()


class Client:
    """What a page does: asks for the state, sends entries with the token that it got."""

    def __init__(self, url):
        parts = urlsplit(url)
        self.host, self.path = parts.netloc, parts.path
        self.query = f"?{parts.query}" if parts.query else ""
        self.cookies, self.xsrf = {}, ""

    def ask(self, method, name, body=None, **headers):
        """Status, headers and body of an answer."""
        connection = http.client.HTTPConnection(self.host, timeout=30)
        sent = {"Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items())} | headers
        data = json.dumps(body) if isinstance(body, dict | list) else body
        try:
            connection.request(method, f"{self.path}{name}{self.query}", body=data, headers=sent)
            answer = connection.getresponse()
            text = answer.read()
        finally:
            connection.close()
        for line in answer.headers.get_all("Set-Cookie") or ():
            key, _, value = line.partition(";")[0].partition("=")
            self.cookies[key] = value
        return answer.status, answer.headers, text

    def state(self):
        status, _, text = self.ask("GET", "state")
        assert status == 200, status
        state = json.loads(text)
        self.xsrf = state.get("xsrf", "")
        return state

    def headers(self):
        own = {"Origin": f"http://{self.host}", "Content-Type": "application/json"}
        return own | {"X-XSRFToken": self.xsrf}

    def send(self, entry, name="entries"):
        """The plain answer to an entry."""
        status, _, text = self.ask("POST", name, {"entry": entry}, **self.headers())
        assert status == 200, (status, text)
        return json.loads(text)


def python_env():
    """The environment of a process that runs this candlelab."""
    return {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests")])}


def started(command, **more):
    return subprocess.Popen(
        [sys.executable, *map(str, command)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=python_env() | {"PYTHONUNBUFFERED": "1"} | more,
    )


def start_bench(folder, home, *options):
    """``candlelab bench`` in a process of its own: the process and the address that it prints."""
    command = ["-m", "candlelab", "bench", folder, *options]
    process = started(command, XDG_CONFIG_HOME=str(home))
    for line in process.stdout:
        if "here:" in line:
            return process, line.split("here:")[1].strip()
    raise AssertionError("the bench did not start")


def end(process, how=signal.SIGKILL):
    """End a process that a test started."""
    if process.poll() is None:
        process.send_signal(how)
    process.wait(30)
    process.stdout.close()


def wait_for(true, seconds=20):
    """Wait until something is true."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if found := true():
            return found
        time.sleep(0.05)
    raise AssertionError("it did not come true")
