"""Batches and packs as nobody should send them: strategies for
hypothesis, and what must hold for each."""

import json
import shutil
import tempfile
from pathlib import Path

from hypothesis import strategies as st
from packs import contents_of, rezipped, with_new_manifest
from places import TESTS

from candlelab.logs.batch import read_batch
from candlelab.logs.columns import TABLES
from candlelab.logs.problems import MUST_FIX, BurnLogError
from candlelab.report.page import report_page
from candlelab.report.results import batch_results
from candlelab.share import verify as verifying
from candlelab.share.agreement import compare_records, read_record

SMALL = TESTS / "broken" / "nothing_wrong" / "batch"
CHANGED = TESTS / "broken" / "weight_after_a_wick_change_reads_well" / "batch"
FILES = ("batch.toml", *(spec.file for spec in TABLES.values()))
TOKENS = [
    "", " ", '"', '""', '"a', "'", "=1+1", "+1", "-1", "-0", "@x", "\0", "\ufeff", "\x1e", "\x1f",
    "\r", "\n", "\r\n", "\u2028", "\u0085", "\x0b",
    "NaN", "inf", "None", "NA", "1e308", "1e-320", "-1e308", "9" * 400, "0", "1", "2", "199", "200",
    "99999999999999999999", "0.1", "4,5", "1.234,5", "1'000",
    "2026-06-01 09:00", "2026-03-29 01:30", "2026-10-25 01:30", "31.12.1899 10:00",
    "29.02.2027 10:00", "2026-06-01 09:00+14:00", "0001-01-01 00:00", "2199-12-31 23:59",
    "2026-06-01", "01/02/2026 09:00", "١٢", "½", "１２", "²", "yes", "no", "maybe", "self",
    "stopped", "3", "x" * 33_000,
    "<script>alert(1)</script>", "{{ 7*7 }}", "{x}", "$x$", "[a](javascript:b)", "Käfer", "蝋燭",
    "שלום", "\U0001f56f", "e\u0301", "a\tb", "a;b", "a,b",
    "jar", "A1", "flat braid", "soy", "[vessels.x]", "title = 1", "[[", "time_zone = 'x'",
    "a.b.c = {}", "note", "mass_before_oz", "wall_f", "sep=;",
]  # fmt: skip


def texts():
    return st.one_of(st.sampled_from(TOKENS), st.text(max_size=12))


@st.composite
def changed_files(draw):
    """The files of a small good batch with up to four changes:
    cells, headers, rows, bytes, whole files."""
    source = draw(st.sampled_from([SMALL, SMALL, CHANGED]))
    files = {path.name: path.read_bytes() for path in sorted(source.iterdir())}
    for _ in range(draw(st.sampled_from([1, 1, 1, 2, 4]))):
        name = draw(st.sampled_from(FILES))
        data = files.get(name, b"")
        kind = draw(
            st.sampled_from(
                ["cell"] * 6
                + ["line", "line", "bytes", "cut", "whole", "row", "drop", "encode", "text"]
            )
        )
        if kind in ("cell", "line", "row", "text"):
            files[name] = _line_changed(draw, data, kind)
        elif kind == "bytes":
            at = draw(st.integers(0, len(data)))
            files[name] = (
                data[:at] + draw(st.binary(max_size=8)) + data[at + draw(st.integers(0, 8)) :]
            )
        elif kind == "cut":
            files[name] = data[: draw(st.integers(0, len(data)))]
        elif kind == "whole":
            files[name] = draw(
                st.one_of(
                    st.binary(max_size=200),
                    st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace")),
                )
            )
        elif kind == "encode":
            text = data.decode("utf-8", "replace")
            files[name] = text.encode(
                draw(st.sampled_from(["utf-16", "utf-8-sig", "cp1252", "utf-16-le", "utf-32"])),
                "replace",
            )
        else:
            files.pop(name, None)
    return files


def _line_changed(draw, data: bytes, kind: str) -> bytes:
    lines = data.decode("utf-8", "replace").split("\n")
    n = draw(st.integers(0, len(lines) - 1))
    if kind == "cell":
        cells = lines[n].split(",")
        cells[draw(st.integers(0, len(cells) - 1))] = draw(texts())
        lines[n] = ",".join(cells)
    elif kind == "line":
        lines[n] = draw(texts())
    elif kind == "text":
        lines.insert(n, draw(texts()))
    else:
        lines.insert(n, lines[draw(st.integers(0, len(lines) - 1))])
    return "\n".join(lines).encode("utf-8", "replace")


