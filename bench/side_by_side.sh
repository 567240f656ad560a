#!/bin/sh
# Times the Monte Carlo of `fit-chance` against its plain numpy form, by turns on this machine, and prints both side by side.
#   bench/side_by_side.sh [rounds]          PYTHON=path/to/python3 for a Python that has numpy
# Least time of all runs: other work on the machine can only make a run longer.
set -eu
cd "$(dirname "$0")/.."
rounds=${1:-6}
python=${PYTHON:-python3}
"$python" -c 'import numpy' 2>/dev/null || { echo "no numpy in $python: pip install numpy, or set PYTHON" >&2; exit 2; }
times=$(mktemp)
trap 'rm -f "$times"' EXIT
cargo build --quiet --profile bench -p calc --bench chance
bench() { cargo bench --quiet -p calc --bench chance -- "$@"; }
bench --runs 1 > /dev/null
round=0
while [ "$round" -lt "$rounds" ]; do
    bench --runs 4 >> "$times"
    # A library that was told which processor it runs on would not be the plain one.
    env -u OPENBLAS_CORETYPE -u OPENBLAS_L2_SIZE "$python" bench/reference/chance.py --runs 4 >> "$times"
    round=$((round + 1))
done
echo "machine: $(lscpu | sed -n 's/^Model name: *//p' | head -1), $(nproc) cores; load $(cut -d' ' -f1 /proc/loadavg 2>/dev/null || echo unknown)"
echo "$(rustc --version); $("$python" -c 'import numpy, platform; print("Python", platform.python_version() + ", numpy", numpy.__version__)')"
awk '
    { n[$1]++; if (!($1 in least) || $2 < least[$1]) least[$1] = $2; all[$1, n[$1]] = $2 }
    function median(name,   i, j, t) {
        for (i = 1; i <= n[name]; i++) for (j = i + 1; j <= n[name]; j++)
            if (all[name, j] < all[name, i]) { t = all[name, i]; all[name, i] = all[name, j]; all[name, j] = t }
        return all[name, int((n[name] + 1) / 2)]
    }
    function row(name, words) {
        printf "%-64s %7.1f ms %7.1f ms %6.1fx\n", words, 1000 * least[name], 1000 * median(name), least["numpy"] / least[name]
    }
    END {
        printf "%-64s %10s %10s %7s\n", "1e6 draws, 16 random inputs", "least", "median", "numpy/"
        row("numpy", "numpy: 4 outputs with mean, u, 2 quantiles")
        row("numpy_chain", "numpy: of which draws and chain")
        row("one_hand", "calc, one hand: 7 outputs with all that, shares, 2 requirements")
        row("two_hands", "calc, two hands: the same bytes")
    }' "$times"
