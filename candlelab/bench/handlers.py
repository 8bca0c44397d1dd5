"""The pages and answers of the bench, for whichever server serves them.

A door mixes `Bench` with its own base handler, which says who may come in, and names the desk.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tornado import web

if TYPE_CHECKING:
    from candlelab.bench.desk import Desk

PAGE = Path(__file__).with_name("page")
_TYPES = {".html": "text/html", ".js": "text/javascript", ".css": "text/css"}
MOST_BYTES = 64_000  # of an entry as it is sent
# One thread writes, so that an answer never waits for a question; the others answer.
_WRITES = ThreadPoolExecutor(1, thread_name_prefix="candlelab-writes")
ANSWERS = ThreadPoolExecutor(2, thread_name_prefix="candlelab-answers")


def policy(ancestors: str) -> str:
    """What the page may load (its own files only), and which page may hold it."""
    return (
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
        f"img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors {ancestors}"
    )


class Bench:
    """What every handler of the bench can do.

    The door brings the rest: where its desk is, and whether a request is ``foreign``, from another
    page.
    """

    desk_of: Callable[[], Callable[[], Desk]]
    foreign: Callable[[], bool]
    request: Any
    set_header: Any
    finish: Any
    xsrf_token: bytes

    def head(self, kind: str) -> None:
        """Headers that every answer has."""
        self.set_header("Content-Type", f"{kind}; charset=utf-8")
        self.set_header("Cache-Control", "no-store")
        self.set_header("X-Content-Type-Options", "nosniff")
        self.set_header("Referrer-Policy", "no-referrer")
        self.set_header("Cross-Origin-Resource-Policy", "same-origin")

    def say(self, data: object) -> None:
        """Answer with plain data, bad news as well: what became of an entry is an answer."""
        self.head("application/json")
        self.finish(json.dumps(data, ensure_ascii=False, allow_nan=False))

    def sent(self) -> dict:
        """The plain data that a page of ours sent.

        Raises
        ------
        tornado.web.HTTPError
            When another page sent it, or it is no such data.
        """
        if self.foreign():
            raise web.HTTPError(403)
        try:
            data = json.loads(self.request.body)
        except (ValueError, RecursionError) as error:
            raise web.HTTPError(400) from error
        if not isinstance(data, dict) or not isinstance(data.get("entry"), dict):
            raise web.HTTPError(400)
        return data


async def _answer(pool: ThreadPoolExecutor, name: str, desk: Callable[[], Desk], *args):
    """One of the `answers`, worked out beside the server's own loop."""

    def work():
        from candlelab.bench import answers  # slow to import: JupyterLab shall not wait for it

        return getattr(answers, name)(desk(), *args)

    return await asyncio.get_running_loop().run_in_executor(pool, work)


class Page(Bench):
    """The page itself."""

    @web.authenticated
    def get(self) -> None:
        _ = self.xsrf_token  # sets the cookie that every entry has to match
        self.head("text/html")
        self.finish((PAGE / "bench.html").read_bytes())


class Static(Bench):
    """Scripts and styles of the page."""

    @web.authenticated
    def get(self, name: str) -> None:
        path = PAGE / name
        if path.parent != PAGE or path.suffix not in (".js", ".css") or not path.is_file():
            raise web.HTTPError(404)
        self.head(_TYPES[path.suffix])
        self.finish(path.read_bytes())


class State(Bench):
    """Everything that the page shows, and the token that its entries have to bring."""

    @web.authenticated
    async def get(self) -> None:
        state = await _answer(ANSWERS, "state", self.desk_of())
        self.say(state | {"xsrf": self.xsrf_token.decode()})


class Drafts(Bench):
    """What ``candlelab check`` would say of an entry that is being typed."""

    @web.authenticated
    async def post(self) -> None:
        self.say(await _answer(ANSWERS, "draft", self.desk_of(), self.sent()))


class Entries(Bench):
    """Writes an entry down; the answer comes when the disk has it."""

    @web.authenticated
    async def post(self) -> None:
        self.say(await _answer(_WRITES, "record", self.desk_of(), self.sent()))


class ScaleWeight(Bench):
    """One steady weight of the scale."""

    get_query_argument: Any

    @web.authenticated
    async def get(self) -> None:
        column = self.get_query_argument("column", "")
        self.say(await _answer(ANSWERS, "weight", self.desk_of(), column))


HANDLERS: dict[str, type[Bench]] = {
    "": Page,
    r"static/([\w.]+)": Static,
    "state": State,
    "drafts": Drafts,
    "entries": Entries,
    "scale": ScaleWeight,
}
