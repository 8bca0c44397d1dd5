"""Lets every test import the shared ``batches`` module, whatever import mode pytest runs in."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