def result_or_problems(files: dict[str, bytes]) -> str:
    """Read a batch of these files and work everything out; ``result`` or
    ``problems``, and never anything else.

    What a report needs is made: the record as JSON without NaN.
    The files are as they were afterwards.
    """
    folder = Path(tempfile.mkdtemp(prefix="hostile-"))
    try:
        for name, data in files.items():
            (folder / name).write_bytes(data)
        refused = None
        try:
            batch = read_batch(folder)
        except BurnLogError as error:
            refused = error
        finally:
            assert {path.name: path.read_bytes() for path in folder.iterdir()} == files
        if refused is not None:
            assert (refused.problems["level"] == MUST_FIX).any()
            assert str(refused)
            return "problems"
        record = report_page(batch_results(batch)).record()
        json.dumps(record, allow_nan=False, ensure_ascii=False).encode("utf-8")
        return "result"
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@st.composite
def changed_pack(draw, files, raw):
    """A pack's files or bytes with a few changes: bytes, JSON values, names, the whole."""
    kind = draw(st.sampled_from(["raw", "raw", "file", "json", "json", "name", "binary"]))
    if kind == "binary":
        return draw(st.binary(max_size=100))
    if kind == "raw":
        at = draw(st.integers(0, len(raw)))
        return raw[:at] + draw(st.binary(max_size=4)) + raw[at + draw(st.integers(0, 4)) :]
    name = draw(st.sampled_from(sorted(files)))
    if kind == "name":
        other = draw(
            st.one_of(
                st.sampled_from([name.upper(), "../x", "a\\b", "CON", name + "/x"]),
                st.text(min_size=1, max_size=10),
            )
        )
        return {**{n: d for n, d in files.items() if n != name}, other: files[name]}
    if kind == "json":
        name = draw(st.sampled_from([n for n in sorted(files) if n.endswith((".json", ".ipynb"))]))
        return with_new_manifest({**files, name: _json_changed(draw, files[name])})
    data = files[name]
    at = draw(st.integers(0, len(data)))
    changed = {
        **files,
        name: data[:at] + draw(st.binary(max_size=6)) + data[at + draw(st.integers(0, 6)) :],
    }
    return with_new_manifest(changed) if draw(st.booleans()) else changed


def _json_changed(draw, data):
    """JSON with one value somewhere in it replaced."""
    whole = json.loads(data)
    new = draw(
        st.sampled_from(
            [
                None,
                [],
                {},
                "",
                "\ud800",
                -1,
                1e300,
                2**70,
                True,
                float("nan"),
                [[]],
                {"": {}},
                "../x",
                "x" * 1000,
            ]
        )
    )
    node = whole
    for _ in range(draw(st.integers(0, 5))):
        keys = list(node) if isinstance(node, dict) else list(range(len(node)))
        below = [key for key in keys if isinstance(node[key], dict | list) and node[key]]
        if not below:
            break
        node = node[draw(st.sampled_from(below[:40]))]
    keys = list(node) if isinstance(node, dict) else list(range(len(node)))
    node[draw(st.sampled_from(keys[:40]))] = new
    return json.dumps(whole).encode()


def told_or_passed(path: Path, made, files: dict[str, bytes], patch) -> bool:
    """Write a changed pack and check it, with the good pack's report in
    place of a new one; whether it passed."""
    if isinstance(made, bytes):
        path.write_bytes(made)
    else:
        try:
            rezipped(path, made)
        except (ValueError, IndexError):  # a name that no zip can hold
            return False

    def report(_, out, **__):
        out.mkdir(parents=True)
        for name, data in files.items():
            if name.startswith("reports/"):
                (out / name.rpartition("/")[2]).write_bytes(data)

    patch.setattr(verifying, "make_report", report)
    result = verifying.verify_pack(path)
    assert len(result.findings)
    assert (result.findings["what"].str.len() > 5).all()
    if result.passed:  # then logs are as they were, and no number differs
        now = contents_of(path)
        logs = [name for name in files if name.startswith("batches/")]
        assert all(now[name] == files[name] for name in logs)
        for name in [name for name in files if name.endswith("results.json")]:
            assert compare_records(read_record(files[name]), read_record(now[name])).outside.empty
    return result.passed
