#!/usr/bin/env bash
# A reader from ImageNet on one graphics card in 25 minutes, rendering and calibration apart (docs/ablations.md, fourteenth
# and sixteenth round): one run alone, four that go on from it, two at a time, their average, its heads tuned.
#
#   one_card.sh WORK OUT SET…    learns from WORK/regions-*, which firingend_training.region_files cut; the heads are tuned
#                                on the rendered sets SET; OUT is the run to export
#
# MINUTES="6.9 5.2" is what the first run and each pair take beside starting. SETTINGS="NAME=VALUE …" holds for every run.
# On a processor set COMPILED=false. What is in WORK already is not made again: give the same command after a break.
set -euo pipefail
python=${PYTHON:-python}
read -r first further <<<"${MINUTES:-6.9 5.2}"

learn() {   # NAME MINUTES ARGUMENT…
  local name=$1 minutes=$2 from=() one
  shift 2
  if [ -f "$work/$name/weights.pt" ]; then return; fi
  for one in "$work"/regions-*; do from+=(--regions "$one"); done
  set -- compiled="${COMPILED:-true}" steps=1000000 minutes="$minutes" "$@"
  for one in ${SETTINGS:-}; do set -- "$@" "$one"; done
  "$python" -m firingend_training.train reader "${from[@]}" --out "$work/$name" "${start[@]}" "${@/#/--setting=}" >"$work/$name.log" 2>&1 ||
    { tail -n 5 "$work/$name.log" >&2; return 1; }
}

both() {   # waits for two runs begun in the background; ends as the one that failed
  local run
  for run in "$@"; do wait "$run"; done
}

work=${1:?WORK, OUT and sets} out=${2:?OUT and sets}
: "${3:?sets to tune the heads on}"
shift 2
if ! compgen -G "$work/regions-*" >/dev/null; then
  echo "$work holds no regions-*: cut them with $python -m firingend_training.region_files SET --out $work/regions-0" >&2
  exit 1
fi
start=()
learn first "$first" batch=256 body_rate=8e-4 head_rate=2.5e-3 head_first=0.05
start=(--start "$work/first")
learn a "$further" head_first=0 body_rate=5e-4 head_rate=1.2e-3 seed=331 & pair=($!)
learn b "$further" head_first=0 body_rate=3.5e-4 head_rate=1.2e-3 seed=334 & pair+=($!)
both "${pair[@]}"
learn c "$further" head_first=0 body_rate=6e-4 head_rate=2e-3 seed=332 & pair=($!)
learn d "$further" head_first=0 body_rate=5e-4 head_rate=1.2e-3 layer_decay=0.85 seed=335 & pair+=($!)
both "${pair[@]}"
"$python" -m firingend_training.average_runs "$work"/{a,b,c,d} --set "$1" --out "$work/average"
"$python" -m firingend_training.tune_heads --start "$work/average" --out "$out" --views 1 "${@/#/--set=}"
