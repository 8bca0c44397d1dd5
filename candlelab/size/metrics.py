"""What a size can be chosen by."""

from candlelab.compare.metrics import METRICS
from candlelab.logs.columns import TARGETS

SIZE_METRICS = tuple(name for name in dict.fromkeys((*METRICS, *TARGETS)) if name != "scent")
