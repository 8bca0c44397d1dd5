"""What a reader sees in a packed report: its page, its notebook and their pictures, held against
those that are made here."""

from __future__ import annotations

import base64
import binascii
import html
import json
import re
from collections import Counter
from html.parser import HTMLParser

from candlelab.pages.run import NOTEBOOK, PAGE
from candlelab.share.agreement import strict_json
from candlelab.share.pictures import same_picture
from candlelab.text import clip

_PICTURE = re.compile(rb"data:image/png;base64,([A-Za-z0-9+/=]*)")
_MOST_TEXTS = 3


class _Texts(HTMLParser):
    """Collects what a page says: its texts and its alternative texts."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag, attrs):  # noqa: ARG002
        self.found += [f"picture: {v}" for k, v in attrs if k == "alt" and v]

    def handle_data(self, data):
        self.found += [" ".join(data.split())] if data.strip() else []


def texts_of(page: bytes) -> list[str]:
    """The texts of a page, in order."""
    parser = _Texts()
    parser.feed(page.decode("utf-8", "replace"))
    parser.close()
    return parser.found


def unlike_texts(given: bytes, made: bytes) -> str:
    """The first texts that only one of two pages has, as a sentence; empty where there is none."""
    one, other = Counter(texts_of(given)), Counter(texts_of(made))
    said = []
    for word, own in (("says", one - other), ("does not say", other - one)):
        if own:
            texts = ", ".join(f"“{clip(text, 120)}”" for text in list(own)[:_MOST_TEXTS])
            more = len(own) - _MOST_TEXTS
            said.append(f"{word} {texts}{f' and {more} more' if more > 0 else ''}")
    return f" It {'; it '.join(said)}." if said else ""


class Shown:
    """What a report shows, each part read once: page and notebook, their pictures and records."""

    def __init__(self, files: dict[str, bytes], versions: dict) -> None:
        self.page, self.notebook = files[PAGE], files[NOTEBOOK]
        book = book_of(self.notebook)
        self.records = records_of(book)
        self.pictures = {PAGE: _PICTURE.findall(self.page), NOTEBOOK: _of_notebook(book)}
        self.plain_page = _plain(self.page, versions)
        self.plain_book = _plain_book(book, versions) if book else None


def same_page(given: Shown, made: Shown) -> bool:
    """Whether two pages are one, but for pictures and for each one's own list of versions."""
    return given.plain_page == made.plain_page


def same_notebook(given: Shown, made: Shown) -> bool:
    """Whether two notebooks are one, but for pictures, versions, and the place of the batch."""
    if given.plain_book is None or made.plain_book is None:
        return given.notebook == made.notebook
    return given.plain_book == made.plain_book


def _plain(page: bytes, versions: dict) -> bytes:
    page = _PICTURE.sub(b"data:image/png", page)
    for name, version in versions.items():
        item = html.escape(f"{name} {version}").encode("utf-8")
        page = page.replace(b"<li>" + item + b"</li>", b"<li>" + name.encode("utf-8") + b"</li>", 1)
    return page


def book_of(notebook: bytes) -> dict | None:
    """The notebook of a report; None for what is none."""
    try:
        book = strict_json(notebook)
    except (ValueError, RecursionError):
        return None
    cells = book.get("cells") if isinstance(book, dict) else None
    whole = isinstance(cells, list) and all(isinstance(cell, dict) for cell in cells)
    return book if whole else None


def outputs_of(book: dict) -> list[dict]:
    """The data of every output of a notebook."""
    lists = [cell.get("outputs") for cell in book["cells"]]
    each = [output for one in lists if isinstance(one, list) for output in one]
    return [o["data"] for o in each if isinstance(o, dict) and isinstance(o.get("data"), dict)]


def records_of(book: dict | None) -> list:
    """The records that a notebook holds."""
    data = outputs_of(book) if book else []
    return [one["application/json"] for one in data if "application/json" in one]


def _plain_book(book: dict, versions: dict) -> dict:
    """The notebook, changed in place, without what need not be the same."""
    for data in outputs_of(book):
        if "image/png" in data:
            data["image/png"] = ""
        if isinstance(record := data.get("application/json"), dict):
            data["application/json"] = {**record, "parameters": None, "versions": None}
        for kind in ("text/html", "text/plain"):
            text = data.get(kind)
            joined = "".join(text) if isinstance(text, list) else text
            if isinstance(joined, str):
                data[kind] = _plain(joined.encode("utf-8", "replace"), versions).decode("utf-8")
    metadata = book.get("metadata")
    language = metadata.get("language_info") if isinstance(metadata, dict) else None
    if isinstance(language, dict):
        language.pop("version", None)
    return book


def unlike_pictures(
    given: dict[str, list[bytes]], made: dict[str, list[bytes]]
) -> list[tuple[str, str]]:
    """File and sentence of every picture, of page or notebook, that shows something else here."""
    said = []
    known: dict[tuple[bytes, bytes], bool] = {}
    for name in (PAGE, NOTEBOOK):
        one, other = given[name], made[name]
        if len(one) != len(other):
            said.append((name, f"It has {len(one)} pictures. {len(other)} are drawn here."))
            continue
        for n, pair in enumerate(zip(one, other, strict=True), start=1):
            if pair not in known:
                known[pair] = _same(*pair)
            if not known[pair]:
                said.append((name, f"Picture {n} does not show what is drawn from these logs."))
    return said


def _of_notebook(book: dict | None) -> list[bytes]:
    found = [data["image/png"] for data in outputs_of(book) if "image/png" in data] if book else []
    texts = ["".join(one) if isinstance(one, list) else one for one in found]
    return [
        text.replace("\n", "").encode("utf-8", "replace")
        if isinstance(text, str)
        else json.dumps(text).encode("utf-8")
        for text in texts
    ]


def _same(one: bytes, other: bytes) -> bool:
    if one == other:
        return True
    try:
        return same_picture(*(base64.b64decode(text, validate=True) for text in (one, other)))
    except (binascii.Error, ValueError):
        return False


def own_contradictions(
    given: dict[str, bytes], record: dict, first: tuple[bytes, bytes]
) -> list[str]:
    """Where a report contradicts itself, whichever version made it: notebook, page and first page
    say what the results say. ``first`` is that page, and its text."""
    book = book_of(given[NOTEBOOK])
    said = []
    if records_of(book)[-1:] != [record]:
        said.append("The notebook holds other results than results.json.")
    # since 0.2.0 a page shows its decisions in boxes, not in the sentences of the answer
    page = "" if "decisions" in record else " ".join(texts_of(given[PAGE]))
    for name, text in (
        ("The page", page),
        ("READ-ME-FIRST.html", " ".join(texts_of(first[0]))),
        ("READ-ME-FIRST.txt", " ".join(first[1].decode("utf-8", "replace").split())),
    ):
        gone = [line for line in record["answer"] if " ".join(line.split()) not in text]
        if text and gone:
            said.append(f"{name} does not say the answer of the results: “{clip(gone[0], 200)}”.")
    pictures = _of_notebook(book)
    own = {PAGE: _PICTURE.findall(given[PAGE]), NOTEBOOK: pictures}
    if book is not None and unlike_pictures(own, dict.fromkeys(own, pictures)):
        said.append("The page shows other pictures than the notebook.")
    return said
