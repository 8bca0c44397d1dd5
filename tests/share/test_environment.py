"""Exact versions of what is installed, hashes only from a list that fits, no host."""

import re
from importlib import metadata

import pytest

from candlelab.share.environment import (
    WrongList,
    candlelab_version,
    code_digest,
    hashes_from,
    installed,
    not_pinned,
    pinned_versions,
    requirements_text,
)


def test_versions_are_those_that_are_installed():
    versions = installed()
    assert {"numpy", "pandas", "papermill", "rocrate", "statsmodels"} <= set(versions)
    assert "candlelab" not in versions
    assert list(versions) == sorted(versions)
    assert all(metadata.version(name) == version for name, version in versions.items())


@pytest.mark.slow
def test_the_list_can_be_read_back_and_names_no_host():
    text = requirements_text(installed(), {}, candlelab_version())
    assert pinned_versions(text) == installed()
    assert not_pinned(text.encode()) == []
    assert "://" not in text
    assert "hashes of their files are not known" in text


LIST = """--index-url https://example.org/simple
numpy==2.4.6 \\
    --hash=sha256:{a} \\
    --hash=sha256:{b}
    # via pandas
Pan_das==3.1.1 --hash=sha256:{a}
""".format(a="a" * 64, b="b" * 64)


def test_hashes_come_from_a_list_that_fits_whole():
    hashes = hashes_from(LIST, {"numpy": "2.4.6", "pan-das": "3.1.1"})
    assert hashes == {"numpy": ["a" * 64, "b" * 64], "pan-das": ["a" * 64]}
    text = requirements_text({"numpy": "2.4.6", "pan-das": "3.1.1"}, hashes, "0.1.0")
    assert "://" not in text
    assert "not known" not in text
    assert not_pinned(text.encode()) == []
    assert re.search(
        r"numpy==2\.4\.6 \\\n    --hash=sha256:a{64} \\\n    --hash=sha256:b{64}\n"
        r"pan-das==3\.1\.1 \\\n    --hash=sha256:a{64}\n",
        text,
    )


def test_a_list_that_does_not_fit_is_refused_by_name():
    with pytest.raises(WrongList) as caught:
        hashes_from(LIST + "scipy==1.0\n", {"numpy": "2.4.7", "scipy": "1.0", "click": "8.1"})
    assert str(caught.value) == (
        "the list of hashes does not fit what is installed: numpy 2.4.7 (the list has 2.4.6), "
        "scipy 1.0 (the list has 1.0, without a hash) and click 8.1 (the list has none)"
    )


def test_lines_that_are_no_exact_version_are_found():
    text = (
        b"# words\nnumpy==2.4.6\n-i https://example.org\nevil @ https://example.org/evil.zip\n"
        b"./evil\nscipy>=1\n\npandas==3.1.1 ; os_name == 'x'\n"
    )
    assert not_pinned(text) == [
        "-i https://example.org",
        "evil @ https://example.org/evil.zip",
        "./evil",
        "scipy>=1",
        "pandas==3.1.1 ; os_name == 'x'",
    ]


def test_the_digest_of_the_code_is_steady():
    assert re.fullmatch(r"[0-9a-f]{64}", code_digest())
    assert code_digest() == code_digest.__wrapped__() == code_digest.__wrapped__()
