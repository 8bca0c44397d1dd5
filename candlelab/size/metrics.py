"""What a size can be chosen by."""

from candlelab.compare.metrics import METRICS
from candlelab.glossary import TARGET_QUANTITIES

SIZE_METRICS = tuple(
    name for name in dict.fromkeys((*METRICS, *TARGET_QUANTITIES)) if name != "scent"
)
