#!/bin/sh
# Times film and transient against their plain scipy forms, by turns on this machine, and prints both side by side with their errors.
#   bench/solvers.sh [rounds]          PYTHON=path/to/python3 for a Python that has numpy and scipy
# Least time of all runs: other work on the machine can only make a run longer. The references are timed by the processor they used.
set -eu
cd "$(dirname "$0")/.."
rounds=${1:-2}
python=${PYTHON:-python3}
"$python" -c 'import scipy' 2>/dev/null || { echo "no scipy in $python: pip install numpy scipy, or set PYTHON" >&2; exit 2; }
times=$(mktemp)
trap 'rm -f "$times"' EXIT
round=0
while [ "$round" -lt "$rounds" ]; do
    cargo bench --quiet -p calc --bench solvers -- --runs 3 >> "$times"
    OPENBLAS_NUM_THREADS=1 "$python" bench/reference/film.py --runs 1 >> "$times"
    OPENBLAS_NUM_THREADS=1 "$python" bench/reference/heat.py --runs 1 >> "$times"
    round=$((round + 1))
done
echo "machine: $(lscpu | sed -n 's/^Model name: *//p' | head -1), $(nproc) cores; load $(cut -d' ' -f1 /proc/loadavg 2>/dev/null || echo unknown)"
echo "$(rustc --version); $("$python" -c 'import numpy, platform, scipy; print("Python", platform.python_version() + ", numpy", numpy.__version__ + ", scipy", scipy.__version__)')"
awk '
    $1 == "growth" { grown[$2 " " $3] = $0; next }
    { if (!($1 in least) || $2 < least[$1]) least[$1] = $2; figure[$1] = $3 }
    function row(name, words, truth, beside,   error) {
        error = truth > 0 ? sprintf("%8.4f %%", 100 * (figure[name] / truth - 1)) : ""
        printf "%-70s %10.3f ms %11s %8s\n", words, 1000 * least[name], error, beside == "" ? "" : sprintf("%.0fx", least[beside] / least[name])
    }
    END {
        # Settled figures: S by extrapolation (checks/bearing), 1213.9356 s by series, 361.64 s by extrapolation (checks/seat).
        S = 0.1209404; constant = 1213.9356; quench = 361.64
        printf "%-70s %13s %11s %8s\n", "one thread", "least", "error", "quicker"
        row("scipy_film_started", "film, scipy: 800 x 200, its first set from coarser meshes", S, "")
        row("film_two_meshes", "film, calc: to 64 x 16, extrapolated", S, "scipy_film_started")
        row("film_three_meshes", "film, calc: to 128 x 32, extrapolated", S, "scipy_film_started")
        row("scipy_film_coarse", "film, scipy: 200 x 50", S, "")
        row("film_interactive", "film, calc: asked for 0.5 %", S, "scipy_film_coarse")
        row("scipy_constant", "constant h, scipy: 12 x 36", constant, "")
        row("constant_h_on_a_mesh", "constant h, calc: on a mesh", constant, "scipy_constant")
        row("constant_h_by_series", "constant h, calc: by series, as it is answered", constant, "scipy_constant")
        row("scipy_nitrogen", "nitrogen, scipy: 12 x 72", quench, "")
        row("nitrogen", "nitrogen, calc: 6 x 72", quench, "scipy_nitrogen")
        row("nitrogen_interactive", "nitrogen, calc: 0.5 %", quench, "")
        row("running", "running: a whole request, JSON to JSON", 0, "")
        row("film_clearance", "film-clearance: the same, 25 points and three loads", 0, "")
        row("cooling", "cooling: the same, nitrogen with its error and range", 0, "")
        row("window", "window: the same, 2000 draws", 0, "")
        for (name in grown) print grown[name]
    }' "$times"
