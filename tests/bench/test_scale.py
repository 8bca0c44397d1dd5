"""A scale at a pseudo-terminal: a right weight or a sentence, never a wrong number.

The forms of lines are those that operating manuals of laboratory and shop scales print.
"""

import os
import threading
import time

import pytest
from batches import TOML
from benches import folder_of
from hypothesis import given
from hypothesis import strategies as st

from candlelab.bench import scale as scale_module
from candlelab.bench.desk import Desk
from candlelab.bench.scale import ScaleReader
from candlelab.bench.scale_line import (
    GARBLED,
    NEGATIVE,
    OVERLOAD,
    UNDERLOAD,
    UNKNOWN,
    UNSTEADY,
    Weight,
    read_line,
)
from candlelab.logs.batch import check_batch
from candlelab.logs.settings import Scale

NOT_A_WEIGHT = "not a weight as this page knows them"


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (b"S S      312.40 g", ("312.40", "g")),
        (b"S S     -  3.20 g", NEGATIVE),
        (b"S D      312.41 g", UNSTEADY),
        (b"S I", UNSTEADY),
        (b"S +", OVERLOAD),
        (b"S -", UNDERLOAD),
        (b"ES", UNKNOWN),
        (b"ST,GS,+  312.40  g", ("312.40", "g")),
        (b"US,GS,+  312.40  g", UNSTEADY),
        (b"OL,GS,+9999.99  g", OVERLOAD),
        (b"+   312.40 g  ", ("312.40", "g")),
        (b"-   312.40 g  ", NEGATIVE),
        (b"+  312.40", ("312.40", "g")),
        (b"N     +  11.020 oz", ("11.020", "oz")),
        (b"0.3124 kg", ("0.3124", "kg")),
        (b"S S      1562.0 ct", "The scale shows ct. Set it to one of g, kg, lb, oz."),
        (b"-----", OVERLOAD),
        (b"EEEEE", OVERLOAD),
        (b"312.40 g312.41 g", NOT_A_WEIGHT),
        (b"3 2.40 g", NOT_A_WEIGHT),
        (b"312,40 g", NOT_A_WEIGHT),
        (b"1,312.40 g", NOT_A_WEIGHT),
        (b"11 lb 3.2 oz", NOT_A_WEIGHT),
        (b"hello", NOT_A_WEIGHT),
        (b"\xe1\x9b\x83\xff\xd1", GARBLED),
        (b"312.40 \xe7", GARBLED),
    ],
)
def test_a_line_is_a_weight_or_a_sentence(line, expected):
    found = read_line(line, "g")
    if isinstance(expected, tuple):
        assert (found.text, found.unit) == expected
    else:
        assert isinstance(found, str)
        assert expected in found


@given(st.binary(max_size=40))
def test_no_bytes_make_an_error_or_a_weight_that_is_not_written_in_them(data):
    found = read_line(data.replace(b"\r", b"").replace(b"\n", b""), "g")
    if isinstance(found, Weight):
        assert found.text.encode().rstrip(b".") in data


def test_a_weight_without_a_unit_takes_that_of_the_settings():
    assert read_line(b"+ 11.02", "oz").unit == "oz"
    assert "names no unit" in read_line(b"+ 11.02", "")


@pytest.mark.parametrize(
    ("text", "unit", "to", "expected"),
    [
        ("312.40", "g", "g", "312.40"),
        ("312.40", "g", "oz", "11.0196"),  # NIST SP 811: 28.349523125 g in an ounce
        ("11.020", "oz", "g", "312.41"),
        ("0.3124", "kg", "g", "312.4"),
    ],
)
def test_another_unit_keeps_what_the_scale_can_tell_apart(text, unit, to, expected):
    assert Weight(text, unit, True, True, "").in_unit(to) == expected


