"""The demo page in a real browser with the network off; skipped where Chromium or playwright is
missing.
"""

import os

import pytest
from places import DEMO


@pytest.fixture(scope="module")
def page_file(tmp_path_factory):
    from candlelab.report.make import make_report

    return make_report(DEMO / "screening", tmp_path_factory.mktemp("page") / "report")


@pytest.mark.parametrize("width", [1280, 390])
def test_nothing_loaded_nothing_logged_no_violation(browser, page_file, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    context = browser.new_context(
        viewport={"width": width, "height": 900}, offline=True, bypass_csp=True
    )
    page = context.new_page()
    requests, messages = [], []
    page.on("request", lambda request: requests.append(request.url))
    page.on("console", lambda message: messages.append(message.text))
    page.on("pageerror", lambda error: messages.append(str(error)))
    page.goto(page_file.as_uri())
    assert [url for url in requests if not url.startswith("data:")] == [page_file.as_uri()]
    assert messages == []
    assert (
        page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        == 0
    )
    assert axe.run(page).response["violations"] == []
    if width == 1280 and os.environ.get("CANDLELAB_PICTURE"):
        page.set_viewport_size({"width": 900, "height": 860})
        page.screenshot(path=DEMO / "report.png")
    context.close()
