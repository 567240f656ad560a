#!/usr/bin/env python3
"""A bush in its bath by finite volumes and BDF, the plain way with scipy: what the program's own transient is timed against.

rho c(T) dT/dt = (1/r) d/dr(r k(T) dT/dr) + d/dz(k(T) dT/dz) on half the length, nodes on the surfaces, k dT/dn = -q(T - bath) there.
solve_ivp with BDF of order 1 to 5, sparse Jacobian by grouped differences, stopped by an event when the slowest point is near enough.
Bush 240/200 x 150, gunmetal. One line a run: name, seconds of the processor, time of the bath in seconds.

    pip install numpy scipy
    python3 bench/reference/heat.py --runs 3
"""
import argparse
import time

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import lil_matrix

OUTSIDE, BORE, LENGTH = 0.24, 0.20, 0.15
DENSITY, CP, K = 8800.0, 376.0, 59.0
# Ratios to 20 C: copper's specific heat (NIST fit), conductivity of a cast tin bronze (memory).
HEAT = (np.array([77.35, 100, 125, 150, 175, 200, 250, 293.15]), np.array([.506, .656, .763, .833, .883, .923, .978, 1]))
CONDUCTS = (np.array([77.35, 100, 150, 200, 250, 293.15]), np.array([.42, .49, .64, .77, .89, 1]))
# Pool boiling of nitrogen, W/m2 over K, straight in logarithms.
BOILS = (np.log([1, 3, 5, 10, 12, 35, 100, 200, 216.0]), np.log([400, 4000, 20000, 120000, 160000, 6000, 13500, 26000, 28000.0]))


def nitrogen(over):
    x = np.log(np.maximum(over, 1e-12))
    last = (BOILS[1][-1] - BOILS[1][-2]) / (BOILS[0][-1] - BOILS[0][-2])
    q = np.exp(np.where(x > BOILS[0][-1], BOILS[1][-1] + last * (x - BOILS[0][-1]), np.interp(x, *BOILS)))
    return np.where(over < 1, 400 * over, q)


class Ring:
    def __init__(self, across, along):
        self.shape = (across + 1, along + 1)
        r, z = np.linspace(BORE / 2, OUTSIDE / 2, across + 1), np.linspace(0, LENGTH / 2, along + 1)
        self.r_face, dz = (r[1:] + r[:-1]) / 2, z[1] - z[0]
        edges = np.concatenate([[r[0]], self.r_face, [r[-1]]])
        self.section = (edges[1:] ** 2 - edges[:-1] ** 2) / 2
        self.tall = np.full(along + 1, dz)
        self.tall[[0, -1]] = dz / 2
        self.volume = self.section[:, None] * self.tall[None, :]
        self.across = (self.r_face / (r[1] - r[0]))[:, None] * self.tall[None, :]
        self.along = self.section[:, None] / dz * np.ones((1, along))
        self.wet = np.zeros(self.shape)
        self.wet[0] += r[0] * self.tall
        self.wet[-1] += r[-1] * self.tall
        self.wet[:, -1] += self.section

    def neighbours(self):
        at = np.arange(self.volume.size).reshape(self.shape)
        pattern = lil_matrix((at.size, at.size))
        pattern.setdiag(1)
        for a, b in [(at[:-1].ravel(), at[1:].ravel()), (at[:, :-1].ravel(), at[:, 1:].ravel())]:
            pattern[a, b] = 1
            pattern[b, a] = 1
        return pattern


def bath(across, along, bath_C, within, flux, cold, rtol=1e-5):
    ring = Ring(across, along)

    def slope(_, flat):
        T = flat.reshape(ring.shape)
        k = K * np.interp(T + 273.15, *CONDUCTS) if cold else np.full(ring.shape, K)
        c = CP * np.interp(T + 273.15, *HEAT) if cold else CP
        gained = -ring.wet * flux(T - bath_C)
        right = ring.across * (k[1:] + k[:-1]) / 2 * (T[:-1] - T[1:])
        up = ring.along * (k[:, 1:] + k[:, :-1]) / 2 * (T[:, :-1] - T[:, 1:])
        gained[1:] += right
        gained[:-1] -= right
        gained[:, 1:] += up
        gained[:, :-1] -= up
        return (gained / (DENSITY * c * ring.volume)).ravel()

    def near(_, flat):
        return np.max(np.abs(flat - bath_C)) - within

    near.terminal = True
    start = np.full(ring.volume.size, 20.0)
    found = solve_ivp(slope, (0, 1e5), start, method="BDF", rtol=rtol, atol=rtol * abs(20 - bath_C), jac_sparsity=ring.neighbours(), events=near)
    return found.t_events[0][0], found.t.size


def timed(name, run, runs):
    for _ in range(runs):
        begun = time.process_time()
        t, steps = run()
        print(f"{name} {time.process_time() - begun:.6f} {t:.6f} {steps}", flush=True)


def main():
    given = argparse.ArgumentParser()
    given.add_argument("--runs", type=int, default=3)
    runs = given.parse_args().runs
    timed("scipy_constant", lambda: bath(12, 36, -100, 2, lambda over: 100 * over, False), runs)
    timed("scipy_nitrogen", lambda: bath(12, 72, -195.8, 5, nitrogen, True), runs)


if __name__ == "__main__":
    main()
