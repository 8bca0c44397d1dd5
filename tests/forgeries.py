"""Packs with a false word, unit, picture or key, made by somebody who is careful: notebook, page,
READ-ME, descriptions and manifest say the same, and the pack may claim to come from elsewhere."""

import base64
import functools
import html
import io
import json
import re
import zlib

import numpy as np
from packs import BOOK, RECORD, REPORT, with_new_manifest, with_record
from PIL import Image

from candlelab.share.contents import ENVIRONMENT, MANIFEST, PARAMETERS, REQUIREMENTS, json_bytes
from candlelab.share.earlier import EARLIER

PAGE = f"{REPORT}/batch_report.html"
READ = "READ-ME-FIRST.html", "READ-ME-FIRST.txt"
_PICTURE = re.compile(rb"data:image/png;base64,([A-Za-z0-9+/=]+)")


# ---------------------------------------------------------------- where a pack says that it is from


def honest(files):
    """As it is."""
    return files


def of_another_version(files, version="0.1.9", code="1" * 64):
    """As another version of candlelab would have made it."""
    record, environment = json.loads(files[RECORD]), json.loads(files[ENVIRONMENT])
    own = environment["candlelab"]
    record["versions"]["candlelab"] = environment["candlelab"] = version
    environment["candlelab_code_sha256"] = code
    old, new = f"candlelab {own}".encode(), f"candlelab {version}".encode()
    listed = files[REQUIREMENTS].replace(old, new)
    files = files | {ENVIRONMENT: json_bytes(environment), REQUIREMENTS: listed}
    for name in (*READ, "ro-crate-metadata.json"):
        files[name] = files[name].replace(own.encode(), version.encode())
    return with_results(_listing(files, old, new), record)


def _listing(files, old, new):
    """Page and notebook with another line in their list of versions."""
    lines = b"<li>" + old + b"</li>", b"<li>" + new + b"</li>"
    assert lines[0] in files[PAGE]
    assert lines[0] in files[BOOK]
    return files | {name: files[name].replace(*lines) for name in (PAGE, BOOK)}


def of_a_newer_version(files):
    return of_another_version(files, "9.9")


def of_an_earlier_version(files):
    return of_another_version(files, EARLIER[0].version, EARLIER[0].code)


def of_other_code(files):
    environment = json.loads(files[ENVIRONMENT])
    environment["candlelab_code_sha256"] = "2" * 64
    return files | {ENVIRONMENT: json_bytes(environment)}


def of_other_packages(files):
    """With another numpy and another matplotlib."""
    record, environment = json.loads(files[RECORD]), json.loads(files[ENVIRONMENT])
    listed = files[REQUIREMENTS]
    for name in ("numpy", "matplotlib"):
        then = environment["packages"][name]
        record["versions"][name] = environment["packages"][name] = "1.0"
        listed = listed.replace(f"{name}=={then}\n".encode(), f"{name}==1.0\n".encode())
        files = _listing(files, f"{name} {then}".encode(), f"{name} 1.0".encode())
    files = files | {ENVIRONMENT: json_bytes(environment), REQUIREMENTS: listed}
    return with_results(files, record)


CLAIMS = {
    "this version": honest,
    "another version": of_another_version,
    "a newer version": of_a_newer_version,
    "an earlier version": of_an_earlier_version,
    "other code": of_other_code,
    "other packages": of_other_packages,
}


# ---------------------------------------------------------------- what is false


_PLACE = "the results stand here"


@functools.lru_cache(maxsize=16)
def _around_results(book):
    """The text of a notebook before its results, and behind them."""
    text = json.dumps(with_record(json.loads(book), _PLACE), ensure_ascii=False)
    before, behind = text.split(json.dumps(_PLACE))
    return before, behind


def with_results(files, record):
    """The files with these results, in ``results.json`` and in the notebook."""
    before, behind = _around_results(files[BOOK])
    book = before + json.dumps(record, ensure_ascii=False) + behind
    return files | {RECORD: json_bytes(record), BOOK: book.encode()}


def everywhere(files, old, new):
    """The files with one text in place of another, wherever a reader may look."""
    assert any(old.encode() in files[name] for name in (RECORD, BOOK, PAGE)), old
    changed = dict(files)
    for name in (RECORD, BOOK, PAGE, *READ):
        for a, b in ((old, new), (html.escape(old), html.escape(new))):
            changed[name] = changed[name].replace(a.encode(), b.encode())
    return changed


def on_the_page(old, new):
    """A change of the page alone."""

    def change(files):
        assert old.encode() in files[PAGE], old
        return files | {PAGE: files[PAGE].replace(old.encode(), new.encode(), 1)}

    return change


