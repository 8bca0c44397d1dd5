"""What tests share: a pack, a browser, and the same examples in every run."""

import contextlib
import functools
import os
import shutil
from pathlib import Path

import hypothesis
import kept
import kernels
import pytest

from candlelab.judge.worked import WorkedBatch
from candlelab.pages import run
from candlelab.share import environment

# The same examples in every run, and none stored; the long runs with other seeds are benchmarks.
hypothesis.settings.register_profile("suite", database=None, deadline=None, derandomize=True)
hypothesis.settings.load_profile("suite")


def _worked_out_once(cls, batch):
    """Tests ask for the same batches in many ways: what was worked out of one is kept with it."""
    return batch.__dict__.setdefault(cls.__name__, object.__new__(cls))


WorkedBatch.__new__ = _worked_out_once
kept.keep()
run.executed = kernels.executed
# Nothing is installed while tests run: what is there is looked up once.
_installed = functools.cache(environment.installed)
environment.installed = lambda: dict(_installed())

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def pack(tmp_path_factory):
    """A pack of the demo's confirmation batch; made once for all workers, never written to."""
    from candlelab.share.pack import make_pack

    demo = Path(__file__).parent.parent / "data" / "demo"
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent
    folder = folder / "the pack"
    with _alone(folder):
        path = folder / "confirmation.zip"
        return path if path.exists() else make_pack([demo / "confirmation"], path).path


@contextlib.contextmanager
def _alone(folder):
    """One worker at a time, where the system has locks; the others wait."""
    folder.mkdir(exist_ok=True)
    with open(folder.with_suffix(".lock"), "w") as file:
        with contextlib.suppress(ImportError):
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX)
        yield


@pytest.fixture(scope="session")
def pack_files(pack):
    """What the pack holds, read once."""
    import packs

    return packs.contents_of(pack)


@pytest.fixture
def quick(monkeypatch, pack_files):
    """Packing and checking without running a notebook: a report is what the pack's report is.

    What has the same bytes in two packs is read once.
    """
    import json

    import packs
    from batches import read

    from candlelab.share import origin
    from candlelab.share import pack as packing
    from candlelab.share import read as reading
    from candlelab.share import verify as verifying
    from candlelab.share.contents import ENVIRONMENT

    files, calls = pack_files, []

    def report(folder, out, progress=False):
        calls.append((folder, out))
        out.mkdir(parents=True)
        for name, data in files.items():
            if name.startswith("reports/"):
                (out / name.rpartition("/")[2]).write_bytes(data)

    monkeypatch.setattr(packing, "make_report", report)
    monkeypatch.setattr(verifying, "make_report", report)
    monkeypatch.setattr(reading, "read_batch", read)
    packs.read_once(monkeypatch)
    environment = json.loads(files[ENVIRONMENT])
    monkeypatch.setattr(origin, "code_digest", lambda: environment["candlelab_code_sha256"])
    for module in (packing, origin):
        monkeypatch.setattr(module, "installed", lambda: environment["packages"])
    return calls


@pytest.fixture
def in_kernel(monkeypatch):
    """Notebooks run as users run them: each in a kernel of its own."""
    monkeypatch.setattr(run, "executed", kernels.in_kernel)


@pytest.fixture(scope="module")
def browser():
    """Headless Chromium; skipped where it or playwright is missing."""
    api = pytest.importorskip("playwright.sync_api")
    if CHROMIUM is None:
        pytest.skip("no chromium")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()
