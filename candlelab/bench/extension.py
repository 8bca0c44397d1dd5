"""The bench inside JupyterLab: the same handlers, let in by the Jupyter server."""

from __future__ import annotations

import threading
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from jupyter_server.base.handlers import JupyterHandler
from tornado import web
from tornado.ioloop import PeriodicCallback

from candlelab.bench.handlers import ANSWERS, HANDLERS, policy

if TYPE_CHECKING:
    from candlelab.bench.alarm import Alarm
    from candlelab.bench.desk import Desk

_SETTINGS_FILE = "batch.toml"
_LOOK_EVERY_MS = 2_000
PLACE = "candlelab/bench"


class JupyterDoor(JupyterHandler):
    """Lets in whoever the Jupyter server lets in; the folder stands in the address."""

    @property
    def content_security_policy(self) -> str:
        return policy("'self'")

    def desk_of(self) -> Callable[[], Desk]:
        folder = Path(self.get_query_argument("folder", "")).resolve()
        if not (folder / _SETTINGS_FILE).is_file():
            raise web.HTTPError(404, f"{folder} has no {_SETTINGS_FILE}")
        return lambda: self.settings["candlelab_desks"].desk(folder)

    def foreign(self) -> bool:
        return not self.check_origin()


class Desks:
    """The desks that were opened, each with its alarm."""

    def __init__(self, log) -> None:
        self._log = log
        self._opening = threading.Lock()
        self._desks: dict[Path, Desk] = {}
        self._alarms: list[Alarm] = []

    def desk(self, folder: Path) -> Desk:
        """The desk of a folder; the tables are brought up to the journal when it is first asked."""
        from candlelab.bench.alarm import BELL, Alarm
        from candlelab.bench.desk import Desk

        with self._opening:
            if folder not in self._desks:
                desk = Desk(folder)
                desk.catch_up()
                self._desks[folder] = desk
                self._alarms.append(Alarm(desk, lambda words: self._log.warning(BELL + words)))
            return self._desks[folder]

    def look(self) -> None:
        """Ring for what is due, and try again what a table did not take."""
        for alarm in self._alarms:
            alarm.look()
        for desk in self._desks.values():
            if desk.behind:
                ANSWERS.submit(desk.catch_up)


def _jupyter_server_extension_points() -> list[dict]:
    return [{"module": "candlelab.bench.extension"}]


def _load_jupyter_server_extension(app) -> None:
    desks = Desks(app.log)
    app.web_app.settings["candlelab_desks"] = desks
    base = app.web_app.settings["base_url"].rstrip("/")
    routes = [
        (f"{base}/{PLACE}/{path}", type(handler.__name__, (handler, JupyterDoor), {}))
        for path, handler in HANDLERS.items()
    ]
    app.web_app.add_handlers(".*$", routes)
    app.io_loop.add_callback(PeriodicCallback(desks.look, _LOOK_EVERY_MS).start)
    ANSWERS.submit(import_module, "candlelab.bench.answers")  # so that the first page comes at once
