"""The tables are described as each file writes them, and a validator of the standard agrees.

The validator is frictionless (Data Package and Table Schema), an outside check of the description
and of the data by it.
"""

import json
import shutil

import pytest
from batches import read
from packs import contents_of
from places import BROKEN, DEMO

from candlelab.archive import write_files
from candlelab.logs.columns import TABLES
from candlelab.logs.problems import BurnLogError
from candlelab.share.descriptions import (
    _pattern,
    data_package,
    describe_batch,
    encoding_of,
    first_and_last_day,
    package_name,
)

BATCHES = sorted(path.parent for path in DEMO.glob("*/batch.toml"))


def described(folder):
    batch = read(folder)
    files = {name: (folder / name).read_bytes() for name in batch.files["file"]}
    return {resource["name"]: resource for resource in describe_batch(batch, files)}


def faults(folder):
    frictionless = pytest.importorskip("frictionless")
    report = frictionless.validate(str(folder / "datapackage.json"))
    return report.flatten(["type", "rowNumber", "fieldName", "cell", "note"])


def copy_with_description(folder, to):
    shutil.copytree(folder, to)
    package = data_package(folder.name, "t", "d", list(described(to).values()))
    (to / "datapackage.json").write_text(json.dumps(package, ensure_ascii=False), encoding="utf-8")
    return to


@pytest.mark.slow
@pytest.mark.parametrize("folder", BATCHES, ids=lambda path: path.name)
def test_every_demo_batch_validates(tmp_path, folder):
    assert faults(copy_with_description(folder, tmp_path / "b")) == []


def readable():
    """Batches written in unusual ways that are no fault."""
    for folder in sorted(BROKEN.glob("*/batch")):
        if not folder.parent.name.endswith(
            ("reads_well", "read_well", "latin1_file", "column_without_a_name")
        ):
            continue
        try:
            read(folder)
        except BurnLogError:
            continue
        yield folder


@pytest.mark.slow
@pytest.mark.parametrize("folder", list(readable()), ids=lambda path: path.parent.name)
def test_unusual_ways_of_writing_validate(tmp_path, folder):
    """A column without a name is a fault to the standard, whatever is said of it."""
    found = [
        fault
        for fault in faults(copy_with_description(folder, tmp_path / "b"))
        if fault[0] != "blank-label"
    ]
    assert found == []


def test_a_pack_validates(tmp_path, pack):
    write_files(tmp_path / "u", contents_of(pack))
    assert faults(tmp_path / "u") == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("file", "old", "new", "fault"),
    [
        ("burns.csv", ";17,560;", ";x;", "type-error"), ("burns.csv", ";17,560;", ";-1,5;",
         "constraint-error"), ("burns.csv", "C01;2;", "C01;1;", "primary-key"),
        ("burns.csv", "02.03.2026 09:10", "2026-03-02 09:10", "type-error"), ("checks.csv", ";no;",
         ";perhaps;", "type-error"),
        ("checks.csv", "Wall [°F]", "Wall [°C]", "incorrect-label"),
    ],
)  # fmt: skip
def test_the_validator_finds_what_the_description_forbids(tmp_path, file, old, new, fault):
    folder = copy_with_description(DEMO / "confirmation", tmp_path / "b")
    text = (folder / file).read_text(encoding="utf-8-sig")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8-sig")
    assert fault in {found[0] for found in faults(folder)}


def fields(resource):
    return {field["name"]: field for field in resource["schema"]["fields"]}


def test_a_file_is_described_as_it_is_written():
    burns = described(DEMO / "confirmation")["burns"]
    assert (
        burns["encoding"],
        burns["byteOrderMark"],
        burns["dialect"]["delimiter"],
        burns["timeZone"],
    ) == ("utf-8", True, ";", "Europe/Lisbon")
    assert burns["schema"]["primaryKey"] == ["Candle", "Burn"]
    assert burns["rows"] == 79
    by_name = fields(burns)
    mass = by_name["Mass before [oz]"]
    assert (mass["type"], mass["decimalChar"], mass["unit"], mass["candlelabName"]) == (
        "number",
        ",",
        "oz",
        "mass_before_g",
    )
    assert mass["constraints"] == {"minimum": 0.0, "required": True}
    # 30 g and 5000 g over 28.349523125 g in an ounce (NIST SP 811)
    assert mass["plausible"] == {"minimum": 1.05822, "maximum": 176.37}
    assert by_name["Room [°F]"]["constraints"] == {"minimum": -459.67}  # absolute zero
    assert (by_name["Lit at"]["type"], by_name["Lit at"]["format"]) == (
        "datetime",
        "%d.%m.%Y %H:%M",
    )
    plain = described(DEMO / "screening")["burns"]
    assert (plain["byteOrderMark"], plain["dialect"]["delimiter"]) == (False, ",")
    assert fields(plain)["mass_before_g"]["decimalChar"] == "."
    assert fields(plain)["lit_at"]["format"] == "%Y-%m-%d %H:%M"


def test_every_column_that_was_read_has_its_meaning_and_unit():
    for folder in BATCHES:
        for resource in described(folder).values():
            for field in resource["schema"]["fields"]:
                column = TABLES[resource["title"].replace(" ", "_")].column(field["candlelabName"])
                assert (field["title"], field["description"], bool(field.get("unit"))) == (
                    column.label,
                    column.meaning,
                    bool(column.unit),
                )


def test_a_column_of_ones_own_is_named_and_not_explained(tmp_path):
    shutil.copytree(DEMO / "screening", tmp_path / "b")
    lines = (tmp_path / "b" / "wicks.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "b" / "wicks.csv").write_text(
        "\n".join([lines[0] + ",shelf", *(line + ",7" for line in lines[1:])]) + "\n",
        encoding="utf-8",
    )
    assert fields(described(tmp_path / "b")["wicks"])["shelf"] == {
        "name": "shelf",
        "type": "string",
        "description": "Not read by candlelab.",
    }


def test_one_pattern_is_that_of_every_time():
    days, clocks = ("2024-03-04", "2024-03-05"), ("09:10", "23:59")
    texts = [f"{day} {clock}" for day in days for clock in clocks]
    assert _pattern(texts, "time", "") == "%Y-%m-%d %H:%M"
    for other in ("2024-02-30 09:10", "2024-03-04 24:10", "2024-03-04T09:10", "2024-03-04", "x"):
        assert _pattern([*texts, other], "time", "") is None
    assert _pattern(["2024-03-04", "2024-03-05"], "date", "") == "%Y-%m-%d"
    assert _pattern(["2024-03-04", "04.03.2024"], "date", "") is None


def test_encodings():
    for name, data in (
        ("utf-8", b"a\xc3\xa4"),
        ("cp1252", b"a\xe4"),
        ("utf-8", b"\xef\xbb\xbfa"),
        ("utf-16-le", "a".encode("utf-16")),
        ("utf-16-be", b"\xfe\xff\0a"),
    ):
        assert encoding_of(data)[0] == name
        assert data == encoding_of(data)[1] + data.removeprefix(encoding_of(data)[1]).decode(
            name
        ).encode(name)


def test_names_and_days():
    assert [package_name(text) for text in ("Käfer 1/Ä", "蝋燭", "a.b_c-d")] == [
        "k-fer-1",
        "batch",
        "a.b_c-d",
    ]
    assert first_and_last_day([read(DEMO / "confirmation")]) == ("2026-03-02", "2026-03-11")
