"""A scale on a serial cable: one steady weight when asked for, or a sentence, never a wrong number.

The only user of pyserial, which comes with the extra ``candlelab[scale]``.
"""

from __future__ import annotations

import contextlib
import glob
import threading
import time

from candlelab.bench.scale_line import GARBLED, UNSTEADY, Weight, read_line
from candlelab.logs.settings import Scale

try:
    from termios import error as _terminal_error  # what a port that is gone raises; no OSError
except ImportError:  # Windows
    _terminal_error = OSError  # type: ignore[assignment, misc]

_QUESTION = b"S\r\n"
_WAIT_S, _STEADY_S, _ASK_AGAIN_S = 4.0, 1.0, 1.5
_LONGEST = 200  # bytes of a line; more without an end is no line

NOT_SET = "No scale is set up: write port, baud, kind and unit under [scale] in batch.toml."
NOT_INSTALLED = "Reading a scale takes the extra: pip install 'candlelab[scale]'."
SILENT = "The scale sends nothing. Is it on, and does kind in batch.toml (asks, talks) suit it?"
PULLED = (
    "The scale's cable was pulled out, or the scale was switched off. Plug it in and try again."
)


class ScaleReader:
    """The scale of a batch; its port is opened when first asked, and again after it was pulled."""

    def __init__(self, settings: Scale) -> None:
        self.settings = settings
        self._port = None
        self._one_at_a_time = threading.Lock()

    def read(self, wait_s: float = _WAIT_S) -> Weight | str:
        """One steady weight, or a sentence that says why there is none."""
        if not self.settings.port:
            return NOT_SET
        try:
            import serial
        except ImportError:
            return NOT_INSTALLED
        with self._one_at_a_time:
            try:
                return self._steady(self._opened(serial), wait_s)
            except (OSError, ValueError, TypeError, _terminal_error) as error:
                was_open = self._port is not None
                self.close()
                return PULLED if was_open else self._why_not(error)

    def close(self) -> None:
        """Give the port back."""
        if self._port is not None:
            with contextlib.suppress(OSError):
                self._port.close()
        self._port = None

    def _opened(self, serial):
        if self._port is None:
            found = sorted(glob.glob(self.settings.port)) or [self.settings.port]
            self._port = serial.Serial(
                found[0], self.settings.baud, timeout=0.1, write_timeout=2, exclusive=True
            )
        return self._port

    def _why_not(self, error: Exception) -> str:
        """Why a port could not be opened."""
        words = str(error)
        if "exclusively lock" in words or "Resource busy" in words or "Access" in words:
            return f"{self.settings.port} is in use by another program: close it there."
        if "Permission" in words:
            return f"{self.settings.port} may not be opened by this account."
        return f"There is no scale at {self.settings.port}. Is its cable plugged in?" + _others()

    def _steady(self, port, wait_s: float) -> Weight | str:
        """Lines until one is steady: by its own word, or because the weight stays the same."""
        asks = self.settings.kind == "asks"
        lines = _Lines(port, begun=asks)
        began, asked = time.monotonic(), 0.0
        last: Weight | str = SILENT
        first: Weight | None = None
        first_at, named = 0.0, False
        while (now := time.monotonic()) - began < wait_s:
            if asks and now - asked > _ASK_AGAIN_S:
                port.write(_QUESTION)
                asked = now
            for line in lines.read():
                last = found = read_line(line, self.settings.unit)
                if isinstance(found, str):
                    if found == GARBLED:
                        return GARBLED
                    first, asked = None, asked if not asks else 0.0
                    continue
                named |= found.named
                if found.sure:
                    return found
                if named and not found.named:
                    first, last = None, UNSTEADY  # it leaves the unit out while it moves
                elif first is None or (first.text, first.unit) != (found.text, found.unit):
                    first, first_at, last = found, time.monotonic(), UNSTEADY
                elif time.monotonic() - first_at >= _STEADY_S:
                    return found
                else:
                    last = UNSTEADY
            if lines.garbled:
                return GARBLED
        return last if isinstance(last, str) else UNSTEADY


class _Lines:
    """Whole lines out of what a port hands over piece by piece.

    The rest of a line that was under way before is not a line: its number would be a wrong one.
    """

    def __init__(self, port, *, begun: bool) -> None:
        self._port, self._begun, self._rest = port, begun, b""
        port.reset_input_buffer()

    @property
    def garbled(self) -> bool:
        """Whether what came is no text, so that the end of a line never comes."""
        return len(self._rest) > _LONGEST or any(byte > 126 for byte in self._rest)

    def read(self) -> list[bytes]:
        """The lines that have ended by now."""
        data = self._port.read(max(1, self._port.in_waiting))
        *ended, self._rest = (self._rest + data).replace(b"\r", b"\n").split(b"\n")
        if ended and not self._begun:
            self._begun = True
            ended = ended[1:]
        return [line for line in ended if line.strip()]


def _others() -> str:
    """The ports that are there, for whoever wrote down another one."""
    with contextlib.suppress(ImportError, OSError):
        from serial.tools.list_ports import comports

        names = [port.device for port in comports() if port.vid is not None]
        return f" Ports here: {', '.join(names)}." if names else ""
    return ""
