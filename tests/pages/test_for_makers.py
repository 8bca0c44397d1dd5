"""Every page as a candle maker reads it: the decision, its picture, what to look at; then the rest.

Readability is the grade of Flesch and Kincaid (1975) by the library readability, of words without
numbers, which would make it lower.
"""

import re

import pytest
from demo_copies import FINE, IN_US, copied_demo
from made_pages import LAST, PAGES, page_pieces, page_text, parts
from places import DEMO
from shown_pages import shown, text_of
from test_vocabulary import METHODS, wrong

pytestmark = pytest.mark.slow
A4, LETTER = ("A4", "Letter")
TALLEST_GRADE = 9.0


@pytest.mark.parametrize("name", PAGES)
def test_the_decision_then_its_picture_then_the_rest(name):
    first, _, heads = parts(name)
    order = [what for what, _ in first if what in ("box", "figure", "h2", "table")]
    boxes = order.count("box")
    assert heads[-2:] == ["Appendix", LAST]
    if name not in ("plan", "scent"):  # no wick is judged there
        assert boxes >= 1
        assert order[: 2 * boxes] == ["box", "h2"] * boxes
    rest = order[2 * boxes :]
    assert rest[:2] == ["figure", "h2"]


@pytest.mark.parametrize("name", ["report of kitchen", "wicks of kitchen", "size in kitchen"])
def test_stops_and_each_vessels_pick_next_step_and_how_sure_stand_above_the_boxes(name):
    first, _, _ = parts(name)
    at = next(n for n, (what, _) in enumerate(first) if what == "box")
    stops = [text.split(" (")[0] for what, text in first[:at] if what == "li"]
    assert stops == ["Stop burning K10", "Stop burning K05"]
    sure = "How sure: {} good candles: as many as {} in 10 could still fail a safety check."
    how = "To confirm, burn them to the end with every check, and log them in a new folder."
    why = "until you know what went wrong"
    burn_on = "Keep burning K18 (paper-cored 2 x3, about 2 more burns)."
    on = (
        "13 fresh candles: one in place of K16 (aftersmoke not written down in burn 2), and 12 "
        "because fewer would miss a 20 % change in burn rate.",
        "as many fresh candles as you can, at least three: its candles differ too much to show a "
        "20 % change in burn rate.",
    )
    assert [text for _, text in first[at - 9 : at]] == [
        "Stoneware tumbler: square braid 1 x3 leads so far.",
        "Too hot for a warm room (wall about 152 °F (67 °C)): to sell there, first burn one more "
        "at 86 °F (30 °C); over 150 °F (66 °C), put it out and wick down.",
        "Not the others: flat braid 2 x3 (off target: melt pool not full; too hot for a warm "
        "room); wooden 13 (only one good candle; too hot for a warm room); paper-cored 2 x3 (still "
        "burning); flat braid 4 and flat braid 5 (not fully checked); paper-cored 5 (ruled out: "
        "flame too tall).",
        f"Next: Stop testing paper-cored 5 {why}: it looks too large. {burn_on} Watch the wall of "
        f"K18 (134 °F, your limit is 150 °F/66 °C). Confirm square braid 1 x3 on {on[0]} "
        f"{how}",
        sure.format("Two", 8),
        "Tin: flat braid 2, perhaps a little small.",
        "Not the others: paper-cored 2 (only one good candle); square braid 1 (ruled out: vessel "
        "cracked or broke); flat braid 1 (ruled out: went out by itself).",
        f"Next: Stop testing square braid 1 {why}. Confirm flat braid 2 on {on[1]} Watch for a "
        "sign of a small wick, on few candles so far: no full pool in the first three long burns "
        f"(widest 86 % of the vessel) (K03). {how}",
        sure.format("Three", 6),
    ]
    assert [text for _, text in first[at:] if text.startswith("Stop burning")] == []


