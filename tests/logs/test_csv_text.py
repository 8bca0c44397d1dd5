"""Bytes into columns of text: encodings, delimiters, quotes,
line ends, and the place of every row."""

import csv
import io
import random

import pytest

from candlelab.logs import csv_rows, csv_text
from candlelab.logs.csv_rows import line_of_byte
from candlelab.logs.csv_text import read_records
from candlelab.logs.problems import ProblemList


def read(data, file="t.csv"):
    problems = ProblemList()
    records = read_records(data if isinstance(data, bytes) else data.encode(), file, problems)
    return records, problems.table()


def rows(records):
    return [[column.at(n) for column in records.columns] for n in range(len(records.lines))]


def test_plain_table():
    records, problems = read("a,b\n1,x\n2,y\n")
    assert records.header == ["a", "b"]
    assert rows(records) == [["1", "x"], ["2", "y"]]
    assert records.lines.tolist() == records.row_numbers.tolist() == [2, 3]
    assert (records.delimiter, records.header_line, records.header_row) == (",", 1, 1)
    assert records.widths.tolist() == [2, 2]
    assert problems.empty


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("ends", [True, False])
def test_line_ends(end, ends):
    text = 'a,b\n1,"two\nlines"\n2,y\n'.replace("\n", end)
    records, problems = read(text if ends else text.removesuffix(end))
    assert rows(records) == [["1", "two\nlines"], ["2", "y"]]
    assert records.lines.tolist() == [2, 4]
    assert records.row_numbers.tolist() == [2, 3]
    assert problems.empty


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding):
    records, problems = read("a;b\n°C;é\n".encode(encoding))
    assert rows(records) == [["°C", "é"]]
    assert list(problems["problem"]) == (["not UTF-8"] if encoding == "cp1252" else [])


def test_utf16_big_endian_with_a_mark():
    records, _ = read(b"\xfe\xff" + "a,b\n1,é\n".encode("utf-16-be"))
    assert rows(records) == [["1", "é"]]


def test_a_cut_utf16_file():
    records, problems = read("a,b\n1,é\n".encode("utf-16") + b"x")
    assert records is None
    assert list(problems["problem"]) == ["wrong encoding"]
    assert problems["found"][0] == "byte 0x78"


@pytest.mark.parametrize(
    ("text", "delimiter"),
    [
        ("a,b;c,d\n", ","),
        ("a;b;c,d\n", ";"),
        ("a\tb\n", "\t"),
        ('"a;b;c",d\n', ","),
        ("a\n", ","),
        ("\n\na;b\n", ";"),
        ("sep=|\na|b\n", "|"),
    ],
)
def test_delimiter(text, delimiter):
    records, problems = read(text)
    assert records.delimiter == delimiter
    assert problems.empty


def test_sep_line_and_blank_rows_keep_the_count():
    records, _ = read('sep=;\n\na;b\n\n1;2\n;\n" ";\n3;"x\ny"\n5;6\n')
    assert (records.header_line, records.header_row) == (3, 3)
    assert rows(records) == [["1", "2"], ["3", "x\ny"], ["5", "6"]]
    assert records.lines.tolist() == [5, 8, 10]
    assert records.row_numbers.tolist() == [5, 8, 9]


def test_quotes_as_spreadsheets_write_them():
    records, problems = read('a,b\n"he said ""clear"", then left",1\n"",2\n5" wide,3\n')
    assert rows(records) == [['he said "clear", then left', "1"], ["", "2"], ['5" wide', "3"]]
    assert problems.empty


def test_cells_are_stripped_but_not_changed():
    records, _ = read("a,b\n 007 ,\t1.50\xa0\n")
    assert rows(records) == [["007", "1.50"]]


def test_rows_of_another_width_are_filled_or_cut():
    records, _ = read("a,b,c\n1\n1,2,3,4\n,,,,\n")
    assert rows(records) == [["1", "", ""], ["1", "2", "3"]]
    assert records.widths.tolist() == [1, 4]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ('a,b,c,d,e\n1,2,3,4,"x\n2,2,3,4,y\n', "unclosed quote"),
        ('a,b,c,d,e\n1,2,3,4,"x\n2,2,3,4,y"\n', "unclosed quote"),
        ('a,b,c,d,e\n1,2,3,4,"x" y\n2,2,3,4,y\n', "broken quoting"),
        ('a,b,c,d,e\n1,2,3,4,"x\n2,2,3,4,"y"\n', "broken quoting"),
        ('a,b,c,d,e\n1,2,3,4,"x\n2,2,3,4,y\n' + "5,2,3,4,z\n" * 30_000, "unclosed quote"),
    ],
)
def test_a_broken_quote_takes_no_other_row_with_it(text, kind):
    records, problems = read(text)
    assert problems.empty  # told by the table, which knows the candle
    assert records.broken == {0: (kind, text.split("\n")[1])}
    assert rows(records)[0][:4] == ["1", "2", "3", "4"]
    assert rows(records)[1][0] == "2"
    assert records.lines.tolist()[:2] == [2, 3]


