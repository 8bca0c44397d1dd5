"""What a size can be chosen by."""

from candlelab.compare.metrics import METRICS
from candlelab.glossary import TARGET_QUANTITIES

SIZE_METRICS = tuple(dict.fromkeys((*METRICS, *TARGET_QUANTITIES)))
