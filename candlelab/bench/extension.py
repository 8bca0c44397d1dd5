"""The bench inside JupyterLab: the same handlers, let in by the Jupyter server."""

from __future__ import annotations

from pathlib import Path

from jupyter_server.base.handlers import JupyterHandler
from tornado import web
from tornado.ioloop import PeriodicCallback

from candlelab.bench.alarm import BELL, LOOK_EVERY_MS, Alarm
from candlelab.bench.desk import Desk
from candlelab.bench.handlers import HANDLERS, policy
from candlelab.logs.problems import SETTINGS_FILE

PLACE = "candlelab/bench"


class JupyterDoor(JupyterHandler):
    """Lets in whoever the Jupyter server lets in; the folder stands in the address."""

    @property
    def content_security_policy(self) -> str:
        return policy("'self'")

    def desk(self) -> Desk:
        folder = Path(self.get_query_argument("folder", "")).resolve()
        if not (folder / SETTINGS_FILE).is_file():
            raise web.HTTPError(404, f"{folder} has no {SETTINGS_FILE}")
        return self.settings["candlelab_desks"](folder)

    def foreign(self) -> bool:
        return not self.check_origin()


class Desks:
    """The desks that were opened, each with its alarm."""

    def __init__(self, log) -> None:
        self._log = log
        self._desks: dict[Path, Desk] = {}
        self._alarms: list[Alarm] = []

    def __call__(self, folder: Path) -> Desk:
        if folder not in self._desks:
            desk = Desk(folder)
            desk.catch_up()
            self._desks[folder] = desk
            self._alarms.append(Alarm(desk, lambda words: self._log.warning(BELL + words)))
        return self._desks[folder]

    def look(self) -> None:
        """Ring for what is due."""
        for alarm in self._alarms:
            alarm.look()


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
    app.io_loop.add_callback(PeriodicCallback(desks.look, LOOK_EVERY_MS).start)
