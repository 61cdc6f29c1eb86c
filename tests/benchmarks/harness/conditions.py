"""What can come between a mouth and a recogniser: noise, a telephone, a mask, a far microphone.

Sound is at 16 kHz, int16 or floats of the same measure, one channel. All of it follows from the
sound and a name alone: the same each time. What is made comes out at half of full scale, as in the
rule for mixing noise.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import soxr

RATE_HZ = 16_000
Wave = npt.NDArray[np.float64]
Samples = npt.NDArray[np.int16]

_FRAME = 2048
_HALF_OF_FULL_SCALE = 16_384
# The band of a telephone channel (ITU-T G.712); from memory.
_TELEPHONE_Hz = (300.0, 3400.0)
_TELEPHONE_RATE_HZ = 8_000
_TELEPHONE_ORDER = 4
# A tiled room of a theatre's size, a few steps away: as much comes from the walls as straight from
# the mouth. From memory.
_ECHO_60_dB_S = 0.6
_WALLS_OVER_DIRECT_dB = 0.0
_FIRST_ECHO_S = 0.004


def mixed(speech: npt.ArrayLike, noise: npt.ArrayLike, snr_dB: float, stem: str) -> Samples:
    """Speech with noise from a place that follows from the file's stem (the rule of the orders'
    benchmark): the ratio of the largest energies of 2048-sample frames equals the SNR."""
    said, room = np.asarray(speech, np.float64), np.asarray(noise, np.float64)
    offset = int.from_bytes(stem[:8].encode(), "big") % (len(room) - len(said) + 1)
    part = room[offset : offset + len(said)]
    gain = np.sqrt(largest_energy(said) / (largest_energy(part) * 10 ** (snr_dB / 10)))
    return at_half_scale(said + gain * part)


def largest_energy(sound: Wave) -> float:
    """The largest energy of the whole frames of 2048 samples; of all of a shorter sound."""
    whole = sound[: len(sound) // _FRAME * _FRAME]
    frames = whole.reshape(-1, _FRAME) if len(whole) else sound.reshape(1, -1)
    return float((frames**2).sum(axis=1).max())


def at_half_scale(sound: Wave) -> Samples:
    """Scaled so that the largest sample is half of full scale."""
    halved: Samples = (sound / np.abs(sound).max() * _HALF_OF_FULL_SCALE).astype(np.int16)
    return halved


def telephone(sound: npt.ArrayLike) -> Samples:
    """Through a band of 300 to 3400 Hz at 8 kHz and back: hissing sounds are gone."""
    low_Hz, high_Hz = _TELEPHONE_Hz

    def gain(hertz: Wave) -> Wave:
        slopes = 2 * _TELEPHONE_ORDER
        below = 1 + (low_Hz / np.maximum(hertz, 1e-3)) ** slopes
        above = 1 + (hertz / high_Hz) ** slopes
        return np.asarray(1 / np.sqrt(below * above))

    narrow = soxr.resample(_filtered(sound, gain), RATE_HZ, _TELEPHONE_RATE_HZ)
    return at_half_scale(soxr.resample(narrow, _TELEPHONE_RATE_HZ, RATE_HZ))


def masked(sound: npt.ArrayLike, shelf_dB: float) -> Samples:
    """As through a face mask: a high shelf of so many dB (negative) above 2 kHz."""
    return at_half_scale(_filtered(sound, lambda hertz: shelf_gain(hertz, shelf_dB)))


def shelf_gain(hertz: Wave, shelf_dB: float, corner_Hz: float = 2_000.0) -> Wave:
    """The amplitude gain of a second-order high shelf: 0 dB far below the corner, half of
    `shelf_dB` at it, all of it far above. As steep as can be without a hump (the analogue
    prototype of R. Bristow-Johnson's cookbook of filters, slope 1; from memory)."""
    root = 10 ** (shelf_dB / 40)
    s = 1j * np.asarray(hertz, np.float64) / corner_Hz
    stretch = np.sqrt(root) * np.sqrt(2.0)
    above = root * s**2 + stretch * s + 1
    below = s**2 + stretch * s + root
    return np.asarray(np.abs(root * above / below))


def far(sound: npt.ArrayLike, stem: str) -> Samples:
    """As a microphone a few steps away hears it: the direct sound and a tail of echoes, which falls
    by 60 dB in 0.6 s and is as strong as the direct sound."""
    said = np.asarray(sound, np.float64)
    response = room_response(zlib.crc32(stem.encode()))
    length = len(said) + len(response) - 1
    there = np.fft.irfft(np.fft.rfft(said, length) * np.fft.rfft(response, length), length)
    return at_half_scale(there)


def room_response(seed: int) -> Wave:
    """The direct sound (1), then noise that dies away; the energy of the tail follows from
    `_WALLS_OVER_DIRECT_dB`."""
    chance = np.random.default_rng(seed)
    seconds = np.arange(int(_ECHO_60_dB_S * RATE_HZ)) / RATE_HZ
    tail = chance.standard_normal(len(seconds)) * 10 ** (-3 * seconds / _ECHO_60_dB_S)
    tail[: int(_FIRST_ECHO_S * RATE_HZ)] = 0.0
    tail *= 10 ** (_WALLS_OVER_DIRECT_dB / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    return np.asarray(tail, np.float64)


def _filtered(sound: npt.ArrayLike, gain: Callable[[Wave], Wave]) -> Wave:
    """Every frequency changed by a gain, none shifted in time."""
    said = np.pad(np.asarray(sound, np.float64), RATE_HZ // 10)
    hertz = np.fft.rfftfreq(len(said), 1 / RATE_HZ).astype(np.float64)
    changed = np.fft.irfft(np.fft.rfft(said) * gain(hertz), len(said))
    return np.asarray(changed[RATE_HZ // 10 : -RATE_HZ // 10], np.float64)
