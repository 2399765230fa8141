#!/bin/sh
# What is a test of the soil's nitrate worth? Insured from the start, or the same start and the last round by what a test
# shows, both sure of nitrogen in 9 seasons of 10. Five readings of day 49, each as likely as the others on the terraces.
# Bags are counted by weight, the test costs nothing: with bags and a second delivery it saves no money here.
set -eu
cd "$(dirname "$0")"
barrowmix=${BARROWMIX:-barrowmix}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cp ../brassica-terraces/*.yaml "$folder"
cd "$folder"

# The first "total" of an answer is what it costs; a chance stands below "newPlan".
cost() { awk -F'[:,]' '/"total":/ { print $2; exit }'; }
chance() { awk -F'[:,]' '/"newPlan":/ { here = 1 } here && /"N":/ { print $2; exit }'; }

$barrowmix solve plan.yaml --set planted=2027-08-01 --sure 90% --by weight --save start.yaml --quiet --json > start.json
insured=$(cost < start.json)
echo "Insured from the start: $insured" | awk '{ printf "%s %s %s %s $%.2f\n", $1, $2, $3, $4, $5 }'

$barrowmix log start.yaml "day 0 spread planting" --quiet > log.txt
$barrowmix log start.yaml "day 21 spread three weeks" --quiet > log.txt
for ppm in 5.5 8 10 12 15; do
  cp start.yaml season.yaml
  $barrowmix log season.yaml "day 49 nitrate $ppm ppm depth 12 in" --quiet > log.txt
  $barrowmix now season.yaml --sure 90% --by weight --quiet --json > now.json
  # Three quarters of the mix had been spread by then.
  echo "$ppm $insured $(cost < now.json) $(chance < now.json)"
done | awk '{
  all = 0.75 * $2 + $3
  printf "A test of %4.1f ppm: $%.2f in all, sure in %.0f of 100\n", $1, all, 100 * $4
  sum += all
} END { printf "With a test, on the average: $%.2f\n", sum / NR }'
