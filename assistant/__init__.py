"""Tray Turns: the helper at the side of a building club for two or three children.

The one door is :mod:`assistant.run`.
"""

import os
import sys

os.environ["ORT_DISABLE_TELEMETRY"] = "1"  # whatever version of onnxruntime is found: it sends nothing and writes nothing
sys.dont_write_bytecode = True  # not even Python's own cache is written while people are in the room

__version__ = "0.1.0"
