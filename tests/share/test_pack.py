"""A pack holds what it should, the same bytes each time, nothing personal, and comes whole or not
at all."""

import getpass
import html.parser
import json
import os
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

import pytest
from commands import run
from packs import contents_of
from places import DEMO

from candlelab import archive
from candlelab.logs.problems import BurnLogError
from candlelab.share import pack as packing
from candlelab.share.contents import formula_cells
from candlelab.share.pack import CannotPack, make_pack

LOGS = ("batch.toml", "burns.csv", "candles.csv", "checks.csv", "wicks.csv")


def test_a_pack_holds_these_files_and_no_other(pack):
    assert list(contents_of(pack)) == [
        "READ-ME-FIRST.html",
        "READ-ME-FIRST.txt",
        *(f"batches/confirmation/{name}" for name in LOGS),
        "datapackage.json",
        "environment/environment.json",
        "environment/requirements.txt",
        "manifest-sha256.txt",
        "parameters.json",
        "reports/confirmation/batch_report.html",
        "reports/confirmation/batch_report.ipynb",
        "reports/confirmation/results.json",
        "ro-crate-metadata.json",
    ]


def test_the_logs_are_as_they_were(pack):
    files = contents_of(pack)
    for name in LOGS:
        assert files[f"batches/confirmation/{name}"] == (DEMO / "confirmation" / name).read_bytes()


def test_the_same_batch_gives_the_same_bytes(pack, tmp_path):
    again = make_pack([DEMO / "confirmation"], tmp_path / "other name.zip")
    assert again.path.read_bytes() == pack.read_bytes()
    assert again.sha256 == archive.sha256_of(pack)
    assert again.hints == ()


