"""Tables and sentences as HTML: escaped, with heads, and words for every picture."""

import re

import numpy as np
import pandas as pd
import pytest
from matplotlib import pyplot as plt

from candlelab.pages import show as page
from candlelab.pages.glossary import column

EVIL = "<script>alert(1)</script><img src=x onerror=alert(2)> $5 =SUM(A1) {{ 7*7 }} &amp; \"q\" 'a'"


@pytest.fixture
def shown(monkeypatch):
    out = []
    monkeypatch.setattr(page, "display", lambda *args, **kwargs: out.append((args[0], kwargs)))
    return out


def _html(shown):
    return "".join(item.data for item, _ in shown)


def test_a_table_escapes_every_text(shown):
    page.show_table(pd.DataFrame({"candle": [EVIL], "note": [EVIL]}), EVIL, note=EVIL)
    page.show_answer([EVIL])
    page.show_heading(EVIL, EVIL)
    page.show_list([EVIL])
    html = _html(shown)
    assert "{{ 7*7 }}" in html
    assert not any(text in html for text in ("<script", "<img", "49"))
    assert html.count("&lt;script&gt;alert(1)&lt;/script&gt;") == 8
    assert "$5 =SUM(A1)" in html


def test_a_table_has_heads_caption_and_rounded_numbers(shown):
    table = pd.DataFrame(
        {
            "candle": ["S1"],
            "burn_rate_g_per_h": [5.678],
            "wall_max_c": [np.nan],
            "excluded": [True],
            "n_burns": [9],
        }
    )
    page.show_table(table, "Each candle")
    html = _html(shown)
    assert '<caption id="table-each-candle">Each candle</caption>' in html
    assert '<th scope="row">S1</th>' in html
    assert re.findall(r"<td[^>]*>([^<]*)</td>", html) == ["5.68", "–", "yes", "9"]
    assert re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', html) == [
        "candle",
        "burn rate (g/h)",
        "highest wall temperature (°C)",
        "set aside",
        "burns",
    ]


def _heads(shown):
    return re.findall(r'<th scope="col"[^>]*title="([^"]*)">([^<]*)</th>', _html(shown))


def test_a_table_by_its_name_has_the_headings_and_meanings_of_its_own(shown):
    table = pd.DataFrame({"wax": ["a"], "estimate": [0.5], "because": ["it does"]})
    page.show_table(table, "Slope", name="slope", columns=["wax", "estimate"])
    assert [head for _, head in _heads(shown)] == ["wax", "slope"]
    shown.clear()
    page.show_table(table, "Ends", name="ends", columns=["wax", "estimate"])
    assert [head for _, head in _heads(shown)] == ["wax", "slope at this load"]
    shown.clear()
    page.show_table(table, "Not counted", name="not_counted", columns=["wax", "because"])
    assert _heads(shown)[1][0] == "why it is no fresh evidence, or measured no whole life"


def test_words_of_a_page_stand_once_for_each_meaning(shown):
    used = ["df", column("estimate", "slope"), column("estimate", "ends"), column("df", "slope")]
    page.show_glossary(used, {"REML": "a way"})
    words = re.findall(r'<th scope="row">([^<]*)</th>', _html(shown))
    assert words == ["degrees of freedom", "slope", "slope at this load", "REML"]


def test_an_empty_table_says_so(shown):
    page.show_table(pd.DataFrame({"candle": []}), "Each candle", nothing="Nothing was left out.")
    assert "Nothing was left out." in _html(shown)
    assert "<table" not in _html(shown)


def test_a_grid_has_a_mark_and_a_word_in_each_cell(shown):
    criteria = pd.DataFrame(
        {
            "candle": ["S1", "S1"],
            "run": [1, 1],
            "wick": ["flat 3"] * 2,
            "excluded": [True] * 2,
            "criterion": ["soot", "flame"],
            "outcome": ["fail", "not checked"],
        }
    )
    page.show_grid(criteria, "Grid")
    html = _html(shown)
    assert '<th scope="row">S1 (set aside), flat 3</th>' in html
    assert (
        '<td class="mid bad"><span aria-hidden="true">✗</span><span class="unseen">'
        "fail</span></td>" in html
    )
    assert (
        '<td class="mid open"><span aria-hidden="true">?</span><span class="unseen">not '
        "checked</span></td>" in html
    )


def test_criteria_show_what_the_passes_show(shown):
    row = {
        "candidate": "a",
        "criterion": "soot",
        "outcome": "pass",
        "n_met": 3,
        "n_not_met": 0,
        "n_candles": 3,
    }
    page.show_criteria(
        pd.DataFrame([row, row | {"candidate": "b", "n_met": 0, "outcome": "not checked"}]),
        "Criteria",
    )
    assert "✓ 3/3 (63\u00a0%)" in _html(shown)  # 1 - 0.05^(1/3)
    assert "? 0/3<" in _html(shown)


def test_targets_show_mean_and_candles_inside(shown):
    row = {
        "candidate": "a",
        "target": "wall_max_c",
        "low": np.nan,
        "high": 60.0,
        "mean": 53.77,
        "n_inside": 2,
        "n_candles": 3,
    }
    page.show_targets(
        pd.DataFrame(
            [
                row,
                row | {"target": "full_pool_h", "low": 2.0, "high": 4.0},
                row | {"target": "life_h", "low": 32.0, "high": np.nan},
            ]
        ),
        "Targets",
        nothing="none",
    )
    html = _html(shown)
    assert "53.8 (2 of 3)" in html
    for head in (
        "highest wall temperature (°C): at most 60",
        "time to full pool (h): 2 to 4",
        "life (h): at least 32",
    ):
        assert f">{head}</th>" in html


def test_a_target_of_one_vessel_is_blank_for_the_candidates_of_another(shown):
    row = {"candidate": "a", "target": "life_h", "low": 32.0, "high": np.nan, "mean": 33.0}
    row |= {"n_inside": 3, "n_candles": 3}
    page.show_targets(
        pd.DataFrame([row, row | {"candidate": "b", "low": 24.0, "mean": 25.0}]),
        "Targets",
        nothing="none",
    )
    html = _html(shown)
    assert html.count("(3 of 3)") == 2
    assert ">life (h): at least 32</th>" in html
    assert ">life (h): at least 24</th>" in html


def test_a_figure_needs_words(shown):
    figure = plt.figure()
    with pytest.raises(ValueError, match="the figure has no words"):
        page.show_figure(figure)
    figure.set_label('Words with "quotes"')
    page.show_figure(figure)
    assert shown[-1][1]["metadata"] == {"image/png": {"alt": 'Words with "quotes"'}}
    assert not plt.fignum_exists(figure.number)


def test_values_as_text():
    assert page.format_value("burn_rate_u_g_per_h", 0.01823) == "0.018"
    assert (
        page.format_value("lit_at", pd.Timestamp("2026-03-02 09:10", tz="Europe/Lisbon"))
        == "2026-03-02 09:10"
    )
    assert page.format_value("soot_max", 3.0) == "3"
    assert page.format_value("target", "wall_max_c") == "highest wall temperature (°C)"
    assert page.format_value("burn", pd.NA) == page.format_value("note", "") == "–"


def test_nothing_is_never_less_than_nothing():
    assert page.format_value("wax_left_pct", -0.01) == "0.0"
    assert page.format_value("burn_rate_u_g_per_h", -0.0001) == "0.000"


def test_a_sign_without_a_font_is_no_warning(shown):
    figure = plt.figure()
    figure.set_label("a sign that no font has")
    figure.text(0.5, 0.5, "\ue123")
    page.show_figure(figure)
    assert len(shown) == 1
