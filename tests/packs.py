"""Packs for tests: one made of the demo's confirmation batch, and ways to change it."""

import io
import zipfile

from candlelab.share.contents import MANIFEST, manifest


def contents_of(pack):
    """Files of a zip by name."""
    with zipfile.ZipFile(pack) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def rezipped(path, files, *, compression=zipfile.ZIP_DEFLATED):
    """A zip of these files, as some other program writes one."""
    with zipfile.ZipFile(path, "w", compression) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return path


def with_new_manifest(files):
    """The files with a manifest that fits them: what a careful forger does."""
    rest = {name: data for name, data in files.items() if name != MANIFEST}
    return {**rest, MANIFEST: manifest(rest)}


def raw_zip(*entries):
    """A zip of ``(ZipInfo or name, data)``, in memory."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for entry, data in entries:
            archive.writestr(entry, data)
    return file.getvalue()
