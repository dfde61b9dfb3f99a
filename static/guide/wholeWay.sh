#!/usr/bin/env bash
# The whole way by curl and jq, on the sample studio: find a swatch, take an order for it, plan a lot a shade deeper on damp
# goods, weigh it with the first dye 4 % over, take a way out, run the steps, finish, make a swatch of it, export the month.
#   BASE=http://localhost:8420 TOKEN=ls_… bash wholeWay.sh
# The token is made in Settings and may “read and record”.
set -euo pipefail
: "${BASE:?the address of the service}" "${TOKEN:?a token made in Settings}"

api() { curl -sS --fail-with-body -H "Authorization: Bearer $TOKEN" -H 'Content-Type: application/json' "$BASE/api/v1$1" "${@:2}"; }
id() { echo "way-$1-$$-$RANDOM"; }              # ids of your own: the same sent twice is recorded once, other content under a used id is refused

swatch=$(api '/swatches?words=rusted' | jq '.swatches | map(select(.fibreName | startswith("Linen")))[0]')
customer=$(api /customers -d '{"name":"Guild of the Long Table '$RANDOM'"}' | jq .customerId)
today=$(date +%F)
line=$(api /orders -d '{"customerId":'$customer',"orderedOn":"'$today'","lines":[{"description":"24 napkins, a shade deeper","pieces":24,"dryMassMg":1200000,"wantedSwatchId":'$(jq .swatchId <<<"$swatch")'}]}' | jq '.lines[0].orderLineId')

# 1.62 kg damp; a piece of 54 g dried to 40 g. Depth 0.2 % of the goods deeper than the swatch (2 000 ppm).
lot=$(api /lots -d "$(jq '{fibreId, methodId, goodsText: "24 napkins", pieces: 24,
    mass: {found: "weighedDamp", dampMassMg: 1620000, moisture: {kind: "sample", dampSampleMg: 54000, drySampleMg: 40000, driedTo: "airDry"}},
    colours: [{revisionId, swatchId, depthPpm: (.depthPpm + 2000)}], orderLines: [{orderLineId: '$line', pieces: 24}]}' <<<"$swatch")")
n=$(jq .lotId <<<"$lot"); echo "lot $(jq -r .number <<<"$lot"): $(jq -c '[.lines[] | {code, planned, unit}]' <<<"$lot")"

weigh() { # component, container, amount, massMg or volumeUl; confirmed: true says that a reading which would be asked about is right
  api "/lots/$n/weighings" -d '{"componentId":'$1',"stockLotId":'$2',"'$4'":'$3',"confirmed":true,"clientId":"'$(id weigh)'"}' >/dev/null; }
first=$(jq '.lines[0]' <<<"$lot")
weigh $(jq .componentId <<<"$first") $(jq .stockLotId <<<"$first") $(jq '.planned * 1.04 | round' <<<"$first") $(jq -r 'if .unit == "mg" then "massMg" else "volumeUl" end' <<<"$first")
ways=$(api "/lots/$n/ways-out/$(jq .componentId <<<"$first")"); jq -c '.waysOut[] | {way, dryMassMg, depthFactor}' <<<"$ways"
# the figures it is chosen on go with the choice: it is applied on these and no others, or comes back as a question
api "/lots/$n/adjustments" -d "$(jq '.waysOut[] | select(.way == "deeper") | {componentId: '$(jq .componentId <<<"$first")', way, vessel, confirmed, clientId: "'$(id way)'"}' <<<"$ways")" | jq -c .question
# the other lines by the targets that hold now; from the container of the plan, or the one that holds most of it
while read -r component container amount unit; do weigh "$component" "$container" "$amount" "$unit"; done < <(
  api "/lots/$n" | jq -r '.lines[1:][] | select(.stockLotId != null) | "\(.componentId) \(.stockLotId) \(.target) \(if .unit == "mg" then "massMg" else "volumeUl" end)"')

for step in $(api "/lots/$n" | jq '.steps[].stepId'); do
  for kind in stepStart stepEnd; do api "/lots/$n/steps" -d '{"stepId":'$step',"kind":"'$kind'","clientId":"'$(id step)'"}' >/dev/null; done
done
api "/lots/$n/log" -d '{"kind":"deviation","text":"folded in four instead of loose","clientId":"'$(id note)'"}' >/dev/null
# a photo is a form with a file:  curl -H "Authorization: Bearer $TOKEN" -F photo=@after-rinse.jpg -F text='after the rinse' "$BASE/api/v1/lots/$n/photos"
me=$(api "/lots/$n" | jq '.plannedBy')
api "/lots/$n/outcome" -d '{"firstQuality":22,"seconds":2,"unweighedConfirmed":true,"labour":[{"personId":'$me',"durationS":5400}],"clientId":"'$(id finish)'"}' >/dev/null
api "/lots/$n/readings" -d '{"readings":[{"l":45.2,"a":30.1,"b":35.4,"illuminant":"D65","observer":"10","source":"instrument"}]}' >/dev/null
api /swatches -d "$(jq '{name: "Rusted stake, deeper", revisionId, depthPpm: (.depthPpm + 2000), fibreId, methodId, lotId: '$n', dyedOn: "'$today'"}' <<<"$swatch")" | jq -r '"swatch \(.code)"'

api "/lots/$n" | jq '{number, status, costMinor}'
api "/exports/lots.csv?from=${today%-*}-01&to=$today&rows=costLine" > batch-history.csv

# colours: what is near one, what a recipe would give, which recipes would give one
api '/swatches/near?colour=46+27+30' | jq -c '.near[0] | {code, name, deltaE}'
api /predict -d "$(jq '{fibreId, methodId, components: [{dyeCode: "F15", depthPpm: 13000}, {dyeCode: "F31", depthPpm: 7000}]}' <<<"$swatch")" | jq -c '{known, lab, deltaE90}'
api /proposals -d "$(jq '{fibreId, methodId, target: {l: 46, a: 27, b: 30, illuminant: "D65", observer: "10"}}' <<<"$swatch")" | jq -c '.proposals[] | {deltaE2000, deltaE90: .predicted.deltaE90, components: [.components[] | {code, depthPpm}]}'
# a colour from a photo beside a card:  curl -H "Authorization: Bearer $TOKEN" -F photo=@napkin.jpg -F 'regions=[{"kind":"spot","x":900,"y":1400,"radiusPx":40}]' "$BASE/api/v1/photo-readings"
