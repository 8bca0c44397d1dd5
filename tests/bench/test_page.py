"""The bench page in a real browser; skipped where Chromium or playwright is missing."""

import time
from itertools import pairwise

import pytest
from bench_pages import CHECKS, NAMES, Person, log_a_session, watched
from benches import LIT, SEEN, START, Served, folder_of, journal_of

from candlelab.logs.batch import check_batch, read_batch

pytestmark = pytest.mark.slow
SIZES = {1280: 860, 820: 1180, 390: 844}


@pytest.fixture
def served(tmp_path):
    bench = Served(folder_of(tmp_path / "batch", *NAMES))
    yield bench
    bench.close()


@pytest.fixture
def context(browser):
    contexts = []

    def make(width=1280, **more):
        made = browser.new_context(viewport={"width": width, "height": SIZES[width]}, **more)
        made.set_default_timeout(15_000)
        contexts.append(made)
        return made

    yield make
    for made in contexts:
        made.close()


def opened(context, served, now=None):
    """The page, its clock the bench's own."""
    page = context.new_page()
    page.clock.install(time=now or served.clock())
    page.goto(served.url)
    page.locator("article").first.wait_for()
    return page


def person_at(page, served):
    return Person(page, page, served.clock, lambda _: None)


def send(served, kind, name="A1", burn=1, id_=None, **values):
    entry = {"id": id_ or f"{kind}-{name}-{served.clock():%H%M%S}", "kind": kind, "candle": name}
    entry |= {"burn": burn, "at": served.clock().isoformat(), "values": values}
    answer = served.desk.record(entry)
    assert answer.status == "saved", answer
    return answer


def test_a_session_of_eight_candles(context, served):
    from candlelab.report.make import make_report

    page = opened(context(), served)
    elsewhere, messages = watched(page, f"http://127.0.0.1:{served.port}")
    person = person_at(page, served)
    log_a_session(person)
    assert page.locator("#status").inner_text() == "Everything is written."
    assert (elsewhere, messages) == ([], [])
    found = check_batch(served.desk.folder)
    assert found.empty, found.to_dict("records")
    batch = read_batch(served.desk.folder)
    assert (len(batch.burns), len(batch.checks)) == (8, 32)
    assert batch.checks.groupby("elapsed_min").size().to_dict() == dict.fromkeys(CHECKS, 8)
    assert batch.burns["mass_after_g"].tolist() == [400 + n - 19.5 for n in range(8)]
    assert set(batch.burns["ended_by"]) == {"timer"}
    report = make_report(served.desk.folder, served.desk.folder.parent / "report")
    assert "A1" in report.read_text(encoding="utf-8")


def test_few_clicks_to_the_first_check_and_the_page_is_there_at_once(context, served):
    send(served, "light", **LIT)
    served.clock.move(60)
    context = context()
    opened(context, served).close()  # the browser itself has started
    page = context.new_page()
    began = time.monotonic()
    page.goto(served.url)
    page.get_by_role("button", name="Check A1").click()
    page.locator("#f-wall_c").fill("40")
    interactive = time.monotonic() - began
    person = person_at(page, served)
    person.clicks = 1
    person.click("Save check")
    person.saved()
    assert person.clicks <= 3
    assert [line["kind"] for line in journal_of(served.desk.folder)] == ["light", "check"]
    assert interactive < 5  # 1 s where nothing else runs: tests/benchmarks/bench_speed.py


