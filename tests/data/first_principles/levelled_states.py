"""Residual amplitude of channels that are levelled by readings at state 0 of shifter and attenuator, whose states have gain
errors of their own: mean over units of the rms over 16 channels, dB."""

import numpy as np

UNITS, CHANNELS, STEP, STATES = 400_000, 16, 0.25, 64


def residual(shifter_sd, attenuator_sd, is_seen, seed=20):
    draw = np.random.default_rng(seed)
    gain = draw.normal(0, 1.0, (UNITS, CHANNELS))
    # The beam is at broadside, so the shifters stand at state 0 on the bench and in use.
    shifter = draw.normal(0, shifter_sd, (UNITS, CHANNELS))
    # The attenuator's error at state 0 and at one other: a channel meets no third.
    attenuator = draw.normal(0, attenuator_sd, (UNITS, CHANNELS, 2))
    reading = gain + (shifter + attenuator[:, :, 0] if is_seen else 0)
    over = reading - reading.min(axis=1, keepdims=True)
    code = np.clip(np.rint(over / STEP), 0, STATES - 1)
    taken = np.where(code == 0, attenuator[:, :, 0], attenuator[:, :, 1])
    level = gain + shifter - STEP * code + taken
    rms = np.sqrt(((level - level.mean(axis=1, keepdims=True)) ** 2).mean(axis=1))
    return rms.mean(), rms.std() / np.sqrt(UNITS)


for sds in [(0.5, 0.0), (0.0, 0.3), (0.5, 0.3)]:
    for is_seen in [True, False]:
        mean, error = residual(*sds, is_seen)
        print(f"shifter {sds[0]} dB, attenuator {sds[1]} dB, state 0 seen {is_seen}: {mean:.6f} +/- {error:.6f}")
