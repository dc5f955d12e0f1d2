"""Print the reference of the order: ``python -m knifecam.order > docs/reference/order.md``."""

import sys

from knifecam.order.reference import write_reference

sys.stdout.write(write_reference())
