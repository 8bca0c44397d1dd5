"""The kernel that a notebook of ours runs in: always this Python with this candlelab, whatever the
user's session, current folder and settings are.

It lives as long as its notebook runs. Its Python starts first, and imports what pages need while
this one imports what runs notebooks. One that cannot start is told in one sentence, within a
minute.
"""

from __future__ import annotations

import logging
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from candlelab.pages.leftovers import own_folder
from candlelab.text import clip

START_S = 50.0  # all tries together; a kernel needs about one second
_AGAIN_S = 10.0
_FIRST_CELL_S = 5.0
_HANDLES = 24
_SOON_S, _LOOK_S, _IDLE_S = 0.05, 1.0, 60.0
_AT_REST = 0.02  # of a processor: a kernel that waits looks now and then for its parent
_CONNECTION = "kernel.json"
_SAID = "said.txt"  # what the kernel says on the side, in its own folder
# What IPython runs at its start for everybody on this computer stays out, as the user's own does.
# It lives for seconds: less is spent on looking for garbage, and no debugger comes. Not by -m
# ipykernel_launcher, which takes the current folder off the path even where PYTHONPATH names it. It
# waits for the line that says that its connection is there; where there is none and no line comes,
# nobody waits for it.
_START = (
    "import gc, os, sys; gc.set_threshold(50_000, 50, 50); sys.modules['debugpy'] = None; "
    "from IPython.core import application as a; "
    "a.SYSTEM_CONFIG_DIRS.clear(); a.ENV_CONFIG_DIRS.clear(); "
    "from ipykernel.kernelapp import launch_new_instance; "
    "import jinja2, matplotlib.pyplot, pandas, scipy.special; "
    "sys.stdin.readline() or os.path.exists(sys.argv[2]) or sys.exit(); launch_new_instance()"
)
_NOT_STARTED = {"RuntimeError", "OSError", "ZMQError", "MemoryError"}


class NoKernel(RuntimeError):
    """The kernel did not start, or ended before its notebook did; the message says why."""


def executed(
    load: Callable, path: str, parameters: dict, progress: bool, meanwhile: Callable[[], object]
):
    """The notebook run in a kernel of its own, which ends with it.

    ``load`` gives papermill, while the kernel's Python starts; ``meanwhile`` is called when the
    kernel has work to do. Raises NoKernel, and papermill's error for a cell that fails.
    """
    begun = time.monotonic()
    _check_handles()
    _check_loopback()
    while True:
        left = max(int(begun + START_S - time.monotonic()), 1)
        with own_folder("kernel") as own:
            try:
                with _waiting(own) as process:
                    papermill = load()
                    kernel = _own_kernel(own, process)
                    with _quiet():
                        return _execute(
                            papermill, path, parameters, progress, own, left, kernel, meanwhile
                        )
            except Exception as error:
                # by name: what they are imported from may be what could not be imported
                names = {kind.__name__ for kind in type(error).__mro__}
                if "DeadKernelError" in names:
                    said = _last_words(own) or "is there enough memory?"
                    raise NoKernel(f"the kernel ended before the notebook did ({said})") from error
                taken = str(error).startswith("Invalid Signature")  # another kernel answers there
                if not (taken or names & _NOT_STARTED):
                    raise
                said = _last_words(own) or clip(error, 200)
                # one that dies at once may have found its port taken
                again = taken or isinstance(error, RuntimeError)
                if not again or time.monotonic() > begun + _AGAIN_S:
                    raise NoKernel(f"the kernel did not start ({said})") from error


