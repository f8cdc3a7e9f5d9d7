#!/usr/bin/env bash
# Kills the commands at random moments of the time that they take, over new, a batch,
# typing and making the report, in turn, until as many were killed as it is told, and
# looks each time whether what is there is whole: kill.sh [kills]. It builds the
# commands, or takes those of a folder: COMMANDS=bin kill.sh.
set -euo pipefail
times=${1:-1000}
here=$(cd "$(dirname "$0")/.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
[ -n "${COMMANDS:-}" ] || { COMMANDS=$work/bin; (cd "$here" && go build -o "$COMMANDS/" ./cmd/...); }
PATH=$(cd "$COMMANDS" && pwd):$PATH
cd "$work"
spec=$here/specs/demo/ostrel-d4.yaml shop=$here/specs/demo/saltmarsh.yaml intake=$here/packet/demo/saltmarsh-intake.yaml
fail() { echo "$@" >&2; exit 1; }

# A batch is gone on with until it is done; then comes the next.
batches=0
batch() {
  batches=$((batches + 1))
  echo received,by,customer,pump,serial,complaint,work
  for i in {1..16}; do echo "2026-10-05,R.T.,Brackwater Growers,Ostrel D4,77-$batches-$i,Smokes,Overhaul"; done
}

# Each job once; at the end all.
declare -A seen
whole() {
  local job
  for job in jobs/26-*; do
    [ -e "$job" ] && [ -z "${seen[$job]:-}" ] || continue
    seen[$job]=yes
    [ "$(ls "$job")" = $'intake.yaml\npacket.pdf\nreadings.yaml\nshop.yaml\nspec.yaml' ] || fail "not whole: $job: $(ls "$job")"
    [ "$(tail -c 6 "$job/packet.pdf")" = %%EOF ] || fail "cut off: $job/packet.pdf"
    grep -q "^job: $(basename "$job")" "$job/readings.yaml" || fail "not its form: $job"
  done
}

# What it said it made is there, and was never made before.
made() {
  local job
  while read -r job; do
    [ -e "jobs/$job/packet.pdf" ] || fail "lost: $job"
    ! grep -qx "$job" told.txt 2> /dev/null || fail "given out twice: $job"
    echo "$job" >> told.txt
  done < <(grep -o 'job [0-9]*-[0-9]*-[0-9A-Z]' said.txt | cut -c5-)
}

# A job with everything typed; its box of remarks is typed over and over. Every line
# for a box that is not there is refused, which tells that the line before it was
# accepted.
begin() {
  rm -rf typed
  traveller new --spec "$spec" --shop "$shop" --intake "$intake" --jobs typed > /dev/null
  job=$(echo typed/26-*)
  { sed '/^A1:/,$d' "$job/readings.yaml"; grep '^[A-Z]' "$here/packet/demo/saltmarsh-readings.yaml"; } > form.txt
  mv form.txt "$job/readings.yaml"
  count=0 issues=0
}
typing() {
  for i in $(seq $((count + 1)) $((count + 50))); do printf 'A15: note %d\nZ99: -\n' "$i"; done
}
readable() {
  local stands accepted
  stands=$(sed -n 's/^A15: *note \([0-9]*\).*/\1/p' "$job/readings.yaml")
  accepted=$((count + $(grep -c Z99 wrong.txt || true)))
  ((${stands:-0} >= accepted)) || fail "lost: note $accepted, the form has ${stands:-none}"
  count=${stands:-0}
  # 0 or 1: whole, or with boxes left.
  benchreport status "$job" > status.txt 2>&1 || [ $? = 1 ] || fail "$(cat status.txt)"
  [ "$(grep -c '^[A-Z][0-9a-z.]*: *[^ #]' "$job/readings.yaml")" -ge "$((boxes - 1))" ] || fail "boxes lost from $job/readings.yaml"
}
reported() {
  local now
  [ ! -e "$job/report.pdf" ] || [ "$(tail -c 6 "$job/report.pdf")" = %%EOF ] || fail "cut off: $job/report.pdf"
  ! traveller list --jobs typed 2>&1 | grep -i 'not the results\|cannot' || fail "cannot be listed: $job"
  now=$(find "$job" -name 'issue-*.yaml' | wc -l)
  ((now == issues || now == issues + 1)) || fail "issues before $issues, now $now"
  issues=$now
}

now() { echo "${EPOCHREALTIME/[.,]/}"; } # in microseconds
names=(batch new enter make)
killed=(0 0 0 0)
took=() # in milliseconds, of the first of each, which is left alone
kills=0 n=0
batch > many.csv
while ((kills < times)); do
  n=$((n + 1)) kind=$((n % 4)) status=0
  ((n < 20 * times + 100)) || fail "only $kills of $n runs were killed"
  ((n % 40 != 1)) || { begin; boxes=$(grep -c '^[A-Z][0-9a-z.]*: *[^ #]' "$job/readings.yaml"); }
  typing > keys.txt
  from=$(now)
  case ${names[kind]} in
    batch) traveller new --batch many.csv --spec "$spec" --shop "$shop" --out many.pdf > said.txt 2> wrong.txt & ;;
    new) traveller new --spec "$spec" --shop "$shop" --intake "$intake" > said.txt 2> wrong.txt & ;;
    enter) benchreport enter --by K.L. "$job" < keys.txt > said.txt 2> wrong.txt & ;;
    make) benchreport make "$job" > said.txt 2> wrong.txt & ;;
  esac
  process=$!
  if [ -n "${took[kind]:-}" ]; then
    moment=$((RANDOM % took[kind]))
    sleep "$(printf '%d.%03d' $((moment / 1000)) $((moment % 1000)))"
    kill -9 $process 2> /dev/null || true
  fi
  wait $process 2> /dev/null || status=$?
  [ -n "${took[kind]:-}" ] || took[kind]=$((($(now) - from) / 1000 + 1))
  ((status != 137)) || { kills=$((kills + 1)) killed[kind]=$((killed[kind] + 1)); }
  case ${names[kind]} in
    enter) readable ;;
    make) [ ! -s wrong.txt ] || fail "$(cat wrong.txt)"; reported ;;
    *) [ ! -s wrong.txt ] || fail "$(cat wrong.txt)"; made ;;
  esac
  [ "${names[kind]} $status" != "batch 0" ] || batch > many.csv
  ((n % 20)) || whole
done
seen=()
whole
# No line was made twice.
twice=$(cat jobs/26-*/intake.yaml | grep '^# batch line' | sort | uniq -d || true)
[ -z "$twice" ] || fail "made twice: $twice"
[ ! -e many.pdf ] || [ "$(tail -c 6 many.pdf)" = %%EOF ]
# All go on.
traveller new --spec "$spec" --shop "$shop" --intake "$intake"
echo 'A15: the last' | benchreport enter --by K.L. "$job" > /dev/null
benchreport make "$job" > /dev/null || [ $? = 1 ]
benchreport verify --jobs typed "$job/report.pdf" > said.txt 2>&1 || fail "$(cat said.txt)"
echo "$kills kills: new ${killed[1]}, enter ${killed[2]}, make ${killed[3]}, batch ${killed[0]}; $n runs, $(ls -d jobs/26-* | wc -l) jobs, all whole"
