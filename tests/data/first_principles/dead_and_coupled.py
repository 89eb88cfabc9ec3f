"""A line of 16 elements whose channels have errors and may be dead, and whose elements pick up c times what each nearest
neighbour is fed: means over units of residual phase and amplitude (rms over the living channels), array-gain loss and EIRP
change in the commanded direction."""

import numpy as np

UNITS, CHANNELS, DEAD = 400_000, 16, 0.05
PHASE_SD, GAIN_SD, THETA = np.radians(5.0), 0.5, np.radians(20.0)


def figures(level_db, phase_deg, is_picked_up_by_dead=True, is_dead_counted=False, seed=30):
    draw = np.random.default_rng(seed)
    shape = (UNITS, CHANNELS)
    lives = draw.random(shape) >= DEAD
    nepers = draw.normal(0, GAIN_SD, shape) * np.log(10) / 20
    steering = np.exp(-1j * np.pi * np.sin(THETA) * np.arange(CHANNELS))
    fed = lives * np.exp(nepers + 1j * draw.normal(0, PHASE_SD, shape)) * steering
    c = 0 if level_db is None else 10 ** (level_db / 20) * np.exp(1j * np.radians(phase_deg))
    x = fed.copy()
    x[:, 1:] += c * fed[:, :-1]
    x[:, :-1] += c * fed[:, 1:]
    if not is_picked_up_by_dead:
        x = x * lives
    ratio = x / steering
    counts = np.ones(shape, bool) if is_dead_counted else lives
    number = counts.sum(axis=1)
    common = (ratio * counts).sum(axis=1)
    phase = np.degrees(np.angle(ratio / common[:, None]))
    db = np.where(counts, 20 * np.log10(np.maximum(np.abs(ratio), 1e-13)), 0)
    db = np.where(counts, db - (db.sum(axis=1) / number)[:, None], 0)
    rms = lambda of: np.sqrt((of**2 * counts).sum(axis=1) / number)
    power = np.abs(ratio.sum(axis=1)) ** 2
    loss = -10 * np.log10(power / (np.abs(x) ** 2).sum(axis=1) / CHANNELS)
    return [rms(phase), rms(db), loss, 10 * np.log10(power / CHANNELS**2)]


def show(name, of):
    print(name, *(f"{value.mean():.5f} +/- {value.std() / np.sqrt(UNITS):.5f}" for value in of))


show("none", figures(None, 0))
show("-20 dB", figures(-20, 40))
show("-20 dB, nothing through dead elements", figures(-20, 40, is_picked_up_by_dead=False))
show("-20 dB, dead channels counted", figures(-20, 40, is_dead_counted=True))
