"""Pages of batches: which notebook runs on which folders, and where its three files go."""

from __future__ import annotations

import os
from pathlib import Path

from candlelab.logs.batch import read_batch, refuse_unburnt
from candlelab.pages.publish import whole_folder
from candlelab.pages.run import REPORT, notebook_texts, outputs, write_text

CONFIRMATION = "confirm_pick"


COMPARISONS = {
    "wick": "compare_wicks",
    "wick_series": "compare_wicks",
    "wax": "compare_waxes",
    "fragrance_load_pct": "compare_fragrance_loads",
}


def make_report(folder: str | Path, out: str | Path, *, progress: bool = False) -> Path:
    """Report on a batch folder into ``out``; returns the path of the page.

    ``out`` gets its three files whole or not at all; an earlier report there stays until then.
    Raises BurnLogError when the batch has something to fix first, NotADirectoryError, NotOurFolder
    when ``out`` holds other files, and ReportFailed. The batch folder is never written to.
    """
    folder, out = Path(folder).resolve(), Path(os.path.abspath(out))
    _refuse_inside(out, folder)
    batch = read_batch(folder)
    refuse_unburnt(batch)
    near = {"batch_folder": _from(folder, out)}
    return _make(REPORT, out, {"batch_folder": str(folder)}, near, batch.settings.title, progress)


def make_comparison(
    folders: list[str | Path], out: str | Path, *, by: str, metric: str, progress: bool = False
) -> Path:
    """Compare the batches in ``folders`` by ``wick``, ``wick_series``, ``wax`` or
    ``fragrance_load_pct``; returns the path of the page.

    ``out`` and the errors are as in ``make_report``; ValueError for another ``by`` or ``metric``.
    """
    from candlelab.compare.pooled import METRICS

    for word, given, known in (("--by", by, COMPARISONS), ("--metric", metric, METRICS)):
        if given not in known:
            raise ValueError(f"{word} must be one of {', '.join(known)}, not {given!r}.")
    return make_page(
        COMPARISONS[by],
        folders,
        out,
        title=f"Compared by {by}",
        progress=progress,
        by=by,
        metric=metric,
    )


def make_page(
    name: str,
    folders: list[str | Path],
    out: str | Path,
    *,
    title: str,
    progress: bool = False,
    **parameters,
) -> Path:
    """Run the notebook ``name`` on the batches in ``folders``, with further ``parameters``;
    returns the path of the page.

    ``title`` stands before the folders' names in the page's title. ``out`` and the errors are as
    in ``make_report``.
    """
    folders, out = [Path(folder).resolve() for folder in folders], Path(os.path.abspath(out))
    for folder in folders:
        _refuse_inside(out, folder)
        refuse_unburnt(read_batch(folder))
    given = {"batch_folders": [str(folder) for folder in folders], **parameters}
    near = given | {"batch_folders": [_from(folder, out) for folder in folders]}
    return _make(
        name, out, given, near, f"{title}: {', '.join(folder.name for folder in folders)}", progress
    )


def make_confirmation(
    screening: str | Path,
    confirmation: str | Path,
    out: str | Path,
    *,
    candidates=(),
    progress: bool = False,
) -> Path:
    """Hold a confirmation against its screening; returns the path of the page. ``out`` and the
    errors are as in ``make_report``.

    ``candidates`` are those to judge, all that both have when empty. ValueError for an unknown one
    and for one batch given twice.
    """
    from candlelab.confirm.confirmation import confirm_pick

    folders, out = (
        [Path(folder).resolve() for folder in (screening, confirmation)],
        Path(os.path.abspath(out)),
    )
    for folder in folders:
        _refuse_inside(out, folder)
    rounds = [read_batch(folder) for folder in folders]
    confirm_pick(*rounds, candidates=candidates)  # refuses what the notebook would stumble over
    given = {
        "screening_folder": str(folders[0]),
        "confirmation_folder": str(folders[1]),
        "candidates": list(candidates),
    }
    near = given | {
        "screening_folder": _from(folders[0], out),
        "confirmation_folder": _from(folders[1], out),
    }
    return _make(CONFIRMATION, out, given, near, rounds[1].settings.title, progress)


def _refuse_inside(out: Path, folder: Path) -> None:
    real = Path(
        os.path.realpath(out)
    )  # a link may lead into the batch, and some systems know a folder by two spellings
    if folder.exists() and any(
        place.exists() and place.samefile(folder) for place in (real, *real.parents)
    ):
        raise ValueError(
            f"{out} is inside the batch folder, which is never written to. Give another place "
            "with --out."
        )


def _make(name: str, out: Path, parameters: dict, near: dict, title: str, progress: bool) -> Path:
    """Run a notebook and put its three files in place; ``near`` are the parameters as the kept
    notebook shows them."""
    with whole_folder(out, outputs(name)) as new:
        for file, text in zip(
            outputs(name), notebook_texts(name, parameters, near, title, progress)
        ):
            write_text(new / file, text)
    return out / outputs(name)[1]


def _from(folder: Path, out: Path) -> str:
    """The way from the report to its batch, if they lie near each other; else the batch's name.

    A long way up and down again would tell a reader how this machine's folders are named.
    """
    way = Path(os.path.relpath(folder, out))
    return way.as_posix() if way.parts.count("..") <= 2 else folder.name
