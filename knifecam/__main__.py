"""``python -m knifecam``."""

import sys

from knifecam.cli import run

sys.exit(run())
