"""The speech detector's network, made small: ``silero.onnx``, and ``build.py``, which made it."""
