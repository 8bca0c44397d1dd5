"""Numbers agree within max(1e-6 of their size, 1e-9); texts as they are; anything that is no record
is told."""

import copy
import json

import pytest

from candlelab.share.agreement import NotResults, compare_records, read_record

RECORD = {
    "format": "candlelab results 1", "batch": {"title": "t", "candles": 2},
    "answer": ["One.", "Two."],
    "tables": {"burns": {"one_row_is": "a burn", "rows": 2,
    "columns": [{"name": n} for n in ("candle", "burn", "wax_used_g", "note")],
                         "data": [["S1", 1, 20.0, "x"], ["S1", 2, None, ""]]}},
    "inputs": [{"file": "burns.csv", "bytes": 1, "sha256": "0"}], "parameters": {},
    "versions": {"python": "3"},
}  # fmt: skip


def changed(row, column, value):
    record = copy.deepcopy(RECORD)
    record["tables"]["burns"]["data"][row][column] = value
    return record


def test_the_same_record_agrees():
    agreement = compare_records(RECORD, RECORD)
    assert agreement.words == []
    assert agreement.outside.empty
    assert agreement.numbers[
        ["table", "row", "column", "expected", "found", "difference"]
    ].values.tolist() == [
        ["batch", "", "candles", 2, 2, 0],
        ["burns", "candle S1, burn 1", "burn", 1, 1, 0],
        ["burns", "candle S1, burn 1", "wax_used_g", 20, 20, 0],
        ["burns", "candle S1, burn 2", "burn", 2, 2, 0],
    ]


@pytest.mark.parametrize(
    ("value", "inside"),
    [(20.0 * (1 + 0.9e-6), True), (20.0 * (1 + 1.1e-6), False), (20, True), (-20.0, False)],
)
def test_the_tolerance_is_a_millionth(value, inside):
    (row,) = [
        r
        for r in compare_records(RECORD, changed(0, 2, value)).numbers.itertuples()
        if r.column == "wax_used_g"
    ]
    assert row.inside is inside
    assert row.found == value
    assert row.difference == value - 20.0


def test_small_numbers_have_an_absolute_tolerance():
    for value, inside in ((1e-9, True), (2e-9, False)):
        numbers = compare_records(changed(0, 2, 0.0), changed(0, 2, value)).numbers
        assert numbers.loc[numbers["column"] == "wax_used_g", "inside"].item() is inside


def test_a_number_on_one_side_only_is_outside():
    outside = compare_records(RECORD, changed(1, 2, 5.0)).outside
    assert outside[["row", "column", "found"]].values.tolist() == [
        ["candle S1, burn 2", "wax_used_g", 5.0]
    ]
    assert outside["expected"].isna().all()
    assert len(compare_records(RECORD, changed(0, 2, None)).outside) == 1


def test_what_is_no_number_is_told_in_words():
    other = changed(0, 3, "y")
    other["answer"] = ["One."]
    other["tables"]["burns"]["data"].append(["S2", 1, 3.0, ""])
    other["tables"]["more"] = other["tables"]["burns"]
    assert compare_records(RECORD, other, sides=("A", "B")).words == [
        "The answer reads otherwise.",
        "burns, candle S1, burn 1: note is “x” against “y”.",
        "Table burns: the row candle S2, burn 1 is only in B.",
        "Table more is only in B.",
    ]


def test_of_long_texts_the_piece_that_differs_is_told():
    alike = "It went out by itself with 80 % of its wax left: S03, burn 3, after 2 h. "
    both = (changed(0, 3, alike + end) for end in ("Note: “drowned”.", "Nothing else."))
    assert compare_records(*both).words == [
        "burns, candle S1, burn 1: note is “…rn 3, after 2 h. Note: “drowned”.” against "
        "“…rn 3, after 2 h. Nothing else.”."
    ]


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "it is no JSON text in UTF-8"), (b"\xff", "it is no JSON text in UTF-8"),
         (b"[" * 100_000, "it is no JSON text in UTF-8"),
        (b"9" * 10_000, "it is no JSON text in UTF-8"), (b"[]",
         "its format is not “candlelab results 1”"),
        (json.dumps(RECORD).replace("20.0", "NaN").encode(), "it is no JSON text in UTF-8"),
        (json.dumps(RECORD).replace('"One."', '"\\ud800"').encode(), "it is no JSON text in UTF-8"),
        (json.dumps(RECORD).replace("20.0", "1e999").encode(),
         "its tables do not have the form of results"),
        (json.dumps(RECORD).replace("20.0", "[1]").encode(),
         "its tables do not have the form of results"),
        (json.dumps(RECORD).replace('"x"]', '"x", 3]').encode(),
         "its tables do not have the form of results"),
        (json.dumps({**RECORD, "tables": []}).encode(),
         "its tables do not have the form of results"),
        (json.dumps({**RECORD, "answer": "yes"}).encode(),
         "its tables do not have the form of results"),
        (json.dumps({**RECORD, "inputs": [1]}).encode(),
         "its tables do not have the form of results"),
    ],
)  # fmt: skip
def test_what_is_no_record_is_told(data, reason):
    with pytest.raises(NotResults) as caught:
        read_record(data)
    assert str(caught.value) == reason
