#!/usr/bin/env python3
"""The replay of written runs by three equal cuts, the plain way with numpy: what the program's own is timed against.

The same method: the unknowns are 11 start values and two noises a cut (standard normals); after every reading the mode of
1/2 |z|^2 + 1/2 sum ((y - g(z))/u)^2 over the whole history by Gauss-Newton, the command by four corrections of the mean. All runs are done
at once (arrays over the runs), slopes by forward differences of all unknowns in one go; a run that has settled is not worked on further.
Readings that can't be right are not looked for: the program does that too.

    pip install numpy
    python3 bench/reference/turn.py --csv checks/measure/cut_runs.csv --runs 3
"""
import argparse
import time

import numpy as np

N = 300.0
STARTS = 11
CUTS = 3
Z = STARTS + 2 * CUTS
MEAN = dict(d=2.0, air=22.0, over=15.0, b=0.0, k=0.025, f=0.005, h=3.0, tau=2400.0, alpha=18e-6)
SD = dict(d=0.05, air=3.0, over=20 / 12**0.5, b=0.030, k=0.030 / 12**0.5, f=0.006 / 12**0.5, h=4 / 12**0.5, tau=0.3, alpha=0.03)
U_AIR, U_T, U_R, U_BT, U_BM = 0.3, 1.0, 0.0045, 0.5, 0.0025
WEAR, WEAR_U, DRIFT_U, SLIDE_U, BEND_U = 0.001, 0.001, 0.003, 0.003, 0.1
CUT_S, SETTLE_S, NEXT_S = 540.0, 180.0, 120.0


def start(z):
    """State of the part from the unknowns, whose first axis is theirs."""
    air = MEAN["air"] + SD["air"] * z[1]
    return dict(
        d=MEAN["d"] + SD["d"] * z[0], air=air, T=air + MEAN["over"] + SD["over"] * z[2], alpha=MEAN["alpha"] * (1 + SD["alpha"] * z[3]),
        b=MEAN["b"] + SD["b"] * z[4], k=MEAN["k"] + SD["k"] * z[5], f=MEAN["f"] + SD["f"] * z[6], h=MEAN["h"] + SD["h"] * z[7],
        tau=MEAN["tau"] * np.exp(SD["tau"] * z[8]), bT=U_BT * z[9], bm=U_BM * z[10])


def hot(s, T):
    return (N + s["d"]) * (1 + s["alpha"] * (T - 20))


def cool(s, dt):
    return dict(s, T=s["air"] + (s["T"] - s["air"]) * np.exp(-dt / s["tau"]))


def cut(s, command, first, noise):
    b = s["b"] if first else s["b"] + WEAR + (DRIFT_U**2 + WEAR_U**2) ** 0.5 * noise[0]
    E = np.exp(-CUT_S / (2 * s["tau"]))
    T1 = s["air"] + (s["T"] - s["air"]) * E
    c = command + b
    a = (hot(s, T1) - c) / 2
    Tm = T1 + s["h"] * a / 2
    left = (c + s["f"] + s["k"] * hot(s, Tm) / 2) / (1 + s["k"] / 2)
    a0 = (hot(s, s["T"]) - command) / 2
    d = left / (1 + s["alpha"] * (Tm - 20)) - N + np.sqrt(SLIDE_U**2 + (BEND_U * s["k"] * a0) ** 2) * noise[1]
    return dict(s, b=b, d=d, T=s["air"] + (Tm - s["air"]) * E + s["h"] * a / 2)


def seen(s, what):
    if what == "air":
        return s["air"] + s["bT"]
    if what == "temp":
        return s["T"] + s["bT"]
    return hot(s, s["T"]) / (1 + 11.5e-6 * (s["air"] - 20)) + s["bm"]


def through(z, events):
    """Every expected reading of the history, and the state in the end."""
    s, out, cuts = start(z), [], 0
    for event, value in events:
        if event == "cool":
            s = cool(s, value)
        elif event == "cut":
            s = cut(s, value, cuts == 0, z[STARTS + 2 * cuts: STARTS + 2 * cuts + 2])
            cuts += 1
        else:
            out.append(seen(s, event))
    return np.array(out), s


def some(events, rows):
    return [(event, value if event == "cool" else value[rows]) for event, value in events]


