"""Each vessel's decision in three lines, where a page has several: pick, next step, how sure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from candlelab.judge.steps import HOW_TO
from candlelab.judge.words import named, without_vessel
from candlelab.text import capital

_MOST_STEPS = 3
_PROOF = re.compile(r" (?:is|are) not proof:(.*) like (?:it|them)")
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z“])")


class InShort(NamedTuple):
    """What stands of one vessel above the boxes, each a sentence or two."""

    pick: str
    against: str
    others: str
    steps: str
    how_sure: str

    @property
    def line(self) -> str:
        """All of it, in order."""
        told = [self.pick, self.against, *not_the_others(self.others), self.steps, self.how_sure]
        return " ".join(filter(None, told))


def not_the_others(others: str) -> list[str]:
    """The line on why the others were not picked; none where nothing is to be said."""
    return [f"Not the others: {others}"] if others else []


def in_short(decisions: Sequence[Any]) -> tuple[InShort, ...]:
    """Each `Decision` in short, in the order of the boxes; nothing where there is one vessel."""
    told = [d for d in decisions if d.in_short]
    return tuple(map(_short, told)) if len(told) > 1 else ()


def _short(d: Any) -> InShort:
    """The first sentences of what to do first, and how to confirm."""
    steps = [step for step in d.next_steps if not step.startswith(HOW_TO)][:_MOST_STEPS]
    how = [step for step in d.next_steps if step.startswith(HOW_TO)]
    first = " ".join(" ".join(_to_do(step)) for step in (*steps, *how))
    pick, against = first_sentence(f"{capital(d.vessel)}: {d.in_short}.")
    others = in_box(d.others, d)
    sure = _PROOF.sub(r":\1", first_sentence(d.how_sure)[0])
    return InShort(pick, against, others, in_box(first, d), sure)


def _to_do(step: str) -> list[str]:
    """The first sentence of a step, and what to watch."""
    first, *rest = _SENTENCE.split(step)
    return [first, *(one for one in rest if one.startswith("Watch "))]


def first_sentence(text: str) -> tuple[str, str]:
    """A text as its first sentence and what follows."""
    first, *rest = _SENTENCE.split(text, maxsplit=1)
    return first, "".join(rest)


def in_box(text: str, d: Any) -> str:
    """A sentence of a vessel's box, whose title names the vessel: its candidates without it."""
    for name in sorted(d.candidates, key=len, reverse=True):
        bare = without_vessel(name, d.vessel)
        text = text.replace(named(name), named(bare)).replace(name, bare)
    return text