class Fake:
    """A scale at the other end of a pseudo-terminal; ``answers`` maps a moment to bytes."""

    def __init__(self, tmp_path, name="scale"):
        import pty
        import tty

        self.end, self.ours = pty.openpty()
        tty.setraw(self.end)
        tty.setraw(self.ours)
        self.path = tmp_path / name
        self.path.symlink_to(os.ttyname(self.ours))
        self._stop = threading.Event()
        self.asked = b""

    def say(self, *pieces, every=0.02):
        """Send pieces again and again, as a scale that talks."""

        def talk():
            while not self._stop.is_set():
                for piece in pieces:
                    if self._stop.is_set():
                        return
                    os.write(self.end, piece)
                    time.sleep(every)

        self._start(talk)

    def answer(self, *answers):
        """Answer each question with the next of some answers, the last one again and again."""
        left = list(answers)

        def listen():
            os.set_blocking(self.end, False)
            while not self._stop.is_set():
                try:
                    asked = os.read(self.end, 100)
                except BlockingIOError:
                    time.sleep(0.01)
                    continue
                except OSError:
                    return
                self.asked += asked
                for piece in left.pop(0) if len(left) > 1 else left[0]:
                    os.write(self.end, piece)
                    time.sleep(0.02)

        self._start(listen)

    def _start(self, work):
        self._thread = threading.Thread(target=work, daemon=True)
        self._thread.start()

    def unplug(self):
        self._stop.set()
        if hasattr(self, "_thread"):
            self._thread.join(5)
        os.close(self.end)
        os.close(self.ours)
        self.path.unlink()


@pytest.fixture
def fakes(tmp_path):
    pytest.importorskip("serial", reason="the extra scale is not installed")
    pytest.importorskip("pty", reason="no pseudo-terminals here")
    made = []

    def make(name="scale"):
        made.append(Fake(tmp_path, name))
        return made[-1]

    yield make
    for fake in made:
        try:
            fake.unplug()
        except OSError:
            continue  # unplugged by the test


def reader(fake, kind, unit="g", port=None):
    return ScaleReader(Scale(port=port or str(fake.path), kind=kind, unit=unit))


def weight(found):
    assert isinstance(found, Weight), found
    return found.text, found.unit, found.line


def test_a_steady_answer_is_the_weight(fakes):
    fake = fakes()
    fake.answer([b"S S      312.40 g\r\n"])
    assert weight(reader(fake, "asks").read()) == ("312.40", "g", "S S      312.40 g")
    assert fake.asked == b"S\r\n"


def test_an_answer_in_pieces_is_one_line(fakes):
    fake = fakes()
    fake.answer([b"S S    ", b"  31", b"2.40 ", b"g\r", b"\n"])
    assert weight(reader(fake, "asks").read())[0] == "312.40"


def test_it_waits_until_the_weight_is_steady(fakes):
    fake = fakes()
    fake.answer([b"S D      312.9 g\r\n"], [b"S I\r\n"], [b"S S      312.4 g\r\n"])
    assert weight(reader(fake, "asks").read())[0] == "312.4"


@pytest.mark.parametrize(
    ("answer", "sentence"),
    [
        (b"S D      312.9 g\r\n", UNSTEADY), (b"S +\r\n", OVERLOAD), (b"S -\r\n", UNDERLOAD),
        (b"S S       -3.2 g\r\n", NEGATIVE), (b"ES\r\n", UNKNOWN),
        (b"\xe1\x9b\x83\xff\xd1\x80\r\n", GARBLED),
    ],
)  # fmt: skip
def test_no_steady_weight_is_a_sentence(fakes, answer, sentence):
    fake = fakes()
    fake.answer([answer])
    assert reader(fake, "asks").read(wait_s=0.6) == sentence


def test_two_lines_at_once_are_two_lines(fakes):
    fake = fakes()
    fake.answer([b"S D      312.9 g\r\nS S      312.4 g\r\n"])
    assert weight(reader(fake, "asks").read())[0] == "312.4"


@pytest.mark.slow
def test_a_scale_that_talks_is_steady_when_it_stays_the_same(fakes):
    fake = fakes()
    fake.say(b"+   312.40 g  \r\n")
    assert weight(reader(fake, "talks").read()) == ("312.40", "g", "+   312.40 g")


