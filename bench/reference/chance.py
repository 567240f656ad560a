#!/usr/bin/env python3
"""The Monte Carlo of `fit-chance`, written the plain way with numpy: what the program's own is timed against.

16 random inputs -> sizes at 20 C -> interference -> pressure -> close-in -> running clearance, then mean, standard deviation
and two quantiles of those four outputs. No shares, no requirements. One line a run, in seconds: draws and chain, all.

    pip install numpy
    python3 bench/reference/chance.py --runs 5 [--draws 1000000] [--figures]
"""
import argparse
import time

import numpy as np


def chain(n, rng):
    """Four outputs of n draws of the request of crates/calc/benches/chance.rs."""
    def normal(value, u):
        return rng.normal(value, u, n)

    def rectangular(value, u):
        return rng.uniform(value - u * 3**0.5, value + u * 3**0.5, n)

    gauge = 1 + 1.15e-5 * (normal(22, 0.5) - 20)
    housing = (normal(240.018, 0.004) + normal(0, 0.003)) * gauge / (1 + normal(1.15e-5, 4e-7) * (normal(23, 0.7) - 20))
    bush = (normal(240.196, 0.0045) + normal(0, 0.003)) * gauge / (1 + normal(1.8e-5, 5e-7) * (normal(31, 1) - 20))
    interference = bush - housing - 0.8 * (rectangular(5, 1.2) + rectangular(6, 1.5)) / 1000
    bore, E_b, E_h = normal(210.3, 0.008), 1000 * normal(100, 4), 1000 * normal(206, 4)
    Q2 = (bore / housing) ** 2
    q2 = (housing / rectangular(430, 15)) ** 2
    k_b = ((1 + Q2) / (1 - Q2) - 0.34) / E_b
    k_h = ((1 + q2) / (1 - q2) + 0.3) / E_h
    pressure = np.maximum(interference, 0) / housing / (k_b + k_h)
    close_in = 2 * pressure * bore / (E_b * (1 - Q2))
    clearance = bore - close_in - normal(210, 0.005)
    return interference * 1000, pressure, close_in * 1000, clearance * 1000


def summary(outputs):
    return [(y.mean(), y.std(ddof=1), *np.quantile(y, [0.025, 0.975])) for y in outputs]


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--runs", type=int, default=5)
    options.add_argument("--draws", type=int, default=1_000_000)
    options.add_argument("--figures", action="store_true", help="print the figures too")
    options = options.parse_args()
    for run in range(options.runs):
        start = time.perf_counter()
        outputs = chain(options.draws, np.random.default_rng(run + 1))
        drawn = time.perf_counter()
        figures = summary(outputs)
        end = time.perf_counter()
        print(f"numpy_chain {drawn - start:.5f}")
        print(f"numpy {end - start:.5f}")
    if options.figures:
        for name, row in zip(("interference_um", "pressure_MPa", "close_in_um", "clearance_um"), figures):
            print("#", name, *(f"{x:.5g}" for x in row))


if __name__ == "__main__":
    main()
