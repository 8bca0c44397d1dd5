"""Two pictures are the same by what they show; one that a browser may show otherwise is none."""

import io

import numpy as np
import pytest
from PIL import Image

from candlelab.share.pictures import same_picture


@pytest.fixture
def gray():
    return np.random.default_rng(1).integers(0, 256, (40, 60), dtype=np.uint8)


def png(picture, **how):
    file = io.BytesIO()
    picture.save(file, "PNG", **how)
    return file.getvalue()


def test_gray_and_colored_files_of_one_picture_are_the_same(gray):
    plain = Image.fromarray(gray)
    for kind in ("RGB", "RGBA"):
        assert same_picture(png(plain), png(plain.convert(kind), compress_level=1))
    assert not same_picture(png(plain), png(Image.fromarray(255 - gray)))
    assert not same_picture(png(plain), png(Image.fromarray(gray.T)))


def test_other_kinds_are_not(gray):
    plain = Image.fromarray(gray)
    sixteen = Image.fromarray(gray.astype(np.uint16) * 257)
    for other in (png(plain.convert("P")), png(sixteen), png(plain.convert("LA"))):
        assert not same_picture(png(plain), other)
