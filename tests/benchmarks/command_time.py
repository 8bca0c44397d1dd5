"""How long commands take on the demo batches, as ratios to something measured in the same round.

Every command is a process of its own, page included. The rounds go forward and backward in turn,
so that what slows the machine for a while slows both sides of a ratio. Modules are compiled once,
in the round that warms up, as those of an installed package are. A notebook that only imports is
run twice: as candlelab runs its own, and by papermill and nbconvert as they come, which nothing
that makes candlelab's runner faster can change. With an earlier checkout, its runner is a third,
and its own report stands beside it.
Command: python tests/benchmarks/command_time.py [rounds] [folder of an earlier checkout]
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import nbformat

ROOT, BATCH = Path(__file__).resolve().parents[2], "data/demo/screening"
BOTH = (ROOT / BATCH, ROOT / "data/demo/confirmation")
IMPORTS = """import jinja2, matplotlib.pyplot, numpy, pandas, scipy.special, seaborn
from IPython.display import HTML, display"""
EMPTY = """
import json, sys
from pathlib import Path
try:
    from candlelab.pages.run import page_of, run_notebook
except ModuleNotFoundError:  # before there were rooms
    from candlelab.report import page_of, run_notebook
out = Path(sys.argv[2])
book = run_notebook(Path(sys.argv[1]), {"batch_folder": "x"})
(out / "page.html").write_text(page_of(book, "empty"))
(out / "book.ipynb").write_text(json.dumps(book))
"""
PLAIN = """
import sys
from pathlib import Path
import papermill
from nbconvert import HTMLExporter
out = Path(sys.argv[2])
made = str(out / "book.ipynb")
papermill.execute_notebook(sys.argv[1], made, {"batch_folder": "x"}, progress_bar=False)
(out / "page.html").write_text(HTMLExporter().from_filename(made)[0])
"""
IMPORTING, BY_PAPERMILL = "a notebook that only imports", "the same by papermill and nbconvert"
BEFORE, REPORT_BEFORE = "the same by the earlier runner", "the earlier report"
RATIOS = [
    ("report", IMPORTING, 1.6),
    ("report", BY_PAPERMILL, 1.6),
    ("report", BEFORE, 1.6),
    (REPORT_BEFORE, BEFORE, None),
    ("check", "import pandas", 1.5),
    ("claim", "report", 1.2),
    ("confirm", "report", 1.2),
    ("size", "report", 1.2),
]


def commands(folder: Path, earlier: Path | None) -> dict[str, list]:
    """What is timed, by name: where candlelab is, and arguments of Python."""
    cells = [
        nbformat.v4.new_code_cell('batch_folder: str = "x"', metadata={"tags": ["parameters"]}),
        nbformat.v4.new_code_cell(IMPORTS),
    ]
    spec = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=spec), folder / "empty.ipynb")
    only_imports = ["-c", EMPTY, folder / "empty.ipynb", folder]
    made = {
        "report": [BOTH[0]],
        "claim": [*BOTH, "--candidate", "square braid 2"],
        "confirm": [*BOTH],
        "size": [*BOTH],
    }
    todo = {
        "import pandas": ["-c", "import pandas"],
        "check": ["-m", "candlelab", "check", BOTH[0]],
        IMPORTING: only_imports,
        BY_PAPERMILL: ["-c", PLAIN, folder / "empty.ipynb", folder],
    } | {
        name: ["-m", "candlelab", name, *more, "--out", folder / name]
        for name, more in made.items()
    }
    here = {name: (ROOT, args) for name, args in todo.items()}
    if earlier is None:
        return here
    report = ["-m", "candlelab", "report", earlier / BATCH, "--out", folder / "earlier"]
    return here | {BEFORE: (earlier, only_imports), REPORT_BEFORE: (earlier, report)}


def seconds(root: Path, args: list, compiled: Path) -> float:
    env = os.environ | {"PYTHONPATH": str(root), "PYTHONDONTWRITEBYTECODE": ""}
    env |= {"PYTHONPYCACHEPREFIX": str(compiled)}
    begun = time.perf_counter()
    command = [sys.executable, *map(str, args)]
    subprocess.run(command, check=True, capture_output=True, env=env, cwd=root)
    return time.perf_counter() - begun


def main(rounds: int, earlier: Path | None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        todo = list(commands(Path(folder), earlier).items())
        times = []
        for n in range(rounds + 1):
            order = todo if n % 2 else reversed(todo)
            compiled = Path(folder) / "compiled"
            took = {name: seconds(root, args, compiled) for name, (root, args) in order}
            if n:  # the first round only warms up
                times.append(took)
                print(", ".join(f"{name} {took[name]:.2f} s" for name, _ in todo), flush=True)
    for name, against, aim in RATIOS:
        if against not in took:
            continue
        found = sorted(took[name] / took[against] for took in times)
        print(
            f"{name} against {against}: median ratio {statistics.median(found):.2f} "
            f"({found[0]:.2f} to {found[-1]:.2f}), {rounds} rounds"
            + (f"; the aim is at most {aim}" if aim else "")
        )


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 5,
        Path(sys.argv[2]).resolve() if len(sys.argv) > 2 else None,
    )
