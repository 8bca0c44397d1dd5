"""Pages of the demo batches, made by their notebooks in this process, without a kernel each."""

import ast
import functools
import html
import html.parser
import sys

import kernels
from places import DEMO

# A notebook, and the parameters that are not its own defaults.
PAGES = {
    "report of screening": ("batch_report", {}),
    "report of kitchen": ("batch_report", {"batch_folder": "kitchen"}),
    "wicks of screening": ("compare_wicks", {}),
    "wicks of kitchen": ("compare_wicks", {"batch_folders": ["kitchen"]}),
    "waxes": ("compare_waxes", {}),
    "loads": ("compare_fragrance_loads", {}),
    "size in screening": ("size_wick", {}),
    "size in kitchen": ("size_wick", {"batch_folders": ["kitchen"]}),
    "confirmation": ("confirm_pick", {}),
    "claim": ("label_claims", {}),
    "scent": ("scent_throw", {}),
    "plan": ("plan_batch", {}),
}
LAST = "How this was worked out"


def _in_demo(value):
    if isinstance(value, list):
        return [_in_demo(one) for one in value]
    if not isinstance(value, str):
        return value
    name = value.removeprefix("../data/demo/")
    return str(DEMO / name) if (DEMO / name).exists() and name else value


@functools.cache
def _made(name):
    notebook, asked = PAGES[name]
    return made_page(notebook, name, **asked)


def page_text(name):
    """The page as its reader gets it, HTML."""
    return _made(name)[1]


def page_pieces(name):
    """What the notebook of a page shows, piece by piece: HTML, and the words of figures."""
    shown = [one.data for cell in _made(name)[0].cells for one in cell.get("outputs", [])]
    as_html = {"text/html", "text/plain"}
    return [d["text/html"] if {*d} == as_html else html.escape(d["text/plain"]) for d in shown]


def made_page(notebook, title, **asked):
    """The executed notebook with these parameters in place of its own, and its page, HTML."""
    import nbformat

    from candlelab.pages.run import page_of, shipped

    sys.modules.setdefault("rfc3987_syntax", None)
    book = nbformat.read(shipped("notebooks") / f"{notebook}.ipynb", 4)
    (cell,) = [c for c in book.cells if "parameters" in c.metadata.get("tags", [])]
    for line in ast.parse(cell.source).body:
        name, own = line.target.id, ast.literal_eval(line.value)
        cell.source += f"\n{name} = {_in_demo(asked.get(name, own))!r}"
    kernels.run_cells(book)
    return book, page_of(book, title)


class Read(html.parser.HTMLParser):
    """What stands on a page, in order: (what, text), with tables and their rows counted."""

    def __init__(self, text):
        super().__init__()
        self.found, self._open, self._text = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        if tag in ("table", "tr", "figure"):
            self.found.append((tag, ""))
        if tag == "section":
            self.found.append(("box", ""))
        if tag in ("h1", "h2", "h3", "p", "li", "caption", "th", "td", "style", "title"):
            self._open.append(tag)
            self._text.append("")

    def handle_data(self, data):
        if self._open:
            self._text[-1] += data

    def handle_endtag(self, tag):
        if self._open and self._open[-1] == tag:
            self._open.pop()
            text = " ".join(self._text.pop().split())
            if tag not in ("style", "title"):
                self.found.append((tag, text))


@functools.cache
def parts(name):
    """What stands before the appendix, all that stands before the last section, and headings."""
    found = Read(page_text(name)).found
    heads = [text for tag, text in found if tag == "h2"]
    at = {text: n for n, (tag, text) in enumerate(found) if tag == "h2"}
    return found[: at["Appendix"]], found[: at[LAST]], heads