def test_nothing_personal_is_in_it(pack):
    words = {
        str(Path.home()),
        str(DEMO.parent.parent),
        tempfile.gettempdir() + os.sep,
        socket.gethostname(),
        f"/{getpass.getuser()}",
    }
    words = {word for word in words if len(word) > 4}  # a shorter name is found in any text
    for name, data in contents_of(pack).items():
        for word in words:
            assert word.encode() not in data, f"{word} in {name}"
        assert b"file://" not in data
    book = json.loads(contents_of(pack)["reports/confirmation/batch_report.ipynb"])
    assert set(book["metadata"]) <= {"kernelspec", "language_info"}
    assert all(not set(cell["metadata"]) - {"tags"} for cell in book["cells"])
    (parameters,) = [
        cell for cell in book["cells"] if "injected-parameters" in cell["metadata"].get("tags", [])
    ]
    assert (
        "".join(parameters["source"]) == '# Parameters\nbatch_folder = "../../batches/confirmation"'
    )


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="sha256sum is not there")
def test_the_manifest_checks_without_us(pack, tmp_path):
    archive.write_files(tmp_path / "u", contents_of(pack))
    done = subprocess.run(
        ["sha256sum", "--strict", "-c", "manifest-sha256.txt"],
        cwd=tmp_path / "u",
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0
    assert done.stdout.count(": OK") == 15


class Page(html.parser.HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags, self.text = [], ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data


def test_the_first_page_is_for_somebody_without_python(pack):
    files = contents_of(pack)
    page = Page(files["READ-ME-FIRST.html"].decode())
    assert [attrs["href"] for tag, attrs in page.tags if tag == "a"] == [
        "reports/confirmation/batch_report.html"
    ]
    assert not [tag for tag, _ in page.tags if tag in ("script", "img", "link", "iframe")]
    text = files["READ-ME-FIRST.txt"].decode()
    for words in (
        "Burn tests of Saltmarsh Lane Candles",
        "Pick square braid 2. All six candles passed every safety check.",
        "The report: reports/confirmation/batch_report.html",
        "sha256sum -c manifest-sha256.txt",
        "What is not in it",
        "running their code",
        "without the hashes of their files",
        "No cell of the tables begins like a formula",
    ):
        assert words in text
        assert words.removeprefix("The report: ") in page.text


@pytest.mark.usefixtures("quick")
def test_text_of_a_log_shows_as_text_on_the_first_page(tmp_path):
    evil = "<script>alert(1)</script> {{ 7*7 }} [x](javascript:y)"
    folder = _copy(tmp_path)
    toml = (
        (folder / "batch.toml").read_text(encoding="utf-8").replace("Saltmarsh Lane Candles", evil)
    )
    (folder / "batch.toml").write_text(toml, encoding="utf-8")
    files = contents_of(make_pack([folder], tmp_path / "x.zip").path)
    page = Page(files["READ-ME-FIRST.html"].decode())
    assert evil in page.text
    assert "script" not in [tag for tag, _ in page.tags]
    assert evil in files["ro-crate-metadata.json"].decode()


@pytest.mark.usefixtures("quick")
def test_cells_like_formulas_are_named_on_the_first_page(tmp_path):
    folder = _copy(tmp_path)
    text = (folder / "burns.csv").read_text(encoding="utf-8-sig")
    head, first, rest = text.split("\n", 2)
    (folder / "burns.csv").write_text(
        "\n".join([head, first + "=HYPERLINK(1)", rest]), encoding="utf-8"
    )
    text = contents_of(make_pack([folder], tmp_path / "x.zip").path)["READ-ME-FIRST.txt"].decode()
    assert (
        "A spreadsheet program may take cells in these places for formulas: batch/burns.csv, row "
        "2. Open the tables as text." in text
    )
    assert formula_cells({"a.csv": b"x,y\n-5,a\n1,@b\n"}) == ["a.csv, row 3"]


def _copy(tmp_path, name="batch"):
    return Path(shutil.copytree(DEMO / "confirmation", tmp_path / name))


@pytest.mark.slow
def test_without_notes(tmp_path):
    packed = make_pack([DEMO / "confirmation"], tmp_path / "x.zip", without_notes=True)
    files = contents_of(packed.path)
    for name, data in files.items():
        for note in (b"first burn, pool near the wall", b"wisp when the door", b"Invented demo"):
            assert note not in data, name
    assert json.loads(files["parameters.json"])["batches"][0]["emptied"] == [
        "batch.toml: the comments",
        "burns.csv: the cells of the column Note",
    ]
    text = files["READ-ME-FIRST.txt"].decode()
    assert (
        "Emptied: confirmation: batch.toml: the comments; confirmation: burns.csv: the cells of "
        "the column Note." in text
    )
    assert "the SHA-256 values are those of the copies" in text


@pytest.mark.usefixtures("quick")
def test_batches_of_one_name_and_of_strange_names(tmp_path):
    folders = [
        _copy(tmp_path / str(n), name)
        for n, name in enumerate(["b", "B", "CON", "蝋燭 {x} '\"", "x" * 200, "-;`id`"])
    ]
    files = contents_of(make_pack(folders, tmp_path / "x.zip").path)
    names = list(dict.fromkeys(name.split("/")[1] for name in files if name.startswith("batches/")))
    assert sorted(names) == sorted(["b", "B-2", "batch-CON", "蝋燭-x", "x" * 60, "id"])
    assert archive.read_zip(tmp_path / "x.zip") == files


def test_a_report_near_its_batch_is_packed_as_it_is(tmp_path, quick, pack):
    folder, report = _copy(tmp_path), tmp_path / "report"
    archive.write_files(
        report,
        {
            name.rpartition("/")[2]: data
            for name, data in contents_of(pack).items()
            if name.startswith("reports/")
        },
    )
    _point(report, "../batch")
    (report / "batch_report.html").write_bytes(
        (report / "batch_report.html").read_bytes() + b"<!-- mine -->"
    )
    files = contents_of(make_pack([report], tmp_path / "x.zip").path)
    assert files["reports/batch/batch_report.html"].endswith(b"<!-- mine -->")
    assert quick == []
    assert json.loads(files["parameters.json"])["batches"][0]["report"] == "as it was"
    assert b"../../batches/batch" in files["reports/batch/batch_report.ipynb"]
    (folder / "burns.csv").write_bytes(
        (folder / "burns.csv").read_bytes().replace(b"timer", b"Timer", 1)
    )
    _refused(
        [report],
        tmp_path / "x.zip",
        f"{report} was made from another state of {folder} (burns.csv). Make it again with "
        "“candlelab report”.",
    )
    _point(report, "../elsewhere")
    _refused(
        [report],
        tmp_path / "x.zip",
        f"{report} does not lie near its batch. Give the folder of the batch itself.",
    )
    (report / "batch_report.ipynb").write_text("[[")
    _refused(
        [report],
        tmp_path / "x.zip",
        f"{report / 'batch_report.ipynb'} cannot be read. Make the report again with “candlelab "
        "report”.",
    )
    (report / "batch_report.html").unlink()
    _refused(
        [report],
        tmp_path / "x.zip",
        f"{report} is not a whole report: batch_report.html is missing. Make it again with "
        "“candlelab report”.",
    )


def _point(report, way):
    book = json.loads((report / "batch_report.ipynb").read_bytes())
    packing._parameters_cell(book)["source"] = [f"# Parameters\nbatch_folder = {json.dumps(way)}"]
    (report / "batch_report.ipynb").write_text(json.dumps(book), encoding="utf-8")


def _refused(folders, out, message):
    with pytest.raises(CannotPack) as caught:
        make_pack(folders, out)
    assert str(caught.value) == message


def test_what_cannot_be_packed_is_told(tmp_path):
    folder, out = _copy(tmp_path), tmp_path / "x.zip"
    _refused([], out, "No batch is given. Give the folder of a batch, or of a report.")
    _refused(
        [tmp_path / "no"],
        out,
        f"{tmp_path / 'no'} is not a folder. Give the folder of a batch, or of a report.",
    )
    _refused([folder, folder], out, f"{folder} is given twice.")
    _refused(
        [folder],
        tmp_path / "x.tar",
        f"{tmp_path / 'x.tar'} does not end in .zip. Give a file such as batch.zip with --out.",
    )
    _refused(
        [folder],
        folder / "x.zip",
        f"{folder / 'x.zip'} is inside {folder}, which is never written to. Give another place "
        "with --out.",
    )
    (tmp_path / "d.zip").mkdir()
    _refused(
        [folder],
        tmp_path / "d.zip",
        f"{tmp_path / 'd.zip'} is a folder. Give the name of a file with --out.",
    )
    for name, make in (
        ("holiday.zip", lambda path: path.write_bytes(b"PK photos")),
        ("link.zip", lambda path: path.symlink_to(folder / "burns.csv")),
    ):
        make(tmp_path / name)
        _refused(
            [folder],
            tmp_path / name,
            f"{tmp_path / name} is there already and is no pack of candlelab. Give another name "
            "with --out.",
        )
    (folder / "burns.csv").write_text("candle;burn\n")
    with pytest.raises(BurnLogError):
        make_pack([folder], out)
    assert not out.exists()


def test_a_link_into_the_batch_does_not_lead_there(tmp_path):
    folder = _copy(tmp_path)
    (tmp_path / "way").symlink_to(folder)
    with pytest.raises(CannotPack, match="which is never written to"):
        make_pack([folder], tmp_path / "way" / "x.zip")
    assert sorted(path.name for path in folder.iterdir()) == sorted(LOGS)


@pytest.mark.usefixtures("quick")
def test_a_full_disk_leaves_the_old_pack_and_says_so(tmp_path, monkeypatch):
    folder, out = _copy(tmp_path), tmp_path / "out" / "x.zip"
    make_pack([folder], out)
    old = out.read_bytes()

    def full(target, _):
        target.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(packing, "write_zip", full)
    result = run("share", folder, "--out", out, "--without-notes")
    assert result.exit_code == 3
    assert result.stderr == "The pack was not made: [Errno 28] No space left on device\n"
    assert out.read_bytes() == old
    assert [path.name for path in out.parent.iterdir()] == ["x.zip"]


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write everywhere")
@pytest.mark.usefixtures("quick")
def test_a_folder_that_may_not_be_written_to_is_told(tmp_path):
    folder = _copy(tmp_path)
    (tmp_path / "shut").mkdir(mode=0o500)
    result = run("share", folder, "--out", tmp_path / "shut" / "x.zip")
    assert result.exit_code == 3
    assert "Permission denied" in result.stderr


@pytest.mark.usefixtures("quick")
def test_a_batch_that_may_not_be_written_to_is_packed(tmp_path):
    folder = _copy(tmp_path)
    for path in (*folder.iterdir(), folder):
        path.chmod(0o555 if path.is_dir() else 0o444)
    try:
        assert make_pack([folder], tmp_path / "x.zip").files == 16
    finally:
        folder.chmod(0o755)


@pytest.mark.usefixtures("quick")
def test_too_large_for_those_who_check_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(packing, "MOST_BYTES", 1000)
    with pytest.raises(
        CannotPack,
        match=r"the pack would have .* bytes unpacked, more than “candlelab verify” opens\. Pack "
        r"fewer batches\.",
    ):
        make_pack([DEMO / "confirmation"], tmp_path / "x.zip")


@pytest.mark.usefixtures("quick")
def test_a_path_in_a_log_is_pointed_out(tmp_path):
    folder = _copy(tmp_path)
    text = (folder / "burns.csv").read_text(encoding="utf-8-sig")
    (folder / "burns.csv").write_text(
        text.replace("wisp when", f"{Path.home()}/photos wisp when"), encoding="utf-8"
    )
    hints = make_pack([folder], tmp_path / "x.zip").hints
    assert hints == (
        "batches/batch/burns.csv holds the name of a folder of this computer. Take it out of the "
        "log, or use --without-notes.",
    )


@pytest.mark.usefixtures("quick")
def test_hashes_that_do_not_fit_are_wrong_usage(tmp_path):
    (tmp_path / "lock.txt").write_text("numpy==1.0 --hash=sha256:" + "0" * 64)
    result = run(
        "share",
        DEMO / "confirmation",
        "--out",
        tmp_path / "x.zip",
        "--hashes",
        tmp_path / "lock.txt",
    )
    assert result.exit_code == 2
    assert "the list of hashes does not fit what is installed: " in result.stderr
    assert not (tmp_path / "x.zip").exists()


@pytest.mark.usefixtures("quick")
def test_the_command_prints_the_place_and_the_fingerprint(tmp_path):
    result = run("share", DEMO / "confirmation", "--out", tmp_path / "x.zip")
    assert (result.exit_code, result.stdout) == (0, f"{tmp_path / 'x.zip'}\n")
    assert (
        result.stderr.splitlines()[0]
        == f"16 files; SHA-256 {archive.sha256_of(tmp_path / 'x.zip')}"
    )
    assert run("share", DEMO / "confirmation", "--out", tmp_path / "x.txt").exit_code == 2
    (tmp_path / "empty").mkdir()
    assert run("share", tmp_path / "empty", "--out", tmp_path / "x.zip").exit_code == 1
