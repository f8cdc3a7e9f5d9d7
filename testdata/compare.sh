#!/usr/bin/env bash
# Times the demonstration's packet, cold start to file, beside other programs that
# make pages of the same tables, and beside fpdf drawing all that the packet has with
# nothing worked out. Needs hyperfine, poppler-utils, texlive-latex-base, libreoffice-writer.
set -euo pipefail
here=$(cd "$(dirname "$0")/.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$here"
go build -o "$work" ./cmd/traveller
cd "$work"
new="./traveller new --spec $here/specs/demo/ostrel-d4.yaml --shop $here/specs/demo/saltmarsh.yaml --intake $here/packet/demo/saltmarsh-intake.yaml"
$new --jobs first > /dev/null
(cd "$here" && go run ./testdata/compare "$work/first/26-0001-C/packet.pdf" "$work" && go build -o "$work/plain" "$work/plain.go")
hyperfine -N --warmup 2 --runs 15 --export-csv times.csv \
  -n traveller "$new" \
  -n fpdf './plain plain.pdf' \
  -n pdflatex 'pdflatex -interaction=batchmode tables.tex' \
  -n soffice 'soffice --headless --convert-to pdf --outdir office tables.html'
for f in plain tables office/tables; do echo "$f.pdf $(pdfinfo $f.pdf | grep Pages)"; done
awk -F, 'NR > 1 { t[$1] = $4; u[$1] = $5 + $6 } END { for (n in t) printf "%-10s %6.0f ms, %6.0f ms of processor time; %.1f and %.1f times traveller\n", n, 1000 * t[n], 1000 * u[n], t[n] / t["traveller"], u[n] / u["traveller"] }' times.csv
