"""Tray Turns: the helper at the side of a building club for two or three children.

The one door is :mod:`assistant.run`.
"""

import sys

sys.dont_write_bytecode = True  # not even Python's own cache is written while people are in the room

__version__ = "0.1.0"