def test_the_rest_of_a_line_under_way_is_not_a_weight(fakes):
    fake = fakes()
    scale = reader(fake, "talks")
    threading.Timer(0.3, os.write, (fake.end, b"2.40 g\r\n")).start()
    assert not isinstance(scale.read(wait_s=0.8), Weight)


@pytest.mark.slow
def test_a_number_that_moves_is_not_taken(fakes):
    fake = fakes()
    fake.say(*(b"+   %d.40 g\r\n" % n for n in range(300, 320)))
    assert reader(fake, "talks").read(wait_s=1.5) == UNSTEADY


@pytest.mark.slow
def test_a_scale_that_leaves_the_unit_out_while_it_moves(fakes):
    fake = fakes()
    fake.say(*[b"+   312.90   \r\n"] * 30, *[b"+   312.40 g\r\n"] * 80)
    assert weight(reader(fake, "talks").read(wait_s=6))[0] == "312.40"


def test_steady_by_its_own_word(fakes):
    fake = fakes()
    fake.say(b"US,GS,+  311.10  g\r\n", b"US,GS,+  312.10  g\r\n", b"ST,GS,+  312.40  g\r\n")
    assert weight(reader(fake, "talks").read())[0] == "312.40"


@pytest.mark.parametrize("kind", ["asks", "talks"])
def test_a_wrong_baud_is_a_sentence(fakes, kind):
    fake = fakes()
    fake.say(b"\xe1\x9b\x83\xff", b"\xd1\x80\xfe")
    assert reader(fake, kind).read(wait_s=1) == GARBLED


@pytest.mark.parametrize("kind", ["asks", "talks"])
def test_silence_is_a_sentence(fakes, kind):
    assert reader(fakes(), kind).read(wait_s=0.4) == scale_module.SILENT


def test_unplugged_and_plugged_in_again_under_another_name(fakes, tmp_path):
    fake = fakes("usb0")
    fake.answer([b"S S      312.40 g\r\n"])
    scale = reader(fake, "asks", port=str(tmp_path / "usb*"))
    assert weight(scale.read())[0] == "312.40"
    fake.unplug()
    assert scale.read() == scale_module.PULLED
    assert scale.read().startswith("There is no scale at ")
    other = fakes("usb1")
    other.answer([b"S S      300.10 g\r\n"])
    assert weight(scale.read())[0] == "300.10"


def test_a_port_that_is_in_use_is_said(fakes):
    fake = fakes()
    fake.answer([b"S S      312.40 g\r\n"])
    first = reader(fake, "asks")
    weight(first.read())
    assert reader(fake, "asks").read().endswith("is in use by another program: close it there.")
    first.close()


def test_without_a_scale_nothing_is_opened():
    assert ScaleReader(Scale()).read() == scale_module.NOT_SET


def test_without_the_extra_it_is_said(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "serial", None)
    assert ScaleReader(Scale(port="x")).read() == scale_module.NOT_INSTALLED


def test_settings_of_a_scale_are_read_and_checked(tmp_path):
    text = '[scale]\nport = "/dev/ttyUSB0"\nbaud = 4800\nkind = "asks"\nunit = "g"\n'
    folder = folder_of(tmp_path / "batch", toml=TOML + text)
    settings = Desk(folder).reader.reading().settings.scale
    assert settings == Scale("/dev/ttyUSB0", 4800, "asks", "g")
    (folder / "batch.toml").write_text(
        TOML + text.replace('"asks"', '"sings"').replace('unit = "g"', 'unit = "stone"')
    )
    found = check_batch(folder).query("column.str.startswith('scale')")
    assert found[["column", "problem", "found", "expected"]].values.tolist() == [
        ["scale.kind", "not one of the choices", "sings", "asks or talks"],
        ["scale.unit", "not one of the choices", "stone", "g, kg, oz or lb"],
    ]
