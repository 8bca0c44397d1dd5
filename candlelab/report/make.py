"""Pages of batches: which notebook runs on which folders, and where its three files go.

The batches are read and worked out in the notebook's kernel only; what it refuses there comes back
as the error that it was.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from pathlib import Path

from candlelab.compare.metrics import METRICS, SHARED, WAYS
from candlelab.pages.long_tables import MOST_ROWS, beside, long_tables
from candlelab.pages.publish import whole_folder
from candlelab.pages.run import REPORT, CellFailed, notebook_texts, outputs, write_text
from candlelab.size.metrics import SIZE_METRICS

CONFIRMATION = "confirm_pick"
SIZING = "size_wick"
CLAIM = "label_claims"
SCENT = "scent_throw"
COMPARISONS = {
    "wick": "compare_wicks",
    "wick_series": "compare_wicks",
    "wax": "compare_waxes",
    "fragrance_load_pct": "compare_fragrance_loads",
}


class Refused(ValueError):
    """What was asked for cannot be done with these batches; the message says why and what to do."""


def make_report(folder: str | Path, out: str | Path, *, progress: bool = False) -> Path:
    """Report on a batch.

    Parameters
    ----------
    folder : path
        The batch folder; it is never written to.
    out : path
        Folder that gets the page, its notebook and results.json, whole or not at all. An earlier
        report there stays until then.
    progress : bool
        Show a bar while the notebook runs.

    Returns
    -------
    pathlib.Path
        The page; ``results.json`` beside it holds every number.

    Raises
    ------
    BurnLogError
        When the batch has something to fix first.
    NotADirectoryError, NotOurFolder, ReportFailed
        No such folder; ``out`` holds other files; the notebook could not be run.

    Examples
    --------
    >>> from candlelab import demo_folder, make_report
    >>> make_report(demo_folder("screening"), "report").name  # doctest: +SKIP
    'batch_report.html'
    """
    return _make(REPORT, {"batch_folder": folder}, out, progress)


def make_comparison(
    folders: Iterable[str | Path],
    out: str | Path,
    *,
    by: str,
    metric: str = "burn_rate_g_per_h",
    against: str = "",
    margin: float = 0.0,
    alike: Iterable[str] = (),
    spread: str = "",
    progress: bool = False,
) -> Path:
    """Compare candles of one or several batches.

    Parameters
    ----------
    folders : iterable of path
        The batch folders; they are never written to.
    out : path
        Folder that gets the page, its notebook and results.json, whole or not at all.
    by : {"wick", "wick_series", "wax", "fragrance_load_pct"}
        What is compared.
    metric : str
        One of `METRICS`.
    against : str
        A candidate that all others are compared with; all pairs when empty.
    margin : float
        The largest difference that does not matter, in the metric's unit: is every pair closer than
        that? Not asked when 0.
    alike : iterable of str
        What is known to make no difference: ``batch``, ``wax_lot``, ``poured_on``, ``season`` or
        ``room``.
    spread : str
        ``pooled`` or ``separate``; each candidate as it needs it when empty.
    progress : bool
        Show a bar while the notebook runs.

    Returns
    -------
    pathlib.Path
        The page; ``results.json`` beside it holds every number.

    Raises
    ------
    Refused
        For another ``by`` or ``metric``, an unknown ``against``, a margin below 0.
    BurnLogError, NotADirectoryError, NotOurFolder, ReportFailed
        As in `make_report`.

    Examples
    --------
    >>> from candlelab import demo_folder, make_comparison
    >>> make_comparison([demo_folder("waxes")], "waxes", by="wax").name  # doctest: +SKIP
    'compare_waxes.html'
    """
    _refuse_unknown("--by", by, WAYS)
    _refuse_unknown("--metric", metric, METRICS)
    for name in alike:
        _refuse_unknown("--alike", name, SHARED)
    asked = {"by": by, "metric": metric, "against": against, "margin": float(margin)}
    asked |= {"alike": list(alike), "spread": spread}
    return _make(COMPARISONS[by], {"batch_folders": list(folders)}, out, progress, **asked)


def make_sizing(
    folders: Iterable[str | Path],
    out: str | Path,
    *,
    metric: str = "burn_rate_g_per_h",
    progress: bool = False,
) -> Path:
    """Which size of each series meets the target, and what should be burned next?

    Parameters
    ----------
    folders : iterable of path
        The batch folders; they are never written to.
    out : path
        Folder that gets the page, its notebook and results.json, whole or not at all.
    metric : str
        One of `SIZE_METRICS`, in the unit that its name ends in.
    progress : bool
        Show a bar while the notebook runs.

    Returns
    -------
    pathlib.Path
        The page; ``results.json`` beside it holds every number.

    Raises
    ------
    Refused
        For another ``metric``.
    BurnLogError, NotADirectoryError, NotOurFolder, ReportFailed
        As in `make_report`.

    Examples
    --------
    >>> from candlelab import demo_folder, make_sizing
    >>> make_sizing([demo_folder("screening")], "size").name  # doctest: +SKIP
    'size_wick.html'
    """
    _refuse_unknown("--metric", metric, SIZE_METRICS)
    return _make(SIZING, {"batch_folders": list(folders)}, out, progress, metric=metric)


def make_claim(
    folders: Iterable[str | Path],
    out: str | Path,
    *,
    candidate: str,
    leave_mm: float = 12.7,
    batch_sd_pct: float = 3.0,
    progress: bool = False,
) -> Path:
    """What can be printed of a candidate: burn time, wick, cautions.

    Parameters
    ----------
    folders : iterable of path
        The batch folders; they are never written to.
    out : path
        Folder that gets the page, its notebook and results.json, whole or not at all.
    candidate : str
        The wick that the label is for, such as "square braid 2".
    leave_mm : float
        Depth of wax [mm] that the label says to leave; 0 for none.
    batch_sd_pct : float
        How much pours of one recipe differ: standard deviation from pour to pour, in percent.
    progress : bool
        Show a bar while the notebook runs.

    Returns
    -------
    pathlib.Path
        The page; ``results.json`` beside it holds every number.

    Raises
    ------
    Refused
        For a candidate that was not burned, or that stands for several recipes.
    BurnLogError, NotADirectoryError, NotOurFolder, ReportFailed
        As in `make_report`.

    Examples
    --------
    >>> from candlelab import demo_folder, make_claim
    >>> folders = [demo_folder("screening"), demo_folder("confirmation")]
    >>> make_claim(folders, "claim", candidate="square braid 2").name  # doctest: +SKIP
    'label_claims.html'
    """
    asked = {
        "candidate": candidate,
        "leave_mm": float(leave_mm),
        "batch_sd_pct": float(batch_sd_pct),
    }
    return _make(CLAIM, {"batch_folders": list(folders)}, out, progress, **asked)


def make_scent(
    folder: str | Path, out: str | Path, *, margin: float = 0.0, progress: bool = False
) -> Path:
    """What a panel says of the scent of a batch, and what it costs.

    Parameters
    ----------
    folder : path
        The batch folder; it is never written to.
    out : path
        Folder that gets the page, its notebook and results.json, whole or not at all.
    margin : float
        The largest difference that does not matter, in steps; that of ``[scent]`` when 0.
    progress : bool
        Show a bar while the notebook runs.

    Returns
    -------
    pathlib.Path
        The page; ``results.json`` beside it holds every number.

    Raises
    ------
    Refused
        When nobody scored.
    BurnLogError, NotADirectoryError, NotOurFolder, ReportFailed
        As in `make_report`.

    Examples
    --------
    >>> from candlelab import demo_folder, make_scent
    >>> make_scent(demo_folder("loads"), "scent").name  # doctest: +SKIP
    'scent_throw.html'
    """
    return _make(SCENT, {"batch_folder": folder}, out, progress, margin=float(margin))


def make_confirmation(
    screening: str | Path,
    confirmation: str | Path,
    out: str | Path,
    *,
    candidates: Iterable[str] = (),
    batch_sd_pct: float = 3.0,
    progress: bool = False,
) -> Path:
    """Hold a confirmation against its screening: does the pick stand?

    Parameters
    ----------
    screening, confirmation : path
        The two batch folders; they are never written to.
    out : path
        Folder that gets the page, its notebook and results.json, whole or not at all.
    candidates : iterable of str
        Those to judge; all that both have, when empty.
    batch_sd_pct : float
        How much pours of one recipe differ: standard deviation from pour to pour, in percent.
    progress : bool
        Show a bar while the notebook runs.

    Returns
    -------
    pathlib.Path
        The page; ``results.json`` beside it holds every number.

    Raises
    ------
    Refused
        For an unknown candidate, one that was not screened, and one batch given twice.
    BurnLogError, NotADirectoryError, NotOurFolder, ReportFailed
        As in `make_report`.

    Examples
    --------
    >>> from candlelab import demo_folder, make_confirmation
    >>> rounds = [demo_folder("screening"), demo_folder("confirmation")]
    >>> make_confirmation(*rounds, "confirmed").name  # doctest: +SKIP
    'confirm_pick.html'
    """
    folders = {"screening_folder": screening, "confirmation_folder": confirmation}
    asked = {"candidates": list(candidates), "batch_sd_pct": float(batch_sd_pct)}
    return _make(CONFIRMATION, folders, out, progress, **asked)


def _make(name: str, folders: dict, out: str | Path, progress: bool, **parameters) -> Path:
    """Run the notebook ``name`` and put its three files in place.

    ``folders`` are its parameters that name batches: a path each, or a list of paths.
    """
    out = Path(os.path.abspath(out))
    each = [Path(f).resolve() for value in folders.values() for f in _as_list(value)]
    for folder in each:
        _refuse_inside(out, folder)
        if not folder.is_dir():
            raise NotADirectoryError(
                f"{folder} is not a folder. Give the folder that holds batch.toml and burns.csv."
            )
    given = {key: _mapped(str, value) for key, value in folders.items()}
    near = {key: _mapped(lambda f: _from(f, out), value) for key, value in folders.items()}
    names = [] if name == REPORT else [folder.name for folder in each]
    try:
        with whole_folder(out, outputs(name), beside("*")) as new:
            texts = notebook_texts(name, given | parameters, near | parameters, names, progress)
            for file, text in zip(outputs(name), texts, strict=True):
                write_text(new / file, text)
            for file, text in long_tables(json.loads(texts[2]), MOST_ROWS).items():
                (new / file).write_text(text, encoding="utf-8", newline="\n")
    except CellFailed as error:
        if error.ename == "BurnLogError":
            _read_again(each)
        if error.ename in ("CannotClaim", "CannotCompare", "CannotConfirm"):
            raise Refused(error.evalue) from error
        raise
    return out / outputs(name)[1]


def _read_again(folders: Iterable[Path]) -> None:
    """Raise the BurnLogError that the kernel met, with its table of problems."""
    from candlelab.logs.batch import read_batch, refuse_unburnt

    for folder in folders:
        refuse_unburnt(read_batch(folder))


def _as_list(value) -> list:
    return value if isinstance(value, list) else [value]


def _mapped(change, value):
    paths = [change(Path(one).resolve()) for one in _as_list(value)]
    return paths if isinstance(value, list) else paths[0]


def _refuse_unknown(word: str, given: str, known: tuple[str, ...]) -> None:
    if given not in known:
        raise Refused(f"{word} must be one of {', '.join(known)}, not {given!r}.")


def _refuse_inside(out: Path, folder: Path) -> None:
    """Raise Refused when ``out`` lies in the batch folder, by whatever link or spelling."""
    real = Path(os.path.realpath(out))
    if folder.exists() and any(p.exists() and p.samefile(folder) for p in (real, *real.parents)):
        raise Refused(
            f"{out} is inside the batch folder, which is never written to. Give another place with "
            "--out."
        )


def _from(folder: Path, out: Path) -> str:
    """The way from the report to its batch, if they lie near each other; else the batch's name.

    A long way up and down again would tell a reader how this machine's folders are named.
    """
    way = Path(os.path.relpath(folder, out))
    return way.as_posix() if way.parts.count("..") <= 2 else folder.name
