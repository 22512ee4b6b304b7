#!/bin/sh
# Compares the search with a general mixed-integer solver, cbc (Debian: apt-get install coinor-cbc).
#
#   testdata/mip/run.sh           solve the committed .lp files with cbc and compare with results.tsv
#   testdata/mip/run.sh record    draw the instances again from their seed, solve them, rewrite all files
#
# An instance is one half of an invented bike: stems, spacers, bars, levers, clip-ons, saddles, steps and
# travels, with turns on steps, as a mixed-integer problem. q stands for the squared distance of the
# contact; the planes that touch it were added one by one where the solver's answer lay, until q was worth
# what it says (outer approximation, Duran and Grossmann 1986). The objective is E squared, in mm2.
# Any solver that reads LP files can be used on them; glpk, highs and scip do. The bonmin of Debian comes
# without a program to run, only as a library, so cbc with outer approximation stands in for it.
set -eu
cd "$(dirname "$0")"
if ! command -v cbc >/dev/null; then
	echo "cbc is not installed: skipped" >&2
	exit 0
fi
if [ "${1:-}" = record ]; then
	cd ../..
	exec go test ./internal/carry -run TestMixedIntegerSolverAgrees -mip -count=1
fi
bad=0
while IFS="$(printf '\t')" read -r name recorded planes own; do
	case $name in \#*) continue ;; esac
	got=$(cbc "$name.lp" ratioGap 0 allowableGap 0 solve quit | sed -n 's/^Objective value: *//p')
	if awk -v a="$got" -v b="$own" 'BEGIN { d = a - b; if (d < 0) d = -d; exit !(a != "" && d <= 2e-5 * (1 + b)) }'; then
		printf '%-10s %14.6f  agrees (%s planes)\n' "$name" "$got" "$planes"
	else
		printf '%-10s cbc %s, carryover %s\n' "$name" "${got:-nothing}" "$own"
		bad=1
	fi
done <results.tsv
exit $bad
