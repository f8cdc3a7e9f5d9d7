#!/usr/bin/env bash
# Times batches of packets with a book, so many jobs each: batch.sh [100 1000 5000].
# Jobs a second, time of a job, and memory. Needs the package time.
set -euo pipefail
here=$(cd "$(dirname "$0")/.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
(cd "$here" && go build -o "$work" ./cmd/traveller)
cd "$work"
[ $# -gt 0 ] || set -- 100 1000 5000
for n; do
  {
    echo received,by,customer,pump,serial,complaint,work
    for i in $(seq "$n"); do echo "2026-10-05,R.T.,Brackwater Growers,Ostrel D4,77-$i,Smokes,Overhaul"; done
  } > "$n.csv"
  /usr/bin/time -f '%e %U %S %M' -o "$n.time" ./traveller new --batch "$n.csv" --spec "$here/specs/demo/ostrel-d4.yaml" --shop "$here/specs/demo/saltmarsh.yaml" --jobs "jobs$n" --out "$n.pdf" > /dev/null 2>&1
  made=$(ls -d "jobs$n"/26-* | wc -l)
  [ "$made" = "$n" ] || { echo "$made jobs made of $n" >&2; exit 1; }
  awk -v n="$n" '{ printf "%5d jobs: %6.2f s, %5.1f a second, %5.2f ms a job, %5.2f ms of processor time; %d MB\n", n, $1, n / $1, 1000 * $1 / n, 1000 * ($2 + $3) / n, $4 / 1024 }' "$n.time"
done
