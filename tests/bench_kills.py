"""A server that is killed at random moments while entries are sent, and what must be true after."""

import json
import random
import subprocess
import threading
import time
from collections import Counter
from contextlib import suppress
from datetime import UTC, datetime, timedelta

import pandas as pd
from benches import LIT, SEEN, Client, end, folder_of, journal_of, start_bench, wait_for
from conftest import CHROMIUM, FLAGS

from candlelab.logs.batch import check_batch, read_batch

NAMES = ("A1", "A2", "A3", "A4")
_USED = 6.0  # g a burn: a candle of 100 g lasts for 16 burns


class Maker:
    """Somebody who logs burns of the last weeks, entry after entry, until each is answered."""

    def __init__(self, pause=lambda: 0.0):
        self._pause = pause
        self._begin = datetime.now(UTC).replace(microsecond=0) - timedelta(days=40)
        self._entries = self._log()
        self.next = next(self._entries)
        self.saved, self.tries = [], Counter()

    def _log(self):
        for burn in range(1, 17):
            for n, name in enumerate(NAMES):
                lit = self._begin + timedelta(days=2 * burn, minutes=4 * n)
                before = 400 - _USED * (burn - 1)
                yield self._entry(
                    "light", name, burn, lit, LIT | {"mass_before_g": f"{before:.1f}"}
                )
                for hour in range(1, 5):
                    yield self._entry("check", name, burn, lit + timedelta(hours=hour), SEEN)
                out = lit + timedelta(hours=4, seconds=20)
                yield self._entry("out", name, burn, out, {"ended_by": "timer"})
                values = {"mass_after_g": f"{before - _USED:.1f}"}
                yield self._entry("weigh", name, burn, out + timedelta(hours=4), values)

    def _entry(self, kind, name, burn, at, values):
        id_ = f"{kind}-{name}-{burn}-{at:%d%H%M}"
        return {"id": id_, "kind": kind, "candle": name, "burn": burn, "at": at.isoformat(),
                "values": values}  # fmt: skip

    def work(self, client):
        """Send entries until the server is gone, each again until it is answered."""
        try:
            client.state()
            while self.next:
                self.tries[self.next["id"]] += 1
                answer = client.send(self.next)
                assert answer["status"] == "saved", answer
                self.saved.append(self.next["id"])
                self.next = next(self._entries, None)
                time.sleep(self._pause())
        except (OSError, json.JSONDecodeError, AssertionError) as error:
            if isinstance(error, AssertionError):
                self.wrong = str(error)


def kill_at_random(path, kills, seed):
    """Kill the server that often; returns the folder, what was answered, and how often was tried
    again."""
    chance, maker = random.Random(seed), Maker()
    maker.wrong = ""
    folder = folder_of(path / "batch", *NAMES)
    for _ in range(kills):
        process, url = start_bench(folder, path / "home")
        work = threading.Thread(target=maker.work, args=(Client(url),))
        work.start()
        # so many more answers, however slow this machine is, and then at any moment
        enough = len(maker.saved) + chance.randint(0, 5)
        wait_for(lambda n=enough, at=work: len(maker.saved) >= n or not at.is_alive(), 60)
        time.sleep(chance.uniform(0.0, 0.2))
        end(process)
        work.join(60)
        assert not maker.wrong, maker.wrong
        if maker.next is None:
            break
    process, url = start_bench(folder, path / "home")  # brings the tables up to the journal
    Client(url).state()
    end(process)
    return folder, maker


_ADD = """async (entry) => {
  const queue = await import(new URL("static/queue.js", location.href).href);
  return queue.add(entry, 20000);
}"""


