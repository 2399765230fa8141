#!/bin/sh
# What does each further pound of nitrogen per acre cost, and where does a cap on phosphate begin to hurt?
set -eu
cd "$(dirname "$0")"
barrowmix=${BARROWMIX:-barrowmix}
plan=../brassica-terraces/plan.yaml

$barrowmix sweep $plan --need N --from "80 lb" --to "220 lb"

echo
echo "The cap on phosphate, in 5 lb/acre steps (kg for the whole bed, cost):"
$barrowmix sweep $plan --cap P2O5 --from "55 lb/acre" --to "75 lb/acre" --steps 4 --ndjson --quiet |
  sed -E 's/.*"value":([0-9.]{1,6})[0-9]*,"status":"([a-z]*)","total":(null|[0-9.]+).*/\1 kg  \2  \3/'
