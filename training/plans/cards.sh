#!/usr/bin/env bash
# Half an hour on two graphics cards, in steps that each end within ten minutes; what runs longer goes on in between.
#
#   two_cards.sh render WORK SEED MINUTES     renders WORK/set0 and WORK/set1, one card each, until MINUTES have passed
#   two_cards.sh learn WORK MINUTES [START]   begins two readers: card 0 from ImageNet, card 1 from the run START
#                                             (without START: the finder)
#   two_cards.sh wait WORK SECONDS            waits for what runs, at most SECONDS; says how far it is
#   two_cards.sh pack WORK OUT                weights, scenes kept apart, manifests, a sample with its masks
#
# Seeds SEED and SEED + 1 must not have been used before (datasets/trained-on). On one card, or a processor, set CARDS=0
# and VARIANT=llvm_ad_rgb. START is a run folder, such as `python -m firingend_training.reopen` makes.
set -euo pipefail
cards=(${CARDS:-0 1})
variant=${VARIANT:-cuda_ad_rgb}
python=${PYTHON:-python}
part_bytes=${PART_BYTES:-15000000}   # files come back in parts of this size

render() {
  local work=$1 seed=$2 minutes=$3 k jobs=()
  for k in "${!cards[@]}"; do
    "$python" -m firingend_training.render --variant "$variant" --denoise --detail 0.8 --passes 3 --plugs 20000 \
      --workers "${WORKERS:-10}" --developers "${DEVELOPERS:-6}" --renderers "${RENDERERS:-3}" \
      --device-index "${cards[$k]}" --seed $((seed + k)) --first-scene $((100000 * (k + 1))) \
      --minutes "$minutes" --out "$work/set$k" >"$work/render$k.log" 2>&1 &
    jobs+=($!)
  done
  for k in "${jobs[@]}"; do wait "$k"; done
  for k in "${!cards[@]}"; do "$python" -m firingend_training.manifest "$work/set$k" | tr -d '\n '; echo; done
}

learn() {
  local work=$1 minutes=$2 start=${3:-} k sets=()
  for k in "${!cards[@]}"; do sets+=(--set "$work/set$k"); done
  begin "$work" reader-fresh "${cards[0]}" reader --setting crop=160 --setting steps=1000000
  if [ ${#cards[@]} -lt 2 ]; then return; fi
  if [ -n "$start" ]; then
    begin "$work" reader-further "${cards[1]}" reader --setting crop=160 --setting steps=1000000 --setting head_first=0 \
      --start "$start"
  else
    begin "$work" finder "${cards[1]}" finder --setting steps=1000000
  fi
}

begin() {   # WORK NAME CARD NETWORK SETTING…: from `learn`, whose minutes and sets it sees
  local work=$1 name=$2 card=$3 network=$4
  shift 4
  CUDA_VISIBLE_DEVICES=$card setsid nohup "$python" -m firingend_training.train "$network" "${sets[@]}" \
    --out "$work/$name" --setting minutes="$minutes" "$@" >"$work/$name.log" 2>&1 &
  echo $! >"$work/$name.pid"
}

wait_for() {
  local work=$1 end=$((SECONDS + $2)) file running=1
  while [ $running = 1 ] && [ $SECONDS -lt $end ]; do
    running=0
    for file in "$work"/*.pid; do
      if kill -0 "$(<"$file")" 2>/dev/null; then running=1; fi
    done
    [ $running = 0 ] || sleep 3
  done
  for file in "$work"/*.pid; do echo "$(basename "$file" .pid): $(tail -c 120 "${file%.pid}.log" | tr '\r' '\n' | tail -1)"; done
}

pack() {
  local work=$1 out=$2 run set file
  mkdir -p "$out"
  for run in "$work"/reader-* "$work"/finder; do   # the weights first: without them all else is worth nothing
    [ -f "$run/weights.pt" ] || continue
    tar cf - -C "$work" "$(basename "$run")/weights.pt" "$(basename "$run")/settings.json" \
      $(cd "$work" && ls "$(basename "$run")/apart.npz" 2>/dev/null || true) | xz -T0 >"$out/$(basename "$run").tar.xz"
  done
  for set in "$work"/set?; do gzip -c "$set/manifest.json" >"$out/$(basename "$set").manifest.json.gz"; done
  (cd "$work/set0" && head -n "${SAMPLE:-500}" truth.jsonl >sample.jsonl &&
    tar cJf "$out/sample.tar.xz" --transform 's/^sample\.jsonl$/truth.jsonl/' settings.json sample.jsonl $("$python" -c \
      'import json; print(*sorted({t[k] for t in map(json.loads, open("sample.jsonl")) for k in ("file", "mask")}))'))
  for file in "$out"/*; do
    if [ "$(stat -c %s "$file")" -gt "$part_bytes" ]; then split -b "$part_bytes" "$file" "$file.part-" && rm "$file"; fi
  done
  ls -l "$out"
}

command=${1:?render, learn, wait or pack}
shift
mkdir -p "$1"
case $command in
  render) render "$@" ;;
  learn) learn "$@" ;;
  wait) wait_for "$@" ;;
  pack) pack "$@" ;;
  *) echo "render, learn, wait or pack, not $command" >&2; exit 2 ;;
esac
