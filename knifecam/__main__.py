"""``python -m knifecam``."""

import sys

from knifecam.cli import main

sys.exit(main())