def _execute(
    papermill, path, parameters, progress, own: Path, start_s: int, kernel: type, meanwhile
):  # fmt: skip
    import asyncio

    from traitlets.config import Config

    settings = {"transport_encryption": "auto", "connection_file": str(own / _CONNECTION)}
    # one that starts and then answers nothing is ended: its first cell has no work to do
    first, over = threading.Event(), threading.Event()
    watched = (str(own), start_s + _FIRST_CELL_S, first, over)
    watch = threading.Thread(target=_end_where_silent, args=watched, daemon=True)

    def at_work(**_) -> None:
        # in this thread: an import of another would hang when this one is interrupted
        asyncio.get_running_loop().call_later(_SOON_S, meanwhile)

    try:
        watch.start()
        return papermill.execute_notebook(
            path,
            None,
            parameters=parameters,
            progress_bar=progress,
            kernel_manager_class=kernel,
            config=Config({"KernelManager": settings}),
            start_timeout=start_s,
            iopub_timeout=start_s,  # what a cell shows comes late where the computer is busy
            shutdown_kernel="immediate",
            log_output=False,
            on_cell_execute=at_work,
            on_cell_executed=lambda **_: first.set(),
        )
    except BaseException:
        _end_kernel(str(own))
        raise
    finally:
        over.set()
        first.set()


def _command(own: Path) -> list[str]:
    return [
        sys.executable, "-P", "-c", _START, "-f", str(own / _CONNECTION),
        "--IPKernelApp.ignore_cwd=True", "--HistoryManager.enabled=False",
    ]  # fmt: skip


def _surroundings(own: Path) -> dict[str, str]:
    """What the kernel finds around it.

    What the user's Python and IPython run at their start, settings of matplotlib, and the session's
    plotting backend, stay out: the folder ``own`` takes the place of theirs, which may not be there
    to write to, and of the current folder, where a numpy.py or a matplotlibrc may have come with a
    batch.
    """
    home = Path(__file__).resolve().parents[2]
    (own / "matplotlibrc").touch()  # the first that matplotlib looks for
    env = {
        "IPYTHONDIR": str(own),
        "MPLBACKEND": "agg",
        "PYTHONSTARTUP": "",
        # matrices here are small: more threads cost more than they give
        "OPENBLAS_NUM_THREADS": "1",
    }
    if home.name not in ("site-packages", "dist-packages"):
        # the kernel drops the first place when it is the current folder, as it is for who stands in
        # a checkout
        given = filter(None, [os.environ.get("PYTHONPATH")])
        env["PYTHONPATH"] = os.pathsep.join([str(own), str(home), *given])
    return env


@contextmanager
def _waiting(own: Path) -> Iterator[subprocess.Popen | None]:
    """The Python that becomes the kernel when it is told to; None where it has to start later."""
    if os.name != "posix":
        yield None
        return
    env = os.environ | _surroundings(own) | {"JPY_PARENT_PID": str(os.getpid())}
    env.pop("PYTHONEXECUTABLE", None)
    with open(own / _SAID, "wb") as said:
        process = subprocess.Popen(
            _command(own), stdin=subprocess.PIPE, stdout=said, stderr=said, cwd=own, env=env,
            start_new_session=True,
        )  # fmt: skip
    try:
        yield process
    finally:
        _let_go(process)
        process.kill()
        process.wait()


def _let_go(process: subprocess.Popen, line: bytes = b"") -> None:
    """The last that is said to a Python that waits, which may have ended."""
    if process.stdin and not process.stdin.closed:
        with suppress(OSError):
            process.stdin.write(line)
        with suppress(OSError):
            process.stdin.close()


