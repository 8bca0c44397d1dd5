"""Packs with changes that hypothesis thinks of: each passes or is told why not, never a traceback.
Then every forgery of ``forgeries`` under every claim of where the pack is from: none is verified.

Command: python tests/benchmarks/hostile_packs.py [examples] [seed]
"""

import collections
import sys
import tempfile
import time
import warnings
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from forgeries import CLAIMS, FORGERIES, forged_files
from hostile import changed_pack, told_or_passed
from packs import contents_of, rezipped

from candlelab.share import verify
from candlelab.share.pack import make_pack
from candlelab.share.verify import verify_pack

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"


def forgeries_found(folder: Path, files: dict, patch: pytest.MonkeyPatch) -> None:
    """How each forgery ends; the report is not made again, it is that of the true pack."""
    reports = {n.rpartition("/")[2]: d for n, d in files.items() if n.startswith("reports/")}

    def report(_, out, **__):
        out.mkdir(parents=True)
        for name, data in reports.items():
            (out / name).write_bytes(data)

    patch.setattr(verify, "make_report", report)
    ends = collections.Counter()
    for claim in CLAIMS:
        for name in FORGERIES:
            result = verify_pack(rezipped(folder / "forged.zip", forged_files(files, claim, name)))
            end = "numbers only" if result.numbers_only else "not verified"
            ends["VERIFIED" if result.passed else end] += 1
            if result.passed:
                print(f"verified: {name}, claiming {claim}")
    print(f"{sum(ends.values())} forgeries: {dict(ends)}")


def main(examples: int, number: int) -> None:
    warnings.simplefilter("error")
    ends = collections.Counter()
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        pack = make_pack([DEMO / "confirmation"], Path(folder) / "pack.zip").path
        files, raw = contents_of(pack), pack.read_bytes()

        @seed(number)
        @settings(
            max_examples=examples,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        )
        @given(st.data())
        def run(data):
            ends[
                "passed"
                if told_or_passed(
                    Path(folder) / "changed.zip", data.draw(changed_pack(files, raw)), files, patch
                )
                else "told"
            ] += 1

        begun = time.monotonic()
        run()
        took = time.monotonic() - begun
        forgeries_found(Path(folder), files, patch)
    print(f"{examples} examples, seed {number}: {dict(ends)} in {took:.0f} s, no unhandled error")


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 1000,
        int(sys.argv[2]) if len(sys.argv) > 2 else 1,
    )
