"""The bench inside JupyterLab: one server, its own log-in, and a kernel that is not in the way."""

import json
import os
import time

import pytest
from batches import read
from bench_pages import Person, log_a_session, watched
from benches import LIT, Client, end, folder_of, journal_of, python_env, wait_for
from labs import TOKEN, Lab

from candlelab.logs.batch import check_batch

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Lab(tmp_path_factory.mktemp("jupyter"))
    yield made
    end(made.process)


@pytest.fixture
def client(lab):
    return lab.client()


def light(lab, id_="entry-0001", name="A1"):
    entry = {"id": id_, "kind": "light", "candle": name, "burn": 1, "at": lab().isoformat()}
    return {"entry": entry | {"values": LIT}}


@pytest.mark.parametrize("name", ["", "state", "static/main.js", "scale"])
def test_who_is_not_logged_in_reads_nothing(lab, name):
    status, _, text = Client(lab.url).ask("GET", name)
    assert status in (302, 403)
    assert b"A1" not in text


@pytest.mark.parametrize(
    "headers",
    [{}, {"X-XSRFToken": "x"}, {"Origin": "http://evil.example"}, {"Authorization": "token no"}],
    ids=str,
)
def test_who_is_not_logged_in_writes_nothing(lab, headers):
    status, *_ = Client(lab.url).ask("POST", "entries", light(lab), **headers)
    assert status in (403, 404)
    assert not (lab.batch / "bench.jsonl").exists()


def test_another_page_of_a_browser_that_is_logged_in_writes_nothing(lab, client):
    """The cookie of the log-in comes along by itself; the token and the origin do not."""
    login = Client(f"{lab.origin}/lab?token={TOKEN}")
    login.ask("GET", "")
    assert any(name.startswith("username") for name in login.cookies)
    page = Client(lab.url)
    page.cookies = dict(login.cookies)
    assert page.ask("GET", "state")[0] == 200
    for headers in ({}, {"Origin": "http://evil.example"}, {"X-XSRFToken": "2|0|0|0"}):
        assert page.ask("POST", "entries", light(lab), **headers)[0] in (403, 404)
    evil = page.headers() | {"X-XSRFToken": page.state()["xsrf"]}
    assert page.ask("POST", "entries", light(lab), **evil | {"Origin": "http://evil.example"})[
        0
    ] in (403, 404)
    assert not (lab.batch / "bench.jsonl").exists()


@pytest.mark.parametrize("folder", ["/", "", "/nowhere", "."])
def test_a_folder_without_a_batch_is_not_served(lab, folder):
    client = Client(f"{lab.origin}/candlelab/bench/?folder={folder}")
    assert client.ask("GET", "state", Authorization=f"token {TOKEN}")[0] == 404


def test_the_page_may_stand_in_a_frame_of_this_server_only(lab):
    _, headers, _ = Client(lab.url).ask("GET", "", Authorization=f"token {TOKEN}")
    assert "frame-ancestors 'self'" in headers["Content-Security-Policy"]
    assert "default-src 'none'" in headers["Content-Security-Policy"]


def in_lab(context, lab, workspace):
    """A page of JupyterLab with the bench's notebook, idle; what it asked for elsewhere."""
    page = context.new_page()
    page.clock.install(time=lab())
    elsewhere, messages = watched(page, lab.origin)
    place = f"{lab.origin}/lab/workspaces/{workspace}/tree/bench.ipynb"
    page.goto(f"{place}?token={TOKEN}")
    page.locator(".jp-Notebook-ExecutionIndicator[data-status=idle]").first.wait_for(timeout=90_000)
    page.wait_for_timeout(1500)
    return page, elsewhere, messages


def run_all(page):
    """Run every cell; again if a kernel that says it is idle did not listen yet."""
    frame = page.frame_locator("iframe[src*='candlelab/bench']")
    for last in (False, False, True):
        page.locator(".lm-MenuBar-itemLabel", has_text="Run").first.click()
        page.locator(".lm-Menu-itemLabel", has_text="Run All Cells").first.click()
        try:
            frame.locator("article").first.wait_for(timeout=25_000)
            break
        except Exception:
            if last:
                raise
    page.locator("iframe[src*='candlelab/bench']").scroll_into_view_if_needed()
    return frame


@pytest.fixture
def context(browser):
    made = browser.new_context(viewport={"width": 1280, "height": 1000})
    made.set_default_timeout(20_000)
    yield made
    made.close()


def test_a_session_of_eight_candles_inside_jupyterlab(context, lab):
    from candlelab.report.make import make_report

    page, elsewhere, messages = in_lab(context, lab, "session")
    assert page.locator(".jp-Dialog, .Toastify__toast").count() == 0  # no prompt of its own
    frame = run_all(page)
    person = Person(page, frame, lab, lambda _: None)
    log_a_session(person)
    assert frame.locator("#status").inner_text() == "Everything is written."
    assert page.locator(".jp-Dialog, .Toastify__toast").count() == 0
    assert elsewhere == []
    assert [m for m in messages if not m.startswith("Starting ")] == []
    found = check_batch(lab.batch)
    assert found.empty, found.to_dict("records")
    assert len(read(lab.batch).burns) == 8
    make_report(lab.batch, lab.folder / "report")


