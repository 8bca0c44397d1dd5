"""JupyterLab with a bench in it, as ``candlelab lab`` starts it, for tests."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from bench_pages import NAMES
from benches import Client, folder_of, started, wait_for
from places import TESTS

from candlelab.cli import main as cli
from candlelab.pages.run import shipped

TOKEN = "a-token-of-the-tests"
START = datetime(2026, 6, 1, 9, 0, tzinfo=UTC)


class Lab:
    """JupyterLab on a folder of its own, with a batch in it."""

    def __init__(self, path: Path):
        self.folder = path / "lab"
        self.batch = folder_of(self.folder / "batch", *NAMES)
        for name in cli._NOTEBOOKS:
            cli._copy_notebook(shipped("notebooks") / name, self.folder / name, self.batch)
        self.ahead = path / "ahead"
        self.move_to(START)
        self.env = {
            "JUPYTER_CONFIG_DIR": str(path / "config"),
            "JUPYTER_DATA_DIR": str(path / "data"),
            "JUPYTER_RUNTIME_DIR": str(path / "run"),
            "JUPYTERLAB_SETTINGS_DIR": str(path / "settings"),
            "JUPYTERLAB_WORKSPACES_DIR": str(path / "workspaces"),
            "IPYTHONDIR": str(path / "ipython"),
            "JUPYTER_CONFIG_PATH": cli._lab_env()["JUPYTER_CONFIG_PATH"],
        }
        self.start(0)

    def start(self, port):
        options = [*cli._lab_options(self.folder), "--no-browser", f"--port={port}"]
        options += [f"--IdentityProvider.token={TOKEN}", "--ServerApp.port_retries=0"]
        self.process = started([TESTS / "lab_with_clock.py", self.ahead, *options], **self.env)
        self.lines = []
        for line in self.process.stdout:
            self.lines.append(line)
            if "running at" in line:
                address = next(self.process.stdout).split()[-1]
                self.port = int(address.split(":")[2].split("/")[0])
                self.origin = f"http://localhost:{self.port}"
                wait_for(self._answers)
                return
        raise AssertionError("".join(self.lines))

    def _answers(self):
        try:
            return Client(f"{self.origin}/api").ask("GET", "")[0] == 200
        except OSError:
            return False

    def move_to(self, now):
        self.ahead.write_text(str((now - datetime.now(UTC)).total_seconds()))

    def __call__(self):
        return datetime.now(UTC) + timedelta(seconds=float(self.ahead.read_text()))

    def move(self, minutes=0):
        self.move_to(self() + timedelta(minutes=minutes))
        return self()

    @property
    def url(self):
        return f"{self.origin}/candlelab/bench/?folder={self.batch}"

    def client(self) -> Client:
        """A page of the bench that is logged in."""
        client = Client(self.url)
        assert client.ask("GET", "", Authorization=f"token {TOKEN}")[0] == 200
        client.cookies.pop("_xsrf", None)
        return client
