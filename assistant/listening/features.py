"""What the voice network listens to: 80 mel bands, 100 times a second.

What lives here: the way from samples to features, as the network was trained on them. What must not: the network.
"""

import kaldi_native_fbank as knf
import numpy as np
from numpy.typing import NDArray

from assistant.samples import SAMPLE_RATE

BANDS = 80
LEVEL = 0.05  # root mean square that every unit is brought to, of a full scale of 1
_FULL_SCALE = 32768  # the network was trained on int16 numbers


def _options() -> knf.FbankOptions:
    frames = knf.FrameExtractionOptions(
        samp_freq=SAMPLE_RATE,
        frame_length_ms=25,
        frame_shift_ms=10,
        dither=0,
        preemph_coeff=0.97,
        remove_dc_offset=True,
        window_type="hamming",
        round_to_power_of_two=True,
        snip_edges=True,
    )
    return knf.FbankOptions(frame_opts=frames, mel_opts=knf.MelBanksOptions(num_bins=BANDS, low_freq=20, high_freq=0))


def mel_bands(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Log mel energies of a stretch of sound, each band's mean over the stretch taken away.

    Args:
        samples: float32 [n] in -1..1, at least 25 ms.

    Returns:
        float32 [frames, 80].

    Source: the recipe of WeSpeaker (Kaldi's ``fbank``: 25 ms symmetric Hamming windows every 10 ms, 1127 ln(1 + f/700)).
    """
    level = float(np.sqrt(np.mean(np.square(samples, dtype=np.float64))))
    scaled = samples * np.float32(LEVEL / max(level, 1e-6) * _FULL_SCALE)
    extractor = knf.OnlineFbank(_options())
    extractor.accept_waveform(SAMPLE_RATE, scaled)
    extractor.input_finished()
    bands = np.stack([extractor.get_frame(number) for number in range(extractor.num_frames_ready)])
    return np.asarray(bands - bands.mean(axis=0), dtype=np.float32)
