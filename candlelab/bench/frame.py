"""The bench page in a notebook: a frame, and its address for a tab of its own."""

from __future__ import annotations

import os
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

import psutil
from IPython.display import IFrame
from jupyter_server.serverapp import list_running_servers

_PLACE = "candlelab/bench"  # as in `extension`, which is not imported into a kernel
_WAIT_S = 10
NOT_HERE = (
    "The bench page needs a JupyterLab that “candlelab lab” has started. Or run it by itself: "
    "candlelab bench {folder}"
)


class _Frame(IFrame):
    """A frame that fits the window, so that its forms are seen whole."""

    iframe = """
        <iframe src="{src}{params}" width="{width}" height="{height}" {extras}
            style="height: 78vh; border: 1px solid #b9b1a3" allow="autoplay; screen-wake-lock">
        </iframe>
        """


def show_bench(folder: str | Path) -> IFrame | None:
    """Show the bench page of a batch folder below a cell, and print its address.

    The page talks to the Jupyter server; the kernel has no part in it and may be busy, or stopped.

    Parameters
    ----------
    folder : str or pathlib.Path
        The batch folder.

    Returns
    -------
    IPython.display.IFrame or None
        None where no server with the bench runs; what to do is printed.
    """
    folder = Path(folder).resolve()
    query = urllib.parse.urlencode({"folder": str(folder)})
    server = _own_server()
    if server is None or not _there(server):
        print(NOT_HERE.format(folder=folder))
        return None
    page = f"{server['base_url'].rstrip('/')}/{_PLACE}/?{query}"
    root = urllib.parse.urlsplit(server["url"])
    print(f"In a tab of its own: {root.scheme}://{root.netloc}{page}")
    return _Frame(page, width="100%", height=700)


def _own_server() -> dict | None:
    """The Jupyter server that started this kernel."""
    above = {one.pid for one in psutil.Process(os.getpid()).parents()}
    return next((one for one in list_running_servers() if one["pid"] in above), None)


def _there(server: dict) -> bool:
    """Whether a server has the bench; one that lets nobody in may have it."""
    request = urllib.request.Request(
        f"{server['url'].rstrip('/')}/{_PLACE}/static/bench.css",
        headers={"Authorization": f"token {server['token']}"},
    )
    try:
        with urllib.request.urlopen(request, timeout=_WAIT_S) as answer:
            return answer.status == 200
    except urllib.error.HTTPError as error:
        return error.code == 403
    except OSError:
        return False