def results(change):
    """A change of the results, which the notebook repeats."""

    def changed(files):
        record = json.loads(files[RECORD])
        change(record)
        new = with_results(files, record)
        assert new[RECORD] != files[RECORD]
        return new

    return changed


def cell(table, column, value, row=0):
    """Another value in a cell."""

    def change(record):
        names = [c["name"] for c in record["tables"][table]["columns"]]
        record["tables"][table]["data"][row][names.index(column)] = value

    return results(change)


def of_column(table, n, key, value):
    """Another name, unit or meaning of the column in a place."""

    def change(record):
        columns = record["tables"][table]["columns"]
        columns[n % len(columns)][key] = value

    return results(change)


def swapped_columns(record):
    columns = record["tables"]["burns"]["columns"]
    names = [c["name"] for c in columns]
    a, b = names.index("flame_max_mm"), names.index("wax_used_g")
    columns[a], columns[b] = columns[b], columns[a]


def empty_column(record):
    table = record["tables"]["ranking"]
    table["columns"].append({"name": "approved", "unit": "", "meaning": "by a laboratory"})
    for row in table["data"]:
        row.append(None)


def doubled_column(record):
    table = record["tables"]["ranking"]
    table["columns"].insert(0, dict(table["columns"][1]))
    for row in table["data"]:
        row.insert(0, "ruled out")


def more_rows(table):
    def change(record):
        part = record["tables"][table]
        part["data"].append(["false"] * len(part["columns"]))
        part["rows"] += 1

    return results(change)


def bytes_of(name, old, new):
    """A change of the bytes of one file."""

    def change(files):
        assert old in files[name], (name, old)
        return files | {name: files[name].replace(old, new, 1)}

    return change


def notebook(change):
    """A change of the notebook alone."""

    def changed(files):
        book = json.loads(files[BOOK])
        change(book)
        return files | {BOOK: json_bytes(book)}

    return changed


def outputs(book, kind):
    data = [o.get("data", {}) for c in book["cells"] for o in c.get("outputs", [])]
    return [one for one in data if kind in one]


def _shown_text(book):
    outputs(book, "text/html")[0]["text/html"] = "<p>All candles passed.</p>"


def _heading(book):
    next(c for c in book["cells"] if c["cell_type"] == "markdown")["source"] = "## All is well"


def _more_cells(book):
    cell = {"cell_type": "markdown", "id": "more", "metadata": {}, "source": "Approved."}
    book["cells"].append(cell)


def _own_record(book):
    outputs(book, "application/json")[-1]["application/json"]["answer"] = ["All passed."]


def _alt_text(book):
    pictured = [
        o for c in book["cells"] for o in c.get("outputs", []) if "image/png" in o.get("data", {})
    ]
    pictured[0]["metadata"]["image/png"]["alt"] = "Every candle is far below its limit."


def pictures(change):
    """A change of the list of pictures, in page and notebook alike."""

    def changed(files):
        given = [base64.b64decode(text) for text in _PICTURE.findall(files[PAGE])]
        new = [base64.b64encode(one) for one in change(list(given))]
        assert new != _PICTURE.findall(files[PAGE])
        texts, book = iter(new), json.loads(files[BOOK])
        page = _PICTURE.sub(lambda _: b"data:image/png;base64," + next(texts), files[PAGE])
        for data, text in zip(outputs(book, "image/png"), new, strict=True):
            data["image/png"] = text.decode()
        return files | {PAGE: page, BOOK: json_bytes(book)}

    return changed


def _png(pixels):
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG")
    return file.getvalue()


def _drawn(change):
    """The first picture, its pixels changed."""

    def changed(given):
        pixels = np.asarray(Image.open(io.BytesIO(given[0])).convert("RGBA")).copy()
        change(pixels)
        return [_png(pixels), *given[1:]]

    return changed


def _black_patch(pixels):
    pixels[40:60, 200:260] = (0, 0, 0, 255)


def _moved_mark(pixels):
    pixels[30:36, 300:306] = (1, 115, 178, 255)


def _wiped(pixels):
    pixels[:] = 255


def _faded(pixels):
    pixels[..., :3] = 200 + pixels[..., :3] // 5


def _mirrored(pixels):
    pixels[:] = pixels[:, ::-1].copy()


def _chunk(kind, data):
    size, mark = len(data).to_bytes(4, "big"), zlib.crc32(kind + data).to_bytes(4, "big")
    return size + kind + data + mark


def _with_chunk(kind, data):
    def changed(given):
        return [given[0][:33] + _chunk(kind, data) + given[0][33:], *given[1:]]

    return changed


def jsons(name, change):
    """A change of another file of JSON text."""

    def changed(files):
        data = json.loads(files[name])
        change(data)
        return files | {name: json_bytes(data)}

    return changed