def time_of_an_entry(lab, client, id_) -> float:
    """Seconds until an entry of a candle that is ready is on the disk, and answered."""
    ready = next(c for c in client.state()["candles"] if c["status"] == "ready")
    entry = light(lab, id_, ready["candle"])["entry"] | {"burn": ready["burn"]}
    entry["values"] = {"mass_before_g": "380", "room_c": "22"}
    began = time.monotonic()
    answer = client.send(entry)
    took = time.monotonic() - began
    assert answer["status"] == "saved", answer
    assert journal_of(lab.batch)[-1]["id"] == id_
    return took


def test_the_kernel_is_not_in_the_path(context, lab, client):
    page, *_ = in_lab(context, lab, "busy")
    run_all(page)
    idle = time_of_an_entry(lab, client, "while-the-kernel-is-idle")
    kernels = Client(f"{lab.origin}/api/kernels")
    auth = {"Authorization": f"token {TOKEN}"}
    running = json.loads(kernels.ask("GET", "", **auth)[2])
    book = json.loads((lab.folder / "bench.ipynb").read_text())
    assert book["cells"][-1]["id"] == "bench"
    page.locator(".jp-CodeCell").last.locator(".cm-content").click()
    page.keyboard.press("Control+End")
    page.keyboard.type("\nimport time; time.sleep(60)")
    page.keyboard.press("Shift+Enter")
    page.locator(".jp-Notebook-ExecutionIndicator[data-status=busy]").first.wait_for()
    page.wait_for_timeout(1000)
    took = time_of_an_entry(lab, client, "while-the-kernel-is-busy")
    assert took < max(1.0, 3 * idle), (took, idle)  # 1 s, where the machine itself is not busy
    assert journal_of(lab.batch)[-1]["id"] == "while-the-kernel-is-busy"
    still = json.loads(kernels.ask("GET", "", **auth)[2])
    assert "busy" in {one["execution_state"] for one in still}
    kernels.path = f"/api/kernels/{running[0]['id']}"
    kernels.ask("DELETE", "", **auth)  # no kernel at all
    assert client.state()["candles"]


def test_after_a_stop_of_the_server_a_page_goes_on(context, lab):
    page = context.new_page()
    page.goto(f"{lab.url}&token={TOKEN}")
    page.locator("article").first.wait_for()
    before = len(journal_of(lab.batch)) if (lab.batch / "bench.jsonl").exists() else 0
    end(lab.process)
    name = page.locator("article h3").first.inner_text()
    page.get_by_role("button", name=f"More for {name}").click()
    page.get_by_role("button", name="Note").click()
    page.locator("#f-note").fill("while it was away")
    page.get_by_role("button", name="Save", exact=True).click()
    page.locator("#status", has_text="1 entry waits here").wait_for()
    lab.start(lab.port)
    page.locator("#status", has_text="Everything is written.").wait_for(timeout=30_000)
    lines = journal_of(lab.batch)
    assert len(lines) == before + 1
    assert lines[-1]["values"] == {"note": "while it was away"}


def test_the_command_opens_the_folder_of_the_notebook_for_any_account(tmp_path):
    """`candlelab lab` as it is, but for a browser: the account of the tests may be root."""
    folder = folder_of(tmp_path / "batch")
    env = python_env() | {
        name: str(tmp_path / name.lower())
        for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR")
    }
    os.makedirs(tmp_path / "jupyter_config_dir")
    config = {"ServerApp": {"open_browser": False, "root_dir": "/", "allow_root": False}}
    config |= {"ExtensionApp": {"open_browser": False}}
    (tmp_path / "jupyter_config_dir" / "jupyter_server_config.json").write_text(json.dumps(config))
    work = tmp_path / "work"
    work.mkdir()
    import subprocess
    import sys

    process = subprocess.Popen(
        [sys.executable, "-m", "candlelab", "lab", str(folder)],
        cwd=work, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    try:
        lines = []
        for line in process.stdout:
            lines.append(line)
            if "running at" in line:
                break
        text = "".join(lines)
        assert f"Serving notebooks from local directory: {work}" in text
        assert "candlelab.bench.extension | extension was successfully loaded" in text
        assert sorted(path.name for path in work.glob("*.ipynb")) == [
            "bench.ipynb", "explore_wicks.ipynb"
        ]  # fmt: skip
    finally:
        import psutil

        for child in psutil.Process(process.pid).children(recursive=True):
            child.kill()
        wait_for(lambda: process.poll() is not None)
        process.stdout.close()
