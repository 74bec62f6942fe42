#!/usr/bin/env bash
# Makes the examples of this folder again, with the cupgeom on the PATH or in ../.venv; pictures need pdftoppm (poppler).
set -euo pipefail
cd "$(dirname "$0")"
PATH="$PWD/../.venv/bin:$PATH"

wrap() { # name, then the options of the cup and of the template
  local name=$1
  shift
  cupgeom template "$@" --force -o "$name.pdf" 2>/dev/null
  pdftoppm -r 50 -png "$name.pdf" "$name"
  for page in "$name"-*.png; do
    [ -e "$name-2.png" ] || [ -e "$name-02.png" ] || mv "$page" "$name.png"
  done
}

rm -f ./*.png ./*.pdf ./*.svg
wide=(--rim 98 --base 58 --height 130 --name "wide taper")
wrap wide-taper "${wide[@]}" --paper fit
cupgeom template "${wide[@]}" --paper fit --force -o wide-taper.svg 2>/dev/null
wrap slight-taper --rim 74 --base 71 --height 150 --name "slight taper" --paper a3
wrap straight --rim 72 --base 72 --height 140 --name "straight tumbler" --seam continued --paper a3
wrap upside-down --rim 60 --base 84 --height 110 --name "wider at the base" --paper fit
mug=(--rim 82 --base 82 --height 95 --foot 14,15,30 --foot 14,65,80 --name "mug")
wrap mug-open "${mug[@]}" --paper a3
wrap mug-closed "${mug[@]}" --closed --paper fit
tumbler=(--rim 88 --base 70 --height 170 --bare-lip 6 --name "comet night tumbler")
wrap tumbler-a4 "${tumbler[@]}" --paper a4
wrap tumbler-film "${tumbler[@]}" --as film --seam continued --paper a4
wrap shouldered --cup shouldered --paper a3
wrap rounded --cup rounded --paper a3
wrap fit-test --cup "comet night tumbler" --fit-test --paper a4
cupgeom template "${mug[@]}" --closed --as cut --force -o mug-cut.svg 2>/dev/null
ls -1

cd comet-night
cup=(--cup "comet night tumbler" --shop ../shop.toml)
sky="sky.svg --width round --drop 88.2mm --dpi 85"
motto="--text 'Per aspera ad astra' --font ../fonts/GreatVibes-Latin.ttf --width 80mm --drop 126mm"
bears=(--as film --medium "printed film" --decal "$sky" --decal "$motto --colour #f7e6b5")
cupgeom template "${cup[@]}" "${bears[@]}" --paper a3 --force -o wrap.pdf 2>/dev/null
cupgeom template "${cup[@]}" "${bears[@]}" --no-notes --force -o wrap.svg 2>/dev/null
cupgeom template "${cup[@]}" "${bears[@]}" --dpi 90 --force -o wrap.png 2>/dev/null
cupgeom template "${cup[@]}" --sleeve --decal "$motto" --decal "comet.svg --width 44mm --drop 62mm" --paper a3 --force -o sleeve.pdf 2>/dev/null
cupgeom template "${cup[@]}" --sleeve --decal "$motto" --decal "comet.svg --width 44mm --drop 62mm" --dpi 90 --force -o sleeve.png 2>/dev/null
cupgeom decal "${cup[@]}" comet.svg --width 44mm --drop 62mm --medium "rub-on transfer" --force -o comet-decal.pdf >/dev/null 2>&1
made=$(mktemp -d)
cupgeom job comet-night.toml -o "$made/out" >/dev/null 2>&1
cp "$made/out/"{proof.png,job-sheet.pdf,mix.pdf,plan.txt,plan.ics,cost.txt} .
pdftoppm -r 60 -f 1 -l 1 -singlefile -png job-sheet.pdf job-sheet
rm -r "$made"
ls -1
