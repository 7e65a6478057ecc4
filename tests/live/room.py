"""A sound server of our own, with a null sink and its monitor. Works as root, and without any sound card."""

import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import wraps
from pathlib import Path
from typing import ParamSpec

import numpy as np
from numpy.typing import NDArray

from assistant.devices.portaudio import load, refresh

P = ParamSpec("P")
NEEDED = {
    "pulseaudio": "bin/pulseaudio",
    "libasound2-plugins": "lib/*/alsa-lib/libasound_module_pcm_pulse.so",
    "libportaudio2": "lib/*/libportaudio.so.2",
}
ALSA = "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
# Without norewinds the null sink works two seconds ahead: a sound begins two seconds late.
SINK = "module-null-sink sink_name=room rate=16000 channels=1 norewinds=1"
FOUR = "front-left,front-right,rear-left,rear-right"  # the order in which ALSA takes four channels, so that none is mixed
PATIENCE_S = 20.0


class Room:
    """The sound server, by its process.

    Args:
        folder: everything that it writes goes here.
        system: where the system's packages are installed.
    """

    def __init__(self, folder: Path, system: Path) -> None:
        missing = [package for package, file in NEEDED.items() if not any(system.glob(file))]
        assert not missing, f"Live tests need Debian's {', '.join(missing)}. Run: sudo apt install {' '.join(missing)}"
        self._socket = folder / "socket"
        self._server: subprocess.Popen[bytes] | None = None
        (folder / "asound.conf").write_text(ALSA)
        (folder / "run").mkdir(mode=0o700)
        self.environment = {
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder / "run"),
            "PULSE_SERVER": f"unix:{self._socket}",
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
        }

    def open(self) -> None:
        """Start the server and wait until it answers."""
        protocol = f"module-native-protocol-unix socket={self._socket} auth-anonymous=1"
        self._server = subprocess.Popen(
            [str(shutil.which("pulseaudio")), "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1"]
            + ["-L", SINK, "-L", protocol],
            env={**os.environ, **self.environment},
            stderr=subprocess.DEVNULL,
        )
        until = time.monotonic() + PATIENCE_S
        while not self._socket.exists():
            assert self._server.poll() is None, "pulseaudio ended at once"
            assert time.monotonic() < until, "pulseaudio did not begin"
            time.sleep(0.05)

    @contextmanager
    def sound_card(self, channels: str) -> Iterator[str]:
        """Another sound card, which is the system's choice meanwhile; by its name."""
        card = "module-null-sink", "sink_name=several", "rate=16000", f"channels={channels.count(',') + 1}", "norewinds=1"
        number = _pactl("load-module", *card, f"channel_map={channels}")
        _pactl("set-default-source", "several.monitor")
        refresh_devices()
        try:
            yield "several"
        finally:
            _pactl("set-default-source", "room.monitor")
            _pactl("unload-module", number)
            refresh_devices()

    def close(self) -> None:
        """End the server, as if somebody pulled out the sound card."""
        assert self._server is not None
        self._server.kill()
        self._server.wait()
        self._socket.unlink(missing_ok=True)


def _pactl(*words: str) -> str:
    return subprocess.run(["pactl", *words], capture_output=True, text=True, check=True).stdout.strip()


def refresh_devices() -> None:
    """Look again: PortAudio may have been loaded before the room was there."""
    refresh(load())


def position(heard: NDArray[np.int16], said: NDArray[np.int16]) -> tuple[int, float]:
    """Where in ``heard`` the sound ``said`` is found, in samples, and how alike they are (1 is the same)."""
    long, short = heard.astype(float), said.astype(float)
    size = len(long) + len(short)
    alike = np.fft.irfft(np.fft.rfft(long, size) * np.fft.rfft(short, size).conj(), size)
    at = int(alike[: len(long) - len(short) + 1].argmax())
    there = long[at : at + len(short)]
    return at, float(there @ short / ((there @ there) * (short @ short)) ** 0.5)


def in_three_tries(test: Callable[P, None]) -> Callable[P, None]:
    """A live test up to three times: a busy machine may lose sound, a program at fault loses it each time."""

    @wraps(test)
    def tried(*args: P.args, **kwargs: P.kwargs) -> None:
        for _ in range(2):
            with suppress(AssertionError):
                return test(*args, **kwargs)
        test(*args, **kwargs)

    return tried
