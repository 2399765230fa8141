#!/bin/sh
# How should one recipe be shared out among the three applications, none of them below 15 %?
set -eu
cd "$(dirname "$0")"
barrowmix=${BARROWMIX:-barrowmix}

$barrowmix solve ../brassica-terraces/plan.yaml --best-split 15% |
  sed -n '/^The split of the applications/,/^What to weigh/p' | sed '$d'
