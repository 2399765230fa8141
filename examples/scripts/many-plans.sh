#!/bin/sh
# Many plans: GNU parallel (Debian package `parallel`) shares the files out among runs of the program, a batch of files
# to each run, and puts the lines in the order of the files. Here 12 made-up beds, 3 a run, on 2 processors; for thousands
# of plans leave out --jobs (a run for each processor) and take 50 files a run. With -S host1,host2,: other machines
# take their share through ssh, where the program is installed and the folder has the same path.
set -eu
barrowmix=${BARROWMIX:-barrowmix}
beds=$(mktemp -d)
trap 'rm -rf "$beds"' EXIT
cd "$beds"

for n in 01 02 03 04 05 06 07 08 09 10 11 12; do
  cat >"bed $n.yaml" <<END
plan: Bed $n
amendments: [feather-meal, poultry-pellets, potassium-sulfate]
recipe: pepper
bed: {area: 1${n}0 sq ft, plants: 100}
batch: 60 lb
END
done

find . -name '*.yaml' | sort |
  parallel --will-cite --keep-order --jobs "${SLOTS:-2}" --max-args 3 "$barrowmix solve {} --ndjson --quiet" |
  sed -E 's/^.*"file":"(\.\/)?([^"]*)".*"cost":\{"total":([0-9.]+).*/\2: \3/'
