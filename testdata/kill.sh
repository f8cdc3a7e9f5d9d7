#!/usr/bin/env bash
# Kills traveller at random moments, over new and over a batch, as often as it is
# told, and looks each time whether what is there is whole: kill.sh [times]. With
# another folder of commands than the one that $PATH has: PATH=bin:$PATH kill.sh.
set -euo pipefail
times=${1:-1000}
here=$(cd "$(dirname "$0")/.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
spec=$here/specs/demo/ostrel-d4.yaml shop=$here/specs/demo/saltmarsh.yaml intake=$here/packet/demo/saltmarsh-intake.yaml
{
  echo received,by,customer,pump,serial,complaint,work
  for i in $(seq $((times * 2))); do echo "2026-10-05,R.T.,Brackwater Growers,Ostrel D4,77-$i,Smokes,Overhaul"; done
} > many.csv
whole() {
  for job in jobs/26-*; do
    [ -e "$job" ] || continue
    [ "$(ls "$job")" = $'intake.yaml\npacket.pdf\nreadings.yaml\nshop.yaml\nspec.yaml' ] || { echo "not whole: $job: $(ls "$job")" >&2; exit 1; }
    [ "$(tail -c 6 "$job/packet.pdf")" = %%EOF ] || { echo "cut off: $job/packet.pdf" >&2; exit 1; }
    grep -q "^job: $(basename "$job")" "$job/readings.yaml" || { echo "not its form: $job" >&2; exit 1; }
  done
}
for n in $(seq "$times"); do
  if ((n % 2)); then
    traveller new --spec "$spec" --shop "$shop" --intake "$intake" > said.txt 2> wrong.txt &
  else
    traveller new --batch many.csv --spec "$spec" --shop "$shop" --out many.pdf > said.txt 2> wrong.txt &
  fi
  process=$!
  sleep "$(printf '%d.%03d' $((RANDOM % 2)) $((RANDOM % 1000)))"
  kill -9 $process 2> /dev/null || true
  wait $process 2> /dev/null || true
  [ ! -s wrong.txt ] || { cat wrong.txt >&2; exit 1; }
  # What it said it made is there.
  while read -r job; do
    [ -e "jobs/$job/packet.pdf" ] || { echo "lost: $job" >&2; exit 1; }
    grep -qx "$job" told.txt 2> /dev/null && { echo "given out twice: $job" >&2; exit 1; }
    echo "$job" >> told.txt
  done < <(grep -o 'job [0-9]*-[0-9]*-[0-9A-Z]' said.txt | cut -c5-)
  ((n % 20)) || whole
done
whole
# No line was made twice.
twice=$(cat jobs/26-*/intake.yaml | grep '^# batch line' | sort | uniq -d || true)
[ -z "$twice" ] || { echo "made twice: $twice" >&2; exit 1; }
[ ! -e many.pdf ] || [ "$(tail -c 6 many.pdf)" = %%EOF ]
traveller new --spec "$spec" --shop "$shop" --intake "$intake"
echo "$times kills, $(ls -d jobs/26-* | wc -l) jobs, all whole"
