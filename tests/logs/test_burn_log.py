"""The burns of a log, found from other tables. What the rules make of them is in test_rules."""

import numpy as np
import pandas as pd

from candlelab.logs.burn_log import burn_places


def test_burn_places():
    burns = pd.DataFrame({"candle": ["B", "A", "A", "", "B"], "burn": [1, 2, 1, 1, np.nan]})
    table = pd.DataFrame(
        {
            "candle": ["A", "A", "B", "B", "C", "A", "A", "A"],
            "burn": [1, 2, 1, 2, 1, np.nan, -1, 1e300],
        }
    )
    assert burn_places(burns, table).tolist() == [2, 1, 0, -1, -1, -1, -1, -1]
    assert burn_places(
        burns, table.rename(columns={"burn": "before_burn"}), "before_burn"
    ).tolist()[:2] == [2, 1]
    assert burn_places(burns.head(0), table).tolist() == [-1] * 8
    assert burn_places(burns, table.head(0)).tolist() == []
