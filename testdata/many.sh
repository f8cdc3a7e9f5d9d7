#!/usr/bin/env bash
# Times what is asked of a folder with very many jobs: many.sh [100000]. Half of them
# are taken in, half are typed. Needs hyperfine.
set -euo pipefail
many=${1:-100000}
here=$(cd "$(dirname "$0")/.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
(cd "$here" && go build -o "$work" ./cmd/... && go run ./testdata/many "$work/jobs" "$many")
cd "$work"
last=$(ls jobs | tail -1)
measure() { printf '%-46s ' "$1"; shift; /usr/bin/time -f '%e s, %U + %S s of processor time, %M kB' "$@" 2>&1 > /dev/null | tail -1; }
echo "$(ls jobs | wc -l) jobs"
measure 'the first listing, which makes the index' ./traveller list --jobs jobs
measure 'a listing' ./traveller list --jobs jobs
measure 'find a serial number' ./traveller find --jobs jobs "77-$((many / 2))"
measure 'a new job' ./traveller new --spec "$here/specs/demo/ostrel-d4.yaml" --shop "$here/specs/demo/saltmarsh.yaml" --intake "$here/packet/demo/saltmarsh-intake.yaml" --jobs jobs
printf '%s\n' received,by,customer,pump,serial,complaint,work '2026-10-05,R.T.,Brackwater Growers,Ostrel D4,77-0,Smokes,Overhaul' > one.csv
measure 'a batch of one line, which reads all intakes' ./traveller new --batch one.csv --spec "$here/specs/demo/ostrel-d4.yaml" --shop "$here/specs/demo/saltmarsh.yaml" --jobs jobs
hyperfine -N --warmup 2 --runs 20 -n "reopen $last" "./traveller reopen --jobs jobs $last" | grep -v '^$'
