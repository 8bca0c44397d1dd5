"""Where the tests find things."""

from pathlib import Path

TESTS = Path(__file__).parent
ROOT = TESTS.parent
DEMO = ROOT / "data" / "demo"
BROKEN = TESTS / "broken"
REFERENCE = TESTS / "reference"
