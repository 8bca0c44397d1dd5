"""What the pages of two batches given together say of a wick of which a candle failed."""

from __future__ import annotations

from hidden import Failure, safe_calls, words_of

from candlelab.claim.claims import CannotClaim, claim_label
from candlelab.claim.outcome import NOT_YET
from candlelab.confirm.confirmation import CannotConfirm, confirm_pick
from candlelab.confirm.verdict import STANDS
from candlelab.judge.together import side_by_side, together
from candlelab.judge.worked import WorkedBatch


def safe_of_both(worked: list[WorkedBatch], failure: Failure) -> list[str]:
    """What the label and the confirmation say of the wick when both batches are given."""
    wick = f"{failure.series} {failure.size}"
    said = safe_calls(together(side_by_side(worked)), failure)
    try:
        claim = claim_label(worked, wick)
        if claim.outcome != NOT_YET and failure.candle not in words_of(" ".join(claim.answer)):
            said.append(f"claim, {claim.outcome}: {' '.join(claim.answer)}")
    except CannotClaim:
        pass
    try:
        confirmed = confirm_pick(worked[0].batch, worked[1].batch)
        for row in confirmed.verdicts.itertuples():
            stands = row.candidate.startswith(wick) and row.verdict == STANDS
            if stands and failure.candle not in words_of(row.because):
                said.append(f"confirm, {row.candidate}: {row.because}")
    except (CannotConfirm, ValueError):
        pass
    return said