def words(old, new):
    """One text in place of another, wherever a reader may look."""
    return lambda files: everywhere(files, old, new)


def _set(*path, value):
    def change(data):
        for key in path[:-1]:
            data = data[key]
        data[path[-1]] = value

    return change


def _add(*path, value):
    def change(data):
        for key in path:
            data = data[key]
        data.append(value)

    return change


def _reversed(*path):
    def change(data):
        for key in path:
            data = data[key]
        data.reverse()

    return change


def _swap_ranks(record):
    rows = record["tables"]["ranking"]["data"]
    rows[0][0], rows[1][0] = rows[1][0], rows[0][0]


TABLE, TABLES = ("tables", "burns"), "datapackage.json"
OF_RESULTS = {
    "another pick": words("Pick square braid 2", "Pick paper-cored 4"),
    "another runner-up": words("Runner-up: paper-cored 4", "Runner-up: square braid 2"),
    "another count of candles": words("All six candles passed", "All nine candles passed"),
    "a miss that is none": words("Off target: life 31.6 h, target", "On target for everything"),
    "another advice": words("Six good candles are not proof", "Six good candles are proof"),
    "another next step": words("Compare square braid 2 with", "Sell square braid 2 without"),
    "another title of the batch": words("the pick on fresh candles", "proved on fresh candles"),
    "a sentence more": results(_add("answer", value="A laboratory confirmed all of it.")),
    "a sentence less": results(lambda r: r["answer"].pop()),
    "another title": results(_set("title", value="Proof of a safe candle")),
    "another headline": results(_set("decisions", 0, "headline", value="All are safe.")),
    "another decision": results(_set("decisions", 0, "pick", value="paper-cored 4")),
    "no decision": results(_set("decisions", value=[])),
    "another question": results(_set("batch", "question", value="Is it safe?")),
    "another studio": results(_set("batch", "studio", value="Some laboratory")),
    "another stage": results(_set("batch", "stage", value="approval")),
    "another fate": cell("ranking", "fate", "safe so far, proved"),
    "another reason": cell("ranking", "because", "A laboratory said so."),
    "another verdict": cell("ranking", "standard_verdict", "fail"),
    "another verdict of a candle": cell("candle_verdicts", "studio_verdict", "fail"),
    "another outcome": cell("candle_criteria", "outcome", "fail"),
    "another outcome of a candidate": cell("candidate_criteria", "outcome", "not checked"),
    "swapped ranks": results(_swap_ranks),
    "another order": results(_reversed("tables", "ranking", "data")),
    "another limit": cell("criteria", "limit", 100.0),
    "another count": cell("ranking", "n_passed", 60),
    "another mass": cell("burns", "wax_used_g", 12.5),
    "another rate": cell("burn_rate_estimates", "estimate", 9.9),
    "another criterion": cell("criteria", "statement", "the flame is at most as tall as it was"),
    "another source": cell("criteria", "source", "an accredited laboratory"),
    "another rule": cell("rules", "source", "an accredited laboratory"),
    "a row more": more_rows("left_out"),
    "a failure more": more_rows("failures"),
    "swapped columns": results(swapped_columns),
    "an empty column more": results(empty_column),
    "a doubled column": results(doubled_column),
    "a table more": results(_set("tables", "approval", value={
        "one_row_is": "an approval", "rows": 0, "columns": [], "data": []})),
    "a table less": results(lambda r: r["tables"].pop("rules")),
    "another meaning of a row": results(_set(*TABLE, "one_row_is", value="a candle")),
    "another count of rows": results(_set(*TABLE, "rows", value=7)),
    "a key more in a table": results(_set(*TABLE, "approved", value=True)),
    "a key more": results(_set("approved_by", value="a laboratory")),
    "a key more of the batch": results(_set("batch", "approved", value="yes")),
    "another size of an input": results(_set("inputs", 0, "bytes", value=1)),
    "a key more of an input": results(_set("inputs", 0, "checked", value="by a laboratory")),
    "another order of inputs": results(_reversed("inputs")),
    "another parameter": results(_set("parameters", "batch_folder", value="another batch")),
    "a parameter more": results(_set("parameters", "approved", value=True)),
    "a version that is none": results(_set("versions", "approval", value="1")),
    "a version in words": results(_set("versions", "scipy", value="checked by a laboratory")),
    "a doubled key": bytes_of(RECORD, b'{\n "format"', b'{\n "title": "Proof",\n "format"'),
    "a doubled answer": bytes_of(RECORD, b'"answer": [', b'"answer": ["All safe."],\n "answer": ['),
    **{f"another unit {n}": of_column("burns", n, "unit", "oz") for n in range(0, 40, 5)},
    **{f"another meaning {n}": of_column("candles", n, "meaning", "x") for n in range(0, 30, 5)},
    **{f"another name {n}": of_column("ranking", n, "name", "approved") for n in (2, 5)},
}  # fmt: skip
OF_PAGE = {
    "a title of the page": on_the_page("<title>", "<title>Proof: "),
    "a heading of the page": on_the_page("How did the candles burn?", "How well it burned"),
    "a caption": on_the_page("Wicks in order</caption>", "Wicks, all safe</caption>"),
    "a heading of a column": on_the_page("Burn rate", "Burn rate (certified)"),
    "a cell": on_the_page('<td class="num">', '<td class="num">9'),
    "a note": on_the_page("No candle fire-safety standard sets", "A standard sets"),
    "a sentence on the page": on_the_page("</main>", "<p>Approved by a laboratory.</p></main>"),
    "a hidden section": on_the_page("</style>", ".decision { display: none }</style>"),
    "words by style": on_the_page("</style>", 'h1::after { content: "approved" }</style>'),
    "a link": on_the_page("</main>", '<a href="https://example.org">more</a></main>'),
    "another alternative text": on_the_page('alt="', 'alt="All is well. '),
    "another title in the notebook": notebook(_shown_text),
    "another heading in the notebook": notebook(_heading),
    "a cell more in the notebook": notebook(_more_cells),
    "other results in the notebook": notebook(_own_record),
    "another alternative text in the notebook": notebook(_alt_text),
}
OF_PICTURES = {
    "swapped pictures": pictures(lambda p: [p[1], p[0], *p[2:]]),
    "a picture again": pictures(lambda p: [p[1], p[1], *p[2:]]),
    "a black patch": pictures(_drawn(_black_patch)),
    "a mark more": pictures(_drawn(_moved_mark)),
    "an empty picture": pictures(_drawn(_wiped)),
    "a faded picture": pictures(_drawn(_faded)),
    "a mirrored picture": pictures(_drawn(_mirrored)),
    "a dot": pictures(lambda p: [_png(np.zeros((1, 1, 3), np.uint8)), *p[1:]]),
    "no picture": pictures(lambda p: [b"", *p[1:]]),
    "a moving picture": pictures(_with_chunk(b"acTL", bytes(8))),
    "other colors by a table": pictures(_with_chunk(b"gAMA", (1).to_bytes(4, "big"))),
    "bytes behind a picture": pictures(lambda p: [p[0] + b"<p>Approved</p>", *p[1:]]),
}
OF_REST = {
    "READ-ME": bytes_of(READ[0], b"Pick square braid 2", b"Pick paper-cored 4"),
    "READ-ME as text": bytes_of(READ[1], b"Pick square braid 2", b"Pick paper-cored 4"),
    "READ-ME with a seal": bytes_of(READ[0], b"</main>", b"<p>Approved.</p></main>"),
    "a unit in the description": bytes_of(TABLES, b'"unit": "', b'"unit": "k'),
    "a meaning in the description": bytes_of(TABLES, b'"description": "', b'"description": "No '),
    "a title in the description": bytes_of(TABLES, b'"title": "', b'"title": "Safe '),
    "a name in the crate": bytes_of("ro-crate-metadata.json", b'"name": "', b'"name": "Safe '),
    "a title of the pack's batch": jsons(PARAMETERS, _set("batches", 0, "title", value="Proof")),
    "a report of another kind": jsons(PARAMETERS, _set("batches", 0, "report", value="approved")),
    "notes said to be emptied": jsons(PARAMETERS, _set("without_notes", value=True)),
    "something said to be emptied": jsons(PARAMETERS, _add("batches", 0, "emptied", value="all")),
    "a key more of the pack": jsons(PARAMETERS, _set("approved", value="yes")),
    "a key more of the environment": jsons(ENVIRONMENT, _set("approved", value="yes")),
    "words for a system": jsons(ENVIRONMENT, _set("system", value="a laboratory's own")),
    "a remark in the list": bytes_of(REQUIREMENTS, b"# Python", b"# Approved\n# Python"),
}  # fmt: skip
FORGERIES = {**OF_RESULTS, **OF_PAGE, **OF_PICTURES, **OF_REST}


def forged_files(files, claim, name):
    """The files of a pack with one thing that is false, and a manifest that fits."""
    true = claimed(files, claim)
    forged = FORGERIES[name](true)
    assert forged != true, name
    return with_new_manifest(forged)


_CLAIMED = {}


def claimed(files, claim):
    """The files as they would be where the pack says that it is from; made once for a manifest."""
    key = claim, files[MANIFEST]
    if key not in _CLAIMED:
        _CLAIMED[key] = CLAIMS[claim](files)
    return dict(_CLAIMED[key])
