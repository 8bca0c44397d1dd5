"""Log sheets printed by a real browser, and a plan's page in it;
skipped where Chromium or playwright is missing."""

import re

import pytest
from plans import plan_file

from candlelab.plan.log_sheets import PAPERS, sheets_html
from candlelab.plan.planned import read_plan

# ISO 216 and ANSI Y14.1, landscape, in points of 1/72 in.
POINTS = {"a4": (841.9, 595.3), "letter": (792.0, 612.0)}
# Of every sheet: how far its content reaches above its foot, cells whose text is
# cut off, the smallest row, cell and box [mm].
LOOK = """() => [...document.querySelectorAll('.sheet')].map(sheet => {
    const mm = 25.4 / 96, all = q => [...sheet.querySelectorAll(q)];
    const box = e => e.getBoundingClientRect();
    const least = (list, f) => list.length ? Math.min(...list.map(f)) * mm : 99;
    const of = sheet.matches('.burns, .checks') ? 'log' : '';
    const foot = box(sheet.querySelector('.foot'));
    const beside = all('table, ul, p').map(e => box(sheet).right - box(e).right);
    const over = e => e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1;
    return {
        gap: least(all('table, ul, p:not(.foot)'), e => foot.top - box(e).bottom),
        inside: Math.min(box(sheet).bottom - foot.bottom, ...beside) * mm,
        cut: all('th, td').filter(over).map(e => e.textContent),
        row: least(all('tbody tr'), e => box(e).height),
        cell: least(of.length ? all('td:empty:not(.due)') : [], e => box(e).width),
        box: least(all('td b'), e => Math.min(box(e).width, box(e).height)),
    }})"""

LONG_NAME = "a stoneware tumbler with a very long name indeed, glazed inside and out"
LONG_TITLE = "A title that is much longer than anybody would write it, and then some more: "
CROWDED = [
    ("minutes_per_check = 4", "minutes_per_check = 2"),
    ("spacing_mm = 200", "spacing_mm = 100"),
    ("candles = 4\n", "candles = 5\n"),
    ('"09:00", "14:30"', '"09:00"'),
    ("[benches.window]", '[benches."long oak bench by window"]'),
    ("seed = 20260907", 'seed = 1\ncandle_prefix = "TUMBLR"'),
    ('title = "Stoneware tumbler', f'title = "{LONG_TITLE}Stoneware tumbler'),
    ('vessel = "stoneware tumbler"', f'vessel = "{LONG_NAME}"'),
    ('[vessels."stoneware tumbler"]', f'[vessels."{LONG_NAME}"]'),
]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "changes", [[], CROWDED, [("candles = 4\n", "candles = 1\n")]], ids=["demo", "crowded", "few"]
)
def test_every_sheet_fits_its_page_and_takes_a_pencil(browser, tmp_path, paper, changes):
    planned = read_plan(plan_file(tmp_path, *changes))
    html = sheets_html(planned, paper)
    (tmp_path / "sheets.html").write_text(html, encoding="utf-8")
    page = browser.new_page()
    page.goto((tmp_path / "sheets.html").as_uri())
    page.emulate_media(media="print")
    sheets = page.evaluate(LOOK)
    page.pdf(path=tmp_path / "sheets.pdf", prefer_css_page_size=True)
    page.close()
    pdf = (tmp_path / "sheets.pdf").read_bytes()
    boxes = [
        tuple(map(float, box)) for box in re.findall(rb"/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    ]
    assert len(boxes) == len(sheets) == html.count('<section class="sheet')
    assert all(box == pytest.approx(POINTS[paper], abs=1) for box in boxes)
    assert min(sheet["gap"] for sheet in sheets) > 0
    assert min(sheet["inside"] for sheet in sheets) >= 4
    assert [sheet["cut"] for sheet in sheets if sheet["cut"]] == []
    assert min(sheet["row"] for sheet in sheets) >= 8
    assert min(sheet["box"] for sheet in sheets) >= 4
    assert min(sheet["cell"] for sheet in sheets) >= 13


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """The page of a plan, and log sheets of a few burns in both sizes."""
    from candlelab.plan.folder import make_plan

    folder = tmp_path_factory.mktemp("plan")
    short = plan_file(
        folder / "plan",
        ("candles = 4\n", "candles = 1\n"),
        ("fill_volume_ml = 222.0", "fill_volume_ml = 60.0"),
    )
    page = make_plan(short, folder / "batch")
    return [page, *sorted(page.parent.glob("log_sheets_*.html"))]


@pytest.mark.parametrize("width", [1280, 390])
def test_nothing_loaded_nothing_logged_no_violation(browser, files, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    assert len(files) == 3
    for name in files:
        context = browser.new_context(
            viewport={"width": width, "height": 900}, offline=True, bypass_csp=True
        )
        page = context.new_page()
        requests, messages = [], []
        page.on("request", lambda request, seen=requests: seen.append(request.url))
        page.on("console", lambda message, seen=messages: seen.append(message.text))
        page.goto(name.as_uri())
        assert [url for url in requests if not url.startswith("data:")] == [name.as_uri()]
        assert messages == []
        assert (
            page.evaluate(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            == 0
        )
        assert axe.run(page).response["violations"] == []
        context.close()
