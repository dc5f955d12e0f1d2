"""The version, alone, so that a room can say it without loading another."""

__version__ = "0.1.0"