class Filter:
    """Whole history at once, for all runs."""

    def __init__(self, runs):
        self.events, self.z, self.y, self.u = [], np.zeros((Z, runs)), [], []

    def see(self, what, value, u):
        self.events.append((what, value))
        self.y.append(value)
        self.u.append(u)
        self.mode()

    def slopes(self, rows):
        """Readings and their slopes at the mode so far: forward differences, all unknowns in one pass."""
        step = 1e-5
        z = self.z[:, rows]
        moved = np.repeat(z[:, None, :], Z + 1, axis=1)
        moved[np.arange(Z), np.arange(1, Z + 1), :] += step
        g, s = through(moved, some(self.events, rows))
        return g[:, 0], (g[:, 1:] - g[:, :1]) / step, s["d"][0], (s["d"][1:] - s["d"][0]) / step

    def cost(self, z, rows, y, u):
        g, _ = through(z, some(self.events, rows))
        return 0.5 * (z**2).sum(0) + 0.5 * (((y[:, rows] - g) / u[:, None]) ** 2).sum(0)

    def mode(self):
        y, u = np.array(self.y), np.array(self.u)
        rows = np.arange(self.z.shape[1])
        for _ in range(40):
            g, J, _, _ = self.slopes(rows)
            J = np.moveaxis(J / u[:, None, None], 2, 0)                       # runs, readings, unknowns
            r = ((y[:, rows] - g) / u[:, None]).T
            z = self.z[:, rows]
            A = np.eye(len(u)) + J @ J.transpose(0, 2, 1)
            towards = (J.transpose(0, 2, 1) @ np.linalg.solve(A, (r + (J @ z.T[:, :, None])[:, :, 0])[:, :, None]))[:, :, 0].T
            step, before, share = towards - z, self.cost(z, rows, y, u), np.ones(len(rows))
            for _ in range(12):
                worse = self.cost(z + share * step, rows, y, u) > before + 1e-12
                if not worse.any():
                    break
                share[worse] /= 2
            self.z[:, rows] = z + share * step
            rows = rows[np.sqrt(((share * step) ** 2).sum(0)) > 1e-8]
            if not len(rows):
                return

    def now(self):
        return through(self.z, self.events)[1]

    def size(self):
        """Mean and standard deviation of the size now."""
        _, J, d, g = self.slopes(np.arange(self.z.shape[1]))
        u = np.array(self.u)
        J, g = np.moveaxis(J / u[:, None, None], 2, 0), g.T
        Jg = (J @ g[:, :, None])[:, :, 0]
        A = np.eye(len(u)) + J @ J.transpose(0, 2, 1)
        return d, np.sqrt((g * g).sum(1) - (Jg * np.linalg.solve(A, Jg[:, :, None])[:, :, 0]).sum(1))


def command_for(s, target, first):
    command = (N + target) * (1 + s["alpha"] * (s["T"] - 20)) - s["b"]
    for _ in range(4):
        command = command - (cut(s, command, first, (0.0, 0.0))["d"] - target)
    return np.round(command, 3)


def replay(runs, readings):
    """Three equal cuts on every run: true sizes over nominal and the claim of each."""
    col = lambda name: runs[name]
    count = len(col("Ta"))
    of = lambda names: sum(col(name) for name in names) / len(names)
    part = dict(d=col("d0"), air=col("Ta"), T=col("Ta") + col("theta0"), alpha=18e-6 * (1 + col("eps")), b=col("b"), k=col("k"),
                f=col("f"), h=col("h"), tau=col("tau"), bT=col("bT"), bm=col("bm"))
    mean = lambda one, more, j: of([f"{one}{j}"] + ([f"{name}{j}" for name in more] if readings == 3 else []))
    share = readings**0.5
    filter = Filter(count)
    filter.see("air", part["air"] + part["bT"] + U_AIR * col("zTa"), U_AIR)
    for j, target in enumerate((1.333, 0.667, 0.0), 1):
        if j > 1:
            part = cool(part, NEXT_S)
            filter.events.append(("cool", NEXT_S))
        filter.see("temp", part["T"] + part["bT"] + U_T * mean("zTc", ("zTca", "zTcb"), j), U_T / share)
        command = command_for(filter.now(), target, j == 1)
        b = part["b"] if j == 1 else part["b"] + WEAR + WEAR_U * col(f"zwear{j}") + DRIFT_U * col(f"zdrift{j}")
        true = dict(part, b=b, k=part["k"] * (1 + BEND_U * col(f"zkv{j}")), f=part["f"] + SLIDE_U * col(f"zeta{j}"))
        after = cut(true, command, True, (0.0, 0.0))
        part = cool(dict(part, b=b, d=after["d"], T=after["T"]), SETTLE_S)
        filter.events += [("cut", command), ("cool", SETTLE_S)]
        filter.see("temp", part["T"] + part["bT"] + U_T * mean("zT", ("zTma", "zTmb"), j), U_T / share)
        size = np.round(seen(part, "size") + col("sr") * mean("zR", ("zRa", "zRb"), j), 3)
        filter.see("size", size, U_R / share)
    return part["d"], filter.size()


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--csv", default="checks/measure/cut_runs.csv")
    options.add_argument("--runs", type=int, default=3)
    options = options.parse_args()
    table = np.genfromtxt(options.csv, delimiter=",", names=True)
    runs = {name: table[name] for name in table.dtype.names}
    for _ in range(options.runs):
        for readings in (1, 3):
            begun = time.perf_counter()
            d, (mean, u) = replay(runs, readings)
            print(f"numpy_{readings} {time.perf_counter() - begun:.5f} {np.mean(abs(d) <= 0.018):.4f}")


if __name__ == "__main__":
    main()
