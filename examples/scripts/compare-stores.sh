#!/bin/sh
# Two stores, one plan: what would the mix cost from each price list, and from the cheaper of both?
set -eu
cd "$(dirname "$0")"
barrowmix=${BARROWMIX:-barrowmix}

$barrowmix whatif ../brassica-terraces/plan.yaml --compare prices-grange.csv prices-millside.csv |
  sed -n '1,/^Which demands bind/p' | sed '$d'
