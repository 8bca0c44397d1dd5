"""A pack with a false word, unit, picture or key is never verified, wherever it says that it is
from."""

import json
import zipfile

import pytest
from commands import run
from forgeries import CLAIMS, FORGERIES, OF_PICTURES, OF_RESULTS, claimed, forged_files
from packs import rezipped, with_new_manifest

from candlelab.share import verify
from candlelab.share.verify import verify_pack

# Every forgery under the pack's own name, and most under one other name as well; all of them under
# all names are tried by benchmarks/hostile_packs.py.
CASES = [("this version", name) for name in FORGERIES]
CASES += [
    (claim, name)
    for claim in CLAIMS
    if claim != "this version"
    for n, name in enumerate(FORGERIES)
    if n % 12 == list(CLAIMS).index(claim)
]
# Nothing that an earlier version may have written: its own numbers or another file contradict it.
CONTRADICTED = {
    "another outcome", "another limit", "another mass", "another rate", "a doubled key",
    "a doubled answer", "READ-ME", "READ-ME as text", "other results in the notebook",
    "a version that is none", "a version in words", "a key more of the environment",
    "a report of another kind", "notes said to be emptied", "something said to be emptied",
}  # fmt: skip


@pytest.fixture
def zipped(tmp_path, quick, monkeypatch):
    """Zips files, quickly; whether a zip is as we write it is not the question here."""
    assert quick == []
    monkeypatch.setattr(verify, "written_by_us", lambda *_: True)
    path = tmp_path / "forged.zip"
    return lambda files: rezipped(path, files, compression=zipfile.ZIP_STORED)


def test_there_are_more_than_150():
    assert len(CASES) > 150


@pytest.mark.parametrize(("claim", "name"), CASES)
def test_a_pack_with_a_false_word_is_not_verified(zipped, pack_files, claim, name):
    result = verify_pack(zipped(forged_files(pack_files, claim, name)))
    levels = set(result.findings["level"])
    assert not result.passed
    assert result.numbers_only <= (claim in ("an earlier version", "other packages"))
    if claim != "an earlier version":
        # another matplotlib may draw otherwise
        assert "problem" in levels or (claim == "other packages" and name in OF_PICTURES)


@pytest.mark.parametrize("claim", CLAIMS)
def test_a_true_pack_is_verified_from_wherever_it_is(zipped, pack_files, claim):
    """But for an earlier version's, whose words are not what is said today."""
    path = zipped(with_new_manifest(claimed(pack_files, claim)))
    result = run("verify", path)
    if claim == "an earlier version":
        assert result.exit_code == 4
        assert result.stderr.startswith("The numbers follow from the logs. The words are not ver")
    else:
        assert result.exit_code == 0, result.output
        assert result.stderr.startswith("Verified: every number, word and picture follows from")


@pytest.mark.parametrize("name", sorted(CONTRADICTED))
def test_what_contradicts_itself_is_a_problem_in_a_pack_of_an_earlier_version_too(
    zipped, pack_files, name
):
    path = zipped(forged_files(pack_files, "an earlier version", name))
    result = run("verify", path)
    assert result.exit_code == 1, result.output
    assert result.stderr.startswith("Not verified: ")


@pytest.mark.parametrize("name", list(OF_RESULTS)[:24])
def test_what_is_false_in_the_results_is_named_with_both_sides(zipped, pack_files, name):
    path = zipped(forged_files(pack_files, "another version", name))
    told = verify_pack(path).findings
    told = told[(told["level"] == "problem") & told["where"].str.endswith("results.json")]
    assert len(told)
    assert told["what"].str.contains("against|only in|otherwise|order|expected").all()


def test_notes_are_kept(pack_files):
    assert json.loads(pack_files["parameters.json"])["without_notes"] is False
