"""The bench in a notebook: where no server has it, the cell says what to do."""

from places import DEMO, ROOT

from candlelab import show_bench
from candlelab.bench import frame


def test_without_a_server_it_says_what_to_do(capsys, monkeypatch):
    monkeypatch.setattr(frame, "list_running_servers", lambda: iter([]))
    assert show_bench(DEMO / "screening") is None
    assert f"candlelab bench {DEMO / 'screening'}" in capsys.readouterr().out


def test_a_server_without_the_bench_is_not_taken(capsys, monkeypatch):
    server = {"pid": 1, "url": "http://127.0.0.1:9/", "base_url": "/", "token": ""}
    monkeypatch.setattr(frame, "_own_server", lambda: server)
    assert show_bench(DEMO / "screening") is None
    assert "candlelab lab" in capsys.readouterr().out


def test_the_frame_is_of_the_same_server_and_holds_no_token(capsys, monkeypatch):
    server = {
        "pid": 1,
        "url": "http://localhost:8888/base/",
        "base_url": "/base/",
        "token": "secret",
    }
    monkeypatch.setattr(frame, "_own_server", lambda: server)
    monkeypatch.setattr(frame, "_there", lambda _: True)
    html = show_bench(DEMO / "screening")._repr_html_()
    assert 'src="/base/candlelab/bench/?folder=' in html
    out = capsys.readouterr().out
    assert out.startswith(
        "In a tab of its own: http://localhost:8888/base/candlelab/bench/?folder="
    )
    assert "secret" not in html + out


def test_the_place_is_that_of_the_extension():
    text = (ROOT / "candlelab" / "bench" / "extension.py").read_text(encoding="utf-8")
    assert f'PLACE = "{frame._PLACE}"' in text