def _own_kernel(own: Path, waiting: subprocess.Popen | None) -> type:
    """A kernel manager that always starts this Python with this candlelab, whatever kernels the
    user has installed; one that waits for it is taken."""
    from ipykernel.kernelspec import get_kernel_dict
    from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
    from jupyter_client.manager import AsyncKernelManager
    from jupyter_client.provisioning.local_provisioner import LocalProvisioner

    about = get_kernel_dict() | {"argv": _command(own)}

    class ThisPython(KernelSpecManager):
        def get_kernel_spec(self, kernel_name):  # noqa: ARG002
            return KernelSpec(resource_dir="", env=_surroundings(own), **about)

    class Waiting(LocalProvisioner):
        async def launch_kernel(self, cmd, **kwargs):
            if waiting is None:
                return await super().launch_kernel(cmd, **kwargs)
            _let_go(waiting, b"\n")
            self.process, self.pid, self.pgid = waiting, waiting.pid, waiting.pid
            return self.connection_info

        async def kill(self, restart=False):
            await super().kill(restart)
            if self.process:  # it is gone in a moment; who asks for it looks every 0.1 s
                with suppress(subprocess.TimeoutExpired):
                    self.process.wait(1.0)

    class ThisKernel(AsyncKernelManager):
        def __init__(self, **kwargs):
            super().__init__(**kwargs)
            self.kernel_spec_manager = ThisPython(parent=self)

        async def start_kernel(self, **kwargs):
            spec = self.kernel_spec
            self.provisioner = Waiting(kernel_id="candlelab", kernel_spec=spec, parent=self)
            with open(own / _SAID, "ab") as said:
                kwargs |= {"cwd": str(own), "stdout": said, "stderr": said}
                await super().start_kernel(**kwargs)

    return ThisKernel


def _end_kernel(own: str) -> None:
    """End the kernel of an interrupted run, even if nobody holds it yet."""
    for child in _kernels(own):
        with suppress(Exception):  # it is gone already, or may not be touched
            child.kill()
            child.wait(5)


def _end_where_silent(
    own: str, first_s: float, first: threading.Event, over: threading.Event
) -> None:
    """End a kernel whose first cell takes too long, or that does nothing for a minute later on:
    where memory was short, a part of it may be gone, and it never answers.

    Seconds are counted, as the clock goes on while a computer sleeps.
    """
    if not first.wait(first_s):
        _end_kernel(own)
    idle, spent = 0.0, -1.0
    while not over.wait(_LOOK_S):
        now = sum(_processor_s(child) for child in _kernels(own))
        idle, spent = (idle + _LOOK_S if now - spent < _AT_REST * _LOOK_S else 0.0), now
        if idle >= _IDLE_S:
            _end_kernel(own)
            return


def _processor_s(child) -> float:
    with suppress(Exception):  # it is gone already
        times = child.cpu_times()
        return times.user + times.system
    return 0.0


def _kernels(own: str) -> list:
    """The children that were told of a file in the folder ``own``."""
    import psutil

    found = []
    with suppress(psutil.Error, OSError):
        for child in psutil.Process().children(recursive=True):
            with suppress(psutil.Error, OSError):
                if any(own in part for part in child.cmdline()):
                    found.append(child)
    return found


def _check_handles() -> None:
    """Raise NoKernel where few files can be opened: ZeroMQ ends the whole program then."""
    try:
        with ExitStack() as opened:
            for _ in range(_HANDLES):
                opened.enter_context(open(os.devnull, "rb"))
    except OSError as error:
        raise NoKernel(f"no more files can be opened ({error.strerror})") from error


def _check_loopback() -> None:
    """Raise NoKernel where a program cannot talk to another on this computer."""
    try:
        with socket.create_server(("127.0.0.1", 0)) as server:
            socket.create_connection(server.getsockname(), timeout=5).close()
    except OSError as error:
        raise NoKernel(f"no connection inside this computer, to 127.0.0.1 ({error})") from error


def _last_words(own: Path) -> str:
    """The last line that the kernel said on the side, or nothing where it was told to stop."""
    try:
        lines = (own / _SAID).read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    last = next((line.strip() for line in reversed(lines) if line.strip()), "")
    return "" if last == "KeyboardInterrupt" else clip(last, 200)


@contextmanager
def _quiet() -> Iterator[None]:
    """Without what the libraries say of a kernel that does not start: it is told once, by us."""
    from zmq import ZMQError

    def told(args) -> None:
        if not issubclass(args.exc_type, ZMQError):
            hook(args)

    hook, threading.excepthook = threading.excepthook, told
    loggers = [logging.getLogger(name) for name in ("papermill", "traitlets")]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        threading.excepthook = hook
        for logger, level in zip(loggers, levels, strict=True):
            logger.setLevel(level)