def test_a_two_line_note_may_hold_commas():
    records, _ = read('candle,burn,reason\nA1,2,"off centre\nnear the wall, low, sooty"\nA2,,x\n')
    assert rows(records) == [["A1", "2", "off centre\nnear the wall, low, sooty"], ["A2", "", "x"]]
    assert not records.broken


def test_a_broken_header_is_told():
    records, problems = read('a,"b\n1,2\n')
    assert problems.drop(columns=["row", "cell"]).iloc[0].tolist() == [
        "must fix",
        "unclosed quote",
        "t.csv",
        1,
        "",
        "",
        'a,"b',
        'quotes in pairs, as in "a note"',
        "Close the quote, or take the quotes out; the row was not read.",
    ]
    assert records.header == ["a", "b"]


def test_separator_characters_inside_a_file_do_no_harm():
    records, _ = read("a,b\nx\x1fy,p\x1eq\n")
    assert rows(records) == [["x\ufffdy", "p\ufffdq"]]


@pytest.mark.parametrize("data", [b"", b" \r\n ", b"\xef\xbb\xbf", b",,\n,,\n", b"sep=;\n"])
def test_nothing_to_read(data):
    records, problems = read(data)
    assert records is None
    assert list(problems["problem"]) == ["empty file"]


def test_line_of_a_byte():
    assert [line_of_byte(b"a\r\nb\rc\nd", n) for n in (0, 3, 5, 7)] == [1, 2, 3, 4]


@pytest.mark.slow
def test_reads_as_the_csv_module_does():
    """Random tables written by the csv module come back cell for cell."""
    rng = random.Random(20260302)
    alphabet = ["a", "é", '"', ",", ";", "\n", " x", "1.5", "", "''", "°"]
    for _ in range(200):
        width = rng.randrange(2, 5)
        body = [
            ["z" + "".join(rng.choices(alphabet, k=rng.randrange(6))) for _ in range(width)]
            for _ in range(rng.randrange(8))
        ]
        buffer = io.StringIO(newline="")
        writer = csv.writer(
            buffer, delimiter=rng.choice(",;\t"), lineterminator=rng.choice(["\n", "\r\n"])
        )
        writer.writerows([[f"h{n}" for n in range(width)], *body])
        records, problems = read(buffer.getvalue())
        assert rows(records) == [[cell.strip() for cell in row] for row in body]
        assert problems.empty
        assert not records.broken


class _Piece:
    """A column that only keeps what is added to it."""

    def add(self, *told):
        self.told = told


@pytest.mark.slow
def test_few_rows_and_many_are_told_apart_alike():
    rng = random.Random(5)
    cells = ["", "1", "12345678", "123456789", "12345678\u00e9", "x" * 16, "x" * 17, "x" * 40, " 1"]
    for n in range(200):
        widths = [rng.choice([3, 3, 3, 3, 1, 4]) for _ in range(n % 40)]
        each = [csv_rows.CELL.join(rng.choices(cells, k=width)) for width in widths]
        data, told = "".join(f"{row}\n" for row in each).encode(), []
        for way in (csv_text._few_apart, csv_text._many_apart):
            pieces = [_Piece() for _ in range(3)]
            found = way(data, pieces).tolist()
            told.append(
                (found, [(codes.tolist(), texts) for codes, texts in (p.told for p in pieces)])
            )
        assert told[0] == told[1]
        assert told[0][0] == widths


_TOLD = {}
_tell_apart = csv_text._tell_apart


def _told_once(rows, columns):
    """`_tell_apart`, once for the same rows: the same pieces come in other encodings."""
    key = rows, len(columns)
    if key not in _TOLD:
        pieces = [_Piece() for _ in columns]
        _TOLD[key] = _tell_apart(rows, pieces), pieces
    widths, pieces = _TOLD[key]
    for column, piece in zip(columns, pieces, strict=True):
        column.add(*piece.told)
    return widths


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_file_reads_the_same_in_pieces_of_any_size(encoding, end, monkeypatch):
    rng = random.Random(11)
    cells = [
        "",
        "1",
        "12.5",
        "°C",
        " x ",
        '"a,b"',
        '"two\nlines"',
        '"un',
        '"q ""z"""',
        "as long as",
    ]
    monkeypatch.setattr(csv_text, "_tell_apart", _told_once)
    tops = ["", "# one\n# two\n", "sep=,\n", "\n\n", ",,\n", '"sep=;"\n']
    for n in range(30):
        lines = [",".join(rng.choices(cells, k=rng.choice([5, 5, 5, 1, 6]))) for _ in range(12)]
        text = tops[n % len(tops)] + "a,b,c,d,e\n" + "\n".join(lines)
        data = text.replace("\n", end).encode(encoding)
        found = []
        for size in (1 << 21, 1, 23, 90):
            monkeypatch.setattr(csv_rows, "PIECE", size)
            problems = ProblemList()
            records = read_records(data, "t.csv", problems)
            lines = records.lines.tolist(), records.row_numbers.tolist(), records.widths.tolist()
            texts = [column.texts for column in records.columns]
            faults = records.broken, vars(problems)
            found.append((records.header, rows(records), texts, lines, faults))
        assert all(repr(one) == repr(found[0]) for one in found)
