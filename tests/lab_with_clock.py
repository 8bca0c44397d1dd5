"""JupyterLab as ``candlelab lab`` starts it, its bench on a clock that a test moves.

Usage: lab_with_clock.py FILE [option ...]; FILE holds how many seconds the clock is ahead.
"""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.modules.setdefault("rfc3987_syntax", None)  # a slow grammar, as in quick_start

from jupyterlab.labapp import LabApp  # noqa: E402

from candlelab.bench import desk  # noqa: E402

AHEAD = Path(sys.argv[1])
as_it_is = desk.Desk.__init__


def moved() -> datetime:
    return datetime.now(UTC) + timedelta(seconds=float(AHEAD.read_text() or 0))


def with_clock(self, folder, clock=None):
    as_it_is(self, folder, clock or moved)


if __name__ == "__main__":
    desk.Desk.__init__ = with_clock
    LabApp.launch_instance(sys.argv[2:])