def test_the_report_of_the_kitchen_names_its_incidents():
    page = page_text("report of kitchen")
    for said in ("Stop burning K05", "Stop burning K10", "The decision: tin"):
        assert said in page


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("wicks of screening", "Burn rate as measured: 3.88 g/h (flat braid 3) to 7.91 g/h"),
        ("wicks of kitchen", "Burn rate as measured: stoneware tumbler 0."),
        ("waxes", "Averaged over the wicks, burn rate is lower with "),
        ("loads", "Burn rate falls by "),
        (
            "size in screening",
            "Nearest to your target: the pick, size 2 of square braid (another candle ",
        ),
        (
            "size in kitchen",
            "Tin, nearest to your target: the pick, size 2 of flat braid (another candle of this "
            "pour: 0.121 to 0.212 oz/h); size 2 of paper-cored. No size yet: square braid.",
        ),
    ],
)
def test_a_page_with_a_question_of_its_own_says_its_answer_above_the_boxes(name, says):
    first, _, _ = parts(name)
    at = next(n for n, (what, _) in enumerate(first) if what == "box")
    assert [text for _, text in first[:at] if text.startswith(says)]


def test_the_number_of_wicks_is_explained_once_in_a_box():
    first, _, _ = parts("report of kitchen")
    assert sum("(x3: three wicks)" in text for _, text in first) == 1


@pytest.mark.parametrize("name", PAGES)
def test_what_a_maker_reads_is_short(name):
    first, _, _ = parts(name)
    tables = [what for what, _ in first if what == "table"]
    assert len(tables) <= 6
    assert sum(what == "tr" for what, _ in first) - len(tables) <= 60


@pytest.mark.parametrize("name", PAGES)
def test_the_words_of_the_trade_and_no_method_before_the_last_section(name):
    _, before, _ = parts(name)
    said = [text for _, text in before if text]
    assert [text for text in said if any(method in text for method in METHODS)] == []
    ours = [re.sub(r"“[^”]*”", "", text) for text in said]  # what a log says in its own words
    assert [(wrong(text), text) for text in ours if wrong(text)] == []


@pytest.mark.parametrize("name", PAGES)
def test_sentences_before_the_appendix_are_easy_to_read(name):
    readability = pytest.importorskip("readability")
    first, _, _ = parts(name)
    texts = [text for what, text in first if what in ("p", "li")]
    sentences = [one for text in texts for one in re.split(r"(?<=[.!?])\s+(?=[A-Z“])", text)]
    words = [re.findall(r"[A-Za-z][A-Za-z'-]*", one) for one in sentences]
    lines = [" ".join([*one, "."]) for one in words if len(one) > 2]
    grade = readability.getmeasures(lines, lang="en")["readability grades"]["Kincaid"]
    assert len(lines) > 5
    assert grade <= TALLEST_GRADE


# ------------------------------------------------------------------------- units and digits

OURS = re.compile(r"(?<![\w/])(g|mm|°C|g/h|ml|kg)(?![\w/])")
# Where both systems stand, and the standing texts with both.
BOTH = re.compile(
    r"\([\d.]+ (mm|°C|°F|in)\)|°F/\d+ °C|[\d.]+ (mm|°C) \([\d.]+ (in|°F)\)|30 cm \(12 in\)"
)


def _forgotten(text):
    """Every place that shows a unit of ours alone, with what stands around it."""
    text = BOTH.sub("", text)
    return [text[max(0, m.start() - 60) : m.end() + 20] for m in OURS.finditer(text)]


@pytest.mark.parametrize("name", ["report of kitchen", "wicks of kitchen", "size in kitchen"])
def test_no_page_of_the_kitchen_shows_a_unit_of_ours_alone(name):
    text = text_of(page_pieces(name))
    assert _forgotten(text) == []
    assert "°F" in text or name == "size in kitchen"


@pytest.mark.parametrize(
    ("notebook", "parameters"),
    [
        ("compare_wicks", {"metric": "wall_max_c"}),
        ("label_claims", {"candidate": "flat braid 2 x3, stoneware tumbler"}),
    ],
)
def test_nor_does_another_question_on_it(notebook, parameters):
    text = text_of(shown(notebook, batch_folders=[str(DEMO / "kitchen")], **parameters))
    assert _forgotten(text) == []
    assert "°F" in text


@pytest.mark.parametrize("notebook", ["confirm_pick", "compare_waxes", "compare_fragrance_loads"])
def test_a_reader_who_asks_for_other_units_gets_them_on_every_page(notebook, tmp_path):
    names = {"compare_waxes": "waxes", "compare_fragrance_loads": "loads"}
    if notebook == "confirm_pick":
        given = {
            "screening_folder": str(copied_demo(tmp_path, "screening", IN_US)),
            "confirmation_folder": str(DEMO / "confirmation"),
        }
    else:
        given = {"batch_folders": [str(copied_demo(tmp_path, names[notebook], IN_US))]}
    assert _forgotten(text_of(shown(notebook, **given))) == []


