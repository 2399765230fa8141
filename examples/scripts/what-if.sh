#!/bin/sh
# What if? Four changes to the terraces side by side; then the same for a script, one case a line.
set -eu
cd "$(dirname "$0")"
barrowmix=${BARROWMIX:-barrowmix}
plan=../brassica-terraces/plan.yaml

$barrowmix whatif $plan \
  --case "dear feathers: --price feather-meal=+15%" \
  --case "no litter: --exclude turkey-litter-pellets" \
  --case "no potash at the store: --exclude potassium-sulfate,langbeinite" \
  --case "own recipe each time: --set blend=each"

echo
echo "The cases of a file, as name, status and change of cost:"
$barrowmix whatif $plan --cases cases.yaml --ndjson |
  sed -E 's/^.*"baseTotal":[0-9.]+,"name":"([^"]*)","status":"([^"]*)".*"difference":(-?[0-9]+\.?[0-9]{0,2}|null).*/\1 | \2 | \3/'
