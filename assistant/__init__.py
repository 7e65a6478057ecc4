"""Tray Turns: the helper at the side of a building club for two or three children.

The one door is :mod:`assistant.run`.
"""

__version__ = "0.1.0"
