"""A batch that is kept in a workbook, packed as it is and checked like any other."""

import pytest
from books import in_book
from packs import contents_of
from places import DEMO

from candlelab.share.pack import make_pack
from candlelab.share.redaction import NotesStay
from candlelab.share.verify import verify_pack

pytestmark = pytest.mark.slow


def test_a_workbook_is_packed_as_it_is_and_read_again(tmp_path):
    folder = in_book(DEMO / "loads", tmp_path / "batch")
    (folder / "~$log.xlsx").write_bytes(b"x")
    packed = make_pack([folder], tmp_path / "pack.zip")
    files = contents_of(packed.path)
    logs = {name for name in files if name.startswith("batches/")}
    assert logs == {"batches/batch/batch.toml", "batches/batch/log.xlsx"}
    assert files["batches/batch/log.xlsx"] == (folder / "log.xlsx").read_bytes()
    assert any("log.xlsx is packed as it is" in hint for hint in packed.hints)
    result = verify_pack(packed.path)
    assert result.passed, result.findings
    with pytest.raises(NotesStay, match=r"log\.xlsx: notes are not taken out of a workbook"):
        make_pack([folder], tmp_path / "other.zip", without_notes=True)
