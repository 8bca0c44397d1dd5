"""The kernel that a notebook of ours runs in: always this Python with this candlelab, whatever the
user's session, current folder and settings are.

It lives as long as its notebook runs. One that cannot start is told in one sentence, within a
minute.
"""

from __future__ import annotations

import logging
import os
import socket
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from candlelab.pages.leftovers import own_folder
from candlelab.text import clip

START_S = 50.0  # all tries together; a kernel needs about one second
_AGAIN_S = 10.0
_FIRST_CELL_S = 5.0
_SAID = "said.txt"  # what the kernel says on the side, in its own folder
# What IPython runs at its start for everybody on this computer stays out, as the user's own does.
# It lives for seconds: less is spent on looking for garbage. Not by -m ipykernel_launcher, which
# takes the current folder off the path even where PYTHONPATH names it.
_START = (
    "import gc; gc.set_threshold(50_000, 50, 50); "
    "from IPython.core import application as a; "
    "a.SYSTEM_CONFIG_DIRS.clear(); a.ENV_CONFIG_DIRS.clear(); "
    "from ipykernel.kernelapp import launch_new_instance; launch_new_instance()"
)


class NoKernel(RuntimeError):
    """The kernel did not start, or ended before its notebook did; the message says why."""


def executed(papermill, path: str, parameters: dict, progress: bool):
    """The notebook run in a kernel of its own, which ends with it.

    Raises NoKernel, and papermill's PapermillExecutionError for a cell that fails.
    """
    from nbclient.exceptions import DeadKernelError
    from zmq import ZMQError

    begun = time.monotonic()
    _check_loopback()
    while True:
        left = max(int(begun + START_S - time.monotonic()), 1)
        with own_folder("kernel") as own, _quiet():
            try:
                return _execute(papermill, path, parameters, progress, own, left)
            except papermill.PapermillExecutionError:
                raise
            except DeadKernelError as error:
                said = _last_words(own) or "is there enough memory?"
                raise NoKernel(f"the kernel ended before the notebook did ({said})") from error
            except (RuntimeError, OSError, ZMQError, MemoryError) as error:
                said = _last_words(own) or clip(error, 200)
                # one that dies at once may have found its port taken
                if not isinstance(error, RuntimeError) or time.monotonic() > begun + _AGAIN_S:
                    raise NoKernel(f"the kernel did not start ({said})") from error


def _execute(papermill, path: str, parameters: dict, progress: bool, own: Path, start_s: int):
    from traitlets.config import Config

    kernel = {"transport_encryption": "auto", "connection_file": str(own / "kernel.json")}
    # one that starts and then answers nothing is ended: its first cell has no work to do
    silent = threading.Timer(start_s + _FIRST_CELL_S, _end_kernel, [str(own)])
    silent.daemon = True
    try:
        silent.start()
        return papermill.execute_notebook(
            path,
            None,
            parameters=parameters,
            progress_bar=progress,
            kernel_manager_class=_own_kernel(own),
            config=Config({"KernelManager": kernel}),
            start_timeout=start_s,
            shutdown_kernel="immediate",
            log_output=False,
            on_cell_executed=lambda **_: silent.cancel(),
        )
    except BaseException:
        _end_kernel(str(own))
        raise
    finally:
        silent.cancel()


def _own_kernel(own: Path) -> type:
    """A kernel manager that always starts this Python with this candlelab.

    Whatever kernels the user has installed. What the user's Python and IPython run at their start,
    settings of matplotlib, and the session's plotting backend, stay out: the folder ``own`` takes
    the place of theirs, which may not be there to write to, and of the current folder, where a
    numpy.py or a matplotlibrc may have come with a batch.
    """
    from ipykernel.kernelspec import get_kernel_dict
    from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
    from jupyter_client.manager import AsyncKernelManager

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
    options = ["-f", "{connection_file}", "--IPKernelApp.ignore_cwd=True"]
    command = [sys.executable, "-P", "-c", _START, *options]

    class ThisPython(KernelSpecManager):
        def get_kernel_spec(self, kernel_name):  # noqa: ARG002
            return KernelSpec(resource_dir="", env=env, **get_kernel_dict() | {"argv": command})

    class ThisKernel(AsyncKernelManager):
        def __init__(self, **kwargs):
            super().__init__(**kwargs)
            self.kernel_spec_manager = ThisPython(parent=self)

        async def start_kernel(self, **kwargs):
            with open(own / _SAID, "wb") as said:
                kwargs |= {"cwd": str(own), "stdout": said, "stderr": said}
                await super().start_kernel(**kwargs)

    return ThisKernel


def _end_kernel(own: str) -> None:
    """End the kernel of an interrupted run: the child that was told of a file in ``own``.

    Even if nobody holds it yet.
    """
    import psutil

    try:
        children = psutil.Process().children(recursive=True)
    except (psutil.Error, OSError):
        return
    for child in children:
        try:
            if any(own in part for part in child.cmdline()):
                child.kill()
                child.wait(5)
        except (psutil.Error, OSError):
            continue


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
