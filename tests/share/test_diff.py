"""Two packs are compared in plain words: recipe, settings, data, parameters, versions, numbers."""

import json
import shutil
from pathlib import Path

import pytest
from commands import run
from packs import contents_of, with_new_manifest
from places import DEMO

from candlelab.archive import UnsafePack, write_zip
from candlelab.share.contents import json_bytes
from candlelab.share.diff import pack_differences
from candlelab.share.pack import make_pack

RESULTS = "reports/confirmation/results.json"


def differences(one, other):
    table = pack_differences(one, other)
    return [f"{row.section}: {row.what}" for row in table.itertuples()]


def test_a_pack_does_not_differ_from_itself(pack):
    assert differences(pack, pack) == []
    result = run("diff", pack, pack)
    assert (result.exit_code, result.stdout, result.stderr) == (0, "", "No difference.\n")


@pytest.fixture
def other(tmp_path, request):
    """The pack's batch with another wax lot, another limit, a burn weighed again, a check left out,
    without notes; results to fit."""
    request.getfixturevalue("quick")
    folder = Path(shutil.copytree(DEMO / "confirmation", tmp_path / "confirmation"))

    def edit(name, old, new):
        text = (folder / name).read_text(encoding="utf-8-sig")
        assert old in text, old
        (folder / name).write_text(text.replace(old, new, 1), encoding="utf-8-sig")

    (folder / "candles.csv").write_text(
        (folder / "candles.csv").read_text(encoding="utf-8-sig").replace("L09", "L10"),
        encoding="utf-8",
    )
    (folder / "batch.toml").write_text(
        (folder / "batch.toml")
        .read_text(encoding="utf-8")
        .replace("wall_stop_f = 149.0", "wall_stop_f = 140.0"),
        encoding="utf-8",
    )
    edit("burns.csv", "17,560;16,870", "17,560;16,860")
    lines = (folder / "checks.csv").read_bytes().splitlines(keepends=True)
    (folder / "checks.csv").write_bytes(b"".join(lines[:-1]))
    path = make_pack([folder], tmp_path / "other.zip", without_notes=True).path
    files = contents_of(path)
    record = json.loads(files[RESULTS])
    table = record["tables"]["burns"]
    table["data"][0][[c["name"] for c in table["columns"]].index("wax_used_g")] += 1.0
    record["versions"]["numpy"] = "9.9"
    record["inputs"] = [
        {"file": n.rpartition("/")[2], "bytes": len(d), "sha256": _sha(d)}
        for n, d in files.items()
        if n.startswith("batches/")
    ]
    write_zip(path, with_new_manifest(files | {RESULTS: json_bytes(record)}))
    return path


def _sha(data):
    import hashlib

    return hashlib.sha256(data).hexdigest()


def test_what_differs_is_said_in_plain_words(pack, other):
    said = differences(pack, other)
    numpy = json.loads(contents_of(pack)[RESULTS])["versions"]["numpy"]
    for line in (
        "recipe: Wax lot: L09 in A, L10 in B.",
        "settings: limits.wall_stop_c: 65 °C in A, 60 °C in B.",
        # 16.870 oz and 16.860 oz, at 28.349523125 g (NIST SP 811)
        "data: burns.csv: candle C01, burn 1: mass after 478.256 g in A, 477.973 g in B.",
        "data: burns.csv: candle C02, burn 1: note “first burn, pool near the wall at the end” in "
        "A, none in B.",
        "parameters: B was packed without its notes, A with them.",
        f"versions: report made with numpy {numpy} in A, 9.9 in B.",
    ):
        assert line in said, (line, said)
    (row,) = [line for line in said if line.startswith("data: checks.csv")]
    assert row.startswith("data: checks.csv: candle C09, burn 8, elapsed ")
    assert row.endswith(" is only in A.")
    (number,) = [line for line in said if line.startswith("numbers: ") and "wax_used_g" in line]
    assert number.startswith("numbers: burns, ")
    assert number.endswith(" g in B, difference 1.")


def test_the_command_prints_them_and_ends_with_1(pack, other):
    result = run("diff", pack, other)
    assert result.exit_code == 1
    assert (
        "data: confirmation: burns.csv: candle C01, burn 1: mass after 478.256 g in A"
        in result.stdout
    )
    assert result.stderr == f"{len(pack_differences(pack, other))} differences.\n"


@pytest.mark.usefixtures("pack", "quick")
def test_batches_are_paired_by_name(tmp_path):
    one = make_pack(
        [DEMO / "confirmation", shutil.copytree(DEMO / "confirmation", tmp_path / "spring")],
        tmp_path / "one.zip",
    ).path
    two = make_pack(
        [DEMO / "confirmation", shutil.copytree(DEMO / "confirmation", tmp_path / "autumn")],
        tmp_path / "two.zip",
    ).path
    assert pack_differences(one, two).to_dict("records") == [
        {"section": "data", "batch": "spring", "what": "This batch is only in A."},
        {"section": "data", "batch": "autumn", "what": "This batch is only in B."},
    ]


def test_a_changed_pack_is_not_compared(tmp_path, pack):
    files = contents_of(pack)
    write_zip(
        tmp_path / "x.zip",
        files | {"batches/confirmation/burns.csv": files["batches/confirmation/burns.csv"] + b"\n"},
    )
    with pytest.raises(UnsafePack) as caught:
        pack_differences(pack, tmp_path / "x.zip")
    assert (
        str(caught.value)
        == "batches/confirmation/burns.csv: Changed: its SHA-256 is not that of the manifest"
    )
    result = run("diff", pack, tmp_path / "x.zip")
    assert result.exit_code == 1
    assert result.stderr.startswith("Not compared: batches/confirmation/burns.csv: Changed: ")
    assert run("diff", pack, tmp_path / "nowhere.zip").exit_code == 2
