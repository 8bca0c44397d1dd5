"""Packs for tests: one made of the demo's confirmation batch, and ways to change it."""

import io
import json
import zipfile
from functools import lru_cache

from candlelab.archive import write_zip
from candlelab.pages.run import NOTEBOOK, PAGE
from candlelab.share import agreement, contents, pack, shown, verify
from candlelab.share import read as reading
from candlelab.share.contents import ENVIRONMENT, MANIFEST, REQUIREMENTS, json_bytes, manifest

LOGS, REPORT = "batches/confirmation", "reports/confirmation"
BOOK, RECORD = f"{REPORT}/batch_report.ipynb", f"{REPORT}/results.json"
# The first cell of the report's notebook in candlelab 0.1.0, and the SHA-256 of that code.
OLD_IMPORTS = """\
from candlelab import compared_figures, figures, page, words
from candlelab.columns import in_words
from candlelab.logs import read_batch
from candlelab.results import batch_results, results_record
"""
OLD_CODE = "a0ca9d274a9748e198bd70513be9a81af4fc22b59c1884e65e488366b7b57046"


def contents_of(pack):
    """Files of a zip by name."""
    with zipfile.ZipFile(pack) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def rezipped(path, files, *, compression=zipfile.ZIP_DEFLATED):
    """A zip of these files, as some other program writes one."""
    with zipfile.ZipFile(path, "w", compression) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return path


def with_new_manifest(files):
    """The files with a manifest that fits them: what a careful forger does."""
    rest = {name: data for name, data in files.items() if name != MANIFEST}
    return {**rest, MANIFEST: manifest(rest)}


def raw_zip(*entries):
    """A zip of ``(ZipInfo or name, data)``, in memory."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for entry, data in entries:
            archive.writestr(entry, data)
    return file.getvalue()


def forged(tmp_path, pack, changes, *, manifest=True):
    """The pack with files changed, removed (None) or added, and with a manifest that fits or the
    old one."""
    files = {**contents_of(pack), **changes}
    files = {name: data for name, data in files.items() if data is not None}
    write_zip(tmp_path / "forged.zip", with_new_manifest(files) if manifest else files)
    return tmp_path / "forged.zip"


def canary(tmp_path):
    """Code that leaves a file when it is run."""
    return f"open({str(tmp_path / 'canary')!r}, 'w')"


def with_code(files, code):
    """The pack's notebook with code at the start of every cell that some program might run."""
    book = json.loads(files[BOOK])
    for cell in book["cells"]:
        if cell["cell_type"] == "code" and "parameters" not in cell["metadata"].get("tags", []):
            cell["source"] = f"{code}\n{''.join(cell['source'])}"
    return json_bytes(book)


def of_version(files, version, *, imports=OLD_IMPORTS, code=OLD_CODE):
    """The files as another version of candlelab wrote them: its name, its code and its imports."""
    record, environment = json.loads(files[RECORD]), json.loads(files[ENVIRONMENT])
    made_with = environment["candlelab"]
    record["versions"]["candlelab"] = environment["candlelab"] = version
    environment["candlelab_code_sha256"] = code
    book = json.loads(with_code(files, imports))
    files = files | {RECORD: json_bytes(record), ENVIRONMENT: json_bytes(environment)}
    text = files[REQUIREMENTS].decode().replace(f"candlelab {made_with}", f"candlelab {version}")
    return files | {BOOK: json_bytes(with_record(book, record)), REQUIREMENTS: text.encode()}


def with_record(book, record):
    """A notebook whose last cell shows this record."""
    outputs = [o for cell in book["cells"] for o in cell.get("outputs", [])]
    shown = [o["data"] for o in outputs if "application/json" in o.get("data", {})]
    shown[-1]["application/json"] = record
    return book


_texts_of = lru_cache(maxsize=4)(shown.texts_of)
_read_record = lru_cache(maxsize=4)(agreement.read_record)
_describe, _Shown = contents.describe_batch, shown.Shown


@lru_cache(maxsize=2)
def _shown_once(page, notebook, versions):
    return _Shown({PAGE: page, NOTEBOOK: notebook}, json.loads(versions))


def _shown(files, versions):
    return _shown_once(files[PAGE], files[NOTEBOOK], json.dumps(versions))


_DESCRIBED = {}


def _described(batch, files, **more):
    key = *files.items(), *more.items()
    if key not in _DESCRIBED:
        _DESCRIBED[key] = _describe(batch, files, **more)
    return _DESCRIBED[key]


def read_once(monkeypatch):
    """What has the same bytes in two packs is read once: pages, results, tables of logs."""
    monkeypatch.setattr(shown, "texts_of", _texts_of)
    monkeypatch.setattr(shown, "Shown", _shown)
    monkeypatch.setattr(contents, "describe_batch", _described)
    for module in (pack, reading, verify):
        monkeypatch.setattr(module, "read_record", _read_record)
