"""Parts of a benchmark, each in a process of its own, so that none is measured with another."""

import json
import subprocess
import sys

# Code of a part may begin with it. The peak is Linux's own count of this process: ru_maxrss begins
# with the peak of the process that started it.
PEAK = """
def peak_mb():
    from pathlib import Path
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1024
"""


def run(code: str, *args) -> dict:
    """What a part prints as JSON."""
    command = [sys.executable, "-c", code, *map(str, args)]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
