#!/bin/sh
# What is each thing worth? One more pound of every need, every price at which the mix would change, the bags in the shed.
set -eu
cd "$(dirname "$0")"
barrowmix=${BARROWMIX:-barrowmix}

$barrowmix solve ../brassica-terraces/plan.yaml --by weight --all |
  sed -n '/^What more or less/,/^The mix exactly/p' | sed '$d'
