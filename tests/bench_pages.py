"""Somebody at the bench page: clicks and typing, the way a person does it."""

from datetime import timedelta

NAMES = tuple(f"A{n}" for n in range(1, 9))
READ = ("flame_height_mm", "wall_c", "pool_diameter_mm", "pool_depth_mm")
CHECKS = {
    60: dict(zip(READ, ("28", "38", "30", "3"), strict=True)),
    120: dict(zip(READ, ("29", "44,5", "50", "5"), strict=True)),
    180: dict(zip(READ, ("31", "47", "64", "7"), strict=True)),
    240: dict(zip(READ, ("30", "49", "tap", "8"), strict=True)),
}


class Person:
    """A page (or a frame in one), the clock of browser and bench together, and two hands."""

    def __init__(self, page, scope, clock, moved):
        self.page, self.scope, self.clock, self._moved = page, scope, clock, moved
        self.clicks, self.lit = 0, {}

    def wait(self, minutes):
        """Let time pass, for the computer and for the browser."""
        self.clock.move(minutes)
        self._moved(self.clock())
        self.page.clock.fast_forward(int(minutes * 60_000))
        self.see(self.clock())

    def see(self, now):
        """Wait until the page has heard of the moment."""
        shown = f"{now:%H:%M}"
        self.scope.locator("#clock").filter(has_text=shown).wait_for(timeout=20_000)

    def click(self, name, **more):
        self.clicks += 1
        self.scope.get_by_role("button", name=name, exact=True, **more).click()

    def type(self, column, text):
        field = self.scope.locator(f"#f-{column}")
        field.click()
        self.page.keyboard.type(text)

    def tap(self, column):
        self.scope.locator(f".field:has(#f-{column}) .tap").first.click()

    def choose(self, words):
        self.scope.get_by_role("radio", name=words).click()

    def yes(self, group):
        self.scope.get_by_role("group", name=group).get_by_role("radio", name="yes").click()

    def saved(self):
        """Wait until the form has gone, which it does when the entry is saved or waits."""
        try:
            self.scope.locator("dialog").wait_for(state="hidden", timeout=20_000)
        except Exception as error:
            raise AssertionError(self.scope.locator(".told").inner_text()) from error

    def light(self, name, before):
        self.click(f"Light {name}")
        self.type("wick_length_mm", "5")
        self.type("mass_before_g", before)
        self.type("room_c", "22.5")
        self.click("Lit now")
        self.saved()
        self.lit[name] = self.clock()
        self.lit[name] = self.clock()

    def check(self, name, readings):
        self.click(f"Check {name}")
        for column, text in readings.items():
            self.tap(column) if text == "tap" else self.type(column, text)
        self.tap("mushroom_mm")
        self.click("I looked: nothing of all this")
        self.click("Save check")
        self.saved()

    def put_out(self, name):
        self.click(f"Put out {name}")
        self.choose("Time is up")
        self.type("aftersmoke_s", "4")
        self.click("Flame is out")
        self.saved()

    def weigh(self, name, after):
        self.click(f"Weigh {name}")
        self.type("mass_after_g", after)
        self.click("Save weight")
        self.saved()

    def card(self, name):
        return self.scope.locator(f"#card-{name}")

    def due(self):
        return self.scope.locator("#due-words").inner_text()

    def hear(self, words):
        """Wait until the page says that something is due."""
        self.scope.locator("#due-words").filter(has_text=words).wait_for(timeout=10_000)


def log_a_session(person, seen=lambda _: None):
    """Eight candles, lit four minutes apart, checked every hour, put out after four, weighed."""
    for n, name in enumerate(NAMES):
        person.light(name, f"{400 + n}")
        person.wait(4)
    seen("lit")
    for hour, readings in CHECKS.items():
        for name in NAMES:
            due = person.lit[name] + timedelta(minutes=hour, seconds=1) - person.clock()
            if due.total_seconds() > 0:
                person.wait(due.total_seconds() / 60)
            person.hear(f"{name} check it")
            assert "DUE" in person.scope.locator("head title").text_content()
            person.check(name, readings)
            if hour == 240:
                person.hear(f"{name} put it out")
                person.put_out(name)
        seen(f"after {hour} min")
    person.wait(240)
    for n, name in enumerate(NAMES):
        person.weigh(name, f"{400 + n - 19.5}")
    seen("weighed")


def watched(page, origin):
    """Requests to elsewhere and messages of the console, as they come."""
    elsewhere, messages = [], []
    known = (origin, "data:", "blob:", origin.replace("http", "ws", 1))
    page.on("request", lambda r: None if r.url.startswith(known) else elsewhere.append(r.url))
    page.on("console", lambda m: messages.append(m.text))
    page.on("pageerror", lambda e: messages.append(str(e)))
    return elsewhere, messages
