"""A star of 16 channels with exchanged arms, cable by cable: what is left of the phases, and how often a cable is moved.

A cable keeps its error as long as it stays where it is, and draws another one each time that it is moved. The technician is the
argument: one who moves the reference's cable back into its arm before each pair, one who leaves it where the exchange put it, and
one of the books alone, whose reference sits in its first connection again without being moved.
"""

import numpy as np

CHANNELS, CODES, SD, UNITS = 16, 8, np.radians(2.0), 20_000


class Bench:
    """Two arms of a coupler for many units at once; `at` says which channel's cable sits in which arm."""

    def __init__(self, rng):
        self.rng, self.at, self.error, self.moves = rng, {}, {}, 0

    def connect(self, arm, channel):
        if self.at.get(arm) == channel:
            return
        self.at = {a: c for a, c in self.at.items() if c != channel}
        self.at[arm] = channel
        self.error[arm] = self.rng.normal(0.0, SD, UNITS)
        self.moves += 1

    def phase(self, channel, arm):
        return channel + self.error[arm]


def sweep(reference, stepped):
    """The phase that the stepped arm has to add, from the powers at equally spaced codes."""
    turns = 2 * np.pi * np.arange(CODES) / CODES
    power = np.abs(np.exp(1j * reference[:, None]) + np.exp(1j * (stepped[:, None] + turns))) ** 2
    return np.angle((power * np.exp(1j * turns)).sum(axis=1))


def star(technician, seed=1):
    rng = np.random.default_rng(seed)
    bench, true = Bench(rng), np.zeros(UNITS)
    found, kept = [np.zeros(UNITS)], None
    for channel in range(1, CHANNELS):
        if technician == "moves it back" or channel == 1:
            bench.connect("reference", 0)
            kept = bench.error["reference"]
        if technician == "of the books" and channel > 1:
            bench.at, bench.error["reference"] = {"reference": 0}, kept
        fixed = next(arm for arm, of in bench.at.items() if of == 0)
        other = {"reference": "stepped", "stepped": "reference"}[fixed]
        bench.connect(other, channel)
        first = sweep(bench.phase(true, fixed), bench.phase(true, other))
        # Exchanged: each cable is taken off and put on the other arm.
        bench.at.clear()
        bench.connect(other, 0)
        bench.connect(fixed, channel)
        second = sweep(bench.phase(true, other), bench.phase(true, fixed))
        found.append(np.angle(np.exp(1j * first) + np.exp(1j * second)))
    left = np.angle(np.exp(1j * (np.array(found) - np.angle(np.exp(1j * np.array(found)).sum(axis=0)))))
    square = np.degrees(left) ** 2
    mean = square.mean(axis=0)
    root = np.sqrt(mean.mean())
    return root, mean.std() / np.sqrt(UNITS) / (2 * root), bench.moves


for technician in ("moves it back", "leaves it", "of the books"):
    root, error, moves = star(technician)
    scale = CHANNELS / (CHANNELS - 1)
    print(f"{technician}: residual {root:.4f} +- {error:.4f} deg, {scale * root:.4f} a phase, {moves} moves")
