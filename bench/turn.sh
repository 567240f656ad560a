#!/bin/sh
# Times the replay of the 2 000 written runs against its plain numpy form, by turns on this machine, and prints both side by side.
#   bench/turn.sh [rounds]          PYTHON=path/to/python3 for a Python that has numpy
# Least time of all runs: other work on the machine can only make a run longer.
set -eu
cd "$(dirname "$0")/.."
rounds=${1:-4}
python=${PYTHON:-python3}
"$python" -c 'import numpy' 2>/dev/null || { echo "no numpy in $python: pip install numpy, or set PYTHON" >&2; exit 2; }
times=$(mktemp)
trap 'rm -f "$times"' EXIT
cargo build --quiet --profile bench -p calc --bench turn
round=0
while [ "$round" -lt "$rounds" ]; do
    cargo bench --quiet -p calc --bench turn -- --runs 3 >> "$times"
    # One thread, as ours has: the small systems of the reference gain nothing by more.
    OPENBLAS_NUM_THREADS=1 "$python" bench/reference/turn.py --runs 2 >> "$times"
    round=$((round + 1))
done
echo "machine: $(lscpu | sed -n 's/^Model name: *//p' | head -1), $(nproc) cores; load $(cut -d' ' -f1 /proc/loadavg 2>/dev/null || echo unknown)"
awk '
    NF == 3 { if (!($1 in least) || $2 < least[$1]) least[$1] = $2; lands[$1] = $3 }
    function row(name, base, words) {
        printf "%-56s %8.1f ms %7.1fx %8.2f %%\n", words, 1000 * least[name], least[base] / least[name], 100 * lands[name]
    }
    END {
        printf "%-56s %11s %8s %10s\n", "2 000 written runs, three equal cuts", "least", "numpy/", "in band"
        row("numpy_1", "numpy_1", "numpy, one reading each")
        row("ours_1", "numpy_1", "calc, one hand, one reading each")
        row("numpy_3", "numpy_3", "numpy, three readings each")
        row("ours_3", "numpy_3", "calc, one hand, three readings each")
    }' "$times"
