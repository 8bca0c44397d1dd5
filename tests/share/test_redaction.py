"""Notes go, every other byte stays."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from places import DEMO

from candlelab.share.redaction import NotesStay, _settings_without_comments, without_notes


def files_of(name):
    return {path.name: path.read_bytes() for path in sorted((DEMO / name).iterdir())}


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("confirmation", ["batch.toml: the comments", "burns.csv: the cells of the column Note"]),
        ("screening",
         ["batch.toml: the comments", "burns.csv: the cells of the column note",
         "checks.csv: the cells of the column note",
                       "wick_changes.csv: the cells of the column note"]),
    ],
)  # fmt: skip
def test_says_what_it_emptied(name, said):
    assert without_notes(files_of(name))[1] == said


def test_only_the_notes_of_a_table_change():
    files = files_of("confirmation")
    new, _ = without_notes(files)
    for file in ("candles.csv", "checks.csv", "wicks.csv"):
        assert new[file] == files[file]
    before, after = files["burns.csv"].split(b"\n"), new["burns.csv"].split(b"\n")
    assert len(before) == len(after)
    assert after[0] == before[0]
    for old, emptied in zip(before[1:], after[1:], strict=True):
        assert emptied == (old[: old.rindex(b";") + 1] if old else b"")


def test_comments_go_and_what_only_looks_like_one_stays():
    toml = (
        "# who\ntitle = \"a # b\" # mine\nquestion = '''x # y\n# z'''\nstudio = \"\\\"# no\" # "
        '"yes"\n'
    )
    assert (
        _settings_without_comments("batch.toml", toml.encode())
        == b"\ntitle = \"a # b\" \nquestion = '''x # y\n# z'''\nstudio = \"\\\"# no\" \n"
    )


HEAD = "candle,burn,lit_at,out_at,mass_before_g,mass_after_g,note,Remarks\r\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_quotes_line_breaks_and_columns_of_ones_own(encoding):
    text = (
        HEAD + 'S1,1,2026-02-02 09:00,2026-02-02 13:00,400,380,"said ""hm"",\r\nthen, left",by '
        'Ann\r\n"S1",2,2026-02-03 09:00,2026-02-03 13:00,380,360,,\r\n'
    )
    new, said = without_notes({"burns.csv": text.encode(encoding)})
    expected = (
        HEAD + 'S1,1,2026-02-02 09:00,2026-02-02 13:00,400,380,,\r\n"S1",2,2026-02-03 '
        "09:00,2026-02-03 13:00,380,360,,\r\n"
    )
    assert new["burns.csv"] == expected.encode(encoding)
    assert said == [
        "burns.csv: the cells of the column note",
        "burns.csv: the cells of the column Remarks",
    ]


def test_windows_text_and_a_line_that_names_the_mark():
    text = 'sep=;\nCandle;Note;Burn\nKäfer;grün "quer";1\nS2;"a;b";2\n'
    new, _ = without_notes({"burns.csv": text.encode("cp1252")})
    assert new["burns.csv"] == "sep=;\nCandle;Note;Burn\nKäfer;;1\nS2;;2\n".encode("cp1252")


@pytest.mark.slow
@given(
    st.lists(
        st.tuples(
            st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=20),
            st.integers(1, 9),
        ),
        max_size=6,
    )
)
def test_any_note_goes_and_nothing_else(rows):
    def table(with_notes):
        quoted = [
            (n, '"' + note.replace('"', '""') + '"' if with_notes and note.strip() else "")
            for note, n in rows
        ]
        return "candle,note,burn\n" + "".join(f"S{n},{note},{n}\n" for n, note in quoted)

    expected = table(False)
    try:
        found = without_notes({"burns.csv": table(True).encode()})[0]["burns.csv"].decode()
    except NotesStay as error:
        found, expected = str(error).rpartition("; ")[2], "take them out by hand"
    assert found == expected
