"""Who may come in: the address with its token, this host, a page of ours; nobody else."""

import json
import os
import signal
import socket
import stat
import time

import pytest
from benches import LIT, Client, Served, end, folder_of, journal_of, start_bench, started, wait_for

from candlelab.bench import server


@pytest.fixture
def served(tmp_path):
    bench = Served(folder_of(tmp_path / "batch"))
    yield bench
    bench.close()


@pytest.fixture
def client(served):
    client = Client(served.url)
    client.state()
    return client


def light(client):
    now = client.state()["now"]
    entry = {"id": "entry-0001", "kind": "light", "candle": "A1", "burn": 1, "at": now}
    return {"entry": entry | {"values": LIT}}


def test_with_address_token_and_origin_an_entry_is_written(served, client):
    status, _, text = client.ask("POST", "entries", light(client), **client.headers())
    assert status == 200
    assert json.loads(text)["status"] == "saved"
    assert len(journal_of(served.desk.folder)) == 1
    assert client.state()["candles"][0]["status"] == "alight"


@pytest.mark.parametrize(
    "path", ["/", "/state", "/wrongwrongwrong1/", "/wrongwrongwrong1/state", "//state", "/%00/"]
)
def test_without_the_token_nothing_is_read(served, path):
    client = Client(f"http://127.0.0.1:{served.port}")
    client.path = path
    status, headers, text = client.ask("GET", "")
    assert status == 403
    assert text.decode() == server.NOBODY
    assert "Set-Cookie" not in headers


@pytest.mark.parametrize(
    "change",
    [
        {"X-XSRFToken": ""},
        {"X-XSRFToken": "2|00000000|00000000000000000000000000000000|1"},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Host": "evil.example"},
        {"Host": "evil.example:80"},
        {"Cookie": ""},
    ],
    ids=str,
)
def test_another_page_in_the_browser_cannot_write(served, client, change):
    headers = client.headers() | change
    status, *_ = client.ask("POST", "entries", light(client), **headers)
    assert status == 403
    assert not (served.desk.folder / "bench.jsonl").exists()


def test_a_form_of_another_page_cannot_write(served, client):
    """A form can be sent across sites without asking first: it has no header of ours."""
    status, *_ = client.ask(
        "POST", "entries", json.dumps(light(client)), **{"Content-Type": "text/plain"}
    )
    assert status == 403
    status, *_ = client.ask("GET", "entries")
    assert status in (403, 404, 405)
    assert not (served.desk.folder / "bench.jsonl").exists()


def test_another_name_for_this_computer_is_not_served(served):
    """A name that somebody else points at 127.0.0.1 (DNS rebinding)."""
    status, _, text = Client(served.url).ask("GET", "state", Host=f"evil.example:{served.port}")
    assert (status, text.decode()) == (403, server.NOBODY)


@pytest.mark.parametrize("name", ["", "static/main.js", "static/bench.css", "state"])
def test_every_answer_is_kept_to_itself(client, name):
    _, headers, _ = client.ask("GET", name)
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'; script-src 'self'; style-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cache-Control"] == "no-store"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "Access-Control-Allow-Origin" not in headers
    assert "Server" not in headers


@pytest.mark.parametrize(
    "name",
    ["static/../server.py", "static/..%2fserver.py", "static/nothing.js", "static/bench.html",
     "static/", "elsewhere"],
)  # fmt: skip
def test_no_other_file_is_served(client, name):
    assert client.ask("GET", name)[0] in (403, 404)


@pytest.mark.parametrize("body", ["", "[]", "{}", '{"entry": 1}', "{" * 10_000, b"\xff\xfe"])
def test_what_is_no_entry_is_no_error_of_ours(served, client, body):
    for name in ("entries", "drafts"):
        assert client.ask("POST", name, body, **client.headers())[0] == 400
    assert not (served.desk.folder / "bench.jsonl").exists()


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    """``candlelab bench`` in a process of its own, for tests that leave it running."""
    place = tmp_path_factory.mktemp("running")
    process, url = start_bench(folder_of(place / "batch"), place / "home")
    yield process, url
    end(process)


@pytest.mark.slow
def test_a_body_that_is_too_large_is_not_taken(running):
    client = Client(running[1])
    client.state()
    try:
        status = client.ask("POST", "entries", "x" * 200_000, **client.headers())[0]
    except (ConnectionError, OSError):
        status = 0  # the server hangs up
    assert status in (0, 400, 413)
    assert client.state()["candles"]


