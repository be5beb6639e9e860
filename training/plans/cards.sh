#!/usr/bin/env bash
# Half an hour on graphics cards, in steps that each end within ten minutes; what runs longer goes on in between.
#
#   cards.sh render WORK SEED MINUTES [HELD_OUT_SEED]   renders WORK/set0, WORK/set1 …, one card each, until MINUTES have
#                                                       passed; the first card a held-out set before that
#   cards.sh warm WORK READER                           renders a few scenes and compiles the reader on them, so that
#                                                       `learn` need not; give it before `render`, which goes on meanwhile
#   cards.sh learn WORK MINUTES [READER [FINDER]]       begins a reader a card: from ImageNet, from the run READER, from
#                                                       it with the first blocks held, from it at half the rate; and
#                                                       the finder beside the last one
#   cards.sh wait WORK SECONDS                          waits for what runs, at most SECONDS; says how far it is
#   cards.sh samples WORK OUT [APART [OTHERS]]          manifests, pictures with masks, the held-out set
#   cards.sh pack WORK OUT                              weights and scenes kept apart: before anything else; of a run that
#                                                       has not ended those of its last checkpoint
#
# CARDS="0 1" names the cards; to learn a card may be named twice, since one reader alone does not fill it. Seeds SEED,
# SEED + 1 … must not have been used before (datasets/trained-on). On a processor set CARDS=0 and
# VARIANT=llvm_ad_rgb. READER and FINDER are run folders, such as
# `python -m firingend_training.reopen` makes.
set -euo pipefail
cards=(${CARDS:-0 1})
variant=${VARIANT:-cuda_ad_rgb}
python=${PYTHON:-python}
compiled=$([ "$variant" = cuda_ad_rgb ] && echo true || echo false)   # on a card 2.8 times the steps, on a processor no more
part_bytes=${PART_BYTES:-15000000}   # files come back in parts of this size

