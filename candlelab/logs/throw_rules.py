"""Rules on scores of scent, and the codes that hide candles from whoever smells them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pandas as pd

from candlelab.logs.burn_log import among
from candlelab.logs.faults import said
from candlelab.logs.names import bare
from candlelab.logs.problems import MUST_FIX, ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.settings import Scent, Settings
from candlelab.text import listed, suggest

_NAME = re.compile(r"[^\W\d_]{2,}[ .]+[^\W\d_]{2,}")
_SIDES = ("first", "second", "stronger")


def open_codes(tables: dict[str, ReadTable], problems: ProblemList) -> None:
    """Put the candle in the place of its code, wherever the key codes.csv is there."""
    key = tables.get("codes")
    known = {}
    if key is not None and {"code", "candle"} <= set(key.found):
        known = dict(zip(key.texts("code"), key.texts("candle"), strict=True))
        code, candle = (np.asarray(key.columns[name]) for name in ("code", "candle"))
        for n in key.where((code == candle) & (code != "")):
            key.tell(problems, "code that hides nothing", n, found=code[n])
    if "throw" in tables:
        throw = tables["throw"]
        smelled = _smelled(throw, known, key is not None, problems)
        tables["throw"] = _with(throw, candle=smelled)
    if "pairs" in tables and known:
        pairs = tables["pairs"]
        opened = {side: [known.get(name, name) for name in pairs.texts(side)] for side in _SIDES}
        tables["pairs"] = _with(pairs, **opened)


def _with(table: ReadTable, **texts: Iterable[str]) -> ReadTable:
    """The table with other texts in some columns."""
    typed = {name: pd.array(column, dtype="str") for name, column in texts.items()}
    return replace(table, columns=table.columns | typed)


def _smelled(throw: ReadTable, known: dict, there: bool, problems: ProblemList) -> np.ndarray:
    """The candle in each row, named or by its code."""
    code, candle = (np.asarray(throw.columns[name]) for name in ("code", "candle"))
    meant = np.array([known.get(name, "") for name in code], dtype=object)
    given = candle != ""
    if not {"candle", "code"} & {*throw.found, *throw.excused}:
        _lacks(throw, "candle", "a column candle, or a column code with codes.csv", problems)
        return candle
    column = "candle" if "candle" in throw.found else "code"
    for n in throw.where((code == "") & ~given):
        throw.tell(problems, "neither candle nor code", n, column=column)
    if there:
        for n, times in throw.first_of_each(code, (code != "") & (meant == "")):
            do = suggest(code[n], known, "add the code to codes.csv.")
            found = code[n] + times
            throw.tell(problems, "code of no candle", n, column="code", found=found, do=do)
    elif len(rows := throw.where((code != "") & ~given)):
        times = f"{len(rows)} rows with a code"
        throw.tell(problems, "key still closed", rows[0], times=times)
    for n in throw.where(given & (meant != "") & (meant != candle)):
        values = {"code": code[n], "found": candle[n], "meant": meant[n]}
        throw.tell(problems, "candle and code do not agree", n, **values)
    return np.where(given, candle, meant)


def _lacks(throw: ReadTable, column: str, expected: str, problems: ProblemList) -> None:
    texts = said("missing column", column=column, meaning="") | {"expected": expected}
    problems.add(file=throw.spec.file, line=1, row=1, **texts)


def check_throw(throw: ReadTable, settings: Settings | None, problems: ProblemList) -> None:
    """What contradicts itself in throw.csv."""
    burn, lit = throw.numbers("burn"), throw.columns["lit"]
    if not {"score", "rank"} & {*throw.found, *throw.excused}:
        _lacks(throw, "score", "a column score, or a column rank", problems)
    if "score" in throw.found and not problems.noted(throw.spec.file, "score", [MUST_FIX]):
        for n in throw.where(np.isnan(throw.numbers("score")) & np.isnan(throw.numbers("rank"))):
            throw.tell(problems, "no score in this row", n)
    _on_scale(throw, settings.scent if settings else None, problems)
    hot, cold = lit.to_numpy(dtype=bool, na_value=False), ~lit.to_numpy(dtype=bool, na_value=True)
    if not problems.noted(throw.spec.file, "burn", [MUST_FIX]):
        for n in throw.where(hot & np.isnan(burn)):
            throw.tell(problems, "hot throw without its burn", n)
    for n in throw.where(cold & ~np.isnan(burn)):
        throw.tell(problems, "cold throw after a burn", n, found=burn[n])
    since = throw.numbers("since_lit_min")
    for n in throw.where(cold & (since > 0)):
        throw.tell(problems, "time since lighting of a cold candle", n, found=since[n])
    _places(throw, problems)
    _ranks(throw, problems)
    check_assessors(throw, problems)


def _on_scale(throw: ReadTable, scent: Scent | None, problems: ProblemList) -> None:
    if scent is None:
        return
    score = throw.numbers("score")
    words = f" ({listed(scent.words, len(scent.words))})" if scent.words else ""
    for n in throw.where(score > scent.top):
        values = {"found": score[n], "top": scent.top, "words": words}
        throw.tell(problems, "score off the scale", n, **values)
    if scent.words:
        for n in throw.where((score % 1 != 0) & (score <= scent.top)):
            throw.tell(problems, "score between two steps", n, found=score[n])


def _sittings(throw: ReadTable) -> pd.DataFrame:
    """What sets one sitting of one assessor apart."""
    return throw.frame[["assessor", "session", "burn", "smelled_on", "lit"]]


def _places(throw: ReadTable, problems: ProblemList) -> None:
    order = throw.numbers("order")
    if np.isnan(order).all():
        return
    twice = _sittings(throw).assign(order=order).duplicated() & ~np.isnan(order) & ~throw.unsure
    for n in throw.where(twice):
        row = throw.frame.iloc[n]
        values = {"found": row["order"], "assessor": row["assessor"]}
        values["session"] = row["session"] or "without a name"
        throw.tell(problems, "two candles at one place", n, **values)


def _ranks(throw: ReadTable, problems: ProblemList) -> None:
    """Ranks of a sitting have to be 1 to n, or share their middle where they are tied."""
    if np.isnan(throw.numbers("rank")).all():
        return
    keys = _sittings(throw).astype(object).map(str).agg("\n".join, axis=1)
    for _, own in throw.frame["rank"].dropna().groupby(keys, sort=False):
        if len(own) > 1 and own.sum() != len(own) * (len(own) + 1) / 2:
            n = own.index[0]
            if throw.muted[n]:
                continue
            found = listed([f"{rank:g}" for rank in np.sort(own)], 12)
            values = {"found": found, "assessor": throw.frame["assessor"].iat[n], "many": len(own)}
            throw.tell(problems, "ranks that are no order", n, **values)


def check_assessors(table: ReadTable, problems: ProblemList) -> None:
    """Names of people where codes belong, and one code in two spellings."""
    names = table.texts("assessor")
    named = {name for name in set(names) if _NAME.search(name)}
    for n, times in table.first_of_each(names, [name in named for name in names]):
        table.tell(problems, "name in place of a code", n, found=names[n] + times)
    usual: dict[str, str] = {}
    for n, _ in table.first_of_each(names, [name != "" for name in names]):
        other = usual.setdefault(bare(names[n]), names[n])
        if other != names[n]:
            values = {"found": names[n], "other": other}
            table.tell(problems, "assessor spelled in two ways", n, **values)


def check_pairs(pairs: ReadTable, candles: ReadTable | None, problems: ProblemList) -> None:
    """What contradicts itself in pairs.csv."""
    if not {*_SIDES} <= set(pairs.found):
        return
    first, second, stronger = (np.asarray(pairs.columns[side]) for side in _SIDES)
    if candles is not None and not candles.unsure.any():
        known = set(candles.texts("candle"))
        for side, names in (("first", first), ("second", second)):
            for n, times in pairs.first_of_each(names, ~among(names, known | {""})):
                do = suggest(names[n], known, "add the code to codes.csv.")
                values = {"column": side, "found": names[n] + times, "do": do}
                pairs.tell(problems, "code of no candle", n, **values)
    for n in pairs.where((first == second) & (first != "")):
        pairs.tell(problems, "smelled beside itself", n, found=second[n])
    odd = (stronger != first) & (stronger != second) & (stronger != "") & (first != second)
    for n in pairs.where(odd):
        values = {"found": stronger[n], "first": first[n], "second": second[n]}
        pairs.tell(problems, "neither of the two", n, **values)
    check_assessors(pairs, problems)
