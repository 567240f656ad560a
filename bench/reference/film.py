#!/usr/bin/env python3
"""The oil film by finite volumes and direct sparse solution, the plain way with scipy: what the program's own film is timed against.

Reynolds' equation on half the length of a rigid, aligned bearing, h = 1 + eps cos t, y = 2z/L, h^3 at the faces of the volumes:
    d/dt(h^3 dP/dt) + (D/L)^2 d/dy(h^3 dP/dy) = dh/dt,  P = 0 at t = 0, 2 pi and y = 1,  P >= 0 (Reynolds' condition)
An active set finds the film: nodes leave it where P < 0 and come back where their balance asks for it; each round is one SuperLU.
One line a run: name, seconds of the processor, S = (R/C)^2 eta N/p.

    pip install numpy scipy
    python3 bench/reference/film.py --runs 3
"""
import argparse
import time

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

EPS, SLENDERNESS = 0.6, 1.0


def balances(eps, L_over_D, n, m):
    """Matrix and right side of the volumes: unknowns (i, j), i = 1 .. n - 1 in t, j = 0 .. m - 1 in y."""
    dt, dy = 2 * np.pi / n, 1.0 / m
    t = dt * np.arange(n + 1)
    face = 1 + eps * np.cos(t[:-1] + dt / 2)
    node = 1 + eps * np.cos(t)
    wide = np.full(m, dy)
    wide[0] = dy / 2
    across = (face**3 / dt)[:, None] * wide[None, :]
    along = (node**3 * dt / dy / L_over_D**2)[1:-1]
    at = np.arange((n - 1) * m).reshape(n - 1, m)
    rows, columns, values = [], [], []

    def couple(a, b, conductance):
        rows.extend([a, b, a, b])
        columns.extend([a, b, b, a])
        values.extend([conductance, conductance, -conductance, -conductance])

    couple(at[:-1].ravel(), at[1:].ravel(), across[1:-1].ravel())
    couple(at[:, :-1].ravel(), at[:, 1:].ravel(), np.repeat(along, m - 1))
    for fixed, conductance in [(at[0], across[0]), (at[-1], across[-1]), (at[:, -1], along)]:
        rows.append(fixed)
        columns.append(fixed)
        values.append(conductance)
    A = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))).tocsc()
    b = ((face[:-1] - face[1:])[:, None] * wide[None, :]).ravel()
    return A, b, t[1:-1], wide


def film(eps, L_over_D, n, m, mask=None):
    A, b, t, wide = balances(eps, L_over_D, n, m)
    inside = np.ones(b.size, bool) if mask is None else mask
    for rounds in range(1, 200):
        p = np.zeros(b.size)
        keep = np.flatnonzero(inside)
        p[keep] = splu(A[keep][:, keep].tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(b[keep])
        left = A @ p - b
        now = np.where(inside, p > 0, left < -1e-14)
        if (now == inside).all():
            break
        inside = now
    P = p.reshape(n - 1, m)
    line = (P * wide).sum(axis=1) * 2 * np.pi / n
    load = np.hypot((line * np.cos(t)).sum(), (line * np.sin(t)).sum())
    return 1 / (6 * np.pi * load), inside.reshape(n - 1, m), rounds


def from_coarser(eps, L_over_D, n, m):
    """The same, its first set from the mesh of twice the step, and so on down."""
    if n <= 50:
        return film(eps, L_over_D, n, m)
    _, coarse, _ = from_coarser(eps, L_over_D, n // 2, m // 2)
    whole = np.zeros((n // 2 + 1, m // 2 + 1), bool)
    whole[1:-1, :-1] = coarse
    mask = np.repeat(np.repeat(whole, 2, axis=0), 2, axis=1)[1:n, :m]
    return film(eps, L_over_D, n, m, mask.ravel())


def timed(name, run, runs):
    for _ in range(runs):
        begun = time.process_time()
        S, _, rounds = run()
        print(f"{name} {time.process_time() - begun:.6f} {S:.9f} {rounds}", flush=True)


def main():
    given = argparse.ArgumentParser()
    given.add_argument("--runs", type=int, default=3)
    runs = given.parse_args().runs
    timed("scipy_film_started", lambda: from_coarser(EPS, SLENDERNESS, 800, 200), runs)
    timed("scipy_film_coarse", lambda: film(EPS, SLENDERNESS, 200, 50), runs)


if __name__ == "__main__":
    main()