@pytest.mark.parametrize("width", SIZES)
def test_nothing_for_axe_no_sideways_scrolling_large_targets(context, served, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    for name in ("A1", "A2", "A3"):
        send(served, "light", name, **LIT)
        served.clock.move(30)
    page = opened(context(width, bypass_csp=True), served)
    places = {
        "page": lambda: None,
        "light": lambda: page.get_by_role("button", name="Light A5", exact=True).click(),
        "check": lambda: page.get_by_role("button", name="Check A1", exact=True).click(),
        "alert": lambda: page.locator("#f-wall_c").fill("71"),
        "out": lambda: page.get_by_role("button", name="Put out A2", exact=True).click(),
        "more": lambda: page.get_by_role("button", name="More for A3").click(),
        "aside": lambda: page.get_by_role("button", name="Set aside").click(),
        "notices": lambda: page.get_by_role("button", name="Notices").click(),
    }
    for place, go in places.items():
        if place not in ("page", "alert", "aside"):
            page.keyboard.press("Escape")
        go()
        page.wait_for_timeout(400)
        found = axe.run(page).response["violations"]
        assert [(v["id"], v["nodes"][0]["html"]) for v in found] == [], place
        assert page.evaluate(
            "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
        ), place
        small = page.evaluate("""() =>
            [...document.querySelectorAll('button, input, select, summary')]
            .filter(e => e.checkVisibility()).map(e => [e.outerHTML, e.getBoundingClientRect()])
            .filter(([, box]) => box.height < 44 || box.width < 44).map(([html]) => html)""")
        assert small == [], place


def test_nothing_moves_under_the_finger(context, served):
    page = opened(context(390), served)
    person = person_at(page, served)

    def boxes(of):
        return page.evaluate(
            f"[...document.querySelectorAll('{of}')]"
            ".map(e => JSON.stringify(e.getBoundingClientRect()))"
        )

    cards = boxes("article, article button")
    person.light("A1", "400")
    assert boxes("article, article button") == cards
    person.wait(61)
    assert person.card("A1").get_attribute("data-level") in ("due", "over")
    assert boxes("article, article button") == cards
    person.wait(30)
    assert "OVERDUE" in person.card("A1").inner_text()
    assert boxes("article, article button") == cards
    person.click("Check A1")
    form = boxes(".band, .field input, .choice-of, .foot button")
    person.type("wall_c", "71")
    page.locator(".band", has_text="over your stop limit").wait_for()
    page.locator(".told li[data-level='fine']").wait_for()
    person.type("pool_diameter_mm", "x")
    page.locator(".told", has_text="text where a number belongs").wait_for()
    assert len(boxes(".band button")) == 1
    assert boxes(".band, .field input, .choice-of, .foot button") == form


def test_a_reading_over_a_limit_says_what_to_do_and_puts_out(context, served):
    send(served, "light", **LIT)
    served.clock.move(60)
    page = opened(context(), served)
    person = person_at(page, served)
    person.click("Check A1")
    person.type("wall_c", "65")
    assert (
        page.locator(".band").get_attribute("data-level") == "caution"
    )  # at the limit is not over
    person.type("wall_c", ".1")
    assert page.locator(".band p").inner_text() == (
        "The wall is over your stop limit of 65 °C (149 °F). Put it out now, with a lid. Do not "
        "move the vessel."
    )
    person.click("Put out now")
    person.saved()
    kinds = [(line["kind"], line["values"]) for line in journal_of(served.desk.folder)]
    assert kinds[1:] == [("check", {"wall_c": "65.1"}), ("out", {"ended_by": "stopped"})]
    person.weigh("A1", "395")
    page.locator("#card-A1 .ask", has_text="Do not light it again").wait_for()
    assert page.get_by_role("button", name="Light A1").count() == 0
    assert read_batch(served.desk.folder).burns["ended_by"].tolist() == ["stopped"]


@pytest.mark.parametrize(
    ("do", "words"),
    [
        (lambda p: p.type("flame_height_mm", "77"), "The flame is over 75 mm (2.95 in)."),
        (lambda p: p.choose("3 steady black smoke"), "It gives off steady black smoke."),
        (lambda p: p.type("secondary_ignition_s", "2"), "Something other than the wick burned."),
        (lambda p: p.yes("Vessel damaged"), "The vessel is damaged."),
        (lambda p: p.yes("Tipped"), "It tipped over."),
    ],
)  # fmt: skip
def test_each_danger_offers_to_put_it_out(context, served, do, words):
    send(served, "light", **LIT)
    served.clock.move(60)
    person = person_at(opened(context(), served), served)
    person.click("Check A1")
    do(person)
    assert person.scope.locator(".band strong").inner_text() == words
    assert person.scope.get_by_role("button", name="Put out now").is_visible()


def test_an_alarm_stays_until_the_candle_is_out(context, served):
    send(served, "light", **LIT)
    served.clock.move(60)
    send(served, "check", **SEEN | {"vessel_damaged": "yes"})
    person = person_at(opened(context(), served), served)
    assert person.due() == "1 due: A1 put it out"
    assert "PUT IT OUT. The vessel is damaged." in person.card("A1").inner_text()
    assert person.card("A1").get_attribute("data-level") == "alarm"


def test_messages_while_typing_are_those_of_check(context, served):
    send(served, "light", **LIT)
    served.clock.move(60)
    page = opened(context(), served)
    person = person_at(page, served)
    person.click("Check A1")
    person.type("pool_diameter_mm", "90")
    told = page.locator(".told li[data-level='look at this']")
    told.wait_for()
    entry = {"id": "asked-0001", "kind": "check", "candle": "A1", "burn": 1, "values": {}}
    entry |= {"at": served.clock().isoformat(), "values": {"pool_diameter_mm": "90"}}
    (one,) = served.desk.draft(entry)
    assert told.inner_text() == (
        f"look at this: {one['column']}: {one['problem']}. Found {one['found']}. "
        f"Expected {one['expected']}. {one['what_to_do']}"
    )
    assert page.locator("#f-pool_diameter_mm-wrong").inner_text() == "pool wider than the vessel"


def test_what_must_be_fixed_stays_in_the_form(context, served):
    page = opened(context(), served)
    person = person_at(page, served)
    person.click("Light A1")
    person.type("room_c", "22")
    person.click("Lit now")
    page.locator(".told li[data-level='must fix']").wait_for()
    assert "empty cell" in page.locator(".told").inner_text()
    assert page.locator("#f-room_c").input_value() == "22"
    person.type("mass_before_g", "400")
    person.click("Lit now")
    person.saved()
    assert len(journal_of(served.desk.folder)) == 1


def test_a_half_filled_form_is_there_again(context, served):
    page = opened(context(), served)
    person = person_at(page, served)
    person.click("Light A1")
    person.type("mass_before_g", "400.5")
    page.keyboard.press("Escape")
    page.reload()
    person.click("Light A1")
    assert page.locator("#f-mass_before_g").input_value() == "400.5"


def _checked_while_away(context, served):
    """A page on which A1 was checked while its computer could not be reached."""
    send(served, "light", **LIT)
    served.clock.move(60)
    page = opened(context, served)
    person = person_at(page, served)
    context.set_offline(True)
    person.click("Check A1")
    person.type("wall_c", "41")
    person.click("Save check")
    page.clock.run_for(4000)
    person.saved()
    return page, person


def test_entries_wait_for_a_computer_that_is_away(context, served):
    context = context()
    page, person = _checked_while_away(context, served)
    page.locator("#status", has_text="1 entry waits here").wait_for()
    assert "1 entry waits here" in person.card("A1").inner_text()
    assert page.evaluate("Object.values(localStorage).join()").count('"wall_c":"41"') == 1
    context.set_offline(False)
    page.clock.run_for(5000)
    page.locator("#status", has_text="Everything is written.").wait_for()
    assert journal_of(served.desk.folder)[-1]["values"] == {"wall_c": "41"}


def test_a_browser_that_was_killed_sends_what_waited(context, served):
    context = context()
    page, _ = _checked_while_away(context, served)
    page.close(run_before_unload=False)
    context.set_offline(False)
    page = opened(context, served)
    page.locator("#status", has_text="Everything is written.").wait_for()
    checks = [line for line in journal_of(served.desk.folder) if line["kind"] == "check"]
    assert [line["values"] for line in checks] == [{"wall_c": "41"}]


def test_not_written_is_said_and_the_entry_kept(context, served, monkeypatch):
    import os

    page = opened(context(), served)
    person = person_at(page, served)
    (served.desk.folder / "bench.jsonl").touch()

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        person.click("Light A1")
        person.type("mass_before_g", "400")
        person.click("Lit now")
        status = page.locator("#status", has_text="Not written: No space left on device.")
        status.wait_for()
        assert "1 entry waits here, kept" in status.inner_text()
        assert journal_of(served.desk.folder) == []
    page.clock.run_for(5000)
    page.locator("#status", has_text="Everything is written.").wait_for()
    assert [line["kind"] for line in journal_of(served.desk.folder)] == ["light"]


def test_an_entry_that_cannot_be_taken_later_is_told_and_can_be_changed(context, served):
    context = context()
    page = opened(context, served)
    person = person_at(page, served)
    context.set_offline(True)
    person.click("Light A1")
    person.type("mass_before_g", "400")
    person.click("Lit now")
    page.clock.run_for(4000)
    person.saved()
    send(served, "light", id_="of-another-device", **LIT)
    context.set_offline(False)
    page.clock.run_for(5000)
    page.locator("#status", has_text="1 entry was not taken").wait_for()
    page.get_by_role("button", name="Notices (1)").click()
    assert "A1 is burning already, since 09:00." in page.locator("dialog").inner_text()
    page.get_by_role("button", name="Throw away").click()
    page.locator("#status", has_text="Everything is written.").wait_for()


def test_a_second_browser_sees_a_lighting_within_seconds(context, served):
    first, second = opened(context(), served), opened(context(390), served)
    person_at(first, served).light("A1", "400")
    began = time.monotonic()
    second.locator("#card-A1[data-level='fine']").wait_for(timeout=10_000)
    assert time.monotonic() - began < 5


def test_clocks_are_the_computers_also_on_a_device_that_is_ahead(context, served):
    from datetime import timedelta

    send(served, "light", **LIT)
    served.clock.move(10)
    page = opened(context(), served, now=served.clock() + timedelta(minutes=7))
    assert page.locator("#clock").inner_text() == (
        "This device's clock is 7 min ahead of the computer's; times here are the computer's."
    )
    shown = page.locator("#card-A1 .clock").inner_text()
    assert shown.startswith("0:10:0")
    person_at(page, served).check("A1", CHECKS[60])
    check = journal_of(served.desk.folder)[-1]
    assert check["at"][:16] == "2026-06-01T09:10"
    assert 415 <= check["device_s"] <= 430


def test_due_at_each_hour_and_out_at_four(context, served):
    send(served, "light", **LIT)
    person = person_at(opened(context(), served), served)
    levels, card = [], person.card("A1")

    def level(*names):
        """Wait for one of some levels; the card changes within a second."""
        one = ", ".join(f"#card-A1[data-level='{name}']" for name in names)
        person.scope.locator(one).wait_for(timeout=10_000)
        levels.append(card.get_attribute("data-level"))

    for hour in range(1, 5):
        person.wait(53)
        level("fine")
        person.wait(3)
        level("soon")
        person.wait(4)
        level("due")
        assert card.locator(".clock").inner_text().startswith(f"{hour}:0")
        if hour < 4:
            send(served, "check", **SEEN)
            person.page.clock.run_for(3000)
    assert levels == ["fine", "soon", "due"] * 4
    send(served, "check", **SEEN)
    person.hear("A1 put it out")
    person.wait(5)
    level("over")
    assert "put it out now" in card.inner_text()


def test_a_check_too_late_says_that_the_gap_stays(context, served):
    send(served, "light", **LIT)
    person = person_at(opened(context(), served), served)
    person.wait(80)
    assert "1 h 15 min went by without a check; that gap stays." in person.card("A1").inner_text()


def test_it_rings_once_the_page_was_touched(context, served):
    send(served, "light", **LIT)
    page = opened(context(), served)
    page.evaluate("""() => {
        window.rung = 0;
        const make = AudioContext.prototype.createOscillator;
        AudioContext.prototype.createOscillator = function () {
            window.rung += 1;
            return make.call(this);
        };
    }""")
    assert page.get_by_role("button", name="No sound yet: tap").is_visible()
    person = person_at(page, served)
    person.wait(61)
    assert page.evaluate("window.rung") == 0
    page.locator("#sound").click()
    page.get_by_role("button", name="Sound is on").wait_for()
    page.clock.run_for(3000)
    rung = page.evaluate("window.rung")
    assert rung > 0
    page.clock.run_for(30_000)
    assert page.evaluate("window.rung") == rung
    page.clock.run_for(40_000)
    assert page.evaluate("window.rung") > rung


def test_keyboard_only(context, served):
    page = opened(context(), served)

    def tab_to(name, most=60):
        for _ in range(most):
            page.keyboard.press("Tab")
            label = page.evaluate(
                "document.activeElement.getAttribute('aria-label') || document.activeElement.id"
                " || document.activeElement.textContent"
            )
            if label == name:
                return
        raise AssertionError(f"{name} cannot be reached by the keyboard")

    tab_to("Light A1")
    page.keyboard.press("Enter")
    page.locator("dialog").wait_for()
    tab_to("f-mass_before_g")
    page.keyboard.type("400")
    page.keyboard.press("Enter")
    page.locator("dialog").wait_for(state="hidden")
    served.clock.move(60)
    page.clock.fast_forward(60 * 60_000)
    page.locator("#card-A1[data-level='due']").wait_for()
    tab_to("Check A1")
    page.keyboard.press("Enter")
    page.locator("#f-flame_height_mm:focus").wait_for()
    page.keyboard.type("30")
    tab_to("f-soot-0")
    page.keyboard.press("Space")
    tab_to("I looked: nothing of all this")
    page.keyboard.press("Space")
    tab_to("Save check")
    page.keyboard.press("Space")
    page.locator("dialog").wait_for(state="hidden")
    check = journal_of(served.desk.folder)[-1]["values"]
    assert check["flame_height_mm"] == "30"
    assert check["soot"] == "0"
    assert {check[name] for name in SEEN if name.endswith(("ed", "vessel"))} == {"no"}
    assert "Check A1" in page.evaluate("document.activeElement.getAttribute('aria-label')")


def test_the_last_weight_is_offered_and_never_filled_in_by_itself(context, tmp_path):
    from batches import burn

    folder = folder_of(tmp_path / "offered", burns=[burn("A1", 1, 20.5)])
    served = Served(folder, START.replace(day=2))
    try:
        page = opened(context(), served)
        person = person_at(page, served)
        person.click("Light A1")
        assert page.locator("#f-mass_before_g").input_value() == ""
        tap = page.locator(".field:has(#f-mass_before_g) .tap")
        assert tap.inner_text() == "379.5 as after burn 1"
        tap.click()
        person.click("Lit now")
        person.saved()
        assert journal_of(folder)[0]["values"] == {"mass_before_g": "379.5"}
    finally:
        served.close()


def test_a_scale_fills_in_a_weight(context, tmp_path, monkeypatch):
    from batches import TOML

    from candlelab.bench.scale_line import Weight

    class Steady:
        said = iter(
            ["The scale is not steady yet.", Weight("399.9", "g", True, True, "S S 399.9 g")]
        )

        def read(self):
            return next(self.said)

    toml = TOML + '[scale]\nport = "/dev/ttyUSB0"\nkind = "asks"\nunit = "g"\n'
    served = Served(folder_of(tmp_path / "weighed", toml=toml))
    monkeypatch.setattr(served.desk, "scale", lambda: steady)
    steady = Steady()
    try:
        page = opened(context(), served)
        person = person_at(page, served)
        person.click("Light A1")
        person.click("Read the scale")
        wrong = page.locator("#f-mass_before_g-wrong", has_text="not steady yet")
        wrong.wait_for()
        assert page.locator("#f-mass_before_g").input_value() == ""
        person.click("Read the scale")
        page.wait_for_timeout(500)
        assert page.locator("#f-mass_before_g").input_value() == "399.9"
        person.click("Lit now")
        person.saved()
        (line,) = journal_of(served.desk.folder)
        assert (line["values"], line["scale"]) == ({"mass_before_g": "399.9"}, "S S 399.9 g")
    finally:
        served.close()


def test_what_was_written_can_be_corrected_and_withdrawn(context, served):
    send(served, "light", **LIT)
    served.clock.move(60)
    send(served, "check", **SEEN | {"wall_c": "541"})
    page = opened(context(), served)
    person = person_at(page, served)
    person.click("More for A1")
    page.get_by_role("button", name="What was written").click()
    assert "wall temperature 541 °C" in page.locator("dialog").inner_text()
    page.locator("li", has_text="541").get_by_role("button", name="Correct").click()
    assert page.locator("#f-wall_c").input_value() == "541"
    page.locator("#f-wall_c").fill("54.1")
    person.click("Save correction")
    person.saved()
    book = served.desk.reader.book()
    assert book.burns["A1", 1].checks[0].values["wall_c"] == "54.1"
    person.click("More for A1")
    page.get_by_role("button", name="What was written").click()
    page.locator("li", has_text="54.1").get_by_role("button", name="Withdraw").click()
    page.locator("#card-A1 .more", has_text="Lit at").wait_for()
    assert served.desk.reader.book().burns["A1", 1].checks == []


def test_aftersmoke_by_a_tap(context, served):
    send(served, "light", **LIT)
    served.clock.move(240)
    page = opened(context(), served)
    person = person_at(page, served)
    person.click("Put out A1")
    person.choose("Time is up")
    served.clock.move(seconds=20)
    page.clock.run_for(20_000)
    page.locator(".tap", has_text="Smoke stopped now").click()
    assert 15 <= int(page.locator("#f-aftersmoke_s").input_value()) <= 30
    person.click("Flame is out")
    person.saved()
    out = journal_of(served.desk.folder)[-1]
    assert out["values"]["ended_by"] == "timer"
    assert out["at"][:16] == "2026-06-01T13:00"


def test_how_it_ended_has_to_be_said(context, served):
    send(served, "light", **LIT)
    page = opened(context(), served)
    person = person_at(page, served)
    person.click("Put out A1")
    person.click("Flame is out")
    assert "Say how it ended" in page.locator(".told").inner_text()
    person.choose("It went out by itself")
    person.click("Flame is out")
    person.saved()
    assert journal_of(served.desk.folder)[-1]["values"] == {"ended_by": "self"}


def test_set_aside_wick_change_note_and_photo(context, served):
    page = opened(context(), served)
    person = person_at(page, served)

    def more(what):
        person.click("More for A1")
        page.get_by_role("button", name=what).click()

    more("Change the wick")
    page.locator("#f-wick").select_option(label="square braid 2")
    person.type("reason", "tunnels")
    person.click("Save")
    page.locator(".told li[data-level='must fix']").wait_for()  # no wick is changed before burn 1
    page.keyboard.press("Escape")
    more("Note")
    person.type("note", "wick leans")
    person.click("Save")
    person.saved()
    more("Photo")
    person.type("photo", "IMG_1.jpg")
    person.click("Save")
    person.saved()
    more("Set aside")
    person.type("reason", "wick off center")
    person.click("Save")
    person.saved()
    page.locator("#card-A1", has_text="Set aside: wick off center").wait_for()
    kinds = [line["kind"] for line in journal_of(served.desk.folder)]
    assert kinds == ["note", "photo", "set_aside", "in_table"]
    assert read_batch(served.desk.folder).exclusions["candle"].tolist() == ["A1"]


def test_a_log_cannot_put_anything_into_the_page(context, tmp_path):
    name = "<b>A</b>"
    bad = '<img src=x onerror="document.title=1">'
    toml = (folder_of(tmp_path / "x") / "batch.toml").read_text().replace("made by hand", name)
    from batches import candle, write

    folder = write(tmp_path / "batch", [candle(name, bench_position=bad)], [], [], toml=toml)
    served = Served(folder)
    try:
        page = opened(context(), served)
        assert page.locator("h1").inner_text() == name
        assert page.locator("article img, article b").count() == 0
        assert bad in page.locator("article .place").inner_text()
        person_at(page, served).light(name, "400")
    finally:
        served.close()


def test_a_bench_that_cannot_read_its_folder_says_so(context, served):
    page = opened(context(), served)
    path = served.desk.folder / "checks.csv"
    path.write_text(path.read_text(), encoding="utf-16")
    page.clock.run_for(3000)
    page.locator("#status", has_text="checks.csv is UTF-16 text.").wait_for()


def test_the_page_says_what_a_browser_cannot_promise(context, served):
    page = opened(context(), served)
    words = page.locator("#promise").inner_text()
    assert "a locked phone stops it" in words
    assert "Set a timer of your own as well." in words


def test_clocks_hold_for_four_hours(context, served):
    send(served, "light", **LIT)
    person = person_at(opened(context(), served), served)
    seen = []
    for _ in range(8):
        person.wait(30)
        h, m, s = map(int, person.card("A1").locator(".clock").inner_text().split(":"))
        seen.append(3600 * h + 60 * m + s)
    expected = [1800 * n for n in range(1, 9)]
    assert all(abs(a - b) <= 6 for a, b in zip(seen, expected, strict=True)), seen
    assert all(b - a < 1810 for a, b in pairwise(seen))
