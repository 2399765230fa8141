#!/bin/sh
# How far may the price of feather meal rise before the mix changes? And the same as rows for a spreadsheet.
set -eu
cd "$(dirname "$0")"
barrowmix=${BARROWMIX:-barrowmix}
plan=../brassica-terraces/plan.yaml

$barrowmix sweep $plan --price feather-meal --from -50% --to +50%

echo
$barrowmix sweep $plan --price feather-meal --from 0.80/lb --to 1.10/lb --steps 6 --format csv --quiet |
  tr -d '\r' | cut -d, -f1-4,9
