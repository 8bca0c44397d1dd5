"""How long the report on the screening batch takes, as a ratio to a notebook that only imports the
same libraries.

Both run in a new process, in the same way, page included, in turns. Command: python
tests/benchmarks/report_time.py [pairs]
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import nbformat

BATCH = Path(__file__).resolve().parents[2] / "data" / "demo" / "screening"
IMPORTS = (
    "import jinja2, matplotlib.pyplot, numpy, pandas, scipy.special, seaborn\nfrom "
    "IPython.display import HTML, display"
)
EMPTY = """
import json, sys
from pathlib import Path
from candlelab.pages.run import page_of, run_notebook
out = Path(sys.argv[2])
book = run_notebook(Path(sys.argv[1]), {"batch_folder": "x"})
(out / "page.html").write_text(page_of(book, "empty"))
(out / "book.ipynb").write_text(json.dumps(book))
"""


def seconds(*command):
    begun = time.perf_counter()
    subprocess.run([sys.executable, *map(str, command)], check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begun


def main(pairs: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        cells = [
            nbformat.v4.new_code_cell('batch_folder: str = "x"', metadata={"tags": ["parameters"]}),
            nbformat.v4.new_code_cell(IMPORTS),
        ]
        kernel = {
            "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}
        }
        nbformat.write(
            nbformat.v4.new_notebook(cells=cells, metadata=kernel), folder / "empty.ipynb"
        )
        times = []
        for n in range(pairs + 1):
            empty = seconds("-c", EMPTY, folder / "empty.ipynb", folder)
            report = seconds("-m", "candlelab", "report", BATCH, "--out", folder / "report")
            if n:  # the first pair only warms up
                times.append((report, empty))
                print(
                    f"report {report:.2f} s, empty notebook {empty:.2f} s, ratio "
                    f"{report / empty:.2f}"
                )
    ratios = sorted(report / empty for report, empty in times)
    print(
        f"median ratio {statistics.median(ratios):.2f} (from {ratios[0]:.2f} to "
        f"{ratios[-1]:.2f}) over {pairs} pairs; the aim is at most 2.0"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
