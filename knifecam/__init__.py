"""knifecam: from a drawing and an order to two proved RS-274 programs.

Millimetres, radians, mm/min, rev/min, newtons and watts throughout; other units only in names
that say so, and at the border (orders, drawings, programs).
"""

__version__ = "0.1.0"