def kill_browsers(path, kills, seed):
    """Kill the browser that often while its page sends entries; as `kill_at_random`.

    What a browser kept when it died is sent by the next one, beside what the maker enters again.
    """
    from playwright.sync_api import Error, sync_playwright

    chance, maker = random.Random(seed), Maker()
    folder = folder_of(path / "batch", *NAMES)
    process, url = start_bench(folder, path / "home")
    try:
        with sync_playwright() as playwright:
            for _ in range(kills):
                browser, port = _chromium(path / "profile")
                threading.Timer(chance.uniform(2.0, 8.0), browser.kill).start()
                try:
                    there = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
                    _enter(there.contexts[0].new_page(), url, maker)
                except Error:
                    pass  # it was killed
                browser.wait(30)
                if maker.next is None:
                    break
    finally:
        end(process)
    return folder, maker


def _enter(page, url, maker):
    """Enter by the page's own queue what comes next, until the browser is gone."""
    page.goto(url)
    page.locator("article").first.wait_for()
    while maker.next:
        maker.tries[maker.next["id"]] += 1
        answer = page.evaluate(_ADD, maker.next)
        assert answer["status"] == "saved", answer
        maker.saved.append(maker.next["id"])
        maker.next = next(maker._entries, None)


def _chromium(profile):
    """Chromium in a process of its own, with a profile that stays; and the port to steer it by."""
    flags = [*FLAGS, "--headless", "--remote-debugging-port=0", f"--user-data-dir={profile}"]
    (profile / "DevToolsActivePort").unlink(missing_ok=True)
    browser = subprocess.Popen(
        [CHROMIUM, *flags], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    written = wait_for(lambda: _text(profile / "DevToolsActivePort"), 60)
    return browser, int(written.split()[0])


def _text(path):
    return path.read_text() if path.is_file() else ""


def kill_kernels(path, kills, seed):
    """Kill a kernel of JupyterLab that often while entries are sent to its bench; as
    `kill_at_random`."""
    import psutil
    from labs import TOKEN, Lab

    chance = random.Random(seed)
    maker = Maker(lambda: chance.uniform(0.0, 6.0 * kills / 448))
    maker.wrong = ""
    lab = Lab(path)
    lab.move_to(datetime.now(UTC))
    work = threading.Thread(target=maker.work, args=(lab.client(),))
    try:
        work.start()
        for _ in range(kills):
            log_in = Client(f"{lab.origin}/api/")
            status, *_ = log_in.ask("POST", "kernels", {}, Authorization=f"token {TOKEN}")
            assert status == 201, status
            started = wait_for(lambda: psutil.Process(lab.process.pid).children(recursive=True))
            time.sleep(chance.uniform(0.0, 2.0))
            for kernel in started:
                with suppress(psutil.NoSuchProcess):
                    kernel.kill()
        work.join(300)
        assert not maker.wrong, maker.wrong
    finally:
        end(lab.process)
    return lab.batch, maker


def what_is_wrong(folder, maker):
    """Sentences on what must not be; nothing when every entry is there once and none is torn."""
    wrong = []
    lines = (folder / "bench.jsonl").read_bytes().split(b"\n")
    wrong += ["the journal's last line is torn"] if lines[-1] else []
    ids = Counter(line["id"] for line in journal_of(folder))
    wrong += [f"{one} is there {ids[one]} times" for one in maker.saved if ids[one] != 1]
    found = check_batch(folder)
    must_fix = found[found["level"] == "must fix"]
    wrong += [f"must fix: {row.problem} {row.found}" for row in must_fix.itertuples()]
    if wrong:
        return wrong
    batch = read_batch(folder)
    burns = Counter(zip(batch.burns["candle"], batch.burns["burn"].astype(int), strict=True))
    whole = [one.split("-") for one in maker.saved if one.startswith("weigh")]
    wrong += [f"{n} {b} is there {burns[n, int(b)]} times" for _, n, b, _ in whole
              if burns[n, int(b)] != 1]  # fmt: skip
    checks = batch.checks.groupby(["candle", "burn"]).size()
    wrong += [f"{n} {b} has {checks.get((n, int(b)), 0)} checks" for _, n, b, _ in whole
              if checks.get((n, int(b)), 0) != 4]  # fmt: skip
    assert isinstance(checks, pd.Series)
    return wrong