@pytest.mark.slow
def test_the_command_serves_this_computer_alone_and_keeps_its_address(tmp_path):
    folder, home = folder_of(tmp_path / "batch"), tmp_path / "home"
    process, url = start_bench(folder, home)
    try:
        port = int(url.split(":")[2].split("/")[0])
        assert url.startswith("http://127.0.0.1:")
        assert len(url.rstrip("/").rpartition("/")[2]) == 16
        listening = [c for c in process_connections(process.pid) if c.laddr.port == port]
        assert {c.laddr.ip for c in listening} == {"127.0.0.1"}
        kept = home / "candlelab" / "bench_addresses.json"
        assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    finally:
        end(process)
    again, same = start_bench(folder, home)
    end(again)
    assert same == url  # a page that is open finds it again
    other, another = start_bench(folder, tmp_path / "other home")
    end(other)
    assert another.rpartition(":")[2] != url.rpartition(":")[2]


def process_connections(pid):
    import psutil

    return [c for c in psutil.Process(pid).net_connections() if c.status == "LISTEN"]


@pytest.mark.slow
def test_a_phone_comes_in_when_asked_and_with_the_token_only(tmp_path):
    import psutil

    folder = folder_of(tmp_path / "batch")
    process = started(
        ["-m", "candlelab", "bench", folder, "--phone"], XDG_CONFIG_HOME=str(tmp_path / "home")
    )
    try:
        lines = []
        for line in process.stdout:
            lines.append(line.rstrip())
            if "Ctrl-C" in line:
                break
        (listening,) = process_connections(process.pid)
        assert listening.laddr.ip == "0.0.0.0"
        own = [
            a.address
            for addresses in psutil.net_if_addrs().values()
            for a in addresses
            if a.family == socket.AF_INET and not a.address.startswith("127.")
        ]
        phones = [line.split("phone:")[1].strip() for line in lines if "phone:" in line]
        assert len(phones) == len(set(own))
        assert server.PLAIN_HTTP in lines
        for url in phones:
            assert Client(url).ask("GET", "state")[0] == 200
            wrong = url.rstrip("/").rpartition("/")[0] + "/wrongwrongwrong1/"
            assert Client(wrong).ask("GET", "state")[0] == 403
    finally:
        end(process)


@pytest.mark.slow
def test_ctrl_c_ends_it_in_order(tmp_path):
    process, _ = start_bench(folder_of(tmp_path / "batch"), tmp_path / "home")
    process.send_signal(signal.SIGINT)
    assert process.wait(20) == 130
    assert process.stdout.read().splitlines()[-1] == "Stopped."
    process.stdout.close()


def test_a_folder_in_utf_16_is_refused_at_once(tmp_path):
    from commands import run

    folder = folder_of(tmp_path / "batch")
    path = folder / "checks.csv"
    path.write_text(path.read_text(), encoding="utf-16")
    result = run("bench", folder)
    assert result.exit_code == 2
    assert "checks.csv is UTF-16 text." in result.output


@pytest.mark.slow
def test_the_server_rings_in_its_terminal(running):
    """The clock of this test is the computer's: a candle that was lit 61 minutes ago."""
    from datetime import UTC, datetime, timedelta

    process, url = running
    client = Client(url)
    client.state()
    at = (datetime.now(UTC) - timedelta(minutes=61)).isoformat()
    entry = {"id": "entry-0001", "kind": "light", "candle": "A1", "burn": 1, "at": at}
    assert client.send(entry | {"values": LIT})["status"] == "saved"
    rung = wait_for(lambda: next((x for x in process.stdout if "check it" in x), None))
    assert rung.startswith("\a")
    assert "A1: check it; due for 1 min." in rung


@pytest.mark.slow
def test_clocks_are_moments_also_after_the_server_stood_still(running):
    process, url = running
    client = Client(url)
    before = client.state()["now"]
    began = time.monotonic()
    os.kill(process.pid, signal.SIGSTOP)
    time.sleep(2)
    os.kill(process.pid, signal.SIGCONT)
    after = client.state()["now"]
    from candlelab.logs.journal import moment_of

    apart = (moment_of(after) - moment_of(before)).total_seconds()
    assert abs(apart - (time.monotonic() - began)) < 1