def test_the_same_batch_logged_in_either_system_makes_one_page(tmp_path):
    """To the last digit that the instruments show; what differs names the files, their bytes and
    what a row of them holds."""
    ours = shown("batch_report", batch_folder=str(copied_demo(tmp_path, "kitchen", IN_US, FINE)))
    theirs = page_pieces("report of kitchen")
    files = re.compile(r"Files read|Look at this|Off plan|results\.json")
    told = [[piece for piece in pieces if not files.search(piece)] for pieces in (ours, theirs)]
    assert told[0] == told[1]
    assert sum(len(re.findall(r"\d", piece)) for piece in told[0]) > 5_000


SILLY = re.compile(r"\d+\.\d{5,}|\d{5,}\.\d")


@pytest.mark.parametrize("name", PAGES)
def test_no_page_shows_more_digits_than_anybody_reads(name):
    text = re.sub(r"[0-9a-f]{64}|\d+\.\d+\.\d+\S*", "", text_of(page_pieces(name)))
    found = [text[max(0, m.start() - 50) : m.end() + 10] for m in SILLY.finditer(text)]
    assert found == []


# ------------------------------------------------------------------------- in a browser


@pytest.fixture(scope="module")
def open_page(browser, tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")

    def opened(name, width):
        file = folder / f"{name}.html"
        file.write_text(page_text(name), encoding="utf-8")
        page = browser.new_context(bypass_csp=True, offline=True).new_page()
        page.set_viewport_size({"width": width, "height": 900})
        page.goto(file.as_uri())
        return page

    return opened


@pytest.mark.parametrize("name", PAGES)
def test_nothing_cut_and_no_violation_on_screen_phone_and_paper(open_page, name):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    page = open_page(name, 1280)
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(wide) == 0
        assert axe.run(page).response["violations"] == []
        cards = (
            "[...document.querySelectorAll('.cards, figure img')].filter("
            "e => e.scrollWidth > e.clientWidth + 1 "
            "|| e.getBoundingClientRect().right > innerWidth)"
        )
        assert width != 390 or page.evaluate(f"{cards}.length") == 0
    page.emulate_media(media="print")
    assert axe.run(page).response["violations"] == []
    page.close()


SCREENS = 2 * 844
_READ_FIRST = ".in-short, .decision .headline, .decision .sure"
_HEIGHTS = f"""() => [...document.querySelectorAll("{_READ_FIRST}")]
    .map(e => e.getBoundingClientRect().bottom)"""


@pytest.mark.parametrize("name", [name for name in PAGES if name not in ("plan", "scent")])
def test_the_first_two_phone_screens_say_which_wick_how_sure_and_what_next(open_page, name):
    page = open_page(name, 390)
    found = page.evaluate(_HEIGHTS)
    assert found[0] < SCREENS  # every vessel in short, or the only headline
    assert "kitchen" in name or found[1] < SCREENS
    page.close()


@pytest.mark.parametrize("name", PAGES)
def test_what_is_read_has_a_contrast_of_seven_to_one(open_page, name):
    """W3C, WCAG 2.2, 1.4.6: as axe-core measures it, for texts of the boxes."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    page = open_page(name, 390)
    contrast = "color-contrast-enhanced"
    rule = {"runOnly": [contrast], "rules": {contrast: {"enabled": True}}}
    assert axe.run(page, options=rule).response["violations"] == []
    page.close()


def _printed(page, paper):
    return len(re.findall(rb"/Type ?/Page\b", page.pdf(format=paper)))


@pytest.mark.parametrize("paper", [A4, LETTER])
@pytest.mark.parametrize("name", PAGES)
def test_the_first_page_stands_alone_and_a_report_takes_three(open_page, name, paper):
    page = open_page(name, 900)
    hide = """from => { let gone = false;
        for (const e of [...document.querySelector('main').children]) {
            if (e.matches(from)) gone = true;
            if (gone) e.remove();
        } }"""
    page.evaluate(hide, "h2.appendix")
    if name.startswith("report"):
        assert _printed(page, paper) <= 3
    page.evaluate(hide, "figure ~ *")
    assert _printed(page, paper) == 1
    page.close()