render() {
  local work=$1 seed=$2 minutes=$3 held_out=${4:-} end=$((SECONDS + $(awk "BEGIN { print int($3 * 60) }"))) k jobs=()
  for k in "${!cards[@]}"; do
    { if [ "$k" = 0 ] && [ -n "$held_out" ]; then held_out "$work/held-out" "$held_out"; fi
      if [ "$k" = $((${#cards[@]} - 1)) ]; then earlier "$k" "$work" $((seed + 50)) "$minutes"; fi
      on_card "$k" --plugs 20000 --passes 3 --seed $((seed + k)) --first-scene $((100000 * (k + 1))) \
        --minutes "$(awk "BEGIN { print ($end - $SECONDS) / 60 }")" --out "$work/set$k"
      cut_regions "$work" "set$k"; } >"$work/render$k.log" 2>&1 &
    jobs+=($!)
  done
  for k in "${jobs[@]}"; do wait "$k"; done
  for k in "$work"/set? "$work"/held-out; do
    [ ! -d "$k" ] || { "$python" -m firingend_training.manifest "$k" | tr -d '\n '; echo; }
  done
}

earlier() {   # NUMBER WORK SEED MINUTES: sets of earlier states of the generator
  local number=$1 work=$2 seed=$3 minutes=$4 folder letter=a scene=10000000
  for folder in ${GENERATORS:-}; do
    PYTHONPATH="$folder/src:$folder/training:${PYTHONPATH:-}" on_card "$number" --plugs 20000 --passes 3 --seed "$seed" \
      --first-scene "$scene" --minutes "$(awk "BEGIN { print $minutes / 6 }")" --out "$work/set$letter"
    "$python" -m firingend_training.rejudge "$work/set$letter"
    cut_regions "$work" "set$letter"
    seed=$((seed + 1)) scene=$((scene + 100000)) letter=$(tr a-y b-z <<<"$letter")
  done
}

cut_regions() {   # WORK SET: once, for every reader that will learn from it
  "$python" -m firingend_training.region_files "$1/$2" --out "$1/regions-$2" --processes "${WORKERS:-10}"
}

warm() {
  local work=$1 reader=$2
  WORKERS=3 DEVELOPERS=3 RENDERERS=1 on_card 0 --plugs 8 --passes 3 --seed 1 --out "$work/trial"
  CUDA_VISIBLE_DEVICES=${cards[0]} setsid nohup "$python" -m firingend_training.train reader --set "$work/trial" \
    --start "$reader" --out "$work/warm" --setting compiled="$compiled" --setting head_first=0 \
    --setting steps="${WARM_STEPS:-40}" >"$work/warm.log" 2>&1 &
}

on_card() {   # NUMBER ARGUMENT…
  local number=$1
  shift
  "$python" -m firingend_training.render --variant "$variant" --denoise --detail 0.8 --workers "${WORKERS:-7}" \
    --developers "${DEVELOPERS:-8}" --renderers "${RENDERERS:-6}" --device-index "${cards[$number]}" "$@"
}

held_out() {   # FOLDER SEED: as datasets/README.md describes it
  on_card 0 --split test --seed "$2" --plugs "${HELD_OUT_PLUGS:-560}" --passes 1 --wide-size 1024x768 \
    --kinds close=0.54,held=0.18,whole=0.06,row=0.12,other-part=0.1 --minutes 3 --out "$1"
}

learn() {
  local work=$1 minutes=$2 start=${3:-} finder=${4:-}
  local further=(--setting head_first=0 --start "$start")
  begin "$work" reader-fresh 0 reader
  if [ -n "$start" ] && [ ${#cards[@]} -gt 1 ]; then begin "$work" reader-further 1 reader "${further[@]}"; fi
  if [ -n "$start" ] && [ ${#cards[@]} -gt 2 ]; then
    begin "$work" reader-held 2 reader "${further[@]}" --setting frozen_blocks=5
  fi
  if [ -n "$start" ] && [ ${#cards[@]} -gt 3 ]; then
    begin "$work" reader-slow 3 reader "${further[@]}" --setting body_rate=3e-4
  fi
  if [ -n "$finder" ] || { [ -z "$start" ] && [ ${#cards[@]} -gt 1 ]; }; then
    minutes=$(awk "BEGIN { print $minutes * 0.8 }")
    begin "$work" finder $((${#cards[@]} - 1)) finder ${finder:+--setting head_first=0 --start "$finder"}
  fi
}

begin() {   # WORK NAME NUMBER NETWORK ARGUMENT…: from `learn`, whose minutes it sees; NUMBER is the card's place in CARDS
  local work=$1 name=$2 number=$3 network=$4 from=() one
  shift 4
  if [ "$network" = reader ]; then
    for one in "$work"/regions-set?; do from+=(--regions "$one"); done
    set -- --setting compiled="$compiled" "$@"
  else
    for one in "$work"/set?; do from+=(--set "$one"); done
  fi
  CUDA_VISIBLE_DEVICES=${cards[$number]} setsid nohup "$python" -m firingend_training.train "$network" "${from[@]}" \
    --out "$work/$name" --setting steps=1000000 --setting minutes="$minutes" "$@" >"$work/$name.log" 2>&1 &
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
  local work=$1 out=$2 run
  mkdir -p "$out"
  for run in "$work"/reader-* "$work"/finder; do
    [ -f "$run/weights.pt" ] || [ -f "$run/checkpoint.pt" ] || continue
    "$python" -m firingend_training.carry "$run" --out "$work/carried"
    tar cf - -C "$work/carried" "$(basename "$run")" | xz -T0 -1 >"$out/$(basename "$run").tar.xz"
  done
  in_parts "$out"
}

samples() {
  local work=$1 out=$2 apart=${3:-900} others=${4:-500}
  mkdir -p "$out"
  tar czf "$out/manifests.tar.gz" -C "$work" $(cd "$work" && ls {set?,held-out}/manifest.json 2>/dev/null)
  "$python" -m firingend_training.sample "$work"/set? --apart "$apart" --others "$others" --out "$work/samples"
  tar cf "$out/samples.tar" -C "$work" samples
  if [ -d "$work/held-out" ]; then tar cf "$out/held-out.tar" -C "$work" held-out; fi
  in_parts "$out"
}

in_parts() {
  local file
  for file in "$1"/*; do
    if [ "$(stat -c %s "$file")" -gt "$part_bytes" ]; then split -b "$part_bytes" "$file" "$file.part-" && rm "$file"; fi
  done
  ls -l "$1"
}

command=${1:?warm, render, learn, wait, samples or pack}
shift
mkdir -p "$1"
case $command in
  warm) warm "$@" ;;
  render) render "$@" ;;
  learn) learn "$@" ;;
  wait) wait_for "$@" ;;
  samples) samples "$@" ;;
  pack) pack "$@" ;;
  *) echo "warm, render, learn, wait, samples or pack, not $command" >&2; exit 2 ;;
esac
