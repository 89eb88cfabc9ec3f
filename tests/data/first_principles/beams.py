"""Beams of arrays whose elements have amplitudes of cos^q: how far independent phase errors move the peak of the radiated beam from that
of the error-free one, along the scan and across it (rms over units, degrees); and the directivity of the error-free beam, by a sum
over directions."""

import numpy as np


def face(columns, rows, dx, dy):
    x, y = np.meshgrid((np.arange(columns) - (columns - 1) / 2) * dx, (np.arange(rows) - (rows - 1) / 2) * dy)
    return 2 * np.pi * np.array([x.ravel(), y.ravel()])


def power(place, amplitude, phase, q, u):
    """Of units `phase[unit]` in directions `u[:, unit]`."""
    height = np.sqrt(1 - (u**2).sum(axis=0))
    return np.abs((amplitude * np.exp(1j * (phase + u.T @ place))).sum(axis=1)) ** 2 * height ** (2 * q)


def peak(place, amplitude, phase, q, start, is_line):
    """Newton's method on the logarithm of the power, slopes by differences."""
    u = np.repeat(np.array(start)[:, None], len(phase), axis=1)
    h = 1e-4
    axes = [np.array([[h], [0]])] if is_line else [np.array([[h], [0]]), np.array([[0], [h]])]
    level = lambda at: np.log(power(place, amplitude, phase, q, at))
    for _ in range(30):
        here = level(u)
        slope = np.array([(level(u + a) - level(u - a)) / (2 * h) for a in axes])
        bend = np.array(
            [[(level(u + a + b) - level(u + a - b) - level(u - a + b) + level(u - a - b)) / (4 * h * h) for b in axes] for a in axes]
        )
        step = np.linalg.solve(np.moveaxis(bend, 2, 0), slope.T[:, :, None])[:, :, 0].T
        u[: len(axes)] -= np.clip(step, -0.02, 0.02)
    assert np.all(np.abs(step) < 1e-7), np.abs(step).max()
    return u


def shifts(columns, rows, dx, dy, q, theta, phi, phase_sd, units, seed=40):
    place = face(columns, rows, dx, dy)
    amplitude = np.ones(columns * rows)
    theta, phi = np.radians(theta), np.radians(phi)
    toward = np.sin(theta) * np.array([np.cos(phi), np.sin(phi)])
    command = -(toward @ place)
    is_line = rows == 1
    errors = np.random.default_rng(seed).normal(0, np.radians(phase_sd), (units, columns * rows))
    free = peak(place, amplitude, command[None, :], q, toward, is_line)
    units_at = peak(place, amplitude, command + errors, q, free[:, 0], is_line)

    def angles(u):
        along, across = u[0] * np.cos(phi) + u[1] * np.sin(phi), u[1] * np.cos(phi) - u[0] * np.sin(phi)
        return np.degrees([np.arctan2(along, np.sqrt(1 - (u**2).sum(axis=0))), np.arcsin(across)])

    shift = angles(units_at) - angles(free)
    pull = angles(free)[0, 0] - np.degrees(theta)
    rms = np.sqrt((shift**2).mean(axis=1))
    error = (shift**2).std(axis=1) / np.sqrt(units) / (2 * np.maximum(rms, 1e-12))
    correlation = np.corrcoef(shift)[0, 1] if not is_line else 0
    return pull, rms, error, correlation


def directivity(columns, rows, dx, dy, q, theta, phi, taper=None, points=2000):
    place = face(columns, rows, dx, dy)
    amplitude = np.ones(columns * rows) if taper is None else taper
    theta, phi = np.radians(theta), np.radians(phi)
    toward = np.sin(theta) * np.array([np.cos(phi), np.sin(phi)])
    command = -(toward @ place)
    at = peak(place, amplitude, command[None, :], q, toward, rows == 1)
    # Midpoints in z = cos(theta) by Gauss's weights, evenly around: all of the hemisphere in front.
    z, weight = np.polynomial.legendre.leggauss(points // 8)
    z, weight = (z + 1) / 2, weight / 2
    around = 2 * np.pi * (np.arange(points) + 0.5) / points
    total = 0.0
    for height, share in zip(z, weight):
        radius = np.sqrt(1 - height**2)
        u = radius * np.array([np.cos(around), np.sin(around)])
        field = (amplitude * np.exp(1j * (command + u.T @ place))).sum(axis=1)
        total += share * (np.abs(field) ** 2).mean() * height ** (2 * q) * 2 * np.pi
    # Isotropic elements radiate as much behind as in front.
    total *= 2 if q == 0 else 1
    return 4 * np.pi * power(place, amplitude, command[None, :], q, at)[0] / total


if __name__ == "__main__":
    for case in [(8, 1, 0.5, 0.5, 1.0, 45, 0, 8.0, 200_000), (6, 5, 0.5, 0.55, 0.8, 30, 50, 10.0, 60_000)]:
        pull, rms, error, correlation = shifts(*case)
        print(f"{case}: pull {pull:.6f} deg, rms along {rms[0]:.6f} +/- {error[0]:.6f}, across {rms[1]:.6f} +/- {error[1]:.6f}, r {correlation:.4f}")
    cosine = np.sin(np.pi * (np.arange(12) + 0.5) / 12)
    for case in [
        (16, 1, 0.5, 0.5, 0.0, 0, 0),
        (16, 1, 0.6, 0.5, 0.0, 30, 0),
        (12, 1, 0.55, 0.5, 0.65, 40, 0, cosine),
        (6, 5, 0.5, 0.55, 0.0, 30, 50),
        (6, 5, 0.5, 0.55, 0.8, 30, 50),
        (8, 8, 0.5, 0.5, 0.5, 0, 0),
        (6, 5, 0.5, 0.55, 2.3, 30, 50),
    ]:
        print(case[:7], f"D {directivity(*case):.7f}, with fewer directions {directivity(*case[:7], *(case[7:] or [None]), points=1600):.7f}")
